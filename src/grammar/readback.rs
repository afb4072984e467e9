//! What is read back: places, parts, readings and facts in words.

use super::wording::{Wording, fill};
use crate::event::{
    About, Fact, Fastener, Gap, Head, Part, Position, Reached, Reading, Side, Value,
};
use crate::measure::{Amount, Length, LengthUnit, Quantity};

impl Wording {
    /// A place: "cylinder three exhaust left".
    #[must_use]
    pub fn place(&self, position: Position) -> String {
        let word = |key: &str| self.places.get(key).cloned().unwrap_or_default();
        let valve = position.valve.map(|v| word(v.key())).unwrap_or_default();
        fill(
            &self.readings.place,
            &[
                ("cylinder", &self.cylinder(position.cylinder)),
                ("side", &word(position.side.key())),
                ("valve", &valve),
            ],
        )
    }

    /// A side.
    #[must_use]
    pub fn side(&self, side: Side) -> String {
        self.places.get(side.key()).cloned().unwrap_or_default()
    }

    /// Bolts of a kind.
    #[must_use]
    pub fn fastener(&self, kind: Fastener) -> String {
        self.parts.get(kind.key()).cloned().unwrap_or_default()
    }

    /// A part of the engine, "head bolt seven, stage two".
    #[must_use]
    pub fn part(&self, part: Part, head: Option<Head>) -> String {
        let word = |key: &str| self.parts.get(key).cloned().unwrap_or_default();
        let head = head.map(|h| self.head(h)).unwrap_or_default();
        let text = match part {
            Part::Cylinder { number, wet, heard } => {
                let form = if wet { "cylinder_wet" } else { "cylinder" };
                let text = fill(&word(form), &[("number", &self.cylinder(number))]);
                heard.map_or(text.clone(), |h| format!("{text} {}", word(h.key())))
            }
            Part::Camshaft(cam) => self.camshaft(Some(cam)),
            Part::Journal {
                cam,
                number,
                thread,
            } => fill(
                &word(if thread { "journal_thread" } else { "journal" }),
                &[
                    ("side", &cam.map(|c| self.side(c)).unwrap_or_default()),
                    ("number", &self.cylinder(number)),
                ],
            ),
            Part::Bolt {
                kind,
                cam,
                number,
                stage,
            } => {
                // "Each rear head bolt": the head stands before the kind.
                let kind = format!("{head} {}", word(kind.key()));
                let bolt = match number {
                    Some(number) => format!("{kind} {}", self.cylinder(number)),
                    None => fill(&word("every"), &[("bolt", &kind)]),
                };
                let cam = cam.map(|c| self.side(c)).unwrap_or_default();
                let stage = stage.map(|s| fill(&word("stage"), &[("number", &self.cylinder(s))]));
                return fill(
                    "{bolt} {cam} {stage}",
                    &[
                        ("bolt", &bolt),
                        ("cam", &cam),
                        ("stage", &stage.unwrap_or_default()),
                    ],
                );
            }
            Part::Line(line) => fill(&word("face"), &[("line", &word(line.key()))]),
            Part::Spring(coil) => word(coil.key()),
            Part::At(height) => word(height.key()),
            Part::SeatAngle(degrees) => fill(
                &word("seat_angle"),
                &[("degrees", &self.whole(u32::from(degrees)))],
            ),
        };
        format!("{head} {text}").trim_start().to_owned()
    }

    /// A camshaft: "inlet cam", or "cam" if it is the only one.
    #[must_use]
    pub(crate) fn camshaft(&self, side: Option<Side>) -> String {
        let form = self.parts.get("camshaft");
        let form = form.map(String::as_str).unwrap_or_default();
        let side = side.map(|s| self.side(s)).unwrap_or_default();
        fill(form, &[("side", &side)]).trim_start().to_owned()
    }

