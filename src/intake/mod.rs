//! Intake: bytes and settings become typed frames, a ledger of lines, and a
//! quarantine of what could not be used.
//!
//! In the order in which a file goes through it: `sources` (which files serve
//! which tables), `bytes` and `encoding` (bounded chunks of text), `dialect`
//! and `headings` (what separates cells, which column serves which field),
//! `record` (where records begin), `cells`, `numbers`, `dates`, `words` and
//! `units` (what a cell holds), `chunk` and `file` (typed columns), `links`
//! (repeated keys, later exports, jobs and what hangs on them), `frames`,
//! `listed`, `account` and `ledger`.

mod account;
mod aside;
pub mod bytes;
mod cells;
mod changed;
mod checks;
mod chunk;
mod columns;
pub mod dates;
mod descriptor;
pub mod dialect;
mod draft;
pub mod encoding;
mod error;
mod file;
mod frames;
pub mod headings;
#[allow(clippy::module_inception)]
mod intake;
mod keys;
pub mod ledger;
mod links;
mod listed;
pub mod mend;
pub mod numbers;
mod places;
mod plan;
mod raw;
pub mod reason;
pub mod record;
mod refusals;
mod rising;
pub mod sources;
pub mod units;
mod vocabulary;
pub mod words;

pub use descriptor::descriptor;
pub use draft::{Draft, Guess, Sure, draft};
pub use error::{FileFault, FileFaultKind, IntakeError};
pub use file::Progress;
pub use frames::{Frames, text_of};
pub use intake::{Accounted, Intake, REJECTED_KEPT, account, account_sources, read, read_sources};
pub use ledger::{FileLedger, Ledger, Lines, Structure};
pub use listed::{KEPT, List, Listed, ODDITIES, Oddity};
pub use reason::{Fault, REASONS, Reason, Rejected};
