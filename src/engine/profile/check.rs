//! Whether every entry of a profile's file has an effect and can be meant: what is misspelt, out of
//! every range or never looked at would be missed at the bench.

use crate::engine::profile::limit_names::{Ends, LimitName, NAMES, figure};
use crate::engine::profile::tables::{
    File, LimitTable, SideTable, Text, TorqueTable, Wrong, wrong,
};
use crate::engine::profile::{Profile, blade_fault};
use crate::event::Side;
use crate::measure::{Amount, Unit};
use crate::measure::{Decimal, Length, Place, Quantity, Zone, bounds};
use toml::Spanned;

/// Checks a file that was read into `profile`.
pub(super) fn check(file: &File, profile: &Profile) -> Result<(), Wrong> {
    let crank = &file.cylinders.crank_deg;
    if let Some(first) = crank.get_ref().first().filter(|deg| **deg != 0) {
        let message = format!(
            "cylinder 1 fires at {first}: expected 0, because every angle is counted from its firing"
        );
        return wrong(crank.span(), message);
    }
    for side in [&file.inlet, &file.exhaust] {
        angles(side)?;
    }
    clearances(file, profile)?;
    shims(file, profile)?;
    if let Some(fault) = blade_fault(&profile.blades) {
        return wrong(file.feeler.span(), fault);
    }
    for (at, table) in file.torque.iter().enumerate() {
        torque(table, &file.torque[..at])?;
    }
    chain(file)?;
    let ratio = file
        .limit
        .iter()
        .find(|l| l.quantity.get_ref() == "compression_ratio");
    if let Some(ratio) = ratio.filter(|_| file.displacement.is_none()) {
        let message =
            "a compression ratio is worked out: expected [displacement] with bore_mm and stroke_mm";
        return wrong(ratio.quantity.span(), message);
    }
    for (at, table) in file.limit.iter().enumerate() {
        limit(table, &file.limit[..at])?;
    }
    Ok(())
}

fn angles(side: &Spanned<SideTable>) -> Result<(), Wrong> {
    let table = side.get_ref();
    let ((Some(alone), None) | (None, Some(alone))) = (&table.opens_deg, &table.closes_deg) else {
        return Ok(());
    };
    wrong(
        alone.span(),
        "an opening or closing angle alone has no effect: expected both opens_deg and closes_deg, or neither",
    )
}

fn clearances(file: &File, profile: &Profile) -> Result<(), Wrong> {
    let row = bounds(Quantity::Clearance, Place::Any);
    for (table, side) in [
        (&file.inlet, &profile.inlet),
        (&file.exhaust, &profile.exhaust),
    ] {
        if row.zone(Amount::LengthNm(side.check.high)) == Zone::Impossible {
            let band = table.get_ref().check_band_mm.as_ref();
            let band = band.or(table.get_ref().check_band_thou.as_ref());
            let most = Length::from_nm(row.hard.1);
            let message = format!(
                "a clearance of {}: expected at most {most}",
                side.check.high
            );
            return wrong(band.map_or_else(|| table.span(), Spanned::span), message);
        }
    }
    Ok(())
}

fn shims(file: &File, profile: &Profile) -> Result<(), Wrong> {
    let row = bounds(Quantity::ShimFitted, Place::Any);
    let sizes = profile.shims.series.iter();
    let mut odd = sizes.filter(|s| row.zone(Amount::LengthNm(**s)) == Zone::Impossible);
    let Some(size) = odd.next() else {
        return Ok(());
    };
    let (low, high) = (Length::from_nm(row.hard.0), Length::from_nm(row.hard.1));
    let message = format!("a shim of {size}: expected {low} to {high}");
    wrong(file.shims.span(), message)
}

