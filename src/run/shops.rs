//! Shops: the jobs of the window become each shop's figures.
//!
//! The fits take sums by shop over the same rows as the pooled fits: what
//! those leave out as far off is left out here too.

mod constants;
mod roll;
mod standing;

use super::estimates::{Basis, Time, Use};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::findings::FindError;
use crate::findings::shops::{
    Counts, FAR, Held, LEAST_JOBS, LOOKED_FOR, Shop, Shops, Sight, Whole, callbacks, find, sold,
};
use crate::fits::discovery::Rule;
use crate::fits::error::FitError;
use crate::fits::pace::shops::{self as fit, Load, Params, thinned};
use crate::fits::pace::sight::{self, Imagined};
use crate::fits::pace::{self, Sums};
use roll::{Roll, Tally};
pub(super) use standing::standing;

/// Level of every range in this section.
const LEVEL: f64 = 0.95;
/// Seed of the simulated chains.
const SEED: u64 = 20_240_607;
/// Simulated chains.
const SIMULATED: u32 = 40;

/// One kind of work of all shops, fitted.
struct Fitted {
    /// Jobs in the fit, by shop.
    jobs: Vec<u64>,
    /// By shop and column of the design: jobs on which that is not 0.
    on: Vec<Vec<u64>>,
    /// Place in the fit of each shop that has such jobs.
    places: Vec<Option<usize>>,
    /// Columns of the design that the fit kept.
    kept: Vec<usize>,
    /// The fit; `None` where there is too little.
    found: Option<fit::Shops>,
}

/// The shops of the window; `None` where there is one.
pub(super) fn shops(
    b: &Basis<'_>,
    used: Option<&Use>,
    time: Option<&Time>,
) -> Result<Option<Shops>, FindError> {
    let roll = Roll::of(b.measures, b.scope);
    if roll.names.len() < 2 {
        return Ok(None);
    }
    let coating = used.map(|u| fit_used(b, u, &roll)).transpose()?;
    let minutes = time.map(|t| fit_time(b, t, &roll)).transpose()?;
    let offered = sold(&roll.offered)?;
    let (back, back_usual) = came_back(&roll)?;
    let [used_held, time_held] = [
        held(coating.as_ref(), &roll, "measured jobs", |d| 1.0 + d),
        held(minutes.as_ref(), &roll, "timed jobs", f64::exp),
    ];
    let mut all: Vec<Shop> = Vec::with_capacity(roll.names.len());
    let figures = used_held.into_iter().zip(time_held).zip(back).enumerate();
    for (s, ((used, time), back)) in figures {
        all.push(Shop {
            name: roll.names[s].to_string(),
            offered: roll.offered[s],
            sold: offered.each[s].clone(),
            sold_outside: offered.outside[s],
            measured: coating.as_ref().map_or(0, |f| f.jobs[s]),
            used,
            timed: minutes.as_ref().map_or(0, |f| f.jobs[s]),
            time,
            coated: roll.coated[s],
            back,
            constants: Vec::new(),
            said: Vec::new(),
        });
    }
    constants::add(
        b,
        &mut all,
        used.zip(coating.as_ref()),
        time.zip(minutes.as_ref()),
    );
    let between = |f: &Option<Fitted>| Some(f.as_ref()?.found.as_ref()?.between());
    let whole = Whole {
        sold_usual: offered.usual,
        sold: offered.whole,
        sold_limits: offered.limits,
        back_usual,
        used_between: between(&coating),
        time_between: between(&minutes),
        sight: minutes.as_ref().map_or(Ok(None), |f| sight(b, f))?,
        prior_scale: b.review.pace_prior_scale,
    };
    find(all, whole).map(Some)
}

/// Each shop's share that came back, and their usual. Nothing written down is
/// not the same as nothing that came back: shops without a callback in view
/// have no figure and are in no usual.
fn came_back(roll: &Roll<'_>) -> Result<(Vec<Held>, Option<Estimate>), FindError> {
    let counted =
        |(coated, writes): (&Counts, &bool)| if *writes { *coated } else { Counts::default() };
    let counts: Vec<Counts> = (roll.coated.iter().zip(&roll.writes_callbacks))
        .map(counted)
        .collect();
    let found = callbacks(&counts)?;
    let held = |(held, writes): (Held, &bool)| match *writes {
        true => held,
        false => Held {
            figure: NotEnough::new(0, 1, "callbacks written down").into(),
            ..Held::missing(0, "")
        },
    };
    let each = found.each.into_iter().zip(&roll.writes_callbacks);
    Ok((each.map(held).collect(), found.usual))
}

fn params(b: &Basis<'_>, [far_below, far_above]: [f64; 2]) -> Params {
    Params {
        prior_scale: b.review.pace_prior_scale,
        far_above,
        far_below,
        level: LEVEL,
    }
}

