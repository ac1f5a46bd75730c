//! Quantiles and tails that the intervals need: a thin layer over `statrs`.
//!
//! Its functions were compared with scipy 1.17.1 over the arguments that the
//! program can meet. Most agree to 1e-12; those that do not are worked round
//! here, each beside the input that forced it:
//!
//! * `StudentsT::inverse_cdf`: 1e-8 off at 10,000 degrees of freedom, 2e-5 at
//!   484,000, 7 % at 1e7 (its continued fraction stops after 140 terms). From
//!   [`MANY`] degrees of freedom on, [`t_quantile`] expands about the normal.
//! * `Beta::inverse_cdf`: 2e-6 off at (3, 484,000) for the same reason.
//!   [`beta_cdf`] is our own, with Loader's prefactor and as many terms as it
//!   takes; [`beta_quantile`] inverts it.
//! * `ChiSquared::inverse_cdf`: 7e-11 off at 2 degrees of freedom and 4 % at the
//!   0.025 quantile of 0.37 (an absolute tolerance); [`chi_squared_quantile`]
//!   polishes it by Newton's method.
//!
//! Arguments out of range give NaN, which no caller can produce from checked
//! input; nothing here panics.

use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, Normal, StudentsT};
use statrs::function::gamma::ln_gamma;

/// Degrees of freedom from which the expansion about the normal quantile
/// replaces `statrs`, which inverts by a search: its error there is under 1e-12
/// of the value at 0.99 and 1e-10 at 0.9999, by scipy 1.17.1.
const MANY: f64 = 300.0;

/// Probability below `z` under the standard normal.
pub fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

/// The standard normal quantile of `p`, 0 < p < 1.
pub fn normal_quantile(p: f64) -> f64 {
    if is_open_share(p) {
        Normal::standard().inverse_cdf(p)
    } else {
        f64::NAN
    }
}

/// Student's t quantile of `p` at `df` > 0 degrees of freedom, whole or not;
/// an infinite `df` gives the normal quantile.
///
/// Expansion for large `df`: Abramowitz and Stegun 26.7.5.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if !is_open_share(p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if df < MANY {
        return StudentsT::new(0.0, 1.0, df).map_or(f64::NAN, |t| t.inverse_cdf(p));
    }
    let z = normal_quantile(p);
    let s = z * z;
    let g1 = (s + 1.0) * z / 4.0;
    let g2 = ((5.0 * s + 16.0) * s + 3.0) * z / 96.0;
    let g3 = (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) * z / 384.0;
    let g4 = ((((79.0 * s + 776.0) * s + 1482.0) * s - 1920.0) * s - 945.0) * z / 92160.0;
    z + (g1 + (g2 + (g3 + g4 / df) / df) / df) / df
}

/// Half the width of a two-sided interval of the given level in standard
/// errors: Student's t at `df`.
pub fn t_margin(level: f64, df: f64) -> f64 {
    t_quantile(0.5 + level / 2.0, df)
}

/// Half the width of a two-sided normal interval in standard errors.
pub fn normal_margin(level: f64) -> f64 {
    normal_quantile(0.5 + level / 2.0)
}

/// Chi-squared quantile of `p` at `df` > 0 degrees of freedom.
pub fn chi_squared_quantile(p: f64, df: f64) -> f64 {
    let Ok(d) = ChiSquared::new(df) else {
        return f64::NAN;
    };
    if !is_open_share(p) || !df.is_finite() {
        return f64::NAN;
    }
    // Halving takes some fifty looks at the distribution, each of hundreds of
    // terms at many degrees of freedom.
    let near = Some(near_chi_squared_quantile(p, df)).filter(|x| *x > 0.0);
    near.and_then(|x| polished(&d, p, x)).unwrap_or_else(|| {
        let x = d.inverse_cdf(p);
        polished(&d, p, x).unwrap_or(x)
    })
}

/// Where to start from: far down, chi-squared is a power of x; else Wilson and
/// Hilferty's quantile (1931, doi:10.1073/pnas.17.12.684), by which the cube
/// root is nearly normal. The border is that of algorithm AS 91 (Best and
/// Roberts 1975, doi:10.2307/2347113; from memory).
fn near_chi_squared_quantile(p: f64, df: f64) -> f64 {
    if df < -1.24 * p.ln() {
        let a = df / 2.0;
        return 2.0 * ((p.ln() + ln_gamma(a + 1.0)) / a).exp();
    }
    let variance = 2.0 / (9.0 * df);
    df * (1.0 - variance + normal_quantile(p) * variance.sqrt()).powi(3)
}

