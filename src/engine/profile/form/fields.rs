//! What the boxes are: their names in the file, their words, units and kinds.

use std::collections::BTreeMap;

/// What stands in the boxes, by key: `inlet.check_band.from`, `limit.3.max`.
pub(crate) type Boxes = BTreeMap<String, String>;

/// What a box holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Kind {
    /// Words.
    Text,
    /// A number that stays exact.
    Number,
    /// Several.
    Numbers,
    /// A length in the unit of its part of the page.
    Length,
    /// Several.
    Lengths,
    /// A whole number.
    Whole,
    /// Several.
    Wholes,
    /// One of some.
    Choice(&'static [(&'static str, &'static str)]),
    /// The names of the valves of a side, chosen together.
    Valves,
    /// How the firings follow each other.
    Layout,
    /// The angles that the layout needs.
    Angles,
    /// Whether a second band is given.
    TwoBands,
}

/// One box, or two that belong together.
#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    /// In the file; a length has its unit behind it there.
    pub(super) name: &'static str,
    pub(super) label: &'static str,
    pub(super) kind: Kind,
    /// From and to.
    pub(super) pair: bool,
    /// Shown beside the box; that of a length is the part's.
    pub(super) unit: &'static str,
    /// There is no profile without it.
    pub(super) needed: bool,
    pub(super) help: &'static str,
}

impl Field {
    const fn of(name: &'static str, label: &'static str, kind: Kind) -> Self {
        Self {
            name,
            label,
            kind,
            pair: false,
            unit: "",
            needed: false,
            help: "",
        }
    }

    const fn needed(self) -> Self {
        Self {
            needed: true,
            ..self
        }
    }

    const fn pair(self) -> Self {
        Self { pair: true, ..self }
    }

    const fn unit(self, unit: &'static str) -> Self {
        Self { unit, ..self }
    }

    const fn help(self, help: &'static str) -> Self {
        Self { help, ..self }
    }

    pub(super) const fn is_length(&self) -> bool {
        matches!(self.kind, Kind::Length | Kind::Lengths)
    }

    /// The keys of its boxes; `prefix` ends in a point.
    pub(super) fn keys(&self, prefix: &str) -> Vec<String> {
        let name = self.name;
        if self.pair {
            vec![format!("{prefix}{name}.from"), format!("{prefix}{name}.to")]
        } else {
            vec![format!("{prefix}{name}")]
        }
    }
}

/// Of what there are rows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Rows {
    /// One table of boxes.
    None,
    /// As many as are wanted.
    Free,
    /// One for each kind of fastener.
    Fasteners,
    /// One for each limit that is looked at.
    Limits,
    /// Names of the job's own: a table of lists.
    Names,
}

/// A part of the page: a table of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Part {
    /// In the file; empty for what stands before all tables.
    pub(super) table: &'static str,
    pub(super) title: &'static str,
    pub(super) help: &'static str,
    /// Its lengths are in a unit that is chosen for the part; the part whose unit it is.
    pub(super) unit_of: Option<&'static str>,
    pub(super) rows: Rows,
    pub(super) fields: &'static [Field],
}

/// Units of the lengths of a part.
pub(super) const UNITS: [&str; 2] = ["mm", "thou"];

/// Names of the valves of a side, by the key of their box.
pub(super) const VALVES: [(&str, &str); 6] = [
    ("", "one valve"),
    ("left right", "left, right"),
    ("front rear", "front, rear"),
    ("inner outer", "inner, outer"),
    ("left middle right", "left, middle, right"),
    ("front middle rear", "front, middle, rear"),
];

const TWO_BANDS: [(&str, &str); 2] = [("", "one band"), ("two", "two bands")];
/// The choice of one band or two.
pub(super) const BANDS: &[(&str, &str)] = &TWO_BANDS;

const SIDES: &[(&str, &str)] = &[
    ("", "both sides"),
    ("inlet", "inlet"),
    ("exhaust", "exhaust"),
];
const LIE: &[(&str, &str)] = &[
    ("over_bucket", "over the buckets"),
    ("under_bucket", "under the buckets"),
];

const INLET: &[Field] = &[
    Field::of("valves", "Valves of each cylinder", Kind::Valves).needed(),
    BAND,
    TWO,
    SET,
    TARGET,
    Field::of("opens_deg", "Opens before top dead centre", Kind::Whole).unit("°"),
    Field::of("closes_deg", "Closes after bottom dead centre", Kind::Whole).unit("°"),
];
const EXHAUST: &[Field] = &[
    Field::of("valves", "Valves of each cylinder", Kind::Valves).needed(),
    BAND,
    TWO,
    SET,
    TARGET,
    Field::of("opens_deg", "Opens before bottom dead centre", Kind::Whole).unit("°"),
    Field::of("closes_deg", "Closes after top dead centre", Kind::Whole).unit("°"),
];
const BAND: Field = Field::of("check_band", "Clearance, engine cold", Kind::Length)
    .pair()
    .needed()
    .help("The manual's limits. A valve inside them is left alone.");
const TWO: Field = Field::of("two_bands", "The manual gives", Kind::TwoBands)
    .help("One: a new shim may land anywhere in it. Some manuals give two: inside the wide one a valve is left alone; once a shim is changed, the clearance must land in the narrow one.");
const SET: Field = Field::of("set_band", "Narrow band, for a new shim", Kind::Length).pair();
const TARGET: Field = Field::of("target", "A new shim aims at", Kind::Length)
    .help("Left empty: the middle. Clearances of exhaust valves mostly close with use, so many aim above it.");

