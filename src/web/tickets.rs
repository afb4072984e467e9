//! Tickets: a page that a browser goes to cannot show the device's key, so it shows a ticket that was
//! drawn with it. In the history, and on what is printed, a used ticket is worth nothing.

use super::Error;
use super::devices::{hex, random};
use std::time::{Duration, Instant};

/// A ticket is used within this long.
const LIFE: Duration = Duration::from_secs(30);
/// Tickets that wait at most; the oldest goes.
const MOST: usize = 64;

/// Those that were drawn and not used.
#[derive(Default)]
pub(super) struct Tickets(Vec<(String, u64, Instant)>);

impl Tickets {
    /// A ticket for a device.
    ///
    /// # Errors
    /// [`Error::Random`].
    pub(super) fn draw(&mut self, device: u64, now: Instant) -> Result<String, Error> {
        let ticket = hex(&random::<16>()?);
        self.0.retain(|(_, _, until)| *until > now);
        if self.0.len() >= MOST {
            self.0.remove(0);
        }
        self.0.push((ticket.clone(), device, now + LIFE));
        Ok(ticket)
    }

    /// Whether it is one of the device's; then it is used up.
    pub(super) fn used(&mut self, ticket: &str, device: u64, now: Instant) -> bool {
        let before = self.0.len();
        self.0
            .retain(|(t, d, until)| !(t == ticket && *d == device && *until > now));
        self.0.len() < before
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_ticket_is_good_once_soon_and_for_its_device() {
        let (now, mut tickets) = (Instant::now(), Tickets::default());
        let ticket = tickets.draw(7, now).unwrap();
        assert!(!tickets.used(&ticket, 8, now));
        assert!(!tickets.used("", 7, now));
        assert!(tickets.used(&ticket, 7, now));
        assert!(!tickets.used(&ticket, 7, now));
        let late = tickets.draw(7, now).unwrap();
        assert!(!tickets.used(&late, 7, now + LIFE));
    }
}