fn fit_used(b: &Basis<'_>, used: &Use, roll: &Roll<'_>) -> Result<Fitted, FindError> {
    let needs = used.needs();
    let mut all = roll.tallies(needs.columns());
    used.each_row(b, &needs, |place, row, y| {
        match roll.tally(&mut all, place) {
            Some(own) => own.add(row, y),
            None => Ok(()),
        }
    })?;
    fitted(all, Load::Column(0), params(b, [-FAR, FAR]))
}

fn fit_time(b: &Basis<'_>, time: &Time, roll: &Roll<'_>) -> Result<Fitted, FindError> {
    let mut all = roll.tallies(time.shape(b).columns());
    time.each_row(b, |of_fit, job| {
        match roll.tally(&mut all, of_fit.place).zip(job.minutes) {
            Some((own, minutes)) => own.add(of_fit.row, minutes.ln()),
            None => Ok(()),
        }
    })?;
    let far = FAR.ln_1p();
    fitted(all, Load::Even, params(b, [-far, far]))
}

fn fitted(all: Vec<Tally>, load: Load, params: Params) -> Result<Fitted, FindError> {
    let jobs = all.iter().map(|t| t.sums.jobs).collect();
    let (sums, on): (Vec<Sums>, Vec<_>) = all.into_iter().map(|t| (t.sums, t.on)).unzip();
    let bears = |s: &Sums| match load {
        Load::Even => s.jobs > 0,
        Load::Column(column) => s.xx[(column, column)] > 0.0,
    };
    let mut next = 0;
    let mut place = |s: &Sums| {
        bears(s).then(|| {
            next += 1;
            next - 1
        })
    };
    let places = sums.iter().map(&mut place).collect();
    let mut each: Vec<Sums> = sums.into_iter().filter(bears).collect();
    let kept = thinned(&mut each)?;
    // Where shops weigh or time too little, or nothing varies, nothing is said.
    let found = match fit::fit(&each, load, params) {
        Ok(found) => Some(found),
        Err(FitError::NotEnough(_) | FitError::NoSpread { .. } | FitError::Collinear { .. }) => {
            None
        }
        Err(other) => return Err(other.into()),
    };
    Ok(Fitted {
        jobs,
        on,
        places,
        kept,
        found,
    })
}

/// Each shop's figure: what `factor` makes of its departure.
fn held(fitted: Option<&Fitted>, roll: &Roll<'_>, what: &str, factor: fn(f64) -> f64) -> Vec<Held> {
    let found = fitted.and_then(|f| Some((f, f.found.as_ref()?.against())));
    let one = |s: usize| {
        let jobs = fitted.map_or(0, |f| f.jobs[s]);
        let against = found.as_ref().and_then(|(f, all)| all.get(f.places[s]?));
        match against.filter(|_| jobs >= LEAST_JOBS) {
            Some(a) => Held {
                figure: Figure::Known(a.departure.map(factor)),
                above: a.chance_above,
                below: a.chance_below,
            },
            None => Held::missing(jobs, what),
        }
    };
    (0..roll.names.len()).map(one).collect()
}

/// How often a shop truly slow would be raised here: simulated for the shop
/// whose number of timed jobs is the middle one of those spoken of.
fn sight(b: &Basis<'_>, fitted: &Fitted) -> Result<Option<Sight>, FindError> {
    let Some(found) = &fitted.found else {
        return Ok(None);
    };
    let tables = found.tables();
    let mut spoken: Vec<usize> = (0..tables.len())
        .filter(|g| tables.jobs(*g) >= LEAST_JOBS)
        .collect();
    spoken.sort_by_key(|g| tables.jobs(*g));
    let Some(middle) = spoken.get(spoken.len() / 2).copied() else {
        return Ok(None);
    };
    let looked_at: Vec<bool> = (0..tables.len()).map(|g| g == middle).collect();
    let value = |e: Estimate| e.value;
    let imagined = Imagined {
        between: value(found.between()),
        within: value(found.within()),
        slower: LOOKED_FOR,
        shops: SIMULATED,
        seed: SEED,
    };
    let params = pace::Params {
        prior_scale: b.review.pace_prior_scale,
        slow: FAR,
        level: LEVEL,
    };
    let seen = match sight::power(tables, &looked_at, imagined, Rule::default(), params) {
        Ok(seen) => seen,
        Err(FitError::NotEnough(_) | FitError::NoSpread { .. }) => return Ok(None),
        Err(other) => return Err(other.into()),
    };
    Ok(seen.power.get(middle).map(|share| Sight {
        jobs: tables.jobs(middle),
        chains: SIMULATED,
        noticed: *share,
    }))
}
