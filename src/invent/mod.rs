//! Invented shops with a known truth, for the demo, the tests and the benches.
//!
//! A shop is drawn job by job under a [`Law`]: what a job takes in coating and
//! minutes, what is offered and sold, what comes back, how long film lasts.
//! Same plan and seed, same bytes. This room shares no code with the fits, so
//! that an error there cannot hide here; it does not centre people's effects
//! either, since a real shop's people are not centred.
//!
//! Plan in, tables out:
//!
//! ```
//! use tallycoat::invent::{Plan, invent};
//! let shop = invent(&Plan { jobs: 100, months: 6, ..Plan::default() })?;
//! assert_eq!(shop.tables.jobs.len(), 100);
//! # Ok::<(), tallycoat::invent::InventError>(())
//! ```

mod after;
mod calendar;
mod cellar;
mod clock;
mod crew;
mod draws;
mod guess;
mod kinds;
mod law;
mod messy;
mod plan;
mod sale;
mod shop;
mod tables;
mod today;
mod truth;
mod vehicle;
mod work;
mod write;

pub use guess::{Guess, Record};
pub use kinds::{
    CAUSES, CLASSES, CONDITIONS, COVERAGES, Cause, Class, Condition, Coverage, FILMS, FINISHES,
    Film, Finish, ORIENTATIONS, Orientation, PARTS, Part, ROLES, Role, SAMPLES, Sample,
};
pub use law::{AfterLaw, Law, MinutesLaw, Residual, SaleLaw, UseLaw, VehicleLaw};
pub use messy::{Broken, Messy, MessyFile, messy, write_messy};
pub use plan::{BottleRecord, Change, Drift, Plan, PlanError};
pub use tables::{Bottle, Callback, Coating, Inspection, Job, Person, Surface, Tables};
pub use truth::{
    AttachTruth, ByWord, CallbackTruth, CoatingTruth, DriftTruth, DurabilityTruth, MinutesTruth,
    MonthTruth, PRODUCT, PersonTruth, PlanTruth, SellerTruth, ShopTruth, Truth,
};
pub use write::FILES;

use draws::{Draws, Purpose};
use shop::ShopRun;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use thiserror::Error;
use write::{Sheets, Style};

/// An invented shop, or chain of shops, in memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Invented {
    /// What it was made from.
    pub plan: Plan,
    /// What the fits are to find again.
    pub truth: Truth,
    /// The constants that the shop goes by.
    pub constants: Guess,
    /// Its tables.
    pub tables: Tables,
}

/// Why nothing could be invented or written.
#[derive(Debug, Error)]
pub enum InventError {
    /// A plan that cannot be carried out.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A folder with a shop's own records.
    #[error(
        "{} holds jobs.csv but no truth.json, so it was not invented: nothing is written there",
        folder.display()
    )]
    NotInvented {
        /// The folder.
        folder: PathBuf,
    },
    /// A messy export of more than one shop.
    #[error("a messy export is one shop's, not {shops} shops'")]
    OneShopOnly {
        /// Shops of the plan.
        shops: u32,
    },
    /// A file that cannot be written.
    #[error("{}: {source}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

/// Invents a shop, or a chain, in memory.
///
/// # Errors
/// A plan that cannot be carried out.
pub fn invent(plan: &Plan) -> Result<Invented, InventError> {
    plan.check()?;
    let constants = Guess::of(plan);
    let mut truth = Truth::of(plan);
    let mut tables = Tables::default();
    for part in parts(plan) {
        let Some(mut run) = ShopRun::new(plan, &constants, part) else {
            continue;
        };
        run.people(&mut tables);
        for month in 0..run.months() {
            run.work_month(month, &mut tables);
        }
        run.close(&mut tables);
        truth.add_shop(&run);
    }
    Ok(Invented {
        plan: plan.clone(),
        truth,
        constants,
        tables,
    })
}

/// Writes an invented shop: seven tables, `constants.toml`, `truth.json`.
///
/// # Errors
/// A folder with a shop's own records; a file that cannot be written.
pub fn write(invented: &Invented, folder: &Path) -> Result<(), InventError> {
    let style = Style::of(&invented.plan);
    let mut files = Files::create(folder, style)?;
    let mut sheets = Sheets::default();
    sheets.add(&invented.tables, style);
    files.add(&mut sheets)?;
    files.finish(&invented.constants, &invented.truth)
}

