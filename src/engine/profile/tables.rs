//! The tables of a profile's file, as TOML has them; checked in `file`.
//!
//! A length stands as a decimal in quotes, so that it stays exact; its unit is in its key.

use crate::event::Side;
use crate::measure::Unit;
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;

pub(super) type Text = Spanned<String>;
/// A message and the bytes of the file that it is about.
pub(super) type Wrong = (Range<usize>, String);

pub(super) fn wrong<T>(span: Range<usize>, message: impl Into<String>) -> Result<T, Wrong> {
    Err((span, message.into()))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub(super) key: Text,
    pub(super) name: String,
    #[serde(default)]
    pub(super) note: String,
    pub(super) source: String,
    pub(super) cylinders: Cylinders,
    #[serde(default)]
    pub(super) head: Vec<HeadTable>,
    pub(super) inlet: Spanned<SideTable>,
    pub(super) exhaust: Spanned<SideTable>,
    pub(super) shims: Spanned<ShimTable>,
    pub(super) feeler: Spanned<FeelerTable>,
    #[serde(default)]
    pub(super) torque: Vec<TorqueTable>,
    pub(super) chain: Option<ChainTable>,
    pub(super) seat: Option<SeatTable>,
    pub(super) displacement: Option<DisplacementTable>,
    #[serde(default)]
    pub(super) limit: Vec<LimitTable>,
    #[serde(default)]
    pub(super) names: crate::engine::profile::names::Names,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Cylinders {
    pub(super) count: Spanned<u8>,
    pub(super) numbering: String,
    pub(super) firing_order: Spanned<Vec<u8>>,
    pub(super) crank_deg: Spanned<Vec<u16>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HeadTable {
    /// Where it lies: front, rear, left or right.
    pub(super) place: Text,
    pub(super) cylinders: Spanned<Vec<u8>>,
    /// Other names that it is called by.
    #[serde(default)]
    pub(super) names: Vec<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SideTable {
    pub(super) valves: Spanned<Vec<Text>>,
    pub(super) check_band_mm: Option<Spanned<[Text; 2]>>,
    pub(super) check_band_thou: Option<Spanned<[Text; 2]>>,
    pub(super) set_band_mm: Option<Spanned<[Text; 2]>>,
    pub(super) set_band_thou: Option<Spanned<[Text; 2]>>,
    pub(super) target_mm: Option<Text>,
    pub(super) target_thou: Option<Text>,
    pub(super) opens_deg: Option<Spanned<u16>>,
    pub(super) closes_deg: Option<Spanned<u16>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ShimTable {
    pub(super) kind: Spanned<Kind>,
    /// Of a finger follower.
    pub(super) follower_ratio: Option<Text>,
    /// Of a finger follower: whether the camshaft comes out for a shim.
    pub(super) cams_out: Option<Spanned<bool>>,
    /// One camshaft over both sides: it comes out for either.
    pub(super) one_camshaft: Option<Spanned<bool>>,
    #[serde(default)]
    pub(super) ranges: Vec<Spanned<RangeTable>>,
    #[serde(default)]
    pub(super) sizes_mm: Vec<Text>,
    #[serde(default)]
    pub(super) sizes_thou: Vec<Text>,
    #[serde(default)]
    pub(super) except_mm: Vec<Text>,
    #[serde(default)]
    pub(super) except_thou: Vec<Text>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum Kind {
    OverBucket,
    UnderBucket,
    UnderFollower,
    Screw,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RangeTable {
    pub(super) from_mm: Option<Text>,
    pub(super) to_mm: Option<Text>,
    pub(super) step_mm: Option<Text>,
    pub(super) from_thou: Option<Text>,
    pub(super) to_thou: Option<Text>,
    pub(super) step_thou: Option<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FeelerTable {
    #[serde(default)]
    pub(super) blades_mm: Vec<Text>,
    #[serde(default)]
    pub(super) blades_thou: Vec<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TorqueTable {
    pub(super) name: Text,
    /// Which bolts, as they are called: `head_bolt`, `cam_cap`, …
    pub(super) bolts: Option<Text>,
    /// Their numbers in the order of tightening.
    pub(super) order: Option<Spanned<Vec<u8>>>,
    pub(super) stages_newton_metre: Option<Spanned<Vec<Text>>>,
    pub(super) stages_pound_foot: Option<Spanned<Vec<Text>>>,
    pub(super) stages_pound_inch: Option<Spanned<Vec<Text>>>,
    pub(super) stages_kilogram_metre: Option<Spanned<Vec<Text>>>,
    pub(super) angle_deg: Option<Spanned<u16>>,
    /// Stretched when they are tightened: new ones every time.
    #[serde(default)]
    pub(super) new_bolts: bool,
}

impl TorqueTable {
    /// Its stages by torque, and their unit.
    pub(super) fn stages(&self) -> Result<(&Spanned<Vec<Text>>, Unit), Wrong> {
        let all = [
            (&self.stages_newton_metre, Unit::NewtonMetre),
            (&self.stages_pound_foot, Unit::PoundFoot),
            (&self.stages_pound_inch, Unit::PoundInch),
            (&self.stages_kilogram_metre, Unit::KilogramMetre),
        ];
        let mut given = all
            .into_iter()
            .filter_map(|(s, unit)| Some((s.as_ref()?, unit)));
        match (given.next(), given.next()) {
            (Some(one), None) => Ok(one),
            (None, _) => wrong(
                self.name.span(),
                "no stage: expected stages_newton_metre, stages_pound_foot, stages_pound_inch or stages_kilogram_metre",
            ),
            (Some(_), Some((second, _))) => {
                wrong(second.span(), "stages in two units: expected one of them")
            }
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ChainTable {
    pub(super) cam_teeth: Spanned<u16>,
    pub(super) pins_between_marks: Option<Spanned<u16>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LimitTable {
    pub(super) quantity: Text,
    pub(super) side: Option<Spanned<Side>>,
    pub(super) head: Option<Text>,
    pub(super) min: Option<Text>,
    pub(super) max: Option<Text>,
    /// As new, from and to.
    pub(super) new: Option<Spanned<[Text; 2]>>,
    /// The height of a spring under load.
    pub(super) at_mm: Option<Text>,
    pub(super) unit: Text,
    pub(super) source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DisplacementTable {
    pub(super) bore_mm: Text,
    pub(super) stroke_mm: Text,
    /// The hole of the gasket; the bore where it is not given.
    pub(super) gasket_bore_mm: Option<Text>,
    /// How far the piston stays below the deck, unless it is measured; with a minus, above it.
    pub(super) deck_mm: Option<Text>,
    /// What the crown takes away; below zero for a dish.
    pub(super) dome_cc: Option<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SeatTable {
    /// From the plane square to the stem.
    pub(super) angle_deg: Spanned<u8>,
}
