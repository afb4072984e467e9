//! Reads an engine profile from TOML and checks that it makes sense.

use crate::engine::profile::check::check;
use crate::engine::profile::tables::{
    ChainTable, Cylinders, DisplacementTable, FeelerTable, File, Kind, LimitTable, RangeTable,
    SeatTable, ShimTable, SideTable, Text, TorqueTable, Wrong, wrong,
};
use crate::engine::profile::{
    Band, Chain, Displacement, FollowerRatio, HeadSpec, Limit, Profile, ProfileError, ShimKind,
    Shims, SideSpec, Torque,
};
use crate::engine::profile::{heads, names};
use crate::event::{Fastener, Valve};
use crate::measure::{Decimal, Length, LengthUnit};
use std::ops::Range;
use toml::Spanned;

type Span = Range<usize>;

impl Profile {
    /// Reads a profile from TOML, of which every entry must have an effect. `file_name` is only for
    /// the messages.
    ///
    /// # Errors
    /// The first thing that is wrong, with its line and column and what was expected.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, ProfileError> {
        Self::read(text, file_name, true)
    }

    /// Reads the profile that a job was begun with, perhaps by an older program that took entries
    /// without an effect.
    ///
    /// # Errors
    /// As [`Profile::parse`], if it cannot be worked with.
    pub fn parse_kept(text: &str, file_name: &str) -> Result<Self, ProfileError> {
        Self::read(text, file_name, false)
    }

    fn read(text: &str, file_name: &str, strict: bool) -> Result<Self, ProfileError> {
        let place = |(span, message): Wrong| {
            let before = text.get(..span.start).unwrap_or(text);
            let line_start = before.rfind('\n').map_or(0, |at| at + 1);
            ProfileError {
                file: file_name.to_owned(),
                line: before.matches('\n').count() + 1,
                column: before.get(line_start..).unwrap_or("").chars().count() + 1,
                message,
            }
        };
        Self::read_spanned(text, strict).map_err(place)
    }

    /// Reads a profile; a fault comes with the bytes of the text that it is about.
    pub(super) fn read_spanned(text: &str, strict: bool) -> Result<Self, Wrong> {
        let file: File =
            toml::from_str(text).map_err(|e| (e.span().unwrap_or(0..0), plain(e.message())))?;
        let profile = build(&file)?;
        if strict {
            check(&file, &profile)?;
        }
        Ok(profile)
    }
}

/// A message of the reader of TOML, with ranges for the names of its types.
fn plain(message: &str) -> String {
    let message = message.replace("expected u8", "expected a whole number, 0 to 255");
    message.replace("expected u16", "expected a whole number, 0 to 65535")
}

fn build(file: &File) -> Result<Profile, Wrong> {
    let key = file.key.get_ref();
    if key.is_empty()
        || !key
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
    {
        return wrong(
            file.key.span(),
            format!(
                "\"{key}\" is not a key: expected small letters, digits and _, such as \"triple\""
            ),
        );
    }
    let (cylinders, firing_order, crank_deg) = cylinders(&file.cylinders)?;
    let blades = blades(&file.feeler)?;
    let (inlet, exhaust) = (side(&file.inlet)?, side(&file.exhaust)?);
    let mut valves = inlet.valves.clone();
    valves.extend(exhaust.valves.iter().filter(|v| !inlet.valves.contains(v)));
    let (heads, head_names) = heads::heads(&file.head, cylinders)?;
    let mut names = names::names(&file.names, cylinders, &valves)?;
    names.extend(head_names);
    let limit = |table: &LimitTable| limit(table, &heads);
    let limits = file.limit.iter().map(limit).collect::<Result<_, _>>()?;
    Ok(Profile {
        key: key.clone(),
        name: file.name.clone(),
        note: file.note.clone(),
        source: file.source.clone(),
        cylinders,
        numbering: file.cylinders.numbering.clone(),
        firing_order,
        crank_deg,
        heads,
        inlet,
        exhaust,
        shims: shims(&file.shims)?,
        blades,
        torque: file.torque.iter().map(torque).collect::<Result<_, _>>()?,
        chain: file.chain.as_ref().map(chain).transpose()?,
        seat_angle_deg: file.seat.as_ref().map(seat).transpose()?,
        displacement: file.displacement.as_ref().map(displacement).transpose()?,
        limits,
        names,
    })
}

