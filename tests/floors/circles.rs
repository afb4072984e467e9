//! Circles: files of one room that need each other by their imports.

use super::source::{declared, imports, paths, tokens, without_tests};
use std::collections::{BTreeMap, BTreeSet};

/// Every production file of the source, and which files of its own room it names.
pub(super) type Needs = BTreeMap<String, BTreeSet<String>>;

/// What each file imports.
type Imports<'a> = BTreeMap<&'a str, Vec<Vec<String>>>;

/// The files that are built into the program: those that a `mod` line outside `#[cfg(test)]`
/// leads to, from the crate's roots on. Their names do not matter.
pub(super) fn production(files: &BTreeMap<String, String>) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let mut todo: Vec<String> = ["lib.rs", "main.rs"].map(str::to_owned).to_vec();
    while let Some(name) = todo.pop() {
        let Some(text) = files.get(&name) else {
            continue;
        };
        if !found.insert(name.clone()) {
            continue;
        }
        todo.extend(declared(&name, &without_tests(&tokens(text))));
    }
    found
}

/// The imports among the production files of each room.
pub(super) fn needs(files: &BTreeMap<String, String>) -> Needs {
    let production = production(files);
    let code = |name: &String| without_tests(&tokens(&files[name]));
    let imports: Imports<'_> = (production.iter())
        .map(|name| (name.as_str(), imports(&code(name))))
        .collect();
    let one = |name: &String| {
        let here = module(name);
        let to = paths(&code(name))
            .into_iter()
            .filter_map(|(path, _)| absolute(&here, &path))
            .filter_map(|path| defined_in(&path, &imports, 0))
            .filter(|to| *to != *name && room(to) == room(name) && !family(name, to));
        (name.clone(), to.map(str::to_owned).collect())
    };
    production.iter().map(one).collect()
}

/// One circle for every knot of files, the shortest through its first file.
pub(super) fn circles(needs: &Needs) -> Vec<Vec<String>> {
    let mut found: Vec<Vec<String>> = Vec::new();
    for name in needs.keys() {
        if !found.iter().flatten().any(|known| known == name)
            && let Some(circle) = shortest(name, needs)
        {
            found.push(circle);
        }
    }
    found
}

/// The shortest way from a file back to itself.
fn shortest(name: &str, needs: &Needs) -> Option<Vec<String>> {
    let mut ways = vec![vec![name.to_owned()]];
    let mut seen = BTreeSet::new();
    while !ways.is_empty() {
        let mut longer = Vec::new();
        for way in ways {
            for next in way.last().and_then(|l| needs.get(l)).into_iter().flatten() {
                if next == name {
                    return Some(way);
                }
                if seen.insert(next.clone()) {
                    longer.push([way.clone(), vec![next.clone()]].concat());
                }
            }
        }
        ways = longer;
    }
    None
}

fn room(name: &str) -> &str {
    name.split('/').next().unwrap_or(name)
}

/// Whether one is the `mod.rs` above the other: a folder and what lies in it are one thing.
fn family(one: &str, other: &str) -> bool {
    let above = |a: &str, b: &str| {
        a.strip_suffix("mod.rs")
            .is_some_and(|dir| b.starts_with(dir))
    };
    above(one, other) || above(other, one)
}

/// The path of the module that a file is: `engine/findings/mod.rs` is `engine::findings`.
fn module(name: &str) -> Vec<String> {
    let name = name.trim_end_matches(".rs").trim_end_matches("/mod");
    name.split('/').map(str::to_owned).collect()
}

/// A path from the crate's root on; none where it begins with a name of its own file.
fn absolute(here: &[String], path: &[String]) -> Option<Vec<String>> {
    let supers = path.iter().take_while(|part| *part == "super").count();
    match path.first().map(String::as_str) {
        Some("crate") => Some(path[1..].to_vec()),
        Some("self") => Some([here, &path[1..]].concat()),
        Some("super") => {
            let kept = here.len().checked_sub(supers)?;
            Some([&here[..kept], &path[supers..]].concat())
        }
        _ => None,
    }
}

/// The file in which what a path names stands: a re-export by a `mod.rs` is followed.
fn defined_in<'a>(path: &[String], imports: &Imports<'a>, followed: u8) -> Option<&'a str> {
    for length in (1..=path.len()).rev() {
        let (here, rest) = path.split_at(length);
        let module = here.join("/");
        for name in [format!("{module}.rs"), format!("{module}/mod.rs")] {
            let Some((name, imported)) = imports.get_key_value(name.as_str()) else {
                continue;
            };
            let reexport = |item: &String| {
                let inner = imported
                    .iter()
                    .find(|p| p.len() > 1 && p.last() == Some(item))?;
                let inner = absolute(here, inner).unwrap_or_else(|| [here, inner].concat());
                defined_in(&inner, imports, followed + 1)
            };
            let item = rest
                .first()
                .filter(|_| name.ends_with("/mod.rs") && followed < 4);
            return item.and_then(reexport).or(Some(name));
        }
    }
    None
}
