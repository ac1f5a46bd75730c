//! Survival held to outside values: the 6-MP trial and the ovarian set.
//!
//! Sources and licences of the data: `tests/reference/README-rates.md`.
//! Values by R 4.2.2, survival 3.5-3, unless named; printed ones to half a
//! unit of their last digit, computed ones to 1e-8 relative.

use crate::reference_rates::{close, near};
use crate::reference_tables::Table;
use tallycoat::fits::survival::cox::{self, Cox, Jobs, Outcome, Params, Ties};
use tallycoat::fits::survival::{Times, km, logrank, restricted_mean};

/// Times, failures and covariates read from a table.
struct Study {
    time: Vec<f64>,
    failed: Vec<bool>,
    table: Table,
}

impl Study {
    fn read(name: &str, time: &str, failed: &str) -> Self {
        let table = Table::read(name);
        Self {
            time: table.numbers(time),
            failed: table.numbers(failed).iter().map(|f| *f == 1.0).collect(),
            table,
        }
    }

    fn times(&self) -> Times<'_> {
        Times {
            time: &self.time,
            failed: &self.failed,
            jobs: None,
        }
    }

    /// The rows whose `column` is `value`.
    fn only(&self, column: &str, value: &str) -> (Vec<f64>, Vec<bool>) {
        let kept = |i: &usize| self.table.text(column)[*i] == value;
        let rows = || (0..self.time.len()).filter(kept);
        (
            rows().map(|i| self.time[i]).collect(),
            rows().map(|i| self.failed[i]).collect(),
        )
    }

    fn cox(&self, covariates: &[f64], ties: Ties) -> Cox {
        let jobs = Jobs {
            times: self.times(),
            covariates,
            columns: covariates.len() / self.time.len(),
            strata: None,
        };
        let params = Params {
            ties,
            ..Params::default()
        };
        match cox::fit(&jobs, params).unwrap() {
            Outcome::Fitted(fit) => fit,
            Outcome::Unbounded { columns } => panic!("unbounded: {columns:?}"),
        }
    }
}

fn leukaemia() -> Study {
    Study::read("freireich_gehan", "time", "cens")
}

fn ovarian() -> Study {
    Study::read("ovarian", "futime", "fustat")
}

fn arm(name: &str) -> km::Curve {
    let (time, failed) = leukaemia().only("treat", name);
    let jobs = Times {
        time: &time,
        failed: &failed,
        jobs: None,
    };
    km::curve(jobs, 0.95).unwrap()
}

/// Freireich et al. (1963): the table of the 6-MP arm as most texts print
/// it, from memory, and R.
#[test]
fn kaplan_meier_of_the_six_mp_arm() {
    let curve = arm("6-MP");
    let want = [
        (6.0, 0.857142857142857, 0.0763603548321213, 0.857, 0.0764),
        (7.0, 0.80672268907563, 0.0869352851800572, 0.807, 0.0869),
        (10.0, 0.752941176470588, 0.0963496529943205, 0.753, 0.0963),
        (13.0, 0.690196078431372, 0.10681470777501, 0.690, 0.1068),
        (16.0, 0.627450980392157, 0.114053865256753, 0.627, 0.1141),
        (22.0, 0.53781512605042, 0.128233751693034, 0.538, 0.1282),
        (23.0, 0.448179271708683, 0.13459145675576, 0.448, 0.1346),
    ];
    assert_eq!(curve.steps.len(), want.len());
    for (step, (time, share, se, share_print, se_print)) in curve.steps.iter().zip(want) {
        assert_eq!(step.time, time);
        close("KM-6MP share", step.share, share);
        close("KM-6MP se", step.standard_error.unwrap(), se);
        near("KM-6MP share", step.share, share_print, 5e-4);
        near("KM-6MP se", step.standard_error.unwrap(), se_print, 5.1e-5);
    }
    let band = curve.step_at(10.0).unwrap().band.unwrap();
    close("KM-6MP-26", band.low, 0.503199510799957);
    close("KM-6MP-27", band.high, 0.889361835169265);
    assert_eq!(curve.time_to(0.5), Some(23.0), "KM-6MP-22");
    assert_eq!([curve.at_risk(0.0), curve.at_risk(10.0)], [21, 15]);
}

