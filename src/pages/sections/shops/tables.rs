//! The tables of the section: shops with jobs enough first, by name.

use super::super::Context;
use super::called;
use crate::estimate::{Estimate, Figure};
use crate::findings::shops::{Constant, Held, LOOKED_FOR, OwnConstant, Said, Shop, Shops, Whole};
use crate::pages::format::month;
use crate::pages::table::{Cell, Table, numbers_column, words_column};

/// Shops whose own constants the page shows, at most; the CSV has more.
const WITH_CONSTANTS: usize = 5;

/// Shops with jobs enough first, the others last; by name within.
fn ordered(x: &Shops) -> impl Iterator<Item = &Shop> {
    let of = |spoken: bool| x.shops.iter().filter(move |s| s.spoken_of() == spoken);
    of(true).chain(of(false))
}

fn three(held: &Held, kind: fn(f64) -> Cell) -> [Cell; 3] {
    let x = &held.figure;
    [
        Cell::value(x, kind),
        Cell::low(x, kind),
        Cell::high(x, kind),
    ]
}

/// A factor as a change from 1.
fn change(held: &Held) -> [Cell; 3] {
    three(held, |x| Cell::Change(x - 1.0))
}

fn said_words(said: Said) -> &'static str {
    match said {
        Said::UsesMore => "uses more coating",
        Said::UsesLess => "uses less coating",
        Said::TakesLonger => "takes longer",
        Said::TakesLess => "takes less time",
        Said::SellsMore => "sells more often",
        Said::SellsLess => "sells less often",
        Said::ComesBackMore => "more comes back",
    }
}

fn verdict(shop: &Shop) -> String {
    match (shop.said.as_slice(), shop.spoken_of()) {
        ([], true) => "no".into(),
        ([], false) => "too few jobs".into(),
        (said, _) => {
            let words: Vec<&str> = said.iter().map(|s| said_words(*s)).collect();
            words.join("; ")
        }
    }
}

/// What each sells and what comes back.
pub(super) fn figures(x: &Shops, c: Context<'_>) -> Table {
    let row = |s: &Shop| {
        let mut cells = vec![
            Cell::Text(called(s)),
            Cell::Count(s.offered.of),
            Cell::Count(s.offered.yes),
            Cell::maybe(s.offered.share(), Cell::Share),
        ];
        cells.extend(three(&s.sold, Cell::Share));
        cells.extend([Cell::Count(s.coated.of), Cell::Count(s.coated.yes)]);
        cells.extend(three(&s.back, Cell::FineShare));
        cells.push(Cell::Text(verdict(s)));
        cells
    };
    Table {
        name: "shops",
        fold: "Sold and came back, by name: not a league table",
        caption: format!(
            "Shops: coating sold and jobs that came back, months up to {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            words_column("shop", "Shop"),
            numbers_column("eligible", "Film jobs it suits"),
            numbers_column("sold", "Of these coated"),
            numbers_column("sold_share", "Share as it stands"),
            numbers_column("sold_likely", "Likely share"),
            numbers_column("sold_low", "From"),
            numbers_column("sold_high", "To"),
            numbers_column("coated", "Coated jobs"),
            numbers_column("came_back", "Came back"),
            numbers_column("came_back_likely", "Came back, likely share"),
            numbers_column("came_back_low", "From"),
            numbers_column("came_back_high", "To"),
            words_column("said", "Stands out"),
        ],
        rows: ordered(x).map(row).collect(),
        definition: "Likely share: the shop's own drawn towards the chain's by as much as few jobs say little. The band of the chart: where the share of a shop like all the others falls in 998 of 1,000 cases. Stands out: where lying over 10% from the usual (callbacks: over half as many again) is at least 80% sure, and at most one in ten of those that stand out is likely wrong. The usual is the plain mean of the likely shares of shops with 8 such jobs or more. Nothing is said of a figure that rests on fewer than 8 jobs, nor of what came back where no callback is written down: that is not the same as nothing having come back.".into(),
    }
}

/// Coating and time on the same work.
pub(super) fn work(x: &Shops) -> Table {
    let row = |s: &Shop| {
        let mut cells = vec![Cell::Text(called(s)), Cell::Count(s.measured)];
        cells.extend(change(&s.used));
        cells.push(Cell::Count(s.timed));
        cells.extend(change(&s.time));
        cells
    };
    Table {
        name: "shops_work",
        fold: "Coating and time on the same work, by name",
        caption: "Shops: coating and time on the same work, against the chain's usual".into(),
        columns: vec![
            words_column("shop", "Shop"),
            numbers_column("measured_jobs", "Measured jobs"),
            numbers_column("used", "Coating against the usual"),
            numbers_column("used_low", "From"),
            numbers_column("used_high", "To"),
            numbers_column("timed_jobs", "Timed jobs"),
            numbers_column("time", "Time against the usual"),
            numbers_column("time_low", "From"),
            numbers_column("time_high", "To"),
        ],
        rows: ordered(x).map(row).collect(),
        definition: "0% is the plain mean of the chain's shops. One factor a shop on what the same finishes and areas (coating), or class, area and finishes (time), take in the chain, drawn towards the usual by as much as few jobs say little. Jobs that the fits leave out are left out here too.".into(),
    }
}

/// The chain's constants as each shop bears them out.
pub(super) struct Constants<'a> {
    pub(super) table: Table,
    /// Whose each row is.
    of: Vec<&'a Shop>,
}

