//! A number as said to the lengths that it may mean, by unit, quantity and range.
//!
//! Rules, in order: a spoken unit wins; then the quantity; then the job's unit expands bare
//! numbers; then the usual range leaves one reading, several (asked) or none (refused).

use super::scope::Scope;
use crate::measure::{Amount, Bounds, Decimal, Length, LengthUnit, Quantity, Unit, Zone};

/// One reading of a number.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Candidate {
    pub(super) length: Length,
    pub(super) unit: LengthUnit,
    pub(super) zone: Zone,
}

/// All readings of `raw` that are possible at all; usual ones only, where there are any.
pub(super) fn lengths(
    raw: &str,
    unit: Option<&str>,
    quantity: Quantity,
    bounds: &Bounds,
    scope: &Scope,
) -> Vec<Candidate> {
    let Ok(said) = raw.parse::<Decimal>() else {
        return Vec::new();
    };
    let expanded = match unit {
        Some(unit) => with_unit(raw, said, unit),
        None if raw.contains('.') => pointed(raw, said, quantity, scope),
        None => bare(raw, said, quantity, scope),
    };
    let mut all: Vec<Candidate> = Vec::new();
    for (decimal, unit, doubtful) in expanded {
        let Some(length) = Length::from_decimal(decimal, unit) else {
            continue;
        };
        let zone = match bounds.zone(Amount::LengthNm(length)) {
            Zone::Usual if doubtful => Zone::Unusual,
            zone => zone,
        };
        if zone != Zone::Impossible && !all.iter().any(|c| c.length == length) {
            all.push(Candidate { length, unit, zone });
        }
    }
    let usual = all.iter().any(|c| c.zone == Zone::Usual);
    // "point eight" may be eight tenths or a lost zero: where only the second is usual, both stand.
    let lost_zero =
        unit.is_none() && raw.contains('.') && all.len() > 1 && all[0].zone == Zone::Unusual;
    if usual && !lost_zero {
        all.retain(|c| c.zone == Zone::Usual);
    }
    all
}

type Expanded = (Decimal, LengthUnit, bool);

fn with_unit(raw: &str, said: Decimal, unit: &str) -> Vec<Expanded> {
    let digits = u8::try_from(raw.len()).unwrap_or(u8::MAX);
    let leading_zero = raw.starts_with('0') && !raw.contains('.') && digits > 1;
    let said = if leading_zero {
        said.shifted(digits)
    } else {
        said
    };
    match unit {
        "mm" => vec![(said, LengthUnit::Millimetre, false)],
        "dmm" => vec![(said.shifted(1), LengthUnit::Millimetre, false)],
        "cmm" => vec![(said.shifted(2), LengthUnit::Millimetre, false)],
        "um" => vec![(said, LengthUnit::Micron, false)],
        // A tenth is 0.1 mm to most and 0.0001 in to an inch machinist: the range decides, or asks.
        "tenths" => vec![
            (said.shifted(1), LengthUnit::Millimetre, false),
            (said.shifted(1), LengthUnit::Thou, false),
        ],
        // "oh eight thou" is eight thou.
        "thou" if leading_zero => vec![(Decimal::new(said.mantissa(), 0), LengthUnit::Thou, false)],
        "thou" => vec![(said, LengthUnit::Thou, false)],
        "in" if leading_zero => vec![(Decimal::new(said.mantissa(), 3), LengthUnit::Inch, false)],
        "in" => vec![(said, LengthUnit::Inch, false)],
        _ => Vec::new(),
    }
}

fn pointed(raw: &str, said: Decimal, quantity: Quantity, scope: &Scope) -> Vec<Expanded> {
    let shim = quantity == Quantity::ShimFitted;
    if !shim && scope.unit == LengthUnit::Thou {
        return vec![
            (said, LengthUnit::Inch, false),
            (said, LengthUnit::Thou, false),
        ];
    }
    let mut all = vec![(said, LengthUnit::Millimetre, false)];
    let (whole, fraction) = raw.split_once('.').unwrap_or((raw, ""));
    if quantity == Quantity::Clearance && fraction.len() == 1 && whole.chars().all(|c| c == '0') {
        all.push((said.shifted(1), LengthUnit::Millimetre, false));
    }
    // "Twenty and a half" is of hundredths, between two blades: asked.
    if quantity == Quantity::Clearance && whole.len() == 2 {
        all.push((said.shifted(2), LengthUnit::Millimetre, true));
    }
    all
}

