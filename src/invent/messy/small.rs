//! The export's other files, each in a dialect of its own.

use super::broken::{Breaker, Broken, Damage, Plot, plot};
use super::sheet::{
    Coding, Dialect, Sheet, decimal, dollars, fluid_ounces, job_key, square_feet, us_date,
};
use super::vocabulary::{cause, condition, finish, orientation, part, role};
use crate::invent::Invented;
use crate::invent::truth::PRODUCT;
use crate::invent::write::person_key;

/// Panels of two-tone jobs: tabs, UTF-8 with a byte order mark.
pub(super) const PANELS: Dialect = Dialect {
    name: "panels.txt",
    delimiter: '\t',
    coding: Coding::Utf8Mark,
    line_end: "\r\n",
    quote_all: false,
};
/// Bottles: a `sep=` line, commas, UTF-8.
pub(super) const BOTTLES: Dialect = Dialect {
    name: "bottle-log.csv",
    delimiter: ',',
    coding: Coding::Utf8,
    line_end: "\n",
    quote_all: false,
};
/// Callbacks: semicolons, windows-1252, blank lines, the heading again.
pub(super) const CALLBACKS: Dialect = Dialect {
    name: "come-backs.csv",
    delimiter: ';',
    coding: Coding::Cp1252,
    line_end: "\r\n",
    quote_all: false,
};
/// People: commas, every cell quoted.
pub(super) const STAFF: Dialect = Dialect {
    name: "staff.csv",
    delimiter: ',',
    coding: Coding::Utf8,
    line_end: "\n",
    quote_all: true,
};
/// Inspections: pipes.
pub(super) const LOOKS: Dialect = Dialect {
    name: "second-looks.csv",
    delimiter: '|',
    coding: Coding::Utf8,
    line_end: "\n",
    quote_all: false,
};

/// Columns of the panels.
pub(super) const PANEL_COLUMNS: [[&str; 2]; 5] = [
    ["Ticket", "surfaces.job"],
    ["Panels", "surfaces.surface"],
    ["Finish", "surfaces.finish"],
    ["Sq ft", "surfaces.area"],
    ["Faces", "surfaces.orientation"],
];
/// Columns of the bottle log.
pub(super) const BOTTLE_COLUMNS: [[&str; 2]; 8] = [
    ["Bottle no.", "bottles.bottle"],
    ["Product", "bottles.product"],
    ["Lot", "bottles.lot"],
    ["Opened", "bottles.opened_on"],
    ["Empty", "bottles.emptied_on"],
    ["Size (US fl oz)", "bottles.volume"],
    ["Tossed (US fl oz)", "bottles.left_over"],
    ["Landed cost", "bottles.cost"],
];
/// Columns of the callbacks.
pub(super) const CALLBACK_COLUMNS: [[&str; 2]; 6] = [
    ["Ticket", "callbacks.job"],
    ["Came back", "callbacks.reported_on"],
    ["Why", "callbacks.cause"],
    ["Rework min", "callbacks.minutes"],
    ["Coating (US fl oz)", "callbacks.used"],
    ["Other cost", "callbacks.cost"],
];
/// Columns of the staff list.
pub(super) const STAFF_COLUMNS: [[&str; 2]; 5] = [
    ["Code", "people.person"],
    ["Works as", "people.role"],
    ["Pay per hour", "people.hourly_cost"],
    ["Hired", "people.started_on"],
    ["Left", "people.ended_on"],
];
/// Columns of the inspections.
pub(super) const LOOK_COLUMNS: [[&str; 2]; 4] = [
    ["Ticket", "inspections.job"],
    ["Looked at", "inspections.seen_on"],
    ["Film is", "inspections.condition"],
    ["Where", "inspections.orientation"],
];

const PANEL_PLOTS: [Plot; 3] = [
    plot(
        "panels of a ticket that there is none of",
        Some("Ticket"),
        "foreign-key-error",
        Damage::Cells(&[]),
    ),
    Plot {
        kind: "a byte that is no UTF-8",
        column: Some("Panels"),
        reason: "encoding-error",
        damage: Damage::Byte("Panels", 0x96),
        new_key: false,
    },
    Plot {
        kind: "cut off after the finish",
        column: None,
        reason: "missing-cell",
        damage: Damage::Cut(3),
        new_key: false,
    },
];
const BOTTLE_PLOTS: [Plot; 2] = [
    Plot {
        kind: "ounces of no known kind",
        column: Some("Size (US fl oz)"),
        reason: "unit-error",
        damage: Damage::Cells(&[["Bottle no.", "B9001"], ["Size (US fl oz)", "3.4 oz"]]),
        new_key: false,
    },
    Plot {
        kind: "cost in words",
        column: Some("Landed cost"),
        reason: "type-error",
        damage: Damage::Cells(&[["Bottle no.", "B9002"], ["Landed cost", "same as last"]]),
        new_key: false,
    },
];
const CALLBACK_PLOTS: [Plot; 2] = [
    plot(
        "callback on a ticket that there is none of",
        Some("Ticket"),
        "foreign-key-error",
        Damage::Cells(&[]),
    ),
    Plot {
        kind: "a day that is none",
        column: Some("Came back"),
        reason: "type-error",
        damage: Damage::Cells(&[["Came back", "2/30/2026"]]),
        new_key: false,
    },
];
const LOOK_PLOTS: [Plot; 1] = [plot(
    "a look at a ticket that there is none of",
    Some("Ticket"),
    "foreign-key-error",
    Damage::Cells(&[]),
)];

