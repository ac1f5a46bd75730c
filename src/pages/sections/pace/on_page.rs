//! Who stands on the page of a chain: everybody is in the CSV files.

use crate::findings::pace::{Kind, PacePeople, PersonPace};

/// People on the page, at most.
pub(super) const MOST: usize = 30;

/// The same findings with the people that the page shows: all where they are
/// no more than [`MOST`]; else those pointed at, then those with most jobs, up
/// to so many; in their order.
pub(super) fn on_page(x: &PacePeople) -> PacePeople {
    let mut places: Vec<usize> = (0..x.people.len()).collect();
    places.sort_by_key(|i| {
        let person = &x.people[*i];
        (turn(person), std::cmp::Reverse(person.fit.jobs), *i)
    });
    places.truncate(MOST);
    places.sort_unstable();
    let shown = places.iter().map(|i| x.people[*i].clone());
    PacePeople {
        people: shown.collect(),
        ..x.clone()
    }
}

/// Whom to show first.
fn turn(person: &PersonPace) -> u8 {
    match person.finding {
        Kind::Slow => 0,
        Kind::Rushing => 1,
        Kind::Overuse => 2,
        Kind::Erratic => 3,
        Kind::Learning => 4,
        Kind::None | Kind::NotEnough => 5,
    }
}
