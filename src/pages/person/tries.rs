//! What to try, in the trade's terms: common practice, no published source.

use super::sections::{CALLBACKS, COATING, TIME};
use crate::findings::person::{OwnPage, Try};
use crate::pages::format::Format;
use crate::pages::view::{Action, sentence};

/// What to try, each with the section that says why.
pub(super) fn actions(page: &OwnPage, f: &Format) -> Vec<Action> {
    page.tries.iter().map(|t| action(*t, page, f)).collect()
}

fn action(of: Try, page: &OwnPage, f: &Format) -> Action {
    let (what, why, to) = words(of);
    let why = match of {
        Try::FinishBeforeBreak => format!(
            "{} of your {} ran over a pause of half an hour or more. {why}",
            f.count(page.long_pauses),
            f.count_of(page.jobs, "timed job", "timed jobs")
        ),
        _ => why.to_string(),
    };
    Action {
        what: what.into(),
        why: sentence(&why),
        proof: "See the figures".into(),
        to: to.into(),
    }
}

fn words(of: Try) -> (&'static str, &'static str, &'static str) {
    match of {
        Try::Sections => (
            "Work in smaller sections.",
            "Small enough to level before they set; reload the applicator with a few drops for each, and keep supplies within reach. Do a job together with a colleague, and ask whether the planned minutes are right.",
            TIME,
        ),
        Try::SlowDown => (
            "Take a second pass before release.",
            "You are quick, and more of the jobs come back. Coat smaller sections, and look for residue under a raking light before the vehicle leaves.",
            CALLBACKS,
        ),
        Try::OneOrder => (
            "Go round the vehicle in one fixed order.",
            "Your times vary more than they need to. Lay out supplies before the start, and finish a section before a break.",
            TIME,
        ),
        Try::KeepLearning => (
            "Look at method, not at speed.",
            "You are new and getting quicker with every job, as one should. Leave the pace to practice, and ask somebody to show you film that is new to you.",
            TIME,
        ),
        Try::Reload => (
            "Prime the applicator once, then reload with a few drops.",
            "Carry each reload to the end of its section before taking more; count the reloads on one vehicle.",
            COATING,
        ),
        Try::FinishBeforeBreak => (
            "Finish a section before a break.",
            "What is left half done sets in the meantime, and leaves a line.",
            TIME,
        ),
        Try::SecondPass => (
            "Take a second pass for residue.",
            "High spots and lines are what comes back most. Smaller sections, each levelled before it sets, and a look under a raking light.",
            CALLBACKS,
        ),
        Try::FixedList => (
            "Go round handles and recesses by a list.",
            "Missed areas are what comes back most: handles, recesses, edges and mirror feet, each time in the same order.",
            CALLBACKS,
        ),
    }
}
