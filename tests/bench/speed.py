#!/usr/bin/env python3
"""How long a whole review takes, and how much memory, beside an engine that
only reads the same files and makes the same measures.

usage: cargo build --release && python3 tests/bench/speed.py [JOBS ...]

Default: the demo, and 1,000,000 jobs of 50 shops (invented once into
target/bench/). Peers run where their packages are installed (duckdb); they do
less than a review: no validation, no fits, no page. Each command runs in a
process of its own, in turn, RUNS times; median, minimum and maximum of wall
seconds and peak memory are printed, with the ratio of medians.
"""
import os
import pathlib
import platform
import shutil
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
BINARY = ROOT / "target/release/tallycoat"
BENCH = ROOT / "target/bench"
RUNS = 5


def timed(command):
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        sys.exit(f"{' '.join(map(str, command))} failed with {child.returncode}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def folder(jobs):
    place = BENCH / f"jobs-{jobs}"
    if not (place / "truth.json").exists():
        shops = str(max(1, jobs // 20_000))
        subprocess.run([BINARY, "invent", place, "--jobs", str(jobs), "--shops", shops], check=True)
    return place


def size(place):
    return sum(f.stat().st_size for f in place.glob("*.csv")) / 1e6


def bench(name, place):
    out = BENCH / "out"
    commands = {"tallycoat, whole review": [BINARY, "review", place, "--out", out]}
    try:
        import duckdb  # noqa: F401

        peer = pathlib.Path(__file__).with_name("peer_duckdb.py")
        commands["DuckDB, read and measures only"] = [sys.executable, peer, place]
    except ImportError:
        print("(package duckdb is not installed: no peer)")
    for command in commands.values():
        timed(command)
    rows = {what: [] for what in commands}
    for _ in range(RUNS):
        for what, command in commands.items():
            rows[what].append(timed(command))
    print(f"\n{name}: {size(place):.1f} MB of CSV, {RUNS} runs each after one to warm up")
    print(f"{'':34} {'median s':>9} {'min':>7} {'max':>7} {'peak MB':>8}")
    medians = {}
    for what, runs in rows.items():
        seconds = [r[0] for r in runs]
        medians[what] = statistics.median(seconds)
        peak = max(r[1] for r in runs)
        print(f"{what:34} {medians[what]:9.2f} {min(seconds):7.2f} {max(seconds):7.2f} {peak:8.0f}")
    ours, *peers = medians
    for peer in peers:
        print(f"  ours / {peer}: {medians[ours] / medians[peer]:.2f}")
    shutil.rmtree(out, ignore_errors=True)


def main():
    if not BINARY.exists():
        sys.exit("build first: cargo build --release")
    BENCH.mkdir(parents=True, exist_ok=True)
    print(f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, python {platform.python_version()}")
    print(subprocess.run([BINARY, "--version"], capture_output=True, text=True).stdout.strip())
    bench("demo-data/film-shop", ROOT / "demo-data/film-shop")
    for jobs in [int(a) for a in sys.argv[1:]] or [1_000_000]:
        bench(f"{jobs:,} jobs", folder(jobs))


if __name__ == "__main__":
    main()
