//! What is looked at, what is still to be done, and the stages of the job.

use super::place::{self, Placed};
use super::settle::{Force, settle};
use super::{Decision, JobSetup, State, heads};
use crate::engine::Verdict;
use crate::engine::inspection::Figure;
use crate::event::{
    About, Doubt, Fact, Head, NewRound, Outcome, Position, Question, Reached, Reading, Repair,
    Value,
};
use crate::grammar::{Meaning, Whereabouts};
use crate::measure::{Amount, Length};
use crate::record::{Looks, Task};

/// The valve that is named, or that was named last: "that one".
pub(super) fn on(setup: &JobSetup, state: &State, said: &Whereabouts) -> Option<Position> {
    if said.is_empty() {
        return state.named.or(state.open);
    }
    match place::resolve(setup, state, said) {
        Placed::At(position) => Some(position),
        Placed::Missing(_) => None,
    }
}

/// "Plugs in, dowels two": looked at and found as it should be, or not.
pub(super) fn check(
    setup: &JobSetup,
    state: &State,
    position: Option<Position>,
    head: Option<Head>,
    items: Vec<(String, Option<u16>)>,
    good: bool,
) -> Decision {
    let warm =
        matches!(state.counting().stage(), Some((stage, false)) if WARM_STAGES.contains(&stage));
    let (items, good) = match &items[..] {
        [(item, None)] if warm && !good && item == COLD => (vec![(WARM.to_owned(), None)], true),
        _ => (items, good),
    };
    let several = !setup.profile.heads.is_empty() && position.is_none();
    let of_head = |item: &str| several && (head.is_some() || Looks::is_of_a_head(item));
    let head = head.or(state.head);
    let fact = |(item, count): (String, Option<u16>)| Fact::Checked {
        head: head.filter(|_| of_head(&item)),
        item,
        count,
        good,
        position,
    };
    let lacks_head = head.is_none() && items.iter().any(|(item, _)| of_head(item));
    let facts: Vec<Fact> = items.into_iter().map(fact).collect();
    if lacks_head {
        return heads::ask_of_looks(setup, state, facts);
    }
    looked_at(setup, state, position, facts)
}

/// "Rear", to the question on which head something was looked at.
pub(super) fn check_on(setup: &JobSetup, state: &State, proposed: &[Fact], head: Head) -> Decision {
    let with_head = |fact: &Fact| match fact {
        Fact::Checked {
            item, count, good, ..
        } => Fact::Checked {
            item: item.clone(),
            count: *count,
            good: *good,
            position: None,
            head: Looks::is_of_a_head(item).then_some(head),
        },
        other => other.clone(),
    };
    let facts: Vec<Fact> = proposed.iter().map(with_head).collect();
    looked_at(setup, state, None, facts)
}

fn looked_at(
    setup: &JobSetup,
    state: &State,
    position: Option<Position>,
    facts: Vec<Fact>,
) -> Decision {
    let read_back = setup.wording(state).facts(&facts);
    let spoken = match at_once(setup, state, &facts) {
        Some(caution) if caution.1 => caution.0,
        Some((caution, _)) => format!("{read_back}. {caution}"),
        None => read_back,
    };
    Decision::new(Outcome::Stored, "something looked at")
        .about(position)
        .say(spoken)
        .adds(facts)
}

/// "Lapped cylinder two": each of its valves. All of them are read out, and only a yes stores them.
pub(super) fn check_each(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    items: &[(String, Option<u16>)],
    good: bool,
) -> Decision {
    let is = |p: &Position| {
        said.cylinder.is_none_or(|c| c == p.cylinder)
            && said.side.is_none_or(|s| s == p.side)
            && said.valve.is_none_or(|v| Some(v) == p.valve)
    };
    let valves = setup.profile.valves().into_iter().filter(is);
    let facts: Vec<Fact> = valves
        .flat_map(|position| {
            items.iter().map(move |(item, count)| Fact::Checked {
                item: item.clone(),
                count: *count,
                good,
                position: Some(position),
                head: None,
            })
        })
        .collect();
    let read_back = setup.wording(state).facts(&facts);
    let words = setup.answer("confirm", &[("reading", &read_back)]);
    let question = Question::plain(Doubt::Several, facts, words);
    Decision::new(Outcome::Asked, "several valves at once").asks(question)
}

