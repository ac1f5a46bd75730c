use super::*;
use nalgebra::DMatrix;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const PARAMS: Params = Params {
    prior_scale: 0.2,
    far_above: 0.10,
    far_below: -0.10,
    level: 0.95,
};
/// Set-up and rates of two finishes.
const TRUE: [f64; 3] = [1.2, 1.5, 1.9];

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// A measured job: its shop, areas and mL.
struct Job {
    shop: usize,
    areas: [f64; 2],
    ml: f64,
}

impl Job {
    /// Row over √area: what the work takes by `b`, one, areas; and mL.
    fn row(&self, b: &[f64; 3]) -> ([f64; 4], f64) {
        let root = (self.areas[0] + self.areas[1]).sqrt();
        let load = b[0] + b[1] * self.areas[0] + b[2] * self.areas[1];
        let row = [load, 1.0, self.areas[0], self.areas[1]];
        (row.map(|x| x / root), self.ml / root)
    }
}

/// `jobs` of each shop, which takes 1 + effect times what the work takes.
fn chain(rng: &mut ChaCha8Rng, effects: &[f64], jobs: &[usize], sd: f64) -> Vec<Job> {
    let mut all = Vec::new();
    for (shop, (effect, jobs)) in effects.iter().zip(jobs).enumerate() {
        for i in 0..*jobs {
            let area: f64 = rng.random_range(6.0..26.0);
            let share = [1.0, 0.0, 0.4][i % 3];
            let areas = [area * share, area * (1.0 - share)];
            let needs = TRUE[0] + TRUE[1] * areas[0] + TRUE[2] * areas[1];
            let ml = needs * (1.0 + effect) + sd * area.sqrt() * normal(rng);
            all.push(Job { shop, areas, ml });
        }
    }
    all
}

fn sums(jobs: &[Job], shops: usize, b: &[f64; 3]) -> Vec<Sums> {
    let mut each = vec![Sums::new(4); shops];
    for job in jobs {
        let (row, y) = job.row(b);
        each[job.shop].add(&row, y).unwrap();
    }
    each
}

fn fitted(jobs: &[Job], shops: usize) -> (Shops, Vec<usize>) {
    let mut each = sums(jobs, shops, &TRUE);
    let kept = thinned(&mut each).unwrap();
    (fit(&each, Load::Column(0), PARAMS).unwrap(), kept)
}

/// A finish's own rate in the columns kept.
fn rate_row(finish: usize, kept: &[usize]) -> Vec<f64> {
    let one = |column: &usize| match *column {
        0 => TRUE[1 + finish],
        c => f64::from(u8::from(c == 2 + finish)),
    };
    kept.iter().map(one).collect()
}

