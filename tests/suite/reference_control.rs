//! Control charts held to outside values: NIST/SEMATECH e-Handbook and
//! Montgomery's sets as the qcc package prints them.
//!
//! Sources and licences of the data: `tests/reference/README-rates.md`.
//! Tolerance: half a unit of the last printed digit; 1e-9 where numpy 2.4.6
//! carried the same arithmetic on.

use crate::reference_rates::{close, near};
use crate::reference_tables::Table;
use tallycoat::fits::control::ewma::{self, Params};
use tallycoat::fits::control::months::{self, Month};
use tallycoat::fits::control::{Side, individuals};
use tallycoat::fits::proportion::three_sigma_limits;

/// e-Handbook 6.3.2.2.
#[test]
fn individuals_of_the_flow_rate() {
    let values = Table::read("nist_handbook_6322_flowrate").numbers("flowrate");
    let chart = individuals::chart(&values).unwrap();
    near("SPC-IMR-01", chart.centre, 50.81, 5e-3);
    near("SPC-IMR-02", chart.moving_range, 1.8778, 5e-5);
    near("SPC-IMR-03", chart.high, 55.8041, 5e-5);
    near("SPC-IMR-04", chart.low, 45.8159, 5e-5);
    close("SPC-IMR-03", chart.high, 55.8040898345154);
    close("SPC-IMR-04", chart.low, 45.8159101654846);
    close("SPC-IMR-05", chart.moving_range_high, 6.1347);
}

/// e-Handbook 6.3.2.4, λ = 0.3 about 50 with s = 2.0539.
#[test]
fn ewma_of_the_handbook() {
    let table = Table::read("nist_handbook_6324_ewma");
    let params = Params {
        weight: 0.3,
        width: 3.0,
    };
    let points = ewma::chart(&table.numbers("x"), 50.0, 2.0539, params).unwrap();
    let printed = table.numbers("ewma_printed");
    assert_eq!([points.len(), printed.len()], [20, 20]);
    for (point, printed) in points.iter().zip(printed) {
        near("SPC-EWMA-01..20", point.mean, printed, 5e-3 + 1e-9);
    }
    let settled = ewma::settled_width(2.0539, params).unwrap();
    near("SPC-EWMA-21", 50.0 + settled, 52.5884, 5e-5);
    close("SPC-EWMA-21", 50.0 + settled, 52.5884317381266);
    // NIST prints 47.4115: it rounds √(0.3/1.7) to 0.4201 first.
    near("SPC-EWMA-22", 50.0 - settled, 47.4115, 1e-4);
    close("SPC-EWMA-22", 50.0 - settled, 47.4115682618734);
}

/// Montgomery's primer viscosity, 20 trial batches, as in the qcc vignette;
/// there too the moving range is divided by 1.128.
#[test]
fn individuals_and_ewma_of_the_viscosity() {
    let table = Table::read("montgomery_viscosity");
    let all = table.numbers("viscosity");
    let trial = table.text("trial");
    let pairs = all.iter().zip(trial);
    let values: Vec<f64> = pairs
        .filter(|(_, t)| **t == "TRUE")
        .map(|(v, _)| *v)
        .collect();
    assert_eq!(values.len(), 20);
    let chart = individuals::chart(&values).unwrap();
    near("SPC-IMR2-01", chart.centre, 34.088, 5e-4);
    near("SPC-IMR2-02", chart.sigma, 0.5076521, 5e-8);
    near("SPC-IMR2-03", chart.low, 32.56504, 5e-6);
    near("SPC-IMR2-04", chart.high, 35.61096, 5e-6);
    let params = Params {
        weight: 0.2,
        width: 2.7,
    };
    let points = ewma::chart(&all, chart.centre, chart.sigma, params).unwrap();
    let want = [
        (0, 33.8138678611422, 34.3621321388578),
        (1, 33.7369395714841, 34.4390604285159),
        (34, 33.6311131394942, 34.5448868605058),
    ];
    for (i, low, high) in want {
        close("SPC-IMR2-06..11 low", points[i].low, low);
        close("SPC-IMR2-06..11 high", points[i].high, high);
    }
    near("SPC-IMR2-06", points[0].low, 33.81387, 5e-6);
    near("SPC-IMR2-11", points[34].high, 34.54489, 5e-6);
}

/// e-Handbook 6.3.3.2 (the same 30 samples of 50 as Montgomery's orange
/// juice), limits as printed in the qcc vignette, with all samples and
/// without the two out of control.
#[test]
fn textbook_p_chart_of_the_wafers() {
    let table = Table::read("nist_handbook_6332_pchart");
    let shares = table.numbers("fraction_defective");
    assert!(table.numbers("n").iter().all(|n| *n == 50.0));
    let centre = shares.iter().sum::<f64>() / 30.0;
    near("SPC-P-01", centre, 0.2313333, 5e-8);
    let limits = three_sigma_limits(centre, 50).unwrap();
    near("SPC-P-02", (limits.high - centre) / 3.0, 0.05963526, 5e-9);
    near("SPC-P-03", limits.high, 0.4102391, 5e-8);
    near("SPC-P-04", limits.low, 0.05242755, 5e-9);
    let without: f64 = (0..30)
        .filter(|i| ![14, 22].contains(i))
        .map(|i| shares[i])
        .sum();
    let centre = without / 28.0;
    near("SPC-P-05", centre, 0.215, 5e-4);
    let limits = three_sigma_limits(centre, 50).unwrap();
    near("SPC-P-06", limits.high, 0.3892972, 5e-8);
    near("SPC-P-07", limits.low, 0.04070284, 5e-9);
}

/// The exact chart on the same samples: each against the others, it raises
/// the two that the e-Handbook and Montgomery find out of control.
#[test]
fn exact_chart_of_the_wafers_raises_the_same_two() {
    let shares = Table::read("nist_handbook_6332_pchart").numbers("fraction_defective");
    let months: Vec<Month> = shares
        .iter()
        .map(|s| Month {
            yes: (s * 50.0).round() as u64,
            of: 50,
        })
        .collect();
    let params = months::Params {
        usual_is_uncertain: false,
        widen_at: 0.0,
        ..months::Params::default()
    };
    let chart = months::chart(&months, params).unwrap();
    let raised: Vec<usize> = (0..30)
        .filter(|&i| chart.points[i].is_some_and(|p| p.side == Side::Above))
        .collect();
    assert_eq!(raised, [14, 22]);
}
