//! What was said in one breath: slips that were mended, and readings of several valves.

use super::net::Match;

/// Slots of a value.
const VALUE: [&str; 9] = [
    "value", "goes", "stops", "added", "none", "marked", "measured", "unit", "alike",
];

type Slots = Vec<(String, String)>;

fn has(slots: &Slots, names: &[&str]) -> bool {
    slots.iter().any(|(slot, _)| names.contains(&slot.as_str()))
}

/// The readings of one phrase, each as if it had been said alone. One that names only a part of its
/// place has the rest from the one before.
pub(super) fn readings(m: &Match) -> Vec<Match> {
    let mut all: Vec<Match> = Vec::new();
    for slots in m.slots.split(|(slot, _)| slot == "next") {
        let mut slots = slots.to_vec();
        if let Some(before) = all.last() {
            for (part, open) in [("cylinder", "same"), ("side", "sister")] {
                if !has(&slots, &[part]) {
                    let known = before.slot(part).map(|known| (part, known.to_owned()));
                    let (slot, said) = known.unwrap_or((open, "yes".to_owned()));
                    slots.insert(0, (slot.to_owned(), said));
                    slots.push(("carried".to_owned(), part.to_owned()));
                }
            }
            // "And the same on the right."
            if has(&slots, &["again"]) {
                let values = before.slots.iter();
                slots.extend(
                    values
                        .filter(|(slot, _)| VALUE.contains(&slot.as_str()))
                        .cloned(),
                );
            }
        }
        all.push(Match { slots, ..m.clone() });
    }
    all
}

/// The faces of a seat, each with its angle and what was read of it.
pub(super) fn faces(m: &Match) -> Vec<Match> {
    let mut groups: Vec<Slots> = Vec::new();
    let mut common: Slots = Vec::new();
    for (slot, said) in &m.slots {
        let one = (slot.clone(), said.clone());
        match (slot.as_str(), groups.last_mut()) {
            ("angle", _) => groups.push(vec![one]),
            ("value" | "unit", Some(face)) => face.push(one),
            _ => common.push(one),
        }
    }
    let of = |face: Slots| Match {
        slots: common.iter().cloned().chain(face).collect(),
        ..m.clone()
    };
    groups.into_iter().map(of).collect()
}

/// "The other one": a valve of the pair that is open, named so by the person.
pub(super) fn of_the_open_pair(m: &Match) -> bool {
    m.slot("sister").is_some() && m.slot("carried").is_none()
}

/// Whether two readings of one breath are surely two. In "one inlet left fifteen" the "one" is no
/// value of the open valve, and in "… no, two inlet right" the "two" none of the valve before.
pub(super) fn are_apart(part: &Match, next: &Match) -> bool {
    let said = |m: &Match, slot: &str| m.slot(slot).is_some();
    let last = part
        .slots
        .iter()
        .rfind(|(slot, _)| VALUE[..4].contains(&slot.as_str()));
    let one_figure = last.is_some_and(|(_, raw)| raw.len() == 1);
    let own_cylinder = !next.all("carried").any(|part| part == "cylinder");
    let judged = said(part, "goes") || said(part, "stops");
    let placed = said(part, "side") || said(part, "valve");
    // "Fifteen, and the right one thirteen."
    let named = said(next, "named");
    (placed || judged && own_cylinder || named) && (own_cylinder || !one_figure)
}

/// What a phrase says after its slips are mended: what follows a slip takes the place of what it
/// names again. After a bare "no" both may have been meant, and then there are two.
pub(super) fn mended(m: &Match) -> Vec<Match> {
    let mut segments = m.slots.split(|(slot, _)| slot == "slip");
    let mut all = vec![segments.next().unwrap_or_default().to_vec()];
    for (after, kind) in segments.zip(m.all("slip")) {
        all = all
            .iter()
            .flat_map(|before| mend(before, &after.to_vec(), kind == "no"))
            .collect();
    }
    let of = |slots| Match { slots, ..m.clone() };
    all.into_iter().map(of).collect()
}

fn mend(before: &Slots, after: &Slots, bare_no: bool) -> Vec<Slots> {
    let mut dropped: Vec<&str> = Vec::new();
    let only_stops = has(after, &["stops"]) && !has(after, &["goes", "value", "none"]);
    if only_stops && has(before, &["goes"]) && has(before, &["stops"]) {
        // "Twenty goes, twenty-five, scratch that, twenty-three doesn't": twenty still goes.
        dropped.push("stops");
    } else if has(after, &VALUE) {
        dropped.extend(VALUE);
    }
    if has(after, &["cylinder"]) {
        dropped.extend(["cylinder", "side", "valve"]);
    } else if has(after, &["side"]) {
        dropped.extend(["side", "valve"]);
    } else if has(after, &["valve"]) {
        dropped.push("valve");
    }
    let kept = before
        .iter()
        .filter(|(slot, _)| !dropped.contains(&slot.as_str()));
    let mut mended: Slots = kept.chain(after).cloned().collect();
    // "Point one, correction, five" may be 0.05 or 0.15.
    let doubt = || ("doubt".to_owned(), "yes".to_owned());
    let one_figure = |(slot, raw): &(String, String)| slot == "value" && raw.len() == 1;
    if has(before, &["value"]) && after.iter().any(one_figure) {
        mended.push(doubt());
    }
    if !bare_no || !has(after, &VALUE) {
        return vec![mended];
    }
    let judged = ["goes", "stops"];
    // "Eighteen no" is a verdict and mends nothing; "fifteen, no, eighteen" may mend it.
    if has(before, &["value", "none"]) {
        if has(after, &judged) {
            return Vec::new();
        }
        mended.push(doubt());
        return vec![mended];
    }
    if !has(after, &judged) && has(before, &VALUE) {
        mended.push(doubt());
    }
    if !has(before, &judged) {
        return vec![mended];
    }
    let both = before.iter().chain(after).cloned().collect();
    vec![mended, both]
}
