//! Values that no record may hold, each with its reason, and records that
//! stand twice.

use std::sync::Arc;
use tallycoat::intake::bytes::Origin;
use tallycoat::intake::sources::SourceFile;
use tallycoat::intake::{self, Intake, Oddity};
use tallycoat::settings::contract::Table;
use tallycoat::settings::shop::Shop;

fn read_by(shop: &Shop, files: &[(Table, &str)]) -> Intake {
    let of = |(table, text): &(Table, &str)| SourceFile {
        name: format!("{table}.csv"),
        origin: Origin::Memory(Arc::from(text.as_bytes())),
        tables: vec![*table],
    };
    let files: Vec<SourceFile> = files.iter().map(of).collect();
    let found = intake::read_sources(&files, shop, &mut |_| {}).unwrap();
    assert!(found.ledger.files.iter().all(|f| f.lines.add_up()));
    found
}

fn read(files: &[(Table, &str)]) -> Intake {
    read_by(&Shop::default(), files)
}

/// Quarantined lines as `line reason@column`.
fn put_aside(found: &Intake) -> Vec<String> {
    let faults = found
        .quarantine
        .iter()
        .flat_map(|r| r.faults.iter().map(|f| (r.line, f)));
    faults
        .map(|(line, f)| format!("{line} {}@{}", f.reason, f.column.as_deref().unwrap_or("")))
        .collect()
}

const JOB: &str = "job,finished_on,vehicle_class,coated,finish\n1,2026-10-01,suv,yes,gloss\n";

/// One cell of one column: `None` where it is accepted, else the reason.
fn reason_of(table: Table, column: &str, cell: &str) -> Option<String> {
    // A sound cell first, so that the column is settled.
    let (heading, sound, row) = match table {
        Table::Jobs => (
            "job,finished_on,vehicle_class,coated,finish",
            "",
            "8,2026-10-01,suv,yes,gloss",
        ),
        Table::Coatings | Table::Callbacks => ("job", JOB, "1"),
        Table::Bottles => ("bottle", JOB, "b8"),
        Table::People => ("person", JOB, "p8"),
        Table::Surfaces => ("job,finish", JOB, "1,gloss"),
        Table::Inspections => ("job,seen_on,condition", JOB, "1,2026-10-09,sound"),
    };
    let text = format!("{heading},{column}\n{row},\"{cell}\"\n");
    let mut files = vec![(table, text.as_str())];
    if !sound.is_empty() {
        files.insert(0, (Table::Jobs, sound));
    }
    let found = read(&files);
    let faults = put_aside(&found);
    assert!(faults.len() <= 1, "{table}.{column} {cell:?}: {faults:?}");
    faults.into_iter().next().map(|f| {
        let (reason, at) = f.split_once('@').unwrap();
        assert_eq!(at, column, "{cell:?}");
        reason.split_once(' ').unwrap().1.to_string()
    })
}

