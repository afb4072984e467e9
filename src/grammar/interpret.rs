//! What a matched phrase means: captured words to positions, values and commands.

use super::meaning::{Heard, Meaning, Said, Whereabouts};
use super::means::{Command, Means};
use super::net::Match;
use super::refusal::Refusal;
use super::scope::Scope;
use super::source::Phrase;
use super::{breath, gap, measured, shim};
use crate::event::{About, Fastener, Gap, Head, Part, Repair, Side, Value, Valve};
use crate::measure::{Length, Quantity};

/// The meanings of one matched phrase.
pub(super) fn read(phrase: &Phrase, m: &Match, scope: &Scope) -> Result<Vec<Said>, Refusal> {
    if phrase.quantity == Some(Quantity::SeatWidth) && m.all("angle").count() > 1 {
        return together(phrase, &breath::faces(m), scope);
    }
    let parts = breath::readings(m);
    let [one] = parts.as_slice() else {
        return in_one_breath(phrase, &parts, scope);
    };
    read_mended(phrase, one, scope)
}

/// Readings of several valves, if they are surely several.
fn in_one_breath(phrase: &Phrase, parts: &[Match], scope: &Scope) -> Result<Vec<Said>, Refusal> {
    for (part, next) in parts.iter().zip(&parts[1..]) {
        if !breath::are_apart(part, next) {
            return Ok(Vec::new());
        }
    }
    together(phrase, parts, scope)
}

/// Several readings: every way to take the first with every way to take the next.
fn together(phrase: &Phrase, parts: &[Match], scope: &Scope) -> Result<Vec<Said>, Refusal> {
    let mut ways: Vec<Vec<Said>> = vec![Vec::new()];
    for part in parts {
        let meanings = read_mended(phrase, part, scope)?;
        let with = |way: &Vec<Said>| {
            let one = |said: &Said| [way.as_slice(), std::slice::from_ref(said)].concat();
            meanings.iter().map(one).collect::<Vec<_>>()
        };
        ways = ways.iter().flat_map(with).collect();
    }
    Ok(ways.into_iter().map(several).collect())
}

fn several(all: Vec<Said>) -> Said {
    Said {
        place: Whereabouts::default(),
        meaning: Meaning::Several(all),
    }
}

/// The meanings of a phrase for one place, its slips mended.
fn read_mended(phrase: &Phrase, m: &Match, scope: &Scope) -> Result<Vec<Said>, Refusal> {
    let mut all: Vec<Said> = Vec::new();
    let mut refused = None;
    for mended in breath::mended(m) {
        match read_one(phrase, &mended, scope) {
            Ok(mut said) => {
                let no_such_head = mended.slot("head").is_some() && scope.heads.is_empty();
                if mended.slot("doubt").is_some() || no_such_head {
                    said.iter_mut().for_each(doubt);
                }
                all.extend(said);
            }
            Err(refusal) => refused = refused.or(Some(refusal)),
        }
    }
    match refused {
        Some(refusal) if all.is_empty() => Err(refusal),
        _ => Ok(all),
    }
}

/// Something in the phrase is not certain: it is asked.
fn doubt(said: &mut Said) {
    if let Meaning::Reading { unusual, .. } | Meaning::Spare { unusual, .. } = &mut said.meaning {
        *unusual = true;
    }
    if let Meaning::Several(all) = &mut said.meaning {
        all.iter_mut().for_each(doubt);
    }
}

