//! The facts that count: a reviewed event has those of its last review, a cancelled one has none.
//! A cancellation that was taken back cancels nothing; one that another entry replaced goes on
//! cancelling, or putting a correction right would bring back what it corrected.

use super::kind::Kind;
use crate::engine::{At, Log};
use crate::event::{About, Event, Fact, Head, Position, Reading, Repair};
use crate::measure::{Length, Quantity};
use std::collections::{BTreeMap, BTreeSet};

/// Things looked at that the record knows by the keys of their items.
pub(crate) struct Looks;

impl Looks {
    /// The camshafts are out.
    pub(crate) const CAMS_OUT: &str = "cams_out";
    /// What has to be looked at again after that. Common practice, no source.
    const AFTER_CAMS: [&str; 3] = ["marks", "tensioner", "turns"];
    /// What is looked at on each head by itself. Common practice, no source.
    const OF_A_HEAD: [&str; 15] = [
        "gasket",
        "dowels",
        "jets",
        "threads",
        "new_bolts",
        "marks",
        "tensioner",
        "tensioner_locked",
        "tensioner_out",
        "chain_guides",
        "sprocket_bolts",
        "sealant",
        "half_moons",
        "plug_seals",
        "cams_out",
    ];
    /// The stages that are open again after that.
    const STAGES_AFTER_CAMS: [&str; 3] = ["cams", "timing", "turning"];

    /// Whether an item is looked at on each head by itself.
    pub(crate) fn is_of_a_head(item: &str) -> bool {
        Self::OF_A_HEAD.contains(&item)
    }
}

/// How many cancellations of an event hold, and how many of them put something in its place.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
struct Cancellations {
    all: usize,
    replacing: usize,
}

impl Cancellations {
    /// Whether the event's own facts count.
    const fn let_count(self) -> bool {
        self.all == 0
    }

    /// Whether what the event cancels stays cancelled.
    const fn let_hold(self) -> bool {
        self.all == 0 || self.replacing > 0
    }
}

/// Changes of [`Cancellations`].
#[derive(Clone, Copy, Default)]
struct Change {
    all: isize,
    replacing: isize,
}

impl Change {
    fn add(&mut self, replaces: bool, came: bool) {
        let step = if came { 1 } else { -1 };
        self.all += step;
        self.replacing += if replaces { step } else { 0 };
    }
}

/// What an event cancels, and whether it puts something in its place.
struct Cancels {
    ids: Vec<u64>,
    replaces: bool,
}

/// All events of a job, and the facts of them that count, filed by what they are asked for.
#[derive(Clone, Debug, Default)]
pub struct Counting {
    events: Vec<Event>,
    /// The facts of the last review of an event, by the event.
    reviewed: BTreeMap<u64, Vec<Fact>>,
    /// The cancellations of each event that hold.
    cancelled: BTreeMap<u64, Cancellations>,
    filed: BTreeMap<Kind, BTreeSet<At>>,
}

impl Counting {
    /// Takes in the next event; their numbers rise. Gives the bench's logs in which earlier facts
    /// came or went.
    pub fn apply(&mut self, event: &Event) -> BTreeSet<Log> {
        let mut changed = BTreeSet::new();
        // A review may stand in an event that was itself cancelled: it was looked at all the same.
        for fact in &event.facts {
            if let Fact::Reviewed { event, facts, .. } = fact {
                self.review(*event, facts, &mut changed);
            }
        }
        self.events.push(event.clone());
        // No later event can have cancelled it yet.
        self.file(event.id, true, None);
        self.settle([(self.cancels(event.id), true)], &mut changed);
        changed
    }

    /// Other facts take the place of an event's.
    fn review(&mut self, id: u64, facts: &[Fact], changed: &mut BTreeSet<Log>) {
        let counts = self.counts(id);
        let holds = self.holds(id);
        let before = self.cancels(id);
        if counts {
            self.file(id, false, Some(changed));
        }
        self.reviewed.insert(id, facts.to_vec());
        if counts {
            self.file(id, true, Some(changed));
        }
        if holds {
            self.settle([(before, false), (self.cancels(id), true)], changed);
        }
    }

