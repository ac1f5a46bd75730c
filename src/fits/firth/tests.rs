use super::*;

/// Three columns: one, x, x².
fn parabola(x: &[f64]) -> Vec<f64> {
    x.iter().flat_map(|x| [1.0, *x, x * x]).collect()
}

fn line(x: &[f64]) -> Vec<f64> {
    x.iter().flat_map(|x| [1.0, *x]).collect()
}

const X: [f64; 8] = [-2.0, -1.5, -1.0, 0.0, 0.5, 1.0, 2.0, 3.0];
const ONES: [f64; 8] = [1.0; 8];

fn offers<'a>(design: &'a [f64], columns: usize, yes: &'a [f64]) -> Offers<'a> {
    Offers {
        design,
        columns,
        yes,
        trials: &ONES,
    }
}

#[test]
fn full_and_partial_separation_are_told_with_their_columns() {
    let design = line(&X);
    let split = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
    let Plain::Separated { columns } =
        fit_plain(&offers(&design, 2, &split), Params::default()).unwrap()
    else {
        panic!("split data have no plain estimate")
    };
    assert_eq!(columns, [0, 1]);

    // Only the rows with z = 1 are of one mind: z runs off, x does not.
    let z = [1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 1.0];
    let quasi: Vec<f64> = X.iter().zip(z).flat_map(|(x, z)| [1.0, *x, z]).collect();
    let yes = [1.0, 0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 1.0];
    let Plain::Separated { columns } =
        fit_plain(&offers(&quasi, 3, &yes), Params::default()).unwrap()
    else {
        panic!("quasi-separated data have no plain estimate")
    };
    assert_eq!(columns, [2]);
    assert!(fit(&offers(&quasi, 3, &yes), Params::default()).is_ok());
}

#[test]
fn data_that_overlap_are_not_called_separated() {
    let design = line(&X);
    let yes = [0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
    let plain = fit_plain(&offers(&design, 2, &yes), Params::default()).unwrap();
    assert!(matches!(plain, Plain::Fitted(_)));
}

/// With an intercept alone Firth's estimate is the logit of (y + ½)/(n + 1)
/// (Firth 1993, section 3: Jeffreys' prior on a binomial).
#[test]
fn an_intercept_alone_adds_half_an_offer_each_way() {
    let ones = [1.0];
    let data = Offers {
        design: &ones,
        columns: 1,
        yes: &[0.0],
        trials: &[12.0],
    };
    let fitted = fit(&data, Params::default()).unwrap();
    assert!((fitted.coefficients[0] - (0.5_f64 / 12.5).ln()).abs() < 1e-9);
    let interval = fitted.profile(&data, 0, 0.95, Params::default()).unwrap();
    assert!(interval.low < fitted.coefficients[0] && fitted.coefficients[0] < interval.high);
}

#[test]
fn grouping_scaling_and_order_change_nothing() {
    let rows = [-1.0, -1.0, -1.0, 0.0, 0.0, 1.0, 1.0, 1.0];
    let yes = [0.0, 0.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0];
    let design = line(&rows);
    let one_by_one = fit(&offers(&design, 2, &yes), Params::default()).unwrap();
    let grouped_design = line(&[1e3, -1e3, 0.0]);
    let grouped = Offers {
        design: &grouped_design,
        columns: 2,
        yes: &[3.0, 1.0, 1.0],
        trials: &[3.0, 3.0, 2.0],
    };
    let grouped = fit(&grouped, Params::default()).unwrap();
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * a.abs(), "{a} {b}");
    near(one_by_one.coefficients[0], grouped.coefficients[0]);
    near(one_by_one.coefficients[1], grouped.coefficients[1] * 1e3);
    near(
        one_by_one.standard_error(1).unwrap(),
        grouped.standard_error(1).unwrap() * 1e3,
    );
    near(one_by_one.log_likelihood, grouped.log_likelihood);
}

