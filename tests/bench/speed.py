#!/usr/bin/env python3
"""How long a whole review takes, and how much memory, beside peers that do
less: engines that only read the same files and make the measures, and the
script that an analyst would write.

usage: cargo build --release && python3 tests/bench/speed.py [JOBS ...]

Default: the demo, and 1,000,000 jobs of 50 shops (invented once into
target/bench/). Peers run where their Python packages are installed: duckdb
(every query of queries/), polars (the main group-bys), pandas + statsmodels.
Each command runs in a process of its own, in turn, RUNS times after one run to
warm up; a peer whose first run takes over LONG seconds is not run again. Median,
minimum and maximum of wall seconds, median of CPU seconds and peak memory are
printed, with the ratio of medians.
"""
import importlib.metadata
import importlib.util
import os
import pathlib
import platform
import shutil
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
BINARY = pathlib.Path(os.environ.get("TALLYCOAT", ROOT / "target/release/tallycoat"))
BENCH = ROOT / "target/bench"
RUNS = 5
LONG = 60
# What each peer is called, its script, and the packages that it needs.
PEERS = [
    ("DuckDB, read and measures only", "peer_duckdb.py", ["duckdb"]),
    ("polars, read and group-bys only", "peer_polars.py", ["polars"]),
    ("pandas + statsmodels script", "peer_pandas.py", ["pandas", "statsmodels"]),
]


def timed(command):
    """Wall seconds, CPU seconds and peak MB of one process."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        sys.exit(f"{' '.join(map(str, command))} failed with {child.returncode}")
    return time.perf_counter() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def folder(jobs):
    place = BENCH / f"jobs-{jobs}"
    if not (place / "truth.json").exists():
        shops = str(max(1, jobs // 20_000))
        subprocess.run([BINARY, "invent", place, "--jobs", str(jobs), "--shops", shops], check=True)
    return place


def size(place):
    return sum(f.stat().st_size for f in place.glob("*.csv")) / 1e6


def commands(place, out):
    all_of_it = {"tallycoat, whole review": [BINARY, "review", place, "--out", out]}
    for name, script, packages in PEERS:
        missing = [p for p in packages if importlib.util.find_spec(p) is None]
        if missing:
            print(f"(not installed: {', '.join(missing)}; left out: {name})")
        else:
            all_of_it[name] = [sys.executable, pathlib.Path(__file__).with_name(script), place]
    return all_of_it


def row(what, runs, ours):
    wall, cpu, memory = zip(*runs)
    median = statistics.median(wall)
    ratio = "" if ours is None else f"{ours / median:.2f}"
    return f"{what:34} {median:9.2f} {min(wall):7.2f} {max(wall):7.2f} {statistics.median(cpu):7.2f} {max(memory):8.0f} {ratio:>10}"


def bench(name, place):
    out = BENCH / "out"
    todo = commands(place, out)
    first = {what: timed(command) for what, command in todo.items()}
    rows = {what: [run] if run[0] > LONG else [] for what, run in first.items()}
    for _ in range(RUNS):
        for what, command in todo.items():
            if first[what][0] <= LONG:
                rows[what].append(timed(command))
    print(f"\n{name}: {size(place):.1f} MB of CSV, {RUNS} runs each after one to warm up (one run where it takes over {LONG} s)")
    print(f"{'':34} {'median s':>9} {'min':>7} {'max':>7} {'CPU s':>7} {'peak MB':>8} {'ours/it':>10}")
    ours = None
    for what, runs in rows.items():
        print(row(what, runs, ours))
        ours = statistics.median(r[0] for r in runs) if ours is None else ours
    page = out / "review.html"
    print(f"review.html: {page.stat().st_size / 1e6:.2f} MB")
    shutil.rmtree(out, ignore_errors=True)


def versions():
    packages = sorted({p for _, _, needed in PEERS for p in needed})
    found = [p for p in packages if importlib.util.find_spec(p)]
    return ", ".join(f"{p} {importlib.metadata.version(p)}" for p in found) or "no peer's package"


def machine():
    """The processor's name, where the system tells it."""
    try:
        lines = pathlib.Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        lines = []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()


def main():
    if not BINARY.exists():
        sys.exit("build first: cargo build --release")
    BENCH.mkdir(parents=True, exist_ok=True)
    print(f"{machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start")
    print(f"python {platform.python_version()}, {versions()}")
    print(subprocess.run([BINARY, "--version"], capture_output=True, text=True, check=True).stdout.strip())
    bench("demo-data/film-shop", ROOT / "demo-data/film-shop")
    for jobs in [int(a) for a in sys.argv[1:]] or [1_000_000]:
        bench(f"{jobs:,} jobs", folder(jobs))


if __name__ == "__main__":
    main()
