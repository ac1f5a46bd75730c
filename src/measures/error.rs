//! What can go wrong while measuring.

/// A query that did not run, or a result that is not as its header says.
#[derive(Debug, thiserror::Error)]
pub enum MeasureError {
    /// The engine refused a query.
    #[error("queries/{query}.sql did not run: {source}")]
    Query {
        /// Name of the query.
        query: String,
        /// The engine's word.
        source: polars::error::PolarsError,
    },
    /// The system gives no thread to plan on.
    #[error("no thread could be started for the queries: {0}")]
    Thread(#[from] std::io::Error),
    /// A query whose result has no shape in `measures/shape.rs`.
    #[error("the result of queries/{query}.sql has no shape")]
    Unshaped {
        /// Name of the query.
        query: String,
    },
    /// A result lacks a column, or holds another type in it.
    #[error("the result of query {query} has no usable column {column}: {source}")]
    Column {
        /// Name of the query.
        query: String,
        /// Name of the column.
        column: String,
        /// The engine's word.
        source: polars::error::PolarsError,
    },
}
