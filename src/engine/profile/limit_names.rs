//! What a profile may set a limit for, and what such a limit must be.

use crate::engine::inspection::Figure;
use crate::measure::{Amount, Decimal, Length, LengthUnit, Place, Quantity, Unit, bounds};

/// Units of lengths, pressures, forces and so on, as a profile writes them.
const LENGTHS: &[&str] = &["mm", "thou", "in"];
const PRESSURES: &[&str] = &["bar", "psi", "kPa"];
const FORCES: &[&str] = &["N", "lbf"];

/// Which ends of a limit are looked at.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Ends {
    Both,
    Least,
    Most,
}

/// A limit by its name.
#[derive(Clone, Copy, Debug)]
pub(super) struct LimitName {
    pub(super) name: &'static str,
    /// The units that it may be in.
    pub(super) units: &'static [&'static str],
    pub(super) ends: Ends,
    /// Whether it may hold for one side only.
    pub(super) sided: bool,
    /// The quantity in whose range it must lie.
    pub(super) range: Quantity,
}

impl LimitName {
    /// The limit of that name.
    pub(super) fn of(name: &str) -> Option<&'static Self> {
        NAMES.iter().find(|n| n.name == name)
    }

    /// Whether a figure can be an end of it.
    pub(super) fn holds(&self, figure: Figure) -> bool {
        let (low, high) = bounds(self.range, Place::Any).hard;
        (low..=high).contains(&figure.base())
    }
}

const fn limit(
    name: &'static str,
    units: &'static [&'static str],
    ends: Ends,
    sided: bool,
    range: Quantity,
) -> LimitName {
    LimitName {
        name,
        units,
        ends,
        sided,
        range,
    }
}

/// Every limit that is looked at.
#[rustfmt::skip]
pub(super) const NAMES: [LimitName; 42] = [
    limit("stem_clearance",       LENGTHS,      Ends::Both,  true,  Quantity::StemClearance),
    limit("stem_diameter",        LENGTHS,      Ends::Both,  true,  Quantity::StemDiameter),
    limit("guide_bore",           LENGTHS,      Ends::Both,  true,  Quantity::GuideBore),
    limit("bucket_clearance",     LENGTHS,      Ends::Both,  true,  Quantity::StemClearance),
    limit("bucket_diameter",      LENGTHS,      Ends::Both,  true,  Quantity::BucketDiameter),
    limit("bucket_bore",          LENGTHS,      Ends::Both,  true,  Quantity::BucketBore),
    limit("runout",               LENGTHS,      Ends::Both,  true,  Quantity::Runout),
    limit("seat_runout",          LENGTHS,      Ends::Most,  true,  Quantity::SeatRunout),
    limit("seat_cut",             LENGTHS,      Ends::Most,  true,  Quantity::SeatCut),
    limit("tip_ground",           LENGTHS,      Ends::Most,  true,  Quantity::TipGround),
    limit("face_cut",             LENGTHS,      Ends::Most,  false, Quantity::FaceCut),
    limit("gasket_thickness",     LENGTHS,      Ends::Both,  false, Quantity::GasketThickness),
    limit("squish",               LENGTHS,      Ends::Both,  false, Quantity::Squish),
    limit("chamber_volume",       &["cm³"],     Ends::Both,  false, Quantity::ChamberVolume),
    limit("deck_height",          LENGTHS,      Ends::Both,  false, Quantity::DeckHeight),
    limit("compression_ratio",    &["ratio"],   Ends::Both,  false, Quantity::ChainPins),
    limit("decompressor_lift",    LENGTHS,      Ends::Both,  false, Quantity::DecompressorLift),
    limit("spring_shim",          LENGTHS,      Ends::Most,  true,  Quantity::SpringShim),
    limit("valve_margin",         LENGTHS,      Ends::Both,  true,  Quantity::ValveMargin),
    limit("installed_height",     LENGTHS,      Ends::Both,  true,  Quantity::InstalledHeight),
    limit("seat_width",           LENGTHS,      Ends::Both,  true,  Quantity::SeatWidth),
    limit("spring_free_length",   LENGTHS,      Ends::Both,  true,  Quantity::SpringFreeLength),
    limit("spring_out_of_square", LENGTHS,      Ends::Both,  true,  Quantity::SpringOutOfSquare),
    limit("spring_load",          FORCES,       Ends::Both,  true,  Quantity::SpringLoad),
    limit("stem_taper",           LENGTHS,      Ends::Most,  true,  Quantity::Runout),
    limit("wobble",               LENGTHS,      Ends::Most,  true,  Quantity::Wobble),
    limit("tip_height",           LENGTHS,      Ends::Both,  true,  Quantity::TipHeight),
    limit("cam_lift",             LENGTHS,      Ends::Both,  true,  Quantity::ValveLift),
    limit("valve_lift",           LENGTHS,      Ends::Both,  true,  Quantity::ValveLift),
    limit("piston_to_valve",      LENGTHS,      Ends::Least, true,  Quantity::PistonToValve),
    limit("cam_runout",           LENGTHS,      Ends::Most,  true,  Quantity::CamRunout),
    limit("flatness",             LENGTHS,      Ends::Both,  false, Quantity::Flatness),
    limit("journal_clearance",    LENGTHS,      Ends::Both,  true,  Quantity::JournalClearance),
    limit("end_float",            LENGTHS,      Ends::Both,  true,  Quantity::EndFloat),
    limit("lobe_height",          LENGTHS,      Ends::Both,  true,  Quantity::LobeHeight),
    limit("lobe_centre",          &["deg"],     Ends::Both,  true,  Quantity::LobeCentre),
    limit("chain_pins",           &["count"],   Ends::Both,  false, Quantity::ChainPins),
    limit("compression",          PRESSURES,    Ends::Both,  false, Quantity::Compression),
    limit("compression_share_of_highest", &["percent"], Ends::Least, false, Quantity::LeakDown),
    limit("compression_within_mean", &["percent"], Ends::Most, false, Quantity::LeakDown),
    limit("compression_apart",    PRESSURES,    Ends::Most,  false, Quantity::Compression),
    limit("leak_down",            &["percent"], Ends::Most,  false, Quantity::LeakDown),
];

/// A value of a limit with its unit; `None` if the unit is unknown or it is finer than a nanometre.
pub(super) fn figure(value: Decimal, unit: &str) -> Option<Figure> {
    let length = |unit| Length::from_decimal(value, unit).map(Figure::length);
    let milli = |unit| {
        value
            .milli()
            .map(|m| Figure::Amount(Amount::Milli(m, unit)))
    };
    match unit {
        "mm" => length(LengthUnit::Millimetre),
        "thou" => length(LengthUnit::Thou),
        "in" => length(LengthUnit::Inch),
        "N" => milli(Unit::Newton),
        "lbf" => milli(Unit::PoundForce),
        "N·m" => milli(Unit::NewtonMetre),
        "bar" => milli(Unit::Bar),
        "psi" => milli(Unit::Psi),
        "kPa" => milli(Unit::Kilopascal),
        "deg" => milli(Unit::Degree),
        "percent" => milli(Unit::Percent),
        "count" | "ratio" => milli(Unit::Count),
        "cm³" => milli(Unit::CubicCentimetre),
        "celsius" => milli(Unit::Celsius),
        _ => None,
    }
}
