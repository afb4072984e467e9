//! Conversations about what belongs to a cylinder: which one, the deck, the compression ratio.

use super::{findings, talk};
use crate::measure::LengthUnit::Millimetre;

#[test]
fn a_reading_without_its_cylinder_asks_which() {
    let state = talk(
        "triple",
        Millimetre,
        "
        compression twelve bar => asked | compression twelve bar. which cylinder
        two => stored | cylinder two, compression twelve bar
        eleven point five bar => asked | compression eleven point five bar. which cylinder
        left => asked | compression eleven point five bar. which cylinder
        cylinder three => stored | cylinder three, compression eleven point five bar
        leak down eight per cent => asked | leak down eight per cent. which cylinder
        yes => ignored |
        number one => stored | cylinder one, leak down eight per cent, in limit
        chamber twenty two point five c c => asked | chamber twenty two point five c c. which cylinder
        one inlet left fifteen => stored | one inlet left, point one five, in band. chamber twenty two point five c c still open
        what's still open => stored | chamber twenty two point five c c still open
        chamber two twenty two point five => stored | cylinder two, chamber twenty two point five c c
        what's still open => stored | nothing open
        compression one => asked | compression one
        twelve bar => stored | cylinder one, compression twelve bar
        compression fourteen bar => asked | compression fourteen bar. which cylinder
        seven => asked | compression fourteen bar. which cylinder
    ",
    );
    assert!(!findings(&state).contains("14 bar"));
}

/// Gasket 0.6 and a piston 0.2 above the deck: 0.4 are left (arithmetic). 34.0 - 3.0 + 3.485 - 1.135 =
/// 33.35 are left of 385.87 + 33.35, which is 12.57.
#[test]
fn a_piston_may_stand_above_the_deck() {
    let state = talk(
        "fingertwin",
        Millimetre,
        "
        what's the compression ratio => stored | not yet, chamber, gasket
        chamber one thirty four c c => stored | cylinder one, chamber thirty four c c, in limit
        what's the compression ratio => stored | not yet, gasket
        head gasket point six => stored | gasket point six oh
        deck height one point two above => stored | cylinder one, deck point two oh above, ratio one two point six
        the piston in two is point seven above the deck => stored | cylinder two, deck point seven oh above, stop. piston on the head
        what's the compression ratio => stored | cylinder one, ratio one two point six
        what ratio has cylinder two got => stored | not yet, chamber
    ",
    );
    let found = findings(&state);
    for expected in [
        "cylinder 1 piston below the deck: piston below the deck -0.20 mm",
        "the piston stands above it",
        "cylinder 1 piston to head: piston to head 0.40 mm",
        "cylinder 2 piston to head: piston to head -0.10 mm",
        "the piston meets the head",
    ] {
        assert!(found.contains(expected), "{expected}\n{found}");
    }
}

#[test]
fn without_bore_and_stroke_there_is_no_ratio() {
    talk(
        "triple",
        Millimetre,
        "
        what's the compression ratio => stored | not set
    ",
    );
}