/// Every part, in the order of a manual's data page.
pub(super) const PARTS: [Part; 12] = [
    Part {
        table: "",
        title: "The engine",
        help: "",
        unit_of: None,
        rows: Rows::None,
        fields: &[
            Field::of("name", "Name, as you would know it again", Kind::Text).needed(),
            Field::of("source", "Which manual, and which page", Kind::Text).needed(),
            Field::of("note", "Note", Kind::Text),
        ],
    },
    Part {
        table: "cylinders",
        title: "Cylinders and firing order",
        help: "Look at the degrees and the drawing: they decide where the crank is stopped.",
        unit_of: None,
        rows: Rows::None,
        fields: &[
            Field::of("count", "Cylinders", Kind::Whole).needed(),
            Field::of("numbering", "Which one is cylinder 1", Kind::Text)
                .needed()
                .help("Such as: one is on the left as you sit on it."),
            Field::of("firing_order", "Firing order", Kind::Wholes)
                .needed()
                .help("Such as 1-3-4-2."),
            Field::of("layout", "They fire", Kind::Layout).help(
                "Two in line: the turn from the firing of one to that of the other, 180, 270 or 360. \
                 V of two on one pin: the angle of the V; less or more tells which one comes first.",
            ),
            Field::of("angle", "Angle", Kind::Angles)
                .unit("°")
                .help("Unevenly: the degrees from each firing to the next, such as 180 270 180 90."),
        ],
    },
    Part {
        table: "inlet",
        title: "Inlet valves",
        help: "",
        unit_of: Some("inlet"),
        rows: Rows::None,
        fields: INLET,
    },
    Part {
        table: "exhaust",
        title: "Exhaust valves",
        help: "",
        unit_of: Some("exhaust"),
        rows: Rows::None,
        fields: EXHAUST,
    },
    Part {
        table: "shims",
        title: "Shims",
        help: "The sizes that can be bought: runs of equal steps, single ones, or both.",
        unit_of: Some("shims"),
        rows: Rows::None,
        fields: &[
            Field::of("kind", "They lie", Kind::Choice(LIE)).needed(),
            Field::of("sizes", "Single sizes", Kind::Lengths),
            Field::of("except", "Sizes of a run that are not made", Kind::Lengths),
        ],
    },
    Part {
        table: "shims.ranges",
        title: "Run of sizes",
        help: "",
        unit_of: Some("shims"),
        rows: Rows::Free,
        fields: &[
            Field::of("from", "From", Kind::Length).needed(),
            Field::of("to", "To", Kind::Length).needed(),
            Field::of("step", "In steps of", Kind::Length).needed(),
        ],
    },
    Part {
        table: "feeler",
        title: "Feeler blades",
        help: "Of the usual set; each job says which are owned.",
        unit_of: Some("feeler"),
        rows: Rows::None,
        fields: &[Field::of("blades", "Blades", Kind::Lengths)
            .needed()
            .help("With spaces between, rising.")],
    },
    Part {
        table: "torque",
        title: "Torques",
        help: "",
        unit_of: None,
        rows: Rows::Fasteners,
        fields: &[
            Field::of("stages_newton_metre", "Stages", Kind::Numbers)
                .unit("N·m")
                .needed(),
            Field::of("angle_deg", "Then by angle", Kind::Whole).unit("°"),
            Field::of("order", "Order of tightening", Kind::Wholes),
            Field::of("name", "The manual calls them", Kind::Text),
        ],
    },
    Part {
        table: "chain",
        title: "Cam chain",
        help: "",
        unit_of: None,
        rows: Rows::None,
        fields: &[
            Field::of("cam_teeth", "Teeth of a camshaft sprocket", Kind::Whole),
            Field::of("pins_between_marks", "Pins between the marks", Kind::Whole),
        ],
    },
    Part {
        table: "seat",
        title: "Valve seats",
        help: "",
        unit_of: None,
        rows: Rows::None,
        fields: &[Field::of(
            "angle_deg",
            "Angle from the plane square to the stem",
            Kind::Whole,
        )
        .unit("°")],
    },
    Part {
        table: "limit",
        title: "Limits",
        help: "What is left empty is measured and kept, but not judged.",
        unit_of: None,
        rows: Rows::Limits,
        fields: &[
            Field::of("side", "Side", Kind::Choice(SIDES)),
            Field::of("min", "At least", Kind::Number),
            Field::of("max", "At most", Kind::Number),
            Field::of("new", "When new", Kind::Number).pair(),
            Field::of("at_mm", "At a height of", Kind::Number).unit("mm"),
            Field::of("source", "Where it stands", Kind::Text),
        ],
    },
    Part {
        table: "names",
        title: "Names of your own",
        help: "Words that you say for a cylinder, a side or a valve, besides the usual ones.",
        unit_of: None,
        rows: Rows::Names,
        fields: &[
            Field::of("of", "For", Kind::Choice(NAMED)),
            Field::of("said", "You say", Kind::Text)
                .help("Small letters; several with commas between."),
        ],
    },
];

/// What may have a name of the job's own.
const NAMED: &[(&str, &str)] = &[
    ("1", "cylinder 1"),
    ("2", "cylinder 2"),
    ("3", "cylinder 3"),
    ("4", "cylinder 4"),
    ("5", "cylinder 5"),
    ("6", "cylinder 6"),
    ("7", "cylinder 7"),
    ("8", "cylinder 8"),
    ("9", "cylinder 9"),
    ("10", "cylinder 10"),
    ("11", "cylinder 11"),
    ("12", "cylinder 12"),
    ("13", "cylinder 13"),
    ("14", "cylinder 14"),
    ("15", "cylinder 15"),
    ("16", "cylinder 16"),
    ("inlet", "the inlet side"),
    ("exhaust", "the exhaust side"),
    ("left", "left"),
    ("middle", "middle"),
    ("right", "right"),
    ("front", "front"),
    ("rear", "rear"),
    ("inner", "inner"),
    ("outer", "outer"),
];