    /// Counts cancellations that came or went, and what follows from them, latest event first: an
    /// event is only ever cancelled by a later one. A chain of corrections goes one step, whatever
    /// its length: what the one before had cancelled stays cancelled.
    fn settle(
        &mut self,
        cancels: impl IntoIterator<Item = (Cancels, bool)>,
        changed: &mut BTreeSet<Log>,
    ) {
        let mut waiting: BTreeMap<u64, Change> = BTreeMap::new();
        let wait = |waiting: &mut BTreeMap<u64, Change>, cancels: Cancels, came: bool| {
            for id in cancels.ids {
                waiting.entry(id).or_default().add(cancels.replaces, came);
            }
        };
        for (cancels, came) in cancels {
            wait(&mut waiting, cancels, came);
        }
        while let Some((id, change)) = waiting.pop_last() {
            let now = self.cancelled.entry(id).or_default();
            let before = *now;
            now.all = now.all.saturating_add_signed(change.all);
            now.replacing = now.replacing.saturating_add_signed(change.replacing);
            let now = *now;
            if self.event(id).is_none() {
                continue;
            }
            if now.let_count() != before.let_count() {
                self.file(id, now.let_count(), Some(changed));
            }
            if now.let_hold() != before.let_hold() {
                wait(&mut waiting, self.cancels(id), now.let_hold());
            }
        }
    }

    /// Files the facts of an event, or takes them out.
    fn file(&mut self, id: u64, comes: bool, mut changed: Option<&mut BTreeSet<Log>>) {
        let kinds: Vec<Vec<Kind>> = self.facts_of(id).iter().map(Kind::of).collect();
        for (kinds, at) in kinds.into_iter().zip(0..) {
            for kind in kinds {
                if let (Kind::Bench(log), Some(changed)) = (&kind, changed.as_deref_mut()) {
                    changed.insert(*log);
                }
                if comes {
                    self.filed.entry(kind).or_default().insert((id, at));
                } else if let Some(all) = self.filed.get_mut(&kind) {
                    all.remove(&(id, at));
                    if all.is_empty() {
                        self.filed.remove(&kind);
                    }
                }
            }
        }
    }

    /// The earlier events that an event says are cancelled.
    fn cancels(&self, id: u64) -> Cancels {
        let facts = self.facts_of(id);
        let earlier = facts.iter().filter_map(|f| match f {
            Fact::Cancelled(other) if *other < id => Some(*other),
            _ => None,
        });
        Cancels {
            ids: earlier.collect(),
            replaces: facts.iter().any(Fact::is_entry),
        }
    }

    fn cancellations(&self, id: u64) -> Cancellations {
        self.cancelled.get(&id).copied().unwrap_or_default()
    }

    /// All events, cancelled ones too.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// The event of that number.
    #[must_use]
    pub fn event(&self, id: u64) -> Option<&Event> {
        let at = self.events.binary_search_by_key(&id, |e| e.id).ok()?;
        self.events.get(at)
    }

    /// Whether there is such an event, and nothing cancelled it.
    #[must_use]
    pub fn counts(&self, id: u64) -> bool {
        self.event(id).is_some() && !self.is_cancelled(id)
    }

    /// Whether a cancellation that holds names an event.
    #[must_use]
    pub fn is_cancelled(&self, id: u64) -> bool {
        !self.cancellations(id).let_count()
    }

    /// Whether what an event cancels is cancelled: it counts, or something stands in its place.
    #[must_use]
    pub fn holds(&self, id: u64) -> bool {
        self.event(id).is_some() && self.cancellations(id).let_hold()
    }

    /// The facts of an event: those of its last review, where it has one.
    #[must_use]
    pub fn facts_of(&self, id: u64) -> &[Fact] {
        let own = || self.event(id).map_or(&[][..], |e| &e.facts);
        self.reviewed.get(&id).map_or_else(own, Vec::as_slice)
    }

