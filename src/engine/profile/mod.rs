//! An engine as its profile describes it: valves, bands, shims, blades. The file is read in
//! `file`.

mod check;
mod file;
mod follower;
pub(crate) mod form;
mod heads;
mod limit_names;
pub(crate) mod limits;
mod names;
mod tables;

use crate::event::{Fastener, Head, Part, Position, Reading, Side, Valve};
use crate::measure::{Decimal, Length, Quantity, Unit};
use std::fmt;

pub use follower::FollowerRatio;

/// The profiles that come with the tool: key and text, the demo engine first.
pub const SHIPPED: [(&str, &str); 7] = [
    (
        "triple",
        include_str!("../../../grammars/engines/triple.toml"),
    ),
    (
        "twin270",
        include_str!("../../../grammars/engines/twin270.toml"),
    ),
    ("six", include_str!("../../../grammars/engines/six.toml")),
    (
        "vtwin",
        include_str!("../../../grammars/engines/vtwin.toml"),
    ),
    (
        "vfour",
        include_str!("../../../grammars/engines/vfour.toml"),
    ),
    (
        "flattwin",
        include_str!("../../../grammars/engines/flattwin.toml"),
    ),
    (
        "fingertwin",
        include_str!("../../../grammars/engines/fingertwin.toml"),
    ),
];

/// A band of clearances, both ends inside it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Band {
    /// Smallest clearance in the band.
    pub low: Length,
    /// Largest clearance in the band.
    pub high: Length,
}

/// What the profile says about one side of every cylinder.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SideSpec {
    /// Names of its valves; empty where there is one.
    pub valves: Vec<Valve>,
    /// Inside it a valve is left alone.
    pub check: Band,
    /// What a newly fitted shim must land in; never wider than `check`.
    pub set: Band,
    /// What a newly fitted shim aims at; inside `set`.
    pub target: Length,
    /// Crank degrees: before top dead centre (inlet), before bottom dead centre (exhaust).
    pub opens_deg: Option<u16>,
    /// Crank degrees: after bottom dead centre (inlet), after top dead centre (exhaust).
    pub closes_deg: Option<u16>,
}

/// How the clearance is set: by shims, and where they lie, or by screws.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum ShimKind {
    /// On top of the bucket: changed with the camshafts in.
    OverBucket,
    /// Under the bucket: the camshaft comes out.
    UnderBucket,
    /// Under a finger follower, on the tip of the valve.
    UnderFollower,
    /// No shim: a screw in the rocker arm, held by its locknut.
    Screw,
}

impl ShimKind {
    /// Whether there are shims at all.
    #[must_use]
    pub(crate) const fn has_shims(self) -> bool {
        !matches!(self, Self::Screw)
    }

    /// Its name in profiles.
    #[must_use]
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::OverBucket => "over_bucket",
            Self::UnderBucket => "under_bucket",
            Self::UnderFollower => "under_follower",
            Self::Screw => "screw",
        }
    }

    /// Where the shims lie, in words.
    #[must_use]
    pub(crate) const fn lie(self) -> &'static str {
        match self {
            Self::OverBucket => "over the buckets",
            Self::UnderBucket => "under the buckets",
            Self::UnderFollower => "under the followers",
            Self::Screw => "nowhere",
        }
    }
}

/// How the clearance is set, and the shims that can be bought for it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Shims {
    /// How.
    pub kind: ShimKind,
    /// Sizes on sale, thinnest first, each once; empty if there are no shims.
    pub series: Vec<Length>,
    /// What a shim does to the clearance.
    pub ratio: FollowerRatio,
    /// Whether the camshaft comes out before a shim of it can be changed.
    pub cams_out: bool,
    /// Whether one camshaft is over the inlet and the exhaust valves of a head.
    pub one_camshaft: bool,
}

/// A fastener that is tightened in stages.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Torque {
    /// Which fastener, in words.
    pub name: String,
    /// The kind as it is called; `None` where it is not called by voice.
    pub bolts: Option<Fastener>,
    /// Their numbers in the order of tightening; empty where the profile gives none.
    pub order: Vec<u8>,
    /// Stages by torque, in order.
    pub torques: Vec<Decimal>,
    /// Their unit, as the profile has it.
    pub unit: Unit,
    /// A last stage by angle, in degrees.
    pub angle_deg: Option<u16>,
    /// Whether they are stretched when they are tightened, so that new ones are fitted every time.
    pub new_bolts: bool,
}

