use super::*;
use crate::settings::month::Month;

/// Six jobs of two months; jobs 5 and 6 have no price.
fn tables() -> Tables {
    let n = |v: [Option<i64>; 6]| Int64Chunked::from_slice_options("".into(), &v);
    let named = |name: &str, s: Series| s.with_name(name.into()).into();
    let days: Vec<i32> = vec![20_700, 20_701, 20_730, 20_731, 20_732, 20_733];
    let days = Int32Chunked::from_vec("".into(), days).into_series();
    let text =
        |v: [Option<&str>; 6]| StringChunked::from_slice_options("".into(), &v).into_series();
    let yes = BooleanChunked::from_slice("".into(), &[true, false, true, true, false, true]);
    let area = Float64Chunked::from_slice("".into(), &[20.0, 10.5, 20.0, 30.0, 7.0, 0.1]);
    let jobs = DataFrame::new_infer_height(vec![
        named("job_key", n([1, 2, 3, 4, 5, 6].map(Some)).into_series()),
        named("shop", text([Some(""); 6])),
        named(
            "job",
            text(["b", "a", "c", "d", "<script>", "=1+1"].map(Some)),
        ),
        named("finished_on", days.cast(&DataType::Date).unwrap()),
        named(
            "sold_by",
            text([
                Some("P1"),
                Some("P2"),
                Some("P1"),
                None,
                Some("P2"),
                Some("P1"),
            ]),
        ),
        named("coated", yes.into_series()),
        named("area", area.into_series()),
        named(
            "coating_price",
            n([Some(31_000), None, Some(9_000), Some(100), None, None]).into_series(),
        ),
    ])
    .unwrap();
    let month = Month::parse("2026-10").unwrap();
    let view = View {
        month,
        window_from: month.plus(-11),
    };
    Tables::new(
        BTreeMap::from([("jobs", jobs.clone()), ("coatings", jobs)]),
        view,
    )
}

fn rows(sql: &str) -> Vec<String> {
    let answer = ask(sql, &tables()).unwrap_or_else(|e| panic!("{sql}: {e}"));
    let cell = |v: &Value| match v {
        Value::Missing => "-".to_string(),
        Value::Text(t) => t.clone(),
        Value::Whole(n) => n.to_string(),
        Value::Number(x) => format!("{x:.3}"),
        Value::YesNo(b) => b.to_string(),
        Value::Day(d) => d.to_string(),
        Value::Moment(m) => m.to_string(),
    };
    let row = |r: &Vec<Value>| r.iter().map(cell).collect::<Vec<_>>().join(" ");
    answer.rows.iter().map(row).collect()
}

fn refused(sql: &str) -> Refusal {
    match ask(sql, &tables()) {
        Err(refusal) => refusal,
        Ok(answer) => panic!("{sql}: {answer:?}"),
    }
}

#[test]
fn a_question_is_answered_and_ordered_by_its_columns() {
    let by_seller = "-- By seller\nSELECT sold_by, COUNT(*) AS jobs, SUM(coating_price) AS money FROM jobs GROUP BY sold_by";
    assert_eq!(rows(by_seller), ["P1 3 40000", "P2 2 -", "- 1 100"]);
    assert_eq!(
        rows("SELECT job FROM jobs"),
        ["<script>", "=1+1", "a", "b", "c", "d"]
    );
    assert_eq!(
        rows(
            "SELECT job, finished_on, coated, area / 0 AS none FROM jobs WHERE area > 20 OR job = 'a'"
        ),
        ["a 2026-09-05 false -", "d 2026-10-05 true -"]
    );
}

#[test]
fn ties_of_an_order_are_broken_by_the_columns() {
    let sql = "SELECT sold_by, job FROM jobs ORDER BY sold_by DESC";
    let down = ["- d", "P2 <script>", "P2 a", "P1 =1+1", "P1 b", "P1 c"];
    assert_eq!(rows(sql), down);
    // Not a column of the answer.
    assert_eq!(
        rows("SELECT job FROM jobs ORDER BY area DESC LIMIT 3"),
        ["d", "b", "c"]
    );
    assert_eq!(
        rows("SELECT job FROM jobs ORDER BY ALL LIMIT 2"),
        ["<script>", "=1+1"]
    );
    assert_eq!(
        rows(
            "SELECT job FROM jobs WHERE coated UNION ALL SELECT sold_by AS job FROM jobs ORDER BY job LIMIT 2"
        ),
        ["=1+1", "P1"]
    );
    for _ in 0..20 {
        assert_eq!(rows(sql), down);
    }
}

