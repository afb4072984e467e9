//! The units of gauges and wrenches, as they are named on the command line.

use crate::measure::Unit;
use clap::ValueEnum;

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(super) enum GaugeArg {
    /// "Twelve and a half" is 12.5 bar
    Bar,
    /// "One eighty-five" is 185 psi
    Psi,
    /// Kilopascals
    Kpa,
}

impl GaugeArg {
    pub(super) const fn unit(self) -> Unit {
        match self {
            Self::Bar => Unit::Bar,
            Self::Psi => Unit::Psi,
            Self::Kpa => Unit::Kilopascal,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(super) enum WrenchArg {
    /// Newton metres
    Nm,
    /// Pound-force feet
    LbfFt,
    /// Pound-force inches
    LbfIn,
    /// Kilogram-force metres
    KgfM,
}

impl WrenchArg {
    pub(super) const fn unit(self) -> Unit {
        match self {
            Self::Nm => Unit::NewtonMetre,
            Self::LbfFt => Unit::PoundFoot,
            Self::LbfIn => Unit::PoundInch,
            Self::KgfM => Unit::KilogramMetre,
        }
    }
}
