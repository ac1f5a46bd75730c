//! Bottles that work was done out of and that nobody wrote down.

use super::super::links::{Answer, Resolver, meet_without_shop};
use super::{Collected, Look, Oddity, Subjects};
use crate::settings::contract::Table;

/// Work out of bottles that `bottles` does not have.
pub(super) fn unknown(look: &Look<'_, '_>, list: &mut Collected) {
    let (Some(bottles), Some(coatings)) = (look.table(Table::Bottles), look.table(Table::Coatings))
    else {
        return;
    };
    if bottles.stack.len == 0 || !coatings.stack.has("bottle") {
        return;
    }
    let counts = |row| bottles.alive(&look.linked.states, row);
    let mut resolver = Resolver::new(bottles);
    if meet_without_shop(&bottles.stack, &coatings.stack) {
        resolver.by_key_alone(counts);
    }
    let at = (coatings.stack.field("shop"), coatings.stack.field("bottle"));
    let mut unknown = Subjects::default();
    // Most spells take the bottle of the spell before.
    let mut before = None;
    for segment in &coatings.stack.segments {
        let (shops, bottles) = (segment.column(at.0), segment.column(at.1));
        for row in coatings.alive_in(&look.linked.states, segment) {
            let Some(bottle) = bottles.and_then(|c| c.text(row)) else {
                continue;
            };
            let shop = shops.and_then(|c| c.text(row)).unwrap_or("");
            let known = match before {
                Some((known, s, b)) if (s, b) == (shop, bottle) => known,
                _ => match resolver.find(shop, bottle) {
                    Answer::Row(row) => counts(row),
                    Answer::Several => true,
                    Answer::None => false,
                },
            };
            before = Some((known, shop, bottle));
            if !known {
                unknown.note(shop, bottle, || {
                    let found = "a bottle that bottles does not have".to_string();
                    look.listed(Oddity::UnknownBottle, segment, row, (shop, bottle), found)
                });
            }
        }
    }
    unknown.into_list(list);
}