/// The slow twin: mean and sd of what `wanted` picks of (β, u), by brute force
/// on the rows themselves with n×n matrices and a fine grid over (τ, σ); none
/// of the header's algebra is used.
fn brute_force(
    rows: &[([f64; 3], f64, usize, f64)],
    shops: usize,
    wanted: &[(DVector<f64>, DVector<f64>)],
) -> Vec<[f64; 2]> {
    let (n, p) = (rows.len(), 3);
    let x = DMatrix::from_fn(n, p, |i, j| rows[i].0[j]);
    let z = DMatrix::from_fn(
        n,
        shops,
        |i, g| {
            if rows[i].2 == g { rows[i].3 } else { 0.0 }
        },
    );
    let y = DVector::from_fn(n, |i, _| rows[i].1);
    let mut cells: Vec<(f64, Vec<[f64; 2]>)> = Vec::new();
    for i in 0..300 {
        let tau = 1.2 * (f64::from(i) + 0.5) / 300.0;
        for k in 0..36 {
            let sigma = 0.18 + 0.4 * (f64::from(k) + 0.5) / 36.0;
            let v = &z * z.transpose() * (tau * tau) + DMatrix::identity(n, n) * (sigma * sigma);
            let chol = v.cholesky().unwrap();
            let log_det: f64 = chol.l().diagonal().iter().map(|d| 2.0 * d.ln()).sum();
            let vx = chol.solve(&x);
            let a = x.transpose() * &vx;
            let inverse = a.clone().try_inverse().unwrap();
            let beta = &inverse * vx.transpose() * &y;
            let r = &y - &x * &beta;
            let vr = chol.solve(&r);
            let prior = -(tau / PARAMS.prior_scale).powi(2).ln_1p() - sigma.ln();
            let log = -0.5 * (log_det + a.determinant().ln() + r.dot(&vr)) + prior;
            let t = tau * tau;
            let u = z.transpose() * &vr * t;
            // Var(u | y) and Cov(β, u | y), β flat.
            let gain = z.transpose() * chol.solve(&z) * (t * t);
            let bridge = z.transpose() * &vx * t;
            let var_u = DMatrix::identity(shops, shops) * t - gain
                + &bridge * &inverse * bridge.transpose();
            let cov = -&inverse * bridge.transpose();
            let one = |(b, w): &(DVector<f64>, DVector<f64>)| {
                let var = (b.transpose() * &inverse * b)[0]
                    + (w.transpose() * &var_u * w)[0]
                    + 2.0 * (b.transpose() * &cov * w)[0];
                [b.dot(&beta) + w.dot(&u), var]
            };
            cells.push((log, wanted.iter().map(one).collect()));
        }
    }
    let top = cells.iter().map(|c| c.0).fold(f64::NEG_INFINITY, f64::max);
    let whole: f64 = cells.iter().map(|c| (c.0 - top).exp()).sum();
    let moment = |q: usize, of: &dyn Fn([f64; 2]) -> f64| -> f64 {
        let each = cells.iter();
        each.map(|(log, found)| (log - top).exp() / whole * of(found[q]))
            .sum()
    };
    let pair = |q: usize| {
        let mean = moment(q, &|m| m[0]);
        let square = moment(q, &|m| m[1] + m[0] * m[0]);
        [mean, (square - mean * mean).sqrt()]
    };
    (0..wanted.len()).map(pair).collect()
}

#[test]
fn agrees_with_brute_force_on_the_rows() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let jobs = chain(&mut rng, &[0.2, -0.1, 0.02], &[9, 7, 6], 0.3);
    let (shops, kept) = fitted(&jobs, 3);
    // The load is made of the others, so the last finish's column is left out.
    assert_eq!(kept, [0, 1, 2]);
    // The twin has the plain columns: one and the areas.
    let row = |job: &Job| {
        let (row, y) = job.row(&TRUE);
        ([row[1], row[2], row[3]], y, job.shop, row[0])
    };
    let rows: Vec<_> = jobs.iter().map(row).collect();
    let only = |g: usize| DVector::from_fn(3, |i, _| f64::from(u8::from(i == g)));
    let mut wanted: Vec<_> = (0..3)
        .map(|g| (DVector::zeros(3), only(g).add_scalar(-1.0 / 3.0)))
        .collect();
    for g in 0..3 {
        for f in 0..2 {
            wanted.push((only(1 + f), only(g) * TRUE[1 + f]));
        }
    }
    let twin = brute_force(&rows, 3, &wanted);
    let mut ours: Vec<Estimate> = shops.against().iter().map(|a| a.departure).collect();
    for g in 0..3 {
        for f in 0..2 {
            ours.push(shops.own(g, &rate_row(f, &kept), TRUE[1 + f]).unwrap());
        }
    }
    for (ours, [mean, sd]) in ours.iter().zip(&twin) {
        // The brute grid ends at τ = 1.2 and σ in 0.18..0.58.
        assert!(
            (ours.value - mean).abs() < 0.02 * sd,
            "{ours:?} {mean} {sd}"
        );
        // Between the two ends lie some four standard deviations: near enough
        // to tell a wrong variance, not to test the tails.
        let width = (ours.high - ours.low) / (3.92 * sd);
        assert!((0.95..1.12).contains(&width), "{ours:?} {mean} {sd}");
    }
}

