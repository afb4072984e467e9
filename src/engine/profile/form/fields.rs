//! What the boxes are: their names in the file, their words, units and kinds.

use crate::measure::Unit;
use std::collections::BTreeMap;

/// What stands in the boxes, by key: `inlet.check_band.from`, `limit.3.max`.
pub(crate) type Boxes = BTreeMap<String, String>;

/// A value and its words.
pub(super) type Choice = (&'static str, &'static str);

/// What a box holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Kind {
    /// Words.
    Text,
    /// Several, with commas between.
    Texts,
    /// A number that stays exact.
    Number,
    /// A number in the unit that is chosen for it; the unit stands in its name in the file.
    Measured,
    /// Several.
    Measures,
    /// A whole number.
    Whole,
    /// Several.
    Wholes,
    /// One of some.
    Choice(&'static [Choice]),
    /// Whether it is so.
    Yes(&'static [Choice]),
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
    /// In the file; a measured one has its unit behind it there.
    pub(super) name: &'static str,
    pub(super) label: &'static str,
    pub(super) kind: Kind,
    /// From and to.
    pub(super) pair: bool,
    /// Shown beside the box; that of a measured one is chosen.
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

    pub(super) const fn needed(self) -> Self {
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

    pub(super) const fn is_measured(&self) -> bool {
        matches!(self.kind, Kind::Measured | Kind::Measures)
    }

    /// Whether something always stands in it, so that it does not fill a row.
    pub(super) const fn is_choice(&self) -> bool {
        matches!(self.kind, Kind::Choice(_) | Kind::Yes(_))
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

/// Where the unit of the measured boxes of a part is chosen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum UnitOf {
    /// Nothing in it is measured.
    Nothing,
    /// Once, in the part of that table.
    Part(&'static str),
    /// In each row.
    Row,
}

/// A part of the page: a table of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Part {
    /// In the file; empty for what stands before all tables.
    pub(super) table: &'static str,
    pub(super) title: &'static str,
    pub(super) help: &'static str,
    pub(super) unit_of: UnitOf,
    pub(super) rows: Rows,
    pub(super) fields: &'static [Field],
}

impl Part {
    const fn of(table: &'static str, title: &'static str, fields: &'static [Field]) -> Self {
        Self {
            table,
            title,
            help: "",
            unit_of: UnitOf::Nothing,
            rows: Rows::None,
            fields,
        }
    }

    const fn help(self, help: &'static str) -> Self {
        Self { help, ..self }
    }

    const fn unit_of(self, unit_of: UnitOf) -> Self {
        Self { unit_of, ..self }
    }

    const fn rows(self, rows: Rows) -> Self {
        Self { rows, ..self }
    }

    /// The units that its measured boxes may be in.
    pub(super) const fn units(&self) -> &'static [Choice] {
        match self.unit_of {
            UnitOf::Nothing => &[],
            UnitOf::Part(_) => &LENGTHS,
            UnitOf::Row => &TORQUES,
        }
    }

    /// The box in which the unit of its measured boxes is chosen; `row` ends in a point.
    pub(super) fn unit_box(&self, row: &str) -> Option<String> {
        match self.unit_of {
            UnitOf::Nothing => None,
            UnitOf::Part(of) => Some(format!("{of}.unit")),
            UnitOf::Row => Some(format!("{row}unit")),
        }
    }
}

/// Units as a profile's file writes them, and their words.
const LENGTHS: [Choice; 2] = [
    ("mm", "millimetres (mm)"),
    ("thou", "thousandths of an inch (thou)"),
];
const TORQUES: [Choice; 4] = [
    ("newton_metre", Unit::NewtonMetre.sign()),
    ("pound_foot", Unit::PoundFoot.sign()),
    ("pound_inch", Unit::PoundInch.sign()),
    ("kilogram_metre", Unit::KilogramMetre.sign()),
];

/// Names of the valves of a side, by the key of their box.
pub(super) const VALVES: [Choice; 6] = [
    ("", "one valve"),
    ("left right", "left, right"),
    ("front rear", "front, rear"),
    ("inner outer", "inner, outer"),
    ("left middle right", "left, middle, right"),
    ("front middle rear", "front, middle, rear"),
];

/// The choice of one band or two.
pub(super) const BANDS: [Choice; 2] = [("", "one band"), ("two", "two bands")];

const SIDES: &[Choice] = &[
    ("", "both sides"),
    ("inlet", "inlet"),
    ("exhaust", "exhaust"),
];
const HEADS: &[Choice] = &[
    ("", "every head"),
    ("front", "front head"),
    ("rear", "rear head"),
    ("left", "left head"),
    ("right", "right head"),
];
const PLACES: &[Choice] = &[
    ("front", "in front"),
    ("rear", "at the rear"),
    ("left", "on the left"),
    ("right", "on the right"),
];
const LIE: &[Choice] = &[
    ("over_bucket", "over the buckets"),
    ("under_bucket", "under the buckets"),
    ("under_follower", "under finger followers"),
    ("screw", "there are none: screws with locknuts"),
];
const OUT: &[Choice] = &[
    ("", "shims under buckets or over them"),
    ("true", "the camshaft comes out"),
    ("false", "the camshaft stays in"),
];
const OVER_BOTH: &[Choice] = &[
    ("", "one over the inlet valves, one over the exhaust valves"),
    ("true", "one camshaft over both"),
];
const FITTED_AGAIN: &[Choice] = &[
    ("", "may be fitted again"),
    ("true", "stretch: new ones every time"),
];

/// The boxes of a side, which differ in what the cam's angles are counted from.
const fn side(opens: &'static str, closes: &'static str) -> [Field; 7] {
    [
        Field::of("valves", "Valves of each cylinder", Kind::Valves).needed(),
        Field::of("check_band", "Clearance, engine cold", Kind::Measured)
            .pair()
            .needed()
            .help("The manual's limits. A valve inside them is left alone."),
        Field::of("two_bands", "The manual gives", Kind::TwoBands)
            .help("One: a new shim may land anywhere in it. Some manuals give two: inside the wide one a valve is left alone; once a shim is changed, the clearance must land in the narrow one."),
        Field::of("set_band", "Narrow band, for a new shim", Kind::Measured).pair(),
        Field::of("target", "A new shim aims at", Kind::Measured)
            .help("Left empty: the middle. Clearances of exhaust valves mostly close with use, so many aim above it."),
        Field::of("opens_deg", opens, Kind::Whole).unit("°"),
        Field::of("closes_deg", closes, Kind::Whole).unit("°"),
    ]
}

const ENGINE: &[Field] = &[
    Field::of("name", "Name, as you would know it again", Kind::Text).needed(),
    Field::of("source", "Which manual, and which page", Kind::Text).needed(),
    Field::of("note", "Note", Kind::Text),
];
const CYLINDERS: &[Field] = &[
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
];
const HEAD: &[Field] = &[
    Field::of("place", "It lies", Kind::Choice(PLACES)),
    Field::of("cylinders", "Its cylinders", Kind::Wholes)
        .needed()
        .help("Such as 1 2."),
    Field::of("names", "You also call it", Kind::Texts)
        .help("Small letters; several with commas between."),
];
const INLET: &[Field] = &side(
    "Opens before top dead centre",
    "Closes after bottom dead centre",
);
const EXHAUST: &[Field] = &side(
    "Opens before bottom dead centre",
    "Closes after top dead centre",
);
const SHIMS: &[Field] = &[
    Field::of("kind", "They lie", Kind::Choice(LIE)).needed(),
    Field::of("follower_ratio", "Finger followers: ratio", Kind::Number)
        .unit("lobe to shim")
        .help("By how much the clearance at the lobe changes for each unit of shim, such as 0.80."),
    Field::of("cams_out", "Finger followers: for a shim", Kind::Yes(OUT)),
    Field::of("one_camshaft", "If it comes out", Kind::Yes(OVER_BOTH)),
    Field::of("sizes", "Single sizes", Kind::Measures),
    Field::of("except", "Sizes of a run that are not made", Kind::Measures),
];
const RANGE: &[Field] = &[
    Field::of("from", "From", Kind::Measured).needed(),
    Field::of("to", "To", Kind::Measured).needed(),
    Field::of("step", "In steps of", Kind::Measured).needed(),
];
const BLADES: &[Field] = &[Field::of("blades", "Blades", Kind::Measures)
    .needed()
    .help("With spaces between, rising.")];
const TORQUE: &[Field] = &[
    Field::of("stages", "Stages", Kind::Measures).needed(),
    Field::of("angle_deg", "Then by angle", Kind::Whole).unit("°"),
    Field::of("order", "Order of tightening", Kind::Wholes),
    Field::of("new_bolts", "They", Kind::Yes(FITTED_AGAIN)),
    Field::of("name", "The manual calls them", Kind::Text),
];
const CHAIN: &[Field] = &[
    Field::of("cam_teeth", "Teeth of a camshaft sprocket", Kind::Whole),
    Field::of("pins_between_marks", "Pins between the marks", Kind::Whole),
];
const SEAT: &[Field] = &[Field::of(
    "angle_deg",
    "Angle from the plane square to the stem",
    Kind::Whole,
)
.unit("°")];
const DISPLACEMENT: &[Field] = &[
    Field::of("bore_mm", "Bore", Kind::Number).unit("mm"),
    Field::of("stroke_mm", "Stroke", Kind::Number).unit("mm"),
    Field::of("gasket_bore_mm", "Hole of the gasket", Kind::Number)
        .unit("mm")
        .help("Left empty: the bore."),
    Field::of("deck_mm", "Piston below the deck", Kind::Number)
        .unit("mm")
        .help("Above it has a minus."),
    Field::of("dome_cc", "Dome of the piston", Kind::Number)
        .unit("cm³")
        .help("A dish has a minus."),
];
const LIMIT: &[Field] = &[
    Field::of("side", "Side", Kind::Choice(SIDES)),
    Field::of("head", "Head", Kind::Choice(HEADS)),
    Field::of("min", "At least", Kind::Number),
    Field::of("max", "At most", Kind::Number),
    Field::of("new", "When new", Kind::Number).pair(),
    Field::of("at_mm", "At a height of", Kind::Number).unit("mm"),
    Field::of("source", "Where it stands", Kind::Text),
];
const NAMES: &[Field] = &[
    Field::of("of", "For", Kind::Choice(NAMED)),
    Field::of("said", "You say", Kind::Texts).help("Small letters; several with commas between."),
];

/// Every part, in the order of a manual's data page.
pub(super) const PARTS: [Part; 14] = [
    Part::of("", "The engine", ENGINE),
    Part::of("cylinders", "Cylinders and firing order", CYLINDERS).help(
        "Look at the degrees and the drawing: they decide where the crank is stopped.",
    ),
    Part::of("head", "Head", HEAD).rows(Rows::Free).help(
        "Only if the engine has more than one, such as a V: then each. What is measured of a head names it.",
    ),
    Part::of("inlet", "Inlet valves", INLET).unit_of(UnitOf::Part("inlet")),
    Part::of("exhaust", "Exhaust valves", EXHAUST).unit_of(UnitOf::Part("exhaust")),
    Part::of("shims", "Shims", SHIMS)
        .unit_of(UnitOf::Part("shims"))
        .help("The sizes that can be bought: runs of equal steps, single ones, or both."),
    Part::of("shims.ranges", "Run of sizes", RANGE)
        .unit_of(UnitOf::Part("shims"))
        .rows(Rows::Free),
    Part::of("feeler", "Feeler blades", BLADES)
        .unit_of(UnitOf::Part("feeler"))
        .help("Of the usual set; each job says which are owned."),
    Part::of("torque", "Torques", TORQUE)
        .unit_of(UnitOf::Row)
        .rows(Rows::Fasteners),
    Part::of("chain", "Cam chain", CHAIN),
    Part::of("seat", "Valve seats", SEAT),
    Part::of("displacement", "Bore and stroke", DISPLACEMENT).help(
        "With the chamber's volume and the gasket they give the compression ratio.",
    ),
    Part::of("limit", "Limits", LIMIT)
        .rows(Rows::Limits)
        .help("What is left empty is measured and kept, but not judged."),
    Part::of("names", "Names of your own", NAMES)
        .rows(Rows::Names)
        .help("Words that you say for a cylinder, a side or a valve, besides the usual ones."),
];

/// What may have a name of the job's own.
const NAMED: &[Choice] = &[
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
