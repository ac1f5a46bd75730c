//! Slow, obvious twins of the fast methods for rates and survival, on seeded
//! random data full of ties, and what must not change with units, order or
//! names.

use crate::reference_rates::near;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallycoat::fits::survival::cox::{self, Cox, Jobs, Outcome, Params, Ties};
use tallycoat::fits::survival::{Times, km, logrank, restricted_mean};
use tallycoat::fits::{discovery, funnel, stratified};

/// Jobs with few distinct times, so that most are tied.
struct Random {
    time: Vec<f64>,
    failed: Vec<bool>,
    /// Two covariates a row: a group of 0 or 1, and a number.
    x: Vec<f64>,
    group: Vec<usize>,
    stratum: Vec<usize>,
}

impl Random {
    fn new(seed: u64, jobs: usize) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut data = Self {
            time: Vec::new(),
            failed: Vec::new(),
            x: Vec::new(),
            group: Vec::new(),
            stratum: Vec::new(),
        };
        for _ in 0..jobs {
            data.time.push(f64::from(rng.random_range(0..12_u32)));
            data.failed.push(rng.random_range(0..3) > 0);
            data.group.push(rng.random_range(0..3));
            data.stratum.push(rng.random_range(0..3));
            data.x
                .push(f64::from(u8::from(rng.random_range(0..2) == 0)));
            data.x.push(rng.random_range(-2.0..5.0));
        }
        data
    }

    fn times(&self) -> Times<'_> {
        Times {
            time: &self.time,
            failed: &self.failed,
            jobs: None,
        }
    }

    fn jobs(&self) -> Jobs<'_> {
        Jobs {
            times: self.times(),
            covariates: &self.x,
            columns: 2,
            strata: Some(&self.stratum),
        }
    }

    /// The same jobs backwards.
    fn reversed(&self) -> Self {
        let rows = self.x.chunks(2).rev().flatten();
        Self {
            time: self.time.iter().rev().copied().collect(),
            failed: self.failed.iter().rev().copied().collect(),
            x: rows.copied().collect(),
            group: self.group.iter().rev().copied().collect(),
            stratum: self.stratum.iter().rev().copied().collect(),
        }
    }
}

fn fitted(jobs: &Jobs<'_>, ties: Ties) -> Cox {
    let params = Params {
        ties,
        ..Params::default()
    };
    match cox::fit(jobs, params).unwrap() {
        Outcome::Fitted(fit) => fit,
        Outcome::Unbounded { columns } => panic!("unbounded: {columns:?}"),
    }
}

/// Kaplan-Meier by its definition: at every time all jobs are counted anew.
#[test]
fn kaplan_meier_counts_anew_at_every_time() {
    for seed in 0..20 {
        let data = Random::new(seed, 40);
        let curve = km::curve(data.times(), 0.95).unwrap();
        let mut share = 1.0;
        let mut sum = 0.0;
        let mut steps = curve.steps.iter();
        for t in 0..12 {
            let t = f64::from(t);
            let n = data.time.iter().filter(|x| **x >= t).count() as f64;
            let rows = data.time.iter().zip(&data.failed);
            let d = rows.filter(|(x, f)| **x == t && **f).count() as f64;
            if d == 0.0 {
                continue;
            }
            share *= 1.0 - d / n;
            sum += d / (n * (n - d));
            let step = steps.next().unwrap();
            assert_eq!(
                (step.time, step.at_risk as f64, step.failures as f64),
                (t, n, d)
            );
            near("share", step.share, share, 1e-12);
            if share > 0.0 {
                near(
                    "se",
                    step.standard_error.unwrap(),
                    share * sum.sqrt(),
                    1e-12,
                );
                let theta = (-share.ln()).ln();
                let half = 1.959963984540054 * sum.sqrt() / share.ln().abs();
                let band = step.band.unwrap();
                near("low", band.low, (-(theta + half).exp()).exp(), 1e-9);
                near("high", band.high, (-(theta - half).exp()).exp(), 1e-9);
            }
        }
        assert!(steps.next().is_none());
    }
}