/// The maximum found against a slow search: coordinate steps that halve.
#[test]
fn the_top_is_the_top() {
    let design = parabola(&X);
    let yes = [1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0];
    let data = offers(&design, 3, &yes);
    let fitted = fit(&data, Params::default()).unwrap();
    let height = |beta: &[f64]| {
        let mut information = DMatrix::<f64>::zeros(3, 3);
        let mut log_likelihood = 0.0;
        for (row, y) in design.chunks(3).zip(yes) {
            let eta: f64 = row.iter().zip(beta).map(|(x, b)| x * b).sum();
            let pi = 1.0 / (1.0 + (-eta).exp());
            log_likelihood += if y == 1.0 { pi.ln() } else { (1.0 - pi).ln() };
            let x = DVector::from_column_slice(row);
            information += &x * x.transpose() * (pi * (1.0 - pi));
        }
        log_likelihood + 0.5 * information.determinant().ln()
    };
    assert!((height(&fitted.coefficients) - fitted.penalised).abs() < 1e-10);
    let (mut at, mut step) = (vec![0.0; 3], 0.5);
    while step > 1e-9 {
        let mut moved = false;
        for j in 0..3 {
            for by in [step, -step] {
                let mut trial = at.clone();
                trial[j] += by;
                if height(&trial) > height(&at) {
                    (at, moved) = (trial, true);
                }
            }
        }
        step = if moved { step } else { step / 2.0 };
    }
    // The top is flat to rounding within about 1e-6.
    for (slow, fast) in at.iter().zip(&fitted.coefficients) {
        assert!(
            (slow - fast).abs() < 1e-5,
            "{at:?} {:?}",
            fitted.coefficients
        );
    }
}

#[test]
fn bad_input_is_refused_with_its_place() {
    let design = line(&X);
    let short = Offers {
        design: &design[1..],
        columns: 2,
        yes: &ONES,
        trials: &ONES,
    };
    assert!(matches!(
        fit(&short, Params::default()),
        Err(FitError::Shape { .. })
    ));
    let two = [2.0; 8];
    assert!(matches!(
        fit(&offers(&design, 2, &two), Params::default()),
        Err(FitError::OutOfRange { row: 0, .. })
    ));
    let same: Vec<f64> = X.iter().flat_map(|x| [1.0, *x, 3.0 - 2.0 * x]).collect();
    let Err(FitError::Collinear { columns }) = fit(&offers(&same, 3, &ONES), Params::default())
    else {
        panic!("the third column is made of the first two")
    };
    assert_eq!(columns, [0, 1, 2]);
    let none = Offers {
        design: &[],
        columns: 2,
        yes: &[],
        trials: &[],
    };
    assert!(matches!(
        fit(&none, Params::default()),
        Err(FitError::NotEnough(_))
    ));
    let nothing_offered = [0.0; 8];
    let empty = Offers {
        trials: &nothing_offered,
        yes: &nothing_offered,
        design: &design,
        columns: 2,
    };
    assert!(matches!(
        fit(&empty, Params::default()),
        Err(FitError::NotEnough(_))
    ));
}

mod of_price {
    use crate::fits::firth::price::{Mix, Params, Peak, curve, tried};
    use crate::fits::firth::{self, Offers};

