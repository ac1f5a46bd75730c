//! People: unknown ones, work before hire or after leaving, two jobs at once.

use super::super::keys::hash_key;
use super::super::links::{Answer, NO_JOB, Resolver, meet_without_shop};
use super::{List, Look, Oddity, Subjects, alive, day_of, day_text, moment_text};
use crate::settings::contract::Table;

/// A spell of work: who, when, on which job, and its row.
struct Spell {
    person: (u64, u32),
    start: i64,
    end: i64,
    job: u32,
    row: u32,
}

pub(super) fn list(look: &Look<'_, '_>, list: &mut List) {
    known_people(look, list);
    overlaps(look, list);
}

/// Work by people against the table of people.
fn known_people(look: &Look<'_, '_>, list: &mut List) {
    let Some(people) = look.table(Table::People).filter(|p| p.stack.len > 0) else {
        return;
    };
    let counts = |row| people.alive(&look.linked.states, row);
    let mut resolver = Resolver::new(&people.stack, counts);
    let tables = [(Table::Jobs, "sold_by"), (Table::Coatings, "applied_by")];
    let apart = |t: Table| {
        look.table(t)
            .is_some_and(|t| meet_without_shop(&people.stack, &t.stack))
    };
    if tables.iter().any(|(t, _)| apart(*t)) {
        resolver.by_key_alone(counts);
    }
    for oddity in [Oddity::UnknownPerson, Oddity::BeforeHire, Oddity::AfterLeaving] {
        let mut subjects = Subjects::default();
        for (table, field) in tables {
            against(look, &resolver, table, field, oddity, &mut subjects);
        }
        subjects.into_list(list);
    }
}

/// One look for one oddity. (Three looks cost less than three lists at once:
/// most shops have none.)
fn against(
    look: &Look<'_, '_>,
    resolver: &Resolver<'_, '_>,
    table: Table,
    field: &str,
    oddity: Oddity,
    subjects: &mut Subjects,
) {
    let (Some(rows), Some(people)) = (look.table(table), look.table(Table::People)) else {
        return;
    };
    let at = |name| rows.stack.field(name);
    let (shop, who) = (at("shop"), at(field));
    let when = if table == Table::Jobs { at("finished_on") } else { at("started_at") };
    let edge = people.stack.field(match oddity {
        Oddity::AfterLeaving => "ended_on",
        _ => "started_on",
    });
    if oddity != Oddity::UnknownPerson && !people.stack.segments.iter().any(|s| s.column(edge).is_some()) {
        return;
    }
    for (segment, row, _) in alive(look.linked, rows) {
        let Some(person) = segment.column(who).and_then(|c| c.text(row)) else { continue };
        let shop = segment.column(shop).and_then(|c| c.text(row)).unwrap_or("");
        let answer = resolver.find(hash_key(shop, person.as_bytes()), shop, person);
        let found = match (answer, oddity) {
            (Answer::None, Oddity::UnknownPerson) => {
                "work by a person that people does not have".to_string()
            }
            (Answer::Row(known), Oddity::BeforeHire | Oddity::AfterLeaving) => {
                let known = people.stack.locate(known);
                let edge = day_of(known.segment.column(edge), known.row);
                let day = day_of(segment.column(when), row);
                match (day, edge) {
                    (Some(day), Some(edge)) if oddity == Oddity::BeforeHire && day < edge => {
                        format!("work on {}, hired {}", day_text(day), day_text(edge))
                    }
                    (Some(day), Some(edge)) if oddity == Oddity::AfterLeaving && day > edge => {
                        format!("work on {}, left {}", day_text(day), day_text(edge))
                    }
                    _ => continue,
                }
            }
            _ => continue,
        };
        subjects.note(shop, person, || {
            look.listed(oddity, segment, row, (shop, person), found)
        });
    }
}

/// One person on two jobs at once.
fn overlaps(look: &Look<'_, '_>, list: &mut List) {
    let Some(coatings) = look.table(Table::Coatings) else { return };
    let stack = &coatings.stack;
    let at = |name| stack.field(name);
    let fields = (at("shop"), at("applied_by"), at("started_at"), at("ended_at"));
    let mut spells = Vec::new();
    for (segment, row, global) in alive(look.linked, coatings) {
        let (Some(start), Some(end), Some(person)) = (
            segment.column(fields.2).and_then(|c| c.whole(row)),
            segment.column(fields.3).and_then(|c| c.whole(row)),
            segment.column(fields.1).and_then(|c| c.text(row)),
        ) else {
            continue;
        };
        let shop = segment.column(fields.0).and_then(|c| c.text(row)).unwrap_or("");
        let hash = hash_key(shop, person.as_bytes());
        spells.push(Spell {
            person: (hash, person.len() as u32),
            start,
            end,
            job: coatings.job_row.get(global as usize).copied().unwrap_or(NO_JOB),
            row: global,
        });
    }
    spells.sort_unstable_by_key(|s| (s.person, s.start, s.row));
    let mut found: Vec<(u32, u32)> = Vec::new();
    let mut open: Option<&Spell> = None;
    for spell in &spells {
        if let Some(before) = open.filter(|o| o.person == spell.person)
            && before.end > spell.start
            && before.job != spell.job
        {
            found.push((spell.row, before.row));
        }
        let longer = open.is_none_or(|o| o.person != spell.person || o.end <= spell.end);
        if longer {
            open = Some(spell);
        }
    }
    found.sort_unstable();
    for (row, other) in found {
        let (here, there) = (stack.locate(row), stack.locate(other));
        let subject = (
            here.text(fields.0).unwrap_or(""),
            here.text(fields.1).unwrap_or(""),
        );
        let start = |x: &super::super::links::Located<'_, '_>| {
            let micros = x.segment.column(fields.2).and_then(|c| c.whole(x.row));
            micros.map(moment_text).unwrap_or_default()
        };
        let job = |x: &super::super::links::Located<'_, '_>| {
            super::shown(x.text(stack.field("job")).unwrap_or(""))
        };
        let found = format!(
            "job {} from {} while on job {} from {}",
            job(&here),
            start(&here),
            job(&there),
            start(&there)
        );
        list.add(look.listed(Oddity::TwoJobsAtOnce, here.segment, here.row, subject, found));
    }
}