fn cylinders(table: &Cylinders) -> Result<(u8, Vec<u8>, Vec<u16>), Wrong> {
    let count = *table.count.get_ref();
    if !(1..=16).contains(&count) {
        return wrong(
            table.count.span(),
            format!("{count} cylinders: expected 1 to 16"),
        );
    }
    let order = table.firing_order.get_ref();
    let mut sorted = order.clone();
    sorted.sort_unstable();
    if !sorted.iter().copied().eq(1..=count) {
        return wrong(
            table.firing_order.span(),
            format!(
                "the firing order names each cylinder once: expected the numbers 1 to {count} in some order"
            ),
        );
    }
    let crank = table.crank_deg.get_ref();
    if crank.len() != usize::from(count) {
        return wrong(
            table.crank_deg.span(),
            format!(
                "{} crank positions: expected one for each of {count} cylinders",
                crank.len()
            ),
        );
    }
    if let Some(bad) = crank.iter().find(|deg| **deg > 719) {
        return wrong(
            table.crank_deg.span(),
            format!("crank position {bad}: expected 0 to 719 degrees"),
        );
    }
    let angles: Vec<u16> = order.iter().map(|c| crank[usize::from(*c) - 1]).collect();
    let drops = (0..angles.len())
        .filter(|i| angles[(i + 1) % angles.len()] < angles[*i])
        .count();
    if drops > 1 {
        return wrong(
            table.crank_deg.span(),
            "crank positions do not follow the firing order: expected each cylinder's firing top dead centre, rising in the order of firing",
        );
    }
    Ok((count, order.clone(), crank.clone()))
}

fn side(table: &Spanned<SideTable>) -> Result<SideSpec, Wrong> {
    let whole = table.span();
    let table = table.get_ref();
    let valves = valves(&table.valves)?;
    let band = |mm: &Option<Spanned<[Text; 2]>>, thou: &Option<Spanned<[Text; 2]>>, name: &str| {
        let (ends, unit) = one_of(mm.as_ref(), thou.as_ref(), name, &whole)?;
        let [low, high] = ends.get_ref();
        let band = Band {
            low: length(low, unit)?,
            high: length(high, unit)?,
        };
        if band.low <= Length::ZERO || band.low >= band.high {
            return wrong(
                ends.span(),
                format!(
                    "{name} is empty or not above zero: expected [smallest, largest], such as [\"0.10\", \"0.20\"]"
                ),
            );
        }
        Ok((band, ends.span()))
    };
    let (check, _) = band(&table.check_band_mm, &table.check_band_thou, "check_band")?;
    let (set, set_span) = band(&table.set_band_mm, &table.set_band_thou, "set_band")?;
    if set.low < check.low || set.high > check.high {
        return wrong(
            set_span,
            format!("set_band is wider than check_band: expected it inside {check}"),
        );
    }
    let (target, unit) = one_of(
        table.target_mm.as_ref(),
        table.target_thou.as_ref(),
        "target",
        &whole,
    )?;
    let aim = length(target, unit)?;
    if !set.holds(aim) {
        return wrong(
            target.span(),
            format!("target outside the set band: expected {set}"),
        );
    }
    for angle in [&table.opens_deg, &table.closes_deg].into_iter().flatten() {
        if *angle.get_ref() > 120 {
            return wrong(
                angle.span(),
                format!(
                    "{}: expected 0 to 120 degrees of the crank",
                    angle.get_ref()
                ),
            );
        }
    }
    let angle = |a: &Option<Spanned<u16>>| a.as_ref().map(|a| *a.get_ref());
    Ok(SideSpec {
        valves,
        check,
        set,
        target: aim,
        opens_deg: angle(&table.opens_deg),
        closes_deg: angle(&table.closes_deg),
    })
}

fn valves(names: &Spanned<Vec<Text>>) -> Result<Vec<Valve>, Wrong> {
    let texts = names.get_ref();
    if texts.len() == 1 || texts.len() > 3 {
        return wrong(
            names.span(),
            format!(
                "{} valve names: expected [] for one valve, or two or three names",
                texts.len()
            ),
        );
    }
    let mut valves = Vec::new();
    for text in texts {
        let Some(valve) = Valve::from_key(text.get_ref()) else {
            return wrong(
                text.span(),
                format!(
                    "\"{}\" is not a valve name: expected left, middle, right, front, rear, inner or outer",
                    text.get_ref()
                ),
            );
        };
        if valves.contains(&valve) {
            return wrong(
                text.span(),
                format!("\"{}\" twice: expected distinct names", valve.key()),
            );
        }
        valves.push(valve);
    }
    Ok(valves)
}

