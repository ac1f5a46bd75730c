//! Headings of coating work, bottles and callbacks. Long because each usual
//! heading stands on a line of its own.

pub(super) fn coatings(field: &str) -> &'static [&'static str] {
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

pub(super) fn bottles(field: &str) -> &'static [&'static str] {
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

pub(super) fn callbacks(field: &str) -> &'static [&'static str] {
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
