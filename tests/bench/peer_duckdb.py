#!/usr/bin/env python3
"""DuckDB reading a canonical folder and running every query of queries/ on it,
two threads; nothing else. usage: peer_duckdb.py FOLDER [--month YYYY-MM]

Also shows how a warehouse makes the columns that the queries expect beside
the contract's: job_key, typed yes/no, money in minor units, and the months in
view.
"""
import pathlib
import sys

import duckdb

ROOT = pathlib.Path(__file__).resolve().parents[2]
MONEY = {"coating_price", "coating_discount", "film_price", "cost", "hourly_cost"}
YES_NO = {"offered", "coated", "excluded", "rain", "held_overnight"}
TABLES = ["jobs", "surfaces", "coatings", "bottles", "callbacks", "people", "inspections"]


def column(name):
    if name in MONEY:
        return f"CAST(ROUND({name} * 100) AS BIGINT) AS {name}"
    if name in YES_NO:
        return f"CASE {name} WHEN 'yes' THEN TRUE WHEN 'no' THEN FALSE END AS {name}"
    return name


def load(base, folder):
    for table in TABLES:
        file = folder / f"{table}.csv"
        if not file.exists():
            continue
        base.execute(f"CREATE VIEW raw_{table} AS FROM read_csv('{file}', header = true, nullstr = '')")
        names = [r[0] for r in base.execute(f"DESCRIBE raw_{table}").fetchall()]
        columns = [column(n) for n in names if n != "shop"]
        shop = "COALESCE(shop, '')" if "shop" in names else "''"
        if table == "coatings":
            columns = [
                "COALESCE(minutes, date_diff('second', started_at, ended_at) / 60.0 - COALESCE(paused_minutes, 0)) AS minutes"
                if c == "minutes"
                else c
                for c in columns
            ]
        columns.append(f"{shop} AS shop")
        if table == "jobs":
            key = "ROW_NUMBER() OVER () - 1 AS job_key"
            base.execute(f"CREATE TABLE jobs AS SELECT {key}, {', '.join(columns)} FROM raw_jobs")
        elif "job" in names:
            base.execute(
                f"CREATE TABLE {table} AS SELECT j.job_key, r.* FROM (SELECT {', '.join(columns)} FROM raw_{table}) AS r"
                " JOIN (SELECT job_key, job, shop FROM jobs) AS j ON j.job = r.job AND j.shop = r.shop"
            )
        else:
            base.execute(f"CREATE TABLE {table} AS SELECT {', '.join(columns)} FROM raw_{table}")


def months(base, month):
    if month is None:
        last = base.execute("SELECT MAX(EXTRACT(YEAR FROM finished_on) * 12 + EXTRACT(MONTH FROM finished_on) - 1) FROM jobs")
        last = last.fetchone()[0]
    else:
        year, number = map(int, month.split("-"))
        last = year * 12 + number - 1
    for name in ["spans", "window_months"]:
        base.execute(f"CREATE TABLE {name} AS SELECT range AS month_no FROM range({last - 11}, {last + 1})")


def main():
    folder = pathlib.Path(sys.argv[1])
    base = duckdb.connect()
    base.execute("SET threads = 2")
    load(base, folder)
    months(base, sys.argv[3] if len(sys.argv) > 3 else None)
    for query in sorted((ROOT / "queries").glob("*.sql")):
        base.execute(f"CREATE TABLE {query.stem[3:]} AS {query.read_text()}")


if __name__ == "__main__":
    main()