fn one_of<'a, T>(
    mm: Option<&'a T>,
    thou: Option<&'a T>,
    name: &str,
    whole: &Span,
) -> Result<(&'a T, LengthUnit), Wrong> {
    match (mm, thou) {
        (Some(value), None) => Ok((value, LengthUnit::Millimetre)),
        (None, Some(value)) => Ok((value, LengthUnit::Thou)),
        _ => wrong(
            whole.clone(),
            format!("expected exactly one of {name}_mm and {name}_thou"),
        ),
    }
}

fn length(text: &Text, unit: LengthUnit) -> Result<Length, Wrong> {
    let decimal = decimal(text)?;
    Length::from_decimal(decimal, unit)
        .filter(|l| l.nm() > 0)
        .ok_or_else(|| {
            (
                text.span(),
                format!(
                    "\"{}\": expected more than zero, in whole nanometres",
                    text.get_ref()
                ),
            )
        })
}

fn decimal(text: &Text) -> Result<Decimal, Wrong> {
    text.get_ref()
        .parse()
        .map_err(|e: crate::measure::DecimalError| (text.span(), e.to_string()))
}

fn ascending(texts: &[Text], unit: LengthUnit, what: &str) -> Result<Vec<Length>, Wrong> {
    let mut sizes: Vec<Length> = Vec::new();
    for text in texts {
        let size = length(text, unit)?;
        if sizes.last().is_some_and(|last| *last >= size) {
            return wrong(
                text.span(),
                format!("\"{}\": expected {what} rising, each once", text.get_ref()),
            );
        }
        sizes.push(size);
    }
    Ok(sizes)
}

fn shims(table: &Spanned<ShimTable>) -> Result<Shims, Wrong> {
    let kind = match table.get_ref().kind.get_ref() {
        Kind::OverBucket => ShimKind::OverBucket,
        Kind::UnderBucket => ShimKind::UnderBucket,
        Kind::UnderFollower => ShimKind::UnderFollower,
        Kind::Screw => ShimKind::Screw,
    };
    let (ratio, cams_out) = follower(table.get_ref(), kind)?;
    let one_camshaft = table.get_ref().one_camshaft.as_ref();
    if let Some(given) = one_camshaft.filter(|_| !cams_out) {
        let message = "no camshaft comes out for a shim of this engine, so it has no effect: expected no one_camshaft";
        return wrong(given.span(), message);
    }
    let series = match kind {
        ShimKind::Screw => no_series(table)?,
        _ => series(table)?,
    };
    Ok(Shims {
        kind,
        series,
        ratio,
        cams_out,
        one_camshaft: one_camshaft.is_some_and(|given| *given.get_ref()),
    })
}

/// The ratio of the followers, and whether the camshafts come out: said of followers alone.
fn follower(table: &ShimTable, kind: ShimKind) -> Result<(FollowerRatio, bool), Wrong> {
    if kind != ShimKind::UnderFollower {
        let given = table.follower_ratio.as_ref().map(Spanned::span);
        if let Some(span) = given.or(table.cams_out.as_ref().map(Spanned::span)) {
            let message = "only shims under followers have it: expected kind = \"under_follower\", or no follower_ratio and no cams_out";
            return wrong(span, message);
        }
        return Ok((FollowerRatio::BUCKET, kind == ShimKind::UnderBucket));
    }
    let (Some(ratio), Some(cams_out)) = (&table.follower_ratio, &table.cams_out) else {
        let message = "shims under followers: expected follower_ratio, such as \"0.80\" (by how much the clearance at the lobe changes for each unit of shim), and cams_out = true or false";
        return wrong(table.kind.span(), message);
    };
    let Some(found) = FollowerRatio::new(decimal(ratio)?) else {
        let (low, high) = FollowerRatio::RANGE;
        let message = format!(
            "\"{}\": expected a ratio of {} to {}, to a thousandth",
            ratio.get_ref(),
            Decimal::new(low / 100, 1),
            Decimal::new(high / 100, 1)
        );
        return wrong(ratio.span(), message);
    };
    Ok((found, *cams_out.get_ref()))
}