fn read_one(phrase: &Phrase, m: &Match, scope: &Scope) -> Result<Vec<Said>, Refusal> {
    let place = whereabouts(m, scope)?;
    let said = |meaning| Said { place, meaning };
    let list = phrase.means == Means::ShimSpare && m.all("value").count() > 1;
    for slot in [
        "unit", "value", "cylinder", "side", "valve", "cam", "number", "head",
    ] {
        if m.contradicts(slot) && !list {
            return Err(Refusal::Contradiction);
        }
    }
    let slot = |name| m.slot(name).unwrap_or_default().to_owned();
    Ok(match phrase.means {
        // "Right valve" is the sister of the open one, and nothing if nothing was read before.
        _ if breath::of_the_open_pair(m) && scope.open.is_none() && scope.last.is_none() => {
            Vec::new()
        }
        // "Rear head", "front": nothing where the engine has one head.
        Means::Open | Means::Answer if m.slot("head").is_some() && place.head.is_none() => {
            Vec::new()
        }
        Means::Open => vec![said(Meaning::Open)],
        Means::Answer => vec![said(Meaning::Answer)],
        Means::Note if m.slot("here").is_some() => vec![said(Meaning::Seen(slot("text")))],
        Means::Note => vec![said(Meaning::Note(slot("text")))],
        Means::Clearance if gap::is_unlikely(m, &place) => Vec::new(),
        // With a shim called at this valve just before, or while shims are fitted, a single number may
        // be one.
        Means::Clearance
            if (place.is_empty() && scope.shim_in_hand || scope.fitting) && gap::single(m) =>
        {
            let clearance = gap::clearance(m, place, scope);
            let fitted = shim::shim(m, scope);
            // "Two fifty" is a shim then; 0.25 is called "twenty five".
            if scope.fitting
                && gap::is_three_figures(m)
                && matches!(&fitted, Ok(f) if gap::any_usual(f))
            {
                return Ok(fitted?.into_iter().map(said).collect());
            }
            gap::in_hand(clearance, fitted)?
                .into_iter()
                .map(said)
                .collect()
        }
        // "Correction, two seventy" is of the quantity of the reading that it corrects.
        Means::Clearance
            if place.is_empty() && m.slot("fix").is_some() && m.slot("value").is_some() =>
        {
            let meanings = match scope.last {
                None | Some(Quantity::Clearance) => gap::clearance(m, place, scope)?,
                Some(Quantity::ShimFitted) => shim::shim(m, scope)?,
                Some(quantity) => measured::readings(m, quantity, &place, scope)?,
            };
            meanings.into_iter().map(said).collect()
        }
        // "One inlet left, correction, two sixty" after a shim can only be a shim.
        Means::Clearance
            if m.slot("fix").is_some()
                && m.slot("value").is_some()
                && scope.last == Some(Quantity::ShimFitted) =>
        {
            let clearance = gap::clearance(m, place, scope);
            let all = gap::in_hand(clearance, shim::shim(m, scope))?;
            all.into_iter().map(said).collect()
        }
        // "Front inlet right, one ninety" after a shim is the next shim: 0.19 is called "nineteen".
        Means::Clearance
            if scope.last == Some(Quantity::ShimFitted)
                && gap::single(m)
                && gap::is_three_figures(m)
                && m.slot("unit").is_none()
                && matches!(&shim::shim(m, scope), Ok(fitted) if gap::any_usual(fitted)) =>
        {
            let mut all: Vec<Said> = shim::shim(m, scope)?.into_iter().map(said).collect();
            all.iter_mut().for_each(doubt);
            all
        }
        Means::Clearance => gap::clearance(m, place, scope)?
            .into_iter()
            .map(said)
            .collect(),
        Means::Measure => {
            let quantity = phrase.quantity.unwrap_or(Quantity::Clearance);
            let place = measured::valve_place(m, quantity, place, scope);
            let meanings = measured::readings(m, quantity, &whereabouts(m, scope)?, scope)?;
            let said = |meaning| Said { place, meaning };
            meanings.into_iter().map(said).collect()
        }
        Means::Group => gap::group(m, place, scope)?.into_iter().map(said).collect(),
        Means::ShimStep => vec![said(shim::step(m, scope)?)],
        Means::WhatIfCut => shim::cut(m, scope)?.into_iter().map(said).collect(),
        // "That was the rear": another head where the last reading is of one, another valve elsewhere.
        Means::Command(Command::Moved) if is_other_move(m, &place, scope) => Vec::new(),
        // "Rear gasket new": nothing where the engine has one head.
        Means::Check if m.slot("head").is_some() && place.head.is_none() => Vec::new(),
        Means::Check => vec![said(Meaning::Check {
            here: m.slot("here").is_some(),
            items: m.all("item").map(|item| counted(item, m)).collect(),
            good: m.slot("bad").is_none(),
        })],
        Means::Repaired => repaired(m, &place, scope)?.into_iter().map(said).collect(),
        Means::About => {
            let what = m.slot("what").and_then(About::from_key);
            let unit = m.slot("unit").unwrap_or_default();
            let reached = m.slot("value").map(|figures| format!("{figures} {unit}"));
            let text = reached.map_or_else(|| slot("text"), |r| r.trim_end().to_owned());
            let about = what.map(|what| said(Meaning::About { what, text }));
            about.into_iter().collect()
        }
        Means::LimitOf => {
            let asked = m.slot("of").and_then(Quantity::from_key);
            let asked = asked.map(|quantity| said(Meaning::LimitOf(quantity)));
            asked.into_iter().collect()
        }
        Means::AskedAbout => {
            let what = m.slot("what").and_then(About::from_key);
            let asked = what.map(|what| said(Meaning::AskedAbout(what)));
            asked.into_iter().collect()
        }
        Means::Task => vec![said(Meaning::Task {
            kind: slot("kind"),
            text: slot("text"),
            unsure: m.slot("doubt").is_some(),
        })],
        Means::Ticked => vec![said(Meaning::Tick(slot("text")))],
        Means::StageBegun | Means::StageDone => vec![said(Meaning::Stage {
            stage: slot("stage"),
            done: phrase.means == Means::StageDone,
        })],
        Means::ShimFitted => shim::shim(m, scope)?.into_iter().map(said).collect(),
        Means::ShimSpare if list => {
            let all = shim::spares(m, scope)?;
            vec![several(all.into_iter().map(said).collect())]
        }
        Means::ShimSpare => shim::spare(m, scope)?.into_iter().map(said).collect(),
        Means::Command(command) => {
            let bolt = m.slot("bolt").filter(|_| command == Command::MeasureBegun);
            let part = bolt.and_then(|_| measured::part(m, Quantity::Torque, &place, scope));
            vec![said(
                part.map_or(Meaning::Command(command), Meaning::BoltCalled),
            )]
        }
    })
}

