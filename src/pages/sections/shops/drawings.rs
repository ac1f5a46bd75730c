//! The share sold by number of film jobs, and each shop's coating and time.

use super::super::drawn;
use super::{HEADING, ID, called, likely, percent};
use crate::charts::{
    Axis, Band, Caterpillar, Centre, Funnel, FunnelLimit, FunnelPoint, Row, RowFigure, Tick,
    caterpillar, figure_of, funnel,
};
use crate::estimate::NotEnough;
use crate::findings::shops::{Held, LEAST_JOBS, Limits, Said, Shop, Shops};
use crate::pages::error::PageError;
use crate::pages::format::Format;
use crate::pages::view::{FigureView, Sentence, words as plain};
use crate::pages::words;

/// `page`: the shops to draw, of all in `x`. One shop alone is drawn within
/// the chain's limits.
pub(super) fn drawings(
    page: &Shops,
    x: &Shops,
    sentence: &Sentence,
    f: &Format,
) -> Result<Vec<FigureView>, PageError> {
    let mut all = sold(page, sentence, f)?;
    if !x.is_of_one() {
        for of in [&COATING, &TIME] {
            all.extend(ranges(of, page, sentence, f)?);
        }
    }
    Ok(all)
}

/// What may be said of a shop's sales.
const SOLD: [Said; 2] = [Said::SellsMore, Said::SellsLess];

fn sold(page: &Shops, sentence: &Sentence, f: &Format) -> Result<Vec<FigureView>, PageError> {
    let Some(together) = page.whole.sold.share() else {
        return Ok(Vec::new());
    };
    let point = |s: &Shop| {
        let value = s.offered.share().filter(|_| s.offered.of >= LEAST_JOBS)?;
        Some(FunnelPoint {
            label: called(s),
            jobs: s.offered.of as f64,
            value,
            outside: s.sold_outside,
            stands_out: SOLD.iter().any(|o| s.said.contains(o)),
            tip: format!(
                "{}: {} of {} sold, {}",
                called(s),
                f.count(s.offered.yes),
                f.count_of(s.offered.of, "film job", "film jobs"),
                f.share(value)
            ),
        })
    };
    let limit = |l: &Limits| FunnelLimit {
        jobs: l.jobs as f64,
        usual: Band {
            low: l.low,
            high: l.high,
        },
    };
    let spec = Funnel {
        points: page.shops.iter().filter_map(point).collect(),
        limits: page.whole.sold_limits.iter().map(limit).collect(),
        centre: Centre {
            value: together,
            text: "all shops together".into(),
        },
        axis: Axis {
            tick: Tick(&|v| f.share(v)),
            from_zero: false,
            limits: Some(Band {
                low: 0.0,
                high: 1.0,
            }),
        },
        across: "film jobs that it suits".into(),
    };
    let title = "Share sold within what chance allows";
    let drawing = figure_of("shops-sold", title, &plain(sentence), |s| funnel(&spec, s));
    drawn(
        ID,
        "Share of film jobs sold with the coating, by the number of film jobs; not a league table"
            .into(),
        spec.key(),
        drawing,
    )
}

/// One figure of every shop on the same work.
struct Of {
    id: &'static str,
    unit_line: &'static str,
    counted: [&'static str; 2],
    held: fn(&Shop) -> &Held,
    jobs: fn(&Shop) -> u64,
    out: [Said; 2],
}

const COATING: Of = Of {
    id: "shops-used",
    unit_line: "Coating used on the same work against the chain's usual, jobs of the months looked at, shops by name",
    counted: ["measured job", "measured jobs"],
    held: |s| &s.used,
    jobs: |s| s.measured,
    out: [Said::UsesMore, Said::UsesLess],
};

const TIME: Of = Of {
    id: "shops-time",
    unit_line: "Time on the same work against the chain's usual, jobs of the months looked at, shops by name",
    counted: ["timed job", "timed jobs"],
    held: |s| &s.time,
    jobs: |s| s.timed,
    out: [Said::TakesLonger, Said::TakesLess],
};

impl Of {
    fn row(&self, shop: &Shop, f: &Format) -> Row {
        let jobs = (self.jobs)(shop);
        let [one, many] = self.counted;
        let note = f.count_of(jobs, one, many);
        let name = called(shop);
        let (figure, tip) = match (self.held)(shop).figure.known() {
            Some(e) => (
                RowFigure::Known {
                    estimate: *e,
                    text: percent(e.value, f),
                },
                format!("{name}: {}, {}, {note}", percent(e.value, f), likely(e, f)),
            ),
            None => (
                RowFigure::Thin {
                    text: words::missing_short(&NotEnough::new(jobs, LEAST_JOBS, "jobs"), f),
                },
                format!("{name}: {note}, too few to speak of"),
            ),
        };
        Row {
            label: name,
            note,
            second: None,
            figure,
            stands_out: self.out.iter().any(|o| shop.said.contains(o)),
            tip,
        }
    }
}

fn ranges(
    of: &Of,
    page: &Shops,
    sentence: &Sentence,
    f: &Format,
) -> Result<Vec<FigureView>, PageError> {
    let known = |s: &Shop| (of.held)(s).figure.known().is_some();
    if !page.shops.iter().any(known) {
        return Ok(Vec::new());
    }
    let tick = |v: f64| percent(v, f);
    let spec = Caterpillar {
        rows: page.shops.iter().map(|s| of.row(s, f)).collect(),
        axis: Axis {
            tick: Tick(&tick),
            from_zero: false,
            limits: None,
        },
        reference: Centre {
            value: 1.0,
            text: "the chain's usual".into(),
        },
    };
    let drawing = figure_of(of.id, HEADING, &plain(sentence), |s| caterpillar(&spec, s));
    drawn(ID, of.unit_line.into(), spec.key(), drawing)
}