/// Screws have no sizes.
fn no_series(table: &Spanned<ShimTable>) -> Result<Vec<Length>, Wrong> {
    let sizes = table.get_ref();
    let lists = [
        &sizes.sizes_mm,
        &sizes.sizes_thou,
        &sizes.except_mm,
        &sizes.except_thou,
    ];
    let first = lists.into_iter().flatten().next().map(Spanned::span);
    match first.or(sizes.ranges.first().map(Spanned::span)) {
        Some(span) => wrong(span, "screws have no shims: expected no sizes"),
        None => Ok(Vec::new()),
    }
}

fn series(table: &Spanned<ShimTable>) -> Result<Vec<Length>, Wrong> {
    let whole = table.span();
    let table = table.get_ref();
    let mut series = ascending(&table.sizes_mm, LengthUnit::Millimetre, "sizes")?;
    series.extend(ascending(&table.sizes_thou, LengthUnit::Thou, "sizes")?);
    for range in &table.ranges {
        series.extend(sizes_of(range)?);
    }
    series.sort_unstable();
    if series.windows(2).any(|pair| pair[0] == pair[1]) {
        return wrong(
            whole,
            "a shim size stands in two ranges: expected each size once",
        );
    }
    for (texts, unit) in [
        (&table.except_mm, LengthUnit::Millimetre),
        (&table.except_thou, LengthUnit::Thou),
    ] {
        for text in texts {
            let size = length(text, unit)?;
            let before = series.len();
            series.retain(|s| *s != size);
            if series.len() == before {
                return wrong(
                    text.span(),
                    format!(
                        "\"{}\" is not in the series: expected a size to leave out",
                        text.get_ref()
                    ),
                );
            }
        }
    }
    if series.is_empty() {
        return wrong(
            whole,
            "no shim size: expected ranges = [{ from_mm, to_mm, step_mm }] or sizes_mm",
        );
    }
    Ok(series)
}

fn sizes_of(range: &Spanned<RangeTable>) -> Result<Vec<Length>, Wrong> {
    let whole = range.span();
    let table = range.get_ref();
    let ends = |mm: &Option<Text>, thou: &Option<Text>, name: &str| {
        let (text, unit) = one_of(mm.as_ref(), thou.as_ref(), name, &whole)?;
        Ok(length(text, unit)?.nm())
    };
    let from = ends(&table.from_mm, &table.from_thou, "from")?;
    let to = ends(&table.to_mm, &table.to_thou, "to")?;
    let step = ends(&table.step_mm, &table.step_thou, "step")?;
    if to < from || (to - from) % step != 0 || (to - from) / step > 2_000 {
        return wrong(
            whole,
            "expected from <= to, a whole number of steps between them, at most 2000",
        );
    }
    Ok((0..=(to - from) / step)
        .map(|k| Length::from_nm(from + k * step))
        .collect())
}

fn blades(table: &Spanned<FeelerTable>) -> Result<Vec<Length>, Wrong> {
    let mut blades = ascending(&table.get_ref().blades_mm, LengthUnit::Millimetre, "blades")?;
    blades.extend(ascending(
        &table.get_ref().blades_thou,
        LengthUnit::Thou,
        "blades",
    )?);
    blades.sort_unstable();
    if blades.len() < 2 || blades.windows(2).any(|pair| pair[0] == pair[1]) {
        return wrong(
            table.span(),
            "expected at least two blades in blades_mm or blades_thou, each once",
        );
    }
    Ok(blades)
}

fn torque(table: &TorqueTable) -> Result<Torque, Wrong> {
    let kind = |key: &Text| {
        Fastener::from_key(key.get_ref()).map_or_else(
            || wrong(key.span(), format!("\"{}\" is not a kind of bolt: expected head_bolt, side_bolt, cam_cap, cover_bolt, sprocket_bolt, tensioner_bolt or spark_plug", key.get_ref())),
            Ok,
        )
    };
    let (torques, unit) = table.stages()?;
    Ok(Torque {
        name: table.name.get_ref().clone(),
        bolts: table.bolts.as_ref().map(kind).transpose()?,
        order: table
            .order
            .as_ref()
            .map_or_else(Vec::new, |o| o.get_ref().clone()),
        torques: torques
            .get_ref()
            .iter()
            .map(decimal)
            .collect::<Result<_, _>>()?,
        unit,
        angle_deg: table.angle_deg.as_ref().map(|a| *a.get_ref()),
        new_bolts: table.new_bolts,
    })
}

