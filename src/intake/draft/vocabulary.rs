//! How offices head the columns of each field: plain English, from memory of
//! the trade's usual words. Lower case, without unit or punctuation.

use crate::settings::contract::Table;

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

fn coatings(field: &str) -> &'static [&'static str] {
    match field {
        "applied_by" => &[
            "applied by",
            "coated by",
            "applicator",
            "technician",
            "tech",
            "installer",
            "done by",
            "worker",
            "by",
        ],
        "started_at" => &[
            "started",
            "started at",
            "start",
            "start time",
            "coating start",
            "coating started",
            "begin",
        ],
        "ended_at" => &[
            "ended",
            "ended at",
            "end",
            "end time",
            "coating end",
            "coating ended",
            "stop",
        ],
        "minutes" => &[
            "minutes",
            "hands on minutes",
            "hands on min",
            "hands on",
            "labour minutes",
            "labor minutes",
            "labour min",
            "labor min",
            "work minutes",
            "min",
            "duration",
            "time taken",
        ],
        "paused_minutes" => &[
            "paused minutes",
            "paused",
            "pause",
            "pause min",
            "break",
            "break min",
            "breaks",
            "idle",
        ],
        "used" => USED,
        "bottle" => BOTTLE,
        "product" => PRODUCT,
        "air_temperature" => &[
            "air temperature",
            "air temp",
            "shop temp",
            "shop temperature",
            "room temp",
            "room temperature",
            "bay temp",
            "ambient",
            "ambient temp",
            "temperature",
            "temp",
        ],
        "surface_temperature" => &[
            "surface temperature",
            "surface temp",
            "panel temp",
            "panel temperature",
            "film temp",
            "vehicle temp",
        ],
        "relative_humidity" => &["relative humidity", "humidity", "rh"],
        "released_at" => &[
            "released",
            "released at",
            "out the door",
            "delivered",
            "handed over",
            "picked up",
            "pickup",
            "collected",
        ],
        "rain" => &["rain", "rained", "weather", "wet"],
        "held_overnight" => &[
            "held overnight",
            "overnight",
            "kept overnight",
            "stayed overnight",
        ],
        _ => &[],
    }
}

const USED: &[&str] = &[
    "used",
    "coating used",
    "product used",
    "amount used",
    "ml used",
    "drops used",
    "usage",
    "coating",
    "amount",
];
const BOTTLE: &[&str] = &["bottle", "bottle no", "bottle number", "bottle id"];
const PRODUCT: &[&str] = &["product", "coating product", "product name"];

fn bottles(field: &str) -> &'static [&'static str] {
    match field {
        "bottle" => BOTTLE,
        "product" => PRODUCT,
        "lot" => &["lot", "lot no", "lot number", "batch", "batch no"],
        "opened_on" => &["opened", "opened on", "open date", "date opened"],
        "emptied_on" => &[
            "emptied",
            "emptied on",
            "empty",
            "empty date",
            "date emptied",
            "finished",
        ],
        "volume" => &["volume", "size", "bottle size", "content", "contents"],
        "left_over" => &[
            "left over",
            "leftover",
            "tossed",
            "thrown away",
            "waste",
            "discarded",
            "remaining",
        ],
        "cost" => &["cost", "landed cost", "bottle cost", "price paid", "price"],
        _ => &[],
    }
}

fn callbacks(field: &str) -> &'static [&'static str] {
    match field {
        "reported_on" => &[
            "reported",
            "reported on",
            "came back",
            "callback date",
            "complaint date",
            "date reported",
            "date",
        ],
        "cause" => &["cause", "why", "reason", "problem", "issue", "complaint"],
        "minutes" => &[
            "minutes",
            "rework minutes",
            "rework min",
            "rework",
            "repair minutes",
            "min",
        ],
        "used" => USED,
        "cost" => &[
            "cost",
            "other cost",
            "rework cost",
            "material cost",
            "parts",
        ],
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
