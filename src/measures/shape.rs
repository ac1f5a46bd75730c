//! What the result of each query looks like: its columns, their types, which
//! of them tell one row from another, and how results of parts of a chain
//! become the result of the whole. The words are in the headers of `queries/`.

mod column;

pub use column::{Column, Holds};
use column::{count, key, key_or_none, maybe, named, value};

/// How results of parts of a chain, split by shop, become that of the whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Adds {
    /// Rows that agree in the grain are one row; the other columns are added.
    Sums,
    /// The rows of all parts stand side by side: no two share a grain.
    Rows,
    /// `jobs` are added, and `area` is the median over the parts' jobs, taking
    /// each job at its part's median: the whole's median lies between the
    /// parts' medians, and is theirs where they agree, but in general only the
    /// whole has it.
    Median,
}

/// The result of one query.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// Name of the query.
    pub name: &'static str,
    /// Its columns, in order.
    pub columns: &'static [Column],
    /// How parts become the whole.
    pub adds: Adds,
}

impl Shape {
    /// True where its rows belong to coated jobs, by their keys.
    pub(super) fn of_jobs(&self) -> bool {
        self.columns.iter().any(|c| c.holds == Holds::JobKey)
    }

    /// True where some columns together tell the rows apart.
    pub(super) fn has_grain(&self) -> bool {
        self.columns.iter().any(|c| c.grain)
    }
}

const JOB: Column = key("job_key", Holds::JobKey);
const JOB_OF_MANY: Column = value("job_key", Holds::JobKey);

const fn shape(name: &'static str, adds: Adds, columns: &'static [Column]) -> Shape {
    Shape {
        name,
        columns,
        adds,
    }
}

/// The months that a query looks at: the tables `window_months` and `spans`.
pub(super) const MONTHS: Shape = shape("", Adds::Rows, &[key("month_no", Holds::Integer)]);

