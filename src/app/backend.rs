//! What the pages show and change: a job that is reviewed, or one that is being listened to.

use super::engine_page;
use super::export::export;
use super::forget::Whose;
use super::hear_again::{Again, Progress};
use super::job::Job;
use super::jobs;
use super::report;
use super::results_view::{results, what_if};
use super::session_loop::{Faces, Input, SessionLoop};
use super::session_view::{Changes, session};
use super::settings;
use crate::app::in_words::in_words;
use crate::event::{Event, Fact, Gap, Position, Reading, Value};
use crate::grammar::Command;
use crate::measure::{Amount, Length, Place, Quantity, Zone, bounds};
use crate::report::{Compared, Report, Sounds, write};
use crate::session::{Review, ReviewError, asks_whether_changed};
use crate::web::{Backend, Button, Edit, EngineAsk, EngineOf, Fault, Forget, ReportForm, Touch};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, SyncSender, channel, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long a request waits for the session loop, which may be speaking; the page waits 10 s.
const PATIENCE: Duration = Duration::from_secs(8);

/// The pages of one open job; a session loop may be at work on the same job.
pub(crate) struct JobPages {
    job: Arc<Mutex<Job>>,
    /// Another recogniser, once there is one.
    again: Mutex<Option<Again>>,
    /// What the review has been shown.
    changes: Mutex<Changes>,
    /// The session loop that does what they ask, if there is one.
    bench: Option<Sender<PageRequest>>,
}

/// What a page asks of the conversation.
#[derive(Clone, Debug)]
enum Errand {
    Review(u64, Review),
    Command(Command),
    Talk,
    Typed(String),
    /// A shim is in a valve now, in words: if it is asked whether it was changed, it was.
    Fitted(String),
    /// The text of a profile that takes the place of the job's.
    Profile(String),
    /// It is so, whatever was said before.
    Fact(Fact),
    /// These sounds go.
    Forget(Whose),
}

/// The event that it made, if it made one.
type Answer = Result<Option<Event>, ReviewError>;

/// A errand on its way from a page to the session loop.
pub(crate) struct PageRequest {
    errand: Errand,
    /// By the loop, which fulfils it, or by the page, which no longer waits for it.
    claimed: Arc<AtomicBool>,
    answer: SyncSender<Answer>,
}

impl PageRequest {
    /// Does it, and tells the page. One for which the page no longer waits is left.
    ///
    /// # Errors
    /// As [`SessionLoop::take`].
    pub(crate) fn done_by<F: Faces>(self, session: &mut SessionLoop<F>) -> anyhow::Result<()> {
        if self.claimed.swap(true, Ordering::SeqCst) {
            return Ok(());
        }
        let last = |session: &SessionLoop<F>| {
            let job = session.job();
            let job = job.lock().unwrap_or_else(PoisonError::into_inner);
            job.state.events().last().cloned()
        };
        let answer = match &self.errand {
            Errand::Review(event, what) => session.review(*event, what)?.map(|()| None),
            Errand::Command(command) => {
                session.take(Input::Key(*command))?;
                Ok(last(session))
            }
            Errand::Profile(text) => Ok(session.by_hand(|job| job.change_profile(text).map(Some))?),
            Errand::Fact(fact) => Ok(session.by_hand(|job| job.by_hand(fact.clone()).map(Some))?),
            Errand::Forget(whose) => Ok(session.by_hand(|job| Ok(job.forget(whose)?.1))?),
            Errand::Talk => {
                session.take(Input::Talk)?;
                Ok(None)
            }
            Errand::Typed(text) => {
                session.take(Input::Typed(text))?;
                Ok(last(session))
            }
            Errand::Fitted(text) => {
                session.take(Input::Typed(text))?;
                let job = session.job();
                let asks = {
                    let job = job.lock().unwrap_or_else(PoisonError::into_inner);
                    asks_whether_changed(&job.state)
                };
                if asks {
                    session.take(Input::Key(Command::Changed))?;
                }
                Ok(last(session))
            }
        };
        let _ = self.answer.send(answer); // it is stored, whoever still looks
        Ok(())
    }
}

impl JobPages {
    /// The pages of a job that is reviewed; `model` is another recogniser, to hear the session with
    /// again.
    #[must_use]
    pub(crate) fn reviewing(job: Job, folder: &Path, model: Option<&Path>) -> Self {
        Self {
            job: Arc::new(Mutex::new(job)),
            again: Mutex::new(model.map(|m| Again::new(folder, m, &jobs::name_of(m)))),
            changes: Mutex::new(Changes::begin(super::now_ms())),
            bench: None,
        }
    }