/// Over many chains the interval of a shop against the usual, and that of its
/// own rate, hold the truth 93 to 97 times in 100.
#[test]
fn intervals_hold_over_many_chains() {
    for (seed, tau, sizes) in [
        (1, 0.10, vec![20; 5]),
        (2, 0.10, vec![60, 12, 30]),
        (3, 0.05, vec![40; 8]),
    ] {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let (mut held, mut own_held, mut all) = (0, 0, 0);
        for _ in 0..200 {
            let effects: Vec<f64> = sizes.iter().map(|_| tau * normal(&mut rng)).collect();
            let mean = effects.iter().sum::<f64>() / effects.len() as f64;
            let jobs = chain(&mut rng, &effects, &sizes, 0.35);
            let (shops, kept) = fitted(&jobs, sizes.len());
            for (shop, found) in shops.against().iter().enumerate() {
                all += 1;
                held += u32::from(found.departure.holds(effects[shop] - mean));
                let own = shops.own(shop, &rate_row(0, &kept), TRUE[1]).unwrap();
                own_held += u32::from(own.holds(TRUE[1] * (1.0 + effects[shop])));
            }
        }
        for (what, held) in [("against", held), ("own", own_held)] {
            let share = f64::from(held) / f64::from(all);
            println!("{what}: {share:.4} of {all}, tau {tau}, {sizes:?}");
            assert!((0.93..=0.97).contains(&share), "{what} {share} {sizes:?}");
        }
    }
}

#[test]
fn a_shop_that_takes_a_quarter_more_is_seen_and_shops_alike_are_not() {
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let jobs = chain(&mut rng, &[0.25, 0.0, 0.0], &[60, 60, 60], 0.35);
    let found = fitted(&jobs, 3).0.against();
    assert!(found[0].chance_above > 0.8, "{found:?}");
    assert!(found[0].departure.low > 0.0, "{found:?}");
    let alike = chain(&mut rng, &[0.0; 4], &[40; 4], 0.35);
    for shop in fitted(&alike, 4).0.against() {
        assert!(shop.departure.holds(0.0), "{shop:?}");
        assert!(shop.chance_above < 0.2 && shop.chance_below < 0.2);
    }
}

#[test]
fn a_shop_with_one_job_is_drawn_to_the_usual() {
    let mut rng = ChaCha8Rng::seed_from_u64(12);
    let mut jobs = chain(&mut rng, &[0.03, -0.03, 0.0], &[40, 40, 1], 0.35);
    // The one job took 15 % over its work: some three times its noise.
    let last = jobs.last_mut().unwrap();
    let needs = TRUE[0] + TRUE[1] * last.areas[0] + TRUE[2] * last.areas[1];
    last.ml = 1.15 * needs;
    let (shops, _) = fitted(&jobs, 3);
    let found = shops.against();
    assert_eq!(found[2].departure.n, 1);
    // Unshrunk it would lie 15 % over the other two, two thirds of that over
    // the mean of the three.
    assert!((0.0..0.09).contains(&found[2].departure.value), "{found:?}");
    assert!(found[2].departure.low < 0.0, "{found:?}");
    let width = |i: usize| found[i].departure.high - found[i].departure.low;
    assert!(width(2) > 1.5 * width(0), "{found:?}");
    let sum: f64 = found.iter().map(|f| f.departure.value).sum();
    assert!(
        sum.abs() < 1e-9,
        "departures are from the mean of the shops"
    );
}

