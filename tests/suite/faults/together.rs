//! Two runs at once into one place.

use super::{Two, content, done, review};
use std::process::Stdio;

#[test]
fn two_reviews_at_once_into_one_folder_leave_one_of_them_whole() {
    let two = Two::new();
    let place = two.place();
    let mut won = [0, 0];
    for pair in 0..8 {
        // Who starts first takes turns.
        let order = if pair % 2 == 0 { [0, 1] } else { [1, 0] };
        let started = order.map(|shop| {
            let mut command = review(&two.shops[shop], &place);
            command.stdout(Stdio::piped()).stderr(Stdio::piped());
            command.spawn().unwrap()
        });
        for child in started {
            done(&child.wait_with_output().unwrap());
        }
        let there = content(&place);
        let winner = two.reviews.iter().position(|r| *r == there);
        let winner = winner.unwrap_or_else(|| panic!("pair {pair}: a mixture"));
        two.holds(winner);
        won[winner] += 1;
    }
    println!("the last to write: {won:?}");
}
