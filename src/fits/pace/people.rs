//! What the posterior needs of the jobs, however many there are.

use crate::fits::error::FitError;
use nalgebra::{DMatrix, DVector};

/// Sums over some jobs: x is the design row (p numbers), y the log minutes.
#[derive(Debug, Clone, PartialEq)]
pub struct Sums {
    /// Number of jobs.
    pub jobs: u64,
    /// Σ x, length p.
    pub x: DVector<f64>,
    /// Σ y.
    pub y: f64,
    /// Σ xx', p×p.
    pub xx: DMatrix<f64>,
    /// Σ xy, length p.
    pub xy: DVector<f64>,
    /// Σ y².
    pub yy: f64,
}

impl Sums {
    /// No jobs yet, `columns` numbers in a design row.
    pub fn new(columns: usize) -> Self {
        Self {
            jobs: 0,
            x: DVector::zeros(columns),
            y: 0.0,
            xx: DMatrix::zeros(columns, columns),
            xy: DVector::zeros(columns),
            yy: 0.0,
        }
    }

    /// Adds a job.
    ///
    /// # Errors
    /// [`FitError::Shape`] for a row of another length.
    pub fn add(&mut self, x: &[f64], y: f64) -> Result<(), FitError> {
        same_columns(self.x.len(), x.len())?;
        self.jobs += 1;
        // No allocation: this runs once a job, most of whose numbers are 0.
        let columns = self.xx.as_mut_slice().chunks_exact_mut(x.len().max(1));
        for (column, scale) in columns.zip(x).filter(|(_, scale)| **scale != 0.0) {
            for (sum, v) in column.iter_mut().zip(x) {
                *sum += v * scale;
            }
        }
        for ((sum, products), v) in self.x.iter_mut().zip(self.xy.iter_mut()).zip(x) {
            *sum += v;
            *products += v * y;
        }
        self.y += y;
        self.yy += y * y;
        Ok(())
    }

    /// Adds the jobs of `other`.
    ///
    /// # Errors
    /// [`FitError::Shape`] for sums of another number of columns.
    pub fn merge(&mut self, other: &Self) -> Result<(), FitError> {
        same_columns(self.x.len(), other.x.len())?;
        self.jobs += other.jobs;
        self.x += &other.x;
        self.y += other.y;
        self.xx += &other.xx;
        self.xy += &other.xy;
        self.yy += other.yy;
        Ok(())
    }

    /// The same with some of the columns alone.
    pub fn only(&self, kept: &[usize]) -> Self {
        let p = kept.len();
        let vector = |v: &DVector<f64>| DVector::from_fn(p, |i, _| v[kept[i]]);
        Self {
            jobs: self.jobs,
            x: vector(&self.x),
            y: self.y,
            xx: DMatrix::from_fn(p, p, |i, j| self.xx[(kept[i], kept[j])]),
            xy: vector(&self.xy),
            yy: self.yy,
        }
    }

    /// Σ zz' with z = (x, y).
    fn products(&self) -> DMatrix<f64> {
        let p = self.x.len();
        DMatrix::from_fn(p + 1, p + 1, |i, j| match (i == p, j == p) {
            (false, false) => self.xx[(i, j)],
            (true, true) => self.yy,
            _ => self.xy[i.min(j)],
        })
    }

    /// Mean of z.
    fn mean(&self) -> DVector<f64> {
        let jobs = self.jobs as f64;
        DVector::from_fn(self.x.len() + 1, |i, _| match self.x.get(i) {
            Some(x) => x / jobs,
            None => self.y / jobs,
        })
    }
}

fn same_columns(expected: usize, found: usize) -> Result<(), FitError> {
    if expected == found {
        return Ok(());
    }
    Err(FitError::Shape {
        what: "columns of a job",
        expected,
        found,
    })
}

