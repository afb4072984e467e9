//! The heads of an engine that has several: which cylinders lie on which.

use crate::engine::profile::tables::{HeadTable, Wrong, wrong};
use crate::engine::profile::{Called, HeadSpec, OwnName, names};
use crate::event::Head;

/// The heads, if each cylinder lies on one of them; none where the engine has one.
pub(super) fn heads(
    tables: &[HeadTable],
    cylinders: u8,
) -> Result<(Vec<HeadSpec>, Vec<OwnName>), Wrong> {
    let mut heads: Vec<HeadSpec> = Vec::new();
    let mut own: Vec<OwnName> = Vec::new();
    for table in tables {
        let place = table.place.get_ref();
        let Some(head) = Head::from_key(place) else {
            let message = format!("\"{place}\" is not a head: expected front, rear, left or right");
            return wrong(table.place.span(), message);
        };
        if heads.iter().any(|h| h.head == head) {
            let message = format!("\"{place}\" twice: expected distinct heads");
            return wrong(table.place.span(), message);
        }
        let of = table.cylinders.get_ref();
        if of.is_empty() {
            let message = "a head without cylinders: expected their numbers";
            return wrong(table.cylinders.span(), message);
        }
        for (at, cylinder) in of.iter().enumerate() {
            let taken = heads.iter().any(|h| h.cylinders.contains(cylinder));
            let twice = of[..at].contains(cylinder);
            if taken || twice || !(1..=cylinders).contains(cylinder) {
                let message = format!(
                    "cylinder {cylinder}: expected each of 1 to {cylinders} on one head, once"
                );
                return wrong(table.cylinders.span(), message);
            }
        }
        for name in &table.names {
            names::can_be_said(name)?;
            if own.iter().any(|n| n.name == *name.get_ref()) {
                let message = format!("\"{}\" is named twice", name.get_ref());
                return wrong(name.span(), message);
            }
            own.push(OwnName {
                called: Called::Head(head),
                name: name.get_ref().clone(),
            });
        }
        heads.push(HeadSpec {
            head,
            cylinders: of.clone(),
        });
    }
    if let Some(table) = tables.last() {
        if heads.len() == 1 {
            let message = "a single head has no effect: expected two or more, or none";
            return wrong(table.place.span(), message);
        }
        let on_head = |c: &u8| heads.iter().any(|h| h.cylinders.contains(c));
        if let Some(missing) = (1..=cylinders).find(|c| !on_head(c)) {
            let message = format!(
                "cylinder {missing} lies on no head: expected each of 1 to {cylinders} on one"
            );
            return wrong(table.cylinders.span(), message);
        }
    }
    Ok((heads, own))
}
