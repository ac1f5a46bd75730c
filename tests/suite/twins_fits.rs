//! Slow, obvious twins of the fast fits, and what must not change when the
//! data are shifted, scaled, shuffled, or split and merged.
//!
//! The twins build whole n x n covariance matrices, look for the best variance
//! by halving a bracket of the criterion, or try every subset; nothing is
//! shared with the fits but the public data types.

use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use tallycoat::estimate::Figure;
use tallycoat::fits::consumption::{
    Bottle, Bottles, Consumption, ConsumptionFit, Jobs, Prior, Straddle, difference,
};
use tallycoat::fits::dist::chi_squared_quantile;
use tallycoat::fits::evidence::{Evidence, Source};
use tallycoat::fits::linear::{CrossProducts, Design, LeastSquares};
use tallycoat::fits::minutes::{self, Minutes, MinutesFit, NewJob, Shape};
use tallycoat::fits::mixed::{GroupSpread, GroupStatistics, MixedFit, RandomIntercept};
use tallycoat::fits::robust::Outliers;

fn near(what: &str, fast: f64, slow: f64, tolerance: f64) {
    let miss = (fast - slow).abs() / slow.abs().max(1.0);
    assert!(
        miss <= tolerance,
        "{what}: {fast:e} against {slow:e}, off by {miss:e}"
    );
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

// A small shop ---------------------------------------------------------------

const FINISHES: usize = 3;
const CLASSES: usize = 3;

/// Jobs of an invented shop, with its own simple generator.
#[derive(Clone)]
struct Shop {
    used: Vec<f64>,
    areas: Vec<f64>,
    minutes: Vec<f64>,
    class: Vec<usize>,
    covered: Vec<f64>,
    shares: Vec<f64>,
    person: Vec<Option<u64>>,
}

fn shop(seed: u64, jobs: usize) -> Shop {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let full = [16.0, 21.0, 26.0];
    let effects: Vec<f64> = (0..5).map(|_| 0.15 * normal(&mut rng)).collect();
    let mut shop = Shop {
        used: Vec::new(),
        areas: Vec::new(),
        minutes: Vec::new(),
        class: Vec::new(),
        covered: Vec::new(),
        shares: Vec::new(),
        person: Vec::new(),
    };
    for job in 0..jobs {
        let class = rng.random_range(0..CLASSES);
        let covered = if job % 5 == 0 {
            rng.random_range(0.3..0.7)
        } else {
            1.0
        };
        let area = full[class] * covered * rng.random_range(0.95..1.05);
        let mut shares = [0.0; FINISHES];
        let first = rng.random_range(0..FINISHES);
        let second = if job % 6 == 0 {
            (first + 1) % FINISHES
        } else {
            first
        };
        let part = rng.random_range(0.2..0.5);
        shares[first] += 1.0 - part;
        shares[second] += part;
        let mean: f64 = 1.2
            + [1.5, 1.8, 2.3]
                .iter()
                .zip(shares)
                .map(|(c, s)| c * s * area)
                .sum::<f64>();
        let who = rng.random_range(0..effects.len());
        let delta: f64 = [0.0, 0.1, 0.25]
            .iter()
            .zip(shares)
            .map(|(d, s)| d * s)
            .sum();
        let log = (30.0 + 6.0 * class as f64).ln() + 0.8 * (area / full[class]).ln() + delta;
        shop.used.push(mean + area.sqrt() * normal(&mut rng));
        shop.areas.extend(shares.map(|s| s * area));
        shop.minutes
            .push((log + effects[who] + 0.2 * normal(&mut rng)).exp());
        shop.class.push(class);
        shop.covered.push(area / full[class]);
        shop.shares.extend(shares);
        shop.person.push((job % 9 != 0).then_some(who as u64));
    }
    shop
}

/// The jobs of `shop` in another order.
fn reordered(shop: &Shop, order: &[usize]) -> Shop {
    let wide = |v: &[f64]| {
        order
            .iter()
            .flat_map(|&i| v[i * FINISHES..(i + 1) * FINISHES].to_vec())
            .collect()
    };
    Shop {
        used: order.iter().map(|&i| shop.used[i]).collect(),
        areas: wide(&shop.areas),
        minutes: order.iter().map(|&i| shop.minutes[i]).collect(),
        class: order.iter().map(|&i| shop.class[i]).collect(),
        covered: order.iter().map(|&i| shop.covered[i]).collect(),
        shares: wide(&shop.shares),
        person: order.iter().map(|&i| shop.person[i]).collect(),
    }
}

fn use_of(shop: &Shop) -> ConsumptionFit {
    let jobs = Jobs::new(&shop.used, &shop.areas, FINISHES).unwrap();
    Consumption::new(jobs)
        .with_outliers(Outliers::Keep)
        .fit()
        .unwrap()
}

const SHAPE: Shape = Shape {
    classes: CLASSES,
    finishes: FINISHES,
    smoothest: 0,
};

fn jobs_of(shop: &Shop) -> minutes::Jobs<'_> {
    let (m, s) = (&shop.minutes, &shop.shares);
    minutes::Jobs::new(m, &shop.class, &shop.covered, s, &shop.person, SHAPE).unwrap()
}

fn minutes_of(shop: &Shop) -> MinutesFit {
    Minutes::new(jobs_of(shop))
        .with_outliers(Outliers::Keep)
        .fit()
        .unwrap()
}

/// Design rows and log minutes of a shop.
fn rows_of(shop: &Shop) -> (Vec<Vec<f64>>, Vec<f64>) {
    let row = |i: usize| {
        let shares = &shop.shares[i * FINISHES..(i + 1) * FINISHES];
        SHAPE
            .row(&NewJob {
                class: shop.class[i],
                covered: shop.covered[i],
                finish_shares: shares,
            })
            .unwrap()
    };
    let rows = (0..shop.minutes.len()).map(row).collect();
    (rows, shop.minutes.iter().map(|m| m.ln()).collect())
}

