//! One shop of the exports, by itself.

use super::super::Error;
use super::super::read::Exports;
use super::{fault, nearest, shops};
use crate::intake::{List, Oddity};
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
    let own = |(key, called): (String, String)| match key.split_once('/') {
        Some((shop, code)) if shop == name => (code.to_string(), called),
        _ => (key, called),
    };
    page.names = std::mem::take(&mut page.names)
        .into_iter()
        .map(own)
        .collect();
    Ok(one)
}

/// The rows of a shop, which is named in them no more.
fn rows_of(frame: &DataFrame, name: &str) -> PolarsResult<DataFrame> {
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

/// What is odd about one shop. Of a kind that the list does not keep whole, as
/// many as it keeps of this shop.
fn odd_of(all: &List, name: &str) -> List {
    let own = all.listed.iter().filter(|l| l.shop == name);
    let mut counts: BTreeMap<Oddity, u64> = BTreeMap::new();
    let mut listed = Vec::new();
    for one in own {
        *counts.entry(one.oddity).or_default() += one.count;
        let mut unnamed = one.clone();
        unnamed.shop.clear();
        listed.push(unnamed);
    }
    List { listed, counts }
}
