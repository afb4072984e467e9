//! What can be measured on a head, and in which unit each amount is kept.

use super::{Decimal, Length, LengthUnit, Unit};
use serde::de::IntoDeserializer;
use serde::de::value::StrDeserializer;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A measured quantity, named as the trade names it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Quantity {
    Clearance,
    ShimFitted,
    ShimSpare,
    StemDiameter,
    GuideBore,
    StemClearance,
    Runout,
    ValveMargin,
    SeatWidth,
    SpringFreeLength,
    SpringOutOfSquare,
    InstalledHeight,
    SpringLoad,
    JournalClearance,
    LobeHeight,
    EndFloat,
    Flatness,
    BucketDiameter,
    BucketBore,
    Torque,
    AngleStage,
    ChainPins,
    LobeCentre,
    Compression,
    LeakDown,
    RoomTemperature,
    Wobble,
    TipHeight,
    ValveLift,
    PistonToValve,
    CamRunout,
    SeatRunout,
    SeatCut,
    TipGround,
    FaceCut,
    GasketThickness,
    Squish,
    TopDeadCentre,
    SpringShim,
    ChamberVolume,
    DeckHeight,
    DecompressorLift,
    Retorque,
}

/// An amount of a quantity.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Amount {
    /// A length in nanometres.
    LengthNm(Length),
    /// Thousandths of a unit.
    Milli(i64, Unit),
}

impl Amount {
    /// A pressure in the unit of the job's `gauge`, a torque in that of its `wrench`, to as many
    /// places as such a tool shows; anything else as it is.
    #[must_use]
    pub fn in_job_unit(self, gauge: Unit, wrench: Unit) -> Self {
        let Self::Milli(milli, unit) = self else {
            return self;
        };
        let (to, places) = match (unit.base(), gauge, wrench) {
            (Unit::Bar, Unit::Bar, _) => (Unit::Bar, 2),
            (Unit::Bar, Unit::Kilopascal, _) => (Unit::Kilopascal, 0),
            (Unit::Bar, gauge, _) => (gauge, 1),
            (Unit::NewtonMetre, _, Unit::KilogramMetre) => (Unit::KilogramMetre, 2),
            (Unit::NewtonMetre, _, wrench) => (wrench, 1),
            _ => return self,
        };
        if to == unit && milli % 10 == 0 {
            return self;
        }
        let there = unit.convert(Decimal::new(milli, 3), to, places);
        let milli = there.and_then(Decimal::milli);
        milli.map_or(self, |milli| Self::Milli(milli, to))
    }

    /// The length, where it is one.
    #[must_use]
    pub const fn length(self) -> Option<Length> {
        match self {
            Self::LengthNm(length) => Some(length),
            Self::Milli(..) => None,
        }
    }

    /// The plain integer that bounds and limits are kept in: nanometres, or thousandths of the
    /// base unit of its kind.
    #[must_use]
    pub fn base(self) -> i64 {
        match self {
            Self::LengthNm(length) => length.nm(),
            Self::Milli(milli, unit) => unit.in_base(milli),
        }
    }

    /// Written with its unit.
    #[must_use]
    pub fn show(self, unit: LengthUnit) -> String {
        match self {
            Self::LengthNm(length) => length.show(unit),
            Self::Milli(milli, unit) => {
                let text = Decimal::new(milli, 3).to_string();
                let text = text.trim_end_matches('0').trim_end_matches('.');
                format!("{text} {}", unit.sign()).trim_end().to_owned()
            }
        }
    }
}

impl Quantity {
    /// The base unit of its amounts; `None` for a length.
    #[must_use]
    pub const fn unit(self) -> Option<Unit> {
        match self {
            Self::SpringLoad => Some(Unit::Newton),
            Self::Torque | Self::Retorque => Some(Unit::NewtonMetre),
            Self::ChamberVolume => Some(Unit::CubicCentimetre),
            Self::AngleStage | Self::LobeCentre | Self::TopDeadCentre => Some(Unit::Degree),
            Self::ChainPins => Some(Unit::Count),
            Self::Compression => Some(Unit::Bar),
            Self::LeakDown => Some(Unit::Percent),
            Self::RoomTemperature => Some(Unit::Celsius),
            _ => None,
        }
    }

