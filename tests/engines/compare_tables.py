#!/usr/bin/env python3
"""Runs all queries of queries/ over whole shops on several engines and compares
every table that they give.

usage: python3 tests/engines/compare_tables.py TALLYCOAT [FOLDER] [--spark]

TALLYCOAT is the program: `tallycoat cells` runs the queries on its own engine.
FOLDER holds exports under the contract's own names; without it, the demo. DuckDB
always runs (package duckdb), Spark SQL with --spark (package pyspark, and a Java
runtime). The engines get the same exports, typed by this script, which shares no
code with the program, and text in place of job keys.

Text, days, moments and whole numbers must agree exactly, others to 1e-9
relative: engines add in different orders, and sums of some 1e5 terms of one
sign keep 11 digits of 16 even in the worst order. Then the tables that DuckDB
writes are reviewed with `--cells`: the review must say what the review of the
exports says, numbers again to 1e-9 relative of their size.
"""
import argparse
import csv
import datetime
import decimal
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time

import duckdb

ROOT = pathlib.Path(__file__).resolve().parents[2]
RELATIVE = 1e-9
MONTHS = ["window_months", "spans"]
# Results that the queries after them alone read.
STEPS = ["spell_counts", "carried"]

# The contract's tables: k text, d day, t moment, b yes/no, m money, f number.
TABLES = {
    "jobs": "job:k shop:k finished_on:d vehicle_class:k film:k finish:k area:f coverage:k offered:b sample:k "
    "sold_by:k coated:b coating_price:m coating_discount:m film_price:m quoted_on:d excluded:b",
    "surfaces": "job:k shop:k surface:k finish:k area:f orientation:k",
    "coatings": "job:k shop:k applied_by:k started_at:t ended_at:t minutes:f paused_minutes:f used:f bottle:k "
    "product:k air_temperature:f surface_temperature:f relative_humidity:f released_at:t rain:b held_overnight:b",
    "bottles": "bottle:k shop:k product:k lot:k opened_on:d emptied_on:d volume:f left_over:f cost:m",
    "callbacks": "job:k shop:k reported_on:d cause:k minutes:f used:f cost:m",
    "people": "person:k shop:k role:k hourly_cost:m started_on:d ended_on:d",
    "inspections": "job:k shop:k seen_on:d condition:k orientation:k",
}
SQL_TYPES = {"k": "VARCHAR", "d": "DATE", "t": "TIMESTAMP", "b": "BOOLEAN", "m": "BIGINT", "f": "DOUBLE"}


def columns(table):
    return [("job_key", "k")] + [tuple(c.split(":")) for c in TABLES[table].split()]


def typed(cell, kind):
    """A cell of an export as an engine reads it from CSV."""
    if cell == "":
        return ""
    if kind == "m":
        return str(int(decimal.Decimal(cell) * 100))
    if kind == "b":
        return {"yes": "true", "no": "false"}[cell]
    if kind == "t":
        return cell.replace("T", " ")
    return cell


def minutes(row):
    """Hands-on minutes: as recorded, else from start to end less pauses."""
    if row["minutes"] or not (row["started_at"] and row["ended_at"]):
        return row["minutes"]
    start, end = (datetime.datetime.fromisoformat(row[x]) for x in ("started_at", "ended_at"))
    return str((end - start).total_seconds() / 60 - float(row["paused_minutes"] or 0))


def load(folder, work):
    """Typed CSV of each table, with job_key, in `work`."""
    keys = {}
    for table in TABLES:
        source = folder / f"{table}.csv"
        with open(work / f"{table}.csv", "w", newline="") as out:
            writer = csv.writer(out)
            writer.writerow([name for name, _ in columns(table)])
            if not source.exists():
                continue
            with open(source, newline="") as file:
                for number, row in enumerate(csv.DictReader(file)):
                    shop = row.setdefault("shop", "")
                    if table == "jobs":
                        # Any text that is unique; in the order of the export.
                        keys[shop, row["job"]] = f"{shop}/{number:09}"
                    if table == "coatings":
                        row["minutes"] = minutes(row)
                    key = keys.get((shop, row.get("job")), str(number))
                    cells = [typed(row.get(name) or "", kind) for name, kind in columns(table)[1:]]
                    writer.writerow([key, *cells])
    return {key: name for name, key in keys.items()}