/// The restricted mean by adding up the curve over tiny steps.
#[test]
fn restricted_mean_adds_up_the_curve() {
    let data = Random::new(4, 60);
    let curve = km::curve(data.times(), 0.95).unwrap();
    let mean = restricted_mean::mean(&curve, 9.3).unwrap();
    let step = 9.3 / 1e6;
    let slow: f64 = (0..1_000_000)
        .map(|i| step * curve.share_at(step * (f64::from(i) + 0.5)))
        .sum();
    near("area", mean.mean, slow, 1e-4);
}

/// Log-rank with three groups and strata, by its definition.
#[test]
fn log_rank_counts_anew_at_every_time() {
    for seed in 0..20 {
        let data = Random::new(seed, 60);
        let found = logrank::test(data.times(), &data.group, Some(&data.stratum)).unwrap();
        let mut gap = [0.0; 3];
        let mut covariance = nalgebra::Matrix2::<f64>::zeros();
        for stratum in 0..3 {
            for t in 0..12 {
                let t = f64::from(t);
                let own = |i: &usize| data.stratum[*i] == stratum;
                let rows: Vec<usize> = (0..60).filter(own).collect();
                let count = |g: Option<usize>, dying: bool| {
                    let fits = |i: &&usize| {
                        let dies = data.time[**i] == t && data.failed[**i];
                        let there = if dying { dies } else { data.time[**i] >= t };
                        there && g.is_none_or(|g| data.group[**i] == g)
                    };
                    rows.iter().filter(fits).count() as f64
                };
                let (n, d) = (count(None, false), count(None, true));
                if d == 0.0 {
                    continue;
                }
                for (g, gap) in gap.iter_mut().enumerate() {
                    *gap += count(Some(g), true) - d * count(Some(g), false) / n;
                }
                if n > 1.0 {
                    for g in 0..2 {
                        for h in 0..2 {
                            let (a, b) = (count(Some(g), false) / n, count(Some(h), false) / n);
                            let own = if g == h { 1.0 } else { 0.0 };
                            covariance[(g, h)] += d * (n - d) / (n - 1.0) * a * (own - b);
                        }
                    }
                }
            }
        }
        let two = nalgebra::Vector2::new(gap[0], gap[1]);
        let chi2 = two.dot(&(covariance.try_inverse().unwrap() * two));
        near("chi-square", found.test.chi2, chi2, 1e-9 * chi2.max(1.0));
        assert_eq!(found.test.df, 2);
        for (group, gap) in found.groups.iter().zip(gap) {
            near("O - E", group.observed as f64 - group.expected, gap, 1e-10);
        }
    }
}

/// The log partial likelihood with every risk set gathered anew.
fn slow_likelihood(data: &Random, beta: [f64; 2], ties: Ties) -> f64 {
    let eta = |i: usize| beta[0] * data.x[2 * i] + beta[1] * data.x[2 * i + 1];
    let n = data.time.len();
    let mut sum = 0.0;
    for stratum in 0..3 {
        for t in 0..12 {
            let t = f64::from(t);
            let own = || (0..n).filter(|i| data.stratum[*i] == stratum);
            let dying: Vec<usize> = own()
                .filter(|i| data.time[*i] == t && data.failed[*i])
                .collect();
            let risk: f64 = own()
                .filter(|i| data.time[*i] >= t)
                .map(|i| eta(i).exp())
                .sum();
            let tied: f64 = dying.iter().map(|i| eta(*i).exp()).sum();
            for (l, i) in dying.iter().enumerate() {
                let share = match ties {
                    Ties::Efron => l as f64 / dying.len() as f64,
                    Ties::Breslow => 0.0,
                };
                sum += eta(*i) - (risk - share * tied).ln();
            }
        }
    }
    sum
}

