//! A blade that the person does not own: which of theirs was it?

use super::{JobSetup, State};
use crate::event::{Doubt, Fact, Gap, Question, Reading, Value};
use crate::measure::{Length, LengthUnit};

/// The question that offers the two blades next to one that is not owned.
pub(super) fn question(
    setup: &JobSetup,
    state: &State,
    reading: &Reading,
    proposed: &[Fact],
) -> Option<Question> {
    let (missing, next_to_it) = not_owned(setup, reading)?;
    let wording = setup.wording(state);
    let spoken = wording.reading(reading);
    let crosses = |blade: &Length| match with_blade(reading, missing, *blade).value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => goes_nm >= stops_nm,
        _ => false,
    };
    let owned: Vec<Length> = next_to_it.into_iter().flatten().collect();
    let owned: Vec<Length> = owned.into_iter().filter(|b| !crosses(b)).collect();
    let names: Vec<String> = owned
        .iter()
        .map(|b| wording.length(*b, reading.unit))
        .collect();
    let words = setup.answer(
        "no_such_blade",
        &[
            ("reading", &spoken),
            ("choices", &names.join(&format!(" {} ", wording.or))),
        ],
    );
    let choices = owned
        .iter()
        .map(|b| Fact::Read(with_blade(reading, missing, *b)));
    Some(Question {
        doubt: Doubt::Unusual,
        proposed: proposed.to_vec(),
        unplaced: None,
        choices: choices.collect(),
        words,
    })
}

/// A blade that was named, as if the person owned it, and does not: the two that they own next to it.
fn not_owned(setup: &JobSetup, reading: &Reading) -> Option<(Length, [Option<Length>; 2])> {
    let Value::Gap(gap) = reading.value else {
        return None;
    };
    let named = match gap {
        Gap::Between { goes_nm, stops_nm } => vec![goes_nm, stops_nm],
        Gap::AtLeast(blade) | Gap::Below(blade) => vec![blade],
        Gap::Single(_) | Gap::None => Vec::new(),
    };
    // Blades that are marked in another unit say nothing.
    let step = match reading.unit {
        LengthUnit::Thou | LengthUnit::Inch => Length::from_nm(12_700),
        LengthUnit::Millimetre | LengthUnit::Micron => Length::from_um(10),
    };
    let in_unit = |blade: &Length| blade.nm() % step.nm() == 0;
    if !setup.blades.iter().any(in_unit) {
        return None;
    }
    let missing = named.into_iter().find(|b| !setup.blades.contains(b))?;
    let below = setup.blades.iter().rev().find(|b| **b < missing).copied();
    let above = setup.blades.iter().find(|b| **b > missing).copied();
    Some((missing, [below, above]))
}

/// The same reading with another blade in the place of one.
fn with_blade(reading: &Reading, missing: Length, blade: Length) -> Reading {
    let other = |b: Length| if b == missing { blade } else { b };
    let value = match reading.value {
        Value::Gap(Gap::Between { goes_nm, stops_nm }) => Value::Gap(Gap::Between {
            goes_nm: other(goes_nm),
            stops_nm: other(stops_nm),
        }),
        Value::Gap(Gap::AtLeast(b)) => Value::Gap(Gap::AtLeast(other(b))),
        Value::Gap(Gap::Below(b)) => Value::Gap(Gap::Below(other(b))),
        value => value,
    };
    Reading { value, ..*reading }
}
