//! Fills the boxes from a profile's file.

use super::fields::{Boxes, Field, Kind, PARTS, Part, Rows};
use crate::engine::crank::firing::layout_of;
use toml::{Table, Value};

/// What stands in the boxes of a profile that reads without an error.
///
/// # Errors
/// The file gives what the page cannot show, and would lose: lengths of one part in two units.
pub(crate) fn boxes(text: &str) -> Result<Boxes, String> {
    let file: Table = toml::from_str(text).map_err(|e| e.message().to_owned())?;
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
                    for fixed in about(part.rows) {
                        if let Some(value) = table.get(*fixed) {
                            all.insert(format!("{prefix}{fixed}"), words(value, " "));
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

/// What a row of a part is about, which stands in its file but in no box of its own.
pub(super) const fn about(rows: Rows) -> &'static [&'static str] {
    match rows {
        Rows::Fasteners => &["bolts"],
        Rows::Limits => &["quantity", "unit"],
        Rows::None | Rows::Free | Rows::Names => &[],
    }
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
        let Some(value) = value(part, field, table, prefix, all)? else {
            continue;
        };
        let keys = field.keys(prefix);
        let between = if field.kind == Kind::Texts { ", " } else { " " };
        match (&value, field.pair) {
            (Value::Boolean(false), _) => {} // as if it did not stand there
            (Value::Array(ends), true) => {
                for (key, end) in keys.into_iter().zip(ends) {
                    all.insert(key, words(end, between));
                }
            }
            _ => all.extend(keys.into_iter().map(|key| (key, words(&value, between)))),
        }
    }
    Ok(())
}

/// The value of a field; that of a measured one also says the unit of its part or row.
fn value(
    part: &Part,
    field: &Field,
    table: &Table,
    prefix: &str,
    all: &mut Boxes,
) -> Result<Option<Value>, String> {
    let Some(unit_box) = part.unit_box(prefix).filter(|_| field.is_measured()) else {
        return Ok(table.get(field.name).cloned());
    };
    let mut found = None;
    for (unit, _) in part.units() {
        if let Some(value) = table.get(&format!("{}_{unit}", field.name)) {
            let before = all.insert(unit_box.clone(), (*unit).to_owned());
            if before.is_some_and(|before| before != *unit) {
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

/// As it stands in a box, of several with this between them.
fn words(value: &Value, between: &str) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(all) => {
            let all: Vec<String> = all.iter().map(|one| words(one, between)).collect();
            all.join(between)
        }
        other => other.to_string(),
    }
}

fn names(found: Option<&Value>, all: &mut Boxes) {
    let table = found.and_then(Value::as_table);
    for (at, (of, said)) in table.into_iter().flatten().enumerate() {
        all.insert(format!("names.{at}.of"), of.clone());
        all.insert(format!("names.{at}.said"), words(said, ", "));
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
