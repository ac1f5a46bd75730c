//! What could this shop have seen?
//!
//! Question: had one of these people truly been slow by a given share, how
//! often would the rule that raises people have raised that person, with
//! this shop's own jobs, and how often would it raise somebody wrongly?
//!
//! Simulates the shop's tables many times with its own jobs per person and
//! designs: u_g ~ N(0, τ²) for the others, the one in question set so that
//! d is exactly the share asked for; then fits and raises as for the real
//! data, on a grid of fewer points where that tells the same chances. Only the
//! tables are drawn: means ȳ_g = u_g + σ z/√n_g, S_xy = S_xx^½
//! σ z, S_yy = the part of it that x explains + σ² χ², which is their exact
//! joint law (β = 0, which changes no posterior of u).
//!
//! When it misleads: τ and σ are themselves estimates.

use super::grid::Cells;
use super::people::{People, Person};
use super::{Params, chances_slow};
use crate::fits::discovery::{Rule, by_chance};
use crate::fits::draws::{normal, root};
use crate::fits::error::FitError;
use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution};

/// The shop that is imagined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Imagined {
    /// τ, standard deviation between people on the log scale.
    pub between: f64,
    /// σ, that of a person's own jobs.
    pub within: f64,
    /// How much slower the person in question truly is, as a share.
    pub slower: f64,
    /// Shops simulated for each person.
    pub shops: u32,
    /// Seed.
    pub seed: u64,
}

/// What would be seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    /// For each person: share of the simulated shops in which that person,
    /// truly slow, is raised.
    pub power: Vec<f64>,
    /// Of everybody raised, the share not truly over the `slow` of the
    /// parameters; `None` where nobody was.
    pub false_share: Option<f64>,
}

/// How often each person would be raised; people for whom `eligible` is
/// false (too few jobs to be spoken of) are never raised, and have a power
/// of 0.
///
/// # Errors
/// [`FitError::Parameter`] for spreads or a share that are not positive,
/// [`FitError::Shape`] for `eligible` of another length; those of
/// [`fit`](super::fit).
pub fn power(
    people: &People,
    eligible: &[bool],
    imagined: Imagined,
    rule: Rule,
    params: Params,
) -> Result<Sight, FitError> {
    super::check(people, params)?;
    check(people, eligible, imagined)?;
    let law = Law::new(people, imagined);
    let cells = Cells::imagined(params.prior_scale);
    let mut rng = ChaCha8Rng::seed_from_u64(imagined.seed);
    let (mut power, mut raised, mut wrong) = (vec![0.0; people.len()], 0_u64, 0_u64);
    for slow in (0..people.len()).filter(|&g| eligible[g]) {
        for _ in 0..imagined.shops {
            let effects = law.effects(slow, &mut rng);
            let shop = law.draw(people, &effects, &mut rng);
            let chances = chances_slow(&shop, eligible, params, cells)?;
            let found = by_chance(&chances, rule)?.raised;
            power[slow] += f64::from(u8::from(found[slow])) / f64::from(imagined.shops);
            for (g, _) in found.iter().enumerate().filter(|(_, r)| **r) {
                raised += 1;
                wrong += u64::from(centred(&effects, g) <= params.slow.ln_1p());
            }
        }
    }
    let false_share = (raised > 0).then(|| wrong as f64 / raised as f64);
    Ok(Sight { power, false_share })
}

fn check(people: &People, eligible: &[bool], imagined: Imagined) -> Result<(), FitError> {
    if eligible.len() != people.len() {
        return Err(FitError::Shape {
            what: "people to be spoken of",
            expected: people.len(),
            found: eligible.len(),
        });
    }
    let ranges = [
        (
            "spread between people",
            imagined.between,
            imagined.between >= 0.0,
        ),
        (
            "spread within people",
            imagined.within,
            imagined.within > 0.0,
        ),
        ("share slower", imagined.slower, imagined.slower > 0.0),
        ("shops simulated", imagined.shops.into(), imagined.shops > 0),
    ];
    for (what, found, fine) in ranges {
        if !(fine && found.is_finite()) {
            return Err(FitError::Parameter {
                what,
                found,
                expected: "above 0 (the spread between people: 0 or more)",
            });
        }
    }
    Ok(())
}

/// d of person `g`.
fn centred(effects: &[f64], g: usize) -> f64 {
    effects[g] - effects.iter().sum::<f64>() / effects.len() as f64
}

/// The joint law of the tables.
struct Law {
    imagined: Imagined,
    people: usize,
    within: Part,
    shared: Part,
}

/// One table: root of its x part, degrees of freedom left beside it, sd.
struct Part {
    root: Vec<DVector<f64>>,
    left: f64,
    sd: f64,
}

impl Part {
    fn new(table: &DMatrix<f64>, df: f64, sd: f64) -> Self {
        let p = table.nrows() - 1;
        let root = root(&table.view((0, 0), (p, p)).into_owned());
        let left = df - root.len() as f64;
        Self { root, left, sd }
    }

    /// The table with its y part drawn anew.
    fn draw(&self, table: &DMatrix<f64>, rng: &mut ChaCha8Rng) -> DMatrix<f64> {
        let p = table.nrows() - 1;
        let (mut xy, mut yy) = (DVector::zeros(p), 0.0);
        for column in &self.root {
            let z = normal(rng);
            xy += column * (self.sd * z);
            yy += (self.sd * z).powi(2);
        }
        if let Ok(law) = ChiSquared::new(self.left) {
            yy += self.sd * self.sd * law.sample(rng);
        }
        DMatrix::from_fn(p + 1, p + 1, |i, j| match (i == p, j == p) {
            (false, false) => table[(i, j)],
            (true, true) => yy,
            _ => xy[i.min(j)],
        })
    }
}

impl Law {
    fn new(people: &People, imagined: Imagined) -> Self {
        let own_jobs: f64 = people.persons.iter().map(|p| p.jobs as f64).sum();
        let df = own_jobs - people.len() as f64;
        let alone = imagined.between.hypot(imagined.within);
        Self {
            imagined,
            people: people.len(),
            within: Part::new(&people.within, df, imagined.within),
            shared: Part::new(&people.shared, people.shared_jobs as f64, alone),
        }
    }

    /// u of everybody, `slow` being slower than the usual by just the share
    /// asked for.
    fn effects(&self, slow: usize, rng: &mut ChaCha8Rng) -> Vec<f64> {
        let draw = |_| self.imagined.between * normal(rng);
        let mut effects: Vec<f64> = (0..self.people).map(draw).collect();
        effects[slow] = 0.0;
        let others: f64 = effects.iter().sum();
        let m = self.people as f64;
        effects[slow] = (self.imagined.slower.ln_1p() + others / m) * m / (m - 1.0);
        effects
    }

    fn draw(&self, people: &People, effects: &[f64], rng: &mut ChaCha8Rng) -> People {
        let p = people.columns();
        let person = |(person, u): (&Person, &f64)| {
            let z = normal(rng);
            let mut mean = person.mean.clone();
            mean[p] = u + self.imagined.within * z / person.weight.sqrt();
            Person {
                jobs: person.jobs,
                weight: person.weight,
                mean,
            }
        };
        let persons = people.persons.iter().zip(effects).map(person).collect();
        let within = self.within.draw(&people.within, rng);
        let shared = self.shared.draw(&people.shared, rng);
        People::of(persons, within, shared, people.shared_jobs)
    }
}
