//! Reads the TOML files of a language into a checked grammar; errors name file, line and column.

use super::build;
use super::fault::{At, GrammarError};
use super::means::Means;
use super::net::Net;
use super::pattern::{self, Node};
use super::synonym;
use super::wording::Wording;
use crate::event::Wish;
use crate::measure::Quantity;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    rules: BTreeMap<Spanned<String>, Spanned<String>>,
    #[serde(default)]
    phrase: Vec<RawPhrase>,
    #[serde(default)]
    sound_alike: BTreeMap<Spanned<String>, Vec<String>>,
    #[serde(default)]
    homophone: BTreeMap<Spanned<String>, Vec<String>>,
    #[serde(default)]
    synonym: BTreeMap<Spanned<String>, Vec<Spanned<String>>>,
    #[serde(default)]
    spelling: BTreeMap<String, String>,
    #[serde(default)]
    compound: Compound,
    #[serde(default)]
    ending: BTreeMap<String, String>,
    #[serde(default)]
    stage: Vec<StageText>,
    readback: Option<Wording>,
}

/// Words that are written together in longer ones.
#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Compound {
    parts: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPhrase {
    means: Means,
    quantity: Option<Quantity>,
    examples: Vec<Spanned<String>>,
    say: Vec<Spanned<String>>,
    /// The words that tell it among others, in their order: asked, or a question that is answered.
    /// The recogniser never listens for them.
    #[serde(default)]
    core: Vec<Spanned<String>>,
}

/// One phrase of the language.
#[derive(Clone, Debug)]
pub struct Phrase {
    /// What it means.
    pub means: Means,
    /// Of a `measure` phrase: what is measured.
    pub quantity: Option<Quantity>,
    /// How a person might say what it means; each is itself understood.
    pub examples: Vec<String>,
    /// Its pattern, as written.
    pub pattern: String,
    pub(super) node: Node,
}

/// How a profile writes that clearance is set by screws.
const SCREW: &str = "screw";

/// A stage of the job: how it is called, and what is read out when it begins.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageText {
    /// Its key.
    pub key: String,
    name: String,
    /// Its name for an engine with screws, if that is another.
    screw_name: Option<String>,
    /// Cautions, each a sentence; they defer to the maker's manual and local rules.
    pub cautions: Vec<String>,
    /// More of them, for an engine with its shims over the buckets.
    #[serde(default)]
    over_bucket: Vec<String>,
    /// More of them, for one with its shims under the buckets.
    #[serde(default)]
    under_bucket: Vec<String>,
    /// More of them, for one with its shims under followers.
    #[serde(default)]
    under_follower: Vec<String>,
    /// More of them, for one with screws.
    #[serde(default)]
    screw: Vec<String>,
    /// More of them, for an engine with a decompressor.
    #[serde(default)]
    decompressor: Vec<String>,
    /// What is to be looked at before it begins, by the keys of the items.
    #[serde(default)]
    pub before: Vec<String>,
}

impl StageText {
    /// Its name as it is spoken, for an engine whose clearance is set in that way.
    pub fn name(&self, kind: &str) -> &str {
        let own = self.screw_name.as_deref().filter(|_| kind == SCREW);
        own.unwrap_or(&self.name)
    }

    /// Its cautions, for an engine whose clearance is set in that way, by its key in profiles, and
    /// perhaps with a decompressor.
    pub fn cautions(&self, kind: &str, decompressor: bool) -> impl Iterator<Item = &String> {
        let own: &[String] = match kind {
            "over_bucket" => &self.over_bucket,
            "under_bucket" => &self.under_bucket,
            "under_follower" => &self.under_follower,
            SCREW => &self.screw,
            _ => &[],
        };
        let held_off = self.decompressor.iter().filter(move |_| decompressor);
        self.cautions.iter().chain(own).chain(held_off)
    }
}