fn torque(table: &TorqueTable, before: &[TorqueTable]) -> Result<(), Wrong> {
    let Some(bolts) = &table.bolts else {
        let message = "a torque without bolts is never looked at: expected bolts = \"head_bolt\", \"side_bolt\", \"cam_cap\", \"cover_bolt\", \"sprocket_bolt\", \"tensioner_bolt\" or \"spark_plug\"";
        return wrong(table.name.span(), message);
    };
    let key = bolts.get_ref();
    let same = |t: &TorqueTable| t.bolts.as_ref().is_some_and(|b| b.get_ref() == key);
    if before.iter().any(same) {
        let message = format!("a second table for \"{key}\" is never read: expected one");
        return wrong(bolts.span(), message);
    }
    let (stages, unit) = table.stages()?;
    if stages.get_ref().is_empty() {
        return wrong(
            stages.span(),
            "no stage: expected at least one torque, such as [\"20\", \"40\"]",
        );
    }
    let row = bounds(Quantity::Torque, Place::Any);
    let mut reached = i64::MIN;
    for stage in stages.get_ref() {
        let milli = milli(stage)?;
        if row.zone(Amount::Milli(milli, unit)) == Zone::Impossible {
            let message = format!(
                "\"{}\" {}: expected {} to {} N·m",
                stage.get_ref(),
                unit.sign(),
                Decimal::new(row.hard.0 / 100, 1),
                row.hard.1 / 1_000
            );
            return wrong(stage.span(), message);
        }
        if milli < reached {
            let message = format!("\"{}\": expected stages that do not fall", stage.get_ref());
            return wrong(stage.span(), message);
        }
        reached = milli;
    }
    if let Some(order) = &table.order {
        let numbers = order.get_ref();
        let mut sorted = numbers.clone();
        sorted.sort_unstable();
        let last = u8::try_from(sorted.len()).unwrap_or(u8::MAX);
        if sorted.is_empty() || !sorted.iter().copied().eq(1..=last) {
            let message = format!(
                "the order of tightening names each bolt once: expected the numbers 1 to {} in some order",
                sorted.len().max(1)
            );
            return wrong(order.span(), message);
        }
    }
    if let Some(angle) = &table.angle_deg
        && !(1..=400).contains(angle.get_ref())
    {
        let message = format!("{} degrees: expected 1 to 400", angle.get_ref());
        return wrong(angle.span(), message);
    }
    Ok(())
}

fn chain(file: &File) -> Result<(), Wrong> {
    let Some(chain) = &file.chain else {
        return Ok(());
    };
    let Some(pins) = &chain.pins_between_marks else {
        return wrong(
            chain.cam_teeth.span(),
            "teeth alone have no effect: expected pins_between_marks beside them, or no [chain]",
        );
    };
    let row = bounds(Quantity::ChainPins, Place::Any);
    let count = Amount::Milli(i64::from(*pins.get_ref()) * 1_000, Unit::Count);
    if row.zone(count) == Zone::Impossible {
        let (low, high) = (row.hard.0 / 1_000, row.hard.1 / 1_000);
        let message = format!("{} pins: expected {low} to {high}", pins.get_ref());
        return wrong(pins.span(), message);
    }
    Ok(())
}

fn milli(text: &Text) -> Result<i64, Wrong> {
    let value = text.get_ref().parse::<Decimal>();
    let value = value.map_err(|e| (text.span(), e.to_string()))?;
    value
        .milli()
        .map_or_else(|| wrong(text.span(), "expected a smaller number"), Ok)
}