fn gather(rows: &[Vec<f64>], y: &[f64], person: &[Option<u64>]) -> GroupStatistics {
    let mut statistics = GroupStatistics::new(rows[0].len());
    for ((x, y), p) in rows.iter().zip(y).zip(person) {
        statistics.add(*p, x, *y);
    }
    statistics
}

// Mixed model against dense generalised least squares --------------------------

/// Everything by n x n matrices.
struct Dense {
    beta: DVector<f64>,
    sigma2: f64,
    tau2: f64,
    criterion: f64,
    adjusted: DMatrix<f64>,
    df: Vec<f64>,
}

fn dense_mixed(rows: &[Vec<f64>], y: &[f64], person: &[Option<u64>]) -> Dense {
    let (n, p) = (rows.len(), rows[0].len());
    let x = DMatrix::from_fn(n, p, |i, j| rows[i][j]);
    let y = DVector::from_column_slice(y);
    let same = |i: usize, j: usize| i == j || (person[i].is_some() && person[i] == person[j]);
    let zz = DMatrix::from_fn(n, n, |i, j| f64::from(u8::from(same(i, j))));
    let at = |v: f64| {
        let h = DMatrix::identity(n, n) + &zz * v;
        let inverse = h.clone().try_inverse().unwrap();
        let a = x.transpose() * &inverse * &x;
        let beta = a.clone().try_inverse().unwrap() * x.transpose() * &inverse * &y;
        let r = &y - &x * &beta;
        let sigma2 = r.dot(&(&inverse * &r)) / (n - p) as f64;
        let logs = h.determinant().ln() + a.determinant().ln();
        let scale = (2.0 * std::f64::consts::PI * sigma2).ln();
        (logs + (n - p) as f64 * (1.0 + scale), beta, sigma2)
    };
    // Golden section on ln v.
    let (mut low, mut high) = (-9.0f64, 5.0f64);
    for _ in 0..120 {
        let (a, b) = (low + 0.381966 * (high - low), low + 0.618034 * (high - low));
        if at(a.exp()).0 < at(b.exp()).0 {
            high = b;
        } else {
            low = a;
        }
    }
    let v = low.exp();
    let (criterion, beta, sigma2) = at(v);
    let tau2 = v * sigma2;
    // Kenward and Roger, literally.
    let w = (DMatrix::identity(n, n) * sigma2 + &zz * tau2)
        .try_inverse()
        .unwrap();
    let parts = [DMatrix::identity(n, n), zz];
    let phi = (x.transpose() * &w * &x).try_inverse().unwrap();
    let slope: Vec<_> = parts
        .iter()
        .map(|d| -(x.transpose() * &w * d * &w * &x))
        .collect();
    let q = |i: usize, j: usize| x.transpose() * &w * &parts[i] * &w * &parts[j] * &w * &x;
    let information = DMatrix::from_fn(2, 2, |i, j| {
        let plain = (&w * &parts[i] * &w * &parts[j]).trace();
        0.5 * (plain - 2.0 * (&phi * q(i, j)).trace()
            + (&phi * &slope[i] * &phi * &slope[j]).trace())
    });
    let variances = information.try_inverse().unwrap();
    let mut middle = DMatrix::zeros(p, p);
    for i in 0..2 {
        for j in 0..2 {
            middle += (q(i, j) - &slope[i] * &phi * &slope[j]) * variances[(i, j)];
        }
    }
    let df = (0..p).map(|k| {
        let l = DVector::from_fn(p, |j, _| f64::from(u8::from(j == k)));
        let g = DVector::from_fn(2, |i, _| l.dot(&(&phi * &slope[i] * &phi * &l)));
        2.0 * l.dot(&(&phi * &l)).powi(2) / g.dot(&(&variances * &g))
    });
    Dense {
        df: df.collect(),
        adjusted: &phi + &phi * middle * &phi * 2.0,
        beta,
        sigma2,
        tau2,
        criterion,
    }
}

#[test]
fn mixed_model_equals_dense_generalised_least_squares() {
    let mut estimated = 0;
    for seed in 0..6 {
        let shop = shop(seed, 40);
        let (rows, y) = rows_of(&shop);
        let fast = RandomIntercept::default()
            .fit(&gather(&rows, &y, &shop.person))
            .unwrap();
        if fast.spread != GroupSpread::Estimated {
            continue;
        }
        estimated += 1;
        let slow = dense_mixed(&rows, &y, &shop.person);
        // Golden section finds v to the root of rounding, 1e-7; d is flat
        // there, so d itself holds to 1e-12.
        near("criterion", fast.criterion, slow.criterion, 1e-11);
        near("sigma^2", fast.residual_variance, slow.sigma2, 1e-6);
        near("tau^2", fast.group_variance, slow.tau2, 1e-6);
        for j in 0..slow.beta.len() {
            near("beta", fast.coefficients[j], slow.beta[j], 1e-6);
            let mut l = vec![0.0; slow.beta.len()];
            l[j] = 1.0;
            let c = fast.combination(&l);
            near(
                "standard error",
                c.standard_error,
                slow.adjusted[(j, j)].sqrt(),
                1e-6,
            );
            // Held to bounds that no column here reaches, but seed by seed.
            near("df", c.df, slow.df[j].clamp(4.0, 34.0), 1e-4);
        }
    }
    assert!(estimated >= 4, "only {estimated} shops off the boundary");
}

