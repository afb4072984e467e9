//! A microphone that comes back: unplugged, taken by another program, its sound server restarted.

use super::{Error, Microphone, Read};
use crate::audio::RATE_HZ;
use std::time::{Duration, Instant};

/// Between two tries to open it again.
const RETRY: Duration = Duration::from_secs(1);
/// How much silence one read delivers while it is gone.
const PERIOD: Duration = Duration::from_millis(100);

/// What happened to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Happening {
    /// It went away.
    Gone(Error),
    /// It is there again.
    Back,
}

type Opener = Box<dyn FnMut() -> Result<Box<dyn Microphone>, Error> + Send>;
type Teller = Box<dyn FnMut(&Happening) + Send>;

/// Opens a microphone again for as long as it takes. Meanwhile it delivers silence in step with the
/// clock, so that what was being said ends there and later times stay right; the gap counts as one
/// overrun, which marks the sound around it as incomplete.
pub(crate) struct Steady {
    open: Opener,
    tell: Teller,
    inner: Option<Box<dyn Microphone>>,
    native_rate_hz: u32,
    /// Overruns of those that went away, and one for each gap.
    lost_before: u64,
    /// Overruns of the present one.
    lost: u64,
    gone_since: Instant,
    tried: Instant,
    /// Samples of silence delivered since `gone_since`.
    silent: u64,
    retry: Duration,
    period: Duration,
}

impl Steady {
    /// Opens it for the first time; `tell` hears of every change.
    ///
    /// # Errors
    /// Those of `open`: a microphone that is not there at the start is not waited for.
    pub(crate) fn new(mut open: Opener, tell: Teller) -> Result<Self, Error> {
        let inner = open()?;
        let now = Instant::now();
        Ok(Self {
            native_rate_hz: inner.native_rate_hz(),
            inner: Some(inner),
            open,
            tell,
            lost_before: 0,
            lost: 0,
            gone_since: now,
            tried: now,
            silent: 0,
            retry: RETRY,
            period: PERIOD,
        })
    }

    fn gone(&mut self, error: Error) {
        // A driver may never let go of a device whose sound server died: that is not waited for.
        let old = self.inner.take();
        std::thread::spawn(move || drop(old));
        self.lost_before += self.lost + 1;
        self.lost = 0;
        self.gone_since = Instant::now();
        self.tried = self.gone_since;
        self.silent = 0;
        (self.tell)(&Happening::Gone(error));
    }

    fn try_again(&mut self) {
        if self.tried.elapsed() < self.retry {
            return;
        }
        if let Ok(microphone) = (self.open)() {
            self.native_rate_hz = microphone.native_rate_hz();
            self.inner = Some(microphone);
            (self.tell)(&Happening::Back);
        }
        self.tried = Instant::now();
    }
}

/// Whether trying again may help.
const fn may_come_back(error: &Error) -> bool {
    matches!(
        error,
        Error::Unplugged { .. }
            | Error::Driver { .. }
            | Error::Busy { .. }
            | Error::NoDevice { .. }
    )
}

impl Microphone for Steady {
    fn native_rate_hz(&self) -> u32 {
        self.native_rate_hz
    }

    fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
        if let Some(microphone) = &mut self.inner {
            match microphone.read(out) {
                Ok(read) => {
                    self.lost = read.overruns_total;
                    let overruns_total = self.lost_before + self.lost;
                    return Ok(Read {
                        overruns_total,
                        ..read
                    });
                }
                Err(error) if may_come_back(&error) => self.gone(error),
                Err(error) => return Err(error),
            }
        }
        std::thread::sleep(self.period);
        let due = self.gone_since.elapsed().as_millis() as u64 * u64::from(RATE_HZ) / 1_000;
        let samples = usize::try_from(due.saturating_sub(self.silent)).unwrap_or(0);
        out.resize(out.len() + samples, 0.0);
        self.silent = self.silent.max(due);
        self.try_again();
        Ok(Read {
            samples,
            overruns_total: self.lost_before,
            ended: false,
            sent_away: false,
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::sync::{Arc, Mutex};

    /// Delivers ten samples a read, then fails.
    struct Short {
        reads: usize,
        then: Error,
    }

    impl Microphone for Short {
        fn native_rate_hz(&self) -> u32 {
            48_000
        }

        fn read(&mut self, out: &mut Vec<f32>) -> Result<Read, Error> {
            if self.reads == 0 {
                return Err(self.then.clone());
            }
            self.reads -= 1;
            out.extend([0.5; 10]);
            Ok(Read {
                samples: 10,
                overruns_total: 2,
                ended: false,
                sent_away: false,
            })
        }
    }

    fn unplugged() -> Error {
        Error::Unplugged {
            what: "microphone",
            name: "bench".into(),
        }
    }

    /// A microphone that goes after each two reads; every second try to open it finds none.
    fn steady(then: Error) -> (Steady, Arc<Mutex<Vec<Happening>>>) {
        let told = Arc::new(Mutex::new(Vec::new()));
        let mut tries = 0;
        let open: Opener = Box::new(move || {
            tries += 1;
            if tries % 2 == 0 {
                return Err(unplugged());
            }
            let then = then.clone();
            Ok(Box::new(Short { reads: 2, then }))
        });
        let to = Arc::clone(&told);
        let tell: Teller = Box::new(move |h| to.lock().unwrap().push(h.clone()));
        let mut steady = Steady::new(open, tell).unwrap();
        steady.retry = Duration::from_millis(30);
        steady.period = Duration::from_millis(10);
        (steady, told)
    }

    #[test]
    fn it_goes_and_comes_back_with_silence_in_step_with_the_clock() {
        let (mut steady, told) = steady(unplugged());
        let (mut out, mut last) = (Vec::new(), Read::default());
        for _ in 0..2 {
            last = steady.read(&mut out).unwrap();
        }
        assert_eq!((out.len(), last.overruns_total), (20, 2));
        let begun = Instant::now();
        while told.lock().unwrap().len() < 2 {
            assert!(begun.elapsed() < Duration::from_secs(20), "it never came");
            last = steady.read(&mut out).unwrap();
        }
        let gone_ms = begun.elapsed().as_millis() as usize;
        assert_eq!(last.overruns_total, 3, "the gap is one more");
        let silence = out.len() - 20;
        assert!(out[20..].iter().all(|s| *s == 0.0));
        // Behind by no more than one read of silence; ahead never.
        assert!(silence <= (gone_ms + 1) * 16, "{silence} in {gone_ms} ms");
        assert!(silence >= 55 * 16, "two tries at least: {silence}");
        assert_eq!(
            *told.lock().unwrap(),
            [Happening::Gone(unplugged()), Happening::Back]
        );
        last = steady.read(&mut out).unwrap();
        assert_eq!((last.samples, last.overruns_total), (10, 5));
    }

    /// Gone at its first read; its driver does not let go of it.
    struct Stuck(Arc<Mutex<()>>);

    impl Microphone for Stuck {
        fn native_rate_hz(&self) -> u32 {
            48_000
        }

        fn read(&mut self, _: &mut Vec<f32>) -> Result<Read, Error> {
            Err(unplugged())
        }
    }

    impl Drop for Stuck {
        fn drop(&mut self) {
            drop(self.0.lock());
        }
    }

    #[test]
    fn a_driver_that_does_not_let_go_stops_nothing() {
        let lock = Arc::new(Mutex::new(()));
        let held = lock.lock().unwrap();
        let told = Arc::new(Mutex::new(Vec::new()));
        let (to, of) = (Arc::clone(&told), Arc::clone(&lock));
        let open: Opener = Box::new(move || Ok(Box::new(Stuck(Arc::clone(&of)))));
        let tell: Teller = Box::new(move |h| to.lock().unwrap().push(h.clone()));
        let mut steady = Steady::new(open, tell).unwrap();
        steady.retry = Duration::ZERO;
        steady.period = Duration::from_millis(5);
        steady.read(&mut Vec::new()).unwrap();
        assert_eq!(
            *told.lock().unwrap(),
            [Happening::Gone(unplugged()), Happening::Back]
        );
        drop(held);
    }

    #[test]
    fn what_cannot_come_back_is_an_error_at_once() {
        let denied = Error::PermissionDenied {
            what: "microphone",
            name: "bench".into(),
        };
        let (mut steady, told) = steady(denied.clone());
        let mut out = Vec::new();
        for _ in 0..2 {
            steady.read(&mut out).unwrap();
        }
        assert_eq!(steady.read(&mut out), Err(denied));
        assert!(told.lock().unwrap().is_empty());
    }
}
