//! The verdict on a reading, spoken after the person has set it: never what is expected before it.

use super::{JobSetup, State};
use crate::engine::inspection::{Against, Figure, Verdict as Found, flatness};
use crate::engine::{
    Interval, Verdict, compression_ratio, squish_by_parts, wheel_at_dead_centre_mdeg,
};
use crate::event::{Gap, Reading, Value};
use crate::measure::{Amount, Decimal, Length, Quantity, Unit};

/// What a reading comes to, in words; empty where the job has no limit for it, or where the reading
/// does not decide.
pub(super) fn of(setup: &JobSetup, reading: &Reading) -> String {
    match reading.value {
        Value::Gap(gap) if reading.quantity == Quantity::Clearance => {
            clearance(setup, reading, gap)
        }
        Value::Amount(amount)
            if reading.quantity == Quantity::ChainPins && setup.profile.chain.is_some() =>
        {
            pins(setup, amount)
        }
        Value::Pair(..) if reading.quantity == Quantity::TopDeadCentre => {
            dead_centre(setup, reading)
        }
        Value::Gap(gap) if reading.quantity == Quantity::Flatness => flat(setup, reading, gap),
        Value::Amount(amount) => limited(setup, reading, amount),
        _ => String::new(),
    }
}

/// A reading with its verdict, as it is said when it is stored.
pub(super) fn after(setup: &JobSetup, state: &State, reading: &Reading, read_back: &str) -> String {
    let all = [
        read_back.to_owned(),
        of(setup, reading),
        meets_the_head(setup, state, reading),
        gives_a_ratio(reading)
            .and_then(|cylinder| ratio(setup, state, Some(reading), cylinder))
            .unwrap_or_default(),
    ];
    let all: Vec<String> = all.into_iter().filter(|words| !words.is_empty()).collect();
    all.join(", ")
}

/// What must be said at once of a gasket or a deck: by them a piston would meet the head.
fn meets_the_head(setup: &JobSetup, state: &State, reading: &Reading) -> String {
    let of = [Quantity::GasketThickness, Quantity::DeckHeight];
    if !of.contains(&reading.quantity) {
        return String::new();
    }
    let counts = |r: &&Reading| of.contains(&r.quantity) || r.quantity == Quantity::Squish;
    let left = |cylinder: u8| {
        let readings = state.counting().readings().filter(counts).chain([reading]);
        squish_by_parts(&setup.profile, state.view.bench(), readings, cylinder)
    };
    let of_head = |c: &u8| setup.profile.head_of(*c) == reading.head;
    let cylinders: Vec<u8> = match reading.cylinder() {
        Some(cylinder) => vec![cylinder],
        None => (1..=setup.profile.cylinders).filter(of_head).collect(),
    };
    let meets = |c: &u8| left(*c).is_some_and(|left| left <= Length::ZERO);
    match cylinders.iter().any(meets) {
        true => setup.answer("meets_the_head", &[]),
        false => String::new(),
    }
}

/// The cylinder of whose compression ratio a reading is a part.
fn gives_a_ratio(reading: &Reading) -> Option<u8> {
    let of = [Quantity::ChamberVolume, Quantity::DeckHeight];
    reading
        .cylinder()
        .filter(|_| of.contains(&reading.quantity))
}

/// The compression ratio of a cylinder, perhaps with a reading that is not stored yet, once all of it
/// is known.
pub(super) fn ratio(
    setup: &JobSetup,
    state: &State,
    with: Option<&Reading>,
    cylinder: u8,
) -> Option<String> {
    let counts = |r: &&Reading| {
        let of = [
            Quantity::ChamberVolume,
            Quantity::DeckHeight,
            Quantity::GasketThickness,
        ];
        of.contains(&r.quantity)
    };
    let readings = state.counting().readings().filter(counts).chain(with);
    let milli = compression_ratio(&setup.profile, state.view.bench(), readings, cylinder)?;
    let value = Decimal::new(milli / 100, 1).to_string();
    let value = setup.grammar.wording.number(&value);
    Some(setup.answer("ratio", &[("value", &value)]))
}

