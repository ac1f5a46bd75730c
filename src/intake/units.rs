//! The unit of a column: by the settings, else by its heading, else the
//! canonical one.

use super::error::FileFaultKind;
use crate::settings::contract::{Kind, Table};
use crate::settings::shop::Shop;
use crate::units::{AreaUnit, TemperatureUnit, UseUnit, VolumeUnit};
use std::collections::BTreeMap;

/// How a column's numbers become canonical.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// As they are.
    Canonical,
    /// Film area.
    Area(AreaUnit),
    /// Coating used.
    Used(UseUnit),
    /// Content of a bottle.
    Volume(VolumeUnit),
    /// Temperature.
    Temperature(TemperatureUnit),
    /// Hours, where minutes are wanted.
    Hours,
}

impl Unit {
    /// Its name, for people.
    pub fn name(self, kind: Kind) -> &'static str {
        match (self, kind) {
            (Self::Area(AreaUnit::SquareFoot), _) => "ft2",
            (Self::Used(UseUnit::Gram), _) => "g",
            (Self::Used(UseUnit::UsFluidOunce) | Self::Volume(VolumeUnit::UsFluidOunce), _) => {
                "US fl oz"
            }
            (Self::Used(UseUnit::Drop), _) => "drops",
            (Self::Volume(VolumeUnit::Litre), _) => "L",
            (Self::Temperature(TemperatureUnit::F), _) => "F",
            (Self::Hours, _) => "h",
            (_, Kind::Area) => "m2",
            (_, Kind::Used | Kind::Volume) => "mL",
            (_, Kind::Temperature) => "C",
            (_, Kind::Minutes) => "min",
            (_, Kind::Humidity) => "%",
            _ => "",
        }
    }

    /// Lower-case spellings that may stand beside a number.
    pub fn spellings(self, kind: Kind) -> &'static [&'static str] {
        match (self, kind) {
            (Self::Area(AreaUnit::SquareFoot), _) => SQUARE_FEET,
            (_, Kind::Area) => SQUARE_METRES,
            (Self::Used(UseUnit::Gram), _) => GRAMS,
            (Self::Used(UseUnit::Drop), _) => DROPS,
            (Self::Used(UseUnit::UsFluidOunce) | Self::Volume(VolumeUnit::UsFluidOunce), _) => {
                FLUID_OUNCES
            }
            (Self::Volume(VolumeUnit::Litre), _) => LITRES,
            (_, Kind::Used | Kind::Volume) => MILLILITRES,
            (Self::Temperature(TemperatureUnit::F), _) => FAHRENHEIT,
            (_, Kind::Temperature) => CELSIUS,
            (Self::Hours, _) => HOURS,
            (_, Kind::Minutes) => MINUTES,
            _ => &[],
        }
    }

    /// A number in the canonical unit; `per_ml` is what of it makes a mL,
    /// where that depends on the product.
    pub fn convert(self, x: f64, per_ml: f64) -> f64 {
        match self {
            Self::Canonical => x,
            Self::Area(unit) => unit.to_m2(x),
            Self::Used(UseUnit::Gram | UseUnit::Drop) => x / per_ml,
            Self::Used(UseUnit::UsFluidOunce) => VolumeUnit::UsFluidOunce.to_ml(x),
            Self::Used(UseUnit::Millilitre) => x,
            Self::Volume(unit) => unit.to_ml(x),
            Self::Temperature(unit) => unit.to_celsius(x),
            Self::Hours => x * 60.0,
        }
    }
}

const SQUARE_METRES: &[&str] = &[
    "m2",
    "m²",
    "sq m",
    "sqm",
    "sq. m",
    "square metres",
    "square meters",
    "qm",
];
const SQUARE_FEET: &[&str] = &[
    "ft2",
    "ft²",
    "sq ft",
    "sqft",
    "sq. ft",
    "sq. ft.",
    "sq ft.",
    "square feet",
    "sf",
];
const MILLILITRES: &[&str] = &[
    "ml",
    "millilitres",
    "milliliters",
    "millilitre",
    "milliliter",
    "cc",
];
const LITRES: &[&str] = &["l", "litres", "liters", "litre", "liter"];
const GRAMS: &[&str] = &["g", "gram", "grams", "gr"];
const FLUID_OUNCES: &[&str] = &[
    "us fl oz",
    "fl oz",
    "fl. oz",
    "fl. oz.",
    "floz",
    "fluid ounces",
    "us fluid ounces",
];
const OUNCES: &[&str] = &["oz", "oz.", "ounce", "ounces"];
const DROPS: &[&str] = &["drops", "drop", "gtt"];
const CELSIUS: &[&str] = &["c", "°c", "celsius", "deg c"];
const FAHRENHEIT: &[&str] = &["f", "°f", "fahrenheit", "deg f"];
const MINUTES: &[&str] = &["min", "mins", "min.", "minutes", "minute"];
const HOURS: &[&str] = &["h", "hr", "hrs", "hours", "hour"];

