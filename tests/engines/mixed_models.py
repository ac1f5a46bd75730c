#!/usr/bin/env python3
"""The minutes' mixed model beside statsmodels' MixedLM (REML) on the same rows.

usage: pip install -r tests/bench/requirements.txt
       cargo build --release && cargo bench --bench minutes_fit --no-run
       python3 tests/engines/mixed_models.py [FOLDER ...]

Without a folder: five shops by `tallycoat invent`, small to large. With
folders, each a shop in the canonical form, such as
`tallycoat invent big --jobs 1000000 --shops 50` for 484,000 coated jobs by
about 1,000 people. The rows of a shop are made here, by pandas; both sides get
the same ones, and no job is left out.

Estimates (coefficients and both variances) must agree to 1e-6 relative with
statsmodels' fit by BFGS to a gradient of 1e-10; its default tolerance leaves the
variance between people at 1e-4, and L-BFGS runs onto the boundary, where its
likelihood is infinite (0.15.0, on the demo shop). Its coefficients at our two
variances must agree as well, which no optimiser bears on. Where the first do not
agree, its own restricted likelihood at either optimum says who stopped short.
Speed is that of one fit from the columns in memory to the estimates, in the same
run: ours is the median of five, statsmodels' its one fit with defaults. Ends with
status 1 where estimates disagree, or where a shop of 100,000 rows or more is not
fitted 20 times faster.
"""
import json
import pathlib
import subprocess
import sys
import tempfile
import time
import warnings

import numpy as np
import pandas as pd
from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

ROOT = pathlib.Path(__file__).resolve().parents[2]
BINARY = ROOT / "target/release/tallycoat"
FINISHES = ["gloss", "satin", "matte", "textured"]
AGREE = 1e-6
FASTER = 20
LARGE = 100_000
SHOPS = [(120, 1), (400, 2), (1_200, 3), (6_000, 4), (20_000, 5)]


def rows(folder):
    """Rows of a shop's coated jobs whose minutes are known."""
    read = lambda name: pd.read_csv(folder / f"{name}.csv", dtype={"job": str, "person": str})
    jobs, work, surfaces = read("jobs"), read("coatings"), read("surfaces")
    keys = ["job"]
    if "shop" in jobs:
        keys = ["shop", "job"]
    jobs = jobs[jobs.coated == "yes"].set_index(keys)
    clock = (pd.to_datetime(work.ended_at) - pd.to_datetime(work.started_at)).dt.total_seconds() / 60
    work["minutes"] = work.minutes.fillna(clock - work.paused_minutes.fillna(0))
    work["who"] = work.applied_by if keys == ["job"] else work.shop + "/" + work.applied_by
    spells = work.groupby(keys).agg(minutes=("minutes", "sum"), people=("who", "nunique"), who=("who", "first"))
    pieces = surfaces.pivot_table(index=keys, columns="finish", values="area", aggfunc="sum", fill_value=0.0)
    lone = jobs[~jobs.index.isin(pieces.index) & jobs.finish.notna() & jobs.area.notna()]
    lone = lone.assign(one=lone.area).pivot_table(index=keys, columns="finish", values="one", fill_value=0.0)
    areas = pd.concat([pieces, lone]).reindex(columns=FINISHES).fillna(0.0)
    all_ = jobs[["vehicle_class", "coverage"]].join(spells, how="inner").join(areas, how="inner")
    all_["area"] = all_[FINISHES].sum(axis=1)
    all_ = all_[(all_.minutes > 0) & (all_.area > 0)]
    full = all_[all_.coverage == "full"].groupby("vehicle_class").area.median()
    out = pd.DataFrame({"minutes": all_.minutes})
    out["class"] = all_.vehicle_class.astype("category").cat.codes
    out["covered"] = all_.area / all_.vehicle_class.map(full)
    alone = all_.who.where(all_.people == 1)
    out["person"] = alone.astype("category").cat.codes.replace(-1, np.nan).astype("Int64")
    for finish in FINISHES:
        out[finish] = all_[finish] / all_.area
    return out.reset_index(drop=True)


