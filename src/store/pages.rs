//! Rows out of the bytes of a database and its log, wherever they stand, without SQLite, which gives up
//! on a damaged page. What is found is only ever a candidate: the chain of checksums proves it.
//!
//! Format: sqlite.org/fileformat2.html, sections 1.6 (cells), 1.7 (overflow), 2.1 (records), 4.1 (log).

use super::chain::Row;
use std::collections::{BTreeMap, BTreeSet};

/// Bytes of a page, where the header does not say.
const USUAL: usize = 4096;
/// No event is longer, by far.
const LONGEST: u64 = 16_000_000;

/// Whatever may be an event or a checksum, by its number.
#[derive(Default)]
pub(super) struct Candidates {
    pub(super) rows: BTreeMap<u64, Vec<Row>>,
    pub(super) checksums: BTreeMap<u64, BTreeSet<String>>,
}

/// All pages: those of the database, then those of the log, oldest first.
struct Pages<'a> {
    size: usize,
    all: Vec<&'a [u8]>,
    newest: BTreeMap<u32, &'a [u8]>,
}

/// Looks at every byte of both files for the beginning of a row.
pub(super) fn candidates(database: &[u8], log: &[u8]) -> Candidates {
    let pages = Pages::of(database, log);
    let mut found = Candidates::default();
    for page in &pages.all {
        for at in 0..page.len() {
            if let Some((id, fields)) = pages.cell(page, at) {
                found.take(id, fields);
            }
        }
    }
    found
}

impl Candidates {
    fn take(&mut self, id: u64, fields: Vec<Field>) {
        match <[Field; 6]>::try_from(fields) {
            Ok(
                [
                    Field::Null,
                    Field::Whole(at_ms),
                    Field::Text(said),
                    Field::Text(outcome),
                    clip,
                    Field::Text(body),
                ],
            ) => {
                let clip = match clip {
                    Field::Text(name) => Some(name),
                    _ => None,
                };
                let row = Row {
                    id,
                    at_ms,
                    said,
                    outcome,
                    clip,
                    body,
                };
                let rows = self.rows.entry(id).or_default();
                if !rows.contains(&row) {
                    rows.push(row);
                }
            }
            Ok(_) => {}
            Err(fields) => {
                if let Ok([Field::Null, Field::Text(sum)]) = <[Field; 2]>::try_from(fields)
                    && sum.len() == 64
                {
                    self.checksums.entry(id).or_default().insert(sum);
                }
            }
        }
    }
}

/// A column of a record.
enum Field {
    Null,
    Whole(i64),
    Text(String),
}

impl<'a> Pages<'a> {
    fn of(database: &'a [u8], log: &'a [u8]) -> Self {
        let size = size(database.get(16..18), log.get(8..12));
        let mut all: Vec<&[u8]> = database.chunks(size).collect();
        let mut newest: BTreeMap<u32, &[u8]> = (1..).zip(all.iter().copied()).collect();
        for frame in log.get(32..).unwrap_or_default().chunks_exact(24 + size) {
            let (head, page) = frame.split_at(24);
            newest.insert(number(head), page);
            all.push(page);
        }
        Self { size, all, newest }
    }

    /// The number and the fields of the row whose cell begins there.
    fn cell(&self, page: &[u8], at: usize) -> Option<(u64, Vec<Field>)> {
        let mut rest = page.get(at..)?;
        let length = varint(&mut rest)?;
        let id = varint(&mut rest)?;
        if !(3..=LONGEST).contains(&length) || id == 0 || i64::try_from(id).is_err() {
            return None;
        }
        // Most bytes begin no row: that shows in the header, before anything is copied.
        let kinds = kinds(rest, length)?;
        let payload = self.payload(rest, usize::try_from(length).ok()?)?;
        let head = usize::from(*payload.first()?);
        let mut values = payload.get(head..)?;
        let mut fields = Vec::with_capacity(kinds.len());
        for kind in kinds {
            let (value, others) = values.split_at_checked(width(kind)?)?;
            values = others;
            fields.push(match kind {
                0 => Field::Null,
                1..=6 => Field::Whole(whole(value)),
                8 | 9 => Field::Whole(i64::from(kind == 9)),
                _ => Field::Text(String::from_utf8(value.to_vec()).ok()?),
            });
        }
        Some((id, fields))
    }

