//! An invented shop as an office would export it: one wide sheet with a line
//! per job (a further line per further spell of coating), the rest in files of
//! other dialects; the shop's own headings and words, US units, US dates; and
//! 25 broken lines added to the sound ones.
//!
//! What the change of units costs, at worst, because numbers are printed to a
//! fixed number of decimals: areas 0.00005 m² (three decimals of a square
//! foot), coating 0.00015 mL (five decimals of a US fluid ounce). Temperatures,
//! money, minutes, dates cost nothing.

mod broken;
mod sheet;
mod small;
mod toml;
mod vocabulary;
mod wide;

pub use broken::Broken;

use super::{InventError, Invented, io_error};
use sheet::Sheet;
use std::path::Path;

/// Square metres in a square foot, exact: (12 × 0.0254)². Written out here
/// again, so that the export does not inherit a mistake of the reader.
const M2_PER_FT2: f64 = 0.092_903_04;
/// Millilitres in a US fluid ounce, exact: 231 × 2.54³ / 128. Likewise.
const ML_PER_FL_OZ: f64 = 29.573_529_562_5;

/// A file of the export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MessyFile {
    /// Its name.
    pub name: &'static str,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// The export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Messy {
    /// Sheets, `shop.toml` and `constants.toml`.
    pub files: Vec<MessyFile>,
    /// The broken lines, by file and line.
    pub broken: Vec<Broken>,
}

/// Exports an invented shop the messy way.
///
/// # Errors
/// A chain of shops: the export is one shop's.
pub fn messy(invented: &Invented) -> Result<Messy, InventError> {
    if invented.plan.shops != 1 {
        return Err(InventError::OneShopOnly {
            shops: invented.plan.shops,
        });
    }
    let mut broken = Vec::new();
    let sheets = [
        wide::sheet(invented, &mut broken),
        small::panels(invented, &mut broken),
        small::bottles(invented, &mut broken),
        small::callbacks(invented, &mut broken),
        small::staff(invented),
        small::looks(invented, &mut broken),
    ];
    let mut files: Vec<MessyFile> = sheets.into_iter().map(Sheet::into_file).collect();
    files.push(MessyFile {
        name: "shop.toml",
        bytes: toml::text().into_bytes(),
    });
    files.push(MessyFile {
        name: "constants.toml",
        bytes: invented.constants.toml().into_bytes(),
    });
    Ok(Messy { files, broken })
}

/// Writes an export into a folder.
///
/// # Errors
/// A folder or file that cannot be written.
pub fn write_messy(messy: &Messy, folder: &Path) -> Result<(), InventError> {
    std::fs::create_dir_all(folder).map_err(|source| io_error(folder, source))?;
    for file in &messy.files {
        let path = folder.join(file.name);
        std::fs::write(&path, &file.bytes).map_err(|source| io_error(&path, source))?;
    }
    Ok(())
}

impl Messy {
    /// The broken lines as JSON, one a line.
    pub fn broken_json(&self) -> String {
        let lines: Vec<String> = self
            .broken
            .iter()
            .map(|b| format!("  {}", serde_json::to_string(b).unwrap_or_default()))
            .collect();
        format!("[\n{}\n]\n", lines.join(",\n"))
    }
}