#[test]
fn the_month_reviewed_is_a_table_of_one_row() {
    let counted = "SELECT COUNT(*) AS n FROM jobs";
    for of_month in [
        " CROSS JOIN review_month WHERE finished_on >= first_day AND finished_on <= last_day",
        ", review_month WHERE finished_on >= first_day AND finished_on <= last_day",
        " AS j JOIN review_month AS m ON EXTRACT(YEAR FROM j.finished_on) * 12 + EXTRACT(MONTH FROM j.finished_on) - 1 = m.month_no",
    ] {
        assert_eq!(rows(&format!("{counted}{of_month}")), ["4"], "{of_month}");
    }
    assert_eq!(
        rows("SELECT * FROM review_month"),
        ["24321 2026-10-01 2026-10-31 2025-11-01"]
    );
    assert_eq!(
        rows("SELECT MAX(finished_on) - MIN(finished_on) AS days FROM jobs"),
        ["33.000"]
    );
}

#[test]
fn with_joins_windows_and_cases_work() {
    assert_eq!(
        rows(
            "WITH c AS (SELECT job_key, CASE WHEN coated THEN 1 ELSE 0 END AS c FROM jobs) SELECT j.sold_by AS who, SUM(c.c) AS coated FROM jobs AS j JOIN c ON c.job_key = j.job_key GROUP BY j.sold_by;"
        ),
        ["P1 3", "P2 0", "- 1"]
    );
    assert_eq!(
        rows(
            "SELECT job, ROW_NUMBER() OVER (PARTITION BY sold_by ORDER BY job) AS nth FROM jobs WHERE sold_by = 'P1'"
        ),
        ["=1+1 1", "b 2", "c 3"]
    );
    assert_eq!(
        rows("SELECT x.n FROM (SELECT COUNT(*) AS n FROM jobs) AS x"),
        ["6"]
    );
    assert_eq!(
        rows("SELECT job FROM jobs WHERE 1 = 0"),
        Vec::<String>::new()
    );
}

#[test]
fn what_reads_past_the_tables_is_refused() {
    for sql in [
        "SELECT * FROM read_csv('/etc/passwd')",
        "SELECT * FROM READ_PARQUET('x.parquet')",
        "SELECT * FROM read_json('x')",
        "SELECT * FROM jobs JOIN read_csv('/etc/passwd') AS p ON p.a = jobs.job",
        "SELECT * FROM (SELECT * FROM read_ipc('x')) AS t",
        "WITH t AS (SELECT * FROM read_csv('/etc/passwd')) SELECT * FROM t",
        "SELECT job FROM jobs WHERE job IN (SELECT a FROM read_csv('/etc/passwd'))",
        "SELECT (SELECT a FROM read_csv('/etc/passwd')) AS a FROM jobs",
        "SELECT * FROM jobs UNION ALL SELECT * FROM read_csv('/etc/passwd')",
        "SELECT * FROM TABLE(read_csv('/etc/passwd'))",
        "SELECT * FROM UNNEST([1, 2]) AS t(a)",
        "SELECT * FROM LATERAL read_csv('/etc/passwd')",
    ] {
        assert!(
            matches!(refused(sql), Refusal::Source(_)),
            "{sql}: {}",
            refused(sql)
        );
    }
    for sql in [
        "SELECT * FROM '/etc/passwd'",
        "SELECT * FROM \"/etc/passwd\"",
        "SELECT * FROM `../jobs.csv`",
        "SELECT * FROM other.jobs",
        "SELECT * FROM nothing",
        "SELECT * FROM Jobs",
    ] {
        let said = refused(sql).to_string();
        assert!(
            said.contains("there are coatings, jobs, review_month"),
            "{sql}: {said}"
        );
    }
}