/// "New guide in two exhaust left, reamed six oh one": what was measured of it before is void.
pub(super) fn repaired(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    work: Repair,
    bore: Option<Box<Meaning>>,
) -> Decision {
    let Some(position) = on(setup, state, said) else {
        return Decision::new(Outcome::Refused, "which valve was not said")
            .say(setup.answer("which_position", &[]));
    };
    if work == Repair::Adjusted && setup.profile.shims.kind.has_shims() {
        return Decision::new(
            Outcome::Refused,
            "this engine has shims, and no screws to set",
        )
        .say(setup.answer("no_screws", &[]));
    }
    let fact = Fact::Repaired { position, work };
    let words = setup.wording(state).fact(&fact);
    let Some(Meaning::Reading {
        quantity,
        part,
        value,
        unit,
        unusual,
        ..
    }) = bore.map(|b| *b)
    else {
        return Decision::new(Outcome::Stored, "repaired: measured before is void")
            .about(Some(position))
            .say(words)
            .adds([fact]);
    };
    let reading = Reading {
        position: Some(position),
        part,
        head: None,
        quantity,
        value,
        unit,
    };
    let force = Force {
        fresh: true,
        unusual,
        fixes: None,
    };
    let mut decision = settle(setup, state, reading, force);
    decision.spoken = match quantity.adds_up() {
        true => format!("{}{}", decision.spoken, in_all(setup, state, &reading)),
        false => format!("{words}. {}", decision.spoken),
    };
    for asked in &mut decision.facts {
        if let Fact::Asked(question) = asked {
            question.proposed.insert(0, fact);
            return decision;
        }
    }
    decision.facts.insert(0, fact);
    decision
}

/// What was taken off a seat or a tip in all, with this, against its limit: ", over, limit …".
fn in_all(setup: &JobSetup, state: &State, reading: &Reading) -> String {
    let taken = |r: &Reading| match r.value {
        Value::Amount(Amount::LengthNm(length)) => length,
        _ => Length::ZERO,
    };
    let before = reading.position.map(|position| {
        let all = state.counting().all_of(position, reading.quantity);
        all.map(|r| taken(&r))
            .fold(Length::ZERO, |sum, one| sum + one)
    });
    let total = before.unwrap_or(Length::ZERO) + taken(reading);
    let limit = setup
        .profile
        .limit_for(reading.quantity.key(), reading.side(), None);
    let most = limit.ok().flatten().and_then(|l| l.most);
    let Some(Figure::Amount(most)) = most else {
        return String::new();
    };
    let key = match total.nm() > most.base() {
        true => "over_limit",
        false => "in_limit",
    };
    format!(
        ", {}",
        setup.answer(key, &[("limit", &setup.amount_words(most))])
    )
}

/// "The owner is …": words that anybody may say, so they are asked.
pub(super) fn told(setup: &JobSetup, state: &State, what: About, text: &str) -> Decision {
    let text = match what.is_spelled() {
        true => spelled(setup, text),
        false => text.to_owned(),
    };
    // A distance without its unit is in that of the one that was told before.
    let text = match Reached::figures(&text).filter(|_| what.is_reached()) {
        None => text,
        Some(count) => {
            let before = state.counting().about().into_iter();
            let mut units = before.filter_map(|(_, told)| Some(Reached::parse(told)?.unit));
            let Some(unit) = units.next() else {
                return which_distance(setup, what, count);
            };
            Reached { count, unit }.to_string()
        }
    };
    let fact = Fact::About { what, text };
    let words = setup.wording(state).fact(&fact);
    let asked = setup.answer("confirm", &[("reading", &words)]);
    let question = Question::plain(Doubt::Uncertain, vec![fact], asked);
    Decision::new(Outcome::Asked, "free words: they are stored after a yes").asks(question)
}

/// "Kilometres, miles or hours?"
fn which_distance(setup: &JobSetup, what: About, count: u32) -> Decision {
    let figures = setup.grammar.wording.number(&count.to_string());
    let words = setup.answer("which_distance", &[("value", &figures)]);
    let with_unit = |unit| Fact::About {
        what,
        text: Reached { count, unit }.to_string(),
    };
    let question = Question::choice(["km", "miles", "h"].map(with_unit).to_vec(), words);
    Decision::new(Outcome::Asked, "a distance or hours without their unit").asks(question)
}

/// Letters and figures that were said one by one, as they are written: "a b one two" is "AB12". One
/// alone stays a word: "twenty four thousand".
fn spelled(setup: &JobSetup, text: &str) -> String {
    let sign = |word: &str| {
        let figure = setup.grammar.figure(word).map(str::to_owned);
        figure.or_else(|| (word.chars().count() == 1).then(|| word.to_uppercase()))
    };
    let words: Vec<&str> = text.split(' ').collect();
    let runs = words.chunk_by(|a, b| sign(a).is_some() == sign(b).is_some());
    let written = |run: &[&str]| {
        let signs: Option<String> = run.iter().map(|word| sign(word)).collect();
        signs
            .filter(|_| run.len() > 1)
            .unwrap_or_else(|| run.join(" "))
    };
    runs.map(written).collect::<Vec<_>>().join(" ")
}

