//! How one file is to be read: its layout, and what each claimed column holds.

use super::dates::{self, Order};
use super::dialect::Layout;
use super::encoding::Settled;
use super::error::FileFaultKind;
use super::headings::{Binding, Bound, bind, folded};
use super::numbers::{self, Mark};
use super::units::{PerMl, Unit, of_column};
use super::words::Words;
use crate::money::Currency;
use crate::settings::contract::{Field, Kind, Table};
use crate::settings::shop::{DateOrder, Shop, Units};
use std::collections::BTreeMap;
use std::sync::Arc;

/// How the cells of a column are read.
#[derive(Debug, Clone)]
pub(super) enum How {
    Key,
    Open(Words),
    Listed(Words, &'static [&'static str]),
    YesNo(Words),
    Day(Order),
    Moment(Order),
    Real {
        mark: Mark,
        unit: Unit,
    },
    Money {
        mark: Mark,
    },
    /// Orders exports: a date, a moment or a number; never a fault.
    Later(Order),
}

/// A column that serves a field.
#[derive(Debug, Clone)]
pub(super) struct Claim {
    pub(super) part: usize,
    pub(super) field: &'static Field,
    pub(super) column: usize,
    pub(super) heading: Arc<str>,
    pub(super) how: How,
    /// True where nothing in the column can change how it is read.
    pub(super) settled: bool,
}

/// A table's share of the file's columns.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub(super) table: Table,
    /// By field, in the contract's order: the claim that serves it.
    pub(super) claims: Vec<Option<usize>>,
    /// Columns that serve no other table; a record in which they are empty
    /// holds nothing of this table.
    pub(super) own: Vec<usize>,
}

impl Part {
    /// The claim of a field.
    pub(super) fn claim(&self, field: &str) -> Option<usize> {
        let at = self.table.fields().iter().position(|f| f.name == field)?;
        self.claims.get(at).copied().flatten()
    }
}

fn is_canonical(shop: &Shop) -> bool {
    let order = matches!(shop.date_order, None | Some(DateOrder::YearFirst));
    let point = shop.numbers.decimal != Some(',');
    let units = format!("{:?}", shop.units) == format!("{:?}", Units::default());
    shop.words.is_empty() && order && point && units
}

/// How one file is read.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    pub(super) file: Arc<str>,
    pub(super) layout: Layout,
    pub(super) encoding: Settled,
    pub(super) claims: Vec<Claim>,
    pub(super) parts: Vec<Part>,
    pub(super) later: Option<usize>,
    pub(super) thousands: Option<char>,
    pub(super) currency: Currency,
    /// Columns that no field claims, where the file serves one table whose
    /// records have no key of their own: they tell two alike apart.
    pub(super) unclaimed: Vec<usize>,
    /// Minor units in a major one.
    pub(super) minor_per_major: i64,
    pub(super) density: PerMl,
    pub(super) drops: PerMl,
    /// True where the settings change neither units nor words nor dates.
    pub(super) canonical: bool,
}

/// The field of the column that orders exports.
static LATER: Field = Field {
    name: "later_by",
    kind: Kind::Moment,
    column_required: false,
    cell_required: false,
};

/// A plan, and what binding found besides.
pub(super) struct Planned {
    pub(super) plan: Plan,
    pub(super) missing: Vec<String>,
    pub(super) absent: Vec<String>,
}

