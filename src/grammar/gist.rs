//! What a sentence says, if the words that belong to no phrase are passed over.

use super::interpret::tried;
use super::meaning::{Heard, Meaning, Said, Whereabouts};
use super::means::{Command, Means};
use super::net::{Match, Net};
use super::scope::Scope;
use super::search::{Found, Sought};
use super::source::{Grammar, kinds};
use super::{build, gap};
use crate::event::{Gap, Value};
use crate::measure::{Length, LengthUnit};
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// So much may be passed over for a reading or an undoing, and of a reading no more than two thirds:
/// with more it is another sentence. Chosen by us, no source.
const MOST: usize = 12;
/// What an unknown word costs, or one without a meaning of its own, and what any other. Chosen by
/// us, no source.
const LIGHT: usize = 1;
const OTHER: usize = 2;
/// With no more passed over, a single blade may be a reading of the open valve. Chosen by us, no
/// source.
const FEW: usize = 2;

impl Grammar {
    /// What a text says, if as few words as possible are passed over; never a number, a place, a
    /// verdict or what may turn one round. `None` if that is nothing, if it is several things, or if
    /// the sentence may as well be said to anybody. A reading or a check may be asked, never stored; a
    /// question may be answered.
    #[must_use]
    pub(crate) fn gist(&self, text: &str, scope: &Scope) -> Option<Heard> {
        // "It lies between", of which no phrase knows the verb, is no "lie is".
        let words = self.words_but(text, &self.written);
        let question = self.question_among(&words, scope);
        let answered = question
            .or_else(|| self.undoing_among(&words, scope))
            .or_else(|| self.correction_among(&words, scope));
        if answered.is_some() {
            return answered;
        }
        let reading = self.reading_among(&words, scope);
        let other = self.phrase_among(&words, scope);
        match (reading, other) {
            (Some((one, reading)), Some((two, other))) if reading != other => match one.cmp(&two) {
                Ordering::Less => Some(reading),
                Ordering::Equal => None,
                Ordering::Greater => Some(other),
            },
            (reading, other) => {
                let found = reading.or(other).map(|(_, heard)| heard);
                found.or_else(|| self.remark_among(text, &words, scope))
            }
        }
    }

    /// The question that a text asks among other words, if it asks one: it may be answered.
    #[must_use]
    pub(crate) fn question(&self, text: &str, scope: &Scope) -> Option<Heard> {
        self.question_among(&self.words_but(text, &self.written), scope)
    }

    /// "The guide on one exhaust left rocks more than I'd like": a valve, a part and how it looks is a
    /// remark, whole as it was said.
    fn remark_among(&self, text: &str, words: &[String], scope: &Scope) -> Option<Heard> {
        let holds = |all: &BTreeSet<String>| words.iter().any(|w| all.contains(w));
        if !holds(&self.remarked.part) || !holds(&self.remarked.look) || holds(&self.remarked.not) {
            return None;
        }
        let passing = words
            .iter()
            .map(|w| (!self.blades.contains(w)).then_some(LIGHT));
        let sought = among(words, passing.collect(), words.len());
        let is_note = |p: usize| self.phrases[p].means == Means::Note;
        let found = self.by_core().find(&sought, is_note);
        let Heard::Accepted(mut said) = self.meaning(&found.matches, scope) else {
            return None;
        };
        said.meaning = Meaning::Note(text.to_owned());
        said.is_placed().then_some(Heard::Accepted(said))
    }

    /// A reading of a place that is named, or of both blades at the open valve. Of two blades that are
    /// owned it does not matter how they were judged, if no phrase knows: the smaller one goes.
    fn reading_among(&self, words: &[String], scope: &Scope) -> Option<(usize, Heard)> {
        // Most talk names no place, and costs nothing here.
        let names_a_side = words.iter().any(|w| self.spelled_sides.contains(w));
        if !names_a_side && (scope.open.is_none() || words.len() <= 3) {
            return None;
        }
        let passing = self.passing(words);
        let judged = self.gaps_among(self.by_core(), words, passing.clone(), scope);
        // "Brought the lobe fully away" stands before a gap, "lobe" alone before a height.
        let may_be_another = words.iter().any(|w| self.measured_else.contains(w));
        if judged.is_some() || may_be_another {
            return judged;
        }
        let both = words.iter().zip(passing).map(|(word, cost)| match cost {
            None if self.verdicts.contains(word) => Some(OTHER),
            cost => cost,
        });
        let found = self.gaps_among(self.by_two_blades(), words, both.collect(), scope);
        found.filter(|(_, heard)| {
            let Heard::Accepted(said) = heard else {
                return false;
            };
            let is_owned = |blade: &Length| scope.blades.contains(blade);
            tried(said).is_some_and(|tried| tried.iter().all(is_owned))
        })
    }