/// By Newton's steps from `x`, until they are no more than rounding; `None`
/// where they lead nowhere.
fn polished(d: &ChiSquared, p: f64, mut x: f64) -> Option<f64> {
    let mut before = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        // Its own pdf overflows at some 260 degrees of freedom.
        let step = (d.cdf(x) - p) / d.ln_pdf(x).exp();
        if !step.is_finite() || step >= x {
            return None;
        }
        if step.abs() <= f64::EPSILON * x {
            return Some(x);
        }
        // Rounding in the distribution moves x to and fro.
        if step.abs() >= before && before < 1e-9 * x {
            return Some(x);
        }
        before = step.abs();
        x -= step;
    }
    (before < 1e-9 * x).then_some(x)
}

/// Most of Newton's steps.
const MOST_STEPS: u32 = 10;

/// Probability above `x` under chi-squared with `df` > 0 degrees of freedom.
pub fn chi_squared_tail(x: f64, df: f64) -> f64 {
    ChiSquared::new(df).map_or(f64::NAN, |d| d.sf(x.max(0.0)))
}

/// Regularised incomplete beta function: the probability below `x`, 0..1,
/// under Beta(a, b), a and b > 0.
///
/// The prefactor is Loader's saddle-point form (C. Loader, "Fast and accurate
/// computation of binomial probabilities", 2000), the rest the usual continued
/// fraction by Lentz's method (Press et al., Numerical Recipes, 6.4).
pub fn beta_cdf(x: f64, a: f64, b: f64) -> f64 {
    if !is_beta(a, b) || !(0.0..=1.0).contains(&x) {
        return f64::NAN;
    }
    if x == 0.0 || x == 1.0 {
        return x;
    }
    beta_below(x, a, b, beta_power(x, a, b))
}

/// [`beta_cdf`] for 0 < x < 1 with its prefactor.
fn beta_below(x: f64, a: f64, b: f64, power: f64) -> f64 {
    if x < (a + 1.0) / (a + b + 2.0) {
        power / a * beta_fraction(x, a, b)
    } else {
        1.0 - power / b * beta_fraction(1.0 - x, b, a)
    }
}

/// The quantile of `p`, 0..1, under Beta(a, b).
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    if !is_beta(a, b) || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 || p == 1.0 {
        return p;
    }
    let (mut low, mut high, mut before) = (0.0, 1.0, f64::INFINITY);
    let mut x = near_beta_quantile(p, a, b);
    for _ in 0..200 {
        let power = beta_power(x, a, b);
        let miss = beta_below(x, a, b, power) - p;
        if miss > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let step = miss * x * (1.0 - x) / power;
        // Rounding in the distribution moves x to and fro.
        let rounding = step.abs() >= before && before < 1e-9 * x;
        if rounding || step.abs() <= 2.0 * f64::EPSILON * x {
            return x;
        }
        (before, x) = if (low..=high).contains(&(x - step)) {
            (step.abs(), x - step)
        } else {
            (f64::INFINITY, 0.5 * (low + high))
        };
    }
    x
}

/// Where to start from: the normal quantile with the beta's mean and standard
/// deviation, or the mean where that is no share.
fn near_beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let mean = a / (a + b);
    let sd = (mean * (1.0 - mean) / (a + b + 1.0)).sqrt();
    let near = mean + normal_quantile(p) * sd;
    if is_open_share(near) { near } else { mean }
}

/// Probability of `k` or fewer successes in `n` trials of chance `p`.
pub fn binomial_cdf(k: u64, n: u64, p: f64) -> f64 {
    if k >= n {
        return 1.0;
    }
    beta_cdf(1.0 - p, (n - k) as f64, k as f64 + 1.0)
}

/// Probability of exactly `k` successes in `n` trials of chance `p`, k <= n.
pub fn binomial_probability(k: u64, n: u64, p: f64) -> f64 {
    let at_edge = |all: bool| if all { 1.0 } else { 0.0 };
    match (k, n) {
        _ if k > n => 0.0,
        _ if p <= 0.0 => at_edge(k == 0),
        _ if p >= 1.0 => at_edge(k == n),
        (0, _) => (n as f64 * (-p).ln_1p()).exp(),
        _ if k == n => (n as f64 * p.ln()).exp(),
        _ => binomial_raw(k as f64, n as f64, p),
    }
}

fn is_beta(a: f64, b: f64) -> bool {
    a > 0.0 && b > 0.0 && (a + b).is_finite()
}

fn is_open_share(p: f64) -> bool {
    p > 0.0 && p < 1.0
}

