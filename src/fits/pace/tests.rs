use super::grid::{Cells, SHOWN};
use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Jobs of `people` persons: intercept and a covariate; log minutes 3.5 +
/// 0.4 x + u + e.
struct Shop {
    rows: Vec<(usize, [f64; 2], f64)>,
    people: usize,
}

impl Shop {
    fn new(seed: u64, effects: &[f64], jobs: usize, sigma: f64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let row = |i: usize| {
            let person = i % effects.len();
            let x = [1.0, rng.random_range(0.0..1.0)];
            let z: f64 = StandardNormal.sample(&mut rng);
            (person, x, 3.5 + 0.4 * x[1] + effects[person] + sigma * z)
        };
        Self {
            rows: (0..jobs).map(row).collect(),
            people: effects.len(),
        }
    }

    fn sums(&self) -> Vec<Sums> {
        let mut each = vec![Sums::new(2); self.people];
        for (person, x, y) in &self.rows {
            each[*person].add(x, *y).unwrap();
        }
        each
    }

    fn paces(&self) -> Paces {
        let people = People::new(&self.sums(), &Sums::new(2)).unwrap();
        fit(&people, Params::default()).unwrap()
    }
}

/// The slow twin: the posterior by brute force on the rows themselves, with
/// n×n matrices and a fine grid over (τ, σ), no algebra of the header used.
fn brute_force(shop: &Shop, scale: f64) -> [Vec<f64>; 2] {
    use nalgebra::{DMatrix, DVector};
    let (n, m) = (shop.rows.len(), shop.people);
    let x = DMatrix::from_fn(n, 2, |i, j| shop.rows[i].1[j]);
    let z = DMatrix::from_fn(n, m, |i, g| f64::from(u8::from(shop.rows[i].0 == g)));
    let y = DVector::from_fn(n, |i, _| shop.rows[i].2);
    let centre = DMatrix::identity(m, m) - DMatrix::from_element(m, m, 1.0 / m as f64);
    let mut cells: Vec<(f64, DVector<f64>, DVector<f64>)> = Vec::new();
    let (steps_tau, steps_sigma) = (500, 40);
    for i in 0..steps_tau {
        let tau = 2.0 * (i as f64 + 0.5) / steps_tau as f64;
        for k in 0..steps_sigma {
            let sigma = 0.08 + 0.3 * (k as f64 + 0.5) / steps_sigma as f64;
            let v = &z * z.transpose() * (tau * tau) + DMatrix::identity(n, n) * (sigma * sigma);
            let chol = v.cholesky().unwrap();
            let log_det_v: f64 = chol.l().diagonal().iter().map(|d| 2.0 * d.ln()).sum();
            let vx = chol.solve(&x);
            let a = x.transpose() * &vx;
            let beta = a.clone().try_inverse().unwrap() * vx.transpose() * &y;
            let r = &y - &x * &beta;
            let vr = chol.solve(&r);
            let prior = -(tau / scale).powi(2).ln_1p() - sigma.ln();
            let log = -0.5 * (log_det_v + a.determinant().ln() + r.dot(&vr)) + prior;
            let gain = &centre * z.transpose() * (tau * tau);
            let mean = &gain * &vr;
            let p = chol.inverse() - &vx * a.try_inverse().unwrap() * vx.transpose();
            let var = &centre * &centre * (tau * tau) - &gain * p * gain.transpose();
            cells.push((log, mean, var.diagonal()));
        }
    }
    let top = cells.iter().map(|c| c.0).fold(f64::NEG_INFINITY, f64::max);
    let whole: f64 = cells.iter().map(|c| (c.0 - top).exp()).sum();
    let mut mean = DVector::zeros(m);
    let mut square = DVector::zeros(m);
    for (log, at, var) in &cells {
        let w = (log - top).exp() / whole;
        mean += at * w;
        square += (at.component_mul(at) + var) * w;
    }
    let sd = (square - mean.component_mul(&mean)).map(f64::sqrt);
    [mean.as_slice().to_vec(), sd.as_slice().to_vec()]
}

#[test]
fn agrees_with_brute_force_on_the_rows() {
    let shop = Shop::new(11, &[0.15, -0.1, 0.0, 0.02], 22, 0.17);
    let [mean, sd] = brute_force(&shop, PRIOR_SCALE);
    for (g, pace) in shop.paces().people.iter().enumerate() {
        // The brute grid stops at τ = 2 and σ in 0.08..0.38: a few
        // thousandths of a standard deviation.
        assert!(
            (pace.log_mean - mean[g]).abs() < 0.01 * sd[g],
            "{pace:?} {}",
            mean[g]
        );
        assert!(
            (pace.log_sd / sd[g] - 1.0).abs() < 0.01,
            "{pace:?} {}",
            sd[g]
        );
    }
}