    /// The gap that words tell, some of them passed over.
    fn gaps_among(
        &self,
        net: &Net,
        words: &[String],
        passing: Vec<Option<usize>>,
        scope: &Scope,
    ) -> Option<(usize, Heard)> {
        let names_a_side = words.iter().any(|w| self.spelled_sides.contains(w));
        let sought = among(words, passing, most_of(words));
        let is_of_gaps = |p: usize| is_of_gaps(self.phrases[p].means);
        let Found { cost, mut matches } = net.find(&sought, is_of_gaps);
        let may_be_another = words.iter().any(|w| self.measured_else.contains(w));
        let judged = |m: &Match| judged_blades(m, scope.unit);
        matches.retain(|m| {
            let is_a_gap = !may_be_another || judged(m) > 1;
            is_a_gap
                && m.slot("fix").is_none()
                && is_sure(m)
                && is_no_shim(m)
                && is_in_the_engine(m, scope)
        });
        let enough = if cost <= FEW { 1 } else { 2 };
        let tells = |m: &Match| judged(m) >= enough || m.slot("walked").is_some();
        let here = scope.open.is_some() && matches.iter().all(tells);
        let heard = self.fullest_meaning(&matches, scope);
        // "The right hand one": of the side that is open.
        let is_of_the_pair = matches.iter().all(|m| m.slot("sister").is_some());
        let names_a_valve = names_a_side || here && is_of_the_pair;
        is_plain_reading(&heard, names_a_valve, here).then_some((cost, heard))
    }

    /// What matches mean together, those that judge most blades before all: in "twenty-eight no,
    /// twenty-five no, twenty-three yes" each "no" is rather a verdict than a slip.
    fn fullest_meaning(&self, matches: &[Match], scope: &Scope) -> Heard {
        let judged = |m: &Match| judged_blades(m, scope.unit);
        let most = matches.iter().map(judged).max();
        let is_full = |m: &&Match| Some(judged(m)) == most || m.slot("walked").is_some();
        let fullest: Vec<Match> = matches.iter().filter(is_full).cloned().collect();
        match narrowest(self.meaning(&fullest, scope)) {
            Heard::Accepted(said) => Heard::Accepted(said),
            _ => narrowest(self.meaning(matches, scope)),
        }
    }

    /// Something else that is asked before it is stored. A sentence of which more than a third is talk
    /// is left alone, if it has not the words that tell a phrase (chosen by us, no source).
    fn phrase_among(&self, words: &[String], scope: &Scope) -> Option<(usize, Heard)> {
        let passing = words.iter().enumerate().map(|(i, w)| match () {
            () if i == 0 && self.courtesies.contains(w) => Some(LIGHT),
            () if self.turns_round.contains(w) => None,
            () if self.passed_over.contains(w) || !self.known.contains(w) => Some(LIGHT),
            () if self.weighty.contains(w) || self.bench_words.contains(w) => None,
            () => Some(OTHER),
        });
        let mut sought = among(words, passing.collect(), words.len() / 3);
        let mut found = Found::default();
        if words.iter().any(|w| self.trade_words.contains(w)) {
            found = self.net.find(&sought, |p| is_asked(self.phrases[p].means));
        }
        if found.matches.is_empty() {
            sought.most = most_of(words);
            let is_told = |means| is_asked(means) && !is_of_gaps(means);
            found = self
                .by_core()
                .find(&sought, |p| is_told(self.phrases[p].means));
        }
        found
            .matches
            .retain(|m| is_sure(m) && (!is_of_gaps(self.phrases[m.phrase].means) || is_no_shim(m)));
        let heard = self.meaning(&found.matches, scope);
        matches!(heard, Heard::Accepted(_)).then_some((found.cost, heard))
    }