class Duck:
    def __init__(self, work):
        self.name = f"DuckDB {duckdb.__version__}"
        self.base = duckdb.connect()
        for table in TABLES:
            types = ", ".join(f"'{n}': '{SQL_TYPES[k]}'" for n, k in columns(table))
            self.base.execute(
                f"CREATE TABLE {table} AS SELECT * REPLACE (COALESCE(shop, '') AS shop) FROM "
                f"read_csv('{work / table}.csv', header = true, columns = {{{types}}}, nullstr = '')"
            )

    def months(self, table, months):
        self.base.execute(f"CREATE OR REPLACE TABLE {table} (month_no BIGINT)")
        for month in months:
            self.base.execute(f"INSERT INTO {table} VALUES (?)", [month])

    def run(self, name, sql):
        self.base.execute(f"CREATE OR REPLACE TABLE {name} AS {sql}")
        found = self.base.execute(f"SELECT * FROM {name}")
        return [d[0] for d in found.description], found.fetchall()

    def write(self, name, place):
        self.base.execute(f"COPY {name} TO '{place}' (HEADER)")


class Spark:
    def __init__(self, work):
        import pyspark
        from pyspark.sql import SparkSession

        self.name = f"Spark SQL {pyspark.__version__}"
        os.environ["TZ"] = "UTC"
        time.tzset()
        builder = SparkSession.builder.master("local[2]").appName("compare_tables")
        # Where and how quietly it runs, not what the queries mean: moments have
        # no zone, and a few partitions do for a laptop's worth of rows.
        settings = {
            "spark.sql.session.timeZone": "UTC",
            "spark.sql.shuffle.partitions": "4",
            "spark.ui.enabled": "false",
            "spark.ui.showConsoleProgress": "false",
        }
        for key, value in settings.items():
            builder = builder.config(key, value)
        self.session = builder.getOrCreate()
        self.session.sparkContext.setLogLevel("ERROR")
        types = {**SQL_TYPES, "k": "STRING"}
        for table in TABLES:
            schema = ", ".join(f"{n} {types[k]}" for n, k in columns(table))
            reader = self.session.read.schema(schema).option("header", True)
            reader = reader.option("timestampFormat", "yyyy-MM-dd HH:mm:ss").option("mode", "FAILFAST")
            frame = reader.csv(str(work / f"{table}.csv")).na.fill("", ["shop"])
            frame.cache().createOrReplaceTempView(table)

    def months(self, table, months):
        frame = self.session.createDataFrame([(m,) for m in months], "month_no BIGINT")
        frame.createOrReplaceTempView(table)

    def run(self, name, sql):
        frame = self.session.sql(sql).cache()
        frame.createOrReplaceTempView(name)
        return frame.columns, [tuple(row) for row in frame.collect()]


def queries():
    for path in sorted((ROOT / "queries").glob("*.sql")):
        yield path.stem, path.stem.split("_", 1)[1], path.read_text()


def cell(value):
    """One form for each kind of value; '' is an empty cell."""
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, decimal.Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, datetime.datetime):
        return value.isoformat(" ")
    if isinstance(value, datetime.date):
        return value.isoformat()
    return value


def read_csv(path):
    with open(path, newline="") as file:
        names, *rows = csv.reader(file)
    return names, rows


def by_kind(text, kinds):
    """A cell of our CSV as the engine's column holds it."""
    if text == "":
        return None
    if kinds <= {float}:
        return float(text)
    if kinds <= {int, float} and kinds:
        return int(text) if kinds == {int} else float(text)
    return text


def in_order(rows):
    def key(row):
        exact = tuple((v is not None, str(v)) for v in row if not isinstance(v, float))
        near = tuple(-1e300 if v is None else v for v in row if v is None or isinstance(v, float))
        return exact, near

    return sorted(rows, key=key)


def alike(a, b):
    if isinstance(a, (int, float)) and isinstance(b, (int, float)) and (isinstance(a, float) or isinstance(b, float)):
        return abs(a - b) <= RELATIVE * max(abs(a), abs(b))
    return a == b


