//! The month in one minute: the lead, the four figures, what to do next, what
//! cannot be said yet.

use super::Material;
use super::format::Format;
use super::sections::{attach, consumption, durability, margin, minutes, not_set, price as asked};
use super::view::{Piece, Sentence, Tile, TileFigure, sentence};
use super::words;
use crate::estimate::NotEnough;
use crate::findings::Missing;
use crate::findings::certainty::{Certainty, Change};
use crate::findings::price::{Price, Unsaid};

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// One plain sentence on the month.
pub(super) fn lead(m: &Material<'_>) -> Sentence {
    let f = m.format;
    let a = &m.findings.attach;
    if a.eligible + a.excluded == 0 {
        return say("No film job was finished this month, so there is nothing to review.");
    }
    if a.eligible == 0 {
        return say(format!(
            "None of the {} finished this month is one that the coating suits.",
            f.count_of(a.excluded, "film job", "film jobs")
        ));
    }
    if a.coated == 0 {
        return say(format!(
            "None of {} took the coating this month.",
            f.count_of(a.eligible, "film job", "film jobs")
        ));
    }
    let sold = match (a.change.certainty, a.change.difference) {
        (Certainty::NoUsual, _) => format!(
            "{} took the coating; there is no earlier month to compare with.",
            f.count_of(a.coated, "vehicle", "vehicles")
        ),
        (Certainty::TooFew, _) | (_, None) => format!(
            "{} took the coating, too few jobs to say more.",
            f.count_of(a.coated, "vehicle", "vehicles")
        ),
        (Certainty::Luck, _) => {
            "The share of customers who took the coating stayed within ordinary ups and downs"
                .to_string()
        }
        (Certainty::Likely, Some(d)) => format!(
            "Probably a {} share of customers than usual took the coating",
            larger(d.value)
        ),
        (Certainty::Outside, Some(d)) => format!(
            "Clearly a {} share of customers than usual took the coating",
            larger(d.value)
        ),
    };
    if sold.ends_with('.') {
        return say(sold);
    }
    let earned = m.findings.margin.as_ref().ok().map(|x| &x.change);
    let both = a.change.certainty == Certainty::Luck;
    say(format!(
        "{sold}{}",
        earned.map_or_else(|| ".".into(), |x| earned_words(x, both))
    ))
}

fn larger(difference: f64) -> &'static str {
    if difference > 0.0 {
        "larger"
    } else {
        "smaller"
    }
}

/// `too`: sales stayed within ordinary ups and downs.
fn earned_words(change: &Change, too: bool) -> String {
    match (change.certainty, change.difference) {
        (Certainty::TooFew | Certainty::NoUsual, _) | (_, None) => ".".into(),
        (Certainty::Luck, _) if too => ", and so did what a coated job earned.".into(),
        (Certainty::Luck, _) => {
            "; what a coated job earned stayed within ordinary ups and downs.".into()
        }
        (Certainty::Likely, Some(d)) => {
            format!(
                ", and a coated job probably earned {}.",
                less_or_more(d.value)
            )
        }
        (Certainty::Outside, Some(d)) => {
            format!(
                ", and a coated job earned clearly {}.",
                less_or_more(d.value)
            )
        }
    }
}

fn less_or_more(difference: f64) -> &'static str {
    if difference > 0.0 {
        "more than usual"
    } else {
        "less than usual"
    }
}

fn known(value: String, unit: &str) -> TileFigure {
    TileFigure::Known {
        value,
        unit: unit.into(),
    }
}

fn thin(text: impl Into<String>) -> TileFigure {
    TileFigure::Thin { text: text.into() }
}

/// Costs that the settings leave at nothing: said beside the figures, as each of
/// them that is money looks better for it.
pub(super) fn beware(m: &Material<'_>) -> Sentence {
    let earned = m.findings.margin.is_ok();
    let which = not_set(m.money).filter(|_| earned);
    which.map_or_else(Sentence::new, |which| {
        say(format!("**{which} not set**: in truth less is left over."))
    })
}

/// The four figures.
pub(super) fn tiles(m: &Material<'_>) -> Vec<Tile> {
    vec![sold(m), earned(m), used(m), took(m)]
}

fn tile(
    m: &Material<'_>,
    label: &str,
    figure: TileFigure,
    change: &Change,
    proof: &str,
    write: impl Fn(f64) -> String,
) -> Tile {
    let month = m.findings.scope.month;
    Tile {
        label: label.into(),
        figure,
        before: words::before(change, month, &write),
        usual: words::usual(change, &write),
        certainty: words::certainty_word(change.certainty),
        proof: proof.into(),
    }
}

fn lacking(m: &Material<'_>, label: &str, why: &Missing, proof: &str) -> Tile {
    let text = match why {
        Missing::TooFew(n) => words::missing(n, m.format),
        Missing::NoPrice(_) => "a price is missing".into(),
    };
    Tile {
        label: label.into(),
        figure: thin(text),
        before: String::new(),
        usual: String::new(),
        certainty: String::new(),
        proof: proof.into(),
    }
}

fn sold(m: &Material<'_>) -> Tile {
    let (f, a) = (m.format, &m.findings.attach);
    let figure = match &a.rate {
        crate::estimate::Figure::Known(e) => known(f.share(e.value), ""),
        crate::estimate::Figure::NotEnough(n) => thin(words::missing(n, f)),
    };
    tile(m, "Coating sold on", figure, &a.change, attach::ID, |x| {
        f.share(x)
    })
}

