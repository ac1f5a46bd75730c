//! Cells of money and measures.

use super::super::numbers::{self, Around, Mark, Number, Shape};
use super::super::plan::{Claim, Evidence, How};
use super::super::reason::{Fault, Reason};
use super::super::refusals::{MOST_MONEY, fault, no_number, out_of_range, shown};
use super::super::units::Unit;
use super::super::words::Meaning;
use super::{Block, Raw};
use crate::settings::contract::Kind;
use crate::units::UseUnit;

impl Block<'_> {
    /// A number without ornaments, where the mark leaves no doubt: the common
    /// case, fast. What it says of the mark is not noted.
    #[inline]
    fn unadorned(&self, mark: Mark, raw: Raw) -> Option<(Number, Shape)> {
        match mark {
            Mark::Point => numbers::plain(self.bytes_of(raw)),
            Mark::Comma => None,
        }
    }

    /// Minor units of such a cell; `None` where [`Block::money`] must look.
    #[inline]
    pub(super) fn plain_money(
        &self,
        claim: &Claim,
        mark: Mark,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Option<i64> {
        let raw = cell?;
        let (number, shape) = self.unadorned(mark, raw)?;
        let minor = number.minor(self.plan.currency.decimals)?;
        if !(0..MOST_MONEY * self.plan.minor_per_major).contains(&minor) {
            return None;
        }
        if !claim.settled {
            note_number(shape, raw, self, evidence);
        }
        Some(minor)
    }

    /// The measure of such a cell, in a column of canonical units; `None`
    /// where [`Block::real`] must look.
    #[inline]
    pub(super) fn plain_real(
        &self,
        claim: &Claim,
        (mark, unit): (Mark, Unit),
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Option<f64> {
        let raw = cell.filter(|_| unit == Unit::Canonical)?;
        let (number, shape) = self.unadorned(mark, raw)?;
        let value = number.value();
        if out_of_range(claim.field.kind, value).is_some() {
            return None;
        }
        if !claim.settled {
            note_number(shape, raw, self, evidence);
        }
        Some(value)
    }

    fn number(
        &self,
        claim: &Claim,
        mark: Mark,
        unit: Unit,
        raw: Raw,
        evidence: &mut Evidence,
    ) -> Result<Number, Fault> {
        if let Some((number, shape)) = self.unadorned(mark, raw) {
            if !claim.settled {
                note_number(shape, raw, self, evidence);
            }
            return Ok(number);
        }
        let text = self.text_of(raw);
        if !claim.settled
            && let Some(shape) = numbers::shape(&text, self.plan.thousands)
        {
            note_number(shape, raw, self, evidence);
        }
        let kind = claim.field.kind;
        let around = Around {
            percent: kind == Kind::Humidity,
            currency: (kind == Kind::Money).then_some(&self.plan.currency),
            units: unit.spellings(kind),
            thousands: self.plan.thousands,
        };
        numbers::ornate(&text, mark, around).map_err(|e| no_number(claim, unit, &text, e))
    }

    pub(super) fn money(
        &self,
        claim: &Claim,
        mark: Mark,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Result<Option<i64>, Fault> {
        let Some(raw) = cell else { return Ok(None) };
        let number = self.number(claim, mark, Unit::Canonical, raw, evidence)?;
        match number.minor(self.plan.currency.decimals) {
            Some(minor) if (0..MOST_MONEY * self.plan.minor_per_major).contains(&minor) => {
                Ok(Some(minor))
            }
            other => {
                let expected = if other.is_some_and(|minor| minor < 0) {
                    "an amount of 0 or more"
                } else {
                    "an amount under 1,000,000,000"
                };
                let text = self.text_of(raw);
                Err(fault(claim, Reason::ConstraintError, &text, expected))
            }
        }
    }

    pub(super) fn real(
        &self,
        claim: &Claim,
        mark: Mark,
        unit: Unit,
        row: u32,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Result<Option<f64>, Fault> {
        let Some(raw) = cell else { return Ok(None) };
        let number = self.number(claim, mark, unit, raw, evidence)?;
        let per_ml = match unit {
            Unit::Used(UseUnit::Gram | UseUnit::Drop) => self.per_ml(claim, unit, row)?,
            _ => 1.0,
        };
        let value = unit.convert(number.value(), per_ml);
        match out_of_range(claim.field.kind, value) {
            None => Ok(Some(value)),
            Some(expected) => {
                let text = self.text_of(raw);
                Err(fault(claim, Reason::ConstraintError, &text, expected))
            }
        }
    }

    /// What of the unit makes a mL of the row's product.
    fn per_ml(&self, claim: &Claim, unit: Unit, row: u32) -> Result<f64, Fault> {
        let part = self.plan.parts.get(claim.part);
        let product = part.and_then(|p| p.claim("product"));
        let product = product.and_then(|c| {
            let claim = &self.plan.claims[c];
            let text = self
                .raw(row as usize, claim.column)
                .map(|r| self.text_of(r).into_owned())?;
            match &claim.how {
                How::Open(words) => match words.open(&text, claim.field.name) {
                    Meaning::Word(word) => Some(word.to_string()),
                    _ => None,
                },
                _ => Some(text),
            }
        });
        let (factors, setting) = match unit {
            Unit::Used(UseUnit::Gram) => (&self.plan.density, "density"),
            _ => (&self.plan.drops, "drops_per_ml"),
        };
        factors.of(product.as_deref()).ok_or_else(|| Fault {
            column: Some(claim.heading.clone()),
            reason: Reason::UnitError,
            found: match product {
                Some(p) => format!("product \"{}\" without a factor", shown(&p)),
                None => "no product".to_string(),
            },
            expected: format!("the product under [{setting}] in shop.toml, or \"*\" there"),
        })
    }
}

#[inline]
fn note_number(shape: Shape, raw: Raw, block: &Block<'_>, evidence: &mut Evidence) {
    let Evidence::Number(e) = evidence else {
        return;
    };
    e.note(shape);
    let either = matches!(shape, Shape::EitherPoint | Shape::EitherComma);
    if either && e.example.is_none() {
        e.example = Some(block.text_of(raw).into_owned());
    }
}