#[test]
fn group_statistics_split_merge_and_shuffle() {
    let shop = shop(3, 60);
    let (rows, y) = rows_of(&shop);
    let whole = gather(&rows, &y, &shop.person);
    let fit = |s: &GroupStatistics| RandomIntercept::default().fit(s).unwrap();
    let same = |a: &MixedFit, b: &MixedFit| {
        near("criterion", a.criterion, b.criterion, 1e-10);
        near("tau^2", a.group_variance, b.group_variance, 1e-9);
        for (x, y) in a.coefficients.iter().zip(&b.coefficients) {
            near("beta", *x, *y, 1e-10);
        }
    };
    for cut in [0, 1, 17, 59, 60] {
        let mut left = gather_or_none(&rows[..cut], &y[..cut], &shop.person[..cut], rows[0].len());
        let right = gather_or_none(&rows[cut..], &y[cut..], &shop.person[cut..], rows[0].len());
        left.merge(&right).unwrap();
        assert_eq!(left.rows(), 60);
        same(&fit(&left), &fit(&whole));
        if cut == 0 || cut == 60 {
            assert_eq!(left, whole, "merging with an empty part must be exact");
        }
    }
    let order: Vec<usize> = (0..60).map(|i| i * 7 % 60).collect();
    let mixed = reordered(&shop, &order);
    let (rows, y) = rows_of(&mixed);
    same(&fit(&gather(&rows, &y, &mixed.person)), &fit(&whole));
    let wrong = GroupStatistics::new(2);
    assert!(gather(&rows, &y, &mixed.person).merge(&wrong).is_err());
}

fn gather_or_none(
    rows: &[Vec<f64>],
    y: &[f64],
    person: &[Option<u64>],
    p: usize,
) -> GroupStatistics {
    if rows.is_empty() {
        GroupStatistics::new(p)
    } else {
        gather(rows, y, person)
    }
}

#[test]
fn minutes_twice_as_long_are_twice_as_long() {
    let one = shop(4, 50);
    let mut two = one.clone();
    two.minutes.iter_mut().for_each(|m| *m *= 2.0);
    let (a, b) = (minutes_of(&one), minutes_of(&two));
    for (x, y) in a.classes.iter().zip(&b.classes) {
        for (x, y) in [
            (&x.data_alone.typical, &y.data_alone.typical),
            (&x.data_alone.average, &y.data_alone.average),
            (&x.data_alone.plan_for, &y.data_alone.plan_for),
        ] {
            let (x, y) = (x.known().unwrap(), y.known().unwrap());
            near("value", y.value, 2.0 * x.value, 1e-9);
            near("low", y.low, 2.0 * x.low, 1e-8);
            near("high", y.high, 2.0 * x.high, 1e-8);
        }
    }
    near(
        "gamma",
        b.covered_share_exponent.value().unwrap(),
        a.covered_share_exponent.value().unwrap(),
        1e-9,
    );
    near(
        "person sd",
        b.person_sd.value().unwrap(),
        a.person_sd.value().unwrap(),
        1e-9,
    );
}

// Minutes: outcomes --------------------------------------------------------------

#[test]
fn minutes_of_a_class_with_one_job_are_not_enough_and_the_others_stand() {
    let mut shop = shop(5, 40);
    let keep: Vec<usize> = (0..40).filter(|i| shop.class[*i] != 2).collect();
    let last = (0..40).find(|i| shop.class[*i] == 2).unwrap();
    shop = reordered(&shop, &[keep, vec![last]].concat());
    let fit = minutes_of(&shop);
    let missing = |f: &Figure| matches!(f, Figure::NotEnough(n) if n.have == 1 && n.need == 2);
    assert!(missing(&fit.classes[2].data_alone.typical));
    assert!(missing(&fit.classes[2].data_alone.plan_for));
    assert!(fit.classes[0].data_alone.typical.known().is_some());
    assert_eq!(fit.record.rows_used, shop.minutes.len());
}

#[test]
fn minutes_of_one_person_are_least_squares_and_say_so() {
    let mut shop = shop(6, 30);
    shop.person = vec![Some(7); 30];
    let fit = minutes_of(&shop);
    assert_eq!(fit.spread, Some(GroupSpread::OneGroup));
    assert!(matches!(&fit.person_sd, Figure::NotEnough(n) if n.of == "people"));
    let (rows, y) = rows_of(&shop);
    let flat: Vec<f64> = rows.concat();
    let ols = LeastSquares::new(Design::new(&flat, rows[0].len()).unwrap(), &y)
        .unwrap()
        .fit()
        .unwrap();
    for c in 0..CLASSES {
        let alpha = ols.estimate(c, 0.95).unwrap();
        let typical = fit.classes[c].data_alone.typical.known().unwrap();
        near("typical", typical.value, alpha.value.exp(), 1e-10);
        near("low", typical.low, alpha.low.exp(), 1e-10);
        near("high", typical.high, alpha.high.exp(), 1e-10);
    }
}

#[test]
fn a_finish_that_goes_with_one_class_only_leaves_both_open() {
    let mut shop = shop(7, 60);
    for i in 0..60 {
        let shares = if shop.class[i] == 1 {
            [0.0, 0.0, 1.0]
        } else {
            [0.6, 0.4, 0.0]
        };
        shop.shares[i * FINISHES..(i + 1) * FINISHES].copy_from_slice(&shares);
    }
    let fit = minutes_of(&shop);
    // Finish 1 is 0.4 in all other classes, so nothing but gamma and the sums
    // of columns are known.
    assert!(fit.classes[1].data_alone.typical.known().is_none());
    assert!(fit.finish_factors[2].known().is_none());
    assert!(fit.covered_share_exponent.known().is_some());
    let job = NewJob {
        class: 1,
        covered: 1.0,
        finish_shares: &[0.0, 0.0, 1.0],
    };
    assert!(fit.one_job(Source::DataAlone, &job, 0.8).is_err());
}