    /// "Forget that, the blade was bent": what would go is asked.
    fn undoing_among(&self, words: &[String], scope: &Scope) -> Option<Heard> {
        // "Get rid of that old battery": another thing is spoken of.
        let is_a_thing = |i: usize| {
            i > 0 && self.pointing.contains(&words[i - 1]) && !self.passed_over.contains(&words[i])
        };
        let is_light = |i: &usize| !self.begins_a_reading.contains(&words[*i]) && !is_a_thing(*i);
        let passing = (0..words.len()).map(|i| Some(LIGHT).filter(|_| is_light(&i)));
        let sought = among(
            words,
            passing.collect(),
            MOST.min(words.len().saturating_sub(2)),
        );
        let undoes = |means| {
            let both = [Command::Disregard, Command::DisregardIfMeant];
            both.map(Means::Command).contains(&means)
        };
        let found = self.net.find(&sought, |p| undoes(self.phrases[p].means));
        let Heard::Accepted(mut said) = self.meaning(&found.matches, scope) else {
            return None;
        };
        said.meaning = Meaning::Command(Command::DisregardIfMeant);
        Some(Heard::Accepted(said))
    }

    /// "Nah mate, thirty", "oh no, exhaust not inlet": of what was called last. Asked.
    fn correction_among(&self, words: &[String], scope: &Scope) -> Option<Heard> {
        scope.last?;
        let is_light = |w: &String| self.courtesies.contains(w) || self.passed_over.contains(w);
        let passing = words.iter().map(|w| is_light(w).then_some(LIGHT));
        let sought = among(words, passing.collect(), words.len() / 2);
        let puts_right = [Means::Clearance, Means::Command(Command::Moved)];
        let mut found = self
            .by_core()
            .find(&sought, |p| puts_right.contains(&self.phrases[p].means));
        let is_moved = |m: &Match| self.phrases[m.phrase].means != Means::Clearance;
        found
            .matches
            .retain(|m| m.slot("fix").is_some() || is_moved(m));
        let heard = self.meaning(&found.matches, scope);
        matches!(heard, Heard::Accepted(_)).then_some(heard)
    }

    /// A question, with nothing passed over but courtesies; or the words that tell one, with nothing
    /// passed over that a reading is made of.
    fn question_among(&self, words: &[String], scope: &Scope) -> Option<Heard> {
        let is_question = |p: usize| is_question(self.phrases[p].means);
        let is_courtesy = |w: &String| self.courtesies.contains(w);
        let passing = words.iter().map(|w| is_courtesy(w).then_some(LIGHT));
        let sought = among(words, passing.collect(), words.len().saturating_sub(2));
        let mut found = self.net.find(&sought, is_question);
        if found.matches.is_empty() {
            let passing = words.iter().map(|w| match () {
                () if is_courtesy(w) || self.passed_over.contains(w) => Some(LIGHT),
                () if self.turns_round.contains(w) || self.weighty.contains(w) => None,
                () if self.known.contains(w) => Some(OTHER),
                () => Some(LIGHT),
            });
            let sought = among(words, passing.collect(), most_of(words));
            found = self.by_core().find(&sought, is_question);
        }
        let heard = self.meaning(&found.matches, scope);
        matches!(heard, Heard::Accepted(_)).then_some(heard)
    }

    /// What tells a phrase among other words; of readings also how they are said. The recogniser never
    /// listens for it.
    fn by_core(&self) -> &Net {
        let build = || {
            let said = self.phrases.iter().map(|p| &p.node).enumerate();
            let said = said.filter(|(i, _)| is_of_gaps(self.phrases[*i].means));
            let cores = self.cores.iter().map(|(i, node)| (*i, node));
            let all = said.chain(cores);
            build::network(kinds(&self.phrases, all), &self.rules)
        };
        self.by_core.get_or_init(build)
    }