impl Constants<'_> {
    /// What the page shows of it: all of a small chain; of others the shops on
    /// the page at which something stands out, up to so many.
    pub(super) fn on_page(&self, page: &Shops) -> Table {
        let pointed = page.shops.iter().filter(|s| !s.said.is_empty());
        let names: Vec<&str> = pointed
            .map(|s| s.name.as_str())
            .take(WITH_CONSTANTS)
            .collect();
        let small = page.count <= WITH_CONSTANTS as u64;
        let wanted = |row: usize| {
            let of = self.of.get(row);
            small || of.is_some_and(|s| names.contains(&s.name.as_str()))
        };
        self.table.part(wanted)
    }
}

/// All of them.
pub(super) fn constants(x: &Shops) -> Constants<'_> {
    let row = |s: &Shop, c: &OwnConstant| {
        let (what, kind): (_, fn(f64) -> Cell) = match c.constant {
            Constant::MlPerM2 => ("coating per area", Cell::PerArea),
            Constant::Minutes => ("minutes", Cell::Minutes),
        };
        vec![
            Cell::Text(called(s)),
            Cell::Text(what.into()),
            Cell::Text(c.key.clone()),
            Cell::Count(c.own.n),
            kind(c.own.value),
            kind(c.own.low),
            kind(c.own.high),
            kind(c.chain),
        ]
    };
    let each = || ordered(x).flat_map(|s| s.constants.iter().map(move |c| (s, c)));
    let table = Table {
        name: "shops_constants",
        fold: "The planning figures as each shop bears them out",
        caption: "Shops: coating by finish and typical minutes by class".into(),
        columns: vec![
            words_column("shop", "Shop"),
            words_column("constant", "Planning figure"),
            words_column("key", "Finish or class"),
            numbers_column("jobs", "Jobs on it"),
            numbers_column("own", "This shop"),
            numbers_column("own_low", "Likely from"),
            numbers_column("own_high", "Likely to"),
            numbers_column("chain", "All shops together"),
        ],
        rows: each().map(|(s, c)| row(s, c)).collect(),
        definition: "What all measured (or timed) jobs of the shop make likely, those on other finishes or classes too, so that a figure may rest on few jobs or none of its own: one departure a shop, as large a share of the usual work on every finish (coating) or class (minutes), as so few jobs do not tell them apart. All shops together: fitted as if they were one. Minutes: a full job on the smoothest finish. Of a chain of more than 200 shops, those with most coated jobs.".into(),
    };
    Constants {
        table,
        of: each().map(|(s, _)| s).collect(),
    }
}

/// The chain, and what it could have seen. `shown`: shops on the page.
pub(super) fn whole(x: &Shops, shown: usize) -> Table {
    let row =
        |what: &str, value: Cell| vec![Cell::Text(what.into()), value, Cell::Blank, Cell::Blank];
    let count = |what: &str, n: u64| row(what, Cell::Count(n));
    let mut rows = vec![
        count("Shops", x.count),
        count("Shops with enough jobs to speak of", x.spoken_of),
        count("Shops with too few", x.count - x.spoken_of),
        count("Shops where something stands out", x.pointed_at),
    ];
    rows.extend(
        (x.whole.sold.share()).map(|s| row("Film jobs sold, all shops together", Cell::Share(s))),
    );
    rows.extend(usual(&x.whole));
    if let Some(s) = x.whole.sight {
        rows.extend([
            row(
                "Truly slower by, for the next lines",
                Cell::Share(LOOKED_FOR),
            ),
            count("With so many timed jobs", s.jobs),
            count("Would be noticed, times in ten", s.in_ten()),
            count("Simulated chains", s.chains.into()),
        ]);
    }
    rows.push(row(
        "Mean chance of being wrong about what stands out",
        Cell::Share(x.mean_error),
    ));
    rows.push(row(
        "Scale of the prior of the spreads",
        Cell::Factor(x.whole.prior_scale),
    ));
    if shown < x.shops.len() {
        rows.push(count("Shops on this page", shown as u64));
    }
    Table {
        name: "shops_chain",
        fold: "The chain as a whole, and what it could have seen",
        caption: "Differences between shops, and how visible they are".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows,
        definition: "The usual of a shop: the plain mean of the likely shares of the shops with 8 such jobs or more; of what came back, of those that have written a callback down. Would be noticed: simulated chains with the same shops, jobs and spreads, in which one shop is truly that slow and its time alone is judged, by itself; on this page all shops and figures are judged together, which may ask for a little more or less. The shop imagined has the middle number of timed jobs. Spread of the time: two in three shops lie within so much; 0.10 is about 10%.".into(),
    }
}

/// What it is, its figure, and the kind of its cells.
type UsualRow = (&'static str, Option<Estimate>, fn(f64) -> Cell);

/// The usual of the chain and the spreads about it, where known.
fn usual(w: &Whole) -> Vec<Vec<Cell>> {
    let all: [UsualRow; 4] = [
        (
            "Film jobs sold, the usual of a shop",
            w.sold_usual,
            Cell::Share,
        ),
        (
            "Jobs that came back, the usual of a shop",
            w.back_usual,
            Cell::FineShare,
        ),
        (
            "Spread between shops, coating",
            w.used_between,
            Cell::Factor,
        ),
        ("Spread between shops, time", w.time_between, Cell::Factor),
    ];
    let row = |(what, found, kind): UsualRow| {
        let figure = Figure::Known(found?);
        Some(vec![
            Cell::Text(what.into()),
            Cell::value(&figure, kind),
            Cell::low(&figure, kind),
            Cell::high(&figure, kind),
        ])
    };
    all.into_iter().filter_map(row).collect()
}