#[test]
fn a_class_without_jobs_returns_its_minutes_in_force() {
    let mut shop = shop(8, 40);
    shop.class.iter_mut().for_each(|c| *c = (*c).min(1));
    let prior = minutes::Prior {
        typical: vec![Some(33.0), None, Some(55.0)],
        jobs: 5.0,
    };
    let task = Minutes::new(jobs_of(&shop)).with_outliers(Outliers::Keep);
    let fit = task.clone().with_prior(&prior).unwrap().fit().unwrap();
    let blended = &fit.classes[2].blended;
    near("constant", blended.typical.value().unwrap(), 55.0, 1e-12);
    assert_eq!(fit.classes[2].evidence, Evidence::ConstantOnly);
    assert!(fit.classes[2].data_alone.typical.known().is_none());
    let job = NewJob {
        class: 2,
        covered: 1.0,
        finish_shares: &[1.0, 0.0, 0.0],
    };
    let one = fit.one_job(Source::Blended, &job, 0.8).unwrap();
    near("one job", one.typical.value, 55.0, 1e-12);
    assert!(fit.one_job(Source::DataAlone, &job, 0.8).is_err());
    // Between the constant and the data, nearer the better known.
    let class = &fit.classes[0];
    let (alone, both) = (
        class.data_alone.typical.value().unwrap(),
        class.blended.typical.value().unwrap(),
    );
    assert!((both - 33.0).abs() < (alone - 33.0).abs());
    // However far off the constant of another class is.
    let far = minutes::Prior {
        typical: vec![Some(33.0), Some(10.0), None],
        jobs: 500.0,
    };
    let pulled = task.clone().with_prior(&far).unwrap().fit().unwrap();
    let both = pulled.classes[0].blended.typical.value().unwrap();
    assert!(
        (33.0f64.min(alone)..=33.0f64.max(alone)).contains(&both),
        "{both}"
    );
    let off = minutes::Prior { jobs: 0.0, ..prior };
    let without = task.clone().with_prior(&off).unwrap().fit().unwrap();
    assert_eq!(without.classes, task.fit().unwrap().classes);
}

#[test]
fn minutes_far_from_the_rest_are_left_out_and_named() {
    let mut shop = shop(9, 80);
    shop.minutes[11] *= 10.0;
    shop.minutes[30] = 0.0;
    let fit = Minutes::new(jobs_of(&shop)).fit().unwrap();
    let rows: Vec<usize> = fit.record.left_out.iter().map(|l| l.row).collect();
    assert_eq!(rows, [11, 30]);
    assert_eq!(fit.record.rows_used, 78);
    let kept = minutes_of(&shop);
    assert_eq!(kept.record.left_out.len(), 1, "the empty one alone");
    assert!(kept.residual_sd.value().unwrap() > fit.residual_sd.value().unwrap());
}

// Least squares ------------------------------------------------------------------

#[test]
fn cross_products_equal_rows_on_the_programs_own_designs() {
    for seed in 0..20 {
        let shop = shop(seed, 60);
        let weights: Vec<f64> = shop
            .areas
            .chunks(FINISHES)
            .map(|a| 1.0 / a.iter().sum::<f64>())
            .collect();
        let design: Vec<f64> = shop
            .areas
            .chunks(FINISHES)
            .flat_map(|a| [&[1.0], a].concat())
            .collect();
        let rows = LeastSquares::new(Design::new(&design, 4).unwrap(), &shop.used).unwrap();
        let slow = rows.weighted(&weights).unwrap().fit().unwrap();
        let mut table = CrossProducts::new(FINISHES);
        let rows = shop.areas.chunks(FINISHES).zip(&shop.used).zip(&weights);
        for ((x, used), weight) in rows.take(60) {
            table.add(x, *used, *weight);
        }
        let fast = table.fit_with_intercept().unwrap();
        let errors = (
            fast.standard_errors().unwrap(),
            slow.standard_errors().unwrap(),
        );
        for j in 0..4 {
            near(
                "coefficient",
                fast.coefficients[j],
                slow.coefficients[j],
                1e-9,
            );
            near("standard error", errors.0[j], errors.1[j], 1e-9);
        }
        near(
            "residual",
            fast.residual_squares,
            slow.residual_squares,
            1e-9,
        );
    }
}

#[test]
fn cross_products_split_merge_and_sums() {
    let shop = shop(1, 50);
    let z = |i: usize| {
        [
            &shop.areas[i * FINISHES..(i + 1) * FINISHES],
            &[shop.used[i]],
        ]
        .concat()
    };
    let table = |range: std::ops::Range<usize>| {
        let mut t = CrossProducts::new(FINISHES);
        for i in range {
            t.add(&z(i)[..FINISHES], z(i)[FINISHES], 0.5 + i as f64 / 50.0);
        }
        t
    };
    let whole = table(0..50);
    for cut in [0, 1, 25, 50] {
        let mut left = table(0..cut);
        left.merge(&table(cut..50)).unwrap();
        if cut % 50 == 0 {
            assert_eq!(left, whole, "merging with an empty part must be exact");
        }
        let (a, b) = (
            left.fit_with_intercept().unwrap(),
            whole.fit_with_intercept().unwrap(),
        );
        assert_eq!(left.rows(), 50);
        for j in 0..=FINISHES {
            near("coefficient", a.coefficients[j], b.coefficients[j], 1e-11);
        }
    }
    let mut none = CrossProducts::new(FINISHES);
    none.merge(&CrossProducts::new(FINISHES)).unwrap();
    assert_eq!(none, CrossProducts::new(FINISHES), "two empty ones");
    // As a query would give it, about a rounded centre.
    let about = [5.0, 5.0, 5.0, 30.0];
    let (mut weight, mut sums, mut products) = (0.0, [0.0; 4], [0.0; 16]);
    for i in 0..50 {
        let w = 0.5 + i as f64 / 50.0;
        weight += w;
        for (a, va) in z(i).iter().enumerate() {
            sums[a] += w * (va - about[a]);
            for (b, vb) in z(i).iter().enumerate() {
                products[a * 4 + b] += w * (va - about[a]) * (vb - about[b]);
            }
        }
    }
    let queried = CrossProducts::from_sums(50, weight, &about, &sums, &products).unwrap();
    let (a, b) = (
        queried.fit_with_intercept().unwrap(),
        whole.fit_with_intercept().unwrap(),
    );
    for j in 0..=FINISHES {
        near("coefficient", a.coefficients[j], b.coefficients[j], 1e-10);
        near(
            "se",
            a.standard_errors().unwrap()[j],
            b.standard_errors().unwrap()[j],
            1e-10,
        );
    }
}

