//! The figures that the first screen says and no table of the section holds.

use super::Minor;
use crate::findings::bottles::Buy;
use crate::findings::headline::Action;
use crate::findings::workspace::KeepTo;
use crate::pages::sections::{attach, bottles, bridge, callbacks, pace, workspace};
use crate::pages::table::{Cell, Table, numbers_column, words_column};

type Row = Vec<Cell>;

/// The section's name and the table; `None` where the section's own tables hold
/// every figure.
pub(in crate::pages) fn behind(a: &Action) -> Option<(&'static str, Table)> {
    let (id, name, rows) = match a {
        Action::Show(x) => (
            attach::ID,
            "behind_showing",
            vec![
                row("Offers shown the other way", Cell::Count(x.offers)),
                row("Months of them", Cell::Count(x.months)),
                a_month(Some(x.monthly)),
            ],
        ),
        Action::AskDiscounts(x) => (
            bridge::ID,
            "behind_discounts",
            vec![
                row("Coated jobs with a discount", Cell::Count(x.jobs)),
                row("Coated jobs whose quote is known", Cell::Count(x.of)),
                row("Discounts, without tax", Cell::Exact(x.given)),
            ],
        ),
        Action::Help(x) => (
            pace::ID,
            "behind_help",
            vec![
                row("Timed jobs", Cell::Count(x.jobs)),
                a_month(x.monthly),
                row(
                    "Other people of whom something is said",
                    Cell::Count(x.others),
                ),
            ],
        ),
        Action::MendCallbacks(x) => (
            callbacks::ID,
            "behind_callbacks",
            vec![
                row("Callbacks for it", Cell::Count(x.callbacks)),
                row("Callbacks of coating work", Cell::Count(x.of)),
                a_month(x.monthly),
            ],
        ),
        Action::KeepRules(x) => (workspace::ID, "behind_rules", rules(x)),
        Action::BuyBottles(x) => (bottles::ID, "behind_buying", buying(x)),
        _ => return None,
    };
    Some((id, table(name, rows)))
}

fn rules(x: &KeepTo) -> Vec<Row> {
    vec![
        row("Jobs outside that came back", Cell::Count(x.outside.yes)),
        row("Jobs outside", Cell::Count(x.outside.of)),
        row("Times as often as inside", Cell::Factor(x.ratio.value)),
        row("The same, likely from", Cell::Factor(x.ratio.low)),
        row("The same, likely to", Cell::Factor(x.ratio.high)),
        a_month(x.monthly),
    ]
}

fn buying(x: &Buy) -> Vec<Row> {
    vec![
        row("Bottles to buy", Cell::Count(x.bottles)),
        row("Months they are to last", Cell::Count(u64::from(x.months))),
        row("Needed, nine times in ten", Cell::Volume(x.need_ml)),
        row("On hand", Cell::Volume(x.on_hand_ml)),
        row("They cost, at the latest price", money(x.cost)),
    ]
}

fn row(what: &str, cell: Cell) -> Row {
    vec![Cell::Text(what.into()), cell]
}

fn money(amount: Option<Minor>) -> Cell {
    amount.map_or(Cell::Blank, Cell::Exact)
}

fn a_month(amount: Option<Minor>) -> Row {
    row("Money behind it, a month", money(amount))
}

fn table(name: &'static str, rows: Vec<Row>) -> Table {
    Table {
        name,
        fold: "What the first screen says of it",
        caption: "Figures behind what to do next".into(),
        columns: vec![words_column("what", "What"), numbers_column("value", "Value")],
        rows,
        definition: "Over the window that this section uses; a month of it where money is given by the month.".into(),
    }
}