#[test]
fn what_is_no_single_select_is_refused() {
    for sql in [
        "DROP TABLE jobs",
        "DELETE FROM jobs WHERE coated",
        "TRUNCATE TABLE jobs",
        "CREATE TABLE t AS SELECT * FROM jobs",
        "INSERT INTO jobs SELECT * FROM jobs",
        "UPDATE jobs SET coated = true",
        "SHOW TABLES",
        "EXPLAIN SELECT * FROM jobs",
        "SELECT 1; SELECT 2",
        "SELECT 1; DROP TABLE jobs",
        "SELECT * INTO t FROM jobs",
        "WITH t AS (DELETE FROM jobs RETURNING *) SELECT * FROM t",
        "TABLE jobs",
        "VALUES (1)",
        "COPY jobs TO '/tmp/x'",
        "SELECT * FROM jobs FOR UPDATE",
        "",
        "-- only a comment",
    ] {
        let got = refused(sql);
        assert!(
            matches!(got, Refusal::NotASelect | Refusal::Syntax(_)),
            "{sql}: {got}"
        );
    }
}

#[test]
fn what_grows_without_bound_or_by_chance_is_refused() {
    for sql in [
        "SELECT a.job FROM jobs AS a, jobs AS b",
        "SELECT a.job FROM jobs AS a CROSS JOIN jobs AS b",
        "SELECT a.job FROM jobs AS a JOIN jobs AS b",
        "SELECT job FROM jobs LIMIT 3",
        "SELECT job FROM (SELECT job FROM jobs LIMIT 3) AS t ORDER BY job",
        "SELECT DISTINCT ON (sold_by) job FROM jobs",
        "WITH RECURSIVE t AS (SELECT 1 AS n UNION ALL SELECT n + 1 AS n FROM t) SELECT n FROM t",
    ] {
        assert!(
            matches!(refused(sql), Refusal::Unbounded(_)),
            "{sql}: {}",
            refused(sql)
        );
    }
    assert!(matches!(
        refused("SELECT LPAD(job, 2000000000, 'x') AS x FROM jobs"),
        Refusal::Source(_)
    ));
    let wide: Vec<String> = (0..=MOST_COLUMNS).map(|i| format!("{i} AS c{i}")).collect();
    let wide = format!("SELECT {} FROM jobs", wide.join(", "));
    assert_eq!(refused(&wide), Refusal::Columns(MOST_COLUMNS + 1));
}

/// The engine reads the table and not the WITH, so the answer would be another
/// question's.
#[test]
fn a_with_that_bears_a_tables_name_is_refused() {
    for (name, sql) in [
        (
            "jobs",
            "WITH jobs AS (SELECT job FROM jobs WHERE coated) SELECT COUNT(*) AS n FROM jobs",
        ),
        (
            "review_month",
            "WITH review_month AS (SELECT job FROM jobs) SELECT COUNT(*) AS n FROM review_month",
        ),
        (
            "a",
            "WITH a AS (SELECT job FROM jobs) SELECT x.job AS job FROM (WITH a AS (SELECT job FROM jobs WHERE coated) SELECT job FROM a) AS x",
        ),
    ] {
        assert_eq!(refused(sql), Refusal::Shadowed(name.into()), "{sql}");
    }
}

#[test]
fn too_many_rows_are_refused_before_they_are_made() {
    // 6 to the power of 7 rows by way of equal keys.
    let joins: Vec<String> = (1..7)
        .map(|i| format!("JOIN jobs AS t{i} ON t{i}.shop = t0.shop"))
        .collect();
    let sql = format!("SELECT t0.job AS job FROM jobs AS t0 {}", joins.join(" "));
    assert_eq!(refused(&sql), Refusal::TooManyRows);
}

