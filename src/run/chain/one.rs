//! One shop of the exports, by itself.

use super::super::Error;
use super::super::read::Exports;
use super::{fault, nearest, shops};
use crate::intake::{List, Listed, Oddity, text_of};
use crate::measures;
use polars::prelude::{BooleanChunked, DataFrame, IntoColumn, PolarsResult, StringChunked};
use std::collections::BTreeMap;

/// The rows of one shop alone, as if they were all there is: the shop has no
/// name among them. Lines are counted over all that the files hold.
///
/// # Errors
/// [`Error::NoShop`] for a name that no job bears.
pub(super) fn only(all: &Exports, name: &str) -> Result<Exports, Error> {
    let there = shops(all)?;
    if !there.contains(name) {
        let names: Vec<&str> = there.iter().map(String::as_str).collect();
        return Err(Error::NoShop {
            asked: name.to_string(),
            known: nearest::said(name, &names),
        });
    }
    let mut one = all.clone();
    for (table, frame) in &mut one.tables {
        *frame = rows_of(frame, name).map_err(|e| fault(table, &e))?;
    }
    if let Some(jobs) = one.tables.get("jobs") {
        one.span = measures::span(jobs)?;
    }
    if there.len() > 1 {
        one.odd = odd_of(&all.odd, name);
    }
    let page = &mut one.shop.page;
    page.shop_name = match page.shop_name.take() {
        Some(of) if of != name => Some(format!("{of}: {name}")),
        _ => Some(name.to_string()),
    };
    page.names = names_of(std::mem::take(&mut page.names), name);
    Ok(one)
}

/// Names that people go by, as a shop without a name has them: what is written
/// of a code of this shop comes before what is written of the code alone.
fn names_of(all: BTreeMap<String, String>, shop: &str) -> BTreeMap<String, String> {
    let code = |key: &str| Some(key.strip_prefix(shop)?.strip_prefix('/')?.to_string());
    let (own, mut names): (BTreeMap<_, _>, BTreeMap<_, _>) =
        all.into_iter().partition(|(key, _)| code(key).is_some());
    let own = own
        .into_iter()
        .filter_map(|(key, called)| Some((code(&key)?, called)));
    names.extend(own);
    names
}

/// The rows of a shop, which is named in them no more.
fn rows_of(frame: &DataFrame, name: &str) -> PolarsResult<DataFrame> {
    let frame = text_of(frame)?;
    let shops = frame.column("shop")?.str()?;
    let own: BooleanChunked = shops
        .iter()
        .map(|s| Some(s.unwrap_or("") == name))
        .collect();
    let mut rows = frame.filter(&own)?;
    let unnamed: StringChunked = (0..rows.height()).map(|_| Some("")).collect();
    rows.with_column(unnamed.with_name("shop".into()).into_column())?;
    Ok(rows)
}

/// What is odd about one shop: all of it is counted, and listed as far as the
/// whole list keeps it.
fn odd_of(all: &List, name: &str) -> List {
    let own = all.listed.iter().filter(|l| l.shop == name);
    let unnamed = |one: &Listed| Listed {
        shop: String::new(),
        ..one.clone()
    };
    let of =
        |(oddity, shops): (&Oddity, &BTreeMap<String, u64>)| Some((*oddity, *shops.get(name)?));
    let counts: BTreeMap<Oddity, u64> = all.by_shop.iter().filter_map(of).collect();
    let apart =
        |(oddity, records): (&Oddity, &u64)| (*oddity, BTreeMap::from([(String::new(), *records)]));
    List {
        listed: own.map(unnamed).collect(),
        by_shop: counts.iter().map(apart).collect(),
        counts,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_for_a_shops_person_comes_before_one_for_the_code_alone() {
        let all = [
            ("A1", "Ann anywhere"),
            ("North/A1", "Ann of North"),
            ("North/P1", "Pat of North"),
            ("P1", "Pat anywhere"),
            ("South/P1", "Pat of South"),
            ("P2", "Sam"),
        ];
        let all = all.map(|(k, n)| (k.to_string(), n.to_string()));
        let found = names_of(all.into_iter().collect(), "North");
        assert_eq!(found["A1"], "Ann of North");
        assert_eq!(found["P1"], "Pat of North");
        assert_eq!(found["P2"], "Sam");
        assert_eq!(found["South/P1"], "Pat of South");
        assert_eq!(found.len(), 4);
    }
}