fn earned(m: &Material<'_>) -> Tile {
    const LABEL: &str = "Left over per coated job";
    let f = m.format;
    match &m.findings.margin {
        Err(why) => lacking(m, LABEL, why, margin::ID),
        Ok(x) => {
            let figure = match &x.per_job {
                crate::estimate::Figure::Known(e) => known(f.money_about(e.value), ""),
                crate::estimate::Figure::NotEnough(n) => thin(words::missing(n, f)),
            };
            tile(m, LABEL, figure, &x.change, margin::ID, |x| {
                f.money_about(x)
            })
        }
    }
}

fn used(m: &Material<'_>) -> Tile {
    const LABEL: &str = "Coating used";
    let f = m.format;
    match &m.findings.consumption {
        Err(why) => lacking(m, LABEL, why, consumption::ID),
        Ok(x) => {
            let figure = x.now.map_or_else(
                || thin("no measured job this month"),
                |v| known(f.use_rate_number(v), f.use_rate_unit()),
            );
            let write = |v: f64| f.use_rate_number(v);
            same_work(tile(m, LABEL, figure, &x.change, consumption::ID, write))
        }
    }
}

fn took(m: &Material<'_>) -> Tile {
    const LABEL: &str = "Hands-on time per job";
    let f = m.format;
    match &m.findings.minutes {
        Err(why) => lacking(m, LABEL, why, minutes::ID),
        Ok(x) => {
            let figure = x.now.map_or_else(
                || thin("no timed job this month"),
                |v| known(f.number(v, 0), "min"),
            );
            let write = |v: f64| f.number(v, 0);
            same_work(tile(m, LABEL, figure, &x.change, minutes::ID, write))
        }
    }
}

/// These two are compared on the same work, and say so.
fn same_work(mut tile: Tile) -> Tile {
    if !tile.usual.is_empty() {
        tile.usual.push_str(" for the same work");
    }
    tile
}

/// Why the price cannot be spoken of.
fn price(p: &Price, months: u64, f: &Format) -> Option<Sentence> {
    let why = match p.said.as_ref().err()? {
        Unsaid::NotWritten => format!(
            "Write the price asked on every offer, declined ones too: {}.",
            asked::to_go(&p.recorded, months, f)
        ),
        Unsaid::NeverVaried => "Only one price was tried: ask two by turns.".to_string(),
        Unsaid::TooFew(n) => words::sentence_missing(n, f),
        // What is missing here is missing elsewhere, and said there.
        Unsaid::Missing(_) => return None,
    };
    Some(say(format!(
        "**Does the price change who says yes?** {why}"
    )))
}

/// What cannot be said yet, and when it can where the pace of the window
/// tells.
pub(super) fn cannot_say(m: &Material<'_>) -> Vec<Sentence> {
    let mut all = Vec::new();
    let f = m.findings;
    let sections: [(&str, Option<&Missing>); 11] = [
        ("What a coated job earns", f.margin.as_ref().err()),
        ("Where the margin moved", f.moved.as_ref().err()),
        ("Prices below the floor", f.floor.as_ref().err()),
        ("Price list", f.price_list.as_ref().err()),
        ("Coating used per area", f.consumption.as_ref().err()),
        ("Hands-on minutes by class", f.minutes.as_ref().err()),
        ("Hands-on time by person", f.pace.as_ref().err()),
        ("Callbacks of coating work", f.callbacks.as_ref().err()),
        ("Workspace and cure", f.workspace.as_ref().err()),
        ("Bottles", f.bottles.as_ref().err()),
        ("How long the film lasts", f.durability.as_ref().err()),
    ];
    all.extend(price(&f.price, f.scope.months(), m.format));
    let mut by_reason: Vec<(String, Vec<&str>)> = Vec::new();
    for (name, why) in sections.into_iter().filter_map(|(n, w)| Some((n, w?))) {
        let why = words::why_missing(why, m.format);
        match by_reason.iter_mut().find(|(w, _)| *w == why) {
            Some((_, names)) => names.push(name),
            None => by_reason.push((why, vec![name])),
        }
    }
    all.extend(
        (by_reason.iter()).map(|(why, names)| say(format!("**{}.** {why}", names.join("; ")))),
    );
    let film = f.durability.as_ref().ok();
    let film = film.and_then(|x| durability::lacking(x, m.format));
    all.extend(film.map(|why| say(format!("**Coated against bare film.** {why}"))));
    let mut thin: Vec<(String, &NotEnough)> = Vec::new();
    if let Ok(x) = &f.consumption {
        for u in &x.finishes {
            if let crate::estimate::Figure::NotEnough(n) = &u.fit.data_alone {
                thin.push((format!("Coating used on {}", u.fit.finish), n));
            }
        }
    }
    if let Ok(x) = &f.minutes {
        for c in &x.classes {
            if let crate::estimate::Figure::NotEnough(n) = &c.fit.typical {
                thin.push((format!("Minutes of {}", c.fit.class), n));
            }
        }
    }
    all.extend(thin.into_iter().map(|(what, n)| {
        vec![
            Piece::strong(format!("{what}: ")),
            Piece::text(format!("{}.", words::missing(n, m.format))),
        ]
    }));
    all
}
