//! Least squares against certified and published values.
//!
//! Sources: NIST Statistical Reference Datasets (StRD), linear regression;
//! Greene's credit-card data with Stata's results as statsmodels stores them;
//! the Alaska pipeline of the NIST/SEMATECH e-Handbook, 4.6.2, whose print is
//! from memory, so that the values here are statsmodels 0.15.0's. Every value
//! was computed again in 60-digit arithmetic (mpmath 1.4.1) or by statsmodels.
//!
//! How many digits: double precision and a condition number of 1e4 to 1e5
//! (columns scaled) leave 11 to 12 for a backward stable method. Each line asks for what this
//! method owes.

use crate::reference_tables::{Table, assert_digits};
use tallycoat::fits::linear::{Against, CrossProducts, Design, LeastSquares, LinearFit};

/// Rows of `columns`, behind a column of ones where `ones`.
fn rows(table: &Table, columns: &[&str], ones: bool) -> Vec<f64> {
    let columns: Vec<Vec<f64>> = columns.iter().map(|c| table.numbers(c)).collect();
    let one: &[f64] = if ones { &[1.0] } else { &[] };
    (0..columns[0].len())
        .flat_map(|i| one.iter().copied().chain(columns.iter().map(move |c| c[i])))
        .collect()
}

fn powers(x: &[f64], up_to: i32) -> Vec<f64> {
    x.iter()
        .flat_map(|v| (0..=up_to).map(move |k| v.powi(k)))
        .collect()
}

fn fit(design: &[f64], columns: usize, y: &[f64]) -> LinearFit {
    let design = Design::new(design, columns).unwrap();
    LeastSquares::new(design, y).unwrap().fit().unwrap()
}

fn assert_coefficients(name: &str, fit: &LinearFit, certified: &[(f64, f64)], need: f64) {
    let errors = fit.standard_errors().unwrap();
    assert_eq!(fit.coefficients.len(), certified.len());
    for (j, (b, se)) in certified.iter().enumerate() {
        assert_digits(&format!("{name} B{j}"), fit.coefficients[j], *b, need);
        assert_digits(&format!("{name} SD(B{j})"), errors[j], *se, need);
    }
}

#[test]
fn norris() {
    let t = Table::read("nist_norris");
    let f = fit(&rows(&t, &["x"], true), 2, &t.numbers("y"));
    let certified = [
        (-0.262323073774029, 0.232818234301152),
        (1.00211681802045, 0.429796848199937E-03),
    ];
    assert_coefficients("Norris", &f, &certified, 12.5);
    assert_digits(
        "residual SD",
        f.residual_sd().unwrap(),
        0.884796396144373,
        13.0,
    );
    assert_digits("R2", f.r_squared(Against::Mean), 0.999993745883712, 14.0);
    // 1 - R2 is 6e-6, so that F owes five digits less than R2.
    let f_value = f.f_statistic(Against::Mean).unwrap();
    assert_digits("F", f_value, 5436385.54079785, 12.0);
}

#[test]
fn no_intercept_1_and_2() {
    let t = Table::read("nist_noint1");
    let f = fit(&t.numbers("x"), 1, &t.numbers("y"));
    assert_coefficients(
        "NoInt1",
        &f,
        &[(2.07438016528926, 0.165289256198347E-01)],
        13.5,
    );
    assert_digits(
        "residual SD",
        f.residual_sd().unwrap(),
        3.56753034006338,
        13.5,
    );
    // NIST certifies R2 about zero where there is no intercept.
    assert_digits("R2", f.r_squared(Against::Zero), 0.999365492298663, 14.0);
    assert_digits("F", f.f_statistic(Against::Zero).unwrap(), 15750.25, 13.0);

    let t = Table::read("nist_noint2");
    let f = fit(&t.numbers("x"), 1, &t.numbers("y"));
    assert_coefficients(
        "NoInt2",
        &f,
        &[(0.727272727272727, 0.420827318078432E-01)],
        14.0,
    );
    assert_digits(
        "residual SD",
        f.residual_sd().unwrap(),
        0.369274472937998,
        14.0,
    );
    assert_digits("R2", f.r_squared(Against::Zero), 0.993348115299335, 14.0);
    assert_digits(
        "F",
        f.f_statistic(Against::Zero).unwrap(),
        298.6666666666667,
        14.0,
    );
}