fn chain(table: &ChainTable) -> Result<Chain, Wrong> {
    if !(10..=120).contains(table.cam_teeth.get_ref()) {
        return wrong(table.cam_teeth.span(), "expected 10 to 120 teeth");
    }
    Ok(Chain {
        cam_teeth: *table.cam_teeth.get_ref(),
        pins_between_marks: table.pins_between_marks.as_ref().map(|p| *p.get_ref()),
    })
}

fn seat(table: &SeatTable) -> Result<u8, Wrong> {
    let angle = *table.angle_deg.get_ref();
    if !(15..=75).contains(&angle) {
        return wrong(
            table.angle_deg.span(),
            "expected a seat angle of 15 to 75 degrees",
        );
    }
    Ok(angle)
}

fn displacement(table: &DisplacementTable) -> Result<Displacement, Wrong> {
    let within = |text: &Text, low: i64, high: i64| {
        let value = length(text, LengthUnit::Millimetre)?;
        let (low, high) = (Length::from_um(low * 1_000), Length::from_um(high * 1_000));
        match (low..=high).contains(&value) {
            true => Ok(value),
            false => wrong(text.span(), format!("{value}: expected {low} to {high}")),
        }
    };
    let bore = within(&table.bore_mm, 20, 200)?;
    let gasket_bore = table.gasket_bore_mm.as_ref();
    let gasket_bore = gasket_bore.map_or(Ok(bore), |text| within(text, 20, 200))?;
    let deck = table.deck_mm.as_ref().map(|text| {
        let deck = Length::from_decimal(signed(text)?, LengthUnit::Millimetre);
        let deck = deck.filter(|d| (Length::from_um(-3_000)..=Length::from_um(10_000)).contains(d));
        let message =
            "expected 0 to 10 mm below the deck, or -3 to 0 if the piston stands above it";
        deck.ok_or_else(|| (text.span(), message.to_owned()))
    });
    let dome = match &table.dome_cc {
        None => Decimal::new(0, 0),
        Some(text) => dome(text)?,
    };
    Ok(Displacement {
        bore,
        stroke: within(&table.stroke_mm, 20, 200)?,
        gasket_bore,
        deck: deck.transpose()?,
        dome,
    })
}

/// A number that may have a minus.
fn signed(text: &Text) -> Result<Decimal, Wrong> {
    let written = text.get_ref();
    let (sign, figures) = match written.strip_prefix('-') {
        Some(figures) => (-1, figures),
        None => (1, written.as_str()),
    };
    let value = figures.parse::<Decimal>();
    let value = value.map_err(|e| (text.span(), e.to_string()))?;
    Ok(Decimal::new(sign * value.mantissa(), value.places()))
}

/// The volume of a crown; a dish has a minus.
fn dome(text: &Text) -> Result<Decimal, Wrong> {
    let value = signed(text)?;
    match value.milli().filter(|m| m.abs() <= 100_000) {
        Some(_) => Ok(value),
        None => wrong(
            text.span(),
            format!("\"{}\": expected -100 to 100 cm³", text.get_ref()),
        ),
    }
}

fn limit(table: &LimitTable, heads: &[HeadSpec]) -> Result<Limit, Wrong> {
    let head = table.head.as_ref().map(|head| {
        let known = heads.iter().map(|h| h.head);
        let mut named = known.filter(|h| h.key() == head.get_ref());
        named.next().ok_or_else(|| {
            let message = format!(
                "this engine has no head \"{}\": expected the place of a [[head]]",
                head.get_ref()
            );
            (head.span(), message)
        })
    });
    if table.min.is_none() && table.max.is_none() {
        return wrong(
            table.quantity.span(),
            "a limit without an end: expected min, max or both",
        );
    }
    let new = table.new.as_ref().map(|range| {
        let [from, to] = range.get_ref();
        Ok((decimal(from)?, decimal(to)?))
    });
    let at = table.at_mm.as_ref();
    Ok(Limit {
        quantity: table.quantity.get_ref().clone(),
        side: table.side.as_ref().map(|s| *s.get_ref()),
        head: head.transpose()?,
        new: new.transpose()?,
        at: at
            .map(|at| length(at, LengthUnit::Millimetre))
            .transpose()?,
        min: table.min.as_ref().map(decimal).transpose()?,
        max: table.max.as_ref().map(decimal).transpose()?,
        unit: table.unit.get_ref().clone(),
        source: table.source.clone(),
    })
}