/// A language: its phrases as a network, its sound-alikes, its read-back wording.
#[derive(Clone, Debug)]
pub struct Grammar {
    /// The phrases, in the order of the files.
    pub phrases: Vec<Phrase>,
    /// Read-back wording.
    pub wording: Wording,
    /// The same with the long forms of readings.
    pub full_wording: Wording,
    /// The stages of the job, in their usual order.
    pub stages: Vec<StageText>,
    pub(super) net: Net,
    /// What tells a phrase among other words, each with the number of the phrase.
    pub(super) cores: Vec<(usize, Node)>,
    /// These as a network, built when a sentence that is no phrase first asks for it.
    pub(super) by_core: OnceLock<Net>,
    /// The same for two blades of a valve.
    pub(super) by_two_blades: OnceLock<Net>,
    pub(super) rules: BTreeMap<String, Node>,
    /// How many things each rule can say, for the sampler.
    pub(super) ways: BTreeMap<String, u64>,
    pub(super) alike: BTreeMap<String, Vec<String>>,
    /// Word written -> word that carries a value and sounds alike.
    pub(super) homophone: BTreeMap<String, String>,
    pub(super) spelling: BTreeMap<String, String>,
    /// Where a word that no phrase uses is cut.
    pub(super) compound: Vec<String>,
    pub(super) ending: BTreeMap<String, String>,
    /// Every word that a rule holds, whether a phrase uses it or not.
    pub(super) written: BTreeSet<String>,
    /// Every word of the phrases.
    pub(super) known: BTreeSet<String>,
    /// Words that name a side of the head.
    pub(super) sides: BTreeSet<String>,
    /// Words that name a cylinder.
    pub(super) cylinders: BTreeSet<String>,
    /// Words that hardly anybody says but to the tool.
    pub(super) bench_words: BTreeSet<String>,
    pub(super) figures: BTreeMap<String, String>,
    pub(super) passed_over: BTreeSet<String>,
    /// Sides that are nothing else: "in" is a verdict too.
    pub(super) spelled_sides: BTreeSet<String>,
    /// Of these one stands in a sentence that may hold a phrase among other words.
    pub(super) trade_words: BTreeSet<String>,
    /// After these another word is a thing that is spoken of.
    pub(super) pointing: BTreeSet<String>,
    /// Passed over in a question.
    pub(super) courtesies: BTreeSet<String>,
    pub(super) turns_round: BTreeSet<String>,
    pub(super) denials: BTreeSet<String>,
    /// Names of other quantities than a clearance.
    pub(super) measured_else: BTreeSet<String>,
    /// Words that follow the name of a valve of a side.
    pub(super) of_a_pair: BTreeSet<String>,
    /// Words that tell whether a blade goes.
    pub(super) verdicts: BTreeSet<String>,
    /// Words that name a valve of a side.
    pub(super) valves: BTreeSet<String>,
    /// Words of numbers and places.
    pub(super) begins_a_reading: BTreeSet<String>,
    /// Words of which a remark has some, and those that it has not.
    pub(super) remarked: Remarked,
    /// Words of numbers that are no cylinder's: "fifteen", "point".
    pub(super) blades: BTreeSet<String>,
    pub(super) weighty: BTreeSet<String>,
    /// Fingerprint of the files, kept with every event.
    pub hash: String,
}

/// Words of a remark that is made without "note".
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub(super) struct Remarked {
    /// What it is of.
    pub(super) part: BTreeSet<String>,
    /// How it looks.
    pub(super) look: BTreeSet<String>,
    /// What makes it a question, or something else.
    pub(super) not: BTreeSet<String>,
}

/// What one job adds to a rule of the language: "front" to the numbers of cylinders, for 1.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Addition {
    /// The rule.
    pub(crate) rule: &'static str,
    /// The name, in lower-case words.
    pub(crate) name: String,
    /// What it puts out.
    pub(crate) out: String,
}

impl Grammar {
    /// Reads the files of one language, each as name and text; a person's own may be among them.
    ///
    /// # Errors
    /// The first thing that is wrong: TOML syntax, an unknown key, a pattern, an unknown rule, a
    /// rule that contains itself, a sound-alike of a value, a synonym that would mean two things or
    /// nothing, an example that is not understood.
    pub fn from_files(files: &[(&str, &str)]) -> Result<Self, GrammarError> {
        Self::with_additions(files, &[])
    }

