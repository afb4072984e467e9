//! Conversations about an engine with two heads.

use super::talk;
use crate::event::{Head, Part, Reading};
use crate::measure::{LengthUnit, Quantity};
use crate::session::State;

fn vtwin(script: &str) -> State {
    talk("vtwin", LengthUnit::Millimetre, script)
}

fn of(state: &State, quantity: Quantity) -> Vec<(Option<Head>, Option<Part>)> {
    let all = state.counting().readings();
    let of = all.filter(|r: &&Reading| r.quantity == quantity);
    of.map(|r| (r.head, r.part)).collect()
}

#[test]
fn a_reading_of_a_head_names_it_and_the_other_head_keeps_its_own() {
    let state = vtwin(
        "
        front inlet cam end float point one two => stored | front inlet cam, end float point one two, in limit
        end float rear inlet cam point three one => stored | rear inlet cam, end float point three one, over, limit point two five
    ",
    );
    let heads: Vec<Option<Head>> = of(&state, Quantity::EndFloat).iter().map(|r| r.0).collect();
    assert_eq!(heads, [Some(Head::Front), Some(Head::Rear)]);
}

#[test]
fn which_head_is_asked_and_never_guessed() {
    let state = vtwin(
        "
        front inlet cam end float point one two => stored | front inlet cam, end float point one two, in limit
        end float inlet cam point one four => asked | inlet cam, end float point one four. front or rear
        rear => stored | rear inlet cam, end float point one four, in limit
        head face diagonal oh three goes oh four doesn't => asked | head face diagonal, point oh three not oh four. front or rear
        the rear one => stored | rear head face diagonal, point oh three not oh four, in limit
        twenty six pins => asked | twenty six pins. front or rear
        front head => stored | front, twenty six pins, over, limit twenty four pins
        journal three oh four five => asked | journal three, point oh four five. front or rear
        front bank => stored | front journal three, point oh four five, in limit
        cap three ten newton metres => asked | cam cap three, ten newton metres. front or rear
        what's left => stored | eight to measure
        rear cap three stage one done => stored | rear cam cap three stage one, done
    ",
    );
    let heads: Vec<Option<Head>> = of(&state, Quantity::EndFloat).iter().map(|r| r.0).collect();
    assert_eq!(heads, [Some(Head::Front), Some(Head::Rear)]);
}

#[test]
fn a_head_named_alone_holds_until_another_or_a_valve_is_named() {
    vtwin(
        "
        rear head => stored | rear head
        head bolt one stage one done => stored | rear head bolt one stage one, done
        head bolt three stage one done => stored | rear head bolt three stage one, done
        what's the next bolt => stored | next, rear head bolt two stage one, fifteen newton metres
        front head bolt one stage one done => stored | front head bolt one stage one, done
        head bolt three stage one done => asked | head bolt three stage one, done. front or rear
        front => stored | front head bolt three stage one, done
        next bolt on the rear => stored | next, rear head bolt two stage one, fifteen newton metres
        now for the front head => stored | front head
        one inlet left fifteen => stored | one inlet left, point one five, in band
        head bolt two stage one done => stored | front head bolt two stage one, done
        two inlet left fifteen => stored | two inlet left, point one five, in band
        head bolt four stage one done => asked | head bolt four stage one, done. front or rear
        no => stored | nothing stored
        head bolt two stage one done => asked | head bolt two stage one, done. front or rear
    ",
    );
}

#[test]
fn the_order_of_bolts_is_that_of_each_head() {
    vtwin(
        "
        front head bolt one stage one done => stored | front head bolt one stage one, done
        rear head bolt three stage one done => asked | rear head bolt three stage one, done. out of order. next, rear head bolt one stage one. confirm
        no => stored | nothing stored
        rear head bolt one stage one done => stored | rear head bolt one stage one, done
        plus ninety on all rear head bolts => ignored |
        all rear head bolts plus ninety => asked | each rear head bolt, plus ninety degrees. out of order. next, rear head bolt three stage one. confirm
        no => stored | nothing stored
        all rear head bolts fifteen newton metres stage one => stored | each rear head bolt stage one, fifteen newton metres
        all rear head bolts twenty five newton metres stage two => stored | each rear head bolt stage two, twenty five newton metres
        plus ninety => stored | each rear head bolt, plus ninety degrees
    ",
    );
}

#[test]
fn a_correction_stays_on_the_head_that_it_is_of() {
    let state = vtwin(
        "
        rear exhaust cam lobe centre one oh seven => stored | rear exhaust cam, lobe centre one hundred and seven degrees, in limit
        correction one oh eight => stored | rear exhaust cam, lobe centre one hundred and eight degrees, in limit
        front journal two inlet oh four => stored | front inlet journal two, point oh four, in limit
        no rear => stored | rear inlet journal two, point oh four, in limit
        sorry I meant the front => stored | front inlet journal two, point oh four, in limit
        front lobe centre exhaust one oh eight => stored | front exhaust cam, lobe centre one hundred and eight degrees, in limit
        front exhaust cam lobe centre one oh six => asked | front exhaust cam, lobe centre one hundred and six degrees. not the same. confirm
        yes => stored | front exhaust cam, lobe centre one hundred and six degrees, in limit
    ",
    );
    let heads: Vec<Option<Head>> = of(&state, Quantity::LobeCentre)
        .iter()
        .map(|r| r.0)
        .collect();
    assert!(heads.contains(&Some(Head::Rear)) && heads.contains(&Some(Head::Front)));
}

#[test]
fn an_engine_with_one_head_has_no_front_and_rear() {
    talk(
        "triple",
        LengthUnit::Millimetre,
        "
        front => ignored |
        rear head => ignored |
        rear inlet cam end float point one two => asked | inlet cam, end float point one two. confirm
        yes => stored | inlet cam, end float point one two, in limit
    ",
    );
}
