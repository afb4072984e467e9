//! A shim that is called where another is: read again, changed, or fitted as the plan says.

use super::{Decision, JobSetup, State};
use crate::event::{Doubt, Fact, Outcome, Question, Reading, Source};
use crate::measure::{Length, Quantity};

/// Two sizes that differ by no more than this are one shim, marked and measured. The bench folds
/// readings by the same rule.
pub(super) const SAME_SHIM: Length = crate::engine::ANOTHER_SHIM;

/// Whether a shim that follows another is plain: the same one measured, or the very one of the plan
/// while shims are being fitted.
pub(super) fn is_expected(state: &State, old: &Reading, new: &Reading) -> bool {
    let (Some(before), Some(now)) = (old.value.shim_size(), new.value.shim_size()) else {
        return false;
    };
    if (now - before).abs() <= SAME_SHIM {
        return true;
    }
    let planned = |p| {
        state
            .view
            .plan()
            .fittings
            .iter()
            .any(|f| f.position == p && f.new_nm == now)
    };
    state.is_fitting() && new.position.is_some_and(planned)
}

/// Why such a size is asked.
pub(super) const SOUNDS_LIKE_ANOTHER: &str =
    "a size that the series lacks, and that sounds like one that it has";

/// Whether a size that the series lacks sounds like one that it has: "two seventeen" is "two seventy"
/// with its end cut off.
pub(super) fn sounds_like_another(setup: &JobSetup, size: Length) -> bool {
    let hundredths = size.nm() / 10_000;
    let (whole, part) = (hundredths / 100, hundredths % 100);
    let series = &setup.profile.shims.series;
    let tens = Length::from_um((whole * 100 + (part - 10) * 10) * 10);
    let is_whole = size.nm() % 10_000 == 0;
    is_whole && (13..=19).contains(&part) && series.contains(&tens) && !series.contains(&size)
}

/// The question: was the shim read again, or changed?
pub(super) fn question(
    setup: &JobSetup,
    state: &State,
    reading: &Reading,
    proposed: Vec<Fact>,
) -> Question {
    let read_back = setup.wording(state).reading(reading);
    Question::plain(
        Doubt::Overturns,
        proposed,
        setup.answer("again_or_changed", &[("reading", &read_back)]),
    )
}

/// Whether the question that waits is whether a shim was read again or changed: a yes answers it not.
#[must_use]
pub(crate) fn asks_whether_changed(state: &State) -> bool {
    asked(state).is_some()
}

/// The shim that waits for "read again" or "changed".
pub(super) fn asked(state: &State) -> Option<Reading> {
    let overturns = state
        .question
        .as_ref()
        .is_some_and(|q| q.doubt == Doubt::Overturns);
    let (_, reading) = state.asked_reading().filter(|_| overturns)?;
    (reading.quantity == Quantity::ShimFitted).then_some(reading)
}

/// "Read again": the shim was read wrongly before. What was read no longer counts; the clearance
/// stands, and nothing goes into the box.
pub(super) fn read_again(setup: &JobSetup, state: &State, reading: Reading) -> Decision {
    let counting = state.counting();
    let mut facts = vec![Fact::Closed];
    if let Some((id, old)) = counting.latest_like(&reading) {
        facts.extend(counting.instead(id, |r| (*r != old).then_some(*r)));
    }
    facts.push(Fact::Read(reading));
    Decision::new(
        Outcome::Stored,
        "the shim was read again: it was not changed",
    )
    .about(reading.position)
    .say(setup.wording(state).reading(&reading))
    .adds(facts)
}

/// "Changed": another shim is in. The old one goes into the box, and the valve is measured again.
pub(super) fn changed(setup: &JobSetup, state: &State, reading: Reading) -> Decision {
    let mut proposed = state
        .question
        .as_ref()
        .map(|q| q.proposed.clone())
        .unwrap_or_default();
    // Told without its source, it is from the box; without it, it would be another reading of the old
    // one if the valve was not measured.
    let is_source = |f: &Fact| matches!(f, Fact::ShimFrom { .. });
    if let Some(position) = reading.position.filter(|_| !proposed.iter().any(is_source)) {
        let source = Source::Box;
        proposed.insert(0, Fact::ShimFrom { position, source });
    }
    let fitted = setup.wording(state).reading(&reading);
    Decision::new(Outcome::Stored, "another shim was fitted")
        .about(reading.position)
        .say(setup.answer("fitted", &[("reading", &fitted)]))
        .adds([Fact::Closed])
        .adds(proposed)
}