impl Plan {
    /// The plan of a file whose layout and encoding are known.
    pub(super) fn make(
        file: &str,
        layout: Layout,
        encoding: Settled,
        tables: &[Table],
        shop: &Shop,
        later_by: Option<&str>,
    ) -> Result<Planned, Vec<FileFaultKind>> {
        let binding = bind(&layout.labels, tables, shop);
        let mut faults = binding.faults.clone();
        let mut claims = Vec::new();
        for bound in &binding.bound {
            match claim(bound, tables, &layout, shop) {
                Ok(claim) => claims.push(claim),
                Err(fault) => faults.push(fault),
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let later = later_by.and_then(|heading| later_claim(heading, &layout, shop));
        let parts = parts(tables, &binding, &claims);
        let later = later.map(|claim| {
            claims.push(claim);
            claims.len() - 1
        });
        let unclaimed = match parts.as_slice() {
            [one] if one.table.key().is_empty() => (0..layout.labels.len())
                .filter(|column| !claims.iter().any(|c| c.column == *column))
                .collect(),
            _ => Vec::new(),
        };
        let plan = Self {
            file: file.into(),
            layout,
            encoding,
            claims,
            parts,
            later,
            thousands: shop.numbers.thousands,
            currency: shop.money.currency.clone(),
            unclaimed,
            minor_per_major: 10_i64.saturating_pow(shop.money.currency.decimals),
            density: PerMl {
                by_product: shop.density.clone(),
            },
            drops: PerMl {
                by_product: shop.drops_per_ml.clone(),
            },
            canonical: is_canonical(shop),
        };
        Ok(Planned {
            plan,
            missing: binding.missing,
            absent: binding.absent,
        })
    }

    /// Takes over what the columns' evidence settles, and where a column's
    /// own leaves it open, what the same column of other files settled.
    /// Returns true where some column is to be read otherwise than it was.
    pub(super) fn settle(
        &mut self,
        seen: &[Evidence],
        others: &Decided,
    ) -> Result<bool, Vec<FileFaultKind>> {
        let mut faults = Vec::new();
        let mut changed = false;
        let elsewhere = unanimous(seen);
        for (claim, evidence) in self.claims.iter_mut().zip(seen) {
            if claim.settled {
                continue;
            }
            let key = self
                .parts
                .get(claim.part)
                .map(|p| (p.table, claim.field.name));
            match (&mut claim.how, evidence) {
                (How::Later(now), Evidence::Date(e)) => {
                    let order = e.verdict().unwrap_or(*now);
                    changed |= std::mem::replace(now, order) != order;
                }
                (How::Day(now) | How::Moment(now), Evidence::Date(e)) => {
                    let mixed = e.month + e.day > 0;
                    let other = key.and_then(|k| others.orders.get(&k)).filter(|_| !mixed);
                    match e.verdict().or(other.copied()) {
                        Some(order) => changed |= std::mem::replace(now, order) != order,
                        None => faults.push(FileFaultKind::AmbiguousDates {
                            column: claim.heading.to_string(),
                            example: e.example.clone().unwrap_or_default(),
                            mixed,
                        }),
                    }
                }
                (How::Real { mark: now, .. } | How::Money { mark: now }, Evidence::Number(e)) => {
                    let mixed = e.point + e.comma > 0;
                    let other = key.and_then(|k| others.marks.get(&k)).filter(|_| !mixed);
                    match e.verdict(elsewhere.or(other.copied())) {
                        Some(mark) => changed |= std::mem::replace(now, mark) != mark,
                        None => faults.push(FileFaultKind::AmbiguousNumbers {
                            column: claim.heading.to_string(),
                            example: e.example.clone().unwrap_or_default(),
                            mixed,
                        }),
                    }
                }
                _ => {}
            }
        }
        if faults.is_empty() {
            Ok(changed)
        } else {
            Err(faults)
        }
    }

    /// No evidence yet, for each claim.
    pub(super) fn no_evidence(&self) -> Vec<Evidence> {
        let of = |claim: &Claim| match claim.how {
            How::Day(_) | How::Moment(_) | How::Later(_) => Evidence::Date(Default::default()),
            How::Real { .. } | How::Money { .. } => Evidence::Number(Default::default()),
            _ => Evidence::None,
        };
        self.claims.iter().map(of).collect()
    }
}

/// What columns of the files read so far settled by their own cells.
#[derive(Debug, Clone, Default)]
pub(super) struct Decided {
    orders: BTreeMap<(Table, &'static str), Order>,
    marks: BTreeMap<(Table, &'static str), Mark>,
}

impl Decided {
    /// Takes over what a file's own cells settle; the first file wins.
    pub(super) fn learn(&mut self, plan: &Plan, seen: &[Evidence]) {
        for (claim, evidence) in plan.claims.iter().zip(seen) {
            let Some(part) = plan.parts.get(claim.part) else {
                continue;
            };
            let key = (part.table, claim.field.name);
            match evidence {
                Evidence::Date(e) if e.month + e.day > 0 => {
                    if let Some(order) = e.verdict() {
                        self.orders.entry(key).or_insert(order);
                    }
                }
                Evidence::Number(e) => {
                    if let Some(mark) = e.own() {
                        self.marks.entry(key).or_insert(mark);
                    }
                }
                _ => {}
            }
        }
    }
}

/// What the cells of a column say of how it is to be read.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Evidence {
    None,
    Date(dates::Evidence),
    Number(numbers::Evidence),
}

impl Evidence {
    /// Adds another chunk's.
    pub(super) fn add(&mut self, other: Self) {
        match (self, other) {
            (Self::Date(a), Self::Date(b)) => a.add(b),
            (Self::Number(a), Self::Number(b)) => a.add(b),
            _ => {}
        }
    }
}

/// The decimal mark that all columns with one of their own have.
fn unanimous(seen: &[Evidence]) -> Option<Mark> {
    let mut own = seen.iter().filter_map(|e| match e {
        Evidence::Number(n) => n.own(),
        _ => None,
    });
    let first = own.next()?;
    own.all(|m| m == first).then_some(first)
}

/// The order and mark with which a column is first tried, and whether the
/// settings fix it.
fn order_of(shop: &Shop) -> (Order, bool) {
    match shop.date_order {
        None => (Order::MonthFirst, false),
        Some(DateOrder::MonthFirst) => (Order::MonthFirst, true),
        Some(DateOrder::DayFirst) => (Order::DayFirst, true),
        Some(DateOrder::YearFirst) => (Order::YearFirst, true),
    }
}

fn mark_of(shop: &Shop) -> (Mark, bool) {
    match (shop.numbers.decimal, shop.numbers.thousands) {
        (Some('.'), _) | (None, Some(',')) => (Mark::Point, true),
        (Some(_), _) | (None, Some('.')) => (Mark::Comma, true),
        (None, _) => (Mark::Point, false),
    }
}

fn claim(
    bound: &Bound,
    tables: &[Table],
    layout: &Layout,
    shop: &Shop,
) -> Result<Claim, FileFaultKind> {
    let heading = &layout.labels[bound.column].text;
    let Bound { table, field, .. } = *bound;
    let words = || Words::of(shop, table, field);
    let (order, order_fixed) = order_of(shop);
    let (mark, mark_fixed) = mark_of(shop);
    let (how, settled) = match field.kind {
        Kind::Key => (How::Key, true),
        Kind::Text => (How::Open(words()), true),
        Kind::Word(list) => (How::Listed(words(), list), true),
        Kind::YesNo => (How::YesNo(words()), true),
        Kind::Date => (How::Day(order), order_fixed),
        Kind::Moment => (How::Moment(order), order_fixed),
        Kind::Money => (How::Money { mark }, mark_fixed),
        kind => {
            let unit = of_column(shop, table, field.name, kind, heading)?;
            (How::Real { mark, unit }, mark_fixed)
        }
    };
    Ok(Claim {
        part: tables.iter().position(|t| *t == table).unwrap_or(0),
        field,
        column: bound.column,
        heading: Arc::clone(heading),
        how,
        settled,
    })
}

fn later_claim(heading: &str, layout: &Layout, shop: &Shop) -> Option<Claim> {
    let sought = folded(heading);
    let column = layout.labels.iter().position(|l| l.is(&sought))?;
    let (order, settled) = order_of(shop);
    Some(Claim {
        part: usize::MAX,
        field: &LATER,
        column,
        heading: Arc::clone(&layout.labels[column].text),
        how: How::Later(order),
        settled,
    })
}

fn parts(tables: &[Table], binding: &Binding, claims: &[Claim]) -> Vec<Part> {
    let of = |(part, table): (usize, &Table)| {
        let at = |field: &Field| {
            claims
                .iter()
                .position(|c| c.part == part && c.field.name == field.name)
        };
        let shared = |column: usize| {
            binding
                .bound
                .iter()
                .any(|b| b.table != *table && b.column == column)
        };
        let own = claims
            .iter()
            .filter(|c| c.part == part && !shared(c.column));
        Part {
            table: *table,
            claims: table.fields().iter().map(at).collect(),
            own: own.map(|c| c.column).collect(),
        }
    };
    tables.iter().enumerate().map(of).collect()
}
