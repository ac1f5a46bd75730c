//! The queries, embedded. Each one's result is a table of its own name for
//! those after it.

/// A query: its name, which is also its result's, and its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Query {
    /// Name of the result.
    pub name: &'static str,
    /// Its file in `queries/`, whose number gives the order.
    pub file: &'static str,
    /// SQL, in the dialect that DEVELOPERS.md describes.
    pub sql: &'static str,
}

macro_rules! query {
    ($name:literal, $file:literal) => {
        Query {
            name: $name,
            file: $file,
            sql: include_str!(concat!("../../queries/", $file)),
        }
    };
}

/// All queries, in the order in which they run.
pub const QUERIES: &[Query] = &[
    query!("spell_counts", "00_spell_counts.sql"),
    query!("months", "01_months.sql"),
    query!("coated", "02_coated.sql"),
    query!("coated_area", "03_coated_area.sql"),
    query!("work", "04_work.sql"),
    query!("rework", "05_rework.sql"),
    query!("full_area", "06_full_area.sql"),
    query!("bottle_cost", "07_bottle_cost.sql"),
    query!("wages", "08_wages.sql"),
    query!("carried", "09_carried.sql"),
    query!("bottle_spans", "10_bottle_spans.sql"),
    query!("draws", "11_draws.sql"),
    query!("priced_offers", "12_priced_offers.sql"),
    query!("offers", "20_offers.sql"),
    query!("film_life", "30_film_life.sql"),
    query!("film_faces", "31_film_faces.sql"),
    query!("came_back", "32_came_back.sql"),
    query!("spells", "33_spells.sql"),
    query!("practice", "34_practice.sql"),
    query!("hired", "35_hired.sql"),
    query!("bottle_book", "36_bottle_book.sql"),
    query!("poured", "37_poured.sql"),
    query!("shelf", "38_shelf.sql"),
];

/// Results that the queries after them alone read: they are no part of what is
/// handed over, and have no shape.
pub const STEPS: [&str; 2] = ["spell_counts", "carried"];
