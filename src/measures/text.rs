//! Text of a cell.

/// Text of a cell: short ones, as names and keys are, are held in place, so
/// that millions of them cost no allocation.
pub type Text = compact_str::CompactString;
