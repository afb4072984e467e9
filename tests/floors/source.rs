//! Rust source as the floors test sees it: tokens without comments and strings, and paths.

/// A word, a number or a sign of Rust source; `::` is one sign. Comments, characters and strings
/// are left out, save the string behind an equals sign in an attribute: `#[path = "x.rs"]`.
#[derive(Clone, PartialEq, Debug)]
pub(super) struct Token {
    pub(super) text: String,
    pub(super) line: usize,
}

pub(super) fn tokens(source: &str) -> Vec<Token> {
    let chars: Vec<char> = source.chars().collect();
    let at = |i: usize| chars.get(i).copied().unwrap_or('\0');
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let mut out: Vec<Token> = Vec::new();
    let (mut i, mut line) = (0, 1);
    while i < chars.len() {
        let start = i;
        let c = at(i);
        if c == '/' && at(i + 1) == '/' {
            while i < chars.len() && at(i) != '\n' {
                i += 1;
            }
        } else if c == '/' && at(i + 1) == '*' {
            let mut depth = 0;
            while i < chars.len() {
                match (at(i), at(i + 1)) {
                    ('/', '*') => (depth, i) = (depth + 1, i + 2),
                    ('*', '/') => (depth, i) = (depth - 1, i + 2),
                    _ => i += 1,
                }
                if depth == 0 {
                    break;
                }
            }
        } else if c == '"' {
            i = end_of_quoted(&chars, i, '"');
            if let [.., open, name, equals] = &out[..]
                && [open, name, equals].map(|t| t.text.as_str()) == ["[", "path", "="]
            {
                let text = chars[start..i.min(chars.len())].iter().collect();
                out.push(Token { text, line });
            }
        } else if c == '\'' {
            // A character, unless it is a lifetime: 'a' against 'a.
            let is_char = at(i + 1) == '\\' || at(i + 2) == '\'';
            i = if is_char {
                end_of_quoted(&chars, i, '\'')
            } else {
                i + 1
            };
        } else if let Some(end) = end_of_raw_string(&chars, i) {
            i = end;
        } else if is_word(c) {
            while is_word(at(i)) {
                i += 1;
            }
            let after_dot = start > 0 && at(start - 1) == '.';
            if c.is_ascii_digit() && !after_dot && at(i) == '.' && at(i + 1).is_ascii_digit() {
                i += 1;
                while is_word(at(i)) {
                    i += 1;
                }
            }
            let text = chars[start..i].iter().collect();
            out.push(Token { text, line });
        } else {
            i += if c == ':' && at(i + 1) == ':' { 2 } else { 1 };
            if !c.is_whitespace() {
                let text = chars[start..i].iter().collect();
                out.push(Token { text, line });
            }
        }
        let end = i.min(chars.len());
        line += chars[start..end].iter().filter(|c| **c == '\n').count();
    }
    out
}

fn end_of_quoted(chars: &[char], start: usize, quote: char) -> usize {
    let mut i = start + 1;
    while i < chars.len() && chars[i] != quote {
        i += if chars[i] == '\\' { 2 } else { 1 };
    }
    i + 1
}

/// The end of `r"…"`, `br#"…"#` and the like, if one begins here.
fn end_of_raw_string(chars: &[char], start: usize) -> Option<usize> {
    let before = start.checked_sub(1).map(|i| chars[i]);
    if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
        return None;
    }
    let mut i = start + usize::from(chars[start] == 'b');
    if chars.get(i) != Some(&'r') {
        return None;
    }
    i += 1;
    let hashes = chars[i..].iter().take_while(|c| **c == '#').count();
    i += hashes;
    if chars.get(i) != Some(&'"') {
        return None;
    }
    let closing: Vec<char> = format!("\"{}", "#".repeat(hashes)).chars().collect();
    let body = &chars[i + 1..];
    let length = body.windows(closing.len()).position(|w| w == closing)?;
    Some(i + 1 + length + closing.len())
}

