//! Shares and their differences against published values.
//!
//! Newcombe, Statistics in Medicine 1998;17:857-872 (Table I) and 873-890
//! (Table II), as other packages' tests print them to 4 digits; the values
//! here are statsmodels 0.15.0's and scipy 1.17.1's, which round to those.
//! p chart: NIST/SEMATECH e-Handbook 6.3.3.2 and the qcc vignette.

use crate::reference_tables::{Table, assert_digits};
use tallycoat::fits::proportion::{
    Method, chart_limits, difference, laney_widening, share, three_sigma_level, three_sigma_limits,
    wilson,
};

struct One {
    k: u64,
    n: u64,
    method: Method,
    low: f64,
    high: f64,
}

#[rustfmt::skip]
const ONE: [One; 16] = {
    use Method::{ClopperPearson, MidP, Wilson, WilsonCorrected};
    const fn row(k: u64, n: u64, method: Method, low: f64, high: f64) -> One {
        One { k, n, method, low, high }
    }
    [
        row(81, 263, Wilson, 0.255288519878274, 0.3662095769828),
        row(81, 263, WilsonCorrected, 0.253508682295185, 0.368176201043004),
        row(81, 263, ClopperPearson, 0.252736745585271, 0.367621922601351),
        row(81, 263, MidP, 0.254402104945522, 0.365773474257777),
        row(15, 148, Wilson, 0.0623863995307363, 0.160487241723308),
        row(15, 148, WilsonCorrected, 0.0597782084284981, 0.164449779364837),
        row(15, 148, ClopperPearson, 0.0578440100834486, 0.161650490349479),
        row(15, 148, MidP, 0.0600636026655321, 0.158121733050612),
        row(0, 20, Wilson, 0.0, 0.161125158052819),
        row(0, 20, WilsonCorrected, 0.0, 0.200453345013487),
        row(0, 20, ClopperPearson, 0.0, 0.168433470983085),
        row(0, 20, MidP, 0.0, 0.139108340668265),
        row(1, 29, Wilson, 0.00611321429276267, 0.171755218793203),
        row(1, 29, WilsonCorrected, 0.00180264021327967, 0.19628175100976),
        row(1, 29, ClopperPearson, 0.000872646883579922, 0.177644295488723),
        row(1, 29, MidP, 0.00172477011470512, 0.158537383681465),
    ]
};

#[test]
fn single_shares() {
    for One {
        k,
        n,
        method,
        low,
        high,
    } in ONE
    {
        let e = share(k, n, method, 0.95).unwrap();
        let what = format!("{k}/{n} {method:?}");
        // scipy's mid-P ends come from a root search that stops at 1e-12.
        let need = if method == Method::MidP { 10.5 } else { 11.5 };
        assert_digits(&what, e.low, low, need);
        assert_digits(&what, e.high, high, need);
        // The mirror image.
        let m = share(n - k, n, method, 0.95).unwrap();
        assert_digits(&what, 1.0 - m.high, e.low, 9.0);
        assert_digits(&what, 1.0 - m.low, e.high, 12.0);
    }
}

#[test]
fn differences_by_newcombes_method_10() {
    // (c), (e), (f) and (h) of Table II are printed from memory elsewhere.
    #[rustfmt::skip]
    let rows = [
        ((56, 70), (48, 80), 0.052431472402365, 0.333872654036906),
        ((9, 10), (3, 10), 0.170522723934503, 0.809017973535488),
        ((6, 7), (2, 7), 0.0582279274823121, 0.806249637524228),
        ((5, 56), (0, 29), -0.0381371479035369, 0.192560013855112),
        ((0, 10), (0, 20), -0.161125158052819, 0.277532799862889),
        ((0, 10), (0, 10), -0.277532799862889, 0.277532799862889),
        ((10, 10), (0, 20), 0.679086037141915, 1.0),
        ((10, 10), (0, 10), 0.607509350430524, 1.0),
        ((84, 101), (89, 105), -0.117749649785194, 0.085071351815743),
    ];
    for (a, b, low, high) in rows {
        let d = difference(a, b, Method::Wilson, 0.95).unwrap();
        assert_digits(&format!("{a:?} - {b:?} low"), d.low, low, 11.5);
        assert_digits(&format!("{a:?} - {b:?} high"), d.high, high, 11.5);
        assert_eq!(d.n, a.1 + b.1);
    }
}