/// The control arm as a course's stored output prints it.
#[test]
fn kaplan_meier_of_the_control_arm() {
    let curve = arm("control");
    assert_eq!(curve.time_to(0.5), Some(8.0), "KM-6MP-23");
    for (time, share, se) in [
        (15.0, 0.142857142857143, 0.0763603548321213),
        (17.0, 0.0952380952380952, 0.0640564484890047),
        (22.0, 0.0476190476190476, 0.0464714320451682),
    ] {
        let step = curve.step_at(time).unwrap();
        close("KM-6MP-33..42 share", step.share, share);
        close("KM-6MP-33..42 se", step.standard_error.unwrap(), se);
    }
    let last = curve.steps.last().unwrap();
    assert_eq!(
        (last.share, last.standard_error, last.band),
        (0.0, None, None)
    );
}

#[test]
fn restricted_means_of_both_arms() {
    let treated = restricted_mean::mean(&arm("6-MP"), 35.0).unwrap();
    close("KM-6MP-30", treated.mean, 23.2873949579832);
    close("KM-6MP-31", treated.standard_error, 2.82746762337144);
    let control = restricted_mean::mean(&arm("control"), 35.0).unwrap();
    close("KM-6MP-32", control.mean, 8.66666666666667);
    let longer = restricted_mean::difference(&treated, &control, 0.95).unwrap();
    close(
        "KM-6MP-30 less 32",
        longer.value,
        23.2873949579832 - 8.66666666666667,
    );
}

#[test]
fn log_rank_of_the_six_mp_trial() {
    let study = leukaemia();
    let group: Vec<usize> = study
        .table
        .text("treat")
        .iter()
        .map(|t| usize::from(t == "control"))
        .collect();
    let found = logrank::test(study.times(), &group, None).unwrap();
    close("LR-6MP-01", found.test.chi2, 16.7929409892165);
    near("LR-6MP-02", found.test.chi2, 16.79, 5e-3);
    close("LR-6MP-04", found.groups[0].expected, 19.2505009480311);
    close("LR-6MP-05", found.groups[1].expected, 10.7494990519689);
    close("LR-6MP-06", found.groups[0].variance, 6.2569605736755);
    assert_eq!(
        [found.groups[0].observed, found.groups[1].observed],
        [9, 21]
    );
    assert_eq!(found.test.df, 1);
}

fn control_indicator(study: &Study) -> Vec<f64> {
    let treat = study.table.text("treat").iter();
    treat
        .map(|t| if t == "control" { 1.0 } else { 0.0 })
        .collect()
}

/// Printed by a stored course script: 1.5721 (0.4124), HR 0.2076 (0.09251 to
/// 0.4659), LR 16.35, Wald 14.53, score 17.25; Breslow from texts.
#[test]
fn cox_regression_of_the_six_mp_trial() {
    let study = leukaemia();
    let control = control_indicator(&study);
    let fit = study.cox(&control, Ties::Efron);
    close("COX-6MP-01", fit.coefficients[0], 1.57212514882907);
    close(
        "COX-6MP-02",
        fit.standard_error(0).unwrap(),
        0.412396717709455,
    );
    close("COX-6MP-06", fit.likelihood_ratio.chi2, 16.3516908389522);
    close("COX-6MP-07", fit.wald.chi2, 14.5326170633744);
    close("COX-6MP-08", fit.score.chi2, 17.2465367957166);
    close("COX-6MP-20", fit.log_likelihood_null, -93.1842699968477);
    close("COX-6MP-21", fit.log_likelihood, -85.0084245773717);
    let treated: Vec<f64> = control.iter().map(|c| 1.0 - c).collect();
    let ratio = study
        .cox(&treated, Ties::Efron)
        .hazard_ratio(0, 0.95)
        .unwrap();
    close("COX-6MP-03", ratio.value, 0.207603524841537);
    close("COX-6MP-04", ratio.low, 0.0925128372620032);
    close("COX-6MP-05", ratio.high, 0.465872897234471);
    let breslow = study.cox(&control, Ties::Breslow);
    close("COX-6MP-10", breslow.coefficients[0], 1.50919141258588);
    close(
        "COX-6MP-11",
        breslow.standard_error(0).unwrap(),
        0.409564406366741,
    );
    close("COX-6MP-18", breslow.log_likelihood_null, -93.9850504782452);
    close("COX-6MP-19", breslow.log_likelihood, -86.3796220711456);
}