fn bare(raw: &str, said: Decimal, quantity: Quantity, scope: &Scope) -> Vec<Expanded> {
    let digits = raw.len();
    let mm = |places: u8| (said.shifted(places), LengthUnit::Millimetre, false);
    if !quantity.in_hundredths() && quantity != Quantity::ShimFitted {
        return called_whole(raw, said, scope);
    }
    if quantity == Quantity::ShimFitted {
        return match digits {
            1 => vec![(said, LengthUnit::Millimetre, true)],
            2 => vec![mm(1)],
            3 => vec![mm(2)],
            4 => vec![mm(3)],
            _ => Vec::new(),
        };
    }
    if scope.unit == LengthUnit::Thou {
        return vec![(said, LengthUnit::Thou, false)];
    }
    match (raw.starts_with('0'), digits) {
        (_, 1 | 2) => vec![mm(2)],
        // "oh one five" has lost its point: 0.15 or 0.015.
        (true, 3) => vec![mm(3), mm(2)],
        // "two fifty": a value between blades is not a reading that three bare digits should give.
        (false, 3) if quantity != Quantity::Clearance => vec![mm(3), mm(2)],
        (false, 3) => {
            let length = Length::from_decimal(said.shifted(3), LengthUnit::Millimetre);
            let no_blade =
                !scope.blades.is_empty() && !length.is_some_and(|l| scope.blades.contains(&l));
            vec![(said.shifted(3), LengthUnit::Millimetre, no_blade), mm(2)]
        }
        (_, 4) => vec![mm(3)],
        _ => Vec::new(),
    }
}

/// A length called whole, its point unsaid: "five four six five" is a stem of 5.465. The range of
/// the quantity says where the point stands; a single digit with its point moved is asked.
fn called_whole(raw: &str, said: Decimal, scope: &Scope) -> Vec<Expanded> {
    let units = if scope.unit == LengthUnit::Thou {
        [Some(LengthUnit::Inch), Some(LengthUnit::Thou)]
    } else {
        [Some(LengthUnit::Millimetre), None]
    };
    let places = if raw.starts_with('0') { 1..=4 } else { 0..=4 };
    let one = |unit: LengthUnit| {
        let moved = move |by: u8| {
            let doubtful = by > 0 && raw.len() == 1;
            (said.shifted(by), unit, doubtful)
        };
        places.clone().map(moved)
    };
    units.into_iter().flatten().flat_map(one).collect()
}

/// An amount of a quantity other than a clearance or a shim.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Found {
    pub(super) amount: Amount,
    pub(super) unit: LengthUnit,
    pub(super) zone: Zone,
}

/// What a number may mean as an amount of `row`'s quantity.
pub(super) fn amounts(raw: &str, unit: Option<&str>, row: &Bounds, scope: &Scope) -> Vec<Found> {
    let Some(base) = row.quantity.unit() else {
        let all = lengths(raw, unit, row.quantity, row, scope);
        return all
            .into_iter()
            .map(|c| Found {
                amount: Amount::LengthNm(c.length),
                unit: c.unit,
                zone: c.zone,
            })
            .collect();
    };
    let Some(milli) = raw.parse::<Decimal>().ok().and_then(Decimal::milli) else {
        return Vec::new();
    };
    let found = |unit: Unit, doubtful: bool| {
        let amount = Amount::Milli(milli, unit);
        let zone = match row.zone(amount) {
            Zone::Usual if doubtful => Zone::Unusual,
            zone => zone,
        };
        (zone != Zone::Impossible).then_some(Found {
            amount,
            unit: scope.unit,
            zone,
        })
    };
    if let Some(unit) = unit.and_then(unit_named) {
        let fits = unit.base() == base;
        return found(unit, false).into_iter().filter(|_| fits).collect();
    }
    let (own, others): (Unit, &[Unit]) = match base {
        Unit::Bar => (scope.gauge, &[Unit::Bar, Unit::Psi]),
        Unit::NewtonMetre => (scope.wrench, &[]),
        // "Sixty-eight in the shop" can only be Fahrenheit: asked.
        Unit::Celsius => (Unit::Celsius, &[Unit::Fahrenheit]),
        unit => (unit, &[]),
    };
    match found(own, false) {
        Some(found) if found.zone == Zone::Usual => vec![found],
        // "One eight five" is not a compression in bar: another gauge's unit is asked, not taken.
        unlikely => {
            let others = others.iter().filter(|u| **u != own);
            let others = others.filter_map(|u| found(*u, false).filter(|f| f.zone == Zone::Usual));
            let mut all: Vec<Found> = unlikely.into_iter().chain(others).collect();
            all.iter_mut().for_each(|f| f.zone = Zone::Unusual);
            all
        }
    }
}

