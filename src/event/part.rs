//! What a reading belongs to where that is not a valve, or a part of one.

use super::Side;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A part of the engine.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// A cylinder.
    Cylinder {
        /// Its number.
        number: u8,
        /// With a squirt of oil in it.
        wet: bool,
        /// Where escaping air was heard.
        heard: Option<Escape>,
    },
    /// A camshaft.
    Camshaft(Side),
    /// A bearing of a camshaft, counted as the manual counts them.
    Journal {
        /// Of which camshaft, where it was said.
        cam: Option<Side>,
        /// Its number.
        number: u8,
        /// By a plastic thread, read against its own scale; otherwise bore minus journal. (Since
        /// version 8.)
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        thread: bool,
    },
    /// A bolt, or all of a kind.
    Bolt {
        /// Which kind.
        kind: Fastener,
        /// Of which camshaft, where it was said.
        cam: Option<Side>,
        /// Its number in the manual's order; `None` for all of them.
        number: Option<u8>,
        /// The stage of tightening.
        stage: Option<u8>,
    },
    /// A line along which flatness is measured.
    Line(Line),
    /// One of a valve's two springs.
    Spring(Coil),
    /// Where along a stem or a guide. (Since version 6.)
    At(Height),
    /// The face of a seat at that angle, in degrees from the plane square to the stem. (Since
    /// version 7.)
    SeatAngle(u8),
}

/// Where air escapes in a leak-down test.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Escape {
    InletTract,
    Exhaust,
    OilFiller,
    CoolantBubbles,
}

/// A kind of bolt.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Fastener {
    HeadBolt,
    SideBolt,
    CamCap,
    CoverBolt,
    SprocketBolt,
    TensionerBolt,
    /// (Since version 7.)
    SparkPlug,
}

impl Fastener {
    /// Every kind.
    pub(crate) const ALL: [Self; 7] = [
        Self::HeadBolt,
        Self::SideBolt,
        Self::CamCap,
        Self::CoverBolt,
        Self::SprocketBolt,
        Self::TensionerBolt,
        Self::SparkPlug,
    ];
}

/// How the straight edge lies on the head.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Line {
    Along,
    Across,
    Diagonal,
}

/// Where along a stem or a guide.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Height {
    Top,
    Middle,
    Bottom,
}

/// A head of an engine that has several, by where it lies.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Head {
    Front,
    Rear,
    Left,
    Right,
}

/// Which of two springs.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Coil {
    Inner,
    Outer,
}

/// A kind of part by the key it has in files.
macro_rules! keyed {
    ($kind:ty { $($variant:ident = $key:literal),+ $(,)? }) => {
        impl $kind {
            /// Its name in JSON and in grammar and profile files.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self { $(Self::$variant => $key),+ }
            }

            /// By that name.
            #[must_use]
            pub fn from_key(key: &str) -> Option<Self> {
                match key { $($key => Some(Self::$variant),)+ _ => None }
            }
        }
    };
}

keyed!(Escape {
    InletTract = "inlet_tract",
    Exhaust = "exhaust",
    OilFiller = "oil_filler",
    CoolantBubbles = "coolant_bubbles",
});
keyed!(Fastener {
    HeadBolt = "head_bolt",
    SideBolt = "side_bolt",
    CamCap = "cam_cap",
    CoverBolt = "cover_bolt",
    SprocketBolt = "sprocket_bolt",
    TensionerBolt = "tensioner_bolt",
    SparkPlug = "spark_plug",
});
keyed!(Line {
    Along = "along",
    Across = "across",
    Diagonal = "diagonal",
});
keyed!(Height {
    Top = "top",
    Middle = "middle",
    Bottom = "bottom",
});
keyed!(Head {
    Front = "front",
    Rear = "rear",
    Left = "left",
    Right = "right",
});
keyed!(Coil {
    Inner = "inner",
    Outer = "outer",
});

impl Part {
    /// The part as such: where the air was heard does not make another cylinder of it, nor the way it
    /// was measured another journal.
    #[must_use]
    pub const fn plain(self) -> Self {
        match self {
            Self::Cylinder { number, wet, .. } => Self::Cylinder {
                number,
                wet,
                heard: None,
            },
            Self::Journal { cam, number, .. } => Self::Journal {
                cam,
                number,
                thread: false,
            },
            other => other,
        }
    }

    /// Whether a reading of `other` follows one of this part.
    #[must_use]
    pub fn same(self, other: Self) -> bool {
        self.plain() == other.plain()
    }
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plain = |key: &str| key.replace('_', " ");
        match *self {
            Self::Cylinder { number, wet, heard } => {
                write!(f, "cylinder {number}")?;
                if wet {
                    f.write_str(" wet")?;
                }
                heard.map_or(Ok(()), |h| write!(f, ", {}", plain(h.key())))
            }
            Self::Camshaft(side) => write!(f, "{} cam", side.key()),
            Self::Journal {
                cam,
                number,
                thread,
            } => {
                match cam {
                    Some(side) => write!(f, "{} journal {number}", side.key())?,
                    None => write!(f, "journal {number}")?,
                }
                f.write_str(if thread { " by plastic thread" } else { "" })
            }
            Self::Bolt {
                kind,
                cam,
                number,
                stage,
            } => {
                match number {
                    Some(number) => write!(f, "{} {number}", plain(kind.key()))?,
                    None => write!(f, "all {}s", plain(kind.key()))?,
                }
                if let Some(side) = cam {
                    write!(f, " {}", side.key())?;
                }
                stage.map_or(Ok(()), |s| write!(f, " stage {s}"))
            }
            Self::Line(line) => f.write_str(line.key()),
            Self::Spring(coil) => write!(f, "{} spring", coil.key()),
            Self::At(height) => f.write_str(height.key()),
            Self::SeatAngle(degrees) => write!(f, "{degrees} degrees"),
        }
    }
}