/// x^a (1-x)^b / B(a, b), 0 < x < 1.
fn beta_power(x: f64, a: f64, b: f64) -> f64 {
    a * b / (a + b) * binomial_raw(a, a + b, x)
}

/// Gamma(n+1)/(Gamma(k+1) Gamma(n-k+1)) p^k (1-p)^(n-k) for real 0 < k < n.
fn binomial_raw(k: f64, n: f64, p: f64) -> f64 {
    let m = n - k;
    let exponent = stirling_error(n)
        - stirling_error(k)
        - stirling_error(m)
        - deviance(k, n * p)
        - deviance(m, n * (1.0 - p));
    exponent.exp() * (n / (2.0 * std::f64::consts::PI * k * m)).sqrt()
}

/// ln Gamma(z+1) less Stirling's formula for it.
fn stirling_error(z: f64) -> f64 {
    if z <= 15.0 {
        let half_log_two_pi = 0.5 * (2.0 * std::f64::consts::PI).ln();
        return ln_gamma(z + 1.0) - (z + 0.5) * z.ln() + z - half_log_two_pi;
    }
    let s = z * z;
    let tail = 1.0 / 1260.0 - (1.0 / 1680.0 - (1.0 / 1188.0 - 691.0 / 360360.0 / s) / s) / s;
    (1.0 / 12.0 - (1.0 / 360.0 - tail / s) / s) / z
}