    /// 400 offers at each of six prices, accepted at logit 8 − 2 ln price
    /// exactly (acceptances need not be whole).
    fn known(prices: &[f64]) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let design = prices.iter().flat_map(|p| [1.0, p.ln()]).collect();
        let trials = vec![400.0; prices.len()];
        let share = |p: &f64| 400.0 / (1.0 + (-(8.0 - 2.0 * p.ln())).exp());
        (design, prices.iter().map(share).collect(), trials)
    }

    fn curve_of(prices: &[f64], cost: f64) -> crate::fits::firth::price::PriceCurve {
        let (design, yes, trials) = known(prices);
        let offers = Offers {
            design: &design,
            columns: 2,
            yes: &yes,
            trials: &trials,
        };
        let firth::Plain::Fitted(fit) =
            firth::fit_plain(&offers, firth::Params::default()).unwrap()
        else {
            panic!("the shares overlap")
        };
        let mix = Mix {
            design: &[1.0, 0.0],
            price_column: 1,
            weights: &[1.0],
            base: &[1.0],
            costs: &[cost],
            kept: 1.0,
        };
        let each: Vec<f64> = prices.iter().flat_map(|p| vec![*p; 400]).collect();
        curve(&fit, &mix, &each, Params::default()).unwrap()
    }

    /// With logit α − 2 ln x the peak of π(x)(x − k) solves
    /// x = k + x/(2(1 − π)); with e^8 = 2981: found here by a fine search.
    #[test]
    fn the_peak_inside_the_range_is_found() {
        let found = curve_of(&[30.0, 40.0, 55.0, 75.0, 100.0, 140.0], 20.0);
        let value = |x: f64| (x - 20.0) / (1.0 + (-8.0_f64).exp() * x * x);
        let best = (3_000..14_000)
            .map(|i| f64::from(i) / 100.0)
            .max_by(|a, b| value(*a).total_cmp(&value(*b)))
            .unwrap();
        let Peak::Inside { price } = found.peak else {
            panic!("{:?}", found.peak)
        };
        // The parabola through three points of the grid is off by less than
        // a tenth of its spacing (2.6 %).
        assert!(
            (price.value / best - 1.0).abs() < 0.0026,
            "{price:?} {best}"
        );
        assert!(price.low <= best && best <= price.high);
        assert!((found.best.contribution.value / value(best) - 1.0).abs() < 1e-3);
        assert!(found.flat_from < price.value && price.value < found.flat_to);
    }

    #[test]
    fn a_peak_at_the_top_of_what_was_tried_is_said_to_be_there() {
        let found = curve_of(&[30.0, 33.0, 36.0, 40.0], 20.0);
        assert_eq!(found.peak, Peak::AtOrBeyondTop { tried: 40.0 });
        assert!(found.chance_top > 0.9);
        assert_eq!(found.points.last().unwrap().price, 40.0);
        let low = curve_of(&[75.0, 100.0, 140.0], 1.0);
        assert_eq!(low.peak, Peak::AtOrBelowBottom { tried: 75.0 });
    }

    /// With the list price (here 50) as the unit: the gain is the curve at its
    /// best less the curve at 1, within its range, which is narrower than those
    /// of both apart; none where 1 was never tried.
    #[test]
    fn the_gain_over_todays_price_needs_that_price_tried() {
        let of = |prices: &[f64]| {
            let shares: Vec<f64> = prices.iter().map(|p| p / 50.0).collect();
            let (design, trials) = (
                prices
                    .iter()
                    .flat_map(|p| [1.0, p.ln()])
                    .collect::<Vec<f64>>(),
                vec![400.0; prices.len()],
            );
            let (_, yes, _) = known(prices);
            let offers = Offers {
                design: &design,
                columns: 2,
                yes: &yes,
                trials: &trials,
            };
            let fit = firth::fit(&offers, firth::Params::default()).unwrap();
            let mix = Mix {
                design: &[1.0, 0.0],
                price_column: 1,
                weights: &[1.0],
                base: &[50.0],
                costs: &[20.0],
                kept: 1.0,
            };
            let each: Vec<f64> = shares.iter().flat_map(|x| vec![*x; 400]).collect();
            curve(&fit, &mix, &each, Params::default()).unwrap()
        };
        let found = of(&[40.0, 50.0, 60.0, 75.0, 100.0]);
        let gain = found.gain.unwrap();
        let value = |x: f64| (x - 20.0) / (1.0 + (-8.0_f64).exp() * x * x);
        let by_hand = value(50.0 * found.best.price) - value(50.0);
        assert!(
            (gain.value / by_hand - 1.0).abs() < 0.02,
            "{gain:?} {by_hand}"
        );
        assert!(gain.low < gain.value && gain.value < gain.high);
        let apart = found.best.contribution;
        assert!(gain.high - gain.low < apart.high - apart.low);
        assert_eq!(of(&[55.0, 60.0, 75.0, 100.0]).gain, None);
    }

    #[test]
    fn the_same_seed_gives_the_same_curve() {
        let prices = [30.0, 40.0, 55.0, 75.0];
        assert_eq!(curve_of(&prices, 20.0), curve_of(&prices, 20.0));
    }

    #[test]
    fn the_range_needs_support_at_both_ends() {
        let prices = [1.0, 2.0, 2.0, 3.0, 3.0, 9.0];
        let range = tried(&prices, 2).unwrap();
        assert_eq!([range.low, range.high], [2.0, 3.0]);
        assert!(tried(&prices, 4).is_err());
        assert!(tried(&[5.0; 30], 5).is_err());
        assert!(tried(&[5.0, 0.0], 1).is_err());
    }
}