#[test]
fn odd_sql_ends_in_words() {
    let deep_sum = format!("SELECT {} AS x FROM jobs", vec!["1"; 5_000].join("+"));
    assert_eq!(refused(&deep_sum), Refusal::TooDeep);
    let nested = format!(
        "SELECT {}1{} AS x FROM jobs",
        "(".repeat(4_000),
        ")".repeat(4_000)
    );
    assert_eq!(refused(&nested), Refusal::TooDeep);
    let unions = vec!["SELECT job FROM jobs"; 700].join(" UNION ALL ");
    assert_eq!(refused(&unions), Refusal::TooMany(40));
    for sql in [
        "SELEC job FROM jobs",
        "SELECT job FROM jobs WHERE",
        "SELECT nothing FROM jobs",
        "SELECT job, job FROM jobs",
        "SELECT job + 1 AS x FROM jobs",
        "SELECT SUM(job) AS x FROM jobs GROUP BY area, 99",
        "SELECT job FROM jobs ORDER BY 99",
        "SELECT job FROM jobs ORDER BY job LIMIT -1",
        "SELECT job FROM jobs ORDER BY job LIMIT 99999999999999999999",
        "SELECT ARRAY_AGG(job) AS x FROM jobs",
        "SELECT STRPTIME(job, '%Q') AS x FROM jobs",
        "SELECT CAST(job AS INTEGER) AS x FROM jobs",
        "SELECT SUBSTR(job, -9223372036854775808, -1) AS x FROM jobs",
        "SELECT REGEXP_LIKE(job, '(') AS x FROM jobs",
        "SELECT NTILE(0) OVER () AS x FROM jobs",
        "SELECT LAG(job, 0) OVER () AS x FROM jobs",
        "SELECT QUANTILE_CONT(area, 7) AS x FROM jobs",
        "SELECT COUNT(*) OVER (ORDER BY nothing) AS x FROM jobs",
        "SELECT DISTINCT ON (nothing) job FROM jobs",
    ] {
        let said = refused(sql).to_string();
        assert!(!said.is_empty() && said.len() < 400, "{sql}: {said}");
    }
}

/// polars-sql 0.55 panics on both: they are caught, said, and leave nothing
/// behind.
#[test]
fn a_crash_of_the_engine_is_an_answer_too() {
    for sql in [
        "SELECT job FROM jobs ORDER BY 0",
        "SELECT COLUMNS('(') FROM jobs",
    ] {
        assert_eq!(refused(sql), Refusal::Crash, "{sql}");
        assert_eq!(rows("SELECT COUNT(*) AS n FROM jobs"), ["6"]);
    }
}

/// `n` jobs of one shop, of ten sellers, each with a key of its own.
fn many(n: i64) -> Tables {
    let keys: Vec<i64> = (0..n).collect();
    let jobs: Vec<String> = keys.iter().map(|k| format!("J{k:06}")).collect();
    let sellers: Vec<String> = keys.iter().map(|k| format!("P{}", k % 10)).collect();
    let text =
        |v: Vec<String>| StringChunked::from_iter_values("".into(), v.iter().map(String::as_str));
    let named = |name: &str, s: Series| s.with_name(name.into()).into();
    let frame = DataFrame::new_infer_height(vec![
        named(
            "job_key",
            Int64Chunked::from_vec("".into(), keys).into_series(),
        ),
        named("job", text(jobs).into_series()),
        named("sold_by", text(sellers).into_series()),
    ]);
    let month = Month::parse("2026-10").unwrap();
    let view = View {
        month,
        window_from: month.plus(-11),
    };
    Tables::new(BTreeMap::from([("jobs", frame.unwrap())]), view)
}

/// 100,000 rows against 100,000 by ten keys are 1,000,000,000 pairs, tens of
/// gigabytes: said, not made. A join by a key of one's own is answered.
#[test]
fn joins_that_multiply_are_refused_before_they_run() {
    let tables = many(100_000);
    let begun = std::time::Instant::now();
    for sql in [
        "SELECT COUNT(*) AS n FROM jobs AS a JOIN jobs AS b ON a.sold_by = b.sold_by",
        "SELECT a.job FROM jobs AS a LEFT JOIN jobs AS b ON a.sold_by = b.sold_by ORDER BY a.job LIMIT 5",
        "WITH p AS (SELECT a.job_key AS k, b.sold_by AS s FROM jobs AS a JOIN jobs AS b ON a.job_key = b.job_key) SELECT COUNT(*) AS n FROM p JOIN jobs AS c ON c.sold_by = p.s",
        "SELECT COUNT(*) AS n FROM (SELECT * FROM jobs) AS a JOIN jobs AS b ON UPPER(a.sold_by) = UPPER(b.sold_by)",
    ] {
        let Err(Refusal::TooManyMet { rows, most }) = ask(sql, &tables) else {
            panic!("{sql}: {:?}", ask(sql, &tables));
        };
        assert!(rows >= 1_000_000_000 && most == 1_100_000, "{rows} {most}");
    }
    let own = "SELECT COUNT(*) AS n FROM jobs AS a JOIN jobs AS b ON a.job_key = b.job_key";
    assert_eq!(ask(own, &tables).unwrap().rows, [[Value::Whole(100_000)]]);
    // What a debug build takes on a busy machine, with room; the pairs
    // themselves would take minutes and all of its memory.
    assert!(begun.elapsed().as_secs() < 60, "{:?}", begun.elapsed());
}