/// Whether a head is named and the last reading is not of one, or part of a valve's place and it is.
fn is_other_move(m: &Match, place: &Whereabouts, scope: &Scope) -> bool {
    let of_head = !scope.heads.is_empty() && scope.last.is_some_and(Quantity::is_of_a_head);
    match m.slot("head") {
        Some(_) => !of_head || place.head.is_none(),
        None => of_head && place.side.is_none(),
    }
}

fn is_doubtful(said: &Said) -> bool {
    matches!(said.meaning, Meaning::Reading { unusual: true, .. })
}

/// "Two of two sixty in the box" is certain, though another phrase that fits it is asked.
fn is_certain_spare(said: &Said) -> bool {
    matches!(said.meaning, Meaning::Spare { unusual: false, .. })
}

/// Whether two ways to read a phrase come to the same, one of them perhaps less certain.
fn is_the_same(one: &Said, other: &Said) -> bool {
    let surely = |said: &Said| {
        let mut said = said.clone();
        if let Meaning::Reading { unusual, .. } | Meaning::Spare { unusual, .. } = &mut said.meaning
        {
            *unusual = false;
        }
        said
    };
    surely(one) == surely(other)
}

/// What was done to a valve; the bore a guide was reamed to, or what was taken off, may be said in the
/// same breath.
fn repaired(m: &Match, place: &Whereabouts, scope: &Scope) -> Result<Vec<Meaning>, Refusal> {
    let Some(work) = m.slot("work").and_then(Repair::from_key) else {
        return Ok(Vec::new());
    };
    if m.slot("value").is_none() {
        let reading = None;
        return Ok(vec![Meaning::Repaired { work, reading }]);
    }
    let quantity = match work {
        Repair::RecutSeat => Quantity::SeatCut,
        Repair::GroundTip => Quantity::TipGround,
        _ => Quantity::GuideBore,
    };
    let read = measured::readings(m, quantity, place, scope)?;
    let with = |reading| Meaning::Repaired {
        work,
        reading: Some(Box::new(reading)),
    };
    Ok(read.into_iter().map(with).collect())
}