/// Invents and writes month by month, so that memory does not grow with the
/// number of jobs. Gives the same bytes as [`invent`] and [`write`].
///
/// # Errors
/// As theirs.
pub fn invent_into(plan: &Plan, folder: &Path) -> Result<Truth, InventError> {
    plan.check()?;
    let style = Style::of(plan);
    let constants = Guess::of(plan);
    let mut truth = Truth::of(plan);
    let mut files = Files::create(folder, style)?;
    let mut tables = Tables::default();
    let mut sheets = Sheets::default();
    for part in parts(plan) {
        let Some(mut run) = ShopRun::new(plan, &constants, part) else {
            continue;
        };
        run.people(&mut tables);
        for month in 0..run.months() {
            run.work_month(month, &mut tables);
            if month + 1 == run.months() {
                run.close(&mut tables);
            }
            sheets.add(&tables, style);
            files.add(&mut sheets)?;
            tables.clear();
        }
        truth.add_shop(&run);
    }
    files.finish(&constants, &truth)?;
    Ok(truth)
}

/// Jobs of each shop: shops of a chain differ in size by up to two fifths.
fn parts(plan: &Plan) -> Vec<shop::Part> {
    let Some(mut draws) = Draws::new(plan.seed, 0, Residual::Normal) else {
        return Vec::new();
    };
    let weights: Vec<f64> = (0..plan.shops)
        .map(|_| draws.of(Purpose::Shops).between(0.6, 1.4))
        .collect();
    let jobs = calendar::shared_out(plan.jobs, &weights);
    let coated = coated_parts(plan, &jobs);
    let mut first_job = 1;
    let mut parts = Vec::with_capacity(jobs.len());
    for ((shop, jobs), coated) in (1..).zip(jobs).zip(coated) {
        parts.push(shop::Part {
            shop,
            jobs,
            first_job,
            coated,
        });
        if !plan.keys_per_shop {
            first_job += jobs;
        }
    }
    parts
}

fn coated_parts(plan: &Plan, jobs: &[u64]) -> Vec<Option<u64>> {
    let Some(coated) = plan.coated_exactly else {
        return vec![None; jobs.len()];
    };
    let weights: Vec<f64> = jobs.iter().map(|j| *j as f64).collect();
    let shared = calendar::shared_out(coated, &weights);
    shared.into_iter().map(Some).collect()
}

/// The seven files, open.
struct Files {
    folder: PathBuf,
    open: Vec<BufWriter<File>>,
}

impl Files {
    fn create(folder: &Path, style: Style) -> Result<Self, InventError> {
        let has = |name: &str| folder.join(name).exists();
        if has("jobs.csv") && !has("truth.json") {
            return Err(InventError::NotInvented {
                folder: folder.to_path_buf(),
            });
        }
        std::fs::create_dir_all(folder).map_err(|source| io_error(folder, source))?;
        let mut open = Vec::with_capacity(FILES.len());
        for name in FILES {
            let path = folder.join(name);
            let file = File::create(&path).map_err(|source| io_error(&path, source))?;
            open.push(BufWriter::with_capacity(1 << 16, file));
        }
        let mut files = Self {
            folder: folder.to_path_buf(),
            open,
        };
        files.add(&mut Sheets::headings(style))?;
        Ok(files)
    }

    /// Writes what stands in the sheets, and empties them.
    fn add(&mut self, sheets: &mut Sheets) -> Result<(), InventError> {
        for ((name, file), bytes) in FILES.iter().zip(&mut self.open).zip(&mut sheets.bytes) {
            let written = file.write_all(bytes);
            written.map_err(|source| io_error(&self.folder.join(name), source))?;
            bytes.clear();
        }
        Ok(())
    }

    fn finish(mut self, constants: &Guess, truth: &Truth) -> Result<(), InventError> {
        for (name, file) in FILES.iter().zip(&mut self.open) {
            let flushed = file.flush();
            flushed.map_err(|source| io_error(&self.folder.join(name), source))?;
        }
        for (name, text) in [
            ("constants.toml", constants.toml()),
            ("truth.json", truth.json()),
        ] {
            let path = self.folder.join(name);
            std::fs::write(&path, text).map_err(|source| io_error(&path, source))?;
        }
        Ok(())
    }
}

fn io_error(path: &Path, source: io::Error) -> InventError {
    InventError::Io {
        path: path.to_path_buf(),
        source,
    }
}