/// How the cam chain is set.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Chain {
    /// Teeth of a camshaft sprocket.
    pub cam_teeth: u16,
    /// Pins counted between the marks of the two sprockets.
    pub pins_between_marks: Option<u16>,
}

/// What a piston sweeps and what it leaves, as far as the profile says.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Displacement {
    /// Diameter of the cylinder.
    pub bore: Length,
    /// Way of the piston.
    pub stroke: Length,
    /// Diameter of the gasket's hole.
    pub gasket_bore: Length,
    /// How far the piston stays below the deck; below zero if it stands above.
    pub deck: Option<Length>,
    /// What the crown takes away, in cubic centimetres; below zero for a dish.
    pub dome: Decimal,
}

/// One limit of an inspection, as written in the profile.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Limit {
    /// What is limited, in snake case: `stem_clearance`, `seat_width`, …
    pub quantity: String,
    /// For one side only.
    pub side: Option<Side>,
    /// For one head only.
    pub head: Option<Head>,
    /// Smallest allowed.
    pub min: Option<Decimal>,
    /// Largest allowed.
    pub max: Option<Decimal>,
    /// As new, from and to.
    pub new: Option<(Decimal, Decimal)>,
    /// The height of the spring, for a load.
    pub at: Option<Length>,
    /// The unit of all of them: `mm`, `bar`, `percent`, …
    pub unit: String,
    /// Where the limit comes from.
    pub source: String,
}

/// What a name of the job's own is a name of.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Called {
    /// A cylinder.
    Cylinder(u8),
    /// A side of the head.
    Side(Side),
    /// A valve of a side.
    Valve(Valve),
    /// A head.
    Head(Head),
}

/// A head of an engine that has several.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct HeadSpec {
    /// Which.
    pub head: Head,
    /// Its cylinders.
    pub cylinders: Vec<u8>,
}

/// A name of the job's own, beside those of the language.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct OwnName {
    /// Of what.
    pub(crate) called: Called,
    /// As it is said, in lower-case words.
    pub(crate) name: String,
}

/// An engine's profile.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Profile {
    /// Its name on the command line.
    pub key: String,
    /// Its name in words.
    pub name: String,
    /// What to know about it.
    pub note: String,
    /// Where its numbers come from.
    pub source: String,
    /// How many cylinders, 1–16.
    pub cylinders: u8,
    /// Which end is one, in words.
    pub numbering: String,
    /// Cylinders in the order they fire.
    pub firing_order: Vec<u8>,
    /// Crank angle of each cylinder's firing top dead centre, 0–719, in cylinder order.
    pub crank_deg: Vec<u16>,
    /// Its heads, where it has several.
    pub heads: Vec<HeadSpec>,
    /// Inlet side.
    pub inlet: SideSpec,
    /// Exhaust side.
    pub exhaust: SideSpec,
    /// Shims.
    pub shims: Shims,
    /// Feeler blades of the usual set, thinnest first.
    pub blades: Vec<Length>,
    /// Fasteners.
    pub torque: Vec<Torque>,
    /// Cam chain.
    pub chain: Option<Chain>,
    /// Angle of the valve seats from the plane square to the stem, in degrees.
    pub seat_angle_deg: Option<u8>,
    /// Bore, stroke and what lies between, for the compression ratio.
    pub displacement: Option<Displacement>,
    /// Limits of inspections.
    pub limits: Vec<Limit>,
    /// Names of its own for cylinders, sides, valves and heads.
    pub(crate) names: Vec<OwnName>,
}

/// Every valve of so many cylinders: by cylinder, inlet before exhaust, in the order of the names; no
/// name where there is one valve.
fn valves_of(cylinders: u8, inlet: &[Valve], exhaust: &[Valve]) -> Vec<Position> {
    let mut all = Vec::new();
    for cylinder in 1..=cylinders {
        for (side, names) in [(Side::Inlet, inlet), (Side::Exhaust, exhaust)] {
            let place = |valve| Position {
                cylinder,
                side,
                valve,
            };
            if names.is_empty() {
                all.push(place(None));
            } else {
                all.extend(names.iter().map(|name| place(Some(*name))));
            }
        }
    }
    all
}