/// Nobody to learn of: no jobs, or jobs none of which bears the effect.
fn nothing_borne(row: usize, jobs: u64) -> FitError {
    let (what, expected) = match jobs {
        0 => ("jobs of a person", "one or more"),
        _ => ("load of a person's jobs", "above 0"),
    };
    FitError::OutOfRange {
        what,
        row,
        found: 0.0,
        expected,
    }
}

/// A person's jobs and mean of z.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Person {
    pub(super) jobs: u64,
    /// n: the jobs, or Σ l² where the effect goes along a load l
    /// ([`People::along`]).
    pub(super) weight: f64,
    /// z̄, or Σ l z over the weight.
    pub(super) mean: DVector<f64>,
}

/// People of the same weight: all that the posterior of β, θ and σ needs of
/// them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Alike {
    /// n of each.
    pub(super) weight: f64,
    /// How many people.
    pub(super) people: f64,
    /// Σ z̄ over them.
    pub(super) sum: DVector<f64>,
    /// Σ z̄z̄' over them, the columns of its lower half one after another.
    pub(super) products: DVector<f64>,
}

/// The jobs of a shop: within people, between them, and shared ones.
#[derive(Debug, Clone, PartialEq)]
pub struct People {
    pub(super) persons: Vec<Person>,
    /// The same by their number of jobs, ascending: thousands of people have
    /// no more than some hundred such numbers.
    pub(super) alike: Vec<Alike>,
    /// Σ (z − z̄_g)(z − z̄_g)' over people, (p+1)×(p+1).
    pub(super) within: DMatrix<f64>,
    /// Σ zz' over shared jobs.
    pub(super) shared: DMatrix<f64>,
    pub(super) shared_jobs: u64,
}

