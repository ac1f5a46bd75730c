//! People: unknown ones, work before hire or after leaving, two jobs at once.

use super::super::columns::Filled;
use super::super::keys::hash_key;
use super::super::links::{
    Answer, LinkedTable, Located, NO_JOB, Resolver, Segment, Stack, meet_without_shop,
};
use super::{Collected, Listed, Look, Oddity, Subjects, alive, day_of, day_text, moment_text};
use crate::settings::contract::Table;
use foldhash::fast::FixedState;
use std::collections::HashMap;

/// First and last day of a person's employment, as far as recorded.
#[derive(Clone, Copy)]
struct Employed {
    from: Option<i32>,
    until: Option<i32>,
}

/// What the table of people says of somebody.
#[derive(Clone, Copy)]
enum Known {
    Yes(Employed),
    No,
    /// In several shops, and no shop was named.
    Several,
}

/// Work by people against the table of people.
pub(super) fn known(look: &Look<'_, '_>, list: &mut Collected) {
    let Some(people) = look.table(Table::People).filter(|p| p.stack.len > 0) else {
        return;
    };
    let counts = |row| people.alive(&look.linked.states, row);
    let mut resolver = Resolver::new(people);
    let tables = [(Table::Jobs, "sold_by"), (Table::Coatings, "applied_by")];
    let apart = |t: Table| {
        look.table(t)
            .is_some_and(|t| meet_without_shop(&people.stack, &t.stack))
    };
    if tables.iter().any(|(t, _)| apart(*t)) {
        resolver.by_key_alone(counts);
    }
    let edges = (
        people.stack.field("started_on"),
        people.stack.field("ended_on"),
    );
    let ask = |shop: &str, person: &str| match resolver.find(shop, person) {
        Answer::Several => Known::Several,
        Answer::Row(row) if counts(row) => {
            let at = people.stack.locate(row);
            Known::Yes(Employed {
                from: day_of(at.segment.column(edges.0), at.row),
                until: day_of(at.segment.column(edges.1), at.row),
            })
        }
        _ => Known::No,
    };
    let mut found = Found::default();
    for (table, field) in tables {
        against(look, &ask, table, field, &mut found);
    }
    for subjects in [found.unknown, found.before, found.after] {
        subjects.into_list(list);
    }
}

#[derive(Default)]
struct Found {
    unknown: Subjects,
    before: Subjects,
    after: Subjects,
}

/// Looks up the person of every row of a table. Answers are remembered by the
/// numbers that shop and person have in a chunk's columns.
fn against(
    look: &Look<'_, '_>,
    ask: &dyn Fn(&str, &str) -> Known,
    table: Table,
    field: &str,
    found: &mut Found,
) {
    let Some(rows) = look.table(table) else {
        return;
    };
    let at = |name| rows.stack.field(name);
    let (shop, who) = (at("shop"), at(field));
    let when = if table == Table::Jobs {
        at("finished_on")
    } else {
        at("started_at")
    };
    for segment in &rows.stack.segments {
        if let Some(people) = segment.column(who) {
            let columns = Columns {
                shops: segment.column(shop),
                people,
                days: segment.column(when),
            };
            within(look, ask, (rows, segment), &columns, found);
        }
    }
}

/// The columns that say who worked when.
struct Columns<'s> {
    shops: Option<&'s Filled>,
    people: &'s Filled,
    days: Option<&'s Filled>,
}

/// The same of one chunk.
fn within(
    look: &Look<'_, '_>,
    ask: &dyn Fn(&str, &str) -> Known,
    (rows, segment): (&LinkedTable<'_>, &Segment<'_>),
    columns: &Columns<'_>,
    found: &mut Found,
) {
    let mut answers: HashMap<u64, Known, FixedState> = HashMap::default();
    for row in rows.alive_in(&look.linked.states, segment) {
        let Some(person) = columns.people.text(row) else {
            continue;
        };
        let shop = columns.shops.and_then(|c| c.text(row)).unwrap_or("");
        let number = columns.shops.map_or(0, |c| c.number(row));
        let both = (u64::from(number) << 32) | u64::from(columns.people.number(row));
        let known = *answers.entry(both).or_insert_with(|| ask(shop, person));
        let listed = |oddity, text| look.listed(oddity, segment, row, (shop, person), text);
        let employed = match known {
            Known::Several => continue,
            Known::No => {
                let text = "work by a person that people does not have".to_string();
                found
                    .unknown
                    .note(shop, person, || listed(Oddity::UnknownPerson, text));
                continue;
            }
            Known::Yes(employed) => employed,
        };
        let Some(day) = day_of(columns.days, row) else {
            continue;
        };
        if let Some(from) = employed.from.filter(|from| day < *from) {
            found.before.note(shop, person, || {
                let text = format!("work on {}, hired {}", day_text(day), day_text(from));
                listed(Oddity::BeforeHire, text)
            });
        }
        if let Some(until) = employed.until.filter(|until| day > *until) {
            found.after.note(shop, person, || {
                let text = format!("work on {}, left {}", day_text(day), day_text(until));
                listed(Oddity::AfterLeaving, text)
            });
        }
    }
}

