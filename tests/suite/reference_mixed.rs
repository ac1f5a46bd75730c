//! The random-intercept model against published and computed values.
//!
//! Dyestuff and sleepstudy are balanced: their REML estimates are identities
//! of the analysis of variance, which lme4 1.1-31 reaches to 7 to 9 digits,
//! and which are asked for here to 11. Petrol is unbalanced; there lme4's own
//! optimiser limits the comparison. Profile ends are held to exact ones from
//! the closed-form likelihood (mpmath 1.4.1, 60 digits), not to lme4's, which
//! are interpolated.

use crate::reference_tables::{Table, assert_digits};
use std::collections::BTreeMap;
use tallycoat::fits::mixed::{Criterion, GroupSpread, GroupStatistics, MixedFit, RandomIntercept};

/// Labels 0, 1, ... in alphabetical order, and the statistics.
fn gather(groups: &[String], columns: &[Vec<f64>], y: &[f64]) -> GroupStatistics {
    let names: BTreeMap<&String, u64> = groups.iter().map(|g| (g, 0)).collect();
    let labels: BTreeMap<&String, u64> = names.into_keys().zip(0..).collect();
    let mut statistics = GroupStatistics::new(columns.len());
    for (i, g) in groups.iter().enumerate() {
        let x: Vec<f64> = columns.iter().map(|c| c[i]).collect();
        statistics.add(Some(labels[g]), &x, y[i]);
    }
    statistics
}

fn fit(statistics: &GroupStatistics, criterion: Criterion) -> MixedFit {
    RandomIntercept { criterion }.fit(statistics).unwrap()
}

fn dyestuff() -> GroupStatistics {
    let t = Table::read("dyestuff");
    gather(t.text("Batch"), &[vec![1.0; 30]], &t.numbers("Yield"))
}

fn sleepstudy() -> GroupStatistics {
    let t = Table::read("sleepstudy");
    let columns = [vec![1.0; 180], t.numbers("Days")];
    gather(t.text("Subject"), &columns, &t.numbers("Reaction"))
}

#[test]
fn dyestuff_by_reml() {
    let f = fit(&dyestuff(), Criterion::Reml);
    assert_eq!(f.spread, GroupSpread::Estimated);
    // MixedModels.jl test suite prints 319.6542768422576.
    assert_digits("criterion", f.criterion, 319.6542768422576, 14.0);
    // Identities: MSW and (MSB - MSW)/5 with MSB 11271.5, MSW 2451.25.
    assert_digits("sigma^2", f.residual_variance, 2451.25, 11.0);
    assert_digits("tau^2", f.group_variance, 1764.05, 11.0);
    assert_digits("intercept", f.coefficients[0], 1527.5, 14.0);
    let c = f.combination(&[1.0]);
    assert_digits("se", c.standard_error, (11271.5f64 / 30.0).sqrt(), 11.0);
    // lmerTest 3.1-3 gives 4.99999998; balanced, it is 6 - 1.
    assert_digits("df", c.df, 5.0, 10.0);
    // lme4 1.1-31, which stops at 1e-8.
    let expected = [
        -17.6068512234638,
        0.391263360522021,
        28.5622253180653,
        -23.0845382707638,
        56.7331872756084,
        -44.9952864599641,
    ];
    for (effect, value) in f.effects.iter().zip(expected) {
        assert_digits("BLUP", effect.value, value, 7.0);
        assert_digits(
            "conditional SD",
            effect.conditional_sd,
            19.5865700599132,
            7.0,
        );
        assert_eq!(effect.rows, 5);
    }
    assert_eq!(f.effects.len(), 6);
}

