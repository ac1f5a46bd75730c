//! Offices' words for the contract's: plain English, from memory of the
//! trade's usual words, and yes and no in a few languages. Its functions are tables, and as long
//! as those are.

/// Words for each canonical word of a field. "yes" and "no" of yes/no fields
/// likewise.
pub(super) fn words(field: &str) -> &'static [(&'static str, &'static [&'static str])] {
    match field {
        "film" => &[
            (
                "colour_change",
                &[
                    "colour change",
                    "color change",
                    "wrap",
                    "vinyl",
                    "full colour",
                    "full color",
                ],
            ),
            (
                "printed",
                &["printed", "print", "graphics", "digital print"],
            ),
            (
                "paint_protection",
                &[
                    "paint protection",
                    "ppf",
                    "clear bra",
                    "protection",
                    "clear film",
                ],
            ),
        ],
        "finish" => &[
            ("gloss", &["gloss", "glossy", "shiny"]),
            ("satin", &["satin", "silk", "semi gloss"]),
            ("matte", &["matte", "matt", "flat", "dead"]),
            ("textured", &["textured", "texture", "carbon", "brushed"]),
        ],
        "coverage" => &[
            (
                "full",
                &[
                    "full",
                    "whole",
                    "whole vehicle",
                    "complete",
                    "entire",
                    "all",
                ],
            ),
            (
                "partial",
                &["partial", "part", "some", "some panels", "parts"],
            ),
        ],
        "sample" => &[
            (
                "none",
                &[
                    "none",
                    "nothing",
                    "not shown",
                    "no sample",
                    "talked only",
                    "told only",
                    "verbal",
                ],
            ),
            (
                "full_pair",
                &[
                    "full pair",
                    "pair",
                    "two panels",
                    "two samples",
                    "both panels",
                    "side by side",
                ],
            ),
            (
                "half_and_half",
                &[
                    "half and half",
                    "half",
                    "half coated",
                    "split",
                    "half panel",
                ],
            ),
        ],
        "orientation" => &[
            (
                "horizontal",
                &["horizontal", "up", "top", "level", "roof", "hood", "flat"],
            ),
            (
                "vertical",
                &["vertical", "side", "sides", "upright", "door", "doors"],
            ),
        ],
        "condition" => &[
            (
                "sound",
                &["sound", "good", "ok", "fine", "intact", "holding"],
            ),
            (
                "failed",
                &["failed", "gone", "bad", "peeling", "lifted", "broken"],
            ),
        ],
        "cause" => CAUSES,
        _ => yes_no(field),
    }
}

const CAUSES: &[(&str, &[&str])] = &[
    (
        "high_spot",
        &["high spot", "high", "too thick", "thick", "thick spot"],
    ),
    (
        "line",
        &["line", "lines", "overlap", "overlap line", "seam"],
    ),
    (
        "missed_area",
        &["missed area", "missed", "missed spot", "skipped"],
    ),
    ("haze", &["haze", "hazy", "cloudy", "milky"]),
    (
        "colour_complaint",
        &["colour complaint", "colour", "color", "shade", "tint"],
    ),
    (
        "film_failure",
        &["film failure", "film failed", "film", "peeling", "cracked"],
    ),
    (
        "edge_lift",
        &["edge lift", "edge", "edges", "lifting", "lift"],
    ),
    ("other", &["other", "something else", "misc", "else"]),
];

fn yes_no(field: &str) -> &'static [(&'static str, &'static [&'static str])] {
    match field {
        "offered" => &[
            (
                "yes",
                &["offered", "pitched", "presented", "shown", "asked"],
            ),
            (
                "no",
                &["not offered", "skipped", "not pitched", "forgot", "missed"],
            ),
            ("", UNKNOWN),
        ],
        "coated" => &[
            (
                "yes",
                &["coated", "done", "applied", "sold", "with coating"],
            ),
            (
                "no",
                &[
                    "bare",
                    "uncoated",
                    "not coated",
                    "without",
                    "none",
                    "declined",
                ],
            ),
            ("", UNKNOWN),
        ],
        "excluded" => &[
            (
                "yes",
                &[
                    "excluded",
                    "does not suit",
                    "not suitable",
                    "unsuitable",
                    "no good",
                ],
            ),
            ("no", &["included", "suits", "suitable", "fine", "ok"]),
            ("", UNKNOWN),
        ],
        "rain" => &[
            ("yes", &["rain", "rainy", "rained", "wet"]),
            ("no", &["dry", "clear", "sunny", "fine", "no rain"]),
            ("", UNKNOWN),
        ],
        "held_overnight" => &[
            ("yes", &["stayed", "kept", "held", "overnight"]),
            ("no", &["went home", "same day", "released", "collected"]),
            ("", UNKNOWN),
        ],
        _ => &[],
    }
}

const UNKNOWN: &[&str] = &["?", "-", "n/a", "na", "unknown", "not known", "??"];

/// Yes and no in general, and in a few languages.
pub(super) const YES: [&str; 12] = [
    "yes", "y", "true", "1", "x", "ja", "oui", "si", "sí", "sim", "tak", "da",
];
/// See [`YES`].
pub(super) const NO: [&str; 10] = [
    "no", "n", "false", "0", "nein", "non", "não", "nee", "nej", "nie",
];

/// Kinds of bodies, by any of their words.
pub(super) const BODIES: [(&str, &[&str]); 8] = [
    ("coupe", &["coupe", "coupé", "2 door", "two door", "2dr"]),
    ("sedan", &["sedan", "saloon", "4 door", "four door", "4dr"]),
    ("hatchback", &["hatchback", "hatch", "5 door"]),
    ("wagon", &["wagon", "estate"]),
    ("suv", &["suv", "crossover", "4x4"]),
    ("pickup", &["pickup", "truck", "ute", "crew cab"]),
    ("van", &["van", "minivan", "cargo"]),
    ("convertible", &["convertible", "cabriolet", "roadster"]),
];

/// Words of the larger of two sizes of a body.
pub(super) const LARGE: [&str; 8] = [
    "large",
    "long",
    "full size",
    "big",
    "xl",
    "extended",
    "3 row",
    "three row",
];