#[test]
fn collinear_columns_are_named() {
    use tallycoat::fits::error::FitError;
    let mut rng = ChaCha8Rng::seed_from_u64(2);
    let rows: Vec<[f64; 5]> = (0..20)
        .map(|_| {
            let (a, b): (f64, f64) = (rng.random(), rng.random());
            [1.0, a, b, rng.random(), 2.0 * a - 3.0 * b]
        })
        .collect();
    let y: Vec<f64> = (0..20).map(|_| rng.random()).collect();
    let design = rows.concat();
    let problem = LeastSquares::new(Design::new(&design, 5).unwrap(), &y).unwrap();
    assert_eq!(
        problem.fit().unwrap_err(),
        FitError::Collinear {
            columns: vec![1, 2, 4]
        }
    );
    let mut table = CrossProducts::new(4);
    let mut statistics = GroupStatistics::new(5);
    for (i, row) in rows.iter().enumerate() {
        table.add(&row[1..], y[i], 1.0);
        statistics.add(Some(i as u64 % 4), row, y[i]);
    }
    let named = FitError::Collinear {
        columns: vec![1, 2, 4],
    };
    assert_eq!(table.fit_with_intercept().unwrap_err(), named);
    assert_eq!(
        RandomIntercept::default().fit(&statistics).unwrap_err(),
        named
    );
}

// Consumption ----------------------------------------------------------------------

#[test]
fn values_below_zero_are_held_as_the_best_of_all_subsets() {
    let mut held = 0;
    for seed in 0..60 {
        let shop = shop(100 + seed, 15);
        let fit = use_of(&shop);
        let weights: Vec<f64> = shop
            .areas
            .chunks(FINISHES)
            .map(|a| 1.0 / a.iter().sum::<f64>())
            .collect();
        let design: Vec<Vec<f64>> = shop
            .areas
            .chunks(FINISHES)
            .map(|a| [&[1.0], a].concat())
            .collect();
        let mut best = (f64::INFINITY, vec![]);
        for mask in 1..16usize {
            let free: Vec<usize> = (0..4).filter(|j| mask >> j & 1 == 1).collect();
            let part: Vec<f64> = design
                .iter()
                .flat_map(|x| free.iter().map(|j| x[*j]))
                .collect();
            let problem =
                LeastSquares::new(Design::new(&part, free.len()).unwrap(), &shop.used).unwrap();
            let Ok(f) = problem.weighted(&weights).unwrap().fit() else {
                continue;
            };
            if f.coefficients.iter().all(|b| *b >= 0.0) && f.residual_squares < best.0 {
                let mut whole = vec![0.0; 4];
                free.iter()
                    .zip(&f.coefficients)
                    .for_each(|(j, b)| whole[*j] = *b);
                best = (f.residual_squares, whole);
            }
        }
        let all = std::iter::once(&fit.setup).chain(&fit.finishes);
        for (c, slow) in all.zip(&best.1) {
            let Some(e) = c.data_alone.known() else {
                continue;
            };
            near("value", e.value, *slow, 1e-8);
            assert!(e.low >= 0.0 && e.low <= e.value && e.value <= e.high);
            held += usize::from(*slow == 0.0);
        }
    }
    assert!(held >= 5, "only {held} coefficients were held at zero");
}

/// Bottles of a shop that measures a third of its jobs, as plain loops see
/// them: job by job, bottle by bottle.
struct Cellar {
    used: Vec<f64>,
    areas: Vec<f64>,
    bottles: Vec<Bottle>,
    straddles: Vec<Straddle>,
}

fn cellar(seed: u64, measured_every: usize) -> Cellar {
    let shop = shop(seed, 160);
    let fresh = || Bottle {
        used: 120.0,
        jobs: 0,
        areas: vec![0.0; FINISHES],
    };
    let mut cellar = Cellar {
        used: vec![],
        areas: vec![],
        bottles: vec![fresh()],
        straddles: vec![],
    };
    let mut left = 120.0;
    for (job, areas) in shop.areas.chunks(FINISHES).enumerate() {
        let ml = shop.used[job];
        let measured = job % measured_every == 0;
        let at = cellar.bottles.len() - 1;
        if measured {
            cellar.used.push(ml);
            cellar.areas.extend(areas);
        }
        let over = ml > left;
        let first = ml.min(left);
        left = if over {
            120.0 - (ml - first)
        } else {
            left - ml
        };
        if over {
            cellar.bottles.push(fresh());
        }
        match (measured, over) {
            (true, _) => {
                cellar.bottles[at].used -= first;
                if over {
                    cellar.bottles[at + 1].used -= ml - first;
                }
            }
            (false, false) => {
                cellar.bottles[at].jobs += 1;
                cellar.bottles[at]
                    .areas
                    .iter_mut()
                    .zip(areas)
                    .for_each(|(b, a)| *b += a);
            }
            (false, true) => cellar.straddles.push(Straddle {
                areas: areas.to_vec(),
                from: Some(at),
                into: Some(at + 1),
            }),
        }
    }
    cellar.bottles.pop();
    let open = cellar.bottles.len();
    for s in &mut cellar.straddles {
        s.into = s.into.filter(|b| *b != open);
    }
    cellar
}

