//! Tests of the report.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::engine::SHIPPED;
use crate::event::{About, Event, Fact, Gap, Outcome, Reading, Repair, Side, Sound, Value};
use crate::event::{Position, Valve as Name};
use crate::measure::{Amount, Quantity, Unit};

fn profile() -> Profile {
    Profile::parse(SHIPPED[0].1, "triple").unwrap()
}

fn event(id: u64, facts: Vec<Fact>) -> Event {
    Event {
        id,
        at_ms: 1_700_000_000_000 + i64::try_from(id).unwrap() * 60_000,
        said: format!("<b>line {id}</b>"),
        outcome: Outcome::Stored,
        why: String::new(),
        spoken: "yes".to_owned(),
        command: None,
        subject: None,
        confidence: 1.0,
        rival: None,
        sound: Some(Sound {
            sha256: format!("{id:064x}"),
            length_ms: 1_000,
            overruns: u32::from(id == 3),
            model: "abcd".to_owned(),
        }),
        grammar: "ef01".to_owned(),
        facts,
    }
}

fn left() -> Position {
    Position {
        cylinder: 1,
        side: Side::Inlet,
        valve: Some(Name::Left),
    }
}

fn reading_of(quantity: Quantity, value: Value, position: Option<Position>) -> Fact {
    Fact::Read(Reading {
        position,
        part: None,
        head: None,
        quantity,
        value,
        unit: LengthUnit::Millimetre,
    })
}

fn gap(goes: i64, stops: i64) -> Fact {
    let value = Value::Gap(Gap::Between {
        goes_nm: Length::from_um(goes),
        stops_nm: Length::from_um(stops),
    });
    reading_of(Quantity::Clearance, value, Some(left()))
}

fn shim(um: i64) -> Fact {
    let value = Value::Shim {
        marked_nm: Some(Length::from_um(um)),
        measured_nm: None,
    };
    reading_of(Quantity::ShimFitted, value, Some(left()))
}

fn amount(quantity: Quantity, milli: i64, unit: Unit) -> Fact {
    reading_of(quantity, Value::Amount(Amount::Milli(milli, unit)), None)
}

/// Tight at 0.06, shim changed from 2.70 to 2.60, then 0.16.
fn job() -> Vec<Event> {
    vec![
        event(1, vec![shim(2_700)]),
        event(2, vec![gap(60, 80)]),
        event(
            3,
            vec![Fact::Note {
                position: Some(left()),
                text: "score mark <here>".to_owned(),
            }],
        ),
        event(4, vec![shim(2_600)]),
        event(5, vec![gap(160, 180)]),
        event(6, vec![amount(Quantity::Torque, 10_000, Unit::NewtonMetre)]),
        event(7, vec![amount(Quantity::ChainPins, 25_000, Unit::Count)]),
        event(8, vec![Fact::Cancelled(5), gap(150, 180)]),
    ]
}

fn report(events: &[Event]) -> Report {
    let profile = profile();
    let view = JobView::of(&profile, &profile.blades, events);
    Report::of(&Source {
        profile: &profile,
        unit: LengthUnit::Millimetre,
        blades: &profile.blades.clone(),
        view: &view,
        software: "test 1",
        made_at_ms: 1_700_000_900_000,
    })
}

fn html(report: &Report) -> String {
    report.html(None, &TimeZone::UTC)
}

#[test]
fn before_and_after_stand_apart() {
    let report = report(&job());
    let valve = &report.valves[0];
    assert_eq!(valve.position, left());
    let before = valve.before.unwrap();
    assert_eq!(before.clearance.low, Some(Length::from_um(60)));
    assert_eq!(before.shim_nm, Some(Length::from_um(2_700)));
    let after = valve.after.unwrap();
    assert_eq!(after.clearance.low, Some(Length::from_um(150)));
    assert_eq!(after.shim_nm, Some(Length::from_um(2_600)));
    let (one, none) = (&report.fitted[0], report.valves[1].before);
    assert_eq!((one.old_nm.nm(), one.new_nm.nm()), (2_700_000, 2_600_000));
    assert_eq!(none, None);
    // 2.60 was neither in the box nor in the head.
    assert_eq!(report.bought[0].size_nm, Length::from_um(2_600));
    assert_eq!(report.spare[0].size_nm, Length::from_um(2_700));
}