#[test]
fn p_chart_of_the_orange_juice_cans() {
    let t = Table::read("montgomery_orangejuice");
    let trial: Vec<bool> = t.text("trial").iter().map(|v| v == "TRUE").collect();
    let cans = t.numbers("D");
    let first: Vec<f64> = cans
        .iter()
        .zip(&trial)
        .filter(|(_, t)| **t)
        .map(|(d, _)| *d)
        .collect();
    assert_eq!(first.len(), 30);
    let usual = first.iter().sum::<f64>() / (30.0 * 50.0);
    assert_digits("p-bar", usual, 0.231333333333333, 14.0);
    let limits = three_sigma_limits(usual, 50).unwrap();
    assert_digits("UCL", limits.high, 0.410239118594738, 13.0);
    assert_digits("LCL", limits.low, 0.0524275480719282, 13.0);
    // Samples 15 and 23, over the limit, taken out.
    let rest: f64 = first
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != 14 && *i != 22)
        .map(|(_, d)| d)
        .sum();
    let usual = rest / (28.0 * 50.0);
    let limits = three_sigma_limits(usual, 50).unwrap();
    assert_digits("p-bar", usual, 0.215, 14.0);
    assert_digits("UCL", limits.high, 0.38929716004571, 13.0);
    assert_digits("LCL", limits.low, 0.0407028399542896, 13.0);
    // Exact limits at the same level lie within a can of them above; below,
    // the textbook's run too low.
    let exact = chart_limits(usual, 50, three_sigma_level(), 1.0).unwrap();
    assert!((exact.high - limits.high).abs() < 0.02, "{exact:?}");
    assert!(exact.low > limits.low && exact.low < usual, "{exact:?}");
}

#[test]
fn exact_limits_hold_what_they_say() {
    // By plain sums over the binomial: 5 % outside at the most, and a limit
    // one count nearer would be too near.
    for n in 5..120u64 {
        let p: f64 = 0.3;
        let mut chance = vec![(1.0 - p).powi(n as i32)];
        for k in 0..n {
            let ratio = (n - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
            chance.push(chance[k as usize] * ratio);
        }
        let limits = chart_limits(p, n, 0.95, 1.0).unwrap();
        let low = (limits.low * n as f64).round() as usize;
        let high = (limits.high * n as f64).round() as usize;
        let below = |k: usize| chance[..k].iter().sum::<f64>();
        let above = |k: usize| chance[k + 1..].iter().sum::<f64>();
        assert!(
            below(low) < 0.025 && below(low + 1) >= 0.025,
            "n = {n}: {low}"
        );
        assert!(
            above(high) <= 0.025 && above(high - 1) > 0.025,
            "n = {n}: {high}"
        );
    }
    let plain = chart_limits(0.3, 40, 0.95, 1.0).unwrap();
    let wide = chart_limits(0.3, 40, 0.95, 1.5).unwrap();
    assert_digits("widened", wide.high - 0.3, 1.5 * (plain.high - 0.3), 12.0);
    assert_eq!(
        chart_limits(0.3, 40, 0.95, 0.5).unwrap(),
        plain,
        "never narrowed"
    );
    assert_eq!(chart_limits(0.3, 0, 0.95, 1.0), None);
    let never = chart_limits(0.0, 40, 0.95, 1.0).unwrap();
    assert_eq!((never.low, never.high), (0.0, 0.0));
}

#[test]
fn laney_by_hand() {
    // Laney 2002: z_i = (p_i - pbar)/s_i, mean moving range over 1.128.
    let months = [(12, 40), (30, 60), (0, 0), (10, 50)];
    let usual: f64 = 52.0 / 150.0;
    let z = |k: f64, n: f64| (k / n - usual) / (usual * (1.0 - usual) / n).sqrt();
    let (a, b, c) = (z(12.0, 40.0), z(30.0, 60.0), z(10.0, 50.0));
    let by_hand = ((b - a).abs() + (c - b).abs()) / 2.0 / 1.128;
    assert_digits("widening", laney_widening(&months).unwrap(), by_hand, 13.0);
    assert!(by_hand > 1.5);
    assert_eq!(laney_widening(&[(3, 10)]), None);
    assert_eq!(laney_widening(&[(0, 10), (0, 20)]), None);
    assert_eq!(laney_widening(&[]), None);
}

#[test]
fn shares_of_nothing_and_of_too_much_are_refused() {
    assert!(wilson(0, 0, 0.95).is_err());
    assert!(wilson(3, 2, 0.95).is_err());
    assert!(wilson(1, 2, 1.0).is_err());
    let sure = wilson(5, 5, 0.95).unwrap();
    assert_eq!((sure.value, sure.high), (1.0, 1.0));
    // 484,000 offers: ends near the normal ones, none lost to rounding.
    let many = share(200_000, 484_000, Method::ClopperPearson, 0.95).unwrap();
    let wald = 1.959963984540054 * (many.value * (1.0 - many.value) / 484_000.0).sqrt();
    assert_digits("wide", (many.high - many.low) / 2.0, wald, 2.5);
}