/// "dowels2", or "dowels" and a count of its own: an item and how many.
fn counted(item: &str, m: &Match) -> (String, Option<u16>) {
    let at = item.find(|c: char| c.is_ascii_digit());
    let (key, count) = item.split_at(at.unwrap_or(item.len()));
    let count = Some(count).filter(|c| !c.is_empty()).or(m.slot("count"));
    (key.to_owned(), count.and_then(|c| c.parse().ok()))
}

/// Weighs the meanings of all matched phrases against each other.
pub(super) fn weigh(all: Vec<Result<Vec<Said>, Refusal>>, blades: &[Length]) -> Heard {
    let mut accepted: Vec<Said> = Vec::new();
    let mut refused = None;
    for one in all {
        match one {
            Ok(said) => {
                for s in said {
                    match accepted.iter_mut().find(|a| is_the_same(a, &s)) {
                        Some(known) if is_doubtful(&s) || is_certain_spare(&s) => *known = s,
                        Some(_) => {}
                        None => accepted.push(s),
                    }
                }
            }
            Err(refusal) => refused = refused.or(Some(refusal)),
        }
    }
    // "Next check at thirty thousand kilometres" is a distance, and no free words.
    let reached = |s: &Said| match &s.meaning {
        Meaning::About { text, .. } => text.starts_with(|c: char| c.is_ascii_digit()),
        _ => false,
    };
    if accepted.iter().any(reached) {
        accepted.retain(|s| reached(s) || !matches!(s.meaning, Meaning::About { .. }));
    }
    // "Rear inlet right" is which valve, unless the job has a cylinder of that name.
    let asks_which = |s: &Said| s.meaning == Meaning::Command(Command::WhichPlace);
    if !accepted.iter().all(asks_which) {
        accepted.retain(|s| !asks_which(s));
    }
    // "Inlet left two eighteen" names a cylinder, if it can.
    let is_in_part = |s: &Said| !s.is_placed() && s.place.side.is_some() && s.place.valve.is_some();
    let each = |s: &Said, is: &dyn Fn(&Said) -> bool| match &s.meaning {
        Meaning::Several(all) => all.iter().all(is),
        _ => is(s),
    };
    if accepted.iter().any(|s| each(s, &Said::is_placed)) {
        accepted.retain(|s| each(s, &|s| !is_in_part(s)));
    }
    // "Deck height one point two" names its cylinder, if it can.
    let with_part = |s: &Said| match s.meaning {
        Meaning::Reading {
            quantity,
            part: Some(Part::Cylinder { .. }),
            unusual: false,
            ..
        } => Some(quantity),
        _ => None,
    };
    if let Some(named) = accepted.iter().find_map(with_part) {
        let lacks = |s: &Said| matches!(s.meaning, Meaning::Reading { quantity, part: None, .. } if quantity == named);
        accepted.retain(|s| !lacks(s));
    }
    match (accepted.len(), refused) {
        (0, Some(refusal)) => Heard::Refused(refusal),
        (0, None) => Heard::Nothing,
        (1, _) => Heard::Accepted(accepted.swap_remove(0)),
        _ => of_owned_blades(&accepted, blades).map_or(Heard::Ambiguous(accepted), Heard::Accepted),
    }
}

