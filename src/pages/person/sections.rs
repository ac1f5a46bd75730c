//! The sections of a person's page: time, coating, callbacks.

mod callbacks;
mod coating;
mod time;

use super::{Own, likely, pace, say, within};
use crate::pages::error::PageError;
use crate::pages::sections::Section;
use crate::pages::view::SectionView;

/// Id of the section on time.
pub(super) const TIME: &str = "your-time";
/// Id of the section on coating used.
pub(super) const COATING: &str = "your-coating";
/// Id of the section on callbacks.
pub(super) const CALLBACKS: &str = "your-callbacks";

/// All sections, in order.
pub(super) fn all(own: Own<'_>) -> Result<Vec<SectionView>, PageError> {
    let all = [
        time::section(own)?,
        coating::section(own),
        callbacks::section(own),
    ];
    Ok(all.into_iter().map(|s: Section| s.view).collect())
}