#[test]
fn bottle_rows_equal_plain_loops_over_a_dense_covariance() {
    // The last two measure no job, and sigma^2 of the last is near 0.
    for (seed, every, cut) in [
        (31, 3, false),
        (32, 3, false),
        (33, 3, false),
        (34, 1000, false),
        (38, 1000, true),
    ] {
        let c = cellar(seed, every);
        let fit = bottle_fit(&c);
        let (m, b) = (c.used.len(), c.bottles.len());
        let n = m + b;
        // Rows, and D by loops over jobs.
        let mut x = DMatrix::zeros(n, 4);
        let mut d = DMatrix::zeros(n, n);
        let mut y = DVector::zeros(n);
        for i in 0..m {
            let a = &c.areas[i * FINISHES..(i + 1) * FINISHES];
            x[(i, 0)] = 1.0;
            (0..FINISHES).for_each(|f| x[(i, 1 + f)] = a[f]);
            d[(i, i)] = a.iter().sum();
            y[i] = c.used[i];
        }
        for (k, bottle) in c.bottles.iter().enumerate() {
            x[(m + k, 0)] = bottle.jobs as f64;
            (0..FINISHES).for_each(|f| x[(m + k, 1 + f)] = bottle.areas[f]);
            d[(m + k, m + k)] = bottle.areas.iter().sum();
            y[m + k] = bottle.used;
        }
        for s in &c.straddles {
            let area: f64 = s.areas.iter().sum();
            for at in [s.from, s.into].into_iter().flatten() {
                x[(m + at, 0)] += 0.5;
                (0..FINISHES).for_each(|f| x[(m + at, 1 + f)] += 0.5 * s.areas[f]);
                d[(m + at, m + at)] += area / 3.0;
            }
            if let (Some(p), Some(q)) = (s.from, s.into) {
                d[(m + p, m + q)] += area / 6.0;
                d[(m + q, m + p)] += area / 6.0;
            }
        }
        // K at the fitted use, none below 0, by loops.
        let beta = fit.unconstrained().unwrap();
        let used: Vec<f64> = std::iter::once(&fit.setup)
            .chain(&fit.finishes)
            .map(|c| c.data_alone.value().unwrap())
            .collect();
        let mut k = DMatrix::zeros(n, n);
        for s in &c.straddles {
            let use_: f64 = used[0]
                + s.areas
                    .iter()
                    .zip(&used[1..])
                    .map(|(a, c)| a * c)
                    .sum::<f64>();
            let spread = use_ * use_ / 12.0;
            for at in [s.from, s.into].into_iter().flatten() {
                k[(m + at, m + at)] += spread;
            }
            if let (Some(p), Some(q)) = (s.from, s.into) {
                k[(m + p, m + q)] -= spread;
                k[(m + q, m + p)] -= spread;
            }
        }
        let at = |sigma2: f64| {
            let v: DMatrix<f64> = &d * sigma2 + &k;
            let l = v.clone().cholesky().unwrap();
            let log_det: f64 = l.l().diagonal().iter().map(|p| 2.0 * p.ln()).sum();
            let w = l.inverse();
            let a = x.transpose() * &w * &x;
            let phi = a.clone().try_inverse().unwrap();
            let beta = &phi * x.transpose() * &w * &y;
            let r = &y - &x * &beta;
            let value: f64 = log_det + a.determinant().ln() + r.dot(&(&w * &r));
            (value, beta, phi, w)
        };
        let (mut low, mut high) = (-4.0f64, 4.0f64);
        for _ in 0..100 {
            let (p, q) = (low + 0.381966 * (high - low), low + 0.618034 * (high - low));
            if at(p.exp()).0 < at(q.exp()).0 {
                high = q
            } else {
                low = p
            }
        }
        let (_, slow, phi, w) = at(low.exp());
        near("sigma^2", fit.residual_variance().unwrap(), low.exp(), 1e-6);
        for j in 0..4 {
            near("beta", beta[j], slow[j], 1e-6);
        }
        // Kenward and Roger for one variance, literally.
        let p = -(x.transpose() * &w * &d * &w * &x);
        let q = x.transpose() * &w * &d * &w * &d * &w * &x;
        let info = (&w * &d * &w * &d).trace() - 2.0 * (&phi * &q).trace()
            + (&phi * &p * &phi * &p).trace();
        // What the estimate may have been at sigma^2 `truth`, moved and cut at
        // 0, one by one; and the second addition less what the cut gains.
        let variance = 2.0 / info;
        let added = &phi * (&q - &p * &phi * &p) * &phi * variance;
        let sigma2 = low.exp();
        let left = (n - 4) as f64;
        let moved = (variance * left / 2.0).sqrt() - sigma2;
        let shares = 20_000;
        let draws: Vec<f64> = (0..shares)
            .map(|i| (f64::from(i) + 0.5) / f64::from(shares))
            .map(|share| chi_squared_quantile(share, left) / left)
            .collect();
        let mean = |truth: f64, of: &dyn Fn(f64) -> f64| {
            let estimates = draws.iter().map(|t| ((truth + moved) * t - moved).max(0.0));
            estimates.map(of).sum::<f64>() / f64::from(shares)
        };
        let gained = mean(sigma2, &|s| s) - sigma2;
        let inverse = phi.clone().try_inverse().unwrap();
        let there = gained * (-(&phi * &p)).trace() / (&added * inverse).trace();
        let adjusted = &phi + &added * (2.0 - there.min(1.0));
        assert!(!cut || there > 0.3, "the cut at 0 plays a part: {there}");
        for j in 0..4 {
            let mut l = vec![0.0; 4];
            l[j] = 1.0;
            let fast = fit.combination(Source::DataAlone, &l).unwrap();
            near(
                "standard error",
                fast.standard_error,
                adjusted[(j, j)].sqrt(),
                1e-5,
            );
            let gradient = -(&phi * &p * &phi)[(j, j)];
            let fixed = phi[(j, j)] - gradient * sigma2;
            let v = |s: f64| fixed + gradient * s;
            let truth = sigma2 + gained;
            let ratio = mean(truth, &|s| v(truth) / v(s));
            let df: f64 = 2.0 * ratio / (ratio - 1.0);
            // 48 points for 20,000.
            near("df", fast.df, df, 5e-3);
        }
    }
}