/// "The right one fifteen goes, eighteen doesn't": 0.15, if there is no blade of 0.115 and all else
/// is the same. "One exhaust left twenty, one exhaust right twenty two": no twenty one. It is asked.
fn of_owned_blades(all: &[Said], blades: &[Length]) -> Option<Said> {
    let are_owned = |tried: Vec<Length>| tried.iter().all(|blade| blades.contains(blade));
    let owned: Option<Vec<bool>> = all.iter().map(|s| Some(are_owned(tried(s)?))).collect();
    let owned = owned?;
    let at = owned.iter().position(|owned| *owned)?;
    if owned.iter().filter(|owned| **owned).count() > 1 {
        return None;
    }
    let mut said = all[at].clone();
    doubt(&mut said);
    Some(said)
}

/// The blades of a gap, or of several; `None` of anything else. A single gap may be a size between two
/// blades, that was felt.
pub(super) fn tried(said: &Said) -> Option<Vec<Length>> {
    let of_one = |said: &Said| {
        let Meaning::Reading {
            quantity: Quantity::Clearance,
            value: Value::Gap(gap),
            ..
        } = said.meaning
        else {
            return None;
        };
        match gap {
            Gap::Between { goes_nm, stops_nm } => Some(vec![goes_nm, stops_nm]),
            Gap::AtLeast(blade) | Gap::Below(blade) | Gap::Single(blade) => Some(vec![blade]),
            Gap::None => None,
        }
    };
    if let Meaning::Several(all) = &said.meaning {
        let each: Option<Vec<_>> = all.iter().map(of_one).collect();
        return Some(each?.concat());
    }
    let is_felt = matches!(
        said.meaning,
        Meaning::Reading {
            value: Value::Gap(Gap::Single(_)),
            ..
        }
    );
    of_one(said).filter(|_| !is_felt)
}

fn whereabouts(m: &Match, scope: &Scope) -> Result<Whereabouts, Refusal> {
    let central = (scope.cylinders % 2 == 1).then_some(scope.cylinders / 2 + 1);
    let central = central.filter(|_| m.slot("central").is_some());
    let cylinder = m.slot("cylinder").and_then(|c| c.parse::<u8>().ok());
    let cylinder = cylinder.or(central);
    let side = m.slot("side").map(|s| {
        if s == "inlet" {
            Side::Inlet
        } else {
            Side::Exhaust
        }
    });
    let valve = m.slot("valve").and_then(Valve::from_key);
    let sister = scope.open.filter(|_| m.slot("sister").is_some());
    let same = scope.open.filter(|_| m.slot("same").is_some()).or(sister);
    let cylinder = cylinder.or(same.map(|p| p.cylinder));
    let side = side.or(sister.map(|p| p.side));
    // "The other side": of a pair, the one that is not open. "The other inlet" is of no exhaust.
    let other = scope
        .open
        .filter(|p| m.slot("other").is_some() && side.is_none_or(|s| s == p.side))
        .and_then(|p| match scope.valves(p.side) {
            [a, b] => [*a, *b].into_iter().find(|v| Some(*v) != p.valve),
            _ => None,
        });
    let valve = valve.or(other);
    if let Some(cylinder) = cylinder
        && (cylinder == 0 || cylinder > scope.cylinders)
    {
        return Err(Refusal::Cylinder(cylinder));
    }
    if let (Some(side), Some(valve)) = (side, valve)
        && !scope.valves(side).contains(&valve)
    {
        return Err(Refusal::Valve(side, valve));
    }
    let head = m.slot("head").and_then(Head::from_key);
    Ok(Whereabouts {
        cylinder,
        side,
        valve,
        head: head.filter(|h| scope.heads.contains(h)),
        bolts: m.slot("kind").and_then(Fastener::from_key),
    })
}
