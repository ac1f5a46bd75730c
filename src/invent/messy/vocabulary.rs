//! The shop's own words, each beside the canonical one that it stands for.

use crate::invent::kinds::{
    Cause, Class, Condition, Coverage, Film, Finish, Orientation, Part, Role, Sample,
};

/// A field of the contract and the shop's words for its values.
#[derive(Debug, Clone, Copy)]
pub(super) struct Vocabulary {
    /// Field.
    pub(super) field: &'static str,
    /// The shop's word, then the canonical one ("" = not recorded).
    pub(super) words: &'static [[&'static str; 2]],
}

/// All words.
pub(super) const VOCABULARY: [Vocabulary; 14] = [
    Vocabulary {
        field: "vehicle_class",
        words: &[
            ["2-door", "coupe"],
            ["4-door", "sedan"],
            ["SUV mid", "suv"],
            ["SUV full size", "suv_long"],
            ["Crew cab truck", "pickup"],
            ["Cargo/van", "van"],
        ],
    },
    Vocabulary {
        field: "film",
        words: &[
            ["Color change", "colour_change"],
            ["Print", "printed"],
            ["Clear bra", "paint_protection"],
        ],
    },
    Vocabulary {
        field: "finish",
        words: &[
            ["GLS", "gloss"],
            ["STN", "satin"],
            ["MAT", "matte"],
            ["TEX", "textured"],
        ],
    },
    Vocabulary {
        field: "coverage",
        words: &[["Whole vehicle", "full"], ["Some panels", "partial"]],
    },
    Vocabulary {
        field: "offered",
        words: &[["Pitched", "yes"], ["Skipped", "no"], ["?", ""]],
    },
    Vocabulary {
        field: "sample",
        words: &[
            ["Talked only", "none"],
            ["Half-coated panel", "half_and_half"],
            ["Two panels", "full_pair"],
        ],
    },
    Vocabulary {
        field: "coated",
        words: &[["Coated", "yes"], ["Bare", "no"]],
    },
    Vocabulary {
        field: "excluded",
        words: &[["Suits", "no"], ["Does not suit", "yes"]],
    },
    Vocabulary {
        field: "rain",
        words: &[["Wet", "yes"], ["Dry", "no"]],
    },
    Vocabulary {
        field: "held_overnight",
        words: &[["Stayed", "yes"], ["Went home", "no"]],
    },
    Vocabulary {
        field: "orientation",
        words: &[["Up", "horizontal"], ["Side", "vertical"]],
    },
    Vocabulary {
        field: "cause",
        words: &[
            ["Spot too thick", "high_spot"],
            ["Overlap line", "line"],
            ["Missed a bit", "missed_area"],
            ["Hazy", "haze"],
            ["Color looks off", "colour_complaint"],
            ["Film failed", "film_failure"],
            ["Edge came up", "edge_lift"],
            ["Something else", "other"],
        ],
    },
    Vocabulary {
        field: "condition",
        words: &[["Good", "sound"], ["Gone", "failed"]],
    },
    Vocabulary {
        field: "role",
        words: &[
            ["Prep", "prepper"],
            ["Install", "installer"],
            ["Sales", "seller"],
        ],
    },
];

/// The shop's word for a canonical one; the word itself where it has none.
fn own(field: &str, canonical: &'static str) -> &'static str {
    let vocabulary = VOCABULARY.iter().find(|v| v.field == field);
    let words = vocabulary.map_or(&[][..], |v| v.words);
    let pair = words.iter().find(|[_, ours]| *ours == canonical);
    pair.map_or(canonical, |[theirs, _]| theirs)
}

pub(super) fn class(class: Class) -> &'static str {
    own("vehicle_class", class.word())
}

pub(super) fn film(film: Film) -> &'static str {
    own("film", film.word())
}

pub(super) fn finish(finish: Finish) -> &'static str {
    own("finish", finish.word())
}

pub(super) fn coverage(coverage: Coverage) -> &'static str {
    own("coverage", coverage.word())
}

pub(super) fn sample(sample: Option<Sample>) -> &'static str {
    sample.map_or("", |s| own("sample", s.word()))
}

pub(super) fn orientation(orientation: Option<Orientation>) -> &'static str {
    orientation.map_or("", |o| own("orientation", o.word()))
}

pub(super) fn cause(cause: Cause) -> &'static str {
    own("cause", cause.word())
}

pub(super) fn condition(condition: Condition) -> &'static str {
    own("condition", condition.word())
}

pub(super) fn role(role: Role) -> &'static str {
    own("role", role.word())
}

/// Part of a vehicle: free text, not mapped.
pub(super) fn part(part: Part) -> &'static str {
    match part {
        Part::Body => "Body",
        Part::Accent => "Hood/roof – 2nd color",
        Part::Level => "Hood, roof, trunk",
        Part::Upright => "Doors, fenders, bumpers",
    }
}

/// A yes/no field in the shop's words; its word for not recorded, or nothing.
pub(super) fn yes_no(field: &str, yes: Option<bool>) -> &'static str {
    match yes {
        Some(true) => own(field, "yes"),
        Some(false) => own(field, "no"),
        None => own(field, ""),
    }
}
