//! A moment as it is typed.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// A moment, in milliseconds since 1970 UTC.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Moment(pub(super) i64);

impl std::str::FromStr for Moment {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if let Ok(moment) = text.parse::<Timestamp>() {
            return Ok(Self(moment.as_millisecond()));
        }
        let local = text.parse::<DateTime>().ok();
        local
            .and_then(|time| TimeZone::system().to_timestamp(time).ok())
            .map(|moment| Self(moment.as_millisecond()))
            .ok_or_else(|| {
                format!(
                    "\"{text}\" is not a time: expected one such as 2026-11-25T14:30 (of this \
                     machine's zone) or 2026-11-25T13:30:00Z"
                )
            })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_time_is_of_this_zone_or_names_its_own() {
        let at = |text: &str| text.parse::<Moment>();
        assert_eq!(at("1970-01-01T00:00:01Z"), Ok(Moment(1_000)));
        assert_eq!(at("1970-01-01T01:00:01+01:00"), Ok(Moment(1_000)));
        let day = at("2026-11-25T14:30").unwrap().0;
        assert_eq!(at("2026-11-25T15:30").unwrap().0 - day, 3_600_000);
        assert!(at("yesterday").unwrap_err().contains("is not a time"));
    }
}
