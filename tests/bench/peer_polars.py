#!/usr/bin/env python3
"""polars reading a canonical folder and making the group-bys alone: areas by
job and finish, use and minutes by job, cross-products of areas and use, log
minutes by person and class, jobs by month, offers by sample, seller and class.

usage: peer_polars.py FOLDER        (package polars)
"""
import pathlib
import sys

import polars as pl


def main():
    folder = pathlib.Path(sys.argv[1])
    read = lambda name: pl.read_csv(folder / f"{name}.csv", try_parse_dates=True, infer_schema_length=10_000).lazy()
    jobs, surfaces, coatings = read("jobs"), read("surfaces"), read("coatings")
    for name in ["bottles", "callbacks", "people", "inspections"]:
        read(name).collect()
    key = [c for c in ["shop", "job"] if c in jobs.collect_schema().names()]
    own = jobs.filter(pl.col("finish").is_not_null()).select(*key, "finish", "area")
    area = pl.concat([own, surfaces.select(*key, "finish", "area")])
    area = area.group_by(*key, "finish").agg(pl.col("area").sum()).collect().lazy()
    work = coatings.group_by(key).agg(
        pl.col("minutes").sum(),
        pl.col("used").sum(),
        who=pl.col("applied_by").first(),
        people=pl.col("applied_by").n_unique(),
    )
    work = work.collect().lazy()
    pairs = area.join(area, on=key, suffix="_2")
    pairs = pairs.join(work.filter(pl.col("used") > 0), on=key).join(jobs.select(*key, whole="area"), on=key)
    pairs.group_by("finish", "finish_2").agg(
        (pl.col("area") * pl.col("area_2") / pl.col("whole")).sum(),
        (pl.col("area") * pl.col("used") / pl.col("whole")).sum().alias("xy"),
    ).collect()
    logs = work.filter(pl.col("minutes") > 0).join(jobs, on=key)
    logs = logs.with_columns(y=pl.col("minutes").log(), x=pl.col("area").log())
    logs.group_by("who", "vehicle_class").agg(
        pl.len(),
        pl.col("y").sum(),
        pl.col("x").sum(),
        (pl.col("y") ** 2).sum().alias("yy"),
        (pl.col("x") * pl.col("y")).sum().alias("xy"),
        (pl.col("x") ** 2).sum().alias("xx"),
    ).collect()
    jobs.group_by(pl.col("finished_on").dt.truncate("1mo"), "offered", "coated").agg(pl.len()).collect()
    offers = jobs.filter(pl.col("offered") == "yes")
    offers.group_by("sample", "sold_by", "vehicle_class").agg(pl.len(), (pl.col("coated") == "yes").sum()).collect()


if __name__ == "__main__":
    main()