fn limit(table: &LimitTable, before: &[LimitTable]) -> Result<(), Wrong> {
    let (name, unit) = (table.quantity.get_ref(), table.unit.get_ref());
    let Some(known) = LimitName::of(name) else {
        let names: Vec<&str> = NAMES.iter().map(|n| n.name).collect();
        let message = format!(
            "no reading is judged by a limit \"{name}\": expected one of {}",
            names.join(", ")
        );
        return wrong(table.quantity.span(), message);
    };
    if !known.units.contains(&unit.as_str()) {
        let message = format!(
            "{name} in \"{unit}\": expected {}",
            known.units.join(" or ")
        );
        return wrong(table.unit.span(), message);
    }
    if let Some(side) = table.side.as_ref().filter(|_| !known.sided) {
        let message = format!("{name} is the same for both sides: expected no side");
        return wrong(side.span(), message);
    }
    let (needless, end) = match known.ends {
        Ends::Both => (None, ""),
        Ends::Least => (table.max.as_ref(), "min"),
        Ends::Most => (table.min.as_ref(), "max"),
    };
    if let Some(needless) = needless {
        let message = format!("{name} has no such end: expected {end}");
        return wrong(needless.span(), message);
    }
    ends(table, known)?;
    height(table)?;
    if let Some(head) = table.head.as_ref().filter(|_| !known.range.is_of_a_head()) {
        let message = format!("{name} is the same for all heads: expected no head");
        return wrong(head.span(), message);
    }
    let side = |t: &LimitTable| t.side.as_ref().map(|s: &Spanned<Side>| *s.get_ref());
    let head = |t: &LimitTable| t.head.as_ref().map(|h| h.get_ref().clone());
    let at = |t: &LimitTable| t.at_mm.as_ref().map(|a| a.get_ref().clone());
    let named = |t: &LimitTable| u8::from(t.side.is_some()) + u8::from(t.head.is_some());
    // Of two that hold for the same place, the one that names more of it holds.
    let same = |t: &LimitTable| {
        t.quantity.get_ref() == name
            && at(t) == at(table)
            && named(t) == named(table)
            && may_meet(side(t), side(table))
            && may_meet(head(t), head(table))
    };
    if before.iter().any(same) {
        let message = format!("a second limit of {name} for the same: expected one");
        return wrong(table.quantity.span(), message);
    }
    Ok(())
}

/// Whether what one limit is for and what another is for can be the same; `None` is for all.
fn may_meet<T: PartialEq>(one: Option<T>, other: Option<T>) -> bool {
    one.is_none() || other.is_none() || one == other
}

/// The ends of a limit, and of the range when new.
fn ends(table: &LimitTable, known: &LimitName) -> Result<(), Wrong> {
    let unit = table.unit.get_ref();
    let read = |text: &Text| -> Result<i64, Wrong> {
        milli(text)?;
        let value = text.get_ref().parse::<Decimal>().ok();
        let figure = value.and_then(|v| figure(v, unit));
        if let Some(figure) = figure.filter(|f| known.holds(*f)) {
            return Ok(figure.base());
        }
        let row = bounds(known.range, Place::Any);
        let show = |base: i64| match known.range.unit() {
            None => Length::from_nm(base).to_string(),
            Some(unit) => Amount::Milli(base, unit).show(crate::measure::LengthUnit::Millimetre),
        };
        let message = format!(
            "\"{}\" {unit}: expected {} to {}",
            text.get_ref(),
            show(row.hard.0),
            show(row.hard.1)
        );
        wrong(text.span(), message)
    };
    let rising = |from: Option<&Text>, to: Option<&Text>| {
        let (Some(from), Some(to)) = (from, to) else {
            return from.or(to).map_or(Ok(()), |one| read(one).map(|_| ()));
        };
        if read(from)? > read(to)? {
            let message = format!(
                "\"{}\" after \"{}\": expected the smaller one first",
                to.get_ref(),
                from.get_ref()
            );
            return wrong(to.span(), message);
        }
        Ok(())
    };
    rising(table.min.as_ref(), table.max.as_ref())?;
    match table.new.as_ref().map(Spanned::get_ref) {
        Some([from, to]) => rising(Some(from), Some(to)),
        None => Ok(()),
    }
}

/// A load needs the height at which it is measured; nothing else has one.
fn height(table: &LimitTable) -> Result<(), Wrong> {
    let load = table.quantity.get_ref() == Quantity::SpringLoad.key();
    match (&table.at_mm, load) {
        (None, true) => wrong(
            table.quantity.span(),
            "a load without a height has no effect: expected at_mm, such as at_mm = \"31.5\"",
        ),
        (Some(at), false) => wrong(
            at.span(),
            "only spring_load has a height: expected no at_mm",
        ),
        _ => Ok(()),
    }
}