/// What of a unit makes a mL, by product.
#[derive(Debug, Clone, Default)]
pub(super) struct PerMl {
    pub(super) by_product: BTreeMap<String, f64>,
}

impl PerMl {
    /// The factor of a product; `"*"` serves any, and where there is no
    /// product, so does the only one there is.
    pub(super) fn of(&self, product: Option<&str>) -> Option<f64> {
        let own = product.and_then(|p| self.by_product.get(p));
        let any = own.or_else(|| self.by_product.get("*"));
        let only = || {
            self.by_product
                .values()
                .next()
                .filter(|_| self.by_product.len() == 1)
        };
        any.or_else(|| if product.is_none() { only() } else { None })
            .copied()
    }
}

/// Every spelling of every unit, in lower case.
pub fn all_spellings() -> Vec<&'static str> {
    let lists = [
        SQUARE_METRES,
        SQUARE_FEET,
        MILLILITRES,
        LITRES,
        GRAMS,
        FLUID_OUNCES,
        DROPS,
        CELSIUS,
        FAHRENHEIT,
        MINUTES,
        HOURS,
    ];
    lists.into_iter().flatten().copied().collect()
}

/// True where a cell is a unit with a digit in its name ("m2").
pub fn is_spelling(cell: &[u8]) -> bool {
    let cell = cell.trim_ascii().to_ascii_lowercase();
    let areas = SQUARE_METRES.iter().chain(SQUARE_FEET);
    areas.into_iter().any(|u| u.as_bytes() == cell)
}

/// What a heading says of its unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// Nothing.
    Nothing,
    /// This unit.
    Unit(Unit),
    /// A unit that may be several.
    Unclear(String),
}

/// The unit that a heading names: "Area (sq ft)", "Used [mL]", "area_ft2".
pub fn in_heading(heading: &str, kind: Kind) -> Said {
    let lower = heading.to_lowercase().replace('_', " ");
    let inner = lower
        .rsplit_once(['(', '['])
        .and_then(|(_, rest)| rest.split([')', ']']).next())
        .map(str::trim);
    let words: Vec<&str> = lower.split_whitespace().collect();
    let ends: Vec<String> = (1..=3.min(words.len()))
        .rev()
        .map(|n| words[words.len() - n..].join(" "))
        .collect();
    let tried = inner.into_iter().chain(ends.iter().map(String::as_str));
    for text in tried {
        let is = |list: &[&str]| list.contains(&text);
        let unit = match kind {
            Kind::Area if is(SQUARE_METRES) => Unit::Area(AreaUnit::SquareMetre),
            Kind::Area if is(SQUARE_FEET) => Unit::Area(AreaUnit::SquareFoot),
            Kind::Used if is(MILLILITRES) => Unit::Used(UseUnit::Millilitre),
            Kind::Used if is(GRAMS) => Unit::Used(UseUnit::Gram),
            Kind::Used if is(FLUID_OUNCES) => Unit::Used(UseUnit::UsFluidOunce),
            Kind::Used if is(DROPS) => Unit::Used(UseUnit::Drop),
            Kind::Volume if is(MILLILITRES) => Unit::Volume(VolumeUnit::Millilitre),
            Kind::Volume if is(LITRES) => Unit::Volume(VolumeUnit::Litre),
            Kind::Volume if is(FLUID_OUNCES) => Unit::Volume(VolumeUnit::UsFluidOunce),
            Kind::Temperature if is(CELSIUS) => Unit::Temperature(TemperatureUnit::C),
            Kind::Temperature if is(FAHRENHEIT) => Unit::Temperature(TemperatureUnit::F),
            Kind::Minutes if is(MINUTES) => Unit::Canonical,
            Kind::Minutes if is(HOURS) => Unit::Hours,
            Kind::Used | Kind::Volume if is(OUNCES) => return Said::Unclear(text.to_string()),
            _ => continue,
        };
        return Said::Unit(unit);
    }
    Said::Nothing
}

