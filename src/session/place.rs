//! From what was said of a place to a valve of the engine; what is missing is asked, never guessed.

use super::{JobSetup, State};
use crate::engine::Profile;
use crate::event::{Doubt, Position, Side, Valve};
use crate::grammar::Whereabouts;

/// Where something belongs.
pub(super) enum Placed {
    /// A whole valve.
    At(Position),
    /// Something is missing.
    Missing(Doubt),
}

/// The valve names of a side; empty where it has one valve.
pub(super) fn names(profile: &Profile, side: Side) -> &[Valve] {
    let names = profile.valve_names(side);
    if names.len() < 2 { &[] } else { names }
}

/// Resolves a place that was said whole; a place that was not said at all is the open valve.
pub(super) fn resolve(setup: &JobSetup, state: &State, said: &Whereabouts) -> Placed {
    if said.is_empty() {
        return state
            .open
            .map_or(Placed::Missing(Doubt::Position), Placed::At);
    }
    complete(&setup.profile, said)
}

/// A place from its own parts alone.
pub(super) fn complete(profile: &Profile, said: &Whereabouts) -> Placed {
    let (Some(cylinder), Some(side)) = (said.cylinder, said.side) else {
        return Placed::Missing(Doubt::Position);
    };
    let names = names(profile, side);
    match said.valve {
        None if names.is_empty() => Placed::At(Position {
            cylinder,
            side,
            valve: None,
        }),
        Some(valve) if names.contains(&valve) => Placed::At(Position {
            cylinder,
            side,
            valve: Some(valve),
        }),
        _ => Placed::Missing(Doubt::Valve),
    }
}

/// `first`, filled up from `second` where it says nothing.
pub(super) fn join(first: &Whereabouts, second: &Whereabouts) -> Whereabouts {
    Whereabouts {
        cylinder: first.cylinder.or(second.cylinder),
        side: first.side.or(second.side),
        valve: first.valve.or(second.valve),
        head: first.head.or(second.head),
        bolts: first.bolts.or(second.bolts),
    }
}

/// As much of a position as JSON can show: cylinder and side must be known.
pub(super) fn partial(said: &Whereabouts) -> Option<Position> {
    Some(Position {
        cylinder: said.cylinder?,
        side: said.side?,
        valve: said.valve,
    })
}