/// "Second round": every valve is measured again, and what was measured stays as that of its round.
pub(super) fn new_round(setup: &JobSetup, state: &State) -> Decision {
    let left = super::asked::how_many_left(setup, state);
    if !state.view.has_measured() {
        return left;
    }
    let words = setup.answer("new_round", &[]);
    let all = to_measure(setup, setup.profile.valves().len());
    Decision::new(
        Outcome::Stored,
        "a new round: all valves are measured again",
    )
    .say(format!("{words}, {all}"))
    .adds([Fact::RoundBegun])
}

fn to_measure(setup: &JobSetup, count: usize) -> String {
    let count = u32::try_from(count).unwrap_or(u32::MAX);
    let count = setup.grammar.wording.whole(count);
    setup.answer("to_measure", &[("count", &count)])
}

/// What must be said at once of what was looked at, and whether it is said instead of the read-back.
fn at_once(setup: &JobSetup, state: &State, facts: &[Fact]) -> Option<(String, bool)> {
    facts.iter().find_map(|fact| match fact {
        Fact::Checked { item, good, .. } if item == TURNS && !good => {
            Some((setup.answer("stop_turning", &[]), true))
        }
        // A valve without clearance makes no noise.
        Fact::Checked { item, good, .. } if item == TICK && *good => {
            Some((setup.answer("no_tick_no_proof", &[]), false))
        }
        Fact::Checked { item, .. } if item == Looks::CAMS_OUT => {
            Some((setup.answer("after_cams", &[]), false))
        }
        Fact::Checked { item, count, .. } if item == RAGS_OUT => {
            let here = facts.iter().find_map(|f| counted(f, RAGS_IN));
            let put_in = here.or_else(|| in_head(state))?;
            Some((rags_short(setup, put_in, (*count)?)?, false))
        }
        _ => None,
    })
}

/// The items of the grammar that a caution knows.
const TURNS: &str = "turns";
const RAGS_IN: &str = "rags_in";
const RAGS_OUT: &str = "rags_out";
const LEAK: &str = "leak_check";
const TICK: &str = "tick";
const COLD: &str = "cold";
const WARM: &str = "warm";
/// Stages in which the engine is warm, and has to be.
const WARM_STAGES: [&str; 3] = ["compression", "leak_down", "start"];

fn counted(fact: &Fact, key: &str) -> Option<u16> {
    match fact {
        Fact::Checked { item, count, .. } if item == key => *count,
        _ => None,
    }
}

/// How many rags were put into the head.
fn in_head(state: &State) -> Option<u16> {
    counted(state.counting().check(RAGS_IN, None)?, RAGS_IN)
}

/// "One rag short", where fewer came out than went in.
fn rags_short(setup: &JobSetup, put_in: u16, out: u16) -> Option<String> {
    let short = put_in.checked_sub(out).filter(|n| *n > 0)?;
    let count = setup.grammar.wording.whole(u32::from(short));
    let key = if short == 1 {
        "rag_short"
    } else {
        "rags_short"
    };
    Some(setup.answer(key, &[("count", &count)]))
}

/// What speaks against putting the cover on: valves out of band or not measured, a seat that leaks,
/// a rag that did not come out.
fn before_the_cover(setup: &JobSetup, state: &State) -> Vec<String> {
    let valves = setup.profile.valves();
    let say = |key: &str, count: usize| {
        let count = u32::try_from(count).ok().filter(|n| *n > 0)?;
        let count = setup.grammar.wording.whole(count);
        Some(setup.answer(key, &[("count", &count)]))
    };
    let are = |wanted: &[Verdict]| {
        let of = |p: &&Position| wanted.contains(&state.view.verdict(**p));
        valves.iter().filter(of).count()
    };
    let leaks = |p: &&Position| {
        let check = state.counting().check(LEAK, Some(**p));
        matches!(check, Some(Fact::Checked { good: false, .. }))
    };
    let out = state.counting().check(RAGS_OUT, None);
    let out = out.and_then(|f| counted(f, RAGS_OUT)).unwrap_or(0);
    let rags = in_head(state).and_then(|put_in| rags_short(setup, put_in, out));
    let all = [
        say("some_tight", are(&[Verdict::Tight, Verdict::NoGap])),
        say("some_loose", are(&[Verdict::Loose])),
        say("to_measure", state.view.remaining().len()),
        say("some_leak", valves.iter().filter(leaks).count()),
        rags,
    ];
    all.into_iter().flatten().collect()
}

