//! tables/datapackage.json: a Data Package (version 2) whose Table Schemas
//! name the type and unit of every column of the CSV files beside it.

use super::own;
use super::table::{Cell, Column, Table};
use crate::findings::own::{Answer, Asked, Kind};
use crate::money::Currency;
use serde_json::{Value, json};

/// The descriptor's bytes.
pub(super) fn descriptor<'a>(
    tables: impl Iterator<Item = &'a Table>,
    asked: &[Asked],
    name: &str,
    currency: &Currency,
) -> Result<Vec<u8>, serde_json::Error> {
    let mut resources: Vec<Value> = tables.map(|t| of_table(t, currency)).collect();
    let answered = asked
        .iter()
        .filter_map(|q| Some((q, q.answer.as_ref().ok()?)));
    resources.extend(answered.map(|(q, a)| of_answer(q, a)));
    let package = json!({
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": name,
        "resources": resources,
    });
    let mut bytes = serde_json::to_vec_pretty(&package)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn resource(name: &str, title: &str, description: &str, fields: Vec<Value>) -> Value {
    let mut all = json!({
        "name": name,
        "type": "table",
        "path": format!("{name}.csv"),
        "title": title,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {
            "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
            "fields": fields,
        },
    });
    if !description.is_empty() {
        all["description"] = json!(description);
    }
    all
}

fn of_table(table: &Table, currency: &Currency) -> Value {
    let cells = |i: usize| table.rows.iter().filter_map(move |row| row.get(i));
    let field = |(i, column): (usize, &Column)| {
        let held = Held::of(column, cells(i));
        json!({
            "name": column.key,
            "type": held.kind,
            "description": format!("{}. {}", column.title, held.unit(currency)),
        })
    };
    let fields = table.columns.iter().enumerate().map(field).collect();
    resource(table.name, &table.caption, &table.definition, fields)
}

/// What a column holds: its Table Schema type, and the unit of its numbers.
struct Held {
    kind: &'static str,
    unit: Unit,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Unit {
    Words,
    Count,
    Month,
    Share,
    Money,
    PerArea,
    Volume,
    PerVolume,
    Minutes,
    Area,
    Degrees,
    Factor,
    /// The row says which.
    Mixed,
    /// No cell to tell.
    Unknown,
}

fn unit(cell: &Cell) -> Option<Unit> {
    Some(match cell {
        Cell::Text(_) => Unit::Words,
        Cell::Count(_) => Unit::Count,
        Cell::Month(_) => Unit::Month,
        Cell::Share(_) | Cell::FineShare(_) | Cell::Change(_) | Cell::Points(_) => Unit::Share,
        Cell::Money(_) | Cell::Exact(_) => Unit::Money,
        Cell::PerArea(_) => Unit::PerArea,
        Cell::Volume(_) => Unit::Volume,
        Cell::PerVolume(_) => Unit::PerVolume,
        Cell::Minutes(_) => Unit::Minutes,
        Cell::Area(_) => Unit::Area,
        Cell::Degrees(_) => Unit::Degrees,
        Cell::Factor(_) => Unit::Factor,
        Cell::Missing(_) | Cell::Blank => return None,
    })
}

impl Held {
    fn of<'a>(column: &Column, cells: impl Iterator<Item = &'a Cell>) -> Self {
        let mut held = None;
        for of_cell in cells.filter_map(unit) {
            held = match held {
                None => Some(of_cell),
                Some(same) if same == of_cell => held,
                // A word among numbers makes a column of words.
                Some(Unit::Words) => held,
                Some(_) if of_cell == Unit::Words => Some(Unit::Words),
                Some(_) => Some(Unit::Mixed),
            };
        }
        let none = if column.words {
            Unit::Words
        } else {
            Unit::Unknown
        };
        let unit = held.unwrap_or(none);
        let kind = match unit {
            Unit::Words => "string",
            Unit::Count => "integer",
            Unit::Month => "yearmonth",
            _ => "number",
        };
        Self { kind, unit }
    }

    fn unit(&self, currency: &Currency) -> String {
        let code = &currency.code;
        match self.unit {
            Unit::Words => "Text.".into(),
            Unit::Count => "A count.".into(),
            Unit::Month => "A month, as 2026-10.".into(),
            Unit::Share => "Here: a share of 1.".into(),
            Unit::Money => format!("Here: {code}, in major units."),
            Unit::PerArea => "Here: mL per m2.".into(),
            Unit::Volume => "Here: mL.".into(),
            Unit::PerVolume => format!("Here: {code} per mL."),
            Unit::Minutes => "Here: minutes.".into(),
            Unit::Area => "Here: m2.".into(),
            Unit::Degrees => "Here: a difference of temperatures in degrees Celsius.".into(),
            Unit::Factor => "A factor; 1 = no difference.".into(),
            Unit::Mixed => format!(
                "The row says what it is: a count, a share of 1, {code} in major units, mL, mL per m2, minutes or m2."
            ),
            Unit::Unknown => "No row this month.".into(),
        }
    }
}

fn of_answer(q: &Asked, a: &Answer) -> Value {
    let fields = a.columns.iter().map(|c| {
        let kind = match c.kind {
            Kind::Text => "string",
            Kind::Whole => "integer",
            Kind::Number => "number",
            Kind::YesNo => "boolean",
            Kind::Day => "date",
            Kind::Moment => "datetime",
        };
        let mut field = json!({"name": super::table::defused(&c.name), "type": kind});
        if c.kind == Kind::YesNo {
            field["trueValues"] = json!(["yes"]);
            field["falseValues"] = json!(["no"]);
        }
        field
    });
    resource(&own::stem(q), &q.title, &q.description, fields.collect())
}