def design(r):
    """Columns as the program has them; jobs that several shared are one group
    with a level of its own, which tells nothing of people."""
    columns = [(r["class"] == c).astype(float) for c in range(r["class"].max() + 1)]
    columns += [np.log(r.covered)] + [r[f] for f in FINISHES[1:]]
    shared = r.person.isna()
    if shared.any() and not shared.all():
        columns.append(shared.astype(float))
    return np.column_stack(columns), r.person.fillna(-1).to_numpy(dtype=np.int64)


def ours(r, bench):
    with tempfile.TemporaryDirectory() as place:
        file = pathlib.Path(place) / "rows.csv"
        r.to_csv(file, index=False)
        said = subprocess.run([bench, str(file)], check=True, capture_output=True, text=True).stdout
    return json.loads(said)


class Peer:
    """statsmodels' model, its fit, and its restricted likelihood."""

    def __init__(self, r):
        self.x, self.groups = design(r)
        self.y = np.log(r.minutes.to_numpy())
        started = time.perf_counter()
        self.model = MixedLM(self.y, self.x, groups=self.groups)
        usual = self.model.fit(reml=True)
        self.seconds = time.perf_counter() - started
        self.fit = self.model.fit(reml=True, method="bfgs", gtol=1e-10, start_params=usual.params_object)

    def likelihood(self, ratio):
        """At a ratio of the two variances, all else at its best."""
        params = MixedLMParams.from_components(fe_params=self.fit.fe_params, cov_re=np.array([[ratio]]))
        return self.model.loglike(params, profile_fe=True)

    def at(self, ratio):
        cov = np.array([[ratio]])
        fe, _ = self.model.get_fe_params(cov, np.zeros(0))
        scale = self.model.get_scale(fe, cov, np.zeros(0))
        return np.concatenate([fe, [scale, ratio * scale]])

    def ratio(self):
        return float(self.fit.cov_re[0, 0] / self.fit.scale)


def apart(a, b):
    return float(np.max(np.abs(a - b) / np.maximum(np.abs(b), 1e-3)))


def compare(name, r, bench):
    mine = ours(r, bench)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        peer = Peer(r)
        found = np.array(mine["coefficients"] + [mine["residual_variance"], mine["group_variance"]])
        theirs = np.concatenate([peer.fit.fe_params, [peer.fit.scale, peer.fit.cov_re[0, 0]]])
        off = apart(found, theirs)
        ratio = mine["group_variance"] / mine["residual_variance"]
        by_formula = apart(found, peer.at(ratio))
        gain = peer.likelihood(ratio) - peer.likelihood(peer.ratio())
    faster = peer.seconds / mine["seconds"]
    print(f"{name}: {mine['rows']} rows, {r.person.nunique()} people")
    print(f"  estimates apart by {off:.1e}; by {by_formula:.1e} at our variances")
    good = by_formula <= AGREE
    if off > AGREE:
        who = "statsmodels" if gain >= 0 else "we"
        print(f"  {who} stopped short: its restricted likelihood is {gain:.2e} higher at our optimum")
        good = good and gain >= 0
    print(f"  {mine['seconds']:.4f} s against {peer.seconds:.2f} s: {faster:.0f} times faster")
    if mine["rows"] >= LARGE:
        good = good and faster >= FASTER
    print("  agrees" if good else "  DOES NOT")
    return good


def bench_binary():
    """The bench as cargo built it last."""
    said = subprocess.run(
        ["cargo", "bench", "--bench", "minutes_fit", "--no-run", "--message-format=json"],
        check=True, capture_output=True, text=True, cwd=ROOT,
    ).stdout
    built = [json.loads(line) for line in said.splitlines() if '"minutes_fit"' in line]
    return next(b["executable"] for b in built if b.get("executable"))


def main():
    bench = bench_binary()
    folders = [pathlib.Path(a) for a in sys.argv[1:]]
    good = True
    if folders:
        for folder in folders:
            good &= compare(folder.name, rows(folder), bench)
    else:
        with tempfile.TemporaryDirectory() as place:
            for jobs, seed in SHOPS:
                folder = pathlib.Path(place) / f"{jobs}-{seed}"
                command = [BINARY, "invent", folder, "--jobs", str(jobs), "--seed", str(seed)]
                subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
                good &= compare(f"{jobs} jobs, seed {seed}", rows(folder), bench)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