/// The unit that the settings give a field, its own before its kind's.
fn set(shop: &Shop, table: Table, field: &str, kind: Kind) -> Option<Unit> {
    let units = &shop.units;
    let own = format!("{table}.{field}");
    match kind {
        Kind::Area => units
            .area_of
            .get(&own)
            .copied()
            .or(units.area)
            .map(Unit::Area),
        Kind::Used => units
            .used_of
            .get(&own)
            .copied()
            .or(units.used)
            .map(Unit::Used),
        Kind::Volume => units
            .volume_of
            .get(&own)
            .copied()
            .or(units.volume)
            .map(Unit::Volume),
        Kind::Temperature => {
            let own = units.temperature_of.get(&own).copied();
            own.or(units.temperature).map(Unit::Temperature)
        }
        _ => None,
    }
}

/// The unit of a column.
///
/// # Errors
/// A bare "oz" in the heading with no setting; a unit that needs the
/// product's factor where the settings have none.
pub fn of_column(
    shop: &Shop,
    table: Table,
    field: &str,
    kind: Kind,
    heading: &str,
) -> Result<Unit, FileFaultKind> {
    let unit = match (set(shop, table, field, kind), in_heading(heading, kind)) {
        (Some(unit), _) | (None, Said::Unit(unit)) => unit,
        (None, Said::Nothing) => Unit::Canonical,
        (None, Said::Unclear(unit)) => {
            let first = if kind == Kind::Used { "used" } else { "volume" };
            return Err(FileFaultKind::UnclearUnit {
                column: heading.to_string(),
                unit,
                setting: format!("{first} = \"US fl oz\" (or \"mL\")"),
            });
        }
    };
    let lacking = match unit {
        Unit::Used(UseUnit::Gram) if shop.density.is_empty() => Some("density"),
        Unit::Used(UseUnit::Drop) if shop.drops_per_ml.is_empty() => Some("drops_per_ml"),
        _ => None,
    };
    match lacking {
        None => Ok(unit),
        Some(setting) => Err(FileFaultKind::NoFactor {
            column: heading.to_string(),
            unit: unit.name(kind),
            setting,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_say_their_unit() {
        let feet = Said::Unit(Unit::Area(AreaUnit::SquareFoot));
        for heading in [
            "Area (sq ft)",
            "Area [ft²]",
            "area_ft2",
            "Film sqft",
            "AREA (SQ. FT.)",
        ] {
            assert_eq!(in_heading(heading, Kind::Area), feet, "{heading}");
        }
        assert_eq!(in_heading("Area", Kind::Area), Said::Nothing);
        assert_eq!(in_heading("Area (approx)", Kind::Area), Said::Nothing);
        assert_eq!(
            in_heading("Labour (hrs)", Kind::Minutes),
            Said::Unit(Unit::Hours)
        );
        assert_eq!(
            in_heading("Air temp °F", Kind::Temperature),
            Said::Unit(Unit::Temperature(TemperatureUnit::F))
        );
    }

    #[test]
    fn a_bare_ounce_is_refused_unless_the_settings_say_what_it_is() {
        let mut shop = Shop::default();
        let of = |shop: &Shop| of_column(shop, Table::Coatings, "used", Kind::Used, "Used (oz)");
        assert!(matches!(of(&shop), Err(FileFaultKind::UnclearUnit { .. })));
        shop.units.used = Some(UseUnit::UsFluidOunce);
        assert_eq!(of(&shop), Ok(Unit::Used(UseUnit::UsFluidOunce)));
        shop.units.used = Some(UseUnit::Drop);
        assert!(matches!(of(&shop), Err(FileFaultKind::NoFactor { .. })));
        shop.drops_per_ml.insert("*".into(), 24.0);
        assert_eq!(of(&shop), Ok(Unit::Used(UseUnit::Drop)));
    }

    #[test]
    fn numbers_become_canonical() {
        let feet = Unit::Area(AreaUnit::SquareFoot).convert(100.0, 1.0);
        assert!((feet - 9.290304).abs() < 1e-12);
        assert_eq!(Unit::Used(UseUnit::Drop).convert(48.0, 24.0), 2.0);
        assert_eq!(Unit::Used(UseUnit::Gram).convert(0.92, 0.92), 1.0);
        assert_eq!(Unit::Hours.convert(1.5, 1.0), 90.0);
        assert_eq!(Unit::Canonical.convert(1.5, 1.0), 1.5);
    }
}