/// x ln(x/m) + m - x without cancellation where x is near m.
fn deviance(x: f64, m: f64) -> f64 {
    if (x - m).abs() >= 0.1 * (x + m) {
        return x * (x / m).ln() + m - x;
    }
    let v = (x - m) / (x + m);
    let mut sum = (x - m) * v;
    let mut term = 2.0 * x * v;
    for j in 1..1000 {
        term *= v * v;
        let next = sum + term / f64::from(2 * j + 1);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}

/// The continued fraction of the incomplete beta function.
fn beta_fraction(x: f64, a: f64, b: f64) -> f64 {
    let away_from_zero = |v: f64| if v.abs() < 1e-300 { 1e-300 } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..100_000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away_from_zero(1.0 + even * d);
        c = away_from_zero(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away_from_zero(1.0 + odd * d);
        c = away_from_zero(1.0 + odd / c);
        h *= d * c;
        if (d * c - 1.0).abs() < 4.0 * f64::EPSILON {
            break;
        }
    }
    h
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(what: &str, got: f64, want: f64) {
        assert!(
            (got - want).abs() <= 2e-12 * want.abs(),
            "{what}: {got:e}, {want:e}"
        );
    }

    /// scipy 1.17.1; the large ones are where `statrs` alone goes wrong.
    #[test]
    fn quantiles_agree_with_scipy() {
        for (p, df, want) in [
            (0.975, 0.5, 164.55767348048818),
            (0.975, 3.0, 3.1824463052837078),
            (0.9, 22.81, 1.319785434826395),
            (0.995, 299.9, 2.5923219414275063),
            (0.995, 300.1, 2.592310883976011),
            (0.995, 999.9, 2.580755191540747),
            (0.975, 1000.0, 1.9623390808264083),
            (0.9995, 1000.0, 3.300282648423944),
            (0.975, 484_000.0, 1.959968885938942),
            (0.975, f64::INFINITY, 1.959963984540054),
        ] {
            near("t", t_quantile(p, df), want);
            near("t, lower", t_quantile(1.0 - p, df), -want);
        }
        for (p, df, want) in [
            (0.025, 0.37, 2.8271055403056e-09),
            (0.025, 1.0, 0.0009820691171752555),
            (0.975, 2.0, 7.377758908227871),
            (0.975, 5.0, 12.832501994030027),
            (0.95, 160.0, 190.5164565139585),
            (0.025, 484_000.0, 482073.545415173),
        ] {
            near("chi-squared", chi_squared_quantile(p, df), want);
        }
        for (p, a, b, want) in [
            (0.025, 15.0, 134.0, 0.05784401008344857),
            (0.975, 16.0, 133.0, 0.161650490349479),
            (0.025, 3.0, 484_000.0, 1.2782447298442424e-06),
            (0.5, 200_000.0, 284_000.0, 0.41322302096841607),
        ] {
            near("beta", beta_quantile(p, a, b), want);
        }
        near("normal", normal_quantile(1e-10), -6.361340902404056);
        near("tail", chi_squared_tail(3.5, 2.0), 0.1737739434504451);
    }

    /// Few and many degrees of freedom, both tails (scipy 1.17.1, chi2.ppf).
    #[test]
    fn chi_squared_quantiles_agree_with_scipy_in_both_tails() {
        let shares = [1e-6, 0.025, 0.5, 0.975, 0.999999];
        #[rustfmt::skip]
        let cases = [
            (0.3, [1.25999252627703e-40, 2.6300743566293655e-11, 0.012469611517980431, 2.545055437452546, 19.916841013210778]),
            (1.0, [1.5707963267957187e-12, 0.0009820691171752555, 0.454936423119572, 5.023886187314888, 23.92812697687947]),
            (3.0, [0.00024181048720124264, 0.21579528262389785, 2.3659738843753377, 9.348403604496148, 30.66484970615427]),
            (10.0, [0.3381260032429545, 3.2469727802368413, 9.34181776559197, 20.483177350807388, 46.86304684671568]),
            (100.0, [46.50133071589314, 74.22192747492373, 99.33412923598846, 129.5611971858366, 182.12677711942618]),
            (264.989_211_42, [169.5655288616271, 221.79147909481387, 264.32284374741187, 311.973494022997, 389.1438982078064]),
            (5_000.0, [4538.970225153806, 4805.904730862248, 4999.33334913811, 5197.883771923797, 5489.8198588247515]),
            (250_000.0, [246653.2064509807, 248615.99145320282, 249999.33333364938, 251387.79715637892, 253375.58687310372]),
        ];
        for (df, wants) in cases {
            for (p, want) in shares.into_iter().zip(wants) {
                let found = chi_squared_quantile(p, df);
                let off = (found / want - 1.0).abs();
                assert!(off < 1e-11, "{df} {p}: {found}, {want}");
            }
        }
    }

    /// Wherever the search starts and however it goes, it ends where it should.
    #[test]
    fn a_betas_quantile_has_its_share_below() {
        for a in [0.5, 1.0, 3.0, 17.0, 250.0, 1e4] {
            // With b under 1 a quantile may lie nearer to 1 than doubles do.
            for b in [1.0, 3.0, 17.0, 250.0, 1e4, 1e6] {
                for p in [0.001, 0.025, 0.2, 0.5, 0.8, 0.975, 0.999] {
                    let below = beta_cdf(beta_quantile(p, a, b), a, b);
                    let off = (below - p).abs() / p.min(1.0 - p);
                    assert!(off < 1e-8, "{p} {a} {b}: {below}");
                }
            }
        }
    }

    #[test]
    fn probabilities_agree_with_scipy() {
        near("beta", beta_cdf(0.1, 15.0, 134.0), 0.5181193541919078);
        near("beta", beta_cdf(1e-5, 3.0, 484_000.0), 0.8612122290165152);
        near("beta", beta_cdf(0.999, 3.0, 2.0), 0.999994007997);
        // The prefactor's exponent is a sum of terms of 1e5: 1e-11 of it.
        let centre = beta_cdf(0.4132, 200_000.0, 284_000.0);
        assert!((centre - 0.48702661981001394).abs() < 1e-10, "{centre}");
        for (k, n, p, below, own) in [
            (3, 20, 0.3, 0.10708680450373087, 0.0716036722052621),
            (0, 50, 0.02, 0.3641696800871171, 0.36416968008711703),
            (49, 50, 0.98, 0.6358303199128832, 0.37160171437460926),
        ] {
            near("binomial", binomial_cdf(k, n, p), below);
            near("binomial, own", binomial_probability(k, n, p), own);
        }
        let own = binomial_probability(200_000, 484_000, 0.4132);
        assert!((own / 0.001163928322028585 - 1.0).abs() < 1e-10, "{own}");
    }

    #[test]
    fn what_is_out_of_range_is_not_a_number_and_no_panic() {
        for p in [0.0, 1.0, -0.1, 1.1, f64::NAN] {
            assert!(normal_quantile(p).is_nan());
            assert!(t_quantile(p, 5.0).is_nan());
            assert!(chi_squared_quantile(p, 5.0).is_nan());
        }
        for df in [0.0, -1.0, f64::NAN] {
            assert!(t_quantile(0.9, df).is_nan());
            assert!(chi_squared_quantile(0.9, df).is_nan());
        }
        assert!(beta_quantile(0.5, 0.0, 1.0).is_nan());
        assert!(beta_cdf(2.0, 1.0, 1.0).is_nan());
        assert_eq!(beta_quantile(1.0, 2.0, 3.0), 1.0);
        assert_eq!(binomial_cdf(5, 5, 0.2), 1.0);
        assert_eq!(binomial_probability(6, 5, 0.2), 0.0);
        assert_eq!(binomial_probability(0, 5, 0.0), 1.0);
    }
}
