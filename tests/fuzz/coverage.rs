//! Which code an input reached, as the compiler's own counters say.
//!
//! Built as `guided.toml` says, a program keeps its counters in a file while it runs (LLVM's
//! continuous mode). Reading that file needs no unsafe code, and no toolchain but the stable one.

use std::fs::File;
use std::os::unix::fs::FileExt;

/// The version of the file's layout that is read here (LLVM, `InstrProfData.inc`).
const VERSION: u64 = 10;
/// Bytes of its header, and of what it says of each function.
const HEADER: usize = 128;
const FUNCTION: u64 = 64;

/// The counters of this process.
pub(super) struct Coverage {
    file: File,
    /// Where the counters begin in it.
    begin: u64,
    count: usize,
}

impl Coverage {
    /// None if the tests were built without counters.
    pub(super) fn of_this_process() -> Option<Self> {
        let name = std::env::var("LLVM_PROFILE_FILE").ok()?;
        if !name.contains("%c") {
            return None;
        }
        let process = std::process::id().to_string();
        let name = name.replace("%c", "").replace("%p", &process);
        let file = File::open(&name).unwrap_or_else(|e| panic!("{name}: {e}"));
        let mut header = [0; HEADER];
        file.read_exact_at(&mut header, 0).unwrap();
        let words: Vec<u64> = words(&header).collect();
        assert_eq!(words[1] & 0xff, VERSION, "{name}: another layout");
        let (identities, functions, padding) = (words[2], words[3], words[4]);
        Some(Self {
            file,
            begin: HEADER as u64 + identities + functions * FUNCTION + padding,
            count: usize::try_from(words[5]).unwrap(),
        })
    }

    /// How often each region of the code was entered since the start.
    pub(super) fn counters(&self) -> Vec<u64> {
        let mut bytes = vec![0; self.count * 8];
        self.file.read_exact_at(&mut bytes, self.begin).unwrap();
        words(&bytes).collect()
    }
}

fn words(bytes: &[u8]) -> impl Iterator<Item = u64> {
    let word = |eight: &[u8]| u64::from_le_bytes(eight.try_into().unwrap());
    bytes.chunks_exact(8).map(word)
}
