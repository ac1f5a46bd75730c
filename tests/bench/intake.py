#!/usr/bin/env python3
"""How long intake takes, beside polars' own typed read_csv of the same files.

usage: cargo build --release && python3 tests/bench/intake.py [FOLDER]

Default: 1,000,000 jobs of 50 shops, invented once into target/bench/. Ours is
`tallycoat check`: every line accounted for, every cell typed and held to its
limits, keys and links settled, what is odd listed; and the same with the typed
frames that a review goes on with (tests/bench/intake.rs). The peer only reads:
the same columns with the same types, given by a schema, so that it need infer
nothing. Each runs in a process of its own, in turn, RUNS times; the peer's
clock starts after its import, ours covers the process. CPU seconds say more
than wall seconds on a busy machine.
"""
import json
import os
import pathlib
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
BINARY = ROOT / "target/release/tallycoat"
BENCH = ROOT / "target/bench"
RUNS = 5
NUMBERS = """area coating_price coating_discount film_price minutes paused_minutes used air_temperature
surface_temperature relative_humidity volume left_over cost hourly_cost""".split()
DAYS = "finished_on quoted_on opened_on emptied_on reported_on started_on ended_on seen_on".split()
MOMENTS = "started_at ended_at released_at".split()


def peer(folder):
    """Reads all files, typed; prints wall and CPU seconds."""
    import polars

    types = {name: polars.Float64 for name in NUMBERS}
    types |= {name: polars.Date for name in DAYS} | {name: polars.Datetime for name in MOMENTS}
    start, cpu = time.perf_counter(), time.process_time()
    frames = []
    for file in sorted(pathlib.Path(folder).glob("*.csv")):
        with open(file, encoding="utf-8") as lines:
            names = next(lines).rstrip("\n").split(",")
        schema = {name: types.get(name, polars.String) for name in names}
        frames.append(polars.read_csv(file, schema=schema))
    print(time.perf_counter() - start, time.process_time() - cpu)
    return frames


def run(command):
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    said = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        sys.exit(f"{' '.join(map(str, command))} failed with {child.returncode}")
    wall, cpu = time.perf_counter() - start, usage.ru_utime + usage.ru_stime
    return wall, cpu, usage.ru_maxrss / 1024, said


def check(folder):
    return run([BINARY, "check", folder])[:3]


def frames_bench():
    """The program that makes the frames too, built if need be."""
    build = ["cargo", "bench", "--bench", "intake", "--no-run", "--message-format=json"]
    said = subprocess.run(build, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True).stdout
    parts = [json.loads(line) for line in said.splitlines()]
    return next(p["executable"] for p in parts if p.get("target", {}).get("kind") == ["bench"])


def theirs(folder):
    *_, peak, said = run([sys.executable, __file__, "--peer", folder])
    wall, cpu = map(float, said.split())
    return wall, cpu, peak


def main():
    if sys.argv[1:2] == ["--peer"]:
        peer(sys.argv[2])
        return
    if not BINARY.exists():
        sys.exit("build first: cargo build --release")
    folder = pathlib.Path(sys.argv[1]) if sys.argv[1:] else BENCH / "jobs-1000000"
    if not (folder / "jobs.csv").exists():
        BENCH.mkdir(parents=True, exist_ok=True)
        command = [BINARY, "invent", folder, "--jobs", "1000000", "--shops", "50"]
        subprocess.run(command, check=True)
    size = sum(f.stat().st_size for f in folder.glob("*.csv")) / 1e6
    with_frames = frames_bench()
    runs = {
        "tallycoat check": check,
        "the same, with frames": lambda folder: run([with_frames, folder])[:3],
        "polars typed read_csv": theirs,
    }
    for one in runs.values():
        one(folder)
    rows = {name: [] for name in runs}
    for _ in range(RUNS):
        for name, one in runs.items():
            rows[name].append(one(folder))
    print(f"{folder}: {size:.0f} MB, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"{'median of ' + str(RUNS):24} {'wall s':>7} {'CPU s':>7} {'peak MB':>8}")
    medians = {}
    for name, all_runs in rows.items():
        medians[name] = [statistics.median(column) for column in zip(*all_runs)]
        print("{:24} {:7.2f} {:7.2f} {:8.0f}".format(name, *medians[name]))
    *all_ours, peer_took = medians.items()
    for name, took in all_ours:
        wall, cpu = took[0] / peer_took[1][0], took[1] / peer_took[1][1]
        print(f"{name} / polars: wall {wall:.2f}, CPU {cpu:.2f}; memory / files {took[2] / size:.2f}")


if __name__ == "__main__":
    main()
