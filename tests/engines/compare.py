#!/usr/bin/env python3
"""Runs every query of queries/ on DuckDB against the expected tables that the
Rust tests hold polars to (tests/expected/NN_name.txt).

usage: python3 tests/engines/compare.py        (needs the package duckdb)

Integers, text and days must agree exactly, floats to 1e-12 relative.
"""
import datetime
import pathlib
import sys

import duckdb

ROOT = pathlib.Path(__file__).resolve().parents[2]
TYPES = {"i": "BIGINT", "f": "DOUBLE", "s": "VARCHAR", "b": "BOOLEAN", "d": "DATE", "t": "TIMESTAMP"}


def cells(line):
    return [c.strip() for c in line.split("|")]


def value(cell, kind):
    if cell == "":
        return None
    if cell == "''":
        return ""
    if kind == "i":
        return int(cell)
    if kind == "f":
        return float(cell)
    if kind == "b":
        return cell == "yes"
    if kind == "d":
        return datetime.date.fromisoformat(cell)
    return cell


def cases(text):
    for part in text.split("\n## ")[1:]:
        title, *lines = part.splitlines()
        blocks, name = [], None
        for line in lines:
            if not line.strip() or line.startswith("#"):
                continue
            if line == "=" or line.startswith("@ "):
                name = line.removeprefix("@ ")
            elif name is not None:
                blocks.append((name, [c.split(":") for c in cells(line)], []))
                name = None
            else:
                blocks[-1][2].append(cells(line))
        yield title, blocks[:-1], blocks[-1]


def alike(a, b):
    if isinstance(a, float) or isinstance(b, float):
        return a is not None and b is not None and abs(a - b) <= 1e-12 * max(1.0, abs(b))
    return a == b


def run(sql, tables):
    base = duckdb.connect()
    for name, columns, rows in tables:
        made = ", ".join(f"{c} {TYPES[k]}" for c, k in columns)
        base.execute(f"CREATE TABLE {name} ({made})")
        for row in rows:
            values = [value(c, k) for c, (_, k) in zip(row, columns)]
            base.execute(f"INSERT INTO {name} VALUES ({', '.join('?' * len(values))})", values)
    found = base.execute(sql)
    return [d[0] for d in found.description], found.fetchall()


def main():
    passed = failed = 0
    for query in sorted((ROOT / "queries").glob("*.sql")):
        sql = query.read_text()
        for title, tables, (_, columns, rows) in cases((ROOT / "tests/expected" / f"{query.stem}.txt").read_text()):
            names, found = run(sql, tables)
            expected = [tuple(value(c, k) for c, (_, k) in zip(row, columns)) for row in rows]
            same = names == [c for c, _ in columns] and len(found) == len(expected)
            same = same and all(alike(a, b) for f, e in zip(found, expected) for a, b in zip(f, e))
            passed, failed = passed + same, failed + (not same)
            if not same:
                print(f"{query.stem}: {title}\n  found    {found}\n  expected {expected}")
    print(f"queries on DuckDB {duckdb.__version__}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