    /// The same with the names that one job has for its cylinders, sides and valves.
    ///
    /// # Errors
    /// As [`Grammar::from_files`].
    pub(crate) fn with_additions(
        files: &[(&str, &str)],
        names: &[Addition],
    ) -> Result<Self, GrammarError> {
        let mut rules: BTreeMap<String, Node> = BTreeMap::new();
        let mut phrases = Vec::new();
        let mut cores: Vec<(usize, Node)> = Vec::new();
        let mut alike: BTreeMap<String, Vec<String>> = BTreeMap::new();
        let mut alike_at = Vec::new();
        let mut homophone = BTreeMap::new();
        let mut homophone_at = Vec::new();
        let mut wording = None;
        let mut spelling = BTreeMap::new();
        let mut compound = Vec::new();
        let mut ending = BTreeMap::new();
        let mut stages = Vec::new();
        let mut synonyms: Vec<synonym::Entry<'_>> = Vec::new();
        let mut patterns: Vec<(At<'_>, usize, String, Node)> = Vec::new();
        let mut examples = Vec::new();
        let mut first_check = None;
        for (name, text) in files {
            let at = || At { name, text };
            let file: File = toml::from_str(text)
                .map_err(|e| at().error(e.span().map_or(0, |s| s.start), e.message().to_owned()))?;
            for (key, value) in file.rules {
                let node = read(&at(), &value)?;
                patterns.push((
                    at(),
                    value.span().start,
                    key.get_ref().clone(),
                    node.clone(),
                ));
                if rules.insert(key.get_ref().clone(), node).is_some() {
                    return Err(at().error(
                        key.span().start,
                        format!("rule `{}` stands twice", key.get_ref()),
                    ));
                }
            }
            for raw in file.phrase {
                if (raw.means == Means::Measure) != raw.quantity.is_some() {
                    let at_example = raw.examples.first().map_or(0, |e| e.span().start);
                    return Err(at().error(
                        at_example,
                        "a phrase that means `measure`, and no other, names its `quantity`",
                    ));
                }
                for value in &raw.core {
                    let node = read(&at(), value)?;
                    patterns.push((at(), value.span().start, String::new(), node.clone()));
                    cores.push((phrases.len(), node));
                }
                for value in &raw.say {
                    let node = read(&at(), value)?;
                    patterns.push((at(), value.span().start, String::new(), node.clone()));
                    if raw.means == Means::Check && first_check.is_none() {
                        first_check = Some((at(), value.span().start));
                    }
                    phrases.push(Phrase {
                        means: raw.means,
                        quantity: raw.quantity,
                        examples: raw.examples.iter().map(|e| e.get_ref().clone()).collect(),
                        pattern: value.get_ref().clone(),
                        node,
                    });
                }
                examples.extend(raw.examples.into_iter().map(|e| (at(), e)));
            }
            for (meant, heard) in file.sound_alike {
                alike_at.push((at(), meant.span().start, meant.get_ref().clone()));
                for word in heard {
                    alike.entry(word).or_default().push(meant.get_ref().clone());
                }
            }
            for (meant, written) in file.homophone {
                homophone_at.push((at(), meant.span().start, meant.get_ref().clone()));
                let pairs = written.into_iter().map(|w| (w, meant.get_ref().clone()));
                homophone.extend(pairs);
            }
            synonyms.extend(
                file.synonym
                    .into_iter()
                    .map(|(key, said)| (at(), key, said)),
            );
            spelling.extend(file.spelling);
            compound.extend(file.compound.parts);
            ending.extend(file.ending);
            stages.extend(file.stage);
            wording = wording.or(file.readback);
        }
        for (at, offset, own, node) in &patterns {
            for name in named(node) {
                if !rules.contains_key(&name) {
                    let known: Vec<&str> = rules.keys().map(String::as_str).collect();
                    let message = format!(
                        "there is no rule `{name}`: expected one of {}",
                        known.join(", ")
                    );
                    return Err(at.error(*offset, message));
                }
                if !own.is_empty() && reaches(&name, own, &rules) {
                    return Err(at.error(*offset, format!("rule `{own}` contains itself")));
                }
            }
        }
        for (at, offset, _, node) in &patterns {
            if pattern::repeats_nothing(node, &rules) {
                let message =
                    "what stands before `+` can be said without a word: expected at least one";
                return Err(at.error(*offset, message));
            }
        }
        if let Some((at, offset)) = first_check {
            let checks = phrases.iter().filter(|p| p.means == Means::Check);
            let items: BTreeSet<&str> = checks.flat_map(|p| items(&p.node, &rules)).collect();
            if let Some(wish) = Wish::ALL.iter().find(|w| !items.contains(w.key())) {
                let message = format!(
                    "no phrase that means `check` says the item `{}`, which the plan of the shims knows",
                    wish.key()
                );
                return Err(at.error(offset, message));
            }
        }
        for own in names {
            if let Some(body) = rules.get_mut(own.rule) {
                *body = Node::Alt(vec![body.clone(), synonym::said_as(&own.name, &own.out)]);
            }
        }
        let synonyms = synonym::checked(&synonyms, phrases.iter().map(|p| &p.node), &rules)?;
        if !synonyms.is_empty() {
            let bodies = rules.values_mut();
            let cores = cores.iter_mut().map(|(_, node)| node);
            for node in bodies
                .chain(phrases.iter_mut().map(|p| &mut p.node))
                .chain(cores)
            {
                synonym::put_in(node, &synonyms);
            }
        }
        let said = phrases.iter().map(|p| &p.node).enumerate();
        let net = build::network(kinds(&phrases, said), &rules);
        let (words, values) = (net.words(), net.value_words());
        for (at, offset, meant) in &alike_at {
            if values.contains(meant.as_str()) {
                let message = format!(
                    "`{meant}` carries a value: a digit, position or unit is never repaired"
                );
                return Err(at.error(*offset, message));
            }
            if !words.contains(meant.as_str()) {
                return Err(at.error(*offset, format!("no phrase uses the word `{meant}`")));
            }
        }
        for (at, offset, meant) in &homophone_at {
            if !values.contains(meant.as_str()) {
                let message = format!(
                    "`{meant}` carries no value: expected a digit, position or unit; commands go to `sound_alike`"
                );
                return Err(at.error(*offset, message));
            }
        }
        let first = files.first().map_or(("", ""), |f| *f);
        let wording = wording.ok_or_else(|| {
            At {
                name: first.0,
                text: first.1,
            }
            .error(0, "no file has the table `[readback]`")
        })?;
        let hash = fingerprint(files, names);
        let side_rules = ["side_word", "plural_side"].into_iter();
        let sides = side_rules.filter_map(|rule| rules.get(rule));
        let sides = sides.flat_map(words_of).collect::<BTreeSet<_>>();
        let cylinders = rules
            .get("cylinder_number")
            .map(words_of)
            .unwrap_or_default();
        let mut figures = BTreeMap::new();
        for rule in ["zero", "nonzero"] {
            let alternatives = rules.get(rule).map(written).unwrap_or_default();
            figures.extend(alternatives);
        }
        let words_of_rule = |rule: &str| rules.get(rule).map(words_of).unwrap_or_default();
        let bench_words = words_of_rule("bench_word");
        let passed_over = words_of_rule("passed_over");
        let courtesies = words_of_rule("courtesies");
        let of_a_pair = words_of_rule("of_a_pair");
        let pointing = words_of_rule("pointing");
        let turns_round = words_of_rule("turns_round");
        let remarked = Remarked {
            part: words_of_rule("remarked_part"),
            look: words_of_rule("remarked_look"),
            not: words_of_rule("remarked_not"),
        };
        let spelled_out = |rule: &str| rules.get(rule).map(|body| said_in(body, &rules));
        let denials = spelled_out("denials").unwrap_or_default();
        let measured_else = spelled_out("measured_else").unwrap_or_default();
        let of_a_gap = ["place", "goes", "stops", "tight", "gap_name", "passed_over"];
        let of_a_gap: BTreeSet<String> = of_a_gap
            .into_iter()
            .filter_map(spelled_out)
            .flatten()
            .collect();
        let measured_else = measured_else.difference(&of_a_gap).cloned().collect();
        let numbers = spelled_out("amount").unwrap_or_default();
        let valves = spelled_out("valve_word").unwrap_or_default();
        let begins_a_reading = [&numbers, &sides, &cylinders, &valves]
            .into_iter()
            .flatten();
        let begins_a_reading: BTreeSet<String> = begins_a_reading.cloned().collect();
        let single = spelled_out("nonzero").unwrap_or_default();
        let blades: BTreeSet<String> = numbers.difference(&single).cloned().collect();
        let blades = blades.difference(&passed_over).cloned().collect();
        let weighty = spelled_out("weighty").unwrap_or_default();
        let trade_words = spelled_out("trade_word").unwrap_or_default();
        let goes = spelled_out("goes").unwrap_or_default();
        let spelled_sides: BTreeSet<String> = sides.difference(&goes).cloned().collect();
        let judging = [
            "goes",
            "goes_loosely",
            "stops",
            "stops_loosely",
            "tight_loosely",
            "tight",
            "feel",
        ];
        let judging = judging.into_iter().filter_map(spelled_out).flatten();
        let of_a_place = |w: &String| begins_a_reading.contains(w) && !goes.contains(w);
        let verdicts = judging.filter(|w| !of_a_place(w)).collect();
        let known = words.into_iter().map(str::to_owned).collect();
        let nodes = rules.values().chain(phrases.iter().map(|p| &p.node));
        let nodes = nodes.chain(cores.iter().map(|(_, node)| node));
        let written = nodes.flat_map(words_of).collect();
        let grammar = Self {
            phrases,
            full_wording: wording.in_full(),
            wording,
            stages,
            net,
            cores,
            by_core: OnceLock::new(),
            by_two_blades: OnceLock::new(),
            ways: pattern::ways_of_rules(&rules),
            rules,
            alike,
            homophone,
            spelling,
            compound,
            ending,
            written,
            known,
            sides,
            cylinders,
            bench_words,
            figures,
            passed_over,
            courtesies,
            pointing,
            trade_words,
            spelled_sides,
            turns_round,
            denials,
            measured_else,
            of_a_pair,
            verdicts,
            valves,
            begins_a_reading,
            remarked,
            blades,
            weighty,
            hash,
        };
        for (at, example) in examples {
            if !grammar.is_phrase(example.get_ref()) {
                let message = format!("the example \"{}\" matches no phrase", example.get_ref());
                return Err(at.error(example.span().start, message));
            }
        }
        Ok(grammar)
    }

    /// Every word of the language.
    #[must_use]
    pub fn words(&self) -> Vec<String> {
        self.net.words().into_iter().map(str::to_owned).collect()
    }
}

fn read(at: &At<'_>, value: &Spanned<String>) -> Result<Node, GrammarError> {
    // The span begins at the opening quote; patterns hold no escapes.
    pattern::parse(value.get_ref()).map_err(|e| at.error(value.span().start + 1 + e.at, e.message))
}

/// Patterns of phrases by what they mean: of each kind the number of its first phrase, and the
/// patterns.
pub(super) fn kinds<'a>(
    phrases: &[Phrase],
    patterns: impl Iterator<Item = (usize, &'a Node)>,
) -> impl Iterator<Item = (usize, Vec<&'a Node>)> {
    let mut kinds: BTreeMap<_, (usize, Vec<&Node>)> = BTreeMap::new();
    for (i, node) in patterns {
        let kind = kinds.entry((phrases[i].means, phrases[i].quantity));
        kind.or_insert((i, Vec::new())).1.push(node);
    }
    kinds.into_values()
}

fn named(node: &Node) -> BTreeSet<String> {
    match node {
        Node::Rule { rule, .. } => BTreeSet::from([rule.clone()]),
        Node::Seq(all) | Node::Alt(all) => all.iter().flat_map(named).collect(),
        Node::Opt(inner) | Node::Many(inner) | Node::Often(_, inner) => named(inner),
        Node::Word { .. } | Node::Out(_) | Node::Rest(_) => BTreeSet::new(),
    }
}

/// The words that a rule itself holds.
fn words_of(node: &Node) -> BTreeSet<String> {
    match node {
        Node::Word { word, .. } => BTreeSet::from([word.clone()]),
        Node::Seq(all) | Node::Alt(all) => all.iter().flat_map(words_of).collect(),
        Node::Opt(inner) | Node::Many(inner) | Node::Often(_, inner) => words_of(inner),
        Node::Rule { .. } | Node::Out(_) | Node::Rest(_) => BTreeSet::new(),
    }
}

/// The words that a rule holds, itself or by others.
fn said_in(node: &Node, rules: &BTreeMap<String, Node>) -> BTreeSet<String> {
    let mut words = words_of(node);
    for rule in named(node) {
        words.extend(
            rules
                .get(&rule)
                .map(|body| said_in(body, rules))
                .unwrap_or_default(),
        );
    }
    words
}

/// The words of a rule, and what each puts out.
fn written(node: &Node) -> BTreeMap<String, String> {
    match node {
        Node::Word { word, out } => BTreeMap::from([(word.clone(), out.clone())]),
        Node::Seq(all) | Node::Alt(all) => all.iter().flat_map(written).collect(),
        _ => BTreeMap::new(),
    }
}

/// What the slot `item` of a pattern catches, as its words and rules put it out.
fn items<'a>(node: &'a Node, rules: &'a BTreeMap<String, Node>) -> Vec<&'a str> {
    match node {
        Node::Rule { slot, rule, .. } if slot.as_deref() == Some("item") => rules
            .get(rule)
            .map_or_else(Vec::new, |body| puts_out(body, rules)),
        Node::Seq(all) | Node::Alt(all) => all.iter().flat_map(|n| items(n, rules)).collect(),
        Node::Opt(inner) | Node::Many(inner) | Node::Often(_, inner) => items(inner, rules),
        Node::Rule { .. } | Node::Word { .. } | Node::Out(_) | Node::Rest(_) => Vec::new(),
    }
}

fn puts_out<'a>(node: &'a Node, rules: &'a BTreeMap<String, Node>) -> Vec<&'a str> {
    match node {
        Node::Word { out, .. } | Node::Out(out) => vec![out],
        Node::Rule { rule, .. } => rules
            .get(rule)
            .map_or_else(Vec::new, |body| puts_out(body, rules)),
        Node::Seq(all) | Node::Alt(all) => all.iter().flat_map(|n| puts_out(n, rules)).collect(),
        Node::Opt(inner) | Node::Many(inner) | Node::Often(_, inner) => puts_out(inner, rules),
        Node::Rest(_) => Vec::new(),
    }
}

fn reaches(from: &str, wanted: &str, rules: &BTreeMap<String, Node>) -> bool {
    let mut todo = vec![from.to_owned()];
    let mut seen = BTreeSet::new();
    while let Some(rule) = todo.pop() {
        if rule == wanted {
            return true;
        }
        if seen.insert(rule.clone()) {
            todo.extend(rules.get(&rule).map(named).unwrap_or_default());
        }
    }
    false
}

/// FNV-1a, 64 bit (Fowler, Noll, Vo): enough to tell two versions of a grammar apart. Of every
/// file its name without the folder and its length come first, so that a line moved to another
/// file counts.
fn fingerprint(files: &[(&str, &str)], names: &[Addition]) -> String {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let own = names
        .iter()
        .map(|n| (n.rule, format!("{}\0{}", n.name, n.out)));
    let texts = files.iter().map(|(path, text)| (*path, (*text).to_owned()));
    for (path, text) in texts.chain(own) {
        let name = path.rsplit(['/', '\\']).next().unwrap_or(path);
        let head = format!("{name}\0{}\0", text.len());
        for byte in head.bytes().chain(text.bytes()) {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
    format!("{hash:016x}")
}
