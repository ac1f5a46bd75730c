//! The methods by name, for those who want to check them: the last part of the
//! page. Everywhere else the page says in plain words what they do.

use super::format::Format;
use super::sections::{
    attach, bottles, callbacks, consumption, durability, margin, minutes, pace, price, shops,
    workspace,
};
use super::table::{Cell, Table, words_column};
use super::view::RestsOn;

/// What each section rests on.
const METHODS: [(&str, &str); 11] = [
    (
        attach::ID,
        "Shares: Wilson 95% intervals. Usual range: exact binomial limits that hold 99.73%. Ways of showing: Mantel-Haenszel difference and odds ratio over finish and seller, the difference with Miettinen and Nurminen's score interval. Sellers: beta-binomial, spread between people integrated out.",
    ),
    (
        price::ID,
        "Logistic regression with Firth's penalty on the logarithm of the price; ranges from 1,000 seeded draws of the coefficients.",
    ),
    (
        margin::ID,
        "Change from the usual: interval at 98.75%, as four figures are watched together; limits that hold 99.73%. The same for coating used and minutes.",
    ),
    (
        consumption::ID,
        "Weighted least squares, variance in proportion to the area; 95% t-intervals, cut at 0. Jobs far off: modified z-score of Iglewicz and Hoaglin over 3.5.",
    ),
    (
        minutes::ID,
        "Mixed model on the logarithm of the minutes with an effect of the person (REML; intervals by Kenward and Roger). Spread: standard deviation of the logarithm.",
    ),
    (
        pace::ID,
        "Posterior mean with the spread between people integrated out (half-Cauchy prior); who is pointed at by the mean posterior error (at most 10%). Learning: unit model, Crawford's form of the learning curve. This month: moving average of weight 0.2 against three-sigma limits.",
    ),
    (
        shops::ID,
        "Shares: beta-binomial, spread between shops integrated out. Coating and time: posterior mean (half-Cauchy prior).",
    ),
    (
        callbacks::ID,
        "Shares: exact binomial 95% intervals; drawn to the common share by a beta-binomial, spread between rows integrated out.",
    ),
    (
        workspace::ID,
        "Dew point: Magnus form of WMO-No. 8. Shares: exact binomial. Times as often: Koopman's score interval (95%).",
    ),
    (
        bottles::ID,
        "Seeded simulation of jobs a month (wider than Poisson where past months are), areas and use.",
    ),
    (
        durability::ID,
        "Kaplan-Meier estimate with Greenwood's variance, log-log scale; Cox regression with ties by Efron and log-rank test, film and finish as strata; restricted mean; exact Poisson ranges of rates.",
    ),
];

/// The part, with the methods of the sections that stand on the page: id and
/// heading of each.
pub(super) fn part(sections: &[(String, String)], f: &Format) -> RestsOn {
    let row = |(id, heading): &(String, String)| {
        let (_, method) = METHODS.iter().find(|(of, _)| of == id)?;
        Some(vec![
            Cell::Text(heading.clone()),
            Cell::Text((*method).into()),
        ])
    };
    let table = Table {
        name: "methods",
        fold: "The methods by name",
        caption: "Methods, section by section".into(),
        columns: vec![
            words_column("what", "Section"),
            words_column("method", "Method"),
        ],
        rows: sections.iter().filter_map(row).collect(),
        definition: "Likely ranges are made at 95% where nothing else is said.".into(),
    };
    RestsOn {
        heading: "Methods".into(),
        paragraphs: Vec::new(),
        tables: vec![table.shown(f)],
    }
}