/// The bound is the number of rows that a join really makes.
#[test]
fn the_rows_of_a_join_are_counted_and_not_guessed() {
    let tables = many(3_000);
    let plan_of = |sql: &str| {
        let query = guard::checked(sql, tables.0.keys().copied()).unwrap();
        plan(&query.query, &tables).unwrap()
    };
    for (on, pairs) in [("sold_by", 900_000), ("job_key", 3_000)] {
        let sql = format!("SELECT a.job FROM jobs AS a JOIN jobs AS b ON a.{on} = b.{on}");
        let text = guard::checked(&sql, tables.0.keys().copied()).unwrap().text;
        let hold = |rows| Most { rows }.hold(&plan_of(&sql), text, 0);
        assert_eq!(hold(pairs.max(3_000)), Ok(()), "{on}");
        let over = hold(pairs - 1);
        assert!(over.is_err(), "{on}: {over:?}");
        let made = plan_of(&sql).collect().unwrap().height() as u64;
        assert_eq!(made, pairs, "{on}");
    }
}

#[test]
fn doubling_and_other_ways_to_grow_are_refused() {
    let chain = |step: &str| {
        let part = |i: usize| {
            step.replace("NEW", &format!("t{}", i + 1))
                .replace("OLD", &format!("t{i}"))
        };
        let parts: Vec<String> = (0..15).map(part).collect();
        format!(
            "WITH t0 AS (SELECT job, job_key FROM jobs), {} SELECT COUNT(job) AS n FROM t15",
            parts.join(", ")
        )
    };
    let unions =
        chain("NEW AS (SELECT job, job_key FROM OLD UNION ALL SELECT job, job_key FROM OLD)");
    let joins = chain(
        "NEW AS (SELECT a.job, a.job_key FROM OLD AS a JOIN OLD AS b ON a.job_key = b.job_key)",
    );
    let text = chain("NEW AS (SELECT CONCAT(job, job) AS job, job_key FROM OLD)");
    let pipes = chain("NEW AS (SELECT job || job AS job, job_key FROM OLD)");
    for sql in [
        unions.as_str(),
        &joins,
        &text,
        &pipes,
        "SELECT a.job FROM jobs AS a JOIN jobs AS b ON a.job_key < b.job_key",
        "SELECT a.job FROM jobs AS a JOIN jobs AS b ON a.job_key = b.job_key AND a.job > b.job",
        "SELECT job + job AS x FROM jobs",
        "SELECT REPLACE(job, 'J', 'JJ') AS x FROM jobs",
        "SELECT REPLACE(job, '', 'J') AS x FROM jobs",
        "SELECT REPLACE(job, 'J', sold_by) AS x FROM jobs",
        "SELECT STRING_AGG(job) AS x FROM jobs",
        "SELECT job, UNNEST(ARRAY_AGG(job)) AS x FROM jobs",
    ] {
        let said = ask(sql, &many(1_000));
        let refused = matches!(
            said,
            Err(Refusal::Unbounded(_) | Refusal::Source(_) | Refusal::TooManyMet { .. })
        );
        assert!(refused, "{sql}: {said:?}");
    }
    for sql in [
        "SELECT job || ' by ' || sold_by AS x FROM jobs",
        "SELECT REPLACE(job, 'J0', '') AS x FROM jobs",
        "SELECT CONCAT(sold_by, ', ', job) AS x, job_key + 1 AS y FROM jobs",
        "WITH a AS (SELECT sold_by, COUNT(*) AS n FROM jobs GROUP BY sold_by) SELECT x.sold_by, x.n + y.n AS n FROM a AS x JOIN a AS y ON x.sold_by = y.sold_by",
    ] {
        assert!(
            ask(sql, &many(1_000)).is_ok(),
            "{sql}: {:?}",
            ask(sql, &many(1_000))
        );
    }
}

