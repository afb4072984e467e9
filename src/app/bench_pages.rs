//! The pages of a bench that stays: the jobs of a folder, and the one of them that is open.

use super::backend::JobPages;
use super::engine_page;
use super::in_words::in_words;
use super::jobs::{self, name_of};
use super::network::Network;
use super::recover::EngineLost;
use super::report;
use super::sound_check::SoundNow;
use crate::web::{
    Backend, Edit, EngineAsk, EngineOf, Fault, Forget, NetworkAsk, NewJob, PhonePort, ReportForm,
    Rest, SoundAsk, Touch,
};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

/// Which job a page wants the bench to listen to.
pub(crate) enum Switch {
    /// This one.
    To(PathBuf),
    /// None.
    Off,
    /// None, and the bench ends.
    End,
    /// None, but the page of the sound check listens.
    Check,
    /// The same as before, with another microphone; `None` is the default one.
    Microphone(Option<String>),
    /// The same as before, with another loudspeaker.
    Speaker(Option<String>),
    /// The same as before, listening while it speaks or not.
    Headset(bool),
    /// The same as before, with a button pressed before each phrase or not.
    PushToTalk(bool),
    /// The same as before, once it is measured how far the loudspeaker is behind.
    Delay,
    /// The same as before, with the sound of a device on the network.
    Device(PhonePort),
    /// The same as before, with the sound of this machine again.
    Here,
}

impl Switch {
    /// Whether the job that is open goes on after it.
    pub(crate) const fn is_of_sound(&self) -> bool {
        !matches!(self, Self::To(_) | Self::Off | Self::End | Self::Check)
    }
}

/// What is open, and what is about to be.
#[derive(Clone, Default)]
struct Now {
    open: Option<(String, Arc<JobPages>)>,
    /// Asked for by a page: its recogniser is read from the disk.
    opening: Option<String>,
    trouble: String,
}

/// The pages of the bench.
pub(crate) struct BenchPages {
    folder: PathBuf,
    now: Mutex<Now>,
    switches: Sender<Switch>,
    sound: SoundNow,
    /// `None` if the bench serves the network from its start.
    network: Option<Network>,
    /// What the server on the network is for.
    me: Weak<Self>,
}

impl BenchPages {
    /// Of the jobs in a folder, with what the pages ask for.
    pub(crate) fn new(
        folder: &Path,
        sound: &SoundNow,
        network: Option<Network>,
    ) -> (Arc<Self>, Receiver<Switch>) {
        let (switches, wanted) = channel();
        let pages = Arc::new_cyclic(|me| Self {
            folder: folder.to_path_buf(),
            now: Mutex::default(),
            switches,
            sound: sound.clone(),
            network,
            me: me.clone(),
        });
        (pages, wanted)
    }

    /// The server on the network that pages open, if they may.
    pub(crate) const fn network(&self) -> Option<&Network> {
        self.network.as_ref()
    }

    fn now(&self) -> MutexGuard<'_, Now> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// This job is open now.
    pub(crate) fn open(&self, job: &Path, pages: JobPages) {
        *self.now() = Now {
            open: Some((name_of(job), Arc::new(pages))),
            ..Now::default()
        };
    }

    /// This job is open no more, or could not be opened; why, if it was not asked for.
    pub(crate) fn close(&self, job: &Path, trouble: String) {
        let mut now = self.now();
        now.open = None;
        now.opening.take_if(|opening| *opening == name_of(job));
        now.trouble = trouble;
    }

    /// It is opened again at once, with other sound.
    pub(crate) fn reopens(&self, job: &Path) {
        self.now().opening = Some(name_of(job));
    }

    fn switch(&self, to: Switch) -> Result<(), Fault> {
        let ended = |_| Fault::Broken("the bench has ended".to_owned());
        self.switches.send(to).map_err(ended)
    }

    /// The folder of a job by its name: one of this folder alone, never a path out of it.
    fn path_of(&self, name: &str) -> Result<PathBuf, Fault> {
        let plain = Path::new(name).file_name().is_some_and(|f| f == name);
        let path = self.folder.join(name);
        if !plain || !path.join("job.sqlite").is_file() {
            return Err(Fault::NotFound(format!("there is no job \"{name}\"")));
        }
        Ok(path)
    }

    fn job(&self) -> Result<Arc<JobPages>, Fault> {
        let open = self.now().open.as_ref().map(|(_, pages)| Arc::clone(pages));
        open.ok_or_else(|| {
            Fault::NotFound("no job is open: choose one on the page of jobs".to_owned())
        })
    }
}

fn broken(error: impl Into<anyhow::Error>) -> Fault {
    Fault::Broken(in_words(&error.into()))
}

impl Backend for BenchPages {
    fn session(&self, seen: u64) -> Result<String, Fault> {
        self.job()?.session(seen)
    }

    fn clip(&self, sha256: &str) -> Result<Vec<u8>, Fault> {
        self.job()?.clip(sha256)
    }

    fn edit(&self, edit: &Edit) -> Result<(), Fault> {
        self.job()?.edit(edit)
    }

    fn touch(&self, touch: &Touch) -> Result<String, Fault> {
        self.job()?.touch(touch)
    }

    fn results(&self) -> Result<String, Fault> {
        self.job()?.results()
    }

    fn export(&self) -> Result<String, Fault> {
        self.job()?.export()
    }

    fn what_if(&self, changes: &[String]) -> Result<String, Fault> {
        self.job()?.what_if(changes)
    }

    fn hear_again(&self) -> Result<String, Fault> {
        self.job()?.hear_again()
    }

    fn hear_again_with(&self, name: &str, weights: &[u8]) -> Result<String, Fault> {
        self.job()?.hear_again_with(name, weights)
    }

