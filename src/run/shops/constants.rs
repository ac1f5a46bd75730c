//! The chain's constants as each shop bears them out.

use super::Fitted;
use crate::estimate::Estimate;
use crate::findings::shops::{Constant, LEAST_JOBS, OwnConstant, Shop};
use crate::run::estimates::{BEFORE_FINISHES, Basis, Time, Use, known};

/// Shops that get constants of their own, at most: those with most jobs, so
/// that work and tables stay bounded in a chain of any size.
const MOST: usize = 200;

/// A constant as the fit of the shops takes it.
struct Wanted<'a> {
    constant: Constant,
    key: String,
    /// The chain's, shops pooled.
    chain: f64,
    fitted: &'a Fitted,
    /// The finish's or class's own column in the design.
    column: usize,
    /// Columns of the fit.
    row: Vec<f64>,
    load: f64,
    /// From the fit's scale to the constant's.
    scale: fn(f64) -> f64,
}

/// Gives the shops with most jobs their constants.
pub(super) fn add(
    b: &Basis<'_>,
    shops: &mut [Shop],
    used: Option<(&Use, &Fitted)>,
    time: Option<(&Time, &Fitted)>,
) {
    let mut wanted = used.map_or_else(Vec::new, |(u, f)| of_use(b, u, f));
    wanted.extend(time.map_or_else(Vec::new, |(t, f)| of_time(b, t, f)));
    for s in with_most_jobs(shops) {
        shops[s].constants = wanted.iter().filter_map(|w| w.of(s)).collect();
    }
}

fn with_most_jobs(shops: &[Shop]) -> Vec<usize> {
    let mut places: Vec<usize> = (0..shops.len()).collect();
    places.sort_by_key(|s| (std::cmp::Reverse(shops[*s].coated.of), *s));
    places.truncate(MOST);
    places
}

/// mL per m² by finish: the finish's own column, and what it adds to what the
/// work takes.
fn of_use<'a>(b: &Basis<'_>, used: &Use, fitted: &'a Fitted) -> Vec<Wanted<'a>> {
    let chain = used.fitted(b);
    let finishes = chain.finishes.iter();
    let known = known(finishes.map(|f| (&f.finish, &f.data_alone)));
    let own = |(f, name, rate): (usize, &str, f64)| {
        let cell = |column: &usize| match *column {
            0 => rate,
            c => f64::from(u8::from(c == BEFORE_FINISHES + f)),
        };
        Wanted {
            constant: Constant::MlPerM2,
            key: name.to_string(),
            chain: rate,
            fitted,
            column: BEFORE_FINISHES + f,
            row: fitted.kept.iter().map(cell).collect(),
            load: rate,
            scale: |x| x,
        }
    };
    known.into_iter().map(own).collect()
}

/// Typical minutes by class: the class's own column.
fn of_time<'a>(b: &Basis<'_>, time: &Time, fitted: &'a Fitted) -> Vec<Wanted<'a>> {
    let chain = time.fitted(b);
    let classes = chain.classes.iter();
    let known = known(classes.map(|c| (&c.class, &c.typical)));
    let own = |(c, name, typical): (usize, &str, f64)| {
        let cell = |column: &usize| f64::from(u8::from(*column == c));
        Wanted {
            constant: Constant::Minutes,
            key: name.to_string(),
            chain: typical,
            fitted,
            column: c,
            row: fitted.kept.iter().map(cell).collect(),
            load: 1.0,
            scale: f64::exp,
        }
    };
    let kept = known
        .into_iter()
        .filter(|(c, _, _)| fitted.kept.contains(c));
    kept.map(own).collect()
}

impl Wanted<'_> {
    /// The shop's; `None` with too few jobs to speak of.
    fn of(&self, shop: usize) -> Option<OwnConstant> {
        let place = (*self.fitted.places.get(shop)?)?;
        let found = self.fitted.found.as_ref()?;
        let own = found.own(place, &self.row, self.load)?.map(self.scale);
        let on = self.fitted.on.get(shop)?.get(self.column).copied()?;
        (own.n >= LEAST_JOBS && own.is_finite()).then(|| OwnConstant {
            constant: self.constant,
            key: self.key.clone(),
            own: Estimate { n: on, ..own },
            chain: self.chain,
        })
    }
}
