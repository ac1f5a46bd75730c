//! A Data Package descriptor (Data Package standard, version 2,
//! datapackage.org) of a folder's exports: Table Schemas of the contract's
//! tables, for other tools to check or load.
//!
//! A file in canonical form is described with the contract's types and
//! constraints. A file whose columns, units or words the settings map is
//! described as it stands: its headings, the field that each serves as the
//! title, and every cell as text, for only the settings say how to read it.

use super::error::IntakeError;
use super::file::{Look, look};
use super::plan::Plan;
use super::sources::{self, SourceFile};
use crate::settings::contract::{Field, Kind, Table};
use crate::settings::shop::Shop;
use serde_json::{Map, Value, json};
use std::path::Path;

/// The descriptor of a folder's exports by its settings.
///
/// # Errors
/// As [`super::read`], as far as first looks go.
pub fn descriptor(folder: &Path, shop: &Shop) -> Result<Value, IntakeError> {
    let files = sources::find(folder, shop)?;
    let mut plans = Vec::new();
    let mut faults = Vec::new();
    for file in &files {
        match look(file, shop)? {
            Look::Planned(plan) => plans.push(plan),
            Look::Faults(found) => faults.extend(found),
        }
    }
    if !faults.is_empty() {
        return Err(IntakeError::Files { faults });
    }
    let pairs: Vec<(&SourceFile, &Plan)> = files.iter().zip(plans.iter().map(|p| &**p)).collect();
    let resources: Vec<Value> = pairs
        .iter()
        .map(|(file, plan)| resource(file, plan, &pairs))
        .collect();
    Ok(json!({
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "coating-jobs",
        "title": "Jobs of a vehicle film shop and the coatings sold with them",
        "resources": resources,
    }))
}

fn resource(file: &SourceFile, plan: &Plan, all: &[(&SourceFile, &Plan)]) -> Value {
    let canonical = is_canonical(file, plan);
    let mut schema = Map::new();
    schema.insert("fields".into(), fields(plan, canonical));
    schema.insert("missingValues".into(), json!([""]));
    if let (true, [table]) = (canonical, file.tables.as_slice()) {
        keys(&mut schema, *table, plan, all);
    }
    let marks = plan.layout.marks;
    let mut dialect = Map::new();
    dialect.insert(
        "delimiter".into(),
        json!(char::from(marks.delimiter).to_string()),
    );
    dialect.insert(
        "quoteChar".into(),
        json!(char::from(marks.quote).to_string()),
    );
    if marks.backslash {
        dialect.insert("escapeChar".into(), json!("\\"));
    }
    let (first, rows) = (plan.layout.heading_line, plan.layout.heading_lines);
    match first {
        0 => dialect.insert("header".into(), json!(false)),
        _ => dialect.insert(
            "headerRows".into(),
            json!((first..first + rows).collect::<Vec<_>>()),
        ),
    };
    json!({
        "name": slug(&file.name),
        "path": file.name,
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": plan.encoding.encoding.name(),
        "dialect": dialect,
        "schema": schema,
    })
}

/// A resource's name: lower-case letters, digits and `-`.
fn slug(name: &str) -> String {
    let stem = name.strip_suffix(".gz").unwrap_or(name);
    let stem = stem.rsplit_once('.').map_or(stem, |(stem, _)| stem);
    let lower = stem.to_lowercase();
    let known = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    lower.chars().map(known).collect()
}

/// True where a file holds one table under the contract's own names.
fn is_canonical(file: &SourceFile, plan: &Plan) -> bool {
    let own = |c: &super::plan::Claim| *c.heading == *c.field.name;
    file.tables.len() == 1 && plan.claims.iter().all(own) && plan.canonical
}

fn fields(plan: &Plan, canonical: bool) -> Value {
    let of = |(column, label): (usize, &super::headings::Label)| {
        let name = match label.is_blank() {
            true => format!("column-{}", column + 1),
            false => label.text.to_string(),
        };
        let claims: Vec<_> = plan
            .claims
            .iter()
            .filter(|c| c.column == column && c.part < plan.parts.len())
            .collect();
        match claims.as_slice() {
            [] => json!({"name": name, "type": "any"}),
            [claim] if canonical => typed(claim.field),
            several => {
                let title = |c: &&super::plan::Claim| {
                    format!("{}.{}", plan.parts[c.part].table, c.field.name)
                };
                let titles: Vec<String> = several.iter().map(title).collect();
                json!({"name": name, "title": titles.join(", "), "type": "string"})
            }
        }
    };
    plan.layout.labels.iter().enumerate().map(of).collect()
}

/// A field of the contract as a Table Schema has it.
fn typed(field: &Field) -> Value {
    let mut constraints = Map::new();
    if field.cell_required {
        constraints.insert("required".into(), json!(true));
    }
    let mut out = Map::new();
    out.insert("name".into(), json!(field.name));
    let mut minimum = |n: f64| constraints.insert("minimum".into(), json!(n));
    let kind = match field.kind {
        Kind::Key | Kind::Text => "string",
        Kind::Word(_) => "string",
        Kind::Date => "date",
        Kind::Moment => "datetime",
        Kind::YesNo => "boolean",
        Kind::Area | Kind::Used | Kind::Volume | Kind::Money | Kind::Minutes | Kind::Humidity => {
            minimum(0.0);
            "number"
        }
        Kind::Temperature => "number",
    };
    match field.kind {
        Kind::Word(words) => drop(constraints.insert("enum".into(), json!(words))),
        Kind::Minutes => drop(constraints.insert("maximum".into(), json!(1440.0))),
        Kind::Humidity => drop(constraints.insert("maximum".into(), json!(100.0))),
        Kind::YesNo => {
            out.insert("trueValues".into(), json!(["yes"]));
            out.insert("falseValues".into(), json!(["no"]));
        }
        Kind::Moment => drop(out.insert("format".into(), json!("any"))),
        _ => {}
    }
    out.insert("type".into(), json!(kind));
    if let Some(unit) = unit(field.kind) {
        out.insert("description".into(), json!(unit));
    }
    if !constraints.is_empty() {
        out.insert("constraints".into(), Value::Object(constraints));
    }
    Value::Object(out)
}

fn unit(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Area => Some("m2"),
        Kind::Used | Kind::Volume => Some("mL"),
        Kind::Temperature => Some("degrees Celsius"),
        Kind::Humidity => Some("percent"),
        Kind::Minutes => Some("minutes"),
        Kind::Money => Some("major units of the shop's currency"),
        _ => None,
    }
}

/// Primary key and the key of the job, with the shop where both have one.
fn keys(schema: &mut Map<String, Value>, table: Table, plan: &Plan, all: &[(&SourceFile, &Plan)]) {
    let has_shop = |plan: &Plan| plan.parts.iter().any(|p| p.claim("shop").is_some());
    let with_shop = |key: &str, shop: bool| match shop {
        true => json!(["shop", key]),
        false => json!([key]),
    };
    match table.key() {
        [key] => {
            schema.insert("primaryKey".into(), with_shop(key, has_shop(plan)));
        }
        _ => {
            let mut jobs = all
                .iter()
                .filter(|(f, p)| f.tables == [Table::Jobs] && is_canonical(f, p));
            let (Some((file, jobs)), None) = (jobs.next(), jobs.next()) else {
                return;
            };
            let fields = with_shop("job", has_shop(plan) && has_shop(jobs));
            schema.insert(
                "foreignKeys".into(),
                json!([{"fields": fields, "reference": {"resource": slug(&file.name), "fields": fields}}]),
            );
        }
    }
}