/// Writes rows with broken ones among them.
fn fill<const N: usize>(
    sheet: &mut Sheet,
    columns: &[[&str; 2]; N],
    plots: &[Plot],
    rows: impl ExactSizeIterator<Item = [String; N]>,
    broken: &mut Vec<Broken>,
) {
    let headings = columns.map(|[heading, _]| heading);
    let mut breaker = Breaker::new(&headings, plots, rows.len(), broken);
    for cells in rows {
        sheet.row(&cells);
        breaker.after(&cells, sheet);
    }
}

fn headings<const N: usize>(columns: &[[&'static str; 2]; N]) -> [&'static str; N] {
    columns.map(|[heading, _]| heading)
}

/// Panels of two-tone jobs and panel groups.
pub(super) fn panels(invented: &Invented, broken: &mut Vec<Broken>) -> Sheet {
    let mut sheet = Sheet::new(PANELS);
    sheet.row(&headings(&PANEL_COLUMNS));
    let rows = invented.tables.surfaces.iter().map(|row| {
        [
            job_key(row.job),
            part(row.part).into(),
            finish(row.finish).into(),
            square_feet(row.area),
            orientation(row.orientation).into(),
        ]
    });
    fill(&mut sheet, &PANEL_COLUMNS, &PANEL_PLOTS, rows, broken);
    sheet
}

/// The bottle log.
pub(super) fn bottles(invented: &Invented, broken: &mut Vec<Broken>) -> Sheet {
    let mut sheet = Sheet::new(BOTTLES);
    sheet.line("sep=,");
    sheet.row(&headings(&BOTTLE_COLUMNS));
    let rows = invented.tables.bottles.iter().map(|row| {
        [
            format!("B{:04}", row.number),
            PRODUCT.into(),
            format!("{:04}", row.lot),
            us_date(row.opened_on),
            row.emptied_on.map_or_else(String::new, us_date),
            fluid_ounces(Some(row.volume)),
            fluid_ounces(row.left_over),
            dollars(row.cost.0),
        ]
    });
    fill(&mut sheet, &BOTTLE_COLUMNS, &BOTTLE_PLOTS, rows, broken);
    sheet
}

/// Callbacks, page by page: a blank line and the heading again.
pub(super) fn callbacks(invented: &Invented, broken: &mut Vec<Broken>) -> Sheet {
    let mut sheet = Sheet::new(CALLBACKS);
    let names = headings(&CALLBACK_COLUMNS);
    let all = &invented.tables.callbacks;
    let (first, second) = all.split_at(all.len() / 2);
    let pages = [
        (first, &CALLBACK_PLOTS[..1]),
        (second, &CALLBACK_PLOTS[1..]),
    ];
    for (place, (page, plots)) in pages.into_iter().enumerate() {
        if place > 0 {
            sheet.line("");
        }
        sheet.row(&names);
        let rows = page.iter().map(|row| {
            [
                job_key(row.job),
                us_date(row.reported_on),
                cause(row.cause).into(),
                decimal(row.minutes, 0),
                fluid_ounces(row.used),
                row.cost.map_or_else(String::new, |c| dollars(c.0)),
            ]
        });
        fill(&mut sheet, &CALLBACK_COLUMNS, plots, rows, broken);
    }
    sheet
}

/// The staff list.
pub(super) fn staff(invented: &Invented) -> Sheet {
    let mut sheet = Sheet::new(STAFF);
    sheet.row(&headings(&STAFF_COLUMNS));
    for row in &invented.tables.people {
        sheet.row(&[
            person_key(row.number),
            role(row.role).into(),
            dollars(row.hourly_cost.0),
            us_date(row.started_on),
            row.ended_on.map_or_else(String::new, us_date),
        ]);
    }
    sheet
}

/// Inspections.
pub(super) fn looks(invented: &Invented, broken: &mut Vec<Broken>) -> Sheet {
    let mut sheet = Sheet::new(LOOKS);
    sheet.row(&headings(&LOOK_COLUMNS));
    let rows = invented.tables.inspections.iter().map(|row| {
        [
            job_key(row.job),
            us_date(row.seen_on),
            condition(row.condition).into(),
            orientation(row.orientation).into(),
        ]
    });
    fill(&mut sheet, &LOOK_COLUMNS, &LOOK_PLOTS, rows, broken);
    sheet
}