    /// A head: "rear".
    #[must_use]
    pub fn head(&self, head: Head) -> String {
        self.places.get(head.key()).cloned().unwrap_or_default()
    }

    /// A reading that is not a clearance and no shim: where, what, how much.
    fn measured(&self, place: &str, reading: &Reading) -> String {
        let what = self.quantity(reading.quantity);
        let (first, second) = match reading.value {
            Value::Amount(first) => (first, None),
            Value::Pair(first, second) => (first, Some(second)),
            // "Done" alone would be another step of the same bolts.
            _ => {
                let key = format!("{}_done", reading.quantity.key());
                return match self.quantities.get(&key) {
                    Some(done) => format!("{place}, {done}"),
                    None => fill(&self.readings.done, &[("place", place)]),
                };
            }
        };
        // Below zero only a piston can be, which then stands above the deck.
        let above = matches!(first, Amount::LengthNm(length) if length < Length::ZERO);
        let first = match first {
            Amount::LengthNm(length) if above => Amount::LengthNm(Length::ZERO - length),
            other => other,
        };
        let (value, unit) = self.amount(first, reading.unit);
        let Some(second) = second else {
            let key = format!("{}_above", reading.quantity.key());
            let above = self.quantities.get(&key).filter(|_| above);
            let unit = [unit.as_str(), above.map_or("", |word| word)].join(" ");
            return fill(
                &self.readings.measured,
                &[
                    ("place", place),
                    ("quantity", &what),
                    ("value", &value),
                    ("unit", unit.trim()),
                ],
            );
        };
        let form = self.pairs.get(reading.quantity.key());
        let (second, _) = self.amount(second, reading.unit);
        fill(
            form.map(String::as_str).unwrap_or_default(),
            &[
                ("place", place),
                ("quantity", &what),
                ("value", &value),
                ("unit", &unit),
                ("second", &second),
            ],
        )
    }

    /// A reading, position first.
    #[must_use]
    pub fn reading(&self, reading: &Reading) -> String {
        let part = reading.part.map(|p| self.part(p, reading.head));
        let face = || {
            self.parts
                .get("face")
                .map(|form| fill(form, &[("line", "")]))
        };
        let part = part.or_else(|| {
            let face = (reading.quantity == Quantity::Flatness)
                .then(face)
                .flatten();
            let head = reading.head.map(|h| self.head(h));
            let words: Vec<String> = head.into_iter().chain(face).collect();
            (!words.is_empty()).then(|| words.join(" "))
        });
        let place = [reading.position.map(|p| self.place(p)), part];
        let place = place.into_iter().flatten().collect::<Vec<_>>().join(" ");
        let length = |l: Length| self.length(l, reading.unit);
        let forms = &self.readings;
        let text = match reading.value {
            Value::Gap(Gap::Between { goes_nm, stops_nm }) => {
                let (goes, stops) = self.two_blades(goes_nm, stops_nm, reading.unit);
                let blades = [
                    ("place", place.as_str()),
                    ("goes", &goes),
                    ("stops", &stops),
                ];
                fill(&forms.between, &blades)
            }
            Value::Gap(Gap::Single(v)) => {
                fill(&forms.single, &[("place", &place), ("value", &length(v))])
            }
            Value::Gap(Gap::AtLeast(v)) => {
                fill(&forms.at_least, &[("place", &place), ("value", &length(v))])
            }
            Value::Gap(Gap::Below(v)) => {
                fill(&forms.below, &[("place", &place), ("value", &length(v))])
            }
            Value::Gap(Gap::None) => fill(&forms.none, &[("place", &place)]),
            Value::Shim {
                marked_nm: Some(a),
                measured_nm: Some(b),
            } => fill(
                &forms.shim_both,
                &[
                    ("place", &place),
                    ("marked", &length(a)),
                    ("measured", &length(b)),
                ],
            ),
            Value::Shim {
                marked_nm: Some(a), ..
            } => fill(&forms.shim, &[("place", &place), ("value", &length(a))]),
            Value::Shim { measured_nm, .. } => {
                let value = measured_nm.map(length).unwrap_or_default();
                fill(
                    &forms.shim_measured,
                    &[("place", &place), ("value", &value)],
                )
            }
            Value::Amount(_) | Value::Pair(..) | Value::Done => self.measured(&place, reading),
        };
        text.trim_start_matches([',', ' ']).to_owned()
    }