    fn forget(&self, what: &Forget) -> Result<String, Fault> {
        self.job()?.forget(what)
    }

    fn report(&self, form: ReportForm, before: Option<&str>) -> Result<String, Fault> {
        let earlier = |name| report::earlier(&self.path_of(name)?).map_err(broken);
        let before = before.map(earlier).transpose()?;
        self.job()?.report_beside(form, before.as_ref())
    }

    fn earlier(&self) -> Result<String, Fault> {
        self.job()?.earlier(&self.folder)
    }

    fn has_jobs(&self) -> bool {
        true
    }

    fn is_open(&self) -> bool {
        self.now().open.is_some()
    }

    fn jobs(&self) -> Result<String, Fault> {
        let now = self.now().clone();
        let open = now.open.as_ref().map(|(name, _)| name.as_str());
        jobs::home(&self.folder, open, now.opening.as_deref(), &now.trouble).map_err(broken)
    }

    fn engine(&self, ask: &EngineAsk) -> Result<String, Fault> {
        match ask {
            EngineAsk::Open(EngineOf::New) => engine_page::blank().map_err(broken),
            EngineAsk::Open(EngineOf::Own(key)) => engine_page::own(key),
            EngineAsk::Check(EngineOf::New | EngineOf::Own(_), boxes) => {
                engine_page::checked(boxes, None).map_err(broken)
            }
            EngineAsk::Save(EngineOf::New, boxes) => engine_page::keep(boxes, None),
            EngineAsk::Save(EngineOf::Own(key), boxes) => engine_page::keep(boxes, Some(key)),
            EngineAsk::Open(EngineOf::Job)
            | EngineAsk::Check(EngineOf::Job, _)
            | EngineAsk::Save(EngineOf::Job, _) => self.job()?.engine(ask),
        }
    }

    fn sound(&self, ask: &SoundAsk) -> Result<String, Fault> {
        match ask {
            SoundAsk::Now => {
                let now = self.now();
                let free = now.open.is_none() && now.opening.is_none();
                if free && self.sound.wants_to_begin() {
                    self.switch(Switch::Check)?;
                }
                self.sound.is_shown(!free);
            }
            SoundAsk::Microphone(name) => self.switch(Switch::Microphone(name.clone()))?,
            SoundAsk::Speaker(name) => self.switch(Switch::Speaker(name.clone()))?,
            SoundAsk::Headset(on) => self.switch(Switch::Headset(*on))?,
            SoundAsk::PushToTalk(on) => self.switch(Switch::PushToTalk(*on))?,
            SoundAsk::Delay => self.switch(Switch::Delay)?,
        }
        self.sound.wants(ask);
        self.sound.json().map_err(broken)
    }

    fn network(&self, ask: &NetworkAsk) -> Result<String, Fault> {
        let network = self.network.as_ref().ok_or_else(|| {
            Fault::NotFound("this bench serves the network from its start".to_owned())
        })?;
        let shut = || {
            let was_heard = network.shut();
            was_heard.then(|| self.switch(Switch::Here)).transpose()
        };
        match ask {
            NetworkAsk::Now => {}
            NetworkAsk::Open { microphone } => {
                shut()?;
                let ended = || Fault::Broken("the bench has ended".to_owned());
                let me = self.me.upgrade().ok_or_else(ended)?;
                if let Some(port) = network.open(me, *microphone)? {
                    self.switch(Switch::Device(port))?;
                }
            }
            NetworkAsk::Shut => {
                shut()?;
            }
            NetworkAsk::SendAway(id) => Network::send_away(*id)?,
            NetworkAsk::Certificate { chain, key } => {
                Network::certify(chain, key)?;
                shut()?;
            }
            NetworkAsk::ForgetCertificate => {
                Network::uncertify()?;
                shut()?;
            }
            NetworkAsk::RenewCertificate => {
                Network::renew()?;
                shut()?;
            }
        }
        network.json().map_err(broken)
    }

    fn new_job(&self, new: &NewJob) -> Result<String, Fault> {
        let name = jobs::make(&self.folder, new).map_err(|e| Fault::Refused(in_words(&e)))?;
        Ok(serde_json::json!({ "name": name }).to_string())
    }

    fn bring_back(&self, text: &str) -> Result<String, Fault> {
        let made = jobs::bring_back(&self.folder, text);
        let name = made.map_err(|e| Fault::Refused(in_words(&e)))?;
        Ok(serde_json::json!({ "name": name }).to_string())
    }

    fn save_rest(&self, rest: &Rest) -> Result<String, Fault> {
        self.path_of(&rest.job)?;
        let (name, saved) = jobs::save_rest(&self.folder, rest).map_err(|why| {
            if why.is::<EngineLost>() {
                let question = "which engine it was for is lost: choose it, and what numbers were";
                return Fault::Asks(question.to_owned());
            }
            Fault::Refused(in_words(&why))
        })?;
        let said = saved.lines().join(" ");
        Ok(serde_json::json!({ "name": name, "said": said }).to_string())
    }

    fn go_on(&self, job: Option<&str>) -> Result<String, Fault> {
        let switch = match job {
            None => Switch::Off,
            Some(name) => Switch::To(self.path_of(name)?),
        };
        let mut now = self.now();
        let open = now.open.as_ref().map(|(name, _)| name.as_str());
        if open != job {
            now.opening = job.map(str::to_owned);
            now.trouble.clear();
            self.switch(switch)?;
        }
        Ok("{}".to_owned())
    }

    fn end(&self) -> Result<String, Fault> {
        self.switch(Switch::End)?;
        Ok("{}".to_owned())
    }
}