/// What is wrong with a set of feeler blades, and what was expected.
#[must_use]
pub(crate) fn blade_fault(blades: &[Length]) -> Option<String> {
    let (least, most) = (Length::from_um(10), Length::from_um(1_000));
    let expected = format!("expected two or more blades of {least} to {most} (0.4 to 39 thou)");
    let odd = blades.iter().find(|b| !(least..=most).contains(*b));
    match (odd, blades.len()) {
        (Some(odd), _) => Some(format!("a blade of {odd}: {expected}")),
        (None, 0) => Some(format!("no blade: {expected}")),
        (None, 1) => Some(format!("one blade tells too little: {expected}")),
        _ => None,
    }
}

/// What is wrong with a profile's file, and where.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("{file}:{line}:{column}: {message}")]
pub struct ProfileError {
    /// The file as it was named.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong and what was expected.
    pub message: String,
}

impl Band {
    /// Whether a clearance lies in the band.
    #[must_use]
    pub fn holds(self, clearance: Length) -> bool {
        self.low <= clearance && clearance <= self.high
    }
}

impl fmt::Display for Band {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", self.low, self.high)
    }
}

impl Profile {
    /// What holds for one side.
    #[must_use]
    pub const fn side(&self, side: Side) -> &SideSpec {
        match side {
            Side::Inlet => &self.inlet,
            Side::Exhaust => &self.exhaust,
        }
    }

    /// The valve names of one side; empty where there is one valve.
    #[must_use]
    pub fn valve_names(&self, side: Side) -> &[Valve] {
        &self.side(side).valves
    }

    /// Every valve: by cylinder, inlet before exhaust, in the order of the names.
    #[must_use]
    pub fn valves(&self) -> Vec<Position> {
        valves_of(self.cylinders, &self.inlet.valves, &self.exhaust.valves)
    }

    /// Whether the profile knows how many bolts of a kind there are, and this number is none of
    /// them.
    #[must_use]
    pub fn lacks_bolt(&self, kind: Fastener, number: u8) -> bool {
        let mut known = self.torque.iter().filter(|t| t.bolts == Some(kind));
        known.any(|t| !t.order.is_empty() && !t.order.contains(&number))
    }

    /// Whether a decompressor opens a valve while it is cranked: its lift has a limit.
    #[must_use]
    pub(crate) fn has_decompressor(&self) -> bool {
        let key = Quantity::DecompressorLift.key();
        self.limits.iter().any(|l| l.quantity == key)
    }

    /// Its heads, where it has several.
    #[must_use]
    pub(crate) fn head_names(&self) -> Vec<Head> {
        self.heads.iter().map(|h| h.head).collect()
    }

    /// What the head of a cylinder is called, where there are several: by a name of its own, or by where
    /// it lies.
    #[must_use]
    pub(crate) fn head_called(&self, cylinder: u8) -> Option<String> {
        let head = self.head_of(cylinder)?;
        let own = self.names.iter().find(|n| n.called == Called::Head(head));
        Some(own.map_or_else(|| format!("{} head", head.key()), |n| n.name.clone()))
    }

    /// The head of a cylinder, where the engine has several.
    #[must_use]
    pub(crate) fn head_of(&self, cylinder: u8) -> Option<Head> {
        let of = |spec: &&HeadSpec| spec.cylinders.contains(&cylinder);
        self.heads.iter().find(of).map(|spec| spec.head)
    }

    /// Whether a width of a seat is that of the face on which the valve sits.
    #[must_use]
    pub(crate) fn is_contact(&self, reading: &Reading) -> bool {
        match reading.part {
            Some(Part::SeatAngle(degrees)) => self.seat_angle_deg == Some(degrees),
            _ => true,
        }
    }

    /// Whether the engine has this very valve.
    #[must_use]
    pub fn has(&self, position: &Position) -> bool {
        let names = self.valve_names(position.side);
        (1..=self.cylinders).contains(&position.cylinder)
            && position
                .valve
                .map_or(names.is_empty(), |valve| names.contains(&valve))
    }
}