#[test]
fn units_order_and_parts_change_nothing() {
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let jobs = chain(&mut rng, &[0.1, -0.1, 0.0], &[20, 15, 10], 0.3);
    let plain = fitted(&jobs, 3).0.against();
    let turned: Vec<Job> = (jobs.iter().rev())
        .map(|j| Job {
            shop: 2 - j.shop,
            areas: j.areas,
            ml: j.ml,
        })
        .collect();
    for (a, b) in plain
        .iter()
        .zip(fitted(&turned, 3).0.against().iter().rev())
    {
        assert!((a.departure.low - b.departure.low).abs() < 1e-7);
        assert!((a.chance_above - b.chance_above).abs() < 1e-6);
    }
    // US fluid ounces in place of mL: d has no unit, a rate has.
    let ounce = 29.573_529_562_5;
    let mut ounces = vec![Sums::new(4); 3];
    for job in &jobs {
        let (row, y) = job.row(&TRUE.map(|b| b / ounce));
        ounces[job.shop].add(&row, y / ounce).unwrap();
    }
    let kept = thinned(&mut ounces).unwrap();
    let found = fit(&ounces, Load::Column(0), PARAMS).unwrap();
    for (a, b) in plain.iter().zip(found.against()) {
        assert!((a.departure.high - b.departure.high).abs() < 1e-6);
    }
    let row: Vec<f64> = rate_row(0, &kept)
        .iter()
        .enumerate()
        .map(|(i, x)| if i == 0 { x / ounce } else { *x })
        .collect();
    let (ml, kept) = fitted(&jobs, 3);
    let [in_ml, in_oz] = [
        ml.own(1, &rate_row(0, &kept), TRUE[1]).unwrap(),
        found.own(1, &row, TRUE[1] / ounce).unwrap(),
    ];
    assert!((in_ml.value / (in_oz.value * ounce) - 1.0).abs() < 1e-6);
    let [early, late] = jobs.split_at(17).into();
    let mut merged = sums(early, 3, &TRUE);
    for (sum, more) in merged.iter_mut().zip(sums(late, 3, &TRUE)) {
        sum.merge(&more).unwrap();
        sum.merge(&Sums::new(4)).unwrap();
    }
    thinned(&mut merged).unwrap();
    let again = fit(&merged, Load::Column(0), PARAMS).unwrap().against();
    assert!((again[0].departure.value - plain[0].departure.value).abs() < 1e-9);
}

/// Minutes: with an even load the shops are what people are to [`super::super`].
#[test]
fn an_even_load_is_the_pace_of_people() {
    let mut rng = ChaCha8Rng::seed_from_u64(14);
    let mut each = vec![Sums::new(2); 3];
    for i in 0..45 {
        let x = rng.random_range(0.0..1.0);
        let y = 3.6 + 0.4 * x + 0.1 * (i % 3) as f64 + 0.2 * normal(&mut rng);
        each[i % 3].add(&[1.0, x], y).unwrap();
    }
    let found = fit(&each, Load::Even, PARAMS).unwrap();
    let people = People::new(&each, &Sums::new(2)).unwrap();
    let paces = crate::fits::pace::fit(&people, crate::fits::pace::Params::default()).unwrap();
    for (shop, person) in found.against().iter().zip(&paces.people) {
        assert!((shop.departure.low.exp() - person.factor.low).abs() < 1e-12);
    }
    // A load that is 1 throughout is the same again.
    let along = fit(&each, Load::Column(0), PARAMS).unwrap();
    let (a, b) = (along.against(), found.against());
    assert!((a[0].departure.low - b[0].departure.low).abs() < 1e-9);
    let own = found.own(2, &[1.0, 0.5], 1.0).unwrap();
    assert!(own.holds(4.0) && own.n == 15, "{own:?}");
    assert!(found.own(3, &[1.0, 0.5], 1.0).is_none());
    assert!(found.own(0, &[1.0], 1.0).is_none());
}