#[test]
fn each_value_that_cannot_be_has_its_reason() {
    use Table::{Bottles, Callbacks, Coatings, Jobs, People, Surfaces};
    let numbers = [
        (Jobs, "area"),
        (Jobs, "coating_price"),
        (Jobs, "coating_discount"),
        (Jobs, "film_price"),
        (Surfaces, "area"),
        (Coatings, "minutes"),
        (Coatings, "paused_minutes"),
        (Coatings, "used"),
        (Coatings, "air_temperature"),
        (Coatings, "surface_temperature"),
        (Coatings, "relative_humidity"),
        (Bottles, "volume"),
        (Bottles, "left_over"),
        (Bottles, "cost"),
        (Callbacks, "minutes"),
        (Callbacks, "used"),
        (Callbacks, "cost"),
        (People, "hourly_cost"),
    ];
    for (table, column) in numbers {
        for cell in [
            "nan",
            "NaN",
            "-nan",
            "inf",
            "-inf",
            "+Infinity",
            "∞",
            "#N/A",
            "1_000",
            "--1",
            "1-1",
        ] {
            let found = reason_of(table, column, cell);
            assert_eq!(
                found.as_deref(),
                Some("type-error"),
                "{table}.{column} {cell:?}"
            );
        }
        // A number beside what may be a unit, and is none of the column's.
        for cell in ["1e400", "0x10"] {
            let found = reason_of(table, column, cell);
            assert_eq!(
                found.as_deref(),
                Some("unit-error"),
                "{table}.{column} {cell:?}"
            );
        }
        let below_zero = reason_of(table, column, "-1");
        let may = column.contains("temperature");
        let expected = (!may).then_some("constraint-error");
        assert_eq!(below_zero.as_deref(), expected, "{table}.{column} -1");
        let absurd = reason_of(table, column, "1000000000000");
        assert_eq!(
            absurd.as_deref(),
            Some("constraint-error"),
            "{table}.{column} 1e12"
        );
    }
    for (table, column, cell, accepted) in [
        (Jobs, "area", "0", false),
        (Jobs, "area", "20000", true),
        (Jobs, "area", "20000.1", false),
        (Jobs, "coating_price", "0", true),
        (Jobs, "coating_price", "999999999.99", true),
        (Jobs, "coating_price", "1000000000", false),
        (Coatings, "minutes", "1440", true),
        (Coatings, "minutes", "1440.1", false),
        (Coatings, "used", "0", true),
        (Coatings, "relative_humidity", "100", true),
        (Coatings, "relative_humidity", "100.1", false),
        (Coatings, "air_temperature", "-273", false),
        (Coatings, "air_temperature", "451", false),
        (Bottles, "volume", "0", true),
    ] {
        let found = reason_of(table, column, cell);
        let expected = (!accepted).then_some("constraint-error");
        assert_eq!(found.as_deref(), expected, "{table}.{column} {cell}");
    }
    for (table, column, cell) in [
        (Jobs, "quoted_on", "2026-02-30"),
        (Jobs, "quoted_on", "tomorrow"),
        (Jobs, "quoted_on", "45231"),
        (Jobs, "offered", "perhaps"),
        (Jobs, "sample", "pair"),
        (Coatings, "started_at", "2026-10-01"),
        (Coatings, "started_at", "2026-10-01 24:30"),
        (Coatings, "rain", "2"),
        (People, "started_on", "1899-12-31"),
    ] {
        let found = reason_of(table, column, cell);
        assert_eq!(
            found.as_deref(),
            Some("type-error"),
            "{table}.{column} {cell}"
        );
    }
}

#[test]
fn an_end_is_not_before_its_start_and_no_more_is_left_than_there_was() {
    let found = read(&[
        (Table::Jobs, JOB),
        (
            Table::Coatings,
            "job,started_at,ended_at,released_at,minutes,paused_minutes\n\
             1,2026-10-01 09:00,2026-10-01 09:00,2026-10-01 09:00,,\n\
             1,2026-10-01 09:00,2026-10-01 08:59,,,\n\
             1,2026-10-01 09:00,2026-10-01 10:00,2026-10-01 09:59,,\n\
             1,2026-10-01 09:00,2026-10-01 10:00,,,61\n\
             1,2026-10-01 09:00,2026-10-03 10:00,,,\n\
             1,2026-10-01 09:00,2026-10-03 10:00,,60,\n",
        ),
        (
            Table::Bottles,
            "bottle,opened_on,emptied_on,volume,left_over\n\
             a,2026-10-02,2026-10-01,100,0\n\
             b,2026-10-01,2026-10-01,100,100\n\
             c,2026-10-01,2026-10-02,100,100.1\n\
             d,2026-10-01,,,100.1\n",
        ),
        (
            Table::People,
            "person,started_on,ended_on\np,2026-10-02,2026-10-01\nq,2026-10-02,2026-10-02\n",
        ),
    ]);
    assert_eq!(
        put_aside(&found),
        [
            "3 date-order-error@ended_at",
            "4 date-order-error@released_at",
            "5 constraint-error@ended_at",
            "6 constraint-error@ended_at",
            "2 date-order-error@emptied_on",
            "4 constraint-error@left_over",
            "2 date-order-error@ended_on",
        ]
    );
    let said = found
        .quarantine
        .iter()
        .find(|r| r.line == 4 && &*r.file == "bottles.csv");
    let said = said.unwrap().to_string();
    assert!(
        said.contains("found 100.1 mL; expected no more than the bottle's volume (100.0 mL)"),
        "{said}"
    );
}

