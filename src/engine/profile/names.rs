//! Names that a job has of its own for cylinders, sides and valves: "front" for cylinder 1.

use crate::engine::profile::{Called, OwnName};
use crate::event::{Side, Valve};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

/// The table `[names]` of a profile.
pub(super) type Names = BTreeMap<Spanned<String>, Vec<Spanned<String>>>;

/// The names, if each is of something that the engine has, in words that can be said.
pub(super) fn names(
    table: &Names,
    cylinders: u8,
    valves: &[Valve],
) -> Result<Vec<OwnName>, (Range<usize>, String)> {
    let mut all: Vec<OwnName> = Vec::new();
    for (key, said) in table {
        let called = called(key.get_ref(), cylinders, valves).ok_or_else(|| {
            let named: Vec<String> = valves.iter().map(|v| format!(", \"{}\"", v.key())).collect();
            let message = format!(
                "this engine has no \"{}\": expected \"1\" to \"{cylinders}\", \"inlet\", \"exhaust\"{}",
                key.get_ref(),
                named.concat()
            );
            (key.span(), message)
        })?;
        for name in said {
            can_be_said(name)?;
            if all
                .iter()
                .any(|n| n.name == *name.get_ref() && same_kind(n.called, called))
            {
                let message = format!("\"{}\" is named twice", name.get_ref());
                return Err((name.span(), message));
            }
            all.push(OwnName {
                called,
                name: name.get_ref().clone(),
            });
        }
    }
    Ok(all)
}

/// Whether a name is in words that can be said.
pub(super) fn can_be_said(name: &Spanned<String>) -> Result<(), (Range<usize>, String)> {
    let plain = |w: &str| !w.is_empty() && w.chars().all(char::is_lowercase);
    if name.get_ref().split(' ').all(plain) {
        return Ok(());
    }
    let message = format!(
        "\"{}\" cannot be said: expected lower-case words without figures",
        name.get_ref()
    );
    Err((name.span(), message))
}

fn called(key: &str, cylinders: u8, valves: &[Valve]) -> Option<Called> {
    match key {
        "inlet" => Some(Called::Side(Side::Inlet)),
        "exhaust" => Some(Called::Side(Side::Exhaust)),
        _ => match key.parse() {
            Ok(n) => (1..=cylinders).contains(&n).then_some(Called::Cylinder(n)),
            Err(_) => Valve::from_key(key)
                .filter(|v| valves.contains(v))
                .map(Called::Valve),
        },
    }
}

fn same_kind(one: Called, other: Called) -> bool {
    std::mem::discriminant(&one) == std::mem::discriminant(&other)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{Called, Profile, SHIPPED};
    use crate::event::Valve;

    fn with_names(names: &str) -> Result<Profile, String> {
        let text = format!("{}\n[names]\n{names}\n", SHIPPED[1].1);
        Profile::parse(&text, "twin.toml").map_err(|e| {
            let message = e.to_string();
            message
                .split_once(": ")
                .map_or(String::new(), |(_, m)| m.to_owned())
        })
    }

    #[test]
    fn a_job_may_have_names_of_its_own() {
        let profile =
            with_names("1 = [\"front\", \"front cylinder\"]\nleft = [\"nearside\"]").unwrap();
        let names: Vec<(Called, &str)> = profile
            .names
            .iter()
            .map(|n| (n.called, n.name.as_str()))
            .collect();
        assert_eq!(
            names,
            [
                (Called::Cylinder(1), "front"),
                (Called::Cylinder(1), "front cylinder"),
                (Called::Valve(Valve::Left), "nearside"),
            ]
        );
    }

    #[test]
    fn a_name_that_cannot_be_is_an_error() {
        for (names, expected) in [
            (
                "3 = [\"rear\"]",
                "this engine has no \"3\": expected \"1\" to \"2\", \"inlet\", \"exhaust\", \"left\", \"right\"",
            ),
            (
                "1 = [\"Front\"]",
                "\"Front\" cannot be said: expected lower-case words without figures",
            ),
            ("1 = [\"a\"]\n2 = [\"a\"]", "\"a\" is named twice"),
        ] {
            assert_eq!(with_names(names).unwrap_err(), expected);
        }
    }
}
