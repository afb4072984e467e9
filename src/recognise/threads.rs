//! How many threads to hear with, by measurement: more are quicker on an idle machine, and far
//! slower on a busy one, since the engine's workers spin while they wait for each other.

/// A thread count is given up when it takes this much longer than one thread did.
const TOO_SLOW: f32 = 1.2;

/// What one frame of sound has cost with one thread and with more.
#[derive(Debug, Clone, Copy)]
pub(super) struct Threads {
    most: usize,
    now: usize,
    /// Milliseconds a frame with one thread.
    alone_ms: f32,
}

impl Threads {
    /// One thread at first, `most` where they turn out to be quicker.
    pub(super) const fn new(most: usize) -> Self {
        Self {
            most,
            now: 1,
            alone_ms: f32::INFINITY,
        }
    }

    pub(super) const fn now(&self) -> usize {
        self.now
    }

    /// Tries the most threads next.
    pub(super) const fn try_most(&mut self) {
        self.now = self.most;
    }

    /// A pass of `frames` took `took_ms`. With several threads that must be less than with one;
    /// if it is not, one is used from then on.
    pub(super) fn took(&mut self, frames: usize, took_ms: f32) {
        let each_ms = took_ms / frames.max(1) as f32;
        if self.now == 1 {
            self.alone_ms = self.alone_ms.min(each_ms);
        } else if each_ms > self.alone_ms * TOO_SLOW {
            self.now = 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn threads_that_do_not_help_are_given_up() {
        let mut threads = Threads::new(2);
        threads.took(100, 90.0);
        threads.took(100, 80.0);
        threads.try_most();
        threads.took(100, 50.0);
        assert_eq!(threads.now(), 2);
        threads.took(200, 150.0);
        assert_eq!(threads.now(), 2);
        threads.took(100, 4_000.0);
        threads.took(100, 20.0);
        assert_eq!(threads.now(), 1);
    }
}