#[test]
fn cox_gathers_every_risk_set_anew() {
    for (seed, ties) in [(1, Ties::Efron), (2, Ties::Breslow), (3, Ties::Efron)] {
        let data = Random::new(seed, 60);
        let fit = fitted(&data.jobs(), ties);
        let at = |b: [f64; 2]| slow_likelihood(&data, b, ties);
        let [b0, b1] = [fit.coefficients[0], fit.coefficients[1]];
        near("at the top", fit.log_likelihood, at([b0, b1]), 1e-9);
        near("at zero", fit.log_likelihood_null, at([0.0, 0.0]), 1e-9);
        // Slopes and curvature of the slow likelihood, by differences.
        let h = 1e-4;
        let slope0 = (at([b0 + h, b1]) - at([b0 - h, b1])) / (2.0 * h);
        let slope1 = (at([b0, b1 + h]) - at([b0, b1 - h])) / (2.0 * h);
        near("slope", slope0, 0.0, 1e-5);
        near("slope", slope1, 0.0, 1e-5);
        let top = at([b0, b1]);
        let i00 = -(at([b0 + h, b1]) - 2.0 * top + at([b0 - h, b1])) / (h * h);
        let i11 = -(at([b0, b1 + h]) - 2.0 * top + at([b0, b1 - h])) / (h * h);
        let corners = at([b0 + h, b1 + h]) - at([b0 + h, b1 - h]) - at([b0 - h, b1 + h])
            + at([b0 - h, b1 - h]);
        let i01 = -corners / (4.0 * h * h);
        let variance = i11 / (i00 * i11 - i01 * i01);
        near("se", fit.standard_error(0).unwrap(), variance.sqrt(), 1e-3);
    }
}

#[test]
fn survival_knows_no_order_unit_or_origin() {
    let data = Random::new(7, 80);
    let back = data.reversed();
    let (a, b) = (
        fitted(&data.jobs(), Ties::Efron),
        fitted(&back.jobs(), Ties::Efron),
    );
    near("order", a.coefficients[1], b.coefficients[1], 1e-10);
    let tests = [&data, &back].map(|d| logrank::test(d.times(), &d.group, None).unwrap().test.chi2);
    near("order", tests[0], tests[1], 1e-10);

    let months: Vec<f64> = data.time.iter().map(|t| t / 30.4375).collect();
    let moved: Vec<f64> = data.x.iter().map(|x| 1e3 + 10.0 * x).collect();
    let scaled = Jobs {
        times: Times {
            time: &months,
            failed: &data.failed,
            jobs: None,
        },
        covariates: &moved,
        ..data.jobs()
    };
    let c = fitted(&scaled, Ties::Efron);
    near("scale", c.coefficients[1] * 10.0, a.coefficients[1], 1e-9);
    near("likelihood", c.log_likelihood, a.log_likelihood, 1e-8);
    let (days, unit) = (
        km::curve(data.times(), 0.95).unwrap(),
        km::curve(scaled.times, 0.95).unwrap(),
    );
    let shares = |c: &km::Curve| c.steps.iter().map(|s| s.share).collect::<Vec<_>>();
    assert_eq!(shares(&days), shares(&unit));
}

/// A stratum in which nobody fails, and a group that is never at risk with
/// another, change nothing.
#[test]
fn an_empty_part_changes_nothing() {
    let data = Random::new(9, 60);
    let before = fitted(&data.jobs(), Ties::Efron);
    let test = logrank::test(data.times(), &data.group, Some(&data.stratum)).unwrap();
    let mut more = Random::new(9, 60);
    for i in 0..10 {
        more.time.push(f64::from(i));
        more.failed.push(false);
        more.x.extend([0.5, f64::from(i)]);
        more.group.push(1);
        more.stratum.push(7);
    }
    let after = fitted(&more.jobs(), Ties::Efron);
    near("cox", after.coefficients[0], before.coefficients[0], 1e-9);
    let again = logrank::test(more.times(), &more.group, Some(&more.stratum)).unwrap();
    near("log-rank", again.test.chi2, test.test.chi2, 1e-10);
}

