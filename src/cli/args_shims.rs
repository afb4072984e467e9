//! What `shims` can be asked for.

use clap::ValueEnum;
use std::path::PathBuf;

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(super) enum AimArg {
    /// Shims bought, then shims changed, then distance from the target
    FewestPurchases,
    /// Shims changed, then shims bought: no good valve is disturbed to save a purchase
    FewestChanges,
    /// Distinct sizes to order
    FewestSizes,
    /// The valve furthest from its target
    WorstValve,
    /// Money, by --pack and --single
    LowestPrice,
}

/// A camshaft.
#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(super) enum CamArg {
    /// Over the inlet valves
    Inlet,
    /// Over the exhaust valves
    Exhaust,
}

/// "5:12.50": five shims of one size for 12.50.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Pack {
    pub(super) pieces: u16,
    pub(super) cents: u32,
}

impl std::str::FromStr for Pack {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (pieces, price) = text
            .split_once(':')
            .ok_or("expected PIECES:PRICE, such as 5:12.50")?;
        let pieces = pieces.trim().parse().ok();
        let pieces = pieces.filter(|n| (1..=100).contains(n));
        Ok(Self {
            pieces: pieces.ok_or("the pieces of a pack are a whole number from 1 to 100")?,
            cents: cents(price)?,
        })
    }
}

/// A price in hundredths.
pub(super) fn cents(text: &str) -> Result<u32, String> {
    let price = text.trim().parse::<crate::measure::Decimal>();
    let hundredths = price.ok().and_then(|p| p.milli()).filter(|m| m % 10 == 0);
    hundredths
        .and_then(|m| u32::try_from(m / 10).ok())
        .ok_or_else(|| format!("\"{text}\" is not a price: expected one such as 12.50"))
}

/// Purchases first, then swaps, then how near each valve comes to its target: each only matters
/// where the one before it is equal.
#[derive(clap::Args, Debug)]
pub(super) struct Shims {
    /// The job's folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) job: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
    /// What is kept smallest first
    #[arg(long, value_enum, default_value = "fewest-purchases")]
    pub(super) aim: AimArg,
    /// A camshaft that stays in: its valves keep their shims. May be given once for each
    #[arg(long, value_enum, value_name = "CAM")]
    pub(super) keep_cam: Vec<CamArg>,
    /// Shims are sold in packs of one size: PIECES:PRICE, such as 5:12.50; for --aim lowest-price
    #[arg(long, value_name = "PIECES:PRICE")]
    pub(super) pack: Option<Pack>,
    /// Price of a single shim; for --aim lowest-price
    #[arg(long, value_name = "PRICE", value_parser = cents)]
    pub(super) single: Option<u32>,
    /// Only what is to be bought, to take to the counter
    #[arg(long, conflicts_with = "json")]
    pub(super) list: bool,
    /// Answer for other conditions, without touching the job. Targets are in the job's unit:
    /// `inlet_target=0.15`, `exhaust_target=0.25`; shims in millimetres, as they are marked:
    /// series=2.00:3.50:0.025, spares=2.50,2.55 or spares=none
    #[arg(long, value_name = "KEY=VALUE")]
    pub(super) what_if: Vec<String>,
}