def differences(ours, theirs, job_of, job_of_ours):
    """Words on the first rows that differ; none where the tables agree."""
    (names, rows), (their_names, their_rows) = ours, theirs
    if names != their_names:
        return [f"columns {names} and {their_names}"]
    found = [[cell(v) for v in row] for row in their_rows]
    kinds = [{type(row[i]) for row in found if row[i] is not None} for i in range(len(names))]
    own = [[by_kind(v, kinds[i]) for i, v in enumerate(row)] for row in rows]
    if "job_key" in names:
        at = names.index("job_key")
        for row, raw in zip(own, rows):
            row[at] = job_of_ours[raw[at]]
        for row in found:
            row[at] = job_of[row[at]]
    if len(own) != len(found):
        return [f"{len(own)} rows and {len(found)} rows"]
    pairs = zip(in_order(own), in_order(found))
    wrong = [(a, b) for a, b in pairs if not all(alike(x, y) for x, y in zip(a, b))]
    return [f"{len(wrong)} rows differ, first: {a} and {b}" for a, b in wrong[:1]]


def compare(engine, cells, wanted, job_of, to=None):
    """Runs the queries over the months of `cells` and holds each table to it."""
    for table in MONTHS:
        _, months = read_csv(cells / f"{table}.csv")
        engine.months(table, [int(m) for (m,) in months])
        if to:
            engine.write(table, to / f"{table}.csv")
    names, coated = read_csv(cells / "coated.csv")
    at = {n: names.index(n) for n in ("job_key", "shop", "job")}
    ours = {row[at["job_key"]]: (row[at["shop"]], row[at["job"]]) for row in coated}
    wrong = rows = tables = 0
    for stem, name, sql in queries():
        if name not in wanted and name not in STEPS:
            continue
        found = engine.run(name, sql)
        if name in STEPS:
            continue
        said = differences(read_csv(cells / f"{name}.csv"), found, job_of, ours)
        for words in said:
            print(f"  {stem}: {words}")
        wrong, rows, tables = wrong + bool(said), rows + len(found[1]), tables + 1
        if to:
            engine.write(name, to / f"{stem}.csv")
    print(f"  {cells.name}: {tables} tables, {rows} rows, {wrong} differ")
    return wrong


def near(a, b, place=""):
    """Paths at which two reviews differ."""
    if isinstance(a, dict) and isinstance(b, dict) and a.keys() == b.keys():
        return [p for k in a for p in near(a[k], b[k], f"{place}.{k}")]
    if isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        return [p for i, (x, y) in enumerate(zip(a, b)) for p in near(x, y, f"{place}[{i}]")]
    return [] if alike(a, b) else [f"{place}: {a} and {b}"]


def reviewed(program, folder, cells, work):
    """The review of the tables that an engine wrote, against that of the exports."""
    said = []
    for name, flags in [("direct", []), ("by-cells", ["--cells", cells])]:
        out = work / name
        subprocess.run([program, "review", folder, *flags, "--out", out], check=True, stdout=subprocess.DEVNULL)
        review = json.loads((out / "review.json").read_text())
        # Known only where the exports were read.
        said.append({k: v for k, v in review.items() if k not in ("lines", "fingerprint", "restated", "own")})
    wrong = near(*said)
    for words in wrong[:5]:
        print(f"  review{words}")
    print(f"  review of the tables written: {len(wrong)} figures differ")
    return len(wrong)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("folder", nargs="?", type=pathlib.Path, default=ROOT / "demo-data/film-shop")
    parser.add_argument("--spark", action="store_true")
    args = parser.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        work = pathlib.Path(name)
        cells = work / "cells"
        subprocess.run([args.program, "cells", args.folder, "--out", cells], check=True, stdout=subprocess.DEVNULL)
        job_of = load(args.folder, work)
        engines = [Duck(work)] + ([Spark(work)] if args.spark else [])
        every = {name for _, name, _ in queries()}
        back = {p.stem for p in (cells / "look_back").glob("*.csv")}
        for engine in engines:
            print(engine.name)
            to = work / "written" if isinstance(engine, Duck) else None
            if to:
                (to / "look_back").mkdir(parents=True)
            wrong += compare(engine, cells, every, job_of, to)
            wrong += compare(engine, cells / "look_back", back, job_of, to and to / "look_back")
            if to:
                wrong += reviewed(args.program, args.folder, to, work)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