fn bottle_fit(c: &Cellar) -> ConsumptionFit {
    let jobs = Jobs::new(&c.used, &c.areas, FINISHES).unwrap();
    let bottles = Bottles::new(c.bottles.clone(), c.straddles.clone()).unwrap();
    let task = Consumption::new(jobs).with_outliers(Outliers::Keep);
    task.with_bottles(&bottles).unwrap().fit().unwrap()
}

#[test]
fn bottles_alone_give_constants_with_wider_intervals() {
    let c = cellar(40, usize::MAX);
    // Job 0 is measured by any rule; drop it to have none.
    let none = Cellar {
        used: vec![],
        areas: vec![],
        ..c
    };
    let fit = bottle_fit(&none);
    let width = |f: &ConsumptionFit| {
        let e = *f.finishes[0].data_alone.known().unwrap();
        e.high - e.low
    };
    assert!(fit.bottles_used > 20);
    assert!(width(&fit) > width(&bottle_fit(&cellar(40, 3))));
}

#[test]
fn bottles_in_another_order_are_the_same_bottles() {
    let c = cellar(41, 3);
    let n = c.bottles.len();
    let place: Vec<usize> = (0..n).map(|i| (i * 7 + 3) % n).collect();
    assert!(!n.is_multiple_of(7), "the shuffle must be one");
    let mut shuffled = Cellar {
        used: c.used.clone(),
        areas: c.areas.clone(),
        bottles: c.bottles.clone(),
        straddles: c.straddles.clone(),
    };
    for (i, at) in place.iter().enumerate() {
        shuffled.bottles[*at] = c.bottles[i].clone();
    }
    for s in &mut shuffled.straddles {
        s.from = s.from.map(|b| place[b]);
        s.into = s.into.map(|b| place[b]);
    }
    shuffled.straddles.reverse();
    let (a, b) = (bottle_fit(&c), bottle_fit(&shuffled));
    for (x, y) in a
        .unconstrained()
        .unwrap()
        .iter()
        .zip(b.unconstrained().unwrap())
    {
        near("beta", *x, *y, 1e-9);
    }
    near(
        "sigma^2",
        a.residual_variance().unwrap(),
        b.residual_variance().unwrap(),
        1e-8,
    );
}

#[test]
fn bottles_that_cannot_be_are_refused_or_left_out() {
    let bottle = |used: f64, jobs: u64| Bottle {
        used,
        jobs,
        areas: vec![20.0, 0.0, 0.0],
    };
    let straddle = |from, into| Straddle {
        areas: vec![20.0, 0.0, 0.0],
        from,
        into,
    };
    let three = || vec![bottle(90.0, 3), bottle(95.0, 3), bottle(100.0, 3)];
    assert!(
        Bottles::new(
            three(),
            vec![straddle(Some(0), Some(1)), straddle(Some(0), Some(2))]
        )
        .is_err()
    );
    assert!(Bottles::new(three(), vec![straddle(Some(0), Some(3))]).is_err());
    let ring = vec![
        straddle(Some(0), Some(1)),
        straddle(Some(1), Some(2)),
        straddle(Some(2), Some(0)),
    ];
    assert!(Bottles::new(three(), ring).is_err());
    assert!(Bottles::new(vec![bottle(f64::NAN, 1)], vec![]).is_err());
    // More measured on it than it held; and one with nothing on it.
    let odd = vec![bottle(-4.0, 2), bottle(90.0, 0), bottle(90.0, 3)];
    let bottles = Bottles::new(odd, vec![straddle(Some(0), Some(2))]).unwrap();
    let jobs = Jobs::new(&[], &[], FINISHES).unwrap();
    let fit = Consumption::new(jobs)
        .with_bottles(&bottles)
        .unwrap()
        .fit()
        .unwrap();
    assert_eq!(fit.bottles_used, 1);
    assert_eq!(
        fit.bottles_left_out
            .iter()
            .map(|l| l.row)
            .collect::<Vec<_>>(),
        [0, 1]
    );
    assert!(fit.setup.data_alone.known().is_none());
}

#[test]
fn use_in_other_units_and_other_order() {
    let one = shop(11, 40);
    let mut ounces = one.clone();
    ounces.used.iter_mut().for_each(|ml| *ml /= 29.5735295625);
    let order: Vec<usize> = (0..40).map(|i| i * 11 % 40).collect();
    let (a, b, c) = (
        use_of(&one),
        use_of(&ounces),
        use_of(&reordered(&one, &order)),
    );
    for j in 0..FINISHES {
        let get = |f: &ConsumptionFit| *f.finishes[j].data_alone.known().unwrap();
        near("value", 29.5735295625 * get(&b).value, get(&a).value, 1e-11);
        near("high", 29.5735295625 * get(&b).high, get(&a).high, 1e-11);
        near("value", get(&c).value, get(&a).value, 1e-11);
        near("low", get(&c).low, get(&a).low, 1e-11);
    }
    // A further 2 mL of set-up on every job moves the set-up alone.
    let mut more = one.clone();
    more.used.iter_mut().for_each(|ml| *ml += 2.0);
    let (x, y) = (
        a.unconstrained().unwrap().to_vec(),
        use_of(&more).unconstrained().unwrap().to_vec(),
    );
    near("set-up", y[0], x[0] + 2.0, 1e-10);
    (1..4).for_each(|j| near("per m2", y[j], x[j], 1e-10));
}

