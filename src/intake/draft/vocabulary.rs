//! How offices head the columns of each field: plain English, from memory of
//! the trade's usual words. Lower case, without unit or punctuation.
//! Its functions are tables: long because each heading stands on a line of its
//! own.

mod coatings;

use crate::settings::contract::Table;
use coatings::{bottles, callbacks, coatings};

/// Headings of a field. Those after `!` mean its opposite.
pub(super) fn headings(table: Table, field: &str) -> &'static [&'static str] {
    match (table, field) {
        (_, "job") => &[
            "job",
            "job number",
            "job no",
            "job id",
            "ticket",
            "ticket number",
            "ticket no",
            "work order",
            "order",
            "order number",
            "order no",
            "repair order",
            "ro",
            "invoice",
            "invoice number",
        ],
        (_, "shop") => &["shop", "store", "location", "branch", "site"],
        (Table::Jobs, field) => jobs(field),
        (Table::Surfaces, field) => surfaces(field),
        (Table::Coatings, field) => coatings(field),
        (Table::Bottles, field) => bottles(field),
        (Table::Callbacks, field) => callbacks(field),
        (Table::People, field) => people(field),
        (Table::Inspections, field) => inspections(field),
    }
}

fn jobs(field: &str) -> &'static [&'static str] {
    match field {
        "finished_on" => &[
            "finished",
            "finished on",
            "finish date",
            "completed",
            "completed on",
            "completion date",
            "date completed",
            "date finished",
            "done on",
            "job date",
            "date",
        ],
        "vehicle_class" => &[
            "vehicle class",
            "vehicle",
            "vehicle type",
            "vehicle size",
            "class",
            "body",
            "body style",
            "car type",
        ],
        "film" => &[
            "film",
            "film type",
            "type of film",
            "wrap",
            "wrap type",
            "job type",
            "service",
        ],
        "finish" => FINISH,
        "area" => AREA,
        "coverage" => &["coverage", "how much", "extent", "full or partial", "scope"],
        "offered" => &[
            "offered",
            "coating offered",
            "pitched",
            "coating pitched",
            "offer made",
            "presented",
            "asked",
        ],
        "sample" => &[
            "sample",
            "sample shown",
            "how shown",
            "shown",
            "shown how",
            "demonstration",
            "demo",
        ],
        "sold_by" => &[
            "sold by",
            "seller",
            "salesperson",
            "sales rep",
            "sales",
            "advisor",
            "rep",
        ],
        "coated" => &[
            "coated",
            "coating",
            "coating done",
            "coating applied",
            "coating sold",
            "left as",
            "with coating",
        ],
        "coating_price" => &[
            "coating price",
            "price of coating",
            "coating charge",
            "coating total",
            "coating amount",
        ],
        "coating_discount" => &[
            "coating discount",
            "discount on coating",
            "discount",
            "coating off",
        ],
        "film_price" => &[
            "film price",
            "price of film",
            "wrap price",
            "film total",
            "job price",
            "film charge",
            "price",
        ],
        "quoted_on" => &[
            "quoted",
            "quoted on",
            "quote date",
            "date quoted",
            "date of quote",
            "estimate date",
        ],
        "excluded" => &[
            "excluded",
            "not suitable",
            "unsuitable",
            "!coating suits",
            "!suits",
            "!suitable",
            "!eligible",
        ],
        _ => &[],
    }
}

const FINISH: &[&str] = &["finish", "film finish", "surface finish", "sheen"];
const AREA: &[&str] = &[
    "area",
    "film area",
    "surface area",
    "sq ft",
    "square feet",
    "sq m",
    "square metres",
    "m2",
    "ft2",
];
const FACES: &[&str] = &[
    "orientation",
    "faces",
    "facing",
    "direction",
    "where",
    "side",
];

fn surfaces(field: &str) -> &'static [&'static str] {
    match field {
        "surface" => &[
            "surface", "surfaces", "panel", "panels", "part", "parts", "section",
        ],
        "finish" => FINISH,
        "area" => AREA,
        "orientation" => FACES,
        _ => &[],
    }
}

fn people(field: &str) -> &'static [&'static str] {
    match field {
        "person" => &[
            "person",
            "code",
            "employee",
            "employee id",
            "employee no",
            "staff id",
            "id",
            "initials",
        ],
        "role" => &["role", "works as", "job title", "position", "trade"],
        "hourly_cost" => &[
            "hourly cost",
            "hourly rate",
            "pay per hour",
            "hourly pay",
            "wage",
            "pay",
            "rate",
        ],
        "started_on" => &[
            "started",
            "started on",
            "start date",
            "hired",
            "hired on",
            "hire date",
            "joined",
        ],
        "ended_on" => &[
            "ended",
            "ended on",
            "end date",
            "left",
            "left on",
            "leaving date",
            "last day",
        ],
        _ => &[],
    }
}

fn inspections(field: &str) -> &'static [&'static str] {
    match field {
        "seen_on" => &[
            "seen",
            "seen on",
            "date seen",
            "looked at",
            "inspected",
            "inspected on",
            "inspection date",
            "visit",
            "date",
        ],
        "condition" => &[
            "condition",
            "film is",
            "film condition",
            "state",
            "result",
            "status",
        ],
        "orientation" => FACES,
        _ => &[],
    }
}

/// Words in a file's name that speak for a table.
pub(super) fn file_names(table: Table) -> &'static [&'static str] {
    match table {
        Table::Jobs => &["job", "ticket", "order", "front desk", "sales"],
        Table::Surfaces => &["surface", "panel"],
        Table::Coatings => &["coating", "application"],
        Table::Bottles => &["bottle", "stock", "cellar"],
        Table::Callbacks => &[
            "callback",
            "call back",
            "come back",
            "comeback",
            "complaint",
            "rework",
            "warranty",
        ],
        Table::People => &["people", "person", "staff", "employee", "crew", "team"],
        Table::Inspections => &["inspection", "second look", "revisit"],
    }
}
