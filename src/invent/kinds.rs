//! The words of the invented shop: each closed list is an enum whose place in
//! its list is also its place in the law's arrays.

/// Defines an enum with its words, its list and its place in that list.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident, $all:ident, $count:literal: $($(#[$vdoc:meta])* $variant:ident = $word:literal),+ $(,)?) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$vdoc])* $variant),+
        }

        #[doc = concat!("Every [`", stringify!($name), "`], in the order of the law's arrays.")]
        pub const $all: [$name; $count] = [$($name::$variant),+];

        impl $name {
            /// The word that stands in the tables.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word),+
                }
            }

            /// Its place in the list, and in the law's arrays.
            pub const fn place(self) -> usize {
                self as usize
            }
        }
    };
}

words! {
    /// Body style and length of a vehicle, smallest first.
    Class, CLASSES, 6:
    /// Two doors.
    Coupe = "coupe",
    /// Four doors and a boot.
    Sedan = "sedan",
    /// Sport utility vehicle under 4.9 m.
    Suv = "suv",
    /// Sport utility vehicle of 4.9 m and over.
    SuvLong = "suv_long",
    /// Pickup with a crew cab.
    Pickup = "pickup",
    /// Van.
    Van = "van",
}

words! {
    /// Finish of the film, smoothest first.
    Finish, FINISHES, 4:
    /// Mirror-like.
    Gloss = "gloss",
    /// Between gloss and matte.
    Satin = "satin",
    /// No reflection.
    Matte = "matte",
    /// Brushed, carbon weave and the like.
    Textured = "textured",
}

words! {
    /// Kind of film.
    Film, FILMS, 3:
    /// Coloured film over the paint.
    ColourChange = "colour_change",
    /// Printed film.
    Printed = "printed",
    /// Clear film against stone chips.
    PaintProtection = "paint_protection",
}

words! {
    /// How much of the vehicle the film covers.
    Coverage, COVERAGES, 2:
    /// All that film can cover.
    Full = "full",
    /// Some panels.
    Partial = "partial",
}

words! {
    /// How the coating was shown.
    Sample, SAMPLES, 3:
    /// Told, not shown.
    None = "none",
    /// One panel, half of it coated.
    HalfAndHalf = "half_and_half",
    /// One whole coated and one whole bare panel.
    FullPair = "full_pair",
}

words! {
    /// Why a customer came back.
    Cause, CAUSES, 8:
    /// Coating left too thick in a spot.
    HighSpot = "high_spot",
    /// Overlap line between sections.
    Line = "line",
    /// A place without coating.
    MissedArea = "missed_area",
    /// Cloudy finish.
    Haze = "haze",
    /// The coating changed how the colour looks.
    ColourComplaint = "colour_complaint",
    /// The film itself failed.
    FilmFailure = "film_failure",
    /// An edge of the film came up.
    EdgeLift = "edge_lift",
    /// Anything else.
    Other = "other",
}

words! {
    /// What a person does.
    Role, ROLES, 3:
    /// Washes, prepares, coats.
    Prepper = "prepper",
    /// Lays film, and coats now and then.
    Installer = "installer",
    /// Sells.
    Seller = "seller",
}

words! {
    /// Which way a panel faces.
    Orientation, ORIENTATIONS, 2:
    /// Bonnet, roof, boot lid.
    Horizontal = "horizontal",
    /// Doors, wings, bumpers.
    Vertical = "vertical",
}

words! {
    /// What a later look found.
    Condition, CONDITIONS, 2:
    /// Nothing wrong with the film.
    Sound = "sound",
    /// The film has failed.
    Failed = "failed",
}

words! {
    /// Part of a vehicle that carries one finish, or one panel group.
    Part, PARTS, 4:
    /// All but what another row names.
    Body = "body",
    /// Bonnet, roof and the like in another finish.
    Accent = "accent",
    /// All level panels.
    Level = "level panels",
    /// All upright panels.
    Upright = "upright panels",
}
