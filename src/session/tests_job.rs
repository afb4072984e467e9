//! Conversations beyond clearances: inspection, several valves at once, lists, stages, long notes.

use super::tests::talk;
use crate::measure::LengthUnit::{Millimetre, Thou};

#[test]
fn an_inspection_is_called_and_corrected() {
    let state = talk("triple", Millimetre, "
        stem two exhaust left five four six five => stored | cylinder two exhaust left, stem five point four six five
        stem five four six four => stored | cylinder two exhaust left, stem five point four six four
        correction five four six three => stored | cylinder two exhaust left, stem five point four six three
        guide two exhaust left five five oh two => stored | cylinder two exhaust left, guide five point five zero two
        seat one exhaust point five => asked | cylinder one exhaust. which valve, left or right
        left => stored | cylinder one exhaust left, seat zero point five zero
        lobe two inlet left thirty five point four one => stored | cylinder two inlet left, lobe three five point four one
        lobe two inlet left thirty five point two => asked | cylinder two inlet left, lobe three five point two zero. not the same. confirm
        negative => stored | nothing stored
        compression one twelve and a half bar => stored | cylinder one, compression one two point five bar
        correction twelve bar => stored | cylinder one, compression one two bar
        compression two one eight five => asked | cylinder two, compression one eight five p s i. confirm
        yes => stored | cylinder two, compression one eight five p s i
        leak down three eight per cent exhaust => stored | cylinder three exhaust, leak down eight per cent
        head bolt seven stage two done => stored | head bolt seven stage two, done
        thirty five newton metres all ten => stored | each head bolt, three five newton metres
        plus ninety => stored | each head bolt, plus nine zero degrees
        end float inlet cam oh four five => asked | end float zero point zero four five, or end float zero point four five. say again
        inlet cam end float zero point zero four five => stored | inlet cam, end float zero point zero four five
        disregard => stored | inlet cam, end float zero point zero four five, disregarded
    ");
    assert_eq!(state.events().len(), 20);
}

#[test]
fn cap_three_of_one_cam_is_not_cap_three_of_the_other() {
    talk(
        "triple",
        Millimetre,
        "
        cap three inlet ten newton metres => stored | cam cap three inlet, one zero newton metres
        cap three exhaust nine newton metres => stored | cam cap three exhaust, nine newton metres
        cap three inlet twelve newton metres => asked | cam cap three inlet, one two newton metres. not the same. confirm
        twenty two foot pounds => asked | cam cap three exhaust, two two pound feet. not the same. confirm
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
        compression one twelve point five bar => stored | cylinder one, compression one two point five bar
        journal two point oh oh two => stored | journal two, zero two thou
    ",
    );
}

#[test]
fn several_valves_at_once_are_listed_and_asked() {
    let state = talk("triple", Millimetre, "
        both inlets on two are fifteen => asked | cylinder two inlet left, cylinder two inlet right, zero point one five. confirm
        roger => ignored |
        affirm => stored | cylinder two inlet right, zero point one five
        both inlets are fifteen => refused | no such valve. say again
        all exhausts on one fifteen goes eighteen won't => asked | cylinder one exhaust left, cylinder one exhaust right, zero point one five goes, zero point one eight does not. confirm
        disregard => stored | nothing stored
        how many left => stored | ten more
    ");
    assert!(state.question.is_none());
}

#[test]
fn a_shim_in_hand_a_step_along_the_series_and_a_reading_moved() {
    talk("triple", Millimetre, "
        one inlet left shim two sixty => stored | cylinder one inlet left, shim two point six zero
        two five => asked | zero point two five, or shim two point five zero. say again
        clearance fifteen => stored | cylinder one inlet left, zero point one five
        up one size => asked | cylinder one inlet left, shim two point six five. confirm
        yes => stored | cylinder one inlet left, shim two point six five
        two inlet left eighteen => stored | cylinder two inlet left, zero point one eight
        wrong hole that was three => asked | cylinder three inlet left, zero point one eight. confirm
        yes => stored | cylinder three inlet left, zero point one eight
        read back two inlet left => stored | cylinder two inlet left, not measured
        go back one => stored | cylinder one inlet left
        same hole exhaust right => stored | cylinder one exhaust right
    ");
}

#[test]
fn what_may_mean_several_things_is_asked_only_where_work_is_going_on() {
    talk(
        "triple",
        Millimetre,
        "
        eight to ten => ignored |
        three exhaust left => stored | cylinder three exhaust left
        eight to ten => asked | say again
        just nips the fifteen => asked | say again
        yeah nah => asked | say again
        hang on => ignored |
        sorry eighteen => refused | nothing to correct
        ten plus five => stored | cylinder three exhaust left, zero point one five
        sorry eighteen => asked | cylinder three exhaust left, zero point one eight. confirm
    ",
    );
}

#[test]
fn the_list_of_what_is_open_and_where_the_job_stands() {
    let state = talk("triple", Millimetre, "
        remind me new cover gasket => stored | on the list
        order two stem seals => stored | on the list
        mark that one for lapping => refused | say the position
        three exhaust left => stored | cylinder three exhaust left
        mark that one for lapping => stored | cylinder three exhaust left, on the list
        what's still open => stored | new cover gasket. order two stem seals. cylinder three exhaust left lapping
        tick off seals => stored | off the list
        tick off bananas => refused | not on the list
        dowels two => stored | dowels two
        still warm => stored | warm
        numbers face down => stored | cylinder three exhaust left, mark down
        lapping done => stored | lapping, done
        where am i => stored | lapping, done. last, cylinder three exhaust left, mark down. one two not measured. two on the list
    ");
    assert_eq!(state.tasks().len(), 2);
    assert_eq!(state.checks().len(), 3);
}

#[test]
fn cautions_are_read_once() {
    let state = talk("triple", Millimetre, "
        start springs => stored | springs and collets. a spring in the compressor is loaded: goggles on, face out of line, collets seated before you let go.
        start springs => stored | springs and collets
        springs done => stored | springs and collets, done
    ");
    assert_eq!(state.stage(), Some(("springs", true)));
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
        three exhaust left fifteen => stored | cylinder three exhaust left, zero point one five
    ",
    );
    let notes = state.notes();
    assert_eq!(notes.len(), 1);
    assert_eq!(
        notes[0].text,
        "the seat ring is even all round. the face wants another minute"
    );
    let measured = state.unmeasured(&super::tests::desk("triple", Millimetre).profile);
    assert_eq!(measured.len(), 11, "a sentence of a note is no reading");
}