    /// All bytes of a row: those in the cell, and those on the pages that it overflows to.
    fn payload(&self, cell: &[u8], length: usize) -> Option<Vec<u8>> {
        let most = self.size - 35;
        if length <= most {
            return cell.get(..length).map(<[u8]>::to_vec);
        }
        let least = (self.size - 12) * 32 / 255 - 23;
        let rest = least + (length - least) % (self.size - 4);
        let here = if rest <= most { rest } else { least };
        let mut payload = cell.get(..here)?.to_vec();
        let mut next = number(cell.get(here..here + 4)?);
        while payload.len() < length {
            let page = self.newest.get(&next)?;
            next = number(page);
            let part = page.get(4..)?;
            payload.extend(&part[..part.len().min(length - payload.len())]);
        }
        Some(payload)
    }
}

/// The kinds of the columns, if this is the header of one of our records and they fill its length.
fn kinds(payload: &[u8], length: u64) -> Option<Vec<u64>> {
    let head = usize::from(*payload.first()?);
    let mut header = payload.get(1..head)?;
    let mut kinds = Vec::new();
    let mut filled = head as u64;
    while !header.is_empty() {
        let kind = varint(&mut header)?;
        filled = filled.checked_add(width(kind)? as u64)?;
        kinds.push(kind);
        if kinds.len() > 6 || (kinds.len() == 1 && kind != 0) {
            return None;
        }
    }
    (filled == length && matches!(kinds.len(), 2 | 6)).then_some(kinds)
}

/// The bytes that a column of that kind takes; `None` for those that no row of ours has.
fn width(kind: u64) -> Option<usize> {
    match kind {
        0 | 8 | 9 => Some(0),
        1..=4 => usize::try_from(kind).ok(),
        5 => Some(6),
        6 => Some(8),
        _ if kind >= 13 && kind % 2 == 1 && kind / 2 <= LONGEST => {
            usize::try_from((kind - 13) / 2).ok()
        }
        _ => None,
    }
}

/// A whole number, most significant byte first, with its sign.
fn whole(bytes: &[u8]) -> i64 {
    let sign = if bytes.first().is_some_and(|b| *b >= 0x80) {
        -1
    } else {
        0
    };
    bytes.iter().fold(sign, |n, b| n << 8 | i64::from(*b))
}

/// A number of up to nine bytes, seven bits each and eight in the last; it is taken off the front.
fn varint(bytes: &mut &[u8]) -> Option<u64> {
    let mut n = 0;
    for i in 0..9 {
        let (byte, rest) = bytes.split_first()?;
        *bytes = rest;
        if i == 8 {
            return Some(n << 8 | u64::from(*byte));
        }
        n = n << 7 | u64::from(byte & 0x7f);
        if *byte < 0x80 {
            return Some(n);
        }
    }
    None
}

/// The number of a page, as the first four bytes give it.
fn number(bytes: &[u8]) -> u32 {
    bytes
        .first_chunk()
        .map_or(0, |four| u32::from_be_bytes(*four))
}

/// The bytes of a page: as the database says, or the log, or as usual.
fn size(database: Option<&[u8]>, log: Option<&[u8]>) -> usize {
    let said = |bytes: Option<&[u8]>| {
        let n = bytes?.iter().fold(0, |n, b| n << 8 | usize::from(*b));
        let n = if n == 1 { 65_536 } else { n };
        (n.is_power_of_two() && (512..=65_536).contains(&n)).then_some(n)
    };
    said(database).or_else(|| said(log)).unwrap_or(USUAL)
}