/// What speaks against a stage, so that it is asked first.
fn against(setup: &JobSetup, state: &State, stage: &str, done: bool) -> Vec<String> {
    match (stage, done) {
        ("cover", false) => before_the_cover(setup, state),
        // Of the valves that were lapped alone it is said with their place.
        ("lapping", true) if state.view.has_measured() => {
            let round = setup.answer("new_round", &[]);
            vec![format!(
                "{round}, {}",
                to_measure(setup, setup.profile.valves().len())
            )]
        }
        ("turning", true) => {
            let turns = state.counting().check(TURNS, None);
            let stops = matches!(turns, Some(Fact::Checked { good: false, .. }));
            let stops = stops.then(|| turns.map(|f| setup.wording(state).fact(f)));
            stops.flatten().into_iter().collect()
        }
        _ => Vec::new(),
    }
}

/// A stage that is begun or finished, in words.
pub(super) fn stage_name(setup: &JobSetup, fact: &Fact) -> Option<String> {
    let Fact::Stage { stage, done } = fact else {
        return None;
    };
    let known = setup.grammar.stage(stage)?;
    let key = if *done { "stage_done" } else { "stage_begun" };
    Some(setup.answer(key, &[("stage", setup.name_of(known))]))
}

/// The same as it is said when it begins or ends, with its cautions the first time.
pub(super) fn stage_words(setup: &JobSetup, state: &State, fact: &Fact) -> Option<String> {
    let Fact::Stage { stage, done } = fact else {
        return None;
    };
    let known = setup.grammar.stage(stage)?;
    let mut spoken = stage_name(setup, fact)?;
    if NewRound::of(fact).is_some() && state.view.has_measured() {
        let round = setup.answer("new_round", &[]);
        let all = to_measure(setup, setup.profile.valves().len());
        spoken = format!("{spoken}. {round}, {all}");
    }
    if !done && !state.counting().was_begun(stage) {
        for caution in setup.cautions(known) {
            spoken.push_str(if spoken.ends_with('.') { " " } else { ". " });
            spoken.push_str(caution);
        }
    }
    if let Some(open) = (!done)
        .then(|| not_looked_at(setup, state, &known.before))
        .flatten()
    {
        spoken.push_str(if spoken.ends_with('.') { " " } else { ". " });
        spoken.push_str(&open);
    }
    Some(spoken)
}

/// What of these items nobody has found good yet, in words; what is looked at on each head, of each.
fn not_looked_at(setup: &JobSetup, state: &State, items: &[String]) -> Option<String> {
    let wording = setup.wording(state);
    let heads = setup.profile.head_names();
    let good = |item: &str, head: Option<Head>| {
        let look = state.counting().check_on(item, head);
        matches!(look, Some(Fact::Checked { good: true, .. }))
    };
    let name = |item: &String| {
        let name = wording.items.get(item.as_str())?;
        if heads.is_empty() || !Looks::is_of_a_head(item) {
            return (!good(item, None)).then(|| name.clone());
        }
        let open: Vec<Head> = (heads.iter().copied())
            .filter(|h| !good(item, Some(*h)))
            .collect();
        match open.len() {
            0 => None,
            n if n == heads.len() => Some(name.clone()),
            _ => {
                let open: Vec<String> = open.into_iter().map(|h| wording.head(h)).collect();
                Some(format!("{} {name}", open.join(" ")))
            }
        }
    };
    let names: Vec<String> = items.iter().filter_map(name).collect();
    (!names.is_empty()).then(|| setup.answer("not_yet", &[("items", &names.join(", "))]))
}

/// "Remind me …", "order …", "mark that one for lapping".
pub(super) fn task(
    setup: &JobSetup,
    state: &State,
    said: &Whereabouts,
    kind: String,
    text: String,
) -> Decision {
    // A task in free words belongs to the job; one without words to a valve.
    let position = on(setup, state, said).filter(|_| text.is_empty() || !said.is_empty());
    if text.is_empty() && position.is_none() {
        return Decision::new(Outcome::Refused, "no valve was named and none is open")
            .say(setup.answer("which_position", &[]));
    }
    let place = position.map(|p| setup.wording(state).place(p));
    let spoken = setup.answer("listed", &[("place", place.as_deref().unwrap_or_default())]);
    Decision::new(Outcome::Stored, "on the list of what is still open")
        .about(position)
        .say(spoken)
        .adds([Fact::Task {
            kind,
            text,
            position,
        }])
}

