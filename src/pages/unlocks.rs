//! Which columns unlock which sections.

use crate::intake::ledger::Ledger;
use crate::settings::contract::Table;

/// A section and what it needs: of every group, one column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Section {
    /// Its heading.
    pub(super) name: &'static str,
    /// Groups of columns; any one of a group will do.
    pub(super) needs: &'static [&'static [Column]],
}

/// A column of the contract.
pub(super) type Column = (Table, &'static str);

const OFFERED: &[Column] = &[(Table::Jobs, "offered")];
const PRICE: &[Column] = &[(Table::Jobs, "coating_price")];
const AREA: &[Column] = &[(Table::Jobs, "area"), (Table::Surfaces, "area")];
const FINISH: &[Column] = &[(Table::Jobs, "finish"), (Table::Surfaces, "finish")];
const USED: &[Column] = &[(Table::Coatings, "used")];
const TIMED: &[Column] = &[
    (Table::Coatings, "minutes"),
    (Table::Coatings, "started_at"),
];
const PERSON: &[Column] = &[(Table::Coatings, "applied_by")];
const CAUSE: &[Column] = &[(Table::Callbacks, "cause")];
const REPORTED: &[Column] = &[(Table::Callbacks, "reported_on")];
const WORKSPACE: &[Column] = &[
    (Table::Coatings, "air_temperature"),
    (Table::Coatings, "relative_humidity"),
    (Table::Coatings, "released_at"),
    (Table::Coatings, "rain"),
];
const VOLUME: &[Column] = &[(Table::Bottles, "volume")];
const OPENED: &[Column] = &[(Table::Bottles, "opened_on")];

/// The sections of a review.
pub(super) const SECTIONS: [Section; 13] = [
    Section {
        name: "How often the coating is sold",
        needs: &[],
    },
    Section {
        name: "Does the price change who says yes?",
        needs: &[OFFERED, PRICE, AREA, FINISH],
    },
    Section {
        name: "What a coated job earns",
        needs: &[PRICE, TIMED],
    },
    Section {
        name: "Where the margin moved",
        needs: &[PRICE, TIMED, AREA, FINISH],
    },
    Section {
        name: "Prices below the floor",
        needs: &[PRICE, TIMED, AREA, FINISH],
    },
    Section {
        name: "Price list",
        needs: &[USED, TIMED, AREA, FINISH],
    },
    Section {
        name: "Coating used per area",
        needs: &[USED, AREA, FINISH],
    },
    Section {
        name: "Hands-on minutes by class",
        needs: &[TIMED, AREA, FINISH],
    },
    Section {
        name: "Hands-on time by person",
        needs: &[TIMED, AREA, FINISH, PERSON],
    },
    Section {
        name: "Callbacks of coating work",
        needs: &[CAUSE],
    },
    Section {
        name: "Workspace and cure",
        needs: &[WORKSPACE],
    },
    Section {
        name: "Bottles",
        needs: &[VOLUME, OPENED],
    },
    Section {
        name: "How long the film lasts",
        needs: &[CAUSE, REPORTED],
    },
];

/// Groups of which no column was found, in words.
pub(super) fn lacking(section: &Section, ledger: &Ledger) -> Vec<String> {
    let found = |group: &&&[Column]| !group.iter().any(|(t, f)| ledger.has(*t, f));
    let word = |group: &&[Column]| {
        let names: Vec<String> = group.iter().map(|(t, f)| format!("{t}.{f}")).collect();
        names.join(" or ")
    };
    section.needs.iter().filter(found).map(word).collect()
}

/// Sections left out or thin for want of columns, a sentence each.
pub(super) fn locked(ledger: &Ledger) -> Vec<String> {
    let sentence = |s: &Section| {
        let lacking = lacking(s, ledger);
        (!lacking.is_empty()).then(|| {
            format!(
                "{}: no column for {}. README says what each table holds.",
                s.name,
                lacking.join(", nor for ")
            )
        })
    };
    SECTIONS.iter().filter_map(sentence).collect()
}