#[test]
fn too_little_data_and_bad_input_are_said() {
    let mut rng = ChaCha8Rng::seed_from_u64(15);
    let jobs = chain(&mut rng, &[0.0, 0.0], &[10, 10], 0.3);
    let mut each = sums(&jobs, 2, &TRUE);
    thinned(&mut each).unwrap();
    let run = |each: &[Sums], params| fit(each, Load::Column(0), params).map(|_| ());
    assert!(run(&each, PARAMS).is_ok());
    let one = run(&each[..1], PARAMS);
    assert!(matches!(&one, Err(FitError::NotEnough(n)) if n.have == 1 && n.need == 2));
    assert!(run(&[], PARAMS).is_err());
    let few = chain(&mut rng, &[0.0, 0.0], &[3, 2], 0.3);
    let mut few = sums(&few, 2, &TRUE);
    thinned(&mut few).unwrap();
    assert!(matches!(run(&few, PARAMS), Err(FitError::NotEnough(n)) if n.need == 6));
    let empty = [each[0].clone(), each[1].clone(), Sums::new(3)];
    assert!(matches!(
        run(&empty, PARAMS),
        Err(FitError::OutOfRange { row: 2, .. })
    ));
    let mut idle = Sums::new(2);
    idle.add(&[0.0, 1.0], 2.0).unwrap();
    let mut busy = Sums::new(2);
    busy.add(&[3.0, 1.0], 5.0).unwrap();
    let said = fit(&[busy, idle], Load::Column(0), PARAMS)
        .unwrap_err()
        .to_string();
    assert!(said.contains("load of a person's jobs"), "{said}");
    let whole = sums(&jobs, 2, &TRUE);
    assert!(matches!(
        run(&whole, PARAMS),
        Err(FitError::Collinear { .. })
    ));
    assert!(fit(&each, Load::Column(3), PARAMS).is_err());
    for params in [
        Params {
            prior_scale: 0.0,
            ..PARAMS
        },
        Params {
            far_above: f64::NAN,
            ..PARAMS
        },
        Params {
            far_below: 0.1,
            ..PARAMS
        },
        Params {
            level: 1.0,
            ..PARAMS
        },
    ] {
        assert!(run(&each, params).is_err(), "{params:?}");
    }
    // Every job exactly what the work takes.
    let exact = chain(&mut rng, &[0.0, 0.0], &[10, 10], 0.0);
    let mut exact = sums(&exact, 2, &TRUE);
    thinned(&mut exact).unwrap();
    let said = run(&exact, PARAMS).unwrap_err().to_string();
    assert!(said.contains("once the work is taken out"), "{said}");
}

/// What the one rule points at, of all that could be said of use: its raised
/// ones, those of them that are not truly so far off, and all truly so far off.
fn raised(rng: &mut ChaCha8Rng, tau: f64, sizes: &[usize]) -> [u32; 3] {
    use crate::fits::discovery::{Rule, by_chance};
    let effects: Vec<f64> = sizes.iter().map(|_| tau * normal(rng)).collect();
    let mean = effects.iter().sum::<f64>() / effects.len() as f64;
    let jobs = chain(rng, &effects, sizes, 0.35);
    let found = fitted(&jobs, sizes.len()).0.against();
    let chances: Vec<f64> = found
        .iter()
        .flat_map(|a| [a.chance_above, a.chance_below])
        .collect();
    let said = by_chance(&chances, Rule::default()).unwrap().raised;
    let far = |i: usize| {
        let d = effects[i / 2] - mean;
        if i.is_multiple_of(2) {
            d > PARAMS.far_above
        } else {
            d < PARAMS.far_below
        }
    };
    let count = |of: &dyn Fn(usize) -> bool| (0..said.len()).filter(|i| of(*i)).count() as u32;
    [
        count(&|i| said[i]),
        count(&|i| said[i] && !far(i)),
        count(&far),
    ]
}

#[test]
fn few_are_pointed_at_wrongly() {
    let mut rng = ChaCha8Rng::seed_from_u64(21);
    let mut many = |tau: f64, sizes: &[usize], chains: u32| {
        let mut sum = [0; 3];
        for _ in 0..chains {
            let one = raised(&mut rng, tau, sizes);
            sum.iter_mut().zip(one).for_each(|(s, x)| *s += x);
        }
        println!("tau {tau}, {sizes:?}: raised, wrongly, truly far {sum:?} in {chains}");
        sum
    };
    // Shops alike: in no more than one chain of a hundred is any raised.
    let [none, _, _] = many(0.0, &[20; 5], 200);
    assert!(none <= 2, "{none}");
    // Shops that differ: no more than one in ten of those raised is wrong.
    let [all, wrong, far] = many(0.10, &[30; 6], 120);
    assert!(all * 3 > far, "{all} of {far} are seen");
    assert!(wrong * 10 <= all, "{wrong} of {all} raised wrongly");
}