#[test]
fn a_spell_pasted_twice_counts_once_and_what_may_be_two_is_listed() {
    let found = read(&[
        (Table::Jobs, JOB),
        (
            Table::Coatings,
            "job,applied_by,started_at,minutes,note\n\
             1,p,2026-10-01 09:00,20,\n\
             1,p,2026-10-01 09:00,20,\n\
             1,p,2026-10-01 09:00,20,second coat\n\
             1,p,2026-10-01 09:00,21,\n\
             1,q,,20,\n\
             1,q,,20,\n\
             1,q,,20,\n",
        ),
        (
            Table::Surfaces,
            "job,surface,finish,area\n1,door,gloss,2\n1,door,gloss,2\n1,,gloss,2\n1,,gloss,2\n",
        ),
        (
            Table::Callbacks,
            "job,reported_on,cause\n1,2026-10-03,haze\n1,2026-10-03,haze\n1,,haze\n1,,haze\n",
        ),
    ]);
    assert_eq!(put_aside(&found), Vec::<String>::new());
    let height = |t| found.frames.of(t).height();
    // A column that no field claims tells the second coat from the first.
    assert_eq!(height(Table::Coatings), 6);
    assert_eq!(height(Table::Surfaces), 3);
    assert_eq!(height(Table::Callbacks), 3);
    let superseded: Vec<u64> = found
        .ledger
        .files
        .iter()
        .map(|f| f.lines.superseded)
        .collect();
    assert_eq!(superseded, [0, 1, 1, 1]);
    let listed: Vec<String> = found
        .odd
        .listed
        .iter()
        .filter(|l| l.oddity == Oddity::SameAgain)
        .map(|l| format!("{}:{} {}", l.file, l.line, l.found))
        .collect();
    assert_eq!(listed.len(), 3, "{listed:#?}");
    assert!(
        listed[0].starts_with("coatings.csv:7 the same as line 6 in every cell"),
        "{listed:#?}"
    );
    assert!(
        listed[2].starts_with("callbacks.csv:5 the same as line 4"),
        "{listed:#?}"
    );
}

#[test]
fn large_tables_find_repeats_as_small_ones_do() {
    // Enough rows for two threads; every tenth spell is pasted again at the end.
    let rows = 60_000;
    let mut jobs = JOB.lines().next().unwrap().to_string();
    let mut spells = "job,started_at,minutes".to_string();
    for i in 0..rows {
        jobs.push_str(&format!("\nJ{i:06},2026-10-01,suv,yes,gloss"));
        spells.push_str(&format!("\nJ{i:06},2026-10-01 09:{:02},{}", i % 60, i % 50));
    }
    for i in (0..rows).step_by(10) {
        spells.push_str(&format!("\nJ{i:06},2026-10-01 09:{:02},{}", i % 60, i % 50));
    }
    let found = read(&[(Table::Jobs, &jobs), (Table::Coatings, &spells)]);
    assert_eq!(found.frames.of(Table::Coatings).height(), rows);
    assert_eq!(found.ledger.lines().superseded, rows as u64 / 10);
}

#[test]
fn rows_out_of_order_are_linked_as_rows_in_order_are() {
    // The same shops in order and shuffled: each spell must find its job.
    let rows = 997_u64;
    let job = |i: u64| format!("S{},J{:05}", i / 100, i % 100);
    let read_in = |order: &dyn Fn(u64) -> u64| {
        let mut jobs = "shop,job,finished_on,vehicle_class,coated,finish".to_string();
        let mut spells = "shop,job,minutes".to_string();
        for i in 0..rows {
            let n = order(i);
            jobs.push_str(&format!("\n{},2026-10-01,class{n},yes,gloss", job(n)));
            spells.push_str(&format!("\n{},{}", job(i * 7 % rows), i * 7 % rows));
        }
        let found = read(&[(Table::Jobs, &jobs), (Table::Coatings, &spells)]);
        assert_eq!(put_aside(&found), Vec::<String>::new());
        let classes = found
            .frames
            .of(Table::Jobs)
            .column("vehicle_class")
            .unwrap()
            .clone();
        let spells = found.frames.of(Table::Coatings);
        let keys = spells.column("job_key").unwrap().i64().unwrap().clone();
        let minutes = spells.column("minutes").unwrap().f64().unwrap().clone();
        let classes = classes.str().unwrap();
        for (key, minutes) in keys.iter().zip(minutes.iter()) {
            let class = classes.get(key.unwrap() as usize).unwrap();
            assert_eq!(class, format!("class{}", minutes.unwrap()));
        }
    };
    read_in(&|i| i);
    read_in(&|i| i * 13 % rows);
}

