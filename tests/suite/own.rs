//! A shop's own questions, from the file to the page: answers, refusals, text
//! that would run, the README's example.

use std::fs;
use std::path::Path;
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

const JOBS: &str = "job,finished_on,vehicle_class,finish,area,offered,sold_by,coated,coating_price,coating_discount
1,2026-09-05,suv,gloss,20,yes,P7,yes,300,0
2,2026-10-02,suv,gloss,20,yes,P7,yes,310,10
3,2026-10-03,van,matte,30,yes,P8,no,,
4,2026-10-04,van,matte,30,yes,P8,yes,400,
5,2026-10-05,suv,<b>x</b>,20,yes,=1+1,yes,300,
";

/// A review of the shop with these questions: its folder and its page.
fn asked(questions: &[(&str, &[u8])]) -> (tempfile::TempDir, String) {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("jobs.csv"), JOBS).unwrap();
    fs::create_dir(dir.path().join("queries")).unwrap();
    for (name, text) in questions {
        fs::write(dir.path().join("queries").join(name), text).unwrap();
    }
    let args = ReviewArgs {
        folder: dir.path().to_path_buf(),
        out: Some(dir.path().join("out")),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
    let page = fs::read_to_string(dir.path().join("out/review.html")).unwrap();
    (dir, page)
}

fn table(dir: &Path, name: &str) -> String {
    fs::read_to_string(dir.join("out/tables").join(name)).unwrap()
}

/// README's example, as it stands there.
const EXAMPLE: &str = "-- Coating by seller, this month
-- Film jobs of the month by who sold them, how many of them were coated, and
-- what was charged for the coating after discount.
SELECT
  j.sold_by AS seller,
  COUNT(*) AS film_jobs,
  SUM(CASE WHEN j.coated THEN 1 ELSE 0 END) AS coated,
  SUM(j.coating_price - COALESCE(j.coating_discount, 0)) / 100.0 AS charged
FROM jobs AS j
CROSS JOIN review_month AS m
WHERE j.finished_on BETWEEN m.first_day AND m.last_day
GROUP BY j.sold_by
ORDER BY coated DESC
";

#[test]
fn a_question_becomes_a_table_with_its_title_and_its_csv() {
    let readme = include_str!("../../README.md");
    let indented: String = EXAMPLE.lines().map(|l| format!("    {l}\n")).collect();
    assert!(readme.contains(&indented), "{indented}");
    let (dir, page) = asked(&[("sellers.sql", EXAMPLE.as_bytes())]);
    assert_eq!(
        table(dir.path(), "own-sellers.csv"),
        "seller,film_jobs,coated,charged\r\n'=1+1,1,1,300\r\nP7,1,1,300\r\nP8,2,1,400\r\n"
    );
    for part in [
        "<h3 id=\"own-questions\">Your own questions</h3>",
        "<summary>Coating by seller, this month</summary>",
        "<caption>Coating by seller, this month (queries/sellers.sql)</caption>",
        "Film jobs of the month by who sold them, how many of them were coated, and what was charged",
        "<th scope=\"col\" class=\"n\">film_jobs</th>",
        "<th scope=\"row\">=1+1</th>",
    ] {
        assert!(page.contains(part), "{part}");
    }
}

#[test]
fn no_folder_of_questions_no_section() {
    let (_, page) = asked(&[]);
    assert!(!page.contains("own-questions"));
}