#[test]
fn dyestuff_by_maximum_likelihood() {
    let f = fit(&dyestuff(), Criterion::Ml);
    // MixedModels.jl test suite; its parameters hold to 7 digits.
    assert_digits("-2 ln L", f.criterion, 327.32705988112673, 13.5);
    assert_digits(
        "tau^2",
        f.group_variance,
        (5.0 / 6.0 * 11271.5 - 2451.25) / 5.0,
        11.0,
    );
    assert_digits("theta", f.theta(), 0.7525806540074477, 6.5);
    assert_digits("se", f.covariance()[(0, 0)].sqrt(), 17.694552929494222, 7.0);
    let tau = f.group_sd(0.95).unwrap().unwrap();
    let sigma = f.residual_sd(0.95).unwrap();
    assert_digits("tau low", tau.low, 12.1965052791606, 9.0);
    assert_digits("tau high", tau.high, 84.0634109693363, 9.0);
    assert_digits("sigma low", sigma.low, 38.2301233112571, 9.0);
    assert_digits("sigma high", sigma.high, 67.6576727897631, 9.0);
}

#[test]
fn sleepstudy_by_reml() {
    let f = fit(&sleepstudy(), Criterion::Reml);
    assert_digits("criterion", f.criterion, 1786.46508539492, 13.5);
    assert_digits("b0", f.coefficients[0], 251.405104848483, 12.0);
    assert_digits("b1", f.coefficients[1], 10.467285959596, 12.0);
    // Identities: within SS after Days / 161, and (MS subjects - that)/10.
    assert_digits("sigma^2", f.residual_variance, 960.456578928759, 12.0);
    assert_digits("tau^2", f.group_variance, 1378.1785084185, 11.0);
    let (b0, b1) = (f.combination(&[1.0, 0.0]), f.combination(&[0.0, 1.0]));
    // lme4 1.1-31; balanced, so Kenward-Roger leaves the errors as they are.
    assert_digits("se b0", b0.standard_error, 9.74671633893592, 7.0);
    assert_digits("se b1", b1.standard_error, 0.804221428228504, 7.0);
    // pbkrtest 0.5.2 through lmerTest 3.1-3, whose fit stops at 1e-8.
    assert_digits("Kenward-Roger df b0", b0.df, 22.8101990921784, 6.5);
    assert_digits("Kenward-Roger df b1", b1.df, 161.0, 11.0);
    let t = Table::read("expected_sleepstudy_blups");
    let subjects = t.text("subject").iter().zip(t.numbers("reml_blup"));
    for ((subject, value), effect) in subjects.zip(&f.effects) {
        assert_digits(subject, effect.value, value, 6.5);
        assert_digits(subject, effect.conditional_sd, 9.47566811685694, 7.0);
    }
}

#[test]
fn sleepstudy_by_maximum_likelihood() {
    let f = fit(&sleepstudy(), Criterion::Ml);
    assert_digits("-2 ln L", f.criterion, 1794.07864300523, 13.5);
    assert_digits("tau^2", f.group_variance, 1296.87004818075, 7.0);
    assert_digits("sigma^2", f.residual_variance, 954.527834016882, 7.0);
    let tau = f.group_sd(0.95).unwrap().unwrap();
    let sigma = f.residual_sd(0.95).unwrap();
    assert_digits("tau low", tau.low, 26.0070777853665, 9.0);
    assert_digits("tau high", tau.high, 52.9359579055099, 9.0);
    assert_digits("sigma low", sigma.low, 27.8138554264262, 9.0);
    assert_digits("sigma high", sigma.high, 34.5910532227717, 9.0);
}

#[test]
fn petrol_is_unbalanced() {
    let t = Table::read("petrol");
    let centred = |name: &str| {
        let x = t.numbers(name);
        let mean = x.iter().sum::<f64>() / x.len() as f64;
        x.iter().map(|v| v - mean).collect::<Vec<f64>>()
    };
    let columns = [
        vec![1.0; 32],
        centred("SG"),
        centred("VP"),
        centred("V10"),
        centred("EP"),
    ];
    let y = t.numbers("Y");
    let f = fit(&gather(t.text("No"), &columns, &y), Criterion::Reml);
    // lme4 1.1-31, whose optimiser stops at about 1e-8 of theta.
    assert_digits("criterion", f.criterion, 152.381953739997, 12.0);
    assert_digits("sd No", f.group_variance.sqrt(), 1.44474315675667, 6.5);
    assert_digits(
        "sd residual",
        f.residual_variance.sqrt(),
        1.87220746991095,
        6.5,
    );
    let published = [
        (19.7067890685611, 0.568273884346312),
        (0.219398150959738, 0.146937929074994),
        (0.545863101344637, 0.520527975995963),
        (-0.154242727646687, 0.0399624264462469),
        (0.157176792799879, 0.00558799797104691),
    ];
    for (j, (b, se)) in published.iter().enumerate() {
        assert_digits("coefficient", f.coefficients[j], *b, 6.5);
        assert_digits("se", f.covariance()[(j, j)].sqrt(), *se, 6.5);
    }
    let ml = fit(&gather(t.text("No"), &columns, &y), Criterion::Ml);
    assert_digits("-2 ln L", ml.criterion, 135.383326255445, 12.0);
    assert_digits("ML sd No", ml.group_variance.sqrt(), 0.928890776336861, 6.5);
    assert_digits("ML sd", ml.residual_variance.sqrt(), 1.82729513497366, 6.5);
}