#[test]
fn longley() {
    let t = Table::read("nist_longley");
    let design = rows(&t, &["x1", "x2", "x3", "x4", "x5", "x6"], true);
    let f = fit(&design, 7, &t.numbers("y"));
    let certified = [
        (-3482258.63459582, 890420.383607373),
        (15.0618722713733, 84.9149257747669),
        (-0.358191792925910E-01, 0.334910077722432E-01),
        (-2.02022980381683, 0.488399681651699),
        (-1.03322686717359, 0.214274163161675),
        (-0.511041056535807E-01, 0.226073200069370),
        (1829.15146461355, 455.478499142212),
    ];
    // Scaled condition number 4.3e4: 11 digits of a standard error.
    assert_coefficients("Longley", &f, &certified, 11.0);
    for (j, (b, _)) in certified.iter().enumerate() {
        assert_digits("coefficient", f.coefficients[j], *b, 13.0);
    }
    // Terms of 3.5e6 beside residuals of 300 cost four digits.
    assert_digits("MS", f.residual_variance().unwrap(), 92936.0061673238, 12.0);
    assert_digits("R2", f.r_squared(Against::Mean), 0.995479004577296, 13.5);
    assert_digits(
        "F",
        f.f_statistic(Against::Mean).unwrap(),
        330.285339234588,
        12.0,
    );
}

#[test]
fn wampler_1_and_2_are_exact_quintics() {
    let digits_of_ten = [1.0, 0.1, 0.01, 0.001, 1e-4, 1e-5];
    for (name, certified) in [
        ("nist_wampler1", [1.0; 6]),
        ("nist_wampler2", digits_of_ten),
    ] {
        let t = Table::read(name);
        let f = fit(&powers(&t.numbers("x"), 5), 6, &t.numbers("y"));
        for (j, b) in certified.iter().enumerate() {
            // Scaled condition number about 1e6.
            assert_digits(name, f.coefficients[j], *b, 9.0);
        }
        // Certified 0. y runs to 3.4e6 (63 in Wampler2): its own rounding is
        // 1e-10.
        assert!(f.residual_sd().unwrap() < 1e-9, "{:?}", f.residual_sd());
        for se in f.standard_errors().unwrap() {
            assert!(se < 1e-8, "{se}");
        }
        assert_digits("R2", f.r_squared(Against::Mean), 1.0, 15.0);
    }
}

#[test]
fn wampler_3_has_noise_over_an_exact_quintic() {
    let t = Table::read("nist_wampler3");
    let f = fit(&powers(&t.numbers("x"), 5), 6, &t.numbers("y"));
    let certified = [
        (1.0, 2152.32624678170),
        (1.0, 2363.55173469681),
        (1.0, 779.343524331583),
        (1.0, 101.475507550350),
        (1.0, 5.64566512170752),
        (1.0, 0.112324854679312),
    ];
    for (j, (b, se)) in certified.iter().enumerate() {
        // B1 is 1 beside a standard error of 2,364: 12 digits of the
        // standard error are 9 of the coefficient.
        assert_digits("coefficient", f.coefficients[j], *b, 9.0);
        assert_digits("SD", f.standard_errors().unwrap()[j], *se, 11.5);
    }
    assert_digits(
        "residual SD",
        f.residual_sd().unwrap(),
        2360.14502379268,
        13.5,
    );
    assert_digits("R2", f.r_squared(Against::Mean), 0.999995559025820, 14.0);
    assert_digits(
        "F",
        f.f_statistic(Against::Mean).unwrap(),
        675524.458240122,
        12.0,
    );
}

#[test]
fn credit_card_weighted_as_stata() {
    let t = Table::read("greene_ccard");
    let design = rows(&t, &["AGE", "INCOME", "INCOMESQ", "OWNRENT"], true);
    let y = t.numbers("AVGEXP");
    // Stata scales analytic weights to sum to n; its root MSE depends on it.
    let raw: Vec<f64> = t.numbers("INCOMESQ").iter().map(|v| 1.0 / v).collect();
    let scale = raw.len() as f64 / raw.iter().sum::<f64>();
    let weights: Vec<f64> = raw.iter().map(|w| w * scale).collect();
    let design = Design::new(&design, 5).unwrap();
    let problem = LeastSquares::new(design, &y).unwrap();
    let f = problem.weighted(&weights).unwrap().fit().unwrap();
    // Stata prints 10 to 12 digits; these are statsmodels 0.15.0's, which
    // agree with every printed one.
    let published = [
        (-114.10886935015, 139.687496456638),
        (-2.69418516109797, 3.80730630648595),
        (158.426977524045, 76.3911543145451),
        (-7.24928987288867, 9.72433732086925),
        (60.4487736936345, 58.5508875251072),
    ];
    assert_coefficients("credit card", &f, &published, 11.0);
    assert_digits(
        "root MSE",
        f.residual_sd().unwrap(),
        189.0025755829012,
        13.0,
    );
    assert_digits("R2", f.r_squared(Against::Mean), 0.2549143871187359, 12.5);
    assert_digits(
        "F",
        f.f_statistic(Against::Mean).unwrap(),
        5.730638077585917,
        12.0,
    );
}