/// Benjamini and Hochberg by their definition: the largest k with p(k) ≤
/// k q/m, and all up to it.
#[test]
fn false_discovery_by_its_definition() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    for _ in 0..200 {
        let m = rng.random_range(1..30_usize);
        let p: Vec<f64> = (0..m).map(|_| rng.random::<f64>().powi(3)).collect();
        let q = 0.1;
        let mut sorted = p.clone();
        sorted.sort_by(f64::total_cmp);
        let passing = (1..=m)
            .rev()
            .find(|&k| sorted[k - 1] <= k as f64 * q / m as f64);
        let cut = passing.map_or(-1.0, |k| sorted[k - 1]);
        let found = discovery::benjamini_hochberg(&p, q).unwrap();
        for test in found {
            assert_eq!(test.raised, test.p <= cut, "{test:?} {cut}");
        }
    }
}

/// The posterior rule by trying every number of people.
#[test]
fn the_posterior_rule_tries_every_number() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let rule = discovery::Rule::default();
    for _ in 0..300 {
        let m = rng.random_range(1..12_usize);
        let chances: Vec<f64> = (0..m).map(|_| 1.0 - rng.random::<f64>().powi(3)).collect();
        let mut sorted = chances.clone();
        sorted.sort_by(|a, b| b.total_cmp(a));
        let fine = |k: &usize| {
            let error: f64 = sorted[..*k].iter().map(|c| 1.0 - c).sum();
            error / *k as f64 <= rule.mean_error && sorted[*k - 1] >= rule.least_chance
        };
        let most = (1..=m).filter(fine).max().unwrap_or(0);
        let found = discovery::by_chance(&chances, rule).unwrap();
        assert_eq!(found.raised.iter().filter(|r| **r).count(), most);
        assert!(found.mean_error <= rule.mean_error);
    }
}

/// Funnel limits with the binomial added up term by term.
#[test]
fn funnel_limits_add_up_term_by_term() {
    for n in [1_u64, 5, 13, 60] {
        for target in [0.05_f64, 0.3, 0.8] {
            for p in [0.001, 0.025, 0.975, 0.999] {
                let term = |r: u64| {
                    let choose: f64 = (0..r).map(|i| (n - i) as f64 / (i + 1) as f64).product();
                    choose * target.powi(r as i32) * (1.0 - target).powi((n - r) as i32)
                };
                let upto = |r: u64| (0..=r).map(term).sum::<f64>();
                let r = (0..=n).find(|r| upto(*r) >= p).unwrap_or(n);
                let slow = (r as f64 - (upto(r) - p) / term(r)) / n as f64;
                let fast = funnel::interpolated(target, n, p).unwrap();
                near("limit", fast, slow, 1e-9);
            }
        }
    }
}

/// The order of strata and a doubling of every count leave the pooled ratio
/// and difference alone.
#[test]
fn pooling_knows_no_order_and_no_size() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let mut stratum = |i: u64| {
        let (a, b) = (rng.random_range(5..30_u64), rng.random_range(5..30_u64));
        stratified::Stratum {
            name: i.to_string(),
            a_yes: rng.random_range(1..a),
            a_offers: a,
            b_yes: rng.random_range(1..b),
            b_offers: b,
        }
    };
    let strata: Vec<_> = (0..6).map(&mut stratum).collect();
    let mut turned: Vec<_> = strata.iter().rev().cloned().collect();
    let plain = stratified::pool(&strata, 0.95).unwrap();
    for s in &mut turned {
        for count in [&mut s.a_yes, &mut s.a_offers, &mut s.b_yes, &mut s.b_offers] {
            *count *= 2;
        }
    }
    let doubled = stratified::pool(&turned, 0.95).unwrap();
    let (stratified::OddsRatio::Known(p), stratified::OddsRatio::Known(d)) =
        (plain.odds_ratio, doubled.odds_ratio)
    else {
        panic!("both are known")
    };
    near("ratio", p.value, d.value, 1e-12);
    let width = |e: tallycoat::estimate::Estimate| (e.high / e.low).ln();
    near("width", width(p) / width(d), 2.0_f64.sqrt(), 1e-9);
    let (p, d) = (
        plain.difference.known().unwrap(),
        doubled.difference.known().unwrap(),
    );
    near("difference", p.value, d.value, 1e-12);
}