/// The next number of a simple sequence (Knuth's MMIX constants), below `n`.
fn next(state: &mut u64, n: u64) -> u64 {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    (*state >> 33) % n
}

/// Many lines of few jobs, some of a job that is not there, in several ways of
/// writing: against a set of what came before.
#[test]
fn repeats_among_many_lines_of_a_job_are_those_that_a_plain_set_finds() {
    let jobs = ["1", "2", "3"].map(|job| format!("\n{job},2026-10-01,suv,yes,gloss"));
    let jobs = format!("{}{}", JOB.lines().next().unwrap(), jobs.concat());
    let mut spells = "job,started_at,minutes,rain,bottle".to_string();
    let (mut seen, mut state) = (std::collections::BTreeSet::new(), 7);
    let (mut superseded, mut alike, mut orphans) = (0, 0, 0);
    for _ in 0..4000 {
        let mut pick = |n| next(&mut state, n);
        let (job, start, minutes) = (pick(4) + 1, pick(12), pick(15));
        let (rain, bottle) = (["yes", "no", ""][pick(3) as usize], pick(3));
        let started = match start {
            0 => String::new(),
            n => format!("2026-10-01 09:{n:02}"),
        };
        let written = [format!("{minutes}"), format!("{minutes}.0")][pick(2) as usize].clone();
        spells.push_str(&format!("\n{job},{started},{written},{rain},{bottle}"));
        let again = !seen.insert((job, start, minutes, rain, bottle));
        superseded += u64::from(again && start > 0);
        alike += u64::from(again && start == 0 && job < 4);
        orphans += u64::from(job == 4 && !(again && start > 0));
    }
    let found = read(&[(Table::Jobs, &jobs), (Table::Coatings, &spells)]);
    let lines = found.ledger.lines();
    assert!(superseded > 500 && alike > 50 && orphans > 500);
    assert_eq!(lines.superseded, superseded);
    assert_eq!(found.odd.counts[&Oddity::SameAgain], alike);
    assert_eq!(lines.quarantined, orphans);
}

/// An export whose job numbers were lost bears one in every line: comparing
/// each line with all before it took over a minute where this takes a second.
#[test]
fn one_job_number_in_every_line_costs_no_more_than_many() {
    let lines = 40_000;
    for job in ["1", "0"] {
        let mut spells = "job,applied_by,minutes".to_string();
        for i in 0..lines {
            spells.push_str(&format!("\n{job},P{i},{}", i % 1440));
        }
        let start = std::time::Instant::now();
        let found = read(&[(Table::Jobs, JOB), (Table::Coatings, &spells)]);
        let took = start.elapsed();
        let kept = if job == "1" { lines } else { 0 };
        assert_eq!(found.frames.of(Table::Coatings).height(), kept);
        assert!(took.as_secs() < 15, "{took:?}");
    }
}

/// One export names no shop: its lines find their jobs by number. Lines of the
/// other do not, where the shop that they name has no such job.
#[test]
fn a_line_that_names_a_shop_is_not_given_the_job_of_another() {
    let jobs = "job,shop,finished_on,vehicle_class,coated,finish\n\
                1,north,2026-10-01,suv,yes,gloss\n2,south,2026-10-02,suv,yes,gloss\n";
    let named = "job,shop,minutes\n1,north,30\n1,south,31\n1,west,32\n2,,33\n";
    let unnamed = "job,minutes\n1,40\n3,42\n";
    let found = read(&[
        (Table::Jobs, jobs),
        (Table::Coatings, named),
        (Table::Coatings, unnamed),
    ]);
    let coatings = found.frames.of(Table::Coatings);
    let minutes = coatings.column("minutes").unwrap().f64().unwrap();
    let minutes: Vec<Option<f64>> = minutes.iter().collect();
    // Both of job 1, then that of job 2.
    assert_eq!(minutes, [30.0, 40.0, 33.0].map(Some));
    let fault = |line| format!("{line} foreign-key-error@job");
    assert_eq!(put_aside(&found), [3, 4, 3].map(fault));
    // Jobs of a file that names no shop serve lines that do.
    let jobs = JOB;
    let found = read(&[(Table::Jobs, jobs), (Table::Coatings, named)]);
    assert_eq!(put_aside(&found), [fault(5)]);
}