    /// Whether an event was looked at again.
    #[must_use]
    pub fn is_reviewed(&self, id: u64) -> bool {
        self.reviewed.contains_key(&id)
    }

    /// Every event that counts with its facts, oldest first.
    pub fn all(&self) -> impl Iterator<Item = (&Event, &[Fact])> {
        let counting = self.events.iter().filter(|e| self.counts(e.id));
        counting.map(|e| (e, self.facts_of(e.id)))
    }

    /// The facts of a kind that count, oldest first.
    pub fn of(&self, kind: &Kind) -> impl DoubleEndedIterator<Item = (At, &Fact)> + use<'_> {
        let all = self.filed.get(kind).into_iter().flatten();
        all.filter_map(|at| Some((*at, self.facts_of(at.0).get(at.1)?)))
    }

    /// The last fact of a kind, with its event.
    #[must_use]
    pub fn last(&self, kind: &Kind) -> Option<(u64, &Fact)> {
        self.of(kind).next_back().map(|(at, fact)| (at.0, fact))
    }

    fn last_read(&self, kind: &Kind) -> Option<(u64, Reading)> {
        let mut latest = self.of(kind).rev();
        latest.find_map(|(at, fact)| match fact {
            Fact::Read(reading) if self.stands(at, reading) => Some((at.0, *reading)),
            _ => None,
        })
    }

    /// Whether a reading still tells what is there: nothing that was measured has been repaired or
    /// replaced since, and of a clearance no other round has begun. What no longer stands counts as
    /// a part of the record.
    #[must_use]
    pub fn stands(&self, at: At, reading: &Reading) -> bool {
        let clearance = reading.quantity == Quantity::Clearance;
        let round = self.of(&Kind::Round).next_back();
        let other_round = clearance && round.is_some_and(|(begun, _)| begun > at);
        !other_round && self.replaced_by(at, reading).is_none()
    }

    /// The repair that closed a reading.
    #[must_use]
    pub fn replaced_by(&self, at: At, reading: &Reading) -> Option<Repair> {
        let closes = |repair: Repair| repair.closes().contains(&reading.quantity);
        self.repaired_since(at, reading.position?, closes)
    }

    fn repaired_since(
        &self,
        at: At,
        position: Position,
        closes: impl Fn(Repair) -> bool,
    ) -> Option<Repair> {
        let repairs = self.of(&Kind::Repair(position));
        let later = repairs.filter(|(done, _)| *done > at);
        let mut works = later.filter_map(|(_, fact)| Some(Repair::of(fact)?.1));
        works.rfind(|work| closes(*work))
    }

    /// What was repaired, oldest first.
    pub fn repairs(&self) -> impl Iterator<Item = (At, Position, Repair)> {
        let valves = self.filed.range(Kind::Repair(Position::FIRST)..);
        let valves = valves.take_while(|(kind, _)| matches!(kind, Kind::Repair(_)));
        let mut all: Vec<At> = valves.flat_map(|(_, at)| at.iter().copied()).collect();
        all.sort_unstable();
        all.into_iter().filter_map(|at| {
            let (position, work) = Repair::of(self.facts_of(at.0).get(at.1)?)?;
            Some((at, position, work))
        })
    }

    /// All readings that stand, oldest first.
    pub fn readings(&self) -> impl Iterator<Item = &Reading> {
        self.of(&Kind::Reading).filter_map(|(at, fact)| match fact {
            Fact::Read(reading) if self.stands(at, reading) => Some(reading),
            _ => None,
        })
    }

    /// The readings that a repair has closed, oldest first.
    pub fn closed_readings(&self) -> impl Iterator<Item = &Reading> {
        self.of(&Kind::Reading).filter_map(|(at, fact)| match fact {
            Fact::Read(reading) => self.replaced_by(at, reading).map(|_| reading),
            _ => None,
        })
    }

    /// The latest reading that counts, whether it stands or not: the one that was said last.
    #[must_use]
    pub fn last_reading(&self) -> Option<(u64, Reading)> {
        match self.last(&Kind::Reading)? {
            (id, Fact::Read(reading)) => Some((id, *reading)),
            _ => None,
        }
    }

    /// The latest reading of a quantity at a valve that stands.
    #[must_use]
    pub fn latest(&self, position: Position, quantity: Quantity) -> Option<(u64, Reading)> {
        self.last_read(&Kind::At(position, quantity))
    }

    /// All readings of a quantity at a valve that stand.
    pub fn all_of(
        &self,
        position: Position,
        quantity: Quantity,
    ) -> impl Iterator<Item = Reading> + use<'_> {
        let all = self.of(&Kind::At(position, quantity));
        all.filter_map(|(at, fact)| match fact {
            Fact::Read(reading) if self.stands(at, reading) => Some(*reading),
            _ => None,
        })
    }

    /// The latest reading of each quantity of a valve that stands, in the order of the quantities.
    #[must_use]
    pub fn latest_of(&self, position: Position) -> Vec<Reading> {
        let first = Kind::At(position, Quantity::Clearance);
        let of_valve = |kind: &Kind| matches!(kind, Kind::At(p, _) if *p == position);
        let kinds = self.filed.range(first..).map(|(kind, _)| kind);
        let kinds = kinds.take_while(|kind| of_valve(kind));
        kinds
            .filter_map(|kind| self.last_read(kind).map(|(_, r)| r))
            .collect()
    }

    /// The latest reading of the same quantity at the same valve and part that stands.
    #[must_use]
    pub fn latest_like(&self, like: &Reading) -> Option<(u64, Reading)> {
        self.last_read(&Kind::like(like))
    }

    /// The latest fact that "disregard" can take back: a reading, a spare, a check, a task or a
    /// note.
    #[must_use]
    pub fn last_undoable(&self) -> Option<(u64, &Fact)> {
        self.last(&Kind::Undoable)
    }

    /// The events that "disregard" can take back, latest first.
    pub fn undoable(&self) -> impl Iterator<Item = u64> + use<'_> {
        let mut last = None;
        let ids = self.of(&Kind::Undoable).rev().map(|(at, _)| at.0);
        ids.filter(move |id| last.replace(*id) != Some(*id))
    }

    /// What takes the place of an event of which readings were wrong: it no longer counts, and all
    /// else that it added still does. `right` gives what a reading should have been, `None` for
    /// nothing.
    #[must_use]
    pub fn instead(&self, id: u64, right: impl Fn(&Reading) -> Option<Reading>) -> Vec<Fact> {
        let kept = self.facts_of(id).iter().filter_map(|fact| match fact {
            Fact::Read(reading) => right(reading).map(Fact::Read),
            Fact::Opened(_) | Fact::OpenedHead(_) | Fact::Asked(_) | Fact::Closed => None,
            other => Some(other.clone()),
        });
        std::iter::once(Fact::Cancelled(id)).chain(kept).collect()
    }

    /// The latest fact that says something of the work: what "where am I" answers with.
    #[must_use]
    pub fn last_done(&self) -> Option<&Fact> {
        self.last(&Kind::Done).map(|(_, fact)| fact)
    }

    /// How many spares of a size are noted, by other events than `without`.
    #[must_use]
    pub fn spares(&self, size: Length, without: Option<u64>) -> u16 {
        let mut counted = self.of(&Kind::SpareOf(size)).rev();
        match counted.find(|(at, _)| Some(at.0) != without) {
            Some((_, Fact::Spare { count, .. })) => *count,
            _ => 0,
        }
    }

    /// The event of the spares that were called last.
    #[must_use]
    pub fn last_spare(&self) -> Option<u64> {
        self.last(&Kind::Spares).map(|(id, _)| id)
    }

    /// The valve that was open before `open`.
    #[must_use]
    pub fn opened_before(&self, open: Option<Position>) -> Option<Position> {
        self.of(&Kind::Opened)
            .rev()
            .find_map(|(_, fact)| match fact {
                Fact::Opened(position) if Some(*position) != open => Some(*position),
                _ => None,
            })
    }

    /// The stage that was begun or finished last, and whether it is finished.
    #[must_use]
    pub fn stage(&self) -> Option<(&str, bool)> {
        match self.last(&Kind::Stage)? {
            (_, Fact::Stage { stage, done }) => Some((stage, *done)),
            _ => None,
        }
    }

    /// How far a stage is: finished, begun or neither.
    #[must_use]
    pub fn stage_is(&self, key: &str) -> Option<bool> {
        let (at, fact) = self.of(&Kind::StageOf(key.to_owned())).next_back()?;
        let cams = Looks::STAGES_AFTER_CAMS.contains(&key);
        match fact {
            Fact::Stage { done: true, .. } if cams && self.cams_out_since(at) => None,
            Fact::Stage { done, .. } => Some(*done),
            _ => None,
        }
    }

    /// Whether a stage was ever begun: its cautions were read then.
    #[must_use]
    pub fn was_begun(&self, stage: &str) -> bool {
        self.filed.contains_key(&Kind::Begun(stage.to_owned()))
    }

    /// The engine's profile as it holds now.
    #[must_use]
    pub(crate) fn profile(&self) -> Option<&str> {
        match self.last(&Kind::Profile)? {
            (_, Fact::Begun { profile, .. } | Fact::ProfileChanged { profile }) => Some(profile),
            _ => None,
        }
    }

    /// What was told last of the machine, its owner and who worked on it.
    #[must_use]
    pub fn about(&self) -> Vec<(About, &str)> {
        let told = |what: About| match self.last(&Kind::About(what))? {
            (_, Fact::About { text, .. }) => Some((what, text.as_str())),
            _ => None,
        };
        About::ALL.into_iter().filter_map(told).collect()
    }

    /// The latest look at a thing of a valve, or of the whole engine, by its key.
    #[must_use]
    pub fn check(&self, item: &str, position: Option<Position>) -> Option<&Fact> {
        self.last_look(&Kind::Checked(item.to_owned(), position, None))
    }

    /// The latest look at a thing of a head; where none was named, of the whole engine.
    #[must_use]
    pub fn check_on(&self, item: &str, head: Option<Head>) -> Option<&Fact> {
        let named = head.and_then(|_| self.last_look(&Kind::Checked(item.to_owned(), None, head)));
        named.or_else(|| self.check(item, None))
    }

    fn cams_out_since(&self, at: At) -> bool {
        let all = [
            None,
            Some(Head::Front),
            Some(Head::Rear),
            Some(Head::Left),
            Some(Head::Right),
        ];
        all.into_iter().any(|head| {
            let out = Kind::Checked(Looks::CAMS_OUT.to_owned(), None, head);
            self.of(&out).next_back().is_some_and(|(out, _)| out > at)
        })
    }

    /// The latest look at a thing, if what was looked at was not made anew since.
    fn last_look(&self, kind: &Kind) -> Option<&Fact> {
        let Kind::Checked(item, position, _) = kind else {
            return None;
        };
        let (at, fact) = self.of(kind).next_back()?;
        let closes = |repair: Repair| repair.closes_look(item);
        let again = position.and_then(|p| self.repaired_since(at, p, closes));
        let cams = position.is_none() && Looks::AFTER_CAMS.contains(&item.as_str());
        let gone = again.is_some() || cams && self.cams_out_since(at);
        (!gone).then_some(fact)
    }

    /// The latest of everything that was looked at, in order of their keys and valves.
    #[must_use]
    pub fn checks(&self) -> Vec<&Fact> {
        let first = Kind::Checked(String::new(), None, None);
        let kinds = self.filed.range(first..).map(|(kind, _)| kind);
        let kinds = kinds.take_while(|kind| matches!(kind, Kind::Checked(..)));
        kinds.filter_map(|kind| self.last_look(kind)).collect()
    }
}