    /// Two blades of a valve, whatever is said of them.
    fn by_two_blades(&self) -> &Net {
        let build = || {
            let mut phrases = self.phrases.iter();
            let first = phrases.position(|p| p.means == Means::Clearance);
            let two = self.rules.get("two_blades_at");
            build::network(
                first.zip(two).map(|(i, two)| (i, vec![two])).into_iter(),
                &self.rules,
            )
        };
        self.by_two_blades.get_or_init(build)
    }

    /// What it costs to pass over each word of a reading; `None` if it may mean something there. What
    /// comes before its first side or blade is talk, but for a "no" and the words of a place.
    fn passing(&self, words: &[String]) -> Vec<Option<usize>> {
        let is_core = |w: &String| self.spelled_sides.contains(w) || self.blades.contains(w);
        let core = words.iter().position(is_core).unwrap_or(words.len());
        let placed =
            |w: &&String| self.begins_a_reading.contains(*w) || self.passed_over.contains(*w);
        let begun = core - words[..core].iter().rev().take_while(placed).count();
        let last = words
            .iter()
            .rposition(|w| self.begins_a_reading.contains(w));
        let is_denied = |i: &usize| self.denials.contains(&words[*i]);
        let denied = (last.unwrap_or_default()..words.len()).find(is_denied);
        // "And the right hand one takes": which of two valves, and no talk.
        // So does "right side now", and "right, one exhaust" does not.
        let tells_valves_apart = |i: usize| {
            let led = i > 0 && self.passed_over.contains(&words[i - 1]);
            let followed = words.get(i + 1).is_some_and(|w| self.of_a_pair.contains(w));
            self.valves.contains(&words[i]) && (led || followed)
        };
        // "With this one": a thing, and no cylinder.
        let is_pointed_at =
            |i: usize| i > 0 && self.pointing.contains(&words[i - 1]) && !is_core(&words[i]);
        let cost = |(i, word): (usize, &String)| match () {
            // "Doesn't, not even a corner."
            () if denied.is_some_and(|d| i > d) && self.denials.contains(word) => Some(OTHER),
            () if self.turns_round.contains(word) || tells_valves_apart(i) => None,
            // "Right, one exhaust right."
            () if i == 0 && self.courtesies.contains(word) => Some(0),
            () if is_pointed_at(i) && self.begins_a_reading.contains(word) => Some(LIGHT),
            () if self.passed_over.contains(word) => Some(if i < begun { 0 } else { LIGHT }),
            () if self.measured_else.contains(word) => Some(OTHER),
            () if i < begun && !self.denials.contains(word) => Some(0),
            () if !self.known.contains(word) => Some(LIGHT),
            () if self.weighty.contains(word) => None,
            () => Some(OTHER),
        };
        words.iter().enumerate().map(cost).collect()
    }
}

/// Words to be found with some of them passed over, none taken for another.
fn among(words: &[String], passing: Vec<Option<usize>>, most: usize) -> Sought<'_> {
    Sought {
        words,
        alike: vec![&[]; words.len()],
        passing,
        most,
    }
}

/// So much of a sentence may be passed over for the words that tell a phrase.
fn most_of(words: &[String]) -> usize {
    MOST.min(words.len() * 2 / 3)
}

/// A gap of a valve, or of several.
fn is_of_gaps(means: Means) -> bool {
    matches!(means, Means::Clearance | Means::Group)
}

/// What may be asked if it stands among other words.
fn is_asked(means: Means) -> bool {
    matches!(
        means,
        Means::Measure
            | Means::Check
            | Means::Repaired
            | Means::ShimFitted
            | Means::ShimSpare
            | Means::Group
    )
}

/// What may be answered if it stands among courtesies.
fn is_question(means: Means) -> bool {
    match means {
        Means::WhatIfCut | Means::AskedAbout | Means::LimitOf => true,
        Means::Command(command) => command.is_a_question(),
        _ => false,
    }
}

