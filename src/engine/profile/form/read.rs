//! Fills the boxes from a profile's file.

use super::fields::{Boxes, Field, Kind, PARTS, Part, Rows, UNITS};
use crate::engine::crank::firing::layout_of;
use toml::{Table, Value};

/// What stands in the boxes of a profile that reads without an error.
///
/// # Errors
/// The file gives what the page cannot show, and would lose: lengths of one part in two units, several
/// heads, torques in pounds or kilograms, bolts that must be new.
pub(crate) fn boxes(text: &str) -> Result<Boxes, String> {
    let file: Table = toml::from_str(text).map_err(|e| e.message().to_owned())?;
    if let Some(what) = without_a_box(&file) {
        return Err(format!(
            "{what} has no box on this page: change the profile's file itself"
        ));
    }
    let mut all = Boxes::new();
    for part in &PARTS {
        let found = inside(&file, part.table);
        match part.rows {
            Rows::None => {
                let table = found.and_then(Value::as_table);
                let table = if part.table.is_empty() {
                    Some(&file)
                } else {
                    table
                };
                if let Some(table) = table {
                    let prefix = prefix(part.table);
                    fill(part, table, &prefix, &mut all)?;
                }
            }
            Rows::Names => names(found, &mut all),
            Rows::Free | Rows::Fasteners | Rows::Limits => {
                let rows = found.and_then(Value::as_array);
                let rows = rows.into_iter().flatten().filter_map(Value::as_table);
                for (at, table) in rows.enumerate() {
                    let prefix = format!("{}.{at}.", part.table);
                    fill(part, table, &prefix, &mut all)?;
                    for fixed in ["bolts", "quantity", "unit"] {
                        if let Some(value) = table.get(fixed) {
                            all.insert(format!("{prefix}{fixed}"), words(value));
                        }
                    }
                }
            }
        }
    }
    firing(&mut all, &file);
    bands(&mut all);
    Ok(all)
}

/// What of a file no box holds, so that the page would lose it.
fn without_a_box(file: &Table) -> Option<&'static str> {
    let rows = |table: &str| {
        let rows = file.get(table).and_then(Value::as_array);
        rows.into_iter().flatten().filter_map(Value::as_table)
    };
    let torque = [
        "stages_pound_foot",
        "stages_pound_inch",
        "stages_kilogram_metre",
        "new_bolts",
    ];
    if file.contains_key("head") {
        return Some("an engine with several heads");
    }
    let other = rows("torque").any(|t| torque.iter().any(|key| t.contains_key(*key)));
    other.then_some("a torque in another unit, or of bolts that must be new,")
}

pub(super) fn prefix(table: &str) -> String {
    if table.is_empty() {
        String::new()
    } else {
        format!("{table}.")
    }
}

fn inside<'a>(file: &'a Table, path: &str) -> Option<&'a Value> {
    let (first, rest) = path.split_once('.').unwrap_or((path, ""));
    let found = file.get(first)?;
    if rest.is_empty() {
        Some(found)
    } else {
        found.as_table()?.get(rest)
    }
}

fn fill(part: &Part, table: &Table, prefix: &str, all: &mut Boxes) -> Result<(), String> {
    for field in part.fields {
        let Some(value) = value(part, field, table, all)? else {
            continue;
        };
        let keys = field.keys(prefix);
        match (&value, field.pair) {
            (Value::Array(ends), true) => {
                for (key, end) in keys.into_iter().zip(ends) {
                    all.insert(key, words(end));
                }
            }
            _ => all.extend(keys.into_iter().map(|key| (key, words(&value)))),
        }
    }
    Ok(())
}

/// The value of a field; that of a length also says the unit of its part.
fn value(
    part: &Part,
    field: &Field,
    table: &Table,
    all: &mut Boxes,
) -> Result<Option<Value>, String> {
    let Some(of) = part.unit_of.filter(|_| field.is_length()) else {
        return Ok(table.get(field.name).cloned());
    };
    let mut found = None;
    for unit in UNITS {
        if let Some(value) = table.get(&format!("{}_{unit}", field.name)) {
            let before = all.insert(format!("{of}.unit"), unit.to_owned());
            if before.is_some_and(|before| before != unit) {
                return Err(format!(
                    "{} has lengths in mm and in thou, which the boxes cannot show",
                    part.title
                ));
            }
            found = Some(value.clone());
        }
    }
    Ok(found)
}

/// As it stands in a box.
fn words(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(all) => all.iter().map(words).collect::<Vec<_>>().join(" "),
        other => other.to_string(),
    }
}

fn names(found: Option<&Value>, all: &mut Boxes) {
    let table = found.and_then(Value::as_table);
    for (at, (of, said)) in table.into_iter().flatten().enumerate() {
        all.insert(format!("names.{at}.of"), of.clone());
        let said = said.as_array().into_iter().flatten().map(words);
        let said = said.collect::<Vec<_>>().join(", ");
        all.insert(format!("names.{at}.said"), said);
    }
}

fn firing(all: &mut Boxes, file: &Table) {
    let wholes = |name: &str| -> Vec<u16> {
        let found = inside(file, &format!("cylinders.{name}"));
        let found = found.and_then(Value::as_array).into_iter().flatten();
        let whole = |v: &Value| v.as_integer().and_then(|v| u16::try_from(v).ok());
        found.filter_map(whole).collect()
    };
    let (layout, angle) = layout_of(&wholes("firing_order"), &wholes("crank_deg"));
    all.insert("cylinders.layout".to_owned(), layout.to_owned());
    let angle: Vec<String> = angle.iter().map(ToString::to_string).collect();
    all.insert("cylinders.angle".to_owned(), angle.join(" "));
}

/// A second band that says the same is none.
fn bands(all: &mut Boxes) {
    for part in PARTS.iter().filter(|p| has_bands(p)) {
        let prefix = prefix(part.table);
        let ends = |band: &str, all: &Boxes| {
            ["from", "to"].map(|end| all.get(&format!("{prefix}{band}.{end}")).cloned())
        };
        if ends("check_band", all) == ends("set_band", all) {
            for end in ["from", "to"] {
                all.remove(&format!("{prefix}set_band.{end}"));
            }
        } else {
            all.insert(format!("{prefix}two_bands"), "two".to_owned());
        }
    }
}

fn has_bands(part: &Part) -> bool {
    part.fields.iter().any(|f| f.kind == Kind::TwoBands)
}
