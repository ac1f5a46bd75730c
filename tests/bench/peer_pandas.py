#!/usr/bin/env python3
"""What an analyst would write: a month's review of a canonical folder with
pandas and statsmodels, charts with matplotlib where it is installed. Weighted
least squares of the coating used, a mixed model of the minutes, a logistic
regression of the offers, margins, survival of the film; one HTML page. No
validation, no small-sample intervals, no history of constants.

usage: peer_pandas.py FOLDER        (packages pandas, statsmodels)
"""
import io
import pathlib
import sys
import tempfile
import warnings

import numpy as np
import pandas as pd
import statsmodels.api as sm
import statsmodels.formula.api as smf
from statsmodels.stats.proportion import proportion_confint

warnings.filterwarnings("ignore")


def charts(draw):
    try:
        import matplotlib
    except ImportError:
        return ""
    matplotlib.use("svg")
    import matplotlib.pyplot as plt

    page = []
    for one in draw:
        figure, axes = plt.subplots()
        one(axes)
        text = io.StringIO()
        figure.savefig(text, format="svg")
        plt.close(figure)
        page.append(text.getvalue())
    return "".join(page)


def main():
    folder = pathlib.Path(sys.argv[1])
    read = lambda name, dates=(): pd.read_csv(folder / f"{name}.csv", parse_dates=list(dates))
    jobs, work = read("jobs", ["finished_on"]), read("coatings")
    surfaces, bottles, people = read("surfaces"), read("bottles"), read("people")
    callbacks = read("callbacks", ["reported_on"])
    for table in [jobs, work, surfaces, people, callbacks]:
        shop = table["shop"].fillna("") if "shop" in table else ""
        for name in {"job", "person", "applied_by"} & set(table):
            table[name] = shop + "/" + table[name].astype(str)

    one = jobs[jobs.finish.notna()][["job", "finish", "area"]]
    area = pd.concat([one, surfaces[["job", "finish", "area"]]])
    area = area.pivot_table(index="job", columns="finish", values="area", aggfunc="sum", fill_value=0)
    sums = {"minutes": "sum", "used": "sum", "applied_by": "first"}
    x = work.groupby("job", as_index=False).agg(sums)
    x = x.merge(jobs, on="job").merge(area, left_on="job", right_index=True)
    x = x.merge(people[["person", "hourly_cost"]], left_on="applied_by", right_on="person")
    finishes = list(area.columns)

    measured = x[x.used > 0]
    use = sm.WLS(measured.used, sm.add_constant(measured[finishes]), weights=1 / measured.area).fit()
    timed = x[(x.minutes > 0) & (x.area > 0)].copy()
    timed["log_area"] = np.log(timed.area / timed.groupby("vehicle_class").area.transform("median"))
    timed["log_minutes"] = np.log(timed.minutes)
    timed["kind"] = timed.finish.fillna("two")
    minutes = smf.mixedlm("log_minutes ~ 0 + vehicle_class + log_area + kind", timed, groups=timed.applied_by).fit(reml=True)
    effects = sorted(v.iloc[0] for v in minutes.random_effects.values())

    jobs["sold"] = jobs.coated == "yes"
    months = jobs.groupby(jobs.finished_on.dt.to_period("M")).sold.agg(["sum", "count"])
    proportion_confint(months["sum"], months["count"], method="wilson")
    offers = jobs[jobs.offered == "yes"].assign(accepted=lambda t: t.sold.astype(int))
    smf.glm("accepted ~ C(sample) + C(vehicle_class) + C(finish)", offers, family=sm.families.Binomial()).fit()

    used = x.used.where(x.used > 0, use.predict(sm.add_constant(x[finishes])))
    x["cost"] = used * bottles.cost.sum() / bottles.volume.sum() + x.minutes / 60 * x.hourly_cost * 1.3
    x["net"] = x.coating_price - x.coating_discount.fillna(0)
    x["margin"] = (x.net - x.cost) / x.net

    end = jobs.finished_on.max()
    failed = callbacks[callbacks.cause == "film_failure"].groupby("job").reported_on.min()
    jobs = jobs.merge(failed.rename("failed"), left_on="job", right_index=True, how="left")
    days = (jobs.failed.fillna(end) - jobs.finished_on).dt.days.clip(lower=1)
    curves = [sm.SurvfuncRight(days[jobs.sold == s], jobs.failed.notna()[jobs.sold == s]) for s in [True, False]]

    some = x.sample(min(len(x), 5_000), random_state=1)
    page = charts(
        [
            lambda a: a.errorbar(use.params, range(len(use.params)), xerr=1.96 * use.bse, fmt="o"),
            lambda a: a.plot(months.index.astype(str), months["sum"] / months["count"]),
            lambda a: a.plot(effects, range(len(effects)), "o"),
            lambda a: a.scatter(some.cost, some.net),
            lambda a: [a.step(c.surv_times, c.surv_prob) for c in curves],
        ]
    )
    tables = x.groupby("vehicle_class").margin.describe().to_html() + x[x.margin < 0.5].head(50).to_html()
    with tempfile.NamedTemporaryFile("w", suffix=".html") as out:
        out.write(f"<html>{page}{tables}</html>")


if __name__ == "__main__":
    main()
