//! Conversations about a skimmed head and true top dead centre.

use super::talk;
use crate::measure::LengthUnit;
use crate::session::State;

fn findings(state: &State) -> String {
    let all = state.view.findings(0).items;
    let words = all.into_iter().map(|i| {
        let reason = i.finding.map(|f| f.reason).unwrap_or_default();
        format!("{} {}: {reason}", i.place, i.what)
    });
    words.collect::<Vec<_>>().join("\n")
}

#[test]
fn what_is_skimmed_adds_up_on_each_head() {
    let state = talk(
        "vtwin",
        LengthUnit::Millimetre,
        "
        skimmed the rear head by ten hundredths => stored | rear, head face cut point one oh
        took five hundredths off the rear head => stored | rear, head face cut point oh five
        front head face cut ten hundredths => stored | front, head face cut point one oh
        head gasket one point two => asked | gasket one point two oh. front or rear
        rear => stored | rear, gasket one point two oh
        piston to head two one point one => stored | cylinder two, piston to head one point one oh
        squish one point nine five => stored | cylinder one, piston to head point nine five
    ",
    );
    let found = findings(&state);
    assert!(
        found.contains("rear head face cut off the face: cut off the face 0.15 mm"),
        "{found}"
    );
    assert!(
        found.contains("front head face cut off the face: cut off the face 0.10 mm"),
        "{found}"
    );
}

/// Mean of the two readings at a positive stop, the one before being negative: 20 before and 24 after
/// give 2 after (arithmetic; the method is common practice, no source). Up 151.5, down 58.5: 93 between.
#[test]
fn a_positive_stop_gives_true_top_dead_centre() {
    let state = talk(
        "triple",
        LengthUnit::Millimetre,
        "
        stop twenty degrees before and twenty four after => stored | stop twenty before twenty four after, top dead centre two degrees after
        correction stop at twenty three before twenty two after => stored | stop twenty three before twenty two after, top dead centre point five degrees before
        inlet up one hundred and fifty one and a half down fifty eight and a half => stored | inlet cam, up one hundred and fifty one point five down fifty eight point five
    ",
    );
    let found = findings(&state);
    assert!(
        found.contains("the wheel shows 0.5° before at true top dead centre"),
        "{found}"
    );
    assert!(
        found.contains("93° between the same lift on both flanks"),
        "{found}"
    );
}