/// A spell of work: when, on which job, and its row.
#[derive(Clone, Copy)]
struct Spell {
    start: i64,
    end: i64,
    job: u32,
    row: u32,
}

/// One person on two jobs at once.
pub(super) fn overlaps(look: &Look<'_, '_>, list: &mut Collected) {
    let Some(coatings) = look.table(Table::Coatings) else {
        return;
    };
    let mut found: Vec<(u32, u32)> = Vec::new();
    for mut of_one in spells(look, coatings) {
        // Exports are mostly in order of time, which sorting notices.
        of_one.sort_by_key(|s| (s.start, s.row));
        of_one_person(&of_one, &mut found);
    }
    found.sort_unstable();
    for (row, other) in found {
        let (here, there) = (coatings.stack.locate(row), coatings.stack.locate(other));
        list.add(Oddity::TwoJobsAtOnce, 1, || {
            two_at_once(look, &coatings.stack, here, there)
        });
    }
}

/// Spells with a start and an end, by person.
fn spells(look: &Look<'_, '_>, coatings: &LinkedTable<'_>) -> Vec<Vec<Spell>> {
    let at = |name| coatings.stack.field(name);
    let (shop, person) = (at("shop"), at("applied_by"));
    let (start, end) = (at("started_at"), at("ended_at"));
    let mut person_of: HashMap<u64, usize, FixedState> = HashMap::default();
    let mut spells: Vec<Vec<Spell>> = Vec::new();
    for (segment, row, global) in alive(look.linked, coatings) {
        let whole = |at| segment.column(at).and_then(|c| c.whole(row));
        let text = |at| segment.column(at).and_then(|c| c.text(row));
        let (Some(start), Some(end), Some(person)) = (whole(start), whole(end), text(person))
        else {
            continue;
        };
        let hash = hash_key(text(shop).unwrap_or(""), person.as_bytes());
        let next = spells.len();
        let at = *person_of.entry(hash).or_insert(next);
        if at == next {
            spells.push(Vec::new());
        }
        spells[at].push(Spell {
            start,
            end,
            job: coatings
                .job_row
                .get(global as usize)
                .copied()
                .unwrap_or(NO_JOB),
            row: global,
        });
    }
    spells
}

fn two_at_once(
    look: &Look<'_, '_>,
    stack: &Stack<'_>,
    here: Located<'_, '_>,
    there: Located<'_, '_>,
) -> Listed {
    let text = |x: &Located<'_, '_>, name| super::shown(x.text(stack.field(name)).unwrap_or(""));
    let start = |x: &Located<'_, '_>| {
        let column = x.segment.column(stack.field("started_at"));
        let micros = column.and_then(|c| c.whole(x.row));
        micros.map(moment_text).unwrap_or_default()
    };
    let found = format!(
        "job {} from {} while on job {} from {}",
        text(&here, "job"),
        start(&here),
        text(&there, "job"),
        start(&there)
    );
    let (shop, person) = (text(&here, "shop"), text(&here, "applied_by"));
    look.listed(
        Oddity::TwoJobsAtOnce,
        here.segment,
        here.row,
        (&shop, &person),
        found,
    )
}

/// Spells that begin while an earlier one on another job goes on; `spells` in
/// order of their start.
fn of_one_person(spells: &[Spell], found: &mut Vec<(u32, u32)>) {
    let mut open: Option<Spell> = None;
    for spell in spells {
        if let Some(before) = open.filter(|o| o.end > spell.start && o.job != spell.job) {
            found.push((spell.row, before.row));
        }
        if open.is_none_or(|o| o.end <= spell.end) {
            open = Some(*spell);
        }
    }
}