#[test]
fn a_question_without_an_answer_is_a_note_and_the_review_stands() {
    let long = vec![b' '; 20_000];
    let (dir, page) = asked(&[
        ("a.sql", b"-- Good\nSELECT COUNT(*) AS n FROM jobs"),
        ("b.sql", b"-- Not SQL\nSELEC job"),
        ("c.sql", b"-- No table\nSELECT * FROM customers"),
        (
            "d.sql",
            b"-- Reaches out\nSELECT * FROM read_csv('/etc/passwd')",
        ),
        ("e.sql", b"-- Writes\nDROP TABLE jobs"),
        (
            "f.sql",
            b"-- Odd\nSELECT STRPTIME(job, '%Q') AS x FROM jobs",
        ),
        ("g.sql", b"\xff\xfe"),
        ("h.sql", &long),
        ("i j.sql", b"SELECT 1"),
        ("A.sql", b"-- Same name\nSELECT job AS one FROM jobs"),
    ]);
    assert_eq!(page.matches(") has no answer: ").count(), 9);
    for said in [
        "this is not SQL that can be read here",
        "there is no table customers here; there are bottles, callbacks",
        "no functions in a table&#39;s place",
        "a question is one SELECT",
        "the query engine s",
        "the file is not UTF-8 text",
        "the file is longer than 16384 bytes",
        "rename the file",
        "queries/A.sql has the same name",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(!page.contains("root:"), "no file but the tables is read");
    assert_eq!(
        table(dir.path(), "own-a.csv"),
        "one\r\n1\r\n2\r\n3\r\n4\r\n5\r\n"
    );
    assert!(!dir.path().join("out/tables/own-b.csv").exists());
    let json = fs::read_to_string(dir.path().join("out/review.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let rows = json["own_questions"].as_array().unwrap();
    assert_eq!(rows.len(), 10);
    assert_eq!(rows[0]["table"], "tables/own-a.csv");
    assert!(
        rows[2]["note"]
            .as_str()
            .unwrap()
            .starts_with("this is not SQL")
    );
}

#[test]
fn text_of_questions_and_answers_shows_as_text() {
    let evil = "-- <script>alert(1)</script>\n-- <img src=x onerror=alert(2)>\nSELECT finish AS \"<i>f</i>\", sold_by AS \"=cmd\" FROM jobs WHERE finish <> '<u>'";
    let (dir, page) = asked(&[
        ("evil.sql", evil.as_bytes()),
        ("bad.sql", b"-- <em>**\nSELECT <q> FROM"),
    ]);
    for raw in [
        "<script>alert",
        "<img",
        "<i>f",
        "<u>",
        "<em>",
        "<q>",
        "<b>x",
    ] {
        assert!(!page.contains(raw), "{raw}");
    }
    let csv = table(dir.path(), "own-evil.csv");
    assert!(csv.starts_with("<i>f</i>,'=cmd\r\n"), "{csv}");
    assert!(csv.contains("<b>x</b>,'=1+1"), "{csv}");
}

#[test]
fn many_rows_are_cut_on_the_page_and_whole_in_the_csv() {
    let columns = "a.job AS a, b.job AS b, c.job AS c, d.job AS d";
    let joins = "JOIN jobs AS b ON b.shop = a.shop JOIN jobs AS c ON c.shop = a.shop JOIN jobs AS d ON d.shop = a.shop";
    let many = format!("-- Many\nSELECT {columns} FROM jobs AS a {joins}");
    let (dir, page) = asked(&[("many.sql", many.as_bytes())]);
    assert_eq!(table(dir.path(), "own-many.csv").lines().count(), 1 + 625);
    let section = page.split("id=\"own-questions\"").last().unwrap();
    let section = section.split("</section>").next().unwrap();
    assert_eq!(section.matches("<tr>").count(), 1 + 200);
    assert!(section.contains("The first 200 of 625\u{a0}rows; all are in tables/own-many.csv."));
}

/// The most memory that this process has held [kB]; Linux only.
fn peak_kb() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Every job with every other one of its seller: 100,000 jobs of ten sellers
/// make 1,000,000,000 pairs, tens of gigabytes. That is said in place, in
/// little more than the time and memory of the review, and the review stands.
#[test]
fn a_question_that_would_use_up_memory_is_a_note() {
    let mut jobs = JOBS.lines().next().unwrap().to_string();
    for i in 0..100_000 {
        let (day, seller) = (1 + i % 28, i % 10);
        jobs.push_str(&format!(
            "\n{i},2026-10-{day:02},suv,gloss,20,yes,P{seller},yes,300,0"
        ));
    }
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("jobs.csv"), jobs).unwrap();
    let queries = dir.path().join("queries");
    let args = |out: &str| ReviewArgs {
        folder: dir.path().to_path_buf(),
        out: Some(dir.path().join(out)),
        ..ReviewArgs::default()
    };
    run::review(&args("without"), &mut |_| {}).unwrap();
    fs::create_dir(&queries).unwrap();
    let pairs =
        "-- Pairs\nSELECT COUNT(*) AS n FROM jobs AS a JOIN jobs AS b ON a.sold_by = b.sold_by";
    fs::write(queries.join("pairs.sql"), pairs).unwrap();
    let own = "-- Own\nSELECT COUNT(*) AS n FROM jobs AS a JOIN jobs AS b ON a.job_key = b.job_key";
    fs::write(queries.join("own.sql"), own).unwrap();
    let (before, begun) = (peak_kb(), std::time::Instant::now());
    run::review(&args("with"), &mut |_| {}).unwrap();
    // Minutes and all memory where the pairs are made; here a second or two,
    // with room for a busy machine and for the tests beside this one.
    assert!(begun.elapsed().as_secs() < 120, "{:?}", begun.elapsed());
    if let (Some(before), Some(after)) = (before, peak_kb()) {
        assert!(after - before < 3_000_000, "{} kB more", after - before);
    }
    let page = fs::read_to_string(dir.path().join("with/review.html")).unwrap();
    assert!(page.contains("it would make 1000000000 rows on its way, where 1100000 is the most"));
    let csv = fs::read_to_string(dir.path().join("with/tables/own-own.csv")).unwrap();
    assert_eq!(csv, "n\r\n100000\r\n");
}