#[test]
fn a_finish_with_one_job_or_none_leaves_the_others() {
    let mut shop = shop(12, 30);
    for i in 0..30 {
        let a = &mut shop.areas[i * FINISHES..(i + 1) * FINISHES];
        a[0] += a[2];
        a[2] = 0.0;
    }
    let none = use_of(&shop);
    assert!(
        matches!(&none.finishes[2].data_alone, Figure::NotEnough(n) if n.have == 0 && n.need == 2)
    );
    let before = none.finishes[0].data_alone.value().unwrap();
    shop.areas[2] = shop.areas[0] + shop.areas[1];
    (shop.areas[0], shop.areas[1]) = (0.0, 0.0);
    let one = use_of(&shop);
    assert!(matches!(&one.finishes[2].data_alone, Figure::NotEnough(n) if n.have == 1));
    assert!((one.finishes[0].data_alone.value().unwrap() - before).abs() < 0.2);
    assert!(
        one.one_job(Source::DataAlone, &[0.0, 0.0, 20.0], 0.8)
            .is_err()
    );
    assert!(
        one.one_job(Source::DataAlone, &[20.0, 0.0, 0.0], 0.8)
            .is_ok()
    );
}

#[test]
fn constants_in_force_are_worth_k_jobs() {
    let mut shop = shop(13, 30);
    for i in 0..30 {
        let a = &mut shop.areas[i * FINISHES..(i + 1) * FINISHES];
        a[0] += a[2];
        a[2] = 0.0;
    }
    let jobs = || Jobs::new(&shop.used, &shop.areas, FINISHES).unwrap();
    let fit = |k: f64| {
        let prior = Prior {
            setup: Some(1.0),
            per_m2: vec![Some(1.0), None, Some(2.2)],
            jobs: k,
        };
        let task = Consumption::new(jobs()).with_outliers(Outliers::Keep);
        task.with_prior(&prior).unwrap().fit().unwrap()
    };
    let off = fit(0.0);
    for c in std::iter::once(&off.setup).chain(&off.finishes) {
        assert_eq!(
            c.data_alone, c.blended,
            "k = 0 is the data alone, to the last bit"
        );
    }
    let (some, many) = (fit(5.0), fit(5e6));
    assert_eq!(some.finishes[2].blended.value(), Some(2.2));
    assert_eq!(some.finishes[2].evidence, Evidence::ConstantOnly);
    assert_eq!(some.finishes[0].evidence, Evidence::JobsAndConstant);
    assert_eq!(some.finishes[1].evidence, Evidence::Jobs);
    let alone = some.finishes[0].data_alone.value().unwrap();
    let blended = some.finishes[0].blended.value().unwrap();
    assert!(alone > blended && blended > 1.0, "{alone} {blended}");
    near("many", many.finishes[0].blended.value().unwrap(), 1.0, 1e-3);
    // The same as so many rows of typical jobs that used just what the
    // constants say, as far as the value goes.
    let typical: Vec<f64> = shop
        .areas
        .chunks(FINISHES)
        .map(|a| a[0])
        .filter(|a| *a > 0.0)
        .collect();
    let job = shop.areas.iter().sum::<f64>() / 30.0;
    let weight0 = 5.0 * typical.iter().sum::<f64>() / typical.len() as f64;
    let mut design: Vec<f64> = shop
        .areas
        .chunks(FINISHES)
        .flat_map(|a| [1.0, a[0], a[1]])
        .collect();
    let mut y = shop.used.clone();
    let mut w: Vec<f64> = shop
        .areas
        .chunks(FINISHES)
        .map(|a| 1.0 / a.iter().sum::<f64>())
        .collect();
    design.extend([1.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
    y.extend([1.0, 1.0]);
    w.extend([5.0 / job, weight0]);
    let rows = LeastSquares::new(Design::new(&design, 3).unwrap(), &y).unwrap();
    let slow = rows.weighted(&w).unwrap().fit().unwrap();
    near("posterior mean", blended, slow.coefficients[1], 1e-9);
    let e = some.finishes[0].blended.known().unwrap();
    let twin = slow.estimate(1, 0.95).unwrap();
    near("posterior interval", e.high, twin.high, 1e-9);
}

#[test]
fn difference_of_two_windows() {
    let (a, b) = (use_of(&shop(14, 60)), use_of(&shop(15, 25)));
    let d = difference(&a, &b, 0.95).unwrap();
    let (x, y) = (a.unconstrained().unwrap(), b.unconstrained().unwrap());
    for (f, figure) in d.finishes.iter().enumerate() {
        let e = figure.known().unwrap();
        near("difference", e.value, x[1 + f] - y[1 + f], 1e-12);
        let l: Vec<f64> = (0..4).map(|j| f64::from(u8::from(j == 1 + f))).collect();
        let (s, t) = (
            a.combination(Source::DataAlone, &l).unwrap(),
            b.combination(Source::DataAlone, &l).unwrap(),
        );
        let half = (e.high - e.low) / 2.0;
        let error = s.standard_error.hypot(t.standard_error);
        assert!(half > 1.96 * error && half < 2.1 * error);
    }
    let back = difference(&b, &a, 0.95).unwrap();
    let (e, f) = (d.setup.known().unwrap(), back.setup.known().unwrap());
    near("reversed", e.low, -f.high, 1e-12);
}

#[test]
fn use_far_from_the_rest_is_left_out_and_named() {
    let mut shop = shop(17, 40);
    shop.used[7] *= 8.0;
    shop.areas[9 * FINISHES..10 * FINISHES].fill(0.0);
    let jobs = Jobs::new(&shop.used, &shop.areas, FINISHES).unwrap();
    let fit = Consumption::new(jobs).fit().unwrap();
    assert_eq!(
        fit.record
            .left_out
            .iter()
            .map(|l| l.row)
            .collect::<Vec<_>>(),
        [7, 9]
    );
    assert_eq!(fit.record.rows_used, 38);
    let kept = Consumption::new(jobs)
        .with_outliers(Outliers::Keep)
        .fit()
        .unwrap();
    assert!(kept.residual_variance().unwrap() > 10.0 * fit.residual_variance().unwrap());
}
