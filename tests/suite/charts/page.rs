//! A whole page from sentences and numbers written by hand, with every part
//! that a page can have. All of it is invented.

use super::specs::{self, Case};
use tallycoat::charts::figure_of;
use tallycoat::pages::view::{
    Action, CellView, Column, FigureView, PageView, Piece, RestsOn, SectionView, TableView, Tile,
    TileFigure, sentence,
};

fn tile(label: &str, value: &str, unit: &str, words: [&str; 4]) -> Tile {
    let [before, usual, certainty, proof] = words.map(String::from);
    Tile {
        label: label.into(),
        figure: TileFigure::Known {
            value: value.into(),
            unit: unit.into(),
        },
        before,
        usual,
        certainty,
        proof,
    }
}

fn tiles() -> Vec<Tile> {
    let outside = "Outside the usual range";
    vec![
        tile(
            "Coating sold on",
            "52%",
            "",
            ["38% in September", "usual 31%", outside, "control"],
        ),
        tile(
            "Margin per coated job",
            "$108",
            "",
            ["$118 in September", "usual $120", "Probably real", "bridge"],
        ),
        tile(
            "Coating used",
            "1.62",
            "mL/m\u{b2}",
            [
                "1.58 in September",
                "in force 1.55",
                "Could be luck",
                "intervals",
            ],
        ),
        Tile {
            label: "Hands-on time".into(),
            figure: TileFigure::Thin {
                text: "Not enough jobs yet: 3 of 10 needed".into(),
            },
            before: String::new(),
            usual: String::new(),
            certainty: String::new(),
            proof: "minutes".into(),
        },
    ]
}

fn do_next() -> Vec<Action> {
    let action = |what: &str, why: &str, proof: &str, to: &str| Action {
        what: what.into(),
        why: sentence(why),
        proof: proof.into(),
        to: to.into(),
    };
    vec![
        action(
            "Raise the matte and textured prices of the long van by $25.",
            "Four of five such jobs were sold under their floor: **$789** given away in a year.",
            "See the price list",
            "heat",
        ),
        action(
            "Change the planning figure for satin from 1.60 to 1.82 mL/m\u{b2}.",
            "61 jobs agree; the likely range is **1.75 to 1.89**.",
            "See coating used",
            "intervals",
        ),
        action(
            "Leave the pace targets alone.",
            "Most differences between people are too small to tell from luck.",
            "See pace",
            "caterpillar",
        ),
    ]
}

/// A table as long as a year of months, or longer.
fn table(name: &str, rows: usize) -> TableView {
    let row = |i: usize| {
        if i == 3 {
            let words = CellView::words(format!("Row {i}"));
            return vec![words, CellView::thin("3 of 10 jobs"), CellView::thin("")];
        }
        let share = (i * 37 % 100) as f64 / 100.0;
        vec![
            CellView::words(format!("Row {i}")),
            CellView::number(format!("{:.0}%", 100.0 * share), share),
            CellView::number(format!("{}", 1200 - 7 * i), (1200 - 7 * i) as f64),
        ]
    };
    TableView {
        fold: "The numbers".into(),
        caption: format!("Numbers of {name}"),
        columns: vec![
            Column::words("Month"),
            Column::numbers("Share of film jobs"),
            Column::numbers("Jobs"),
        ],
        rows: (0..rows).map(row).collect(),
        definition: sentence("**Share**: coated over eligible jobs. n = 1,091 jobs."),
        sortable: true,
        comma: false,
    }
}

fn section(case: &Case) -> SectionView {
    let name = case.name;
    let title = format!("The {name} drawing");
    let desc = format!("A {name} drawing with invented numbers.");
    let drawing = figure_of(name, &title, &desc, &*case.draw).expect("a spec that can be drawn");
    SectionView {
        question: "",
        short: sentence("52%, probably more than usual."),
        id: name.into(),
        heading: format!("Drawing: {name}"),
        sentence: sentence("October: **34 of 66 jobs (52%)**. Outside the usual range."),
        figures: vec![FigureView {
            unit_line: "Share of film jobs that took the coating, by month".into(),
            drawing,
            key: case.key.clone(),
        }],
        how_to_read: sentence("Each dot is a month; the line through it is its likely range."),
        notes: vec![sentence(
            "Not a league table: where ranges overlap, order means little.",
        )],
        more: vec![sentence("Each range holds by itself.")],
        tables: vec![table(name, if name == "floor" { 90 } else { 12 })],
    }
}

/// A table whose first column holds a shop's own words.
fn constants(danger: &str) -> TableView {
    let mut table = table("the constants", 8);
    table.rows[0][0] = CellView::words(format!("Finish {danger}"));
    table
}

/// The page. `danger` stands in several places, as a shop's own text.
pub fn page(danger: &str) -> PageView {
    PageView {
        title: "Coating review, October 2026".into(),
        kicker: format!("Example Film Shop {danger}"),
        h1: "October 2026".into(),
        cover: vec![Piece::text(format!(
            "66 film jobs, 34 of them coated. 3 lines left out {danger}. Data until 31 October 2026."
        ))],
        lead: sentence(
            "More customers took the coating, but each coated job earned less because satin takes more of it.",
        ),
        tiles: tiles(),
        do_next: do_next(),
        cannot_say: vec![
            sentence("**Textured finishes**: 4 of 10 jobs needed, about two more months."),
            vec![
                Piece::strong(format!("Pace of {danger}")),
                Piece::text(": 4 of 8 jobs needed."),
            ],
        ],
        sections: specs::all().iter().map(section).collect(),
        left_out: vec![sentence(
            "**Workspace**: no `air_temperature` in coatings.csv.",
        )],
        how_to_read: vec![sentence(
            "A likely range is made so that it holds the true figure about 19 times in 20.",
        )],
        rests_on: vec![RestsOn {
            heading: "Constants in force".into(),
            paragraphs: vec![sentence("Set by hand on 1 January 2026.")],
            tables: vec![constants(danger)],
        }],
        footer: vec![Piece::text(
            "tallycoat 0.1.0, input 5b1e0d3c9a7f44e1b2c3d4e5f60718293a4b5c6d7e8f90112233445566778899",
        )],
        ..PageView::default()
    }
}