fn clearance(setup: &JobSetup, reading: &Reading, gap: Gap) -> String {
    let Some(position) = reading.position else {
        return String::new();
    };
    let Ok(interval) = Interval::of(gap, &setup.blades) else {
        return String::new();
    };
    let check = setup.profile.side(position.side).check;
    word(setup, Verdict::of(gap, interval, check, &setup.blades))
}

/// A gap under the straight edge against its limit; empty if the blades do not decide.
fn flat(setup: &JobSetup, reading: &Reading, gap: Gap) -> String {
    let key = reading.quantity.key();
    let Ok(Some(limit)) = setup.profile.limit_for(key, None, reading.head) else {
        return String::new();
    };
    let against = Against {
        limit: Some(&limit),
        unit: setup.unit,
    };
    let found = flatness(&[("", gap)], &setup.blades, against);
    match (found.map(|f| f.verdict), limit.most) {
        (Ok(Found::Good), _) => setup.answer("in_limit", &[]),
        (Ok(Found::OutOfLimit), Some(Figure::Amount(most))) => {
            setup.answer("over_limit", &[("limit", &setup.amount_words(most))])
        }
        _ => String::new(),
    }
}

/// The word for a verdict; empty where there is nothing to say.
pub(super) fn word(setup: &JobSetup, verdict: Verdict) -> String {
    let key = match verdict {
        Verdict::InBand => "in_band",
        Verdict::Tight => "is_tight",
        Verdict::Loose => "is_loose",
        Verdict::OnTheLimit => "on_the_limit",
        Verdict::NoGap => "held_open",
        Verdict::Open | Verdict::Contradictory | Verdict::Refitted | Verdict::Unmeasured => {
            return String::new();
        }
    };
    setup.answer(key, &[])
}

/// Where the wheel stands at true top dead centre.
fn dead_centre(setup: &JobSetup, reading: &Reading) -> String {
    let Some(off) = wheel_at_dead_centre_mdeg(reading) else {
        return String::new();
    };
    let key = match off {
        0 => "wheel_right",
        1.. => "wheel_after",
        _ => "wheel_before",
    };
    let degrees = setup.amount_words(Amount::Milli(off.abs(), Unit::Degree));
    setup.answer(key, &[("degrees", &degrees)])
}

fn pins(setup: &JobSetup, amount: Amount) -> String {
    let wanted = setup.profile.chain.and_then(|c| c.pins_between_marks);
    let Some(wanted) = wanted.filter(|w| i64::from(*w) * 1_000 != amount.base()) else {
        return String::new();
    };
    let wanted = setup.grammar.wording.whole(u32::from(wanted));
    setup.answer("wanted", &[("value", &wanted)])
}

/// Against the profile's own limit of that quantity. Compression is left to the report: its limit
/// holds at sea level, and where the bench stands is not known here.
fn limited(setup: &JobSetup, reading: &Reading, amount: Amount) -> String {
    // What adds up is judged as a whole, where it is known; a face beside the contact has no limit.
    let beside = !setup.profile.is_contact(reading);
    if reading.quantity == Quantity::Compression || reading.quantity.adds_up() || beside {
        return String::new();
    }
    let (key, side) = (reading.quantity.key(), reading.side());
    let Ok(Some(limit)) = setup.profile.limit_for(key, side, reading.head) else {
        return String::new();
    };
    let outside = |key: &str, end: Figure| {
        let Figure::Amount(end) = end else {
            return String::new();
        };
        setup.answer(key, &[("limit", &setup.amount_words(end))])
    };
    match (limit.least, limit.most) {
        (Some(least), _) if amount.base() < least.base() => outside("under_limit", least),
        (_, Some(most)) if amount.base() > most.base() => outside("over_limit", most),
        _ => setup.answer("in_limit", &[]),
    }
}