    /// The pages of a job that is being listened to, and what they ask of its session loop.
    #[must_use]
    pub(crate) fn listening(job: Arc<Mutex<Job>>) -> (Self, Receiver<PageRequest>) {
        let (bench, requests) = channel();
        let pages = Self {
            job,
            again: Mutex::default(),
            changes: Mutex::new(Changes::begin(super::now_ms())),
            bench: Some(bench),
        };
        (pages, requests)
    }

    fn job(&self) -> MutexGuard<'_, Job> {
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn again(&self) -> Option<Again> {
        let again = self.again.lock();
        again.unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The report, beside that of an earlier job if there is one.
    pub(super) fn report_beside(
        &self,
        form: ReportForm,
        before: Option<&Report>,
    ) -> Result<String, Fault> {
        let job = self.job();
        let record = report::of(&job);
        let since = before.map(|before| Compared::of(before, &record));
        let since = since
            .transpose()
            .map_err(|e| Fault::Refused(in_words(&e.into())))?;
        let json = |sounds| {
            let events = report::bodies(job.state.events()).map_err(broken)?;
            write(&record, since.as_ref(), &events, &sounds).map_err(broken)
        };
        match form {
            ReportForm::Page => Ok(report::html(&record, since.as_ref())),
            ReportForm::Csv => Ok(record.csv()),
            ReportForm::Json => json(Sounds::new()),
            ReportForm::JsonWithSounds => json(report::sounds(&job).0),
            ReportForm::LostSounds => {
                serde_json::to_string(&report::sounds(&job).1).map_err(broken)
            }
        }
    }

    /// The jobs in a folder that this one can be set beside, as JSON.
    pub(super) fn earlier(&self, folder: &Path) -> Result<String, Fault> {
        let found = jobs::earlier(folder, &self.job()).map_err(broken)?;
        let one = |(name, begun_ms)| serde_json::json!({ "name": name, "begun_ms": begun_ms });
        let all: serde_json::Value = found.into_iter().map(one).collect();
        Ok(all.to_string())
    }

    /// Has it done by the session loop, or does it here if there is none.
    fn fulfil(&self, errand: Errand) -> Result<Answer, Fault> {
        if let Some(bench) = &self.bench {
            return ask(bench, errand);
        }
        let mut job = self.job();
        match errand {
            Errand::Review(event, what) => {
                let made = job.review(event, &what).map_err(broken)?;
                Ok(made.map(Some))
            }
            Errand::Command(command) => Ok(Ok(Some(job.command(command).map_err(broken)?))),
            Errand::Typed(text) => Ok(Ok(Some(job.say(&text).map_err(broken)?))),
            Errand::Fitted(text) => {
                let mut event = job.say(&text).map_err(broken)?;
                if asks_whether_changed(&job.state) {
                    event = job.command(Command::Changed).map_err(broken)?;
                }
                Ok(Ok(Some(event)))
            }
            Errand::Fact(fact) => Ok(Ok(Some(job.by_hand(fact).map_err(broken)?))),
            Errand::Profile(text) => Ok(Ok(Some(job.change_profile(&text).map_err(broken)?))),
            Errand::Forget(whose) => Ok(Ok(job.forget(&whose).map_err(broken)?.1)),
            Errand::Talk => Err(Fault::Refused("nobody listens here".to_owned())),
        }
    }

    /// What a hand means, as it would have been said.
    fn errand(&self, touch: &Touch) -> Result<Errand, Fault> {
        let job = self.job();
        let listen = matches!(touch, Touch::Press(Button::Listen | Button::Talk));
        if job.state.standing_by && !listen {
            let why = "the bench stands by: press “listen” first; nothing was stored";
            return Err(Fault::Refused(why.to_owned()));
        }
        let (place, quantity, value) = match touch {
            Touch::Press(Button::Talk) => return Ok(Errand::Talk),
            Touch::Press(button) => return Ok(Errand::Command(command(*button))),
            Touch::Spare { size_nm, count } => {
                let (size_nm, count) = (Length::from_nm(*size_nm), *count);
                let row = bounds(Quantity::ShimFitted, Place::Any);
                if row.zone(Amount::LengthNm(size_nm)) == Zone::Impossible || count > 99 {
                    let why = format!("{count} shims of {size_nm} cannot lie in the box");
                    return Err(Fault::Refused(why));
                }
                return Ok(Errand::Fact(Fact::Spare { size_nm, count }));
            }
            Touch::Blades {
                place,
                goes_nm,
                stops_nm,
            } => {
                let gap = match (goes_nm.map(Length::from_nm), stops_nm.map(Length::from_nm)) {
                    (Some(goes_nm), Some(stops_nm)) => Gap::Between { goes_nm, stops_nm },
                    (Some(goes), None) => Gap::AtLeast(goes),
                    (None, Some(stops)) => Gap::Below(stops),
                    (None, None) => {
                        let why = "choose the blade that goes, the one that does not, or both";
                        return Err(Fault::Refused(why.to_owned()));
                    }
                };
                (place, Quantity::Clearance, Value::Gap(gap))
            }
            Touch::Fitted { place, size_nm } => {
                let value = Value::Shim {
                    marked_nm: Some(Length::from_nm(*size_nm)),
                    measured_nm: None,
                };
                (place, Quantity::ShimFitted, value)
            }
        };
        let reading = Reading {
            position: Some(valve(&job, place)?),
            part: None,
            head: None,
            quantity,
            value,
            unit: job.setup.unit,
        };
        let words = job.setup.grammar.full_wording.reading(&reading);
        Ok(match touch {
            Touch::Fitted { .. } => Errand::Fitted(words),
            _ => Errand::Typed(words),
        })
    }
}

/// Asks the session loop, and waits until it is done.
fn ask(bench: &Sender<PageRequest>, errand: Errand) -> Result<Answer, Fault> {
    let ended = || {
        Fault::Broken(
            "the bench has stopped listening: open the page again to see what is stored".to_owned(),
        )
    };
    let (answer, answers) = sync_channel(1);
    let claimed = Arc::new(AtomicBool::new(false));
    let request = PageRequest {
        errand,
        claimed: claimed.clone(),
        answer,
    };
    bench.send(request).map_err(|_| ended())?;
    match answers.recv_timeout(PATIENCE) {
        Ok(made) => Ok(made),
        Err(RecvTimeoutError::Timeout) if !claimed.swap(true, Ordering::SeqCst) => {
            let why = "the bench is busy; nothing was stored, try again";
            Err(Fault::Refused(why.to_owned()))
        }
        // It is being done now, or the loop has ended.
        Err(_) => answers.recv().map_err(|_| ended()),
    }
}

const fn command(button: Button) -> Command {
    match button {
        Button::Affirm => Command::Affirm,
        Button::Negative => Command::Negative,
        Button::Changed => Command::Changed,
        Button::ReadAgain => Command::ReadAgain,
        Button::Disregard => Command::Disregard,
        Button::SayAgain => Command::SayAgain,
        Button::StandBy => Command::StandBy,
        // The talk key means no command.
        Button::Listen | Button::Talk => Command::Listen,
    }
}

/// The valve that a page names.
fn valve(job: &Job, place: &str) -> Result<Position, Fault> {
    let valves = job.setup.profile.valves();
    let found = valves.into_iter().find(|p| p.to_string() == place);
    found.ok_or_else(|| {
        Fault::Refused(format!(
            "{} has no valve \"{place}\"",
            job.setup.profile.name
        ))
    })
}

impl Backend for JobPages {
    fn session(&self, seen: u64) -> Result<String, Fault> {
        let again = self.again();
        let found = again.as_ref().map(Again::found).unwrap_or_default();
        let name = again.as_ref().map(Again::name);
        let job = self.job();
        let mut changes = self.changes.lock().unwrap_or_else(PoisonError::into_inner);
        session(&job, name, &found, &mut changes, seen).map_err(broken)
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault> {
        let job = self.job();
        // Only clips of this job, by the names that its events give.
        let mut sounds = job.state.events().iter().filter_map(|e| e.sound.as_ref());
        if !sounds.any(|s| s.sha256 == sha256) {
            return Err(Fault::NotFound("there is no such clip".to_owned()));
        }
        let read = job.store.clip_later(sha256);
        drop(job); // the bench goes on listening meanwhile
        let why = |e| Fault::NotFound(in_words(&e));
        read().or_else(|_| self.job().clip(sha256)).map_err(why)
    }

    fn edit(&self, edit: &Edit) -> Result<(), Fault> {
        let (id, what) = match edit {
            Edit::Confirm(id) => (*id, Review::Confirm),
            Edit::Store(id) => (*id, Review::Store),
            Edit::Reject(id) => (*id, Review::Reject),
            Edit::Correct(id, text, sure) => {
                let (text, sure) = (text.clone(), *sure);
                (*id, Review::Correct { text, sure })
            }
        };
        match self.fulfil(Errand::Review(id, what))? {
            Ok(_) => Ok(()),
            Err(ReviewError::Asks(question)) => Err(Fault::Asks(question)),
            Err(refused) => Err(Fault::Refused(refused.to_string())),
        }
    }

    fn touch(&self, touch: &Touch) -> Result<String, Fault> {
        let errand = self.errand(touch)?;
        let made = self.fulfil(errand)?;
        let made = made.map_err(|refused| Fault::Refused(refused.to_string()))?;
        let answer = made
            .map(|e| serde_json::json!({ "outcome": e.outcome, "spoken": e.spoken, "why": e.why }));
        Ok(answer.unwrap_or_else(|| serde_json::json!({})).to_string())
    }

    fn results(&self) -> Result<String, Fault> {
        results(&self.job()).map_err(broken)
    }

    fn export(&self) -> Result<String, Fault> {
        let job = self.job();
        let nowhere = || Fault::Refused("this job lies in no folder".to_owned());
        let folder = job.beside("checked").ok_or_else(nowhere)?;
        let (count, lost) = export(&job, &folder).map_err(broken)?;
        let folder = folder.display().to_string();
        let found = serde_json::json!({ "count": count, "lost": lost, "folder": folder });
        Ok(found.to_string())
    }

    fn what_if(&self, changes: &[String]) -> Result<String, Fault> {
        what_if(&self.job(), changes).map_err(|e| Fault::Refused(in_words(&e)))
    }

    fn hear_again(&self) -> Result<String, Fault> {
        let again = self.again().ok_or_else(|| {
            Fault::Refused("choose the file of another recogniser first".to_owned())
        })?;
        let Progress { done, total, fault } = again.go();
        match fault {
            Some(fault) => Err(Fault::Broken(fault)),
            None => Ok(serde_json::json!({ "done": done, "total": total }).to_string()),
        }
    }

    fn hear_again_with(&self, name: &str, weights: &[u8]) -> Result<String, Fault> {
        let nowhere = || Fault::Refused("this job lies in no folder".to_owned());
        let folder = self.job().folder().ok_or_else(nowhere)?.to_owned();
        let file = settings::keep_weights(weights).map_err(broken)?;
        let again = Again::new(&folder, &file, name);
        *self.again.lock().unwrap_or_else(PoisonError::into_inner) = Some(again);
        self.hear_again()
    }

    fn forget(&self, what: &Forget) -> Result<String, Fault> {
        let whose = match what {
            Forget::Ignored => Whose::Ignored,
            Forget::All => Whose::All,
            Forget::Of(from_ms, to_ms) => Whose::Of(*from_ms..*to_ms),
        };
        let made = self.fulfil(Errand::Forget(whose))?;
        let made = made.map_err(|refused| Fault::Refused(refused.to_string()))?;
        let why = made.map(|event| event.why);
        Ok(serde_json::json!({ "why": why }).to_string())
    }

    fn report(&self, form: ReportForm, before: Option<&str>) -> Result<String, Fault> {
        match before {
            None => self.report_beside(form, None),
            Some(_) => Err(Fault::NotFound("there is no earlier job here".to_owned())),
        }
    }

    fn engine(&self, ask: &EngineAsk) -> Result<String, Fault> {
        match ask {
            EngineAsk::Open(EngineOf::Job) => engine_page::of_job(&self.job()),
            EngineAsk::Check(EngineOf::Job, boxes) => {
                engine_page::checked(boxes, Some(&self.job())).map_err(broken)
            }
            EngineAsk::Save(EngineOf::Job, boxes) => {
                let text = engine_page::for_job(boxes, &self.job())?;
                let made = self.fulfil(Errand::Profile(text))?;
                made.map_err(|refused| Fault::Refused(refused.to_string()))?;
                Ok(serde_json::json!({ "job": true }).to_string())
            }
            _ => Err(Fault::NotFound(
                "engines are entered where jobs are made: start `benchcall bench`".to_owned(),
            )),
        }
    }
}

fn broken(error: impl Into<anyhow::Error>) -> Fault {
    Fault::Broken(in_words(&error.into()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::app::assets::english;
    use crate::event::Outcome;
    use crate::measure::LengthUnit;

    /// Nothing wraps, and nothing of it is stored.
    #[test]
    fn the_largest_and_smallest_numbers_are_refused() {
        let job = Job::unkept(english().unwrap(), "triple", LengthUnit::Millimetre).unwrap();
        let pages = JobPages::reviewing(job, Path::new("nowhere"), None);
        let place = || "1 inlet left".to_owned();
        for nm in [i64::MIN, i64::MIN + 1, i64::MAX - 1, i64::MAX] {
            let blades = |goes_nm, stops_nm| Touch::Blades {
                place: place(),
                goes_nm,
                stops_nm,
            };
            let (size_nm, count) = (nm, u16::MAX);
            for touch in [
                blades(Some(nm), None),
                blades(None, Some(nm)),
                blades(Some(nm), Some(nm)),
                Touch::Fitted {
                    place: place(),
                    size_nm,
                },
                Touch::Spare { size_nm, count },
            ] {
                let answer = pages.touch(&touch);
                let refused = match &answer {
                    Err(Fault::Refused(_)) => true,
                    Ok(text) => !text.contains("\"stored\""),
                    Err(_) => false,
                };
                assert!(refused, "{touch:?}: {answer:?}");
            }
        }
        let job = pages.job();
        let stored = |e: &&Event| e.outcome == Outcome::Stored;
        assert_eq!(job.state.events().iter().filter(stored).count(), 1);
    }
}
