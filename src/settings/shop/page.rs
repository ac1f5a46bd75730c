//! How the page is written.

use super::files::one_of;
use super::{Marks, Page};
use crate::settings::error::{SettingsError, Source};
use crate::settings::raw::RawPage;

/// Marks that the page may set between thousands.
const THOUSANDS: &str = ",.' \u{a0}\u{202f}";

pub(super) fn page(source: &Source, raw: RawPage) -> Result<Page, SettingsError> {
    let decimal = one_of(source, "page", "decimal", raw.decimal, ".,")?;
    let thousands = one_of(source, "page", "thousands", raw.thousands, THOUSANDS)?;
    Ok(Page {
        system: raw.units.unwrap_or_default(),
        shop_name: raw.shop_name,
        names: raw.names,
        marks: marks(source, decimal, thousands)?,
    })
}

/// A decimal comma alone brings the point between thousands along. A plain
/// space becomes one at which no line is broken.
fn marks(
    source: &Source,
    decimal: Option<char>,
    thousands: Option<char>,
) -> Result<Marks, SettingsError> {
    let decimal = decimal.unwrap_or('.');
    let usual = if decimal == ',' { '.' } else { ',' };
    let thousands = thousands.unwrap_or(usual);
    if decimal == thousands {
        return Err(source.value(
            "page",
            "thousands",
            format!("{thousands:?}, which is the mark before decimals too"),
            "two different marks",
        ));
    }
    let thousands = if thousands == ' ' {
        '\u{a0}'
    } else {
        thousands
    };
    Ok(Marks { decimal, thousands })
}

#[cfg(test)]
mod tests {
    use crate::settings::shop::{Marks, Shop};

    fn marks(text: &str) -> Result<Marks, String> {
        let at = tempfile::tempdir().unwrap();
        std::fs::write(at.path().join("shop.toml"), text).unwrap();
        let shop = Shop::read(at.path()).map_err(|e| e.to_string());
        shop.map(|s| s.page.marks)
    }

    #[test]
    fn marks_come_in_pairs_that_differ() {
        let both = |decimal, thousands| Ok(Marks { decimal, thousands });
        assert_eq!(marks(""), both('.', ','));
        assert_eq!(marks("[page]\ndecimal = \",\"\n"), both(',', '.'));
        let spaced = "[page]\ndecimal = \",\"\nthousands = \" \"\n";
        assert_eq!(marks(spaced), both(',', '\u{a0}'));
        let same = marks("[page]\nthousands = \".\"\n").unwrap_err();
        assert!(same.contains("expected two different marks"), "{same}");
        let other = marks("[page]\ndecimal = \";\"\n").unwrap_err();
        assert!(other.contains("page.decimal"), "{other}");
    }
}
