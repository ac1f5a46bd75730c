//! A month's review, made from what was read and measured; nothing is written
//! here.

use super::Error;
use super::find;
use super::person;
use super::read::Folder;
use super::{Reviewed, fingerprint};
use crate::findings::own::Asked as OwnQuestion;
use crate::findings::restated::Earlier;
use crate::findings::shops::Shops;
use crate::findings::year::{self, YearMonth};
use crate::findings::{headline, restated};
use crate::intake::ledger::Ledger;
use crate::pages::format::Format;
use crate::pages::{self, About, Elsewhere, File, Material};
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use crate::threads::both;
use std::path::Path;

/// A review that is ready to be written.
pub(super) struct Made {
    pub(super) month: Month,
    /// Its files.
    pub(super) files: Vec<File>,
    /// What to say once they stand.
    pub(super) reviewed: Reviewed,
    /// Its four figures.
    pub(super) figures: YearMonth,
    /// The plain sentence on the month.
    pub(super) lead: String,
}

/// How numbers are written for this shop.
pub(super) fn format(shop: &Shop) -> Format {
    let marks = shop.page.marks;
    Format {
        decimal: marks.decimal,
        group: marks.thousands,
        ..Format::new(shop.page.system, shop.money.currency.clone())
    }
}

/// What a review holds beside its month.
pub(super) struct Asked<'a> {
    /// The shop's own questions, answered.
    pub(super) own: &'a [OwnQuestion],
    /// A page for each of these.
    pub(super) people: &'a [String],
    /// What the month before's review said.
    pub(super) before: Option<Earlier>,
    /// How the one shop that it is of stands within its chain.
    pub(super) within: Option<Shops>,
}

/// What a page says of itself.
fn about(shop: &Shop, ledger: &Ledger, elsewhere: Option<Elsewhere>) -> About {
    About {
        shop_name: shop.page.shop_name.clone(),
        version: env!("CARGO_PKG_VERSION"),
        fingerprint: match &elsewhere {
            None => fingerprint(ledger.files.iter().map(|f| f.sha256.as_str())),
            Some(e) => fingerprint(e.files.iter().map(|f| f.sha256.as_str())),
        },
        // Which columns there were is known where the exports were read.
        locked: match &elsewhere {
            None => pages::locked(ledger),
            Some(_) => Vec::new(),
        },
        elsewhere,
    }
}

/// Makes the review of a month, to stand at `place`.
///
/// # Errors
/// A figure that cannot be computed, a chart that cannot be drawn.
pub(super) fn made(mut folder: Folder, asked: Asked<'_>, place: &Path) -> Result<Made, Error> {
    let history = std::mem::take(&mut folder.history);
    let mut findings = find::find(&folder, history)?;
    let own_pages = person::asked(&findings, asked.people)?;
    findings.shops = asked.within.or(findings.shops);
    let Folder {
        shop,
        ledger,
        rejected,
        elsewhere,
        scope,
        measured,
        ..
    } = folder;
    findings.restated = asked
        .before
        .map(|e| restated::find(&e, &findings.attach, findings.earned_before));
    let actions = headline::actions(&findings);
    let format = format(&shop);
    let about = about(&shop, &ledger, elsewhere);
    let material = Material {
        findings: &findings,
        actions: &actions,
        own: asked.own,
        ledger: &ledger,
        rejected: &rejected,
        money: &shop.money,
        review: &shop.review,
        format: &format,
        about: &about,
    };
    // Letting go of a million jobs takes its time.
    let ((), files) = both(|| drop(measured), || pages::files(&material));
    let mut files = files?;
    files.extend(pages::person_files(
        &material,
        &own_pages,
        &shop.page.names,
    )?);
    Ok(Made {
        month: scope.month,
        files,
        reviewed: Reviewed {
            summary: pages::summary(&material, place),
            quarantined: ledger.lines().quarantined,
            place: place.to_path_buf(),
        },
        figures: year::figures(&findings),
        lead: pages::lead(&material),
    })
}