/// survival's own reference output, tests/ovarian.Rout.save.
#[test]
fn kaplan_meier_of_the_ovarian_set() {
    let study = ovarian();
    let curve = km::curve(study.times(), 0.95).unwrap();
    let want = [
        (0.961538461538462, 0.0377146413727277),
        (0.923076923076923, 0.0522589400374429),
        (0.884615384615385, 0.0626562680016194),
        (0.846153846153846, 0.0707589393082923),
        (0.807692307692308, 0.0772920146604327),
        (0.769230769230769, 0.0826286393122422),
        (0.730769230769231, 0.0869892924733086),
        (0.687782805429864, 0.0918814789621391),
        (0.641930618401207, 0.0965212987932193),
        (0.596078431372549, 0.099926146847691),
        (0.54640522875817, 0.103209394266345),
        (0.496732026143791, 0.105102660669595),
    ];
    assert_eq!(curve.steps.len(), 12);
    for (step, (share, se)) in curve.steps.iter().zip(want) {
        close("SURV-OVARIAN-01..24", step.share, share);
        close("SURV-OVARIAN-01..24 se", step.standard_error.unwrap(), se);
    }
}

#[test]
fn cox_regression_and_log_rank_of_the_ovarian_set() {
    let study = ovarian();
    let column = |name| study.table.numbers(name);
    let alone = study.cox(&column("age"), Ties::Efron);
    close("SURV-OVARIAN-31", alone.coefficients[0], 0.161619857406316);
    close(
        "SURV-OVARIAN-32",
        alone.standard_error(0).unwrap(),
        0.0497401245026422,
    );
    close(
        "SURV-OVARIAN-33",
        alone.likelihood_ratio.chi2,
        14.2935861601602,
    );
    let parts = [column("age"), column("rx"), column("ecog.ps")];
    let row = |i: usize| parts.iter().map(move |p| p[i]);
    let all: Vec<f64> = (0..26).flat_map(row).collect();
    let fit = study.cox(&all, Ties::Efron);
    let want = [
        (0.146989256211902, 0.0463020480369044, 0.1470, 0.0463),
        (-0.814584764008128, 0.634161024896107, -0.8146, 0.6342),
        (0.103179602127612, 0.606377104738059, 0.1032, 0.6064),
    ];
    for (j, (b, se, b_print, se_print)) in want.into_iter().enumerate() {
        close("SURV-OVARIAN-34..39", fit.coefficients[j], b);
        close("SURV-OVARIAN-34..39 se", fit.standard_error(j).unwrap(), se);
        near("SURV-OVARIAN-34..39", fit.coefficients[j], b_print, 5e-5);
        near(
            "SURV-OVARIAN-34..39 se",
            fit.standard_error(j).unwrap(),
            se_print,
            5e-5,
        );
    }
    let group: Vec<usize> = column("rx").iter().map(|g| *g as usize - 1).collect();
    let found = logrank::test(study.times(), &group, None).unwrap();
    close("SURV-OVARIAN-41", found.test.chi2, 1.06273986129141);
}