/// The engine reads a function's name without its quotes, and only the first
/// part of it.
#[test]
fn a_name_in_quotes_is_the_same_function() {
    let refused_all = [
        "lpad(job, 20, 'x')",
        "string_agg(job, ',')",
        "array_agg(job)",
        "replace(job, 'b', 'bb')",
        "unnest(job)",
    ];
    for call in refused_all {
        let (name, arguments) = call.split_once('(').unwrap();
        let upper = name.to_uppercase();
        for written in [
            format!("\"{name}\""),
            format!("`{name}`"),
            format!("\"{upper}\""),
            format!("`{upper}`"),
            format!("{name}.x"),
            format!("\"{name}\".\"x\""),
            format!("x.{name}"),
        ] {
            let sql = format!("SELECT {written}({arguments} AS x FROM jobs");
            let got = refused(&sql);
            let guarded = matches!(got, Refusal::Source(_) | Refusal::Unbounded(_));
            assert!(guarded, "{sql}: {got}");
        }
    }
    for concat in ["CONCAT", "\"concat\"", "`Concat`"] {
        let sql = format!("SELECT {concat}(job, job, job) AS x FROM jobs");
        let text = guard::checked(&sql, std::iter::once("jobs")).unwrap().text;
        assert_eq!(text.pieces, 3, "{sql}");
    }
    assert_eq!(
        rows("SELECT \"upper\"(job) AS x FROM jobs WHERE job = 'a'"),
        ["A"]
    );
}

/// The engine is built without these joins: that is said, with another way to
/// write it that is answered.
#[test]
fn rows_with_or_without_a_partner_are_asked_for_by_in() {
    let coated = "(SELECT job_key FROM jobs WHERE coated) AS c ON j.job_key = c.job_key";
    let keys = "SELECT job_key FROM jobs WHERE coated";
    for join in [
        "SEMI",
        "LEFT SEMI",
        "RIGHT SEMI",
        "ANTI",
        "LEFT ANTI",
        "RIGHT ANTI",
    ] {
        let sql = format!("SELECT j.job FROM jobs AS j {join} JOIN {coated}");
        assert!(
            refused(&sql).to_string().contains("IN (SELECT ...)"),
            "{sql}"
        );
    }
    for set in ["EXCEPT", "INTERSECT", "EXCEPT ALL", "INTERSECT ALL"] {
        let sql = format!("SELECT job_key FROM jobs {set} {keys}");
        assert!(
            refused(&sql).to_string().contains("IN (SELECT ...)"),
            "{sql}"
        );
        let inner = format!("SELECT COUNT(*) AS n FROM ({sql}) AS x");
        assert!(
            refused(&inner).to_string().contains("IN (SELECT ...)"),
            "{inner}"
        );
    }
    let asked = |which: &str| {
        rows(&format!(
            "SELECT job FROM jobs WHERE job_key {which} ({keys})"
        ))
    };
    assert_eq!(asked("IN"), ["=1+1", "b", "c", "d"]);
    assert_eq!(asked("NOT IN"), ["<script>", "a"]);
    let of_many = "SELECT COUNT(*) AS n FROM jobs WHERE sold_by IN (SELECT sold_by FROM jobs)";
    let said = ask(of_many, &many(2_000));
    let rows = 4_000_000;
    assert_eq!(
        said,
        Err(Refusal::TooManyMet {
            rows,
            most: 1_002_000
        })
    );
    assert!(ask(of_many, &many(1_000)).is_ok());
}

/// No question can write this, as UNNEST is refused: the bound does not rest on
/// that.
#[test]
fn rows_made_of_lists_are_not_counted() {
    let tables = tables();
    let mut engine = tables.engine();
    let listed = engine.execute("SELECT job FROM jobs").unwrap();
    let text = guard::Text {
        pieces: 1,
        literals: 0,
        adds: false,
    };
    let most = Most { rows: 1_000 };
    assert_eq!(most.hold(&listed, text, 0), Ok(()));
    let options = ExplodeOptions {
        empty_as_null: true,
        keep_nulls: true,
    };
    let rows_of_lists = listed.explode(by_name(["job"], true, false), options);
    let said = most.hold(&rows_of_lists, text, 0);
    assert!(matches!(said, Err(Refusal::Unbounded(_))), "{said:?}");
}