// Minutes where they come down to one lognormal sample ---------------------------

/// One class, one finish, full vehicles, one person: ln m = alpha + e.
fn one_sample(minutes: &[f64]) -> tallycoat::fits::minutes::MinutesFit {
    use tallycoat::fits::minutes::{Jobs, Minutes, Shape};
    let n = minutes.len();
    let shape = Shape {
        classes: 1,
        finishes: 1,
        smoothest: 0,
    };
    let (ones, people) = (vec![1.0; n], vec![Some(1); n]);
    let classes = vec![0; n];
    let jobs = Jobs::new(minutes, &classes, &ones, &ones, &people, shape).unwrap();
    let task = Minutes::new(jobs).with_outliers(tallycoat::fits::robust::Outliers::Keep);
    task.fit().unwrap()
}

#[test]
fn lognormal_mean_of_chromium() {
    // USEPA 1992, as in R's EnvStats 3.1.0: 15 values.
    use tallycoat::fits::interval::{sum_of_independent, t_interval, variance_interval};
    let y = Table::read("epa_1992d_chromium").numbers("chromium");
    let fit = one_sample(&y);
    let levels = &fit.classes[0].data_alone;
    assert_digits(
        "median",
        levels.typical.value().unwrap(),
        79.7291865924995,
        13.0,
    );
    // exp(mean of logs + s^2/2), numpy 2.4.6.
    assert_digits(
        "mean",
        levels.average.value().unwrap(),
        173.445689846341,
        13.0,
    );
    let sd = fit.residual_sd.known().unwrap();
    assert_digits("sd of logs", sd.value, 1.24677888907759, 13.0);
    // Zou's interval (EnvStats, method "zou") takes the normal quantile for
    // the mean of the logs; with that (an infinite df) the same parts give it.
    let log = t_interval(
        4.37863572443677,
        sd.value / 15f64.sqrt(),
        f64::INFINITY,
        0.95,
        15,
    );
    let half = variance_interval(sd.value * sd.value, 14.0, 0.95, 15).map(|v| v / 2.0);
    let zou = sum_of_independent(log, half).map(f64::exp);
    assert_digits("Zou low", zou.low, 83.8583693982942, 11.0);
    assert_digits("Zou high", zou.high, 647.278859196578, 11.0);
    // The fit's own takes Student's t and so lies outside Zou's.
    let own = levels.average.known().unwrap();
    assert!(own.low < zou.low && own.high > zou.high);
}

#[test]
fn lognormal_prediction_interval() {
    // R: set.seed(47); rlnorm(20, 0, 1), two-sided 90 %, as printed in
    // EnvStats' help of predIntLnorm (0.1795898, 4.5264399).
    use tallycoat::fits::{evidence::Source, minutes::NewJob};
    let fit = one_sample(&Table::read("envstats_sim47_lognormal").numbers("y"));
    let job = NewJob {
        class: 0,
        covered: 1.0,
        finish_shares: &[1.0],
    };
    let one = fit.one_job(Source::DataAlone, &job, 0.9).unwrap();
    assert_digits("low", one.range.low, 0.179589753800434, 12.0);
    assert_digits("high", one.range.high, 4.52643994004496, 12.0);
    assert_digits(
        "median",
        one.typical.value,
        (-0.103572214762451f64).exp(),
        13.0,
    );
}