/// Of several gaps at one place, what says more than the others: "eighteen goes, twenty is just right"
/// is 0.20, and not only 0.20 or more; "thirty no, twenty-eight no, twenty-five yes" mends no thirty.
fn narrowest(heard: Heard) -> Heard {
    let Heard::Ambiguous(mut all) = heard else {
        return heard;
    };
    // "Twenty-five's in, though": no inlet.
    if all.iter().any(|s| s.place.is_empty() || s.is_placed()) {
        all.retain(|s| s.place.is_empty() || s.is_placed());
    }
    let bounds: Vec<_> = all.iter().map(|s| (s.place, bounds(&s.meaning))).collect();
    let mut each = bounds.iter();
    let is_vague = |one: &(Whereabouts, Option<Bounds>)| {
        let holds = |(lower, upper): Bounds, (low, high): Bounds| {
            let within = upper.is_none_or(|upper| high.is_some_and(|high| high <= upper));
            lower <= low && within && (lower, upper) != (low, high)
        };
        let is_narrower = |other: &&(Whereabouts, Option<Bounds>)| {
            other.0 == one.0 && one.1.zip(other.1).is_some_and(|(o, n)| holds(o, n))
        };
        bounds.iter().any(|other| is_narrower(&other))
    };
    all.retain(|_| !each.next().is_some_and(is_vague));
    match all.len() {
        1 => Heard::Accepted(all.swap_remove(0)),
        _ => Heard::Ambiguous(all),
    }
}

/// From where to where a gap lies.
type Bounds = (Length, Option<Length>);

/// `None` if a meaning is not one gap.
fn bounds(meaning: &Meaning) -> Option<Bounds> {
    let Meaning::Reading {
        value: Value::Gap(gap),
        ..
    } = meaning
    else {
        return None;
    };
    Some(match *gap {
        Gap::Between { goes_nm, stops_nm } => (goes_nm, Some(stops_nm)),
        Gap::Single(length) => (length, Some(length)),
        Gap::AtLeast(length) => (length, None),
        Gap::Below(length) => (Length::ZERO, Some(length)),
        Gap::None => return None,
    })
}

/// A reading of a place that is named, or of the open valve; or several, each of a place that is
/// named.
fn is_plain_reading(heard: &Heard, names_a_side: bool, of_the_open_valve: bool) -> bool {
    let Heard::Accepted(said) = heard else {
        return false;
    };
    match &said.meaning {
        Meaning::Group(..) => names_a_side,
        Meaning::Several(all) => names_a_side && all.iter().all(|s| is_reading(s) && s.is_placed()),
        _ if said.place.is_empty() => is_reading(said) && of_the_open_valve,
        _ => is_reading(said) && names_a_side && said.is_placed(),
    }
}

/// Whether a gap is one: among other words "two fifty" is rather a shim.
fn is_no_shim(m: &Match) -> bool {
    let is_of_a_blade = |slot: &str| ["goes", "stops", "value"].contains(&slot);
    let mut caught = m.slots.iter();
    !caught.any(|(slot, said)| is_of_a_blade(slot) && gap::has_three_figures(said))
}

/// Among other words "no" after a blade is rather a verdict than a slip.
fn is_sure(m: &Match) -> bool {
    let is_of_a_blade =
        |(slot, _): &(String, String)| ["goes", "stops", "value"].contains(&slot.as_str());
    let mut before_no = m.slots.split(|(slot, said)| slot == "slip" && said == "no");
    let first = before_no.next().unwrap_or_default();
    !(before_no.next().is_some() && first.iter().any(is_of_a_blade))
}

/// "Twenty-five in" is no "twenty, five in(let)" of an engine with three cylinders.
fn is_in_the_engine(m: &Match, scope: &Scope) -> bool {
    let mut cylinders = m.all("cylinder").filter_map(|n| n.parse::<u8>().ok());
    cylinders.all(|n| n <= scope.cylinders)
}

/// How many blades were judged: hardly anybody says that of anything else. None has a single figure
/// in millimetres.
fn judged_blades(m: &Match, unit: LengthUnit) -> usize {
    let judged = m.all("goes").chain(m.all("stops"));
    let is_blade = |raw: &&str| raw.len() > 1 || unit != LengthUnit::Millimetre;
    judged.filter(is_blade).count()
}

fn is_reading(said: &Said) -> bool {
    matches!(said.meaning, Meaning::Reading { fix: false, .. })
}