    /// The one of that name.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        let key: StrDeserializer<'_, serde::de::value::Error> = key.into_deserializer();
        Self::deserialize(key).ok()
    }

    /// Its name as written in JSON and in the store.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Clearance => "clearance",
            Self::ShimFitted => "shim_fitted",
            Self::ShimSpare => "shim_spare",
            Self::StemDiameter => "stem_diameter",
            Self::GuideBore => "guide_bore",
            Self::StemClearance => "stem_clearance",
            Self::Runout => "runout",
            Self::ValveMargin => "valve_margin",
            Self::SeatWidth => "seat_width",
            Self::SpringFreeLength => "spring_free_length",
            Self::SpringOutOfSquare => "spring_out_of_square",
            Self::InstalledHeight => "installed_height",
            Self::SpringLoad => "spring_load",
            Self::JournalClearance => "journal_clearance",
            Self::LobeHeight => "lobe_height",
            Self::EndFloat => "end_float",
            Self::Flatness => "flatness",
            Self::BucketDiameter => "bucket_diameter",
            Self::BucketBore => "bucket_bore",
            Self::Torque => "torque",
            Self::AngleStage => "angle_stage",
            Self::ChainPins => "chain_pins",
            Self::LobeCentre => "lobe_centre",
            Self::Compression => "compression",
            Self::LeakDown => "leak_down",
            Self::RoomTemperature => "room_temperature",
            Self::Wobble => "wobble",
            Self::TipHeight => "tip_height",
            Self::ValveLift => "valve_lift",
            Self::PistonToValve => "piston_to_valve",
            Self::CamRunout => "cam_runout",
            Self::SeatRunout => "seat_runout",
            Self::SeatCut => "seat_cut",
            Self::TipGround => "tip_ground",
            Self::FaceCut => "face_cut",
            Self::GasketThickness => "gasket_thickness",
            Self::Squish => "squish",
            Self::TopDeadCentre => "top_dead_centre",
            Self::SpringShim => "spring_shim",
            Self::ChamberVolume => "chamber_volume",
            Self::DeckHeight => "deck_height",
            Self::DecompressorLift => "decompressor_lift",
            Self::Retorque => "retorque",
        }
    }
}

/// What a quantity belongs to.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Home {
    /// One valve.
    Valve,
    /// One cylinder.
    Cylinder,
    /// One camshaft.
    Camshaft,
    /// One bearing of a camshaft.
    Journal,
    /// A bolt, or a group of bolts.
    Bolt,
    /// The head, or the engine.
    Head,
    /// The box of spares.
    Spares,
}

impl Quantity {
    /// What it belongs to.
    #[must_use]
    pub const fn home(self) -> Home {
        match self {
            Self::Compression
            | Self::LeakDown
            | Self::Squish
            | Self::ChamberVolume
            | Self::DeckHeight
            | Self::DecompressorLift => Home::Cylinder,
            Self::EndFloat | Self::LobeCentre | Self::CamRunout => Home::Camshaft,
            Self::JournalClearance => Home::Journal,
            Self::Torque | Self::AngleStage | Self::Retorque => Home::Bolt,
            Self::Flatness
            | Self::ChainPins
            | Self::RoomTemperature
            | Self::FaceCut
            | Self::GasketThickness
            | Self::TopDeadCentre => Home::Head,
            Self::ShimSpare => Home::Spares,
            _ => Home::Valve,
        }
    }

    /// Whether it belongs to a head, so that an engine with several has several of it.
    #[must_use]
    pub const fn is_of_a_head(self) -> bool {
        match self.home() {
            Home::Camshaft | Home::Journal | Home::Bolt => true,
            Home::Head => !matches!(self, Self::RoomTemperature | Self::TopDeadCentre),
            Home::Valve | Home::Cylinder | Home::Spares => false,
        }
    }

    /// Whether several readings of one place stand beside each other, as a stem measured at three
    /// heights does; otherwise a second one overturns the first.
    #[must_use]
    pub const fn gathers(self) -> bool {
        self.adds_up()
            || matches!(
                self,
                Self::StemDiameter
                    | Self::GuideBore
                    | Self::StemClearance
                    | Self::BucketDiameter
                    | Self::BucketBore
                    | Self::SeatWidth
                    | Self::Runout
                    | Self::SeatRunout
                    | Self::SpringLoad
            )
    }

    /// Whether each reading is one more of the same: what was taken off adds up.
    #[must_use]
    pub const fn adds_up(self) -> bool {
        matches!(self, Self::SeatCut | Self::TipGround | Self::FaceCut)
    }

    /// Whether bare numbers of it are hundredths of a millimetre, as called from blades and
    /// dials: "twelve" is 0.12.
    #[must_use]
    pub const fn in_hundredths(self) -> bool {
        matches!(
            self,
            Self::Clearance
                | Self::Runout
                | Self::CamRunout
                | Self::SeatRunout
                | Self::SeatCut
                | Self::TipGround
                | Self::FaceCut
                | Self::Wobble
                | Self::EndFloat
                | Self::Flatness
                | Self::JournalClearance
                | Self::StemClearance
                | Self::DecompressorLift
        )
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.key().replace('_', " "))
    }
}