#[test]
fn alaska_pipeline_with_and_without_weights() {
    let t = Table::read("nist_alaska_pipeline");
    let design = rows(&t, &["lab"], true);
    let y = t.numbers("field");
    let f = fit(&design, 2, &y);
    let unweighted = [
        (4.99367993698193, 1.12565779777895),
        (0.731111063854797, 0.0245519522815309),
    ];
    assert_coefficients("Alaska", &f, &unweighted, 13.0);
    assert_digits(
        "residual SD",
        f.residual_sd().unwrap(),
        6.0809238281583,
        13.0,
    );

    let weights: Vec<f64> = t.numbers("lab").iter().map(|x| x.powf(-1.5)).collect();
    let problem = LeastSquares::new(Design::new(&design, 2).unwrap(), &y).unwrap();
    let f = problem.weighted(&weights).unwrap().fit().unwrap();
    let weighted = [
        (2.35233724639865, 0.543120261363852),
        (0.806362591251462, 0.0226536370873565),
    ];
    assert_coefficients("Alaska weighted", &f, &weighted, 13.0);
    assert_digits(
        "residual SD",
        f.residual_sd().unwrap(),
        0.364590253052981,
        13.0,
    );
}

#[test]
fn cross_products_lose_digits_on_longley_and_say_nothing_false() {
    // Centred cross-products keep 9 digits here (raw ones 7): enough for the
    // program's own designs, not a substitute for rows.
    let t = Table::read("nist_longley");
    let design = rows(&t, &["x1", "x2", "x3", "x4", "x5", "x6"], false);
    let mut table = CrossProducts::new(6);
    for (x, y) in design.chunks_exact(6).zip(t.numbers("y")) {
        table.add(x, y, 1.0);
    }
    let f = table.fit_with_intercept().unwrap();
    assert_digits("B0", f.coefficients[0], -3482258.63459582, 9.0);
    assert_digits("B6", f.coefficients[6], 1829.15146461355, 9.0);
    let errors = f.standard_errors().unwrap();
    assert_digits("SD(B0)", errors[0], 890420.383607373, 9.0);
    assert_digits("MS", f.residual_variance().unwrap(), 92936.0061673238, 9.0);
}

/// One-way analysis of variance is least squares on the groups' columns.
#[test]
fn analysis_of_variance_sets_of_strd() {
    // name, SS between, SS within, F, digits owed: the last two sets carry 7
    // constant leading digits, which cost as many.
    let sets = [
        (
            "nist_sirstv",
            5.11462616e-2,
            2.1663656e-1,
            1.18046237440255,
            11.0,
        ),
        ("nist_smls01", 1.68, 1.80, 21.0, 12.0),
        (
            "nist_atmwtag",
            3.638341875e-9,
            1.04951729166667e-8,
            15.946733567793,
            7.5,
        ),
        ("nist_smls04", 1.68, 1.80, 21.0, 7.5),
    ];
    for (name, between, within, f_value, need) in sets {
        let t = Table::read(name);
        let labels = t.text("group");
        let mut names: Vec<&String> = labels.iter().collect();
        names.sort();
        names.dedup();
        let k = names.len();
        let design: Vec<f64> = (labels.iter())
            .flat_map(|l| names.iter().map(move |n| f64::from(u8::from(*n == l))))
            .collect();
        let f = fit(&design, k, &t.numbers("y"));
        assert_digits(name, f.residual_squares, within, need);
        assert_digits(
            name,
            f.squares_about_mean - f.residual_squares,
            between,
            need,
        );
        assert_digits(name, f.f_statistic(Against::Mean).unwrap(), f_value, need);
    }
}