impl People {
    /// From each person's sums, and those of the jobs that several people
    /// shared (they say nothing of a person, but do of the classes).
    ///
    /// # Errors
    /// [`FitError::Shape`] where the numbers of columns differ,
    /// [`FitError::OutOfRange`] for a person without jobs.
    pub fn new<'a>(
        each: impl IntoIterator<Item = &'a Sums>,
        shared: &Sums,
    ) -> Result<Self, FitError> {
        let person = |sums: &Sums| Person {
            jobs: sums.jobs,
            weight: sums.jobs as f64,
            mean: sums.mean(),
        };
        Self::gathered(each, shared, person)
    }

    /// The same where a person's effect goes along the load l, the design's
    /// column `load`: y = x'β + u l + e. With a load of 1 for every job it is
    /// [`People::new`].
    ///
    /// # Errors
    /// As [`People::new`]; [`FitError::OutOfRange`] too for a person whose
    /// loads are all 0, [`FitError::Shape`] for a load that is no column.
    pub fn along(each: &[Sums], load: usize) -> Result<Self, FitError> {
        let columns = each.first().map_or(load + 1, |s| s.x.len());
        if load >= columns {
            return Err(FitError::Shape {
                what: "columns, the load's among them,",
                expected: load + 1,
                found: columns,
            });
        }
        let person = |sums: &Sums| {
            let weight = sums.xx[(load, load)];
            let product = |i: usize| match sums.x.get(i) {
                Some(_) => sums.xx[(i, load)],
                None => sums.xy[load],
            };
            Person {
                jobs: sums.jobs,
                weight,
                mean: DVector::from_fn(columns + 1, |i, _| product(i) / weight),
            }
        };
        Self::gathered(each, &Sums::new(columns), person)
    }

    fn gathered<'a>(
        each: impl IntoIterator<Item = &'a Sums>,
        shared: &Sums,
        person: impl Fn(&Sums) -> Person,
    ) -> Result<Self, FitError> {
        let p = shared.x.len();
        let mut persons = Vec::new();
        let mut within = DMatrix::zeros(p + 1, p + 1);
        for (row, sums) in each.into_iter().enumerate() {
            same_columns(p, sums.x.len())?;
            let person = person(sums);
            if person.weight <= 0.0 {
                return Err(nothing_borne(row, person.jobs));
            }
            within += sums.products();
            within.ger(-person.weight, &person.mean, &person.mean, 1.0);
            persons.push(person);
        }
        Ok(Self::of(persons, within, shared.products(), shared.jobs))
    }

    /// From the tables themselves.
    pub(super) fn of(
        persons: Vec<Person>,
        within: DMatrix<f64>,
        shared: DMatrix<f64>,
        shared_jobs: u64,
    ) -> Self {
        Self {
            alike: alike(&persons, within.nrows()),
            persons,
            within,
            shared,
            shared_jobs,
        }
    }

    /// Number of people.
    pub fn len(&self) -> usize {
        self.persons.len()
    }

    /// True without people.
    pub fn is_empty(&self) -> bool {
        self.persons.is_empty()
    }

    /// p.
    pub fn columns(&self) -> usize {
        self.within.nrows() - 1
    }

    /// Jobs of person `g` alone; 0 for nobody.
    pub fn jobs(&self, g: usize) -> u64 {
        self.persons.get(g).map_or(0, |p| p.jobs)
    }

    /// All jobs, shared ones too.
    pub fn all_jobs(&self) -> u64 {
        self.persons.iter().map(|p| p.jobs).sum::<u64>() + self.shared_jobs
    }

    /// S + Σ weight(n_g) z̄ z̄' + shared · Σ zz'.
    pub(super) fn combine(&self, weight: impl Fn(f64) -> f64, shared: f64) -> DMatrix<f64> {
        let mut sum = &self.within + &self.shared * shared;
        let size = sum.nrows();
        let mut half = DVector::zeros(half_of(size));
        for alike in &self.alike {
            half.axpy(weight(alike.weight), &alike.products, 1.0);
        }
        let places = (0..size).flat_map(|j| (j..size).map(move |i| (i, j)));
        for ((i, j), product) in places.zip(&half) {
            sum[(i, j)] += product;
            if i != j {
                sum[(j, i)] += product;
            }
        }
        sum
    }

    /// X'X over all jobs.
    pub(super) fn cross_products(&self) -> DMatrix<f64> {
        let p = self.columns();
        self.combine(|n| n, 1.0).view((0, 0), (p, p)).into_owned()
    }

    /// Σ z̄ of people, each times `weight(n_g)`.
    pub(super) fn weighted_means(&self, weight: impl Fn(f64) -> f64) -> DVector<f64> {
        let mut sum = DVector::zeros(self.within.nrows());
        for alike in &self.alike {
            sum.axpy(weight(alike.weight), &alike.sum, 1.0);
        }
        sum
    }

    pub(super) fn check_finite(&self) -> Result<(), FitError> {
        let what = "sums of the jobs";
        let bad = |m: &DMatrix<f64>| m.iter().any(|v| !v.is_finite());
        if bad(&self.within) || bad(&self.shared) {
            return Err(FitError::NotFinite { what, row: 0 });
        }
        Ok(())
    }
}

/// Numbers in the lower half of a square matrix, its diagonal included.
fn half_of(size: usize) -> usize {
    size * (size + 1) / 2
}

fn alike(persons: &[Person], size: usize) -> Vec<Alike> {
    let mut order: Vec<&Person> = persons.iter().collect();
    order.sort_by(|a, b| a.weight.total_cmp(&b.weight));
    let mut all: Vec<Alike> = Vec::new();
    for person in order {
        if all.last().is_none_or(|a| a.weight != person.weight) {
            all.push(Alike {
                weight: person.weight,
                people: 0.0,
                sum: DVector::zeros(size),
                products: DVector::zeros(half_of(size)),
            });
        }
        if let Some(last) = all.last_mut() {
            last.people += 1.0;
            last.sum += &person.mean;
            let z = person.mean.as_slice();
            let products = (0..size).flat_map(|j| z[j..].iter().map(move |v| v * z[j]));
            for (sum, product) in last.products.iter_mut().zip(products) {
                *sum += product;
            }
        }
    }
    all
}