/// "Tick off …": the one open task that has these words.
pub(super) fn tick(setup: &JobSetup, state: &State, text: &str) -> Decision {
    let wanted: Vec<&str> = text.split(' ').collect();
    let found: Vec<_> = state
        .counting()
        .tasks()
        .into_iter()
        .filter(|t| {
            let has: Vec<&str> = t.text.split(' ').collect();
            wanted.iter().all(|w| has.contains(w))
        })
        .collect();
    match found[..] {
        [one] => Decision::new(Outcome::Stored, format!("done: {}", one.text))
            .about(one.position)
            .say(setup.answer("ticked", &[]))
            .adds([Fact::Ticked(one.event)]),
        [] => Decision::new(
            Outcome::Refused,
            format!("nothing on the list has the words \"{text}\""),
        )
        .say(setup.answer("not_listed", &[])),
        _ => Decision::new(
            Outcome::Asked,
            format!("{} tasks have the words \"{text}\"", found.len()),
        )
        .say(setup.answer("not_understood", &[])),
    }
}

/// A stage is begun, its cautions read out the first time, or finished.
pub(super) fn stage(setup: &JobSetup, state: &State, stage: String, done: bool) -> Decision {
    // "Done" alone ends the stage that was begun.
    let stage = match state.counting().stage() {
        Some((open, false)) if stage.is_empty() => open.to_owned(),
        _ => stage,
    };
    let problems = against(setup, state, &stage, done);
    let fact = Fact::Stage { stage, done };
    let Some(spoken) = stage_words(setup, state, &fact) else {
        return Decision::new(Outcome::Ignored, "no stage of the job");
    };
    if !problems.is_empty() {
        let problems = problems.join(", ");
        let question = Question::plain(
            Doubt::Unusual,
            vec![fact],
            setup.answer("all_the_same", &[("problems", &problems)]),
        );
        return Decision::new(Outcome::Asked, problems).asks(question);
    }
    Decision::new(
        Outcome::Stored,
        "the order of stages is advice, never a lock",
    )
    .say(spoken)
    .adds([fact])
}

/// What is still open, in words.
pub(super) fn open(setup: &JobSetup, state: &State) -> String {
    let tasks = state.counting().tasks();
    let wording = setup.wording(state);
    let left = state.left_open.iter();
    let left = left.map(|l| setup.answer("left_open", &[("place", &l.words(wording))]));
    let one = |task: &Task<'_>| {
        let kind = wording.tasks.get(task.kind).cloned().unwrap_or_default();
        let place = task.position.map(|p| wording.place(p)).unwrap_or_default();
        [place, kind, task.text.to_owned()]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    };
    let all: Vec<String> = left.chain(tasks.iter().map(one)).collect();
    if all.is_empty() {
        return setup.answer("nothing_open", &[]);
    }
    all.join(". ")
}

/// The valve that a fact is of.
const fn valve_of(fact: &Fact) -> Option<Position> {
    match fact {
        Fact::Opened(position) => Some(*position),
        Fact::Read(reading) => reading.position,
        Fact::Checked { position, .. }
        | Fact::Task { position, .. }
        | Fact::Note { position, .. } => *position,
        _ => None,
    }
}

/// The stage, the open valve, the last thing done, and what is open.
pub(super) fn where_am_i(setup: &JobSetup, state: &State) -> String {
    let mut parts = Vec::new();
    if let Some((key, done)) = state.counting().stage()
        && let Some(stage) = setup.grammar.stage(key)
    {
        let form = if done { "stage_done" } else { "stage_now" };
        parts.push(setup.answer(form, &[("stage", setup.name_of(stage))]));
    }
    let last_at = state.counting().last_done().and_then(valve_of);
    if let Some(open) = state.open.filter(|p| last_at != Some(*p)) {
        parts.push(setup.wording(state).place(open));
    }
    if let Some(fact) = state.counting().last_done() {
        let last = setup.wording(state).fact(fact);
        parts.push(setup.answer("last_done", &[("reading", &last)]));
    }
    let whole = |n: usize| {
        let n = u32::try_from(n).unwrap_or(u32::MAX);
        setup.grammar.wording.whole(n)
    };
    let left = state.view.remaining().len();
    if left > 0 {
        let count = whole(left);
        parts.push(setup.answer("to_measure", &[("count", &count)]));
    }
    let tasks = state.counting().tasks().len() + state.left_open.len();
    let count = whole(tasks);
    parts.push(if tasks == 0 {
        setup.answer("nothing_open", &[])
    } else {
        setup.answer("open_tasks", &[("count", &count)])
    });
    parts.join(". ")
}