    /// A fact that can be read back.
    #[must_use]
    pub fn fact(&self, fact: &Fact) -> String {
        match fact {
            Fact::Read(reading) => self.reading(reading),
            Fact::Opened(position) => self.place(*position),
            Fact::OpenedHead(head) => self.answer("head", &[("head", &self.head(*head))]),
            Fact::Spare { size_nm, count } => {
                let value = self.length(*size_nm, LengthUnit::Millimetre);
                let form = if *count == 1 {
                    &self.readings.spare_one
                } else {
                    &self.readings.spare
                };
                let count = self.whole(u32::from(*count));
                fill(form, &[("value", &value), ("count", &count)])
            }
            Fact::Repaired { position, work } => {
                let work = self.repairs.get(work.key());
                let item = work.map(String::as_str).unwrap_or_default();
                let place = self.place(*position);
                fill(&self.readings.checked, &[("place", &place), ("item", item)])
            }
            Fact::About { what, text } => {
                let what = self.told_of(*what);
                let reached = Reached::parse(text).map(|r| self.reached(r));
                let text = reached.as_ref().unwrap_or(text);
                self.answer("told", &[("what", what), ("text", text)])
            }
            Fact::Note {
                position: Some(position),
                ..
            } => self.answer("note_open", &[("place", &self.place(*position))]),
            Fact::RoundBegun => self.answer("new_round", &[]),
            Fact::Checked {
                item,
                count,
                good,
                position,
                head,
            } => {
                let key = if *good {
                    item.clone()
                } else {
                    format!("{item}_bad")
                };
                let one = self.counts.get(&format!("{key}_one"));
                let own = one.filter(|_| *count == Some(1)).or(self.counts.get(&key));
                let count = count.map(|n| self.whole(u32::from(n)));
                let own = own.zip(count.as_ref());
                let item = match own {
                    Some((form, count)) => fill(form, &[("count", count)]),
                    None => self.items.get(&key).cloned().unwrap_or_default(),
                };
                let form = match (&count, own) {
                    (Some(_), None) => &self.readings.counted,
                    _ => &self.readings.checked,
                };
                let count = count.unwrap_or_default();
                let head = head.map(|h| self.answer("head", &[("head", &self.head(h))]));
                let place = position.map(|p| self.place(p)).or(head).unwrap_or_default();
                fill(
                    form,
                    &[("place", &place), ("item", &item), ("count", &count)],
                )
            }
            _ => String::new(),
        }
    }

    /// What is told of the machine or the job: "next check".
    #[must_use]
    pub(crate) fn told_of(&self, what: About) -> &str {
        self.about.get(what.key()).map_or("", String::as_str)
    }

    /// What is measured: "chamber".
    #[must_use]
    pub(crate) fn quantity(&self, quantity: Quantity) -> String {
        let word = self.quantities.get(quantity.key());
        word.cloned().unwrap_or_default()
    }

    /// A distance or hours, figure by figure, so that each is heard.
    #[must_use]
    pub(crate) fn reached(&self, reached: Reached) -> String {
        let unit = self.units.get(reached.unit).cloned().unwrap_or_default();
        format!("{} {unit}", self.number(&reached.count.to_string()))
    }

    /// Several facts in words, one sentence each.
    #[must_use]
    pub fn facts(&self, facts: &[Fact]) -> String {
        let spoken: Vec<String> = facts.iter().map(|f| self.fact(f)).collect();
        spoken.join(". ")
    }
}