#[test]
fn a_person_who_is_far_slower_is_seen_and_the_others_are_not() {
    let found = Shop::new(5, &[0.4, 0.0, -0.03, 0.02, 0.01], 300, 0.2).paces();
    assert!(found.people[0].chance_slow > 0.99, "{found:?}");
    assert!(found.people[0].factor.low > 1.1);
    assert!(found.people[1..].iter().all(|p| p.chance_slow < 0.5));
    let sum: f64 = found.people.iter().map(|p| p.log_mean).sum();
    assert!(sum.abs() < 1e-9, "paces are against the mean of the people");
    assert_eq!(found.people[0].factor.n, 60);
    assert_eq!(found.within.n, 300);
}

#[test]
fn people_alike_are_drawn_to_the_usual() {
    let found = Shop::new(6, &[0.0; 5], 60, 0.2).paces();
    for person in &found.people {
        assert!(person.factor.holds(1.0), "{person:?}");
        assert!(person.chance_slow < 0.3, "{person:?}");
    }
    assert!(found.between.low < 0.02);
}

#[test]
fn units_order_and_splitting_change_nothing() {
    let shop = Shop::new(7, &[0.1, -0.1, 0.05], 40, 0.2);
    let plain = shop.paces();
    // Minutes to hours is a shift of y; the intercept takes it.
    let shifted = Shop {
        rows: shop
            .rows
            .iter()
            .map(|(g, x, y)| (2 - g, *x, y - 60.0_f64.ln()))
            .collect(),
        people: 3,
    };
    let turned = shifted.paces();
    for (a, b) in plain.people.iter().zip(turned.people.iter().rev()) {
        assert!((a.factor.low - b.factor.low).abs() < 1e-7, "{a:?} {b:?}");
        assert!((a.chance_slow - b.chance_slow).abs() < 1e-6);
    }
    let [early, late] = shop.rows.split_at(13).into();
    let part = |rows: &[(usize, [f64; 2], f64)]| Shop {
        rows: rows.to_vec(),
        people: 3,
    };
    let mut merged = part(early).sums();
    for (sum, more) in merged.iter_mut().zip(part(late).sums()) {
        sum.merge(&more).unwrap();
        sum.merge(&Sums::new(2)).unwrap();
    }
    let people = People::new(&merged, &Sums::new(2)).unwrap();
    let again = fit(&people, Params::default()).unwrap();
    assert!((again.people[0].log_mean - plain.people[0].log_mean).abs() < 1e-9);
}

/// A job that nobody else shares is a person of one job: as shared sums or
/// as persons, the others' fixed part is the same; but only persons count in
/// the usual.
#[test]
fn shared_jobs_inform_the_classes_and_no_person() {
    let shop = Shop::new(8, &[0.1, -0.1, 0.05, 0.0], 48, 0.2);
    let without = shop.paces();
    let mut shared = Sums::new(2);
    for i in 0..200 {
        let x = f64::from(i % 10) / 10.0;
        let e = if i % 2 == 0 { 0.2 } else { -0.2 };
        shared.add(&[1.0, x], 3.5 + 0.4 * x + e).unwrap();
    }
    let people = People::new(&shop.sums(), &shared).unwrap();
    let with = fit(&people, Params::default()).unwrap();
    assert_eq!(with.people.len(), 4);
    assert_eq!(with.within.n, 248);
    let change = with.people[0].log_mean - without.people[0].log_mean;
    assert!(change.abs() < without.people[0].log_sd);
    let width = |p: &Paces| p.within.high - p.within.low;
    assert!(width(&with) < width(&without));
}

#[test]
fn too_little_data_is_said() {
    let alone = Shop::new(9, &[0.0], 30, 0.2);
    let people = People::new(&alone.sums(), &Sums::new(2)).unwrap();
    assert!(matches!(
        fit(&people, Params::default()),
        Err(FitError::NotEnough(_))
    ));
    let few = Shop::new(9, &[0.0, 0.1], 4, 0.2);
    let people = People::new(&few.sums(), &Sums::new(2)).unwrap();
    assert!(matches!(
        fit(&people, Params::default()),
        Err(FitError::NotEnough(missing)) if missing.need == 5
    ));
    let mut same = Sums::new(2);
    for _ in 0..10 {
        same.add(&[1.0, 2.0], 3.0).unwrap();
    }
    let people = People::new(&[same.clone(), same], &Sums::new(2)).unwrap();
    assert!(matches!(
        fit(&people, Params::default()),
        Err(FitError::Collinear { columns }) if columns == [0, 1]
    ));
    let mut flat = Sums::new(1);
    for _ in 0..10 {
        flat.add(&[1.0], 3.0).unwrap();
    }
    let people = People::new(&[flat.clone(), flat], &Sums::new(1)).unwrap();
    assert!(matches!(
        fit(&people, Params::default()),
        Err(FitError::NoSpread { .. })
    ));
    assert!(People::new(&[Sums::new(1)], &Sums::new(1)).is_err());
    let mut odd = Sums::new(1);
    odd.add(&[f64::NAN], 1.0).unwrap();
    assert!(odd.add(&[1.0, 2.0], 1.0).is_err());
    let people = People::new(&[odd.clone(), odd], &Sums::new(1)).unwrap();
    assert!(matches!(
        fit(&people, Params::default()),
        Err(FitError::NotFinite { .. })
    ));
}

