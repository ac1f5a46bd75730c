//! Outlier rule, quantiles, and the ratio of totals against published values.

use crate::reference_tables::{Table, assert_digits};
use tallycoat::fits::ratio::Ratio;
use tallycoat::fits::robust::{Quantile, far_from_the_rest, mad, median, modified_z, quantile};

#[test]
fn modified_z_scores_of_iglewicz_and_hoaglin() {
    // Iglewicz and Hoaglin 1993, ten values; the scores as other packages'
    // tests print them.
    let y = Table::read("iglewicz_hoaglin_1993").numbers("y");
    assert_digits("median", median(&y).unwrap(), 2.45, 14.0);
    assert_digits("MAD", mad(&y).unwrap(), 0.15, 13.0);
    #[rustfmt::skip]
    let printed = [
        -1.57383333, 0.6745, -0.22483333, 0.22483333, -0.6745,
        -1.57383333, -0.6745, 0.6745, 25.85583333, 26.3055,
    ];
    for (m, p) in modified_z(&y).unwrap().iter().zip(printed) {
        // 8 decimals are printed.
        assert!((m - p).abs() < 5e-9, "{m} {p}");
    }
    let far: Vec<usize> = far_from_the_rest(&y).iter().map(|f| f.at).collect();
    assert_eq!(far, [8, 9]);
    // Nine values are too few to call any far.
    assert!(far_from_the_rest(&y[1..]).is_empty());
}

#[test]
fn mad_as_r_gives_it() {
    // R's reference output: mad(1:9) = 2.9652 and mad(c(1,2,3,5,7,8),
    // constant = 1) = 2.5; R multiplies by 1.4826.
    let nine: Vec<f64> = (1..=9).map(f64::from).collect();
    assert_digits("mad(1:9)", 1.4826 * mad(&nine).unwrap(), 2.9652, 14.0);
    assert_digits(
        "mad",
        mad(&[1.0, 2.0, 3.0, 5.0, 7.0, 8.0]).unwrap(),
        2.5,
        15.0,
    );
    assert_eq!(modified_z(&[4.0; 12]), None, "no spread, no score");
    assert_eq!(median(&[]), None);
    assert_eq!(median(&[1.0, f64::NAN]), None);
}

#[test]
fn nine_definitions_of_a_quantile() {
    // R 4.2.2 and numpy 2.4.6 agree on every value; of the 90th percentile the
    // NIST/SEMATECH e-Handbook 7.2.6.2 prints types 6, 7 and 8.
    let y = Table::read("nist_handbook_7262_percentile").numbers("y");
    use Quantile::*;
    #[rustfmt::skip]
    let expected = [
        (InverseStep, [95.0925, 95.1065, 95.1567, 95.1772, 95.1959]),
        (AveragedStep, [95.0925, 95.113, 95.1579, 95.18545, 95.1959]),
        (NearestEven, [95.061, 95.1065, 95.1567, 95.1772, 95.1959]),
        (Linear, [95.0673, 95.1065, 95.1567, 95.1772, 95.19546]),
        (MidStep, [95.08305, 95.113, 95.1579, 95.18545, 95.19683]),
        (Weibull, [95.07045, 95.10975, 95.1579, 95.189575, 95.19807]),
        (Ends, [95.0939, 95.11625, 95.1579, 95.181325, 95.19568]),
        (MedianUnbiased, [95.07885, 95.1119166666667, 95.1579, 95.186825, 95.1972433333333]),
        (NormalUnbiased, [95.0799, 95.1121875, 95.1579, 95.18648125, 95.19714]),
    ];
    for (kind, values) in expected {
        for (p, value) in [0.1, 0.25, 0.5, 0.75, 0.9].into_iter().zip(values) {
            assert_digits(
                &format!("{kind:?} {p}"),
                quantile(&y, p, kind).unwrap(),
                value,
                14.0,
            );
        }
        assert_eq!(quantile(&y, 0.0, kind), y.iter().copied().reduce(f64::min));
        assert_eq!(quantile(&y, 1.0, kind), y.iter().copied().reduce(f64::max));
    }
    assert_eq!(quantile(&[], 0.5, Ends), None);
    assert_eq!(quantile(&y, 1.5, Ends), None);
}

#[test]
fn ratio_of_ten_cities() {
    // Davison and Hinkley 1997, chapter 2 (print from memory: 1.520, 0.0325);
    // R boot 1.3-28.1 and numpy agree on the digits below.
    let t = Table::read("boot_city");
    let (u, x) = (t.numbers("u"), t.numbers("x"));
    let ratio = Ratio::of_totals(&x, &u).unwrap();
    assert_digits("ratio", ratio.value, 1.5203125, 14.0);
    assert_digits("v_L", ratio.linearised_variance, 0.0324877337098122, 13.0);
    let e = ratio.estimate(0.95).unwrap();
    // t(9) at 0.975 from scipy; ten cities, n/(n-1) on the variance.
    let half = 2.262157162798205 * (0.0324877337098122f64 * 10.0 / 9.0).sqrt();
    assert_digits("high", e.high, 1.5203125 + half, 12.0);
    assert_digits("low", e.low, 1.5203125 - half, 12.0);
}

#[test]
fn a_ratio_of_nothing_is_refused_and_rows_alike_have_no_spread() {
    let one = Ratio::of_totals(&[250.0], &[100.0]).unwrap();
    assert!(one.estimate(0.95).is_err(), "one row has no interval");
    assert!(Ratio::of_totals(&[250.0; 2], &[100.0, -1.0]).is_err());
    assert!(Ratio::of_totals(&[250.0; 2], &[0.0; 2]).is_err());
    assert!(Ratio::of_totals(&[], &[]).is_err());
    let same = Ratio::of_totals(&[250.0; 4], &[100.0; 4]).unwrap();
    let e = same.estimate(0.95).unwrap();
    assert_eq!((e.low, e.value, e.high), (2.5, 2.5, 2.5));
}
