//! A look at the beginning of a model file, so that a wrong or cut one never reaches whisper.cpp,
//! which trusts what it reads and ends the program when it should not have.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;

use super::Error;

/// The eleven numbers behind the mark: name, least, greatest (whisper.cpp, `whisper_model_load`).
const FIELDS: [(&str, i32, i32); 11] = [
    ("vocabulary", 51_864, 51_866),
    ("audio window", 1500, 1500),
    ("audio width", 384, 1280),
    ("audio heads", 6, 20),
    ("audio layers", 4, 32),
    ("text window", 448, 448),
    ("text width", 384, 1280),
    ("text heads", 6, 20),
    ("text layers", 2, 32),
    ("mel bands", 80, 128),
    ("number format", 0, 2999),
];

/// Is this a Whisper model in ggml format, whole up to the end of its vocabulary?
///
/// # Errors
/// [`Error::Io`]; [`Error::NotAModel`] naming what was found.
pub(super) fn check_header(path: &Path) -> Result<(), Error> {
    let path_of = || path.to_owned();
    let found = File::open(path).and_then(|file| {
        // A folder opens and only then fails to be read.
        fault(&mut BufReader::new(file))
    });
    match found {
        Ok(None) => Ok(()),
        Ok(Some(what)) => Err(Error::NotAModel {
            path: path_of(),
            what,
        }),
        Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => Err(Error::NotAModel {
            path: path_of(),
            what: "it ends before its weights begin".to_owned(),
        }),
        Err(source) => Err(Error::Io {
            path: path_of(),
            source,
        }),
    }
}

/// What is wrong with the beginning of the file, if anything.
fn fault(file: &mut impl Read) -> io::Result<Option<String>> {
    let mark: [u8; 4] = bytes(file)?;
    if mark != *b"lmgg" {
        return Ok(Some(format!(
            "it starts with {mark:02x?}, expected {:02x?}",
            b"lmgg"
        )));
    }
    for (name, least, greatest) in FIELDS {
        let found = number(file)?;
        if !(least..=greatest).contains(&found) {
            return Ok(Some(format!(
                "its {name} is {found}, expected {least} to {greatest}"
            )));
        }
    }
    let (bands, bins) = (number(file)?, number(file)?);
    if !matches!((bands, bins), (80 | 128, 201)) {
        return Ok(Some(format!(
            "its mel filters are {bands} by {bins}, expected 80 or 128 by 201"
        )));
    }
    skip(file, 4 * i64::from(bands) * i64::from(bins))?;
    let words = number(file)?;
    if !(50_000..=51_866).contains(&words) {
        return Ok(Some(format!(
            "its vocabulary lists {words} words, expected 50000 to 51866"
        )));
    }
    for place in 0..words {
        let length = number(file)?;
        if !(0..=1024).contains(&length) {
            return Ok(Some(format!(
                "word {place} of its vocabulary has {length} bytes"
            )));
        }
        skip(file, i64::from(length))?;
    }
    Ok(None)
}

fn bytes<const N: usize>(file: &mut impl Read) -> io::Result<[u8; N]> {
    let mut bytes = [0; N];
    file.read_exact(&mut bytes)?;
    Ok(bytes)
}

fn number(file: &mut impl Read) -> io::Result<i32> {
    bytes(file).map(i32::from_le_bytes)
}

fn skip(file: &mut impl Read, length: i64) -> io::Result<()> {
    let length = u64::try_from(length).unwrap_or(0);
    if io::copy(&mut file.take(length), &mut io::sink())? < length {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    Ok(())
}