mod of_sight {
    use super::super::sight::{Imagined, power};
    use super::*;
    use crate::fits::discovery::Rule;

    fn seen(jobs: usize, slower: f64) -> Vec<f64> {
        let shop = Shop::new(3, &[0.0, 0.05, -0.05, 0.02], jobs, 0.2);
        let people = People::new(&shop.sums(), &Sums::new(2)).unwrap();
        let imagined = Imagined {
            between: 0.08,
            within: 0.2,
            slower,
            shops: 40,
            seed: 2,
        };
        let eligible = [true, true, true, false];
        let params = Params::default();
        power(&people, &eligible, imagined, Rule::default(), params)
            .unwrap()
            .power
    }

    #[test]
    fn more_jobs_and_slower_people_are_seen_oftener() {
        let (few, many, slower) = (seen(40, 0.2), seen(600, 0.2), seen(40, 0.8));
        assert!(few[0] < many[0], "{few:?} {many:?}");
        assert!(few[0] < slower[0], "{few:?} {slower:?}");
        assert!(many[0] > 0.6 && slower[0] > 0.8);
        assert_eq!(few[3], 0.0, "nobody is raised on too few jobs");
        assert_eq!(few, seen(40, 0.2), "the seed decides");
    }
}

/// Chances of being slow, by people's number, spread and jobs: what the smaller
/// grid of imagined shops says of them, and what the whole one does.
#[test]
fn imagined_shops_are_judged_as_real_ones_are() {
    let crews: [&[f64]; 4] = [
        &[0.18, 0.0, -0.05],
        &[0.0, 0.01, -0.01, 0.0, 0.02],
        &[0.3, -0.2, 0.15, -0.1, 0.05, 0.0],
        &[0.12, -0.1, 0.03, 0.0, -0.05, 0.08, 0.2, -0.15],
    ];
    let mut seen = Vec::new();
    for (seed, crew) in (20..).zip(crews) {
        for (jobs, sigma) in [(40, 0.2), (120, 0.35), (400, 0.2), (6_000, 0.15)] {
            let shop = Shop::new(seed, crew, jobs, sigma);
            let people = People::new(&shop.sums(), &Sums::new(2)).unwrap();
            let wanted = vec![true; people.len()];
            for prior_scale in [0.05, 0.1, PRIOR_SCALE, 0.3] {
                let params = Params {
                    prior_scale,
                    ..Params::default()
                };
                let of = |cells| chances_slow(&people, &wanted, params, cells).unwrap();
                let few = Cells::imagined(prior_scale);
                assert_ne!(few, SHOWN);
                for (small, whole) in of(few).iter().zip(of(SHOWN)) {
                    assert!((small - whole).abs() < 0.002, "{small} {whole}");
                    seen.push(whole);
                }
            }
        }
    }
    assert!(seen.iter().any(|c| (0.3..0.7).contains(c)) && seen.iter().any(|c| *c > 0.95));
    for far in [0.01, 0.04, 0.4, 2.0] {
        assert_eq!(Cells::imagined(far), SHOWN, "{far}");
    }
}

/// From 5,000 degrees of freedom on the points in σ count as one normal: the
/// same people with their jobs once over say the same with all points.
#[test]
fn many_jobs_need_no_points_in_sigma() {
    let shop = Shop::new(8, &[0.12, -0.1, 0.03, 0.0, -0.05, 0.08], 6_000, 0.2);
    let people = People::new(&shop.sums(), &Sums::new(2)).unwrap();
    let grid = Grid::new(&people, PRIOR_SCALE, SHOWN).unwrap();
    let who: Vec<usize> = (0..people.len()).collect();
    let fast = grid.effects(&people, &who);
    let slow = grid.with_all_sigmas().effects(&people, &who);
    for (fast, slow) in fast.iter().zip(&slow) {
        for share in [0.025, 0.5, 0.975] {
            let apart = fast.quantile(share) - slow.quantile(share);
            assert!(apart.abs() < 1e-4 * slow.sd(), "{apart}");
        }
    }
}
