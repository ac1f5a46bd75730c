//! What stands over the parts of a page, of a shop's or of a person's.

/// What stands over the parts of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Headings {
    /// Written on the link that skips the header: "Skip to the review".
    pub skip: &'static str,
    /// Over the first screen.
    pub first: &'static str,
    /// Over what to do.
    pub next: &'static str,
    /// Over what else the month brought.
    pub also: &'static str,
    /// Over the sections.
    pub evidence: &'static str,
}

impl Default for Headings {
    /// Those of a review.
    fn default() -> Self {
        Self {
            skip: "Skip to the review",
            first: "This month in one minute",
            next: "Do next",
            also: "Also this month",
            evidence: "The evidence",
        }
    }
}
