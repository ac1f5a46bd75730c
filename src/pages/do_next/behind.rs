//! The figures that the first screen says and no table of the section holds.

use super::Minor;
use crate::findings::bottles::Buy;
use crate::findings::chances::Discounts;
use crate::findings::headline::{Action, RaiseList};
use crate::findings::workspace::KeepTo;
use crate::pages::sections::{
    attach, bottles, bridge, callbacks, pace, price, price_list, workspace,
};
use crate::pages::table::{Cell, Table, numbers_column, words_column};

type Row = Vec<Cell>;

/// The section's name and the table; `None` where the section's own tables hold
/// every figure.
// Long because it is a list: a table for each kind of action.
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
        Action::AskDiscounts(x) => (bridge::ID, "behind_discounts", asked(x)),
        Action::TryPrice(x) => (
            price::ID,
            "behind_price",
            vec![
                row("Offers that say so", Cell::Count(x.offers)),
                row("Months of them", Cell::Count(x.months)),
                row("Price, of today's list price", Cell::Factor(x.price.value)),
                row("Price, off today's list price", off_list(x.price.value)),
                a_month(Some(x.monthly)),
                row("The same, likely from", Cell::Exact(x.monthly_low)),
                row("The same, likely to", Cell::Exact(x.monthly_high)),
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
        Action::RaiseList(x) => (price_list::ID, "behind_list", raised(x)?),
        _ => return None,
    };
    Some((id, table(name, rows)))
}

fn asked(x: &Discounts) -> Vec<Row> {
    let mut rows = vec![
        row("Coated jobs with a discount", Cell::Count(x.jobs)),
        row("Coated jobs whose quote is known", Cell::Count(x.of)),
        row("Discounts, without tax", Cell::Exact(x.given)),
    ];
    for s in x.carriers() {
        let of = |what: &str| format!("{what} of {}", s.seller);
        rows.push(row(&of("Jobs with a discount"), Cell::Count(s.jobs)));
        rows.push(row(&of("Discounts"), Cell::Exact(s.given)));
    }
    if let Some(b) = &x.before {
        rows.push(row("A coated job", Cell::Exact(x.a_job())));
        rows.push(row("Earlier months, mean", Cell::Exact(b.mean)));
        rows.push(row("Earlier months, most", Cell::Exact(b.most)));
    }
    rows
}

/// With fewer takers, where the answers to other prices tell how many; else
/// the section's own tables hold all that is said.
fn raised(x: &RaiseList) -> Option<Vec<Row>> {
    let left = x.would_leave()?;
    Some(vec![
        row("List prices to raise", Cell::Count(x.entries.len() as u64)),
        row("At the same sales", Cell::Exact(x.would_bring)),
        row(
            "With fewer takers, left more after costs",
            Cell::Exact(left),
        ),
    ])
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

/// How far a multiple of the list price lies from it.
fn off_list(x: f64) -> Cell {
    Cell::Share((x - 1.0).abs())
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
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
        ],
        rows,
        definition: "Over the months looked at; a month of it where money is given by the month."
            .into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::{Estimate, NotEnough};
    use crate::findings::callbacks::{Advice, MendCause};
    use crate::findings::chances::{Earlier, SellerDiscounts};
    use crate::findings::headline::TryPrice;
    use crate::findings::pace::{HelpWith, Kind, Person};
    use crate::findings::workspace::Count;
    use crate::money::Currency;
    use crate::pages::do_next::action;
    use crate::pages::format::Format;
    use crate::pages::view::words;
    use crate::units::System;

    /// Figures of a text, thousands' commas off.
    fn figures(text: &str) -> Vec<String> {
        let all = text.replace(',', "");
        let runs = all.split(|c: char| !c.is_ascii_digit() && c != '.');
        let trimmed = runs.map(|r| r.trim_matches('.').to_string());
        trimmed.filter(|r| !r.is_empty()).collect()
    }

    /// The figure itself, or one that rounds to it.
    fn shows(shown: &str, said: &str) -> bool {
        let decimals = said.split_once('.').map_or(0, |x| x.1.len());
        let (Ok(a), Ok(b)) = (shown.parse::<f64>(), said.parse::<f64>()) else {
            return false;
        };
        (a - b).abs() <= 0.5 * 10_f64.powi(-(decimals as i32)) + 1e-9
    }

    fn actions() -> Vec<Action> {
        let ratio = Estimate {
            value: 3.24,
            low: 1.31,
            high: 8.02,
            level: 0.95,
            n: 300,
        };
        let help = |kind, others| {
            Action::Help(HelpWith {
                key: Person {
                    shop: String::new(),
                    person: "kim".into(),
                },
                kind,
                jobs: 41,
                figure: NotEnough::new(0, 1, "jobs").into(),
                monthly: Some(Minor(5_432)),
                others,
            })
        };
        let mend = |advice| {
            Action::MendCallbacks(MendCause {
                advice,
                callbacks: 11,
                of: 17,
                monthly: Some(Minor(2_791)),
                month_above: false,
            })
        };
        let keep = |workspace| {
            Action::KeepRules(KeepTo {
                workspace,
                outside: Count { yes: 6, of: 23 },
                ratio,
                monthly: Some(Minor(1_905)),
            })
        };
        vec![
            help(Kind::Slow, 0),
            help(Kind::Rushing, 1),
            help(Kind::Overuse, 4),
            help(Kind::Erratic, 4),
            mend(Advice::Removal),
            mend(Advice::Missed),
            keep(true),
            keep(false),
            Action::AskDiscounts(Discounts {
                jobs: 7,
                of: 39,
                given: Minor(17_512),
                sellers: vec![SellerDiscounts {
                    shop: String::new(),
                    seller: "sam".into(),
                    jobs: 7,
                    given: Minor(17_512),
                }],
                before: Some(Earlier {
                    months: 11,
                    mean: Minor(317),
                    most: Minor(436),
                }),
            }),
            Action::TryPrice(TryPrice {
                price: Estimate {
                    value: 1.12,
                    ..ratio
                },
                offers: 467,
                months: 12,
                monthly: Minor(9_150),
                monthly_low: Minor(2_480),
                monthly_high: Minor(17_930),
            }),
            Action::BuyBottles(Buy {
                bottles: 4,
                months: 1,
                need_ml: 1_063.4,
                on_hand_ml: 248.8,
                unopened: 2,
                cost: Some(Minor(118_040)),
            }),
        ]
    }

    /// The demo's first screen says few of these; here every figure that any
    /// of them says stands in the table behind it.
    #[test]
    fn every_figure_that_is_said_stands_behind_it() {
        let f = Format::new(System::Metric, Currency::of("USD").unwrap());
        for a in actions() {
            let said = action(&a, &f);
            let (id, table) = behind(&a).unwrap();
            assert_eq!(id, said.to, "{a:?}");
            let shown: Vec<String> = (table.shown(&f).rows.iter())
                .flat_map(|r| figures(&r[1].text))
                .collect();
            let text = format!("{} {}", said.what, words(&said.why));
            let said = figures(&text);
            assert!(said.len() >= 2, "{text}");
            for figure in said {
                let stands = shown.iter().any(|s| shows(s, &figure));
                assert!(stands || figure == "1", "{figure} of {text:?}: {shown:?}");
            }
        }
    }
}
