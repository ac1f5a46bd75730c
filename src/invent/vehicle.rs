//! The vehicle and its film: class, finishes, areas.

use super::draws::{Draws, Purpose, rounded};
use super::kinds::{CLASSES, Class, Coverage, FILMS, FINISHES, Film, Finish, Orientation, Part};
use super::law::VehicleLaw;

/// Share of finishes on paint-protection film, which is mostly clear gloss.
/// Invented.
const PROTECTION_FINISH_SHARE: [f64; 4] = [0.72, 0.10, 0.18, 0.0];
/// Share of a vehicle's film area that lies level (the top view's share of a
/// body's box is 0.24 to 0.33).
const LEVEL_SHARE: f64 = 0.3;

/// One piece of a job: a finish or a panel group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    /// Which part.
    pub(super) part: Part,
    /// Its finish.
    pub(super) finish: Finish,
    /// Its area [m²].
    pub(super) area: f64,
    /// Which way it faces.
    pub(super) orientation: Option<Orientation>,
}

/// A vehicle and its film.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Vehicle {
    /// Class.
    pub(super) class: Class,
    /// Kind of film.
    pub(super) film: Film,
    /// Full or partial.
    pub(super) coverage: Coverage,
    /// Area by finish [m²].
    pub(super) areas: [f64; 4],
    /// Sum of the areas [m²].
    pub(super) area: f64,
    /// The finish of the larger part.
    pub(super) main: Finish,
    /// Rows of the table of surfaces; none for most one-finish jobs.
    pub(super) pieces: [Option<Piece>; 2],
    /// In two finishes.
    pub(super) two_tone: bool,
}

impl Vehicle {
    /// Draws one.
    pub(super) fn draw(law: &VehicleLaw, draws: &mut Draws) -> Option<Self> {
        let mut kind = draws.of(Purpose::Vehicle);
        let class = kind.one_of(&CLASSES, &law.class_share)?;
        let film = kind.one_of(&FILMS, &law.film_share)?;
        let shares = match film {
            Film::PaintProtection => PROTECTION_FINISH_SHARE,
            _ => law.finish_share,
        };
        let main = kind.one_of(&FINISHES, &shares)?;
        let mut others = law.finish_share;
        others[main.place()] = 0.0;
        let accent = kind.one_of(&FINISHES, &others)?;
        let two_tone = kind.chance(law.two_tone_share) && accent != main;
        let partial = kind.chance(law.partial_share);
        let by_panel = kind.chance(law.panel_group_share) && !two_tone;
        let area = draw_area(law, class, partial, draws);
        let pieces = if two_tone {
            let share = draws.of(Purpose::Area).between(0.12, 0.4);
            two_finishes(main, accent, area, share)
        } else {
            panel_groups(by_panel, main, area)
        };
        Some(Self {
            class,
            film,
            coverage: [Coverage::Full, Coverage::Partial][usize::from(partial)],
            areas: areas_of(&pieces, main, area),
            area,
            main,
            pieces,
            two_tone,
        })
    }

    /// Share of the class's full area that is covered.
    pub(super) fn covered(&self, law: &VehicleLaw) -> f64 {
        self.area / law.full_area[self.class.place()]
    }

    /// Share of a finish in this job.
    pub(super) fn share(&self, finish: Finish) -> f64 {
        self.areas[finish.place()] / self.area
    }

    /// Its finishes, smoothest first.
    pub(super) fn finishes(&self) -> impl Iterator<Item = Finish> {
        FINISHES.into_iter().filter(|f| self.areas[f.place()] > 0.0)
    }
}

fn draw_area(law: &VehicleLaw, class: Class, partial: bool, draws: &mut Draws) -> f64 {
    let mut stream = draws.of(Purpose::Area);
    let full = law.full_area[class.place()] * stream.normal(law.area_sd).exp();
    let share = stream.between(0.15, 0.7);
    rounded(if partial { full * share } else { full }, 2).max(0.5)
}

fn piece(part: Part, finish: Finish, area: f64, orientation: Option<Orientation>) -> Option<Piece> {
    Some(Piece {
        part,
        finish,
        area,
        orientation,
    })
}

fn two_finishes(main: Finish, accent: Finish, area: f64, share: f64) -> [Option<Piece>; 2] {
    let second = rounded(area * share, 2).max(0.1);
    let body = rounded(area - second, 2);
    [
        piece(Part::Body, main, body, None),
        piece(Part::Accent, accent, second, Some(Orientation::Horizontal)),
    ]
}

fn panel_groups(wanted: bool, finish: Finish, area: f64) -> [Option<Piece>; 2] {
    if !wanted {
        return [None, None];
    }
    let level = rounded(area * LEVEL_SHARE, 2);
    let upright = rounded(area - level, 2);
    [
        piece(Part::Level, finish, level, Some(Orientation::Horizontal)),
        piece(Part::Upright, finish, upright, Some(Orientation::Vertical)),
    ]
}

fn areas_of(pieces: &[Option<Piece>; 2], main: Finish, area: f64) -> [f64; 4] {
    let mut areas = [0.0; 4];
    for piece in pieces.iter().flatten() {
        areas[piece.finish.place()] += piece.area;
    }
    if pieces.iter().all(Option::is_none) {
        areas[main.place()] = area;
    }
    areas
}

#[cfg(test)]
mod tests {
    use super::super::law::Residual;
    use super::*;

    #[test]
    fn areas_of_a_job_add_up_and_every_kind_comes() {
        let law = VehicleLaw::default();
        let mut draws = Draws::new(3, 1, Residual::Normal).unwrap();
        let mut two_tone = 0;
        let mut partial = 0;
        for _ in 0..6_000 {
            let v = Vehicle::draw(&law, &mut draws).unwrap();
            let sum: f64 = v.areas.iter().sum();
            assert!((sum - v.area).abs() < 1e-9, "{v:?}");
            assert_eq!(v.two_tone, v.finishes().count() == 2);
            two_tone += u32::from(v.two_tone);
            partial += u32::from(v.coverage == Coverage::Partial);
        }
        // Shares of 1/6 and 1/5 of 6,000, with 5 standard errors.
        assert!((856..1_144).contains(&two_tone), "{two_tone}");
        assert!((1_045..1_355).contains(&partial), "{partial}");
    }
}