fn unit_named(key: &str) -> Option<Unit> {
    Some(match key {
        "bar" => Unit::Bar,
        "kpa" => Unit::Kilopascal,
        "psi" => Unit::Psi,
        "nm" => Unit::NewtonMetre,
        "lbf_ft" => Unit::PoundFoot,
        "lbf_in" => Unit::PoundInch,
        "kgf_m" => Unit::KilogramMetre,
        "n" => Unit::Newton,
        "lbf" => Unit::PoundForce,
        "deg" => Unit::Degree,
        "percent" => Unit::Percent,
        "cc" => Unit::CubicCentimetre,
        "count" => Unit::Count,
        "c" => Unit::Celsius,
        "f" => Unit::Fahrenheit,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grammar::tests::triple;
    use crate::measure::{Place, bounds};

    fn um(raw: &str, unit: Option<&str>, quantity: Quantity, job: LengthUnit) -> Vec<(i64, bool)> {
        let row = bounds(quantity, Place::Any);
        let all = lengths(raw, unit, quantity, row, &triple(job));
        all.iter()
            .map(|c| (c.length.nm() / 100, c.zone == Zone::Usual))
            .collect()
    }

    /// What the words resolve to is common practice, no source. Values in tenths of a micrometre.
    #[test]
    fn bare_and_pointed_numbers() {
        use LengthUnit::{Millimetre as Mm, Thou};
        use Quantity::{Clearance as C, ShimFitted as S};
        for (raw, unit, quantity, job, expected) in [
            ("15", None, C, Mm, vec![(1_500, true)]),
            ("8", None, C, Mm, vec![(800, true)]),
            ("08", None, C, Mm, vec![(800, true)]),
            (".08", None, C, Mm, vec![(800, true)]),
            (".8", None, C, Mm, vec![(8_000, false), (800, true)]),
            (".1", None, C, Mm, vec![(1_000, true)]),
            (".125", None, C, Mm, vec![(1_250, true)]),
            ("250", None, C, Mm, vec![(2_500, true)]),
            ("105", None, C, Mm, vec![(1_050, false)]),
            ("015", None, C, Mm, vec![(1_500, true)]),
            ("2225", None, C, Mm, vec![]),
            ("8", None, C, Thou, vec![(2_032, true)]),
            (".012", None, C, Thou, vec![(3_048, true)]),
            ("012", Some("in"), C, Mm, vec![(3_048, true)]),
            ("10", Some("thou"), C, Mm, vec![(2_540, true)]),
            ("08", Some("thou"), C, Thou, vec![(2_032, true)]),
            ("15", Some("cmm"), C, Mm, vec![(1_500, true)]),
            ("265", None, S, Mm, vec![(26_500, true)]),
            ("2625", None, S, Mm, vec![(26_250, true)]),
            ("2.6", None, S, Mm, vec![(26_000, true)]),
            ("25", None, S, Mm, vec![(25_000, true)]),
            ("72", None, S, Mm, vec![]),
            ("3", None, S, Mm, vec![(30_000, false)]),
            ("265", None, S, Thou, vec![(26_500, true)]),
        ] {
            assert_eq!(
                um(raw, unit, quantity, job),
                expected,
                "{raw} {unit:?} {quantity} {job:?}"
            );
        }
    }
}
