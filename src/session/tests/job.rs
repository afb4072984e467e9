//! Conversations beyond clearances: inspection, several valves at once, lists, stages, long notes.

use super::{hear, setup, talk};
use crate::event::{
    Coil, Escape, Fact, Fastener, Gap, Line, Part, Position, Reading, Side, Value, Valve,
};
use crate::measure::LengthUnit::{Millimetre, Thou};
use crate::measure::{Amount, Length, Quantity, Unit};
use crate::session::{Acceptance, State};

#[test]
fn an_inspection_is_called_and_corrected() {
    let state = talk("triple", Millimetre, "
        stem two exhaust left five four six five => stored | two exhaust left, stem five point four six five, in limit
        stem five four six four => stored | two exhaust left, stem five point four six four, in limit
        correction five four six three => stored | two exhaust left, stem five point four six three, in limit
        guide two exhaust left five five oh two => stored | two exhaust left, guide five point five oh two
        seat one exhaust point five => asked | one exhaust. which valve, left or right
        left => stored | one exhaust left, seat point five oh, under, limit point nine oh
        lobe two inlet left thirty five point four one => stored | two inlet left, lobe thirty five point four one, in limit
        lobe two inlet left thirty five point two => asked | two inlet left, lobe thirty five point two oh. not the same. confirm
        negative => stored | nothing stored. two inlet left
        compression one twelve and a half bar => stored | cylinder one, compression twelve point five bar
        correction twelve bar => stored | cylinder one, compression twelve bar
        compression two one eight five => asked | cylinder two, compression one hundred and eighty five p s i. confirm
        yes => stored | cylinder two, compression one hundred and eighty five p s i
        leak down three eight per cent exhaust => stored | cylinder three exhaust, leak down eight per cent, in limit
        head bolt seven stage two done => asked | head bolt seven stage two, done. out of order. next, head bolt four stage one. confirm
        thirty five newton metres all ten => asked | each head bolt, thirty five newton metres. forty newton metres wanted. confirm
        plus sixty => stored | each head bolt, plus sixty degrees
        end float inlet cam oh four five => asked | end float point oh four five, or end float point four five. say again
        inlet cam end float zero point zero four five => stored | inlet cam, end float point oh four five, in limit
        disregard => stored | inlet cam, end float point oh four five, disregarded
    ");
    assert_eq!(state.events().len(), 20);
}

#[test]
fn what_is_named_waits_for_its_value() {
    let state = talk(
        "triple",
        Millimetre,
        "
        stem two exhaust left => asked | stem two exhaust left
        pass me that => ignored |
        five four six five => stored | two exhaust left, stem five point four six five, in limit
        compression two => asked | compression two
        twelve and a half bar => stored | cylinder two, compression twelve point five bar
        journal three => asked | journal three
        oh four five => stored | journal three, point oh four five, in limit
        head bolt seven => asked | head bolt seven. out of order. next, head bolt four stage one
        stage two done => asked | head bolt seven stage two, done. out of order. next, head bolt four stage one. confirm
        inlet lobe centre => asked | inlet lobe centre
        one oh four and a half => stored | inlet cam, lobe centre one hundred and four point five degrees, in limit
        guide two exhaust left => asked | guide two exhaust left
        three exhaust right fifteen => stored | three exhaust right, point one five, tight
        sixteen => asked | three exhaust right, point one six. not the same. confirm
    ",
    );
    // Something else was said in between: the guide no longer waits.
    assert!(state.begun().is_none());
}

/// What is read back of an inspection, heard again, is the same reading.
#[test]
#[rustfmt::skip]
fn every_read_back_of_an_inspection_is_itself_a_phrase() {
    let mm = |um: i64| Amount::LengthNm(Length::from_um(um));
    let in_unit = |milli: i64, unit| Amount::Milli(milli, unit);
    let bolt = |number: Option<u8>, stage| Part::Bolt {
        kind: Fastener::CamCap,
        cam: number.map(|_| Side::Inlet),
        number,
        stage,
    };
    let cylinder = |wet, heard| Part::Cylinder {
        number: 2,
        wet,
        heard,
    };
    let cam = Part::Camshaft(Side::Exhaust);
    let at = Some(Position {
        cylinder: 2,
        side: Side::Exhaust,
        valve: Some(Valve::Left),
    });
    let one = Value::Amount;
    let cases = [
        (at, None, Quantity::StemDiameter, one(mm(5_465))),
        (at, None, Quantity::GuideBore, one(mm(5_502))),
        (at, None, Quantity::StemClearance, one(mm(38))),
        (at, None, Quantity::Runout, one(mm(10))),
        (at, None, Quantity::ValveMargin, one(mm(900))),
        (at, None, Quantity::SeatWidth, one(mm(1_100))),
        (at, None, Quantity::SeatWidth, Value::Pair(mm(29_000), mm(27_300))),
        (at, None, Quantity::SpringFreeLength, one(mm(39_800))),
        (at, Some(Part::Spring(Coil::Inner)), Quantity::SpringFreeLength, one(mm(36_000))),
        (at, None, Quantity::SpringOutOfSquare, one(mm(1_200))),
        (at, None, Quantity::InstalledHeight, one(mm(33_500))),
        (at, None, Quantity::SpringLoad, Value::Pair(in_unit(180_000, Unit::Newton), mm(33_500))),
        (at, None, Quantity::LobeHeight, one(mm(35_410))),
        (at, None, Quantity::BucketDiameter, one(mm(25_970))),
        (at, None, Quantity::BucketBore, one(mm(26_010))),
        (None, Some(Part::Journal { cam: Some(Side::Inlet), number: 3, thread: false }), Quantity::JournalClearance, one(mm(45))),
        (None, Some(cam), Quantity::EndFloat, one(mm(120))),
        (None, Some(cam), Quantity::LobeCentre, one(in_unit(104_500, Unit::Degree))),
        (None, Some(cam), Quantity::LobeCentre, Value::Pair(in_unit(151_500, Unit::Degree), in_unit(58_500, Unit::Degree))),
        (None, Some(Part::Line(Line::Diagonal)), Quantity::Flatness, Value::Gap(Gap::Below(Length::from_um(40)))),
        (None, None, Quantity::Flatness, Value::Gap(Gap::AtLeast(Length::from_um(50)))),
        (None, Some(bolt(Some(7), Some(2))), Quantity::Torque, Value::Done),
        (None, Some(bolt(None, Some(2))), Quantity::Torque, one(in_unit(10_000, Unit::NewtonMetre))),
        (None, Some(Part::Bolt { kind: Fastener::HeadBolt, cam: None, number: None, stage: None }), Quantity::AngleStage, one(in_unit(60_000, Unit::Degree))),
        (at, Some(Part::SeatAngle(30)), Quantity::SeatWidth, one(mm(600))),
        (at, None, Quantity::SeatRunout, one(mm(20))),
        (at, None, Quantity::SeatCut, one(mm(50))),
        (at, None, Quantity::TipGround, one(mm(100))),
        (None, None, Quantity::ChainPins, one(in_unit(22_000, Unit::Count))),
        (None, Some(cylinder(false, None)), Quantity::Compression, one(in_unit(12_500, Unit::Bar))),
        (None, Some(cylinder(true, None)), Quantity::Compression, one(in_unit(185_000, Unit::Psi))),
        (None, Some(cylinder(false, Some(Escape::OilFiller))), Quantity::LeakDown, one(in_unit(8_000, Unit::Percent))),
        (None, Some(cylinder(false, None)), Quantity::LeakDown, Value::Pair(in_unit(80_000, Unit::Psi), in_unit(74_000, Unit::Psi))),
        (None, None, Quantity::RoomTemperature, one(in_unit(18_000, Unit::Celsius))),
    ];
    let setup = setup("triple", Millimetre);
    for (position, part, quantity, value) in cases {
        let reading = Reading {
            position,
            part,
            head: None,
            quantity,
            value,
            unit: Millimetre,
        };
        let spoken = setup.grammar.wording.reading(&reading);
        let (_, event) = hear(&setup, &State::new(&setup), &spoken, Acceptance::Accept);
        assert!(
            event.facts.contains(&Fact::Read(reading)),
            "{spoken} -> {event:?}"
        );
    }
}

#[test]
fn cap_three_of_one_cam_is_not_cap_three_of_the_other() {
    talk(
        "triple",
        Millimetre,
        "
        cap three inlet ten newton metres => stored | cam cap three inlet, ten newton metres
        cap three exhaust nine newton metres => asked | cam cap three exhaust, nine newton metres. ten newton metres wanted. confirm
        cap three inlet twelve newton metres => asked | cam cap three inlet, twelve newton metres. ten newton metres wanted. confirm
        twenty two foot pounds => asked | cam cap three inlet, twenty two foot pounds. ten newton metres wanted. confirm
    ",
    );
}

#[test]
fn pounds_are_the_units_of_a_thou_job_only_where_it_says_so() {
    talk(
        "six",
        Thou,
        "
        twelve point five bar compression one => ignored |
        compression one twelve point five bar => stored | cylinder one, compression twelve point five bar
        journal two point oh oh two => stored | journal two, two thou
    ",
    );
}

#[test]
fn several_valves_at_once_are_listed_and_asked() {
    let state = talk("triple", Millimetre, "
        both inlets on two are fifteen => asked | two inlet left, two inlet right, point one five. confirm
        roger => asked | two inlet left, two inlet right, point one five. confirm
        affirm => stored | two inlet left, two inlet right, point one five
        both inlets are fifteen => refused | no such valve. say again
        all exhausts on one fifteen goes eighteen won't => asked | one exhaust left, one exhaust right, point one five not one eight. confirm
        disregard => stored | nothing stored
        how many left => stored | ten to measure
    ");
    assert!(state.question.is_none());
}

#[test]
fn a_shim_in_hand_a_step_along_the_series_and_a_reading_moved() {
    talk(
        "triple",
        Millimetre,
        "
        one inlet left shim two sixty => stored | one inlet left, shim two point six oh
        two five => asked | point two five, or shim two point five oh. say again
        clearance fifteen => stored | one inlet left, point one five, in band
        up one size => asked | one inlet left, shim two point six five. confirm
        yes => stored | one inlet left, shim two point six five
        two inlet left eighteen => stored | two inlet left, point one eight, in band
        wrong hole that was three => asked | three inlet left, point one eight. confirm
        yes => stored | three inlet left, point one eight, in band
        read back two inlet left => stored | two inlet left, not measured
        go back one => stored | one inlet left
        same hole exhaust right => stored | one exhaust right
    ",
    );
}

#[test]
fn what_may_mean_several_things_is_asked_only_where_work_is_going_on() {
    talk(
        "triple",
        Millimetre,
        "
        eight to ten => ignored |
        three exhaust left => stored | three exhaust left
        eight to ten => asked | say again
        just nips the fifteen => asked | say again. say, three exhaust left, fifteen goes, eighteen does not
        yeah nah => asked | say again. say, three exhaust left, fifteen goes, eighteen does not
        hang on => ignored |
        sorry eighteen => refused | nothing to correct
        ten plus five => stored | three exhaust left, point one five, tight
        sorry eighteen => asked | three exhaust left, point one eight. confirm
    ",
    );
}

#[test]
fn the_list_of_what_is_open_and_where_the_job_stands() {
    let state = talk("triple", Millimetre, "
        remind me new cover gasket => stored | on the list
        order two stem seals => stored | on the list
        mark that one for lapping => refused | say the position
        three exhaust left => stored | three exhaust left
        mark that one for lapping => stored | three exhaust left, on the list
        what's still open => stored | new cover gasket. order two stem seals. three exhaust left lapping
        tick off seals => stored | off the list
        tick off bananas => refused | not on the list
        dowels two => stored | dowels two
        still warm => stored | still warm
        numbers face down => stored | three exhaust left, mark down
        lapping done => stored | lapping, done
        where am i => stored | lapping, done. last, three exhaust left, mark down. twelve to measure. two on the list
    ");
    assert_eq!(state.counting().tasks().len(), 2);
    assert_eq!(state.counting().checks().len(), 3);
}

#[test]
fn cautions_are_read_once() {
    let state = talk("triple", Millimetre, "
        start springs => stored | springs and collets. a spring in the compressor is loaded: goggles on, face out of line, collets seated before you let go. not yet, seals new
        seals new => stored | seals new
        start springs => stored | springs and collets
        springs done => stored | springs and collets, done
    ");
    assert_eq!(state.counting().stage(), Some(("springs", true)));
}

#[test]
fn a_long_note_takes_every_sentence_until_it_ends() {
    let state = talk(
        "triple",
        Millimetre,
        "
        end of note => ignored |
        take a note => stored | note
        the seat ring is even all round => stored |
        three exhaust left fifteen goes => stored |
        strike that => stored | removed
        the face wants another minute => stored |
        end of note => stored | noted
        three exhaust left fifteen => stored | three exhaust left, point one five, tight
    ",
    );
    let notes = state.counting().notes();
    assert_eq!(notes.len(), 1);
    assert_eq!(
        notes[0].text,
        "the seat ring is even all round. the face wants another minute"
    );
    let remaining = state.view.remaining();
    assert_eq!(remaining.len(), 11, "a sentence of a note is not a reading");
}

/// Homophones of phrases.tsv's kind: common practice, no source.
#[test]
fn words_that_sound_like_a_value_are_asked_while_a_valve_is_open() {
    talk(
        "triple",
        Millimetre,
        "
        ate => ignored |
        three exhaust left => stored | three exhaust left
        ate => asked | three exhaust left, point oh eight. confirm
        negative => stored | nothing stored. three exhaust left
        fifteen for => ignored |
        six cow => asked | three exhaust left, six thou. confirm
        pass it to me => ignored |
        affirm => stored | three exhaust left, six thou, tight
    ",
    );
}

#[test]
fn spares_are_corrected_too() {
    let state = talk(
        "triple",
        Millimetre,
        "
        correction two of two sixty => refused | nothing to correct
        two of two fifty in the box => stored | spare shim two point five oh, two pieces
        one of two sixty in the box => stored | spare shim two point six oh
        correction three of two sixty => stored | spare shim two point six oh, three pieces
        correction one of two fifty => asked | spare shim two point five oh, three pieces. confirm
        negative => stored | nothing stored
    ",
    );
    let counts = [2_500, 2_600].map(|um| state.counting().spares(Length::from_um(um), None));
    assert_eq!(counts, [2, 3]);
}

#[test]
fn the_sister_of_the_open_valve_is_opened_and_a_question_comes_first() {
    talk(
        "triple",
        Millimetre,
        "
        right valve => ignored |
        three exhaust left => stored | three exhaust left
        right valve => stored | three exhaust right
        two inlet fifteen => asked | two inlet. which valve, left or right
        left valve => stored | two inlet left, point one five, in band
    ",
    );
}

#[test]
fn orders_and_places_that_the_job_does_not_know_are_asked() {
    talk("triple", Millimetre, "
        going left to right => asked | say the position
        timing side => asked | say the position
        two inlet left between eighty nine => asked | say again
        two inlet left on the kettle => ignored | …
        one through three inlets => asked | say the position
        one oh four and a half => asked | which one. say again
        inlet lobe centre one oh four and a half => stored | inlet cam, lobe centre one hundred and four point five degrees, in limit
    ");
}

#[test]
fn done_ends_the_stage_that_was_begun() {
    let state = talk("triple", Millimetre, "
        done => ignored |
        start cam timing => stored | cam timing. fingers clear of the chain and the sprockets. ignition off, gearbox in neutral.
        done => stored | cam timing, done
        done => ignored |
        no tick => stored | no tick. a tight valve is silent
        idle eleven hundred => stored | idle eleven hundred
        lapped two inlet left no weep five minutes => stored | two inlet left, lapped. two inlet left, no weep, five minutes
        oil pressure up no tick idle eleven fifty => stored | oil pressure up. no tick. idle eleven fifty. a tight valve is silent
        plugs in and dowels two => stored | plugs in. dowels two
        disregard => stored | plugs in. dowels two, disregarded
    ");
    assert_eq!(state.counting().stage(), Some(("timing", true)));
}

#[test]
fn a_shim_waits_for_its_value_and_its_unit_may_be_called() {
    talk("triple", Millimetre, "
        three exhaust left shim => asked | three exhaust left shim
        two sixty five => stored | three exhaust left, shim two point six five
        three mil => asked | three exhaust left, shim three point oh oh. read again, or changed
        affirm => asked | three exhaust left, shim three point oh oh. read again, or changed
        stem clearance three exhaust left forty microns => stored | three exhaust left, stem clearance point oh four, in limit
    ");
}

#[test]
fn a_limit_is_asked_by_its_name() {
    talk(
        "triple",
        Millimetre,
        "
        what's the limit on seat width => stored | not less than point nine oh, not more than one point four oh
        what's the limit for the stem clearance => stored | inlet, not more than point oh eight. exhaust, not more than point one oh
        what's the exhaust stem clearance limit => stored | not more than point one oh
        what's the limit on wobble => stored | no limit set
    ",
    );
}