/// The source without the blocks under `#[cfg(test)]`.
pub(super) fn without_tests(all: &[Token]) -> Vec<Token> {
    const MARK: [&str; 7] = ["#", "[", "cfg", "(", "test", ")", "]"];
    let mut out = Vec::new();
    let mut i = 0;
    while i < all.len() {
        let marked =
            all[i..].len() >= MARK.len() && (all[i..].iter().zip(MARK)).all(|(t, m)| t.text == m);
        if !marked {
            out.push(all[i].clone());
            i += 1;
            continue;
        }
        let mut depth = 0;
        for token in &all[i + MARK.len()..] {
            i += 1;
            match token.text.as_str() {
                "{" => depth += 1,
                "}" => depth -= 1,
                _ => {}
            }
            if depth == 0 && matches!(token.text.as_str(), "}" | ";") {
                break;
            }
        }
        i += MARK.len();
    }
    out
}

/// Where the files of the modules may stand that the code of a file declares, below `src`.
pub(super) fn declared(name: &str, code: &[Token]) -> Vec<String> {
    let folder = name.rfind('/').map_or("", |slash| &name[..=slash]);
    let own = match &name[folder.len()..] {
        "mod.rs" | "lib.rs" | "main.rs" => folder.to_owned(),
        _ => format!("{}/", name.trim_end_matches(".rs")),
    };
    let mut found = Vec::new();
    for (i, three) in code.windows(3).enumerate() {
        let [word, module, end] = three else { continue };
        if word.text != "mod" || end.text != ";" {
            continue;
        }
        // `pub(super)` may stand between the attribute and the word.
        let is_sight =
            |t: &&Token| ["pub", "(", "crate", "super", ")", "]"].contains(&t.text.as_str());
        let before = code[..i].iter().rev().find(|t| !is_sight(t));
        match before.filter(|t| t.text.starts_with('"')) {
            Some(path) => found.push(format!("{folder}{}", path.text.trim_matches('"'))),
            None => {
                found.extend([".rs", "/mod.rs"].map(|end| format!("{own}{}{end}", module.text)));
            }
        }
    }
    found
}

/// Every path in the source, `use` groups written out: `a::{b, c::d}` gives `a::b`, `a::c::d`.
pub(super) fn paths(all: &[Token]) -> Vec<(Vec<String>, usize)> {
    let mut out = Vec::new();
    let mut i = 0;
    while i < all.len() {
        i = path(all, i, &[], &mut out).max(i + 1);
    }
    out
}

/// The paths that a file imports.
pub(super) fn imports(all: &[Token]) -> Vec<Vec<String>> {
    let mut out = Vec::new();
    for (i, token) in all.iter().enumerate() {
        if token.text == "use" {
            path(all, i + 1, &[], &mut out);
        }
    }
    out.into_iter().map(|(path, _)| path).collect()
}

/// Reads one path that begins at `i`, below `prefix`; returns where it ends.
fn path(
    all: &[Token],
    mut i: usize,
    prefix: &[String],
    out: &mut Vec<(Vec<String>, usize)>,
) -> usize {
    let text = |i: usize| all.get(i).map_or("", |t| t.text.as_str());
    let is_part = |s: &str| s == "*" || s.starts_with(|c: char| c.is_alphabetic() || c == '_');
    let first = i;
    let mut whole = prefix.to_vec();
    while is_part(text(i)) && (text(i) != "*" || i > first || !prefix.is_empty()) {
        whole.push(text(i).to_owned());
        i += 1;
        if text(i) != "::" {
            break;
        }
        i += 1;
        if text(i) != "{" {
            continue;
        }
        i += 1;
        while !matches!(text(i), "}" | "") {
            i = path(all, i, &whole, out).max(i + 1);
        }
        return i + 1;
    }
    if i > first {
        out.push((whole, all[first].line));
    }
    // The other name in `{a as b}` is not a path.
    if !prefix.is_empty() && text(i) == "as" {
        i += 2;
    }
    i
}