#[test]
fn checks_are_held_against_the_profile() {
    let report = report(&job());
    let found: Vec<(&str, &str)> = report
        .findings
        .iter()
        .filter_map(|i| Some((i.what, i.finding.as_ref()?.reason.as_str())))
        .collect();
    let pins = found
        .iter()
        .find(|(what, _)| *what == "chain pins")
        .unwrap();
    assert!(
        pins.1
            .ends_with("1 pin more than wanted: 21.2 degrees of crank"),
        "{found:?}"
    );
    assert_eq!(report.checks.len(), 2);
}

#[test]
fn corrections_lost_sound_and_versions_are_listed() {
    let report = report(&job());
    let correction = &report.corrections[0];
    assert_eq!((correction.event, correction.of), (8, 5));
    assert!(correction.was.contains("0.16 goes"), "{}", correction.was);
    assert!(correction.now.contains("0.15 goes"), "{}", correction.now);
    assert_eq!(report.utterances.with_lost_sound, 1);
    assert_eq!(report.versions.models, ["abcd"]);
    assert_eq!(report.versions.grammars, ["ef01"]);
}

#[test]
fn the_page_is_whole_and_nothing_spoken_becomes_markup() {
    let report = report(&job());
    let page = html(&report);
    assert!(page.contains("score mark &#60;here&#62;"));
    assert!(!page.contains("<here>") && !page.contains("<b>line"));
    for outside in ["http:", "https:", "<script", "src=", "url(", "@import"] {
        assert!(!page.contains(outside), "{outside}");
    }
    for part in [
        "<svg",
        "As found, mm",
        ">0.06 to 0.08<",
        ">0.15 to 0.18<",
        "2.70 → 2.60",
        "Cautions",
        "maker&#39;s manual",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert!(page.len() < 150_000, "{} bytes", page.len());
}

/// As found 0.06, lapped to 0.10, with another shim 0.15; and a guide that was replaced.
#[test]
fn each_round_stands_for_itself_and_what_was_replaced_is_named() {
    let bore = |um| Value::Amount(Amount::LengthNm(Length::from_um(um)));
    let bore = |um| reading_of(Quantity::GuideBore, bore(um), Some(left()));
    let told = |what, text: &str| Fact::About {
        what,
        text: text.to_owned(),
    };
    let report = report(&[
        event(1, vec![shim(2_700), bore(5_602)]),
        event(2, vec![gap(60, 80)]),
        event(
            3,
            vec![
                Fact::Repaired {
                    position: left(),
                    work: Repair::NewGuide,
                },
                bore(5_501),
            ],
        ),
        event(
            4,
            vec![Fact::Stage {
                stage: "lapping".to_owned(),
                done: true,
            }],
        ),
        event(5, vec![gap(40, 60)]),
        event(6, vec![shim(2_600)]),
        event(7, vec![gap(150, 180)]),
        event(8, vec![told(About::Owner, "the corner garage")]),
    ]);
    let valve = &report.valves[0];
    let rounds: Vec<String> = valve.rounds.iter().map(|r| r.round.words()).collect();
    assert_eq!(
        rounds,
        [
            "as found, before lapping",
            "after lapping",
            "after the shims"
        ]
    );
    assert_eq!(
        valve.before.unwrap().clearance.low,
        Some(Length::from_um(60))
    );
    assert_eq!(
        valve.after.unwrap().clearance.low,
        Some(Length::from_um(150))
    );
    let replaced: Vec<_> = report.checks.iter().map(|c| c.replaced).collect();
    assert_eq!(replaced, [Some("new_guide"), None]);
    let page = html(&report);
    for part in [
        "<dt>Owner</dt><dd>the corner garage</dd>",
        "<dd>1 shim changed, 1 inlet left new guide</dd>",
        "after lapping 0.04 to 0.06; after the shims 0.15 to 0.18",
        "5.602\u{a0}mm (replaced: new guide)",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
}

#[test]
fn an_empty_job_has_a_report_too() {
    let page = html(&report(&[]));
    assert!(page.contains("not measured") && !page.contains("<svg"));
}

#[test]
fn csv_has_a_line_for_each_valve_and_as_many_cells_as_heads() {
    let csv = report(&job()).csv();
    let lines: Vec<&str> = csv.split_terminator("\r\n").collect();
    assert_eq!(lines.len(), 13);
    let cells = lines[0].split(',').count();
    assert!(lines.iter().all(|l| l.split(',').count() == cells), "{csv}");
    assert!(lines[0].contains(",check_low_mm,") && lines[0].contains(",after_shim_mm,"));
    assert_eq!(
        lines[1],
        "1,inlet,left,0.10,0.20,0.16,0.06,0.08,2.70,0.15,0.18,2.60,,,in_band,\"score mark <here>\""
    );
}

/// What a spreadsheet would run is told from text by an apostrophe (OWASP, "CSV Injection").
#[test]
fn no_cell_is_a_formula() {
    let cell = |text: &str| {
        let note = Fact::Note {
            position: Some(left()),
            text: text.to_owned(),
        };
        let csv = report(&[event(1, vec![note])]).csv();
        let line = csv.split_terminator("\r\n").nth(1).unwrap().to_owned();
        line.split_once(",unmeasured,").unwrap().1.to_owned()
    };
    for begins in ["=", "+", "-", "@", "\t=", "\r=", " =", "＝"] {
        let text = format!("{begins}cmd|' /C calc'!A0");
        assert_eq!(cell(&text), format!("\"'{text}\""), "{begins:?}");
    }
    assert_eq!(cell("worn, 3 mm"), "\"worn, 3 mm\"");
    assert_eq!(cell("a \"click\""), "\"a \"\"click\"\"\"");
}

#[test]
fn a_thou_job_has_thou_in_its_csv_and_page() {
    let mut report = report(&job());
    report.unit = LengthUnit::Thou;
    let csv = report.csv();
    assert!(
        csv.starts_with("cylinder,side,valve,check_low_thou,"),
        "{csv}"
    );
    // 0.10 mm is 3.937 thou; shims stay as they are marked.
    assert!(csv.contains("1,inlet,left,3.9,7.9,6.3,"), "{csv}");
    assert!(csv.contains(",2.70,") && csv.contains(",2.60,"), "{csv}");
    assert!(html(&report).contains("Band, thou"));
}

/// Page one ends with the signature; only then comes the appendix.
#[test]
fn the_first_page_has_what_the_customer_needs() {
    let mut events = job();
    let mut other = left();
    other.cylinder = 2;
    let loose = Value::Gap(Gap::Between {
        goes_nm: Length::from_um(300),
        stops_nm: Length::from_um(350),
    });
    events.push(event(
        9,
        vec![reading_of(Quantity::Clearance, loose, Some(other))],
    ));
    let check = |good| Fact::Checked {
        head: None,
        item: "dowels".to_owned(),
        count: None,
        good,
        position: None,
    };
    events.push(event(10, vec![check(false)]));
    let page = html(&report(&events));
    let (first, rest) = page.split_once("class=\"appendix\"").unwrap();
    for part in [
        "2 of 12 valves",
        "1 tight, 1 loose",
        "1 shim changed",
        "2 inlet left: loose",
        "dowels missing",
        "Not measured: 1 inlet right",
        "Signature",
    ] {
        assert!(first.contains(part), "{part}: {first}");
    }
    assert!(rest.contains("Corrections") && rest.contains("In the box"));
    // What was put right since is no fault.
    events.push(event(11, vec![check(true)]));
    let (first, _) = html(&report(&events))
        .split_once("class=\"appendix\"")
        .map(|(a, b)| (a.to_owned(), b.to_owned()))
        .unwrap();
    assert!(!first.contains("dowels"), "{first}");
}

/// 30 000 less 24 312.
#[test]
fn the_first_page_ends_with_the_next_check() {
    let told = |what, text: &str| Fact::About {
        what,
        text: text.to_owned(),
    };
    let mileage = told(About::Mileage, "24,312 km");
    let next = told(About::NextCheck, "30000 km");
    let with_both = report(&[event(1, vec![mileage]), event(2, vec![next])]);
    let last = "Next check of the clearances: 30000 km, 5688 km from now. Run in new parts as the maker's manual says.";
    assert_eq!(with_both.next_check.as_deref(), Some(last));
    let page = html(&with_both);
    let (front, _) = page.split_once("30000 km, 5688 km from now").unwrap();
    assert!(front.contains("Signature"));
    let told_km = with_both.about.iter().find(|t| t.what == "mileage");
    assert_eq!(told_km.unwrap().reached, Some((24_312, "km")));
    let spring = told(About::NextCheck, "in the spring");
    let words = report(&[event(1, vec![spring])]);
    assert!(
        words
            .next_check
            .unwrap()
            .starts_with("Next check of the clearances: in the spring.")
    );
}

#[test]
fn times_are_local() {
    let report = report(&job());
    let zone = TimeZone::fixed(jiff::tz::offset(5));
    let page = report.html(None, &zone);
    // 1 700 000 060 s after 1970 is 2023-11-14 22:14:20 UTC.
    assert!(page.contains("2023-11-15 03:14 to 03:21"), "{page}");
    assert!(page.contains("+05:00 from UTC") && !page.contains("UTC<"));
}

#[test]
fn a_shim_not_measured_yet_shows_what_it_should_give() {
    let events = &job()[..4];
    let report = report(events);
    assert_eq!(report.valves[0].verdict, Verdict::Refitted);
    let page = html(&report);
    assert!(page.contains("0.16 to 0.18 expected"), "{page}");
    assert!(page.contains("1 inlet left: measure again"));
}

#[test]
fn one_remark_is_listed_once() {
    let mut events = vec![event(1, vec![gap(60, 80)])];
    for id in 2..12 {
        let um = if id % 2 == 0 { 150 } else { 60 };
        events.push(event(id, vec![gap(um, um + 20)]));
    }
    let report = report(&events);
    let mut remarks = report.remarks.clone();
    remarks.sort();
    remarks.dedup();
    assert_eq!(remarks.len(), report.remarks.len(), "{:?}", report.remarks);
    assert!(
        report.remarks.iter().any(|r| r.ends_with(" times)")),
        "{:?}",
        report.remarks
    );
}

#[test]
fn json_comes_back_with_events_and_sounds() {
    let events: Vec<serde_json::Value> = job()
        .iter()
        .map(|e| serde_json::to_value(e).unwrap())
        .collect();
    let sounds = Sounds::from([("ab".to_owned(), vec![0, 255, 7])]);
    let text = write(&report(&job()), None, &events, &sounds).unwrap();
    let back = read(&text).unwrap();
    assert_eq!((back.events, back.sounds), (events, sounds));
}

#[test]
fn what_is_not_a_report_says_so() {
    let said = |text: &str| read(text).unwrap_err().to_string();
    assert!(said("{").contains("not a report"));
    assert!(said("{}").contains("schema"));
    assert!(said("{\"report\":99}").contains("newer than 1"));
    assert!(said("{\"report\":1}").contains("events"));
    let bad = "{\"report\":1,\"events\":[{}],\"sounds\":{\"ab\":\"*\"}}";
    assert!(said(bad).contains("sound ab"));
}

#[test]
fn two_reports_side_by_side() {
    let before = report(&job());
    let later = vec![event(1, vec![shim(2_600)]), event(2, vec![gap(130, 150)])];
    let now = report(&later);
    let compared = Compared::of(&before, &now).unwrap();
    let valve = &compared.valves[0];
    // Was 0.15 to 0.18, is 0.13 to 0.15: it closed by less than 0.05, or not at all.
    assert_eq!(valve.from_nm, Some(Length::from_um(-50)));
    assert_eq!(valve.to_nm, Some(Length::ZERO));
    assert!(!valve.other_shim);
    assert!(
        now.html(Some(&compared), &TimeZone::UTC)
            .contains(">-0.05 to 0.00<")
    );
    let other = Profile::parse(SHIPPED[2].1, "six").unwrap();
    let mut six = now.clone();
    six.engine.key = other.key;
    assert!(matches!(
        Compared::of(&six, &now),
        Err(Error::Engines { .. })
    ));
}