/// The shape of each query's result, in the order of the catalogue.
pub const SHAPES: &[Shape] = &[
    shape(
        "months",
        Adds::Sums,
        &[
            named("shop"),
            key("month_no", Holds::Integer),
            count("finished"),
            count("eligible"),
            count("offered"),
            count("offer_unknown"),
            count("coated"),
            count("coated_offered"),
        ],
    ),
    shape(
        "coated",
        Adds::Rows,
        &[
            JOB,
            maybe("shop", Holds::Text),
            value("job", Holds::Text),
            value("month_no", Holds::Integer),
            maybe("vehicle_class", Holds::Text),
            maybe("film", Holds::Text),
            maybe("coverage", Holds::Text),
            maybe("sold_by", Holds::Text),
            maybe("finish", Holds::Text),
            maybe("area", Holds::Number),
            maybe("coating_price", Holds::Integer),
            count("coating_discount"),
            value("priced_on", Holds::Day),
        ],
    ),
    shape(
        "coated_area",
        Adds::Rows,
        &[JOB, named("finish"), maybe("area", Holds::Number)],
    ),
    shape(
        "work",
        Adds::Rows,
        &[
            JOB,
            count("spells"),
            count("people"),
            count("unnamed"),
            maybe("applied_by", Holds::Text),
            maybe("minutes", Holds::Number),
            maybe("used", Holds::Number),
        ],
    ),
    shape(
        "rework",
        Adds::Rows,
        &[
            JOB,
            count("callbacks"),
            value("minutes", Holds::Number),
            value("used", Holds::Number),
            count("cost"),
        ],
    ),
    shape(
        "full_area",
        Adds::Median,
        &[
            named("vehicle_class"),
            count("jobs"),
            value("area", Holds::Number),
        ],
    ),
    shape(
        "bottle_cost",
        Adds::Rows,
        &[
            named("shop"),
            named("bottle"),
            maybe("product", Holds::Text),
            value("month_no", Holds::Integer),
            count("emptied"),
            value("volume", Holds::Number),
            value("left_over", Holds::Number),
            count("cost"),
        ],
    ),
    shape(
        "wages",
        Adds::Rows,
        &[named("shop"), named("person"), count("hourly_cost")],
    ),
    shape(
        "bottle_spans",
        Adds::Rows,
        &[
            named("shop"),
            named("bottle"),
            maybe("product", Holds::Text),
            maybe("lot", Holds::Text),
            value("opened_on", Holds::Day),
            maybe("emptied_on", Holds::Day),
            value("opened_no", Holds::Integer),
            maybe("emptied_no", Holds::Integer),
            maybe("volume", Holds::Number),
            value("left_over", Holds::Number),
        ],
    ),
    shape(
        "draws",
        Adds::Rows,
        &[
            JOB,
            named("bottle"),
            value("day", Holds::Day),
            maybe("minute", Holds::Integer),
            maybe("used", Holds::Number),
        ],
    ),
    shape(
        "priced_offers",
        Adds::Sums,
        &[
            named("shop"),
            named("vehicle_class"),
            named("coverage"),
            named("finish"),
            named("other_finish"),
            named("sold_by"),
            named("sample"),
            key("priced", Holds::Integer),
            key("price", Holds::Integer),
            count("offers"),
            count("accepted"),
            count("discount"),
            count("with_area"),
            value("area", Holds::Number),
            value("other_area", Holds::Number),
        ],
    ),
    shape(
        "offers",
        Adds::Sums,
        &[
            named("shop"),
            named("vehicle_class"),
            named("film"),
            named("finish"),
            key("two_tone", Holds::Integer),
            named("sold_by"),
            named("sample"),
            count("eligible"),
            count("offered"),
            count("offer_unknown"),
            count("coated"),
            count("coated_offered"),
            count("coated_refused"),
        ],
    ),
    shape(
        "film_life",
        Adds::Sums,
        &[
            key("finished_on", Holds::Day),
            key_or_none("last_on", Holds::Day),
            key("failed", Holds::Integer),
            key("coated", Holds::Integer),
            named("film"),
            named("finish"),
            count("jobs"),
        ],
    ),
    shape(
        "film_faces",
        Adds::Sums,
        &[
            named("orientation"),
            key("recorded", Holds::Integer),
            key("coated", Holds::Integer),
            key("finished_on", Holds::Day),
            key_or_none("last_on", Holds::Day),
            key("failed", Holds::Integer),
            count("jobs"),
        ],
    ),
    shape(
        "came_back",
        Adds::Rows,
        &[
            JOB,
            named("cause"),
            count("callbacks"),
            value("minutes", Holds::Number),
            value("used", Holds::Number),
            count("cost"),
        ],
    ),
    shape(
        "spells",
        Adds::Rows,
        &[
            JOB_OF_MANY,
            maybe("paused_minutes", Holds::Number),
            maybe("air_temperature", Holds::Number),
            maybe("surface_temperature", Holds::Number),
            maybe("relative_humidity", Holds::Number),
            maybe("started_at", Holds::Moment),
            maybe("ended_at", Holds::Moment),
            maybe("released_at", Holds::Moment),
            maybe("rain", Holds::Integer),
            maybe("held_overnight", Holds::Integer),
        ],
    ),
    shape(
        "practice",
        Adds::Rows,
        &[JOB, named("applied_by"), count("nth")],
    ),
    shape(
        "hired",
        Adds::Rows,
        &[
            named("shop"),
            named("person"),
            value("started_on", Holds::Day),
        ],
    ),
    shape(
        "bottle_book",
        Adds::Rows,
        &[
            named("shop"),
            named("bottle"),
            maybe("product", Holds::Text),
            value("opened_no", Holds::Integer),
            maybe("emptied_no", Holds::Integer),
            value("volume", Holds::Number),
            value("left_over", Holds::Number),
            maybe("cost", Holds::Integer),
        ],
    ),
    shape(
        "poured",
        Adds::Rows,
        &[
            JOB,
            named("bottle"),
            named("product"),
            count("spells"),
            count("unmeasured"),
            value("used", Holds::Number),
        ],
    ),
    shape(
        "shelf",
        Adds::Rows,
        &[
            named("shop"),
            named("bottle"),
            maybe("product", Holds::Text),
            maybe("opened_no", Holds::Integer),
            value("volume", Holds::Number),
            maybe("cost", Holds::Integer),
        ],
    ),
];

/// The shape of a query's result.
pub(super) fn shape_of(query: &str) -> Option<&'static Shape> {
    SHAPES.iter().find(|s| s.name == query)
}
