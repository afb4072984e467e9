//! Small pieces of HTML: escaped text, tables.

use std::fmt::Write;

/// Text that is safe inside an element or a quoted attribute.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// A table; nothing at all where it has no rows. Cells are text, escaped here; the first one of a
/// row heads it.
pub(super) fn table(caption: &str, heads: &[&str], rows: &[Vec<String>]) -> String {
    if rows.is_empty() {
        return String::new();
    }
    let mut out = format!("<table><caption>{}</caption><thead><tr>", escape(caption));
    for head in heads {
        let _ = write!(out, "<th scope=\"col\">{}</th>", escape(head));
    }
    out.push_str("</tr></thead><tbody>");
    for row in rows {
        out.push_str("<tr>");
        for (i, cell) in row.iter().enumerate() {
            let cell = escape(cell);
            let _ = if i == 0 {
                write!(out, "<th scope=\"row\">{cell}</th>")
            } else {
                write!(out, "<td>{cell}</td>")
            };
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
    out
}

/// A list; nothing where it is empty.
pub(super) fn list(items: impl IntoIterator<Item = String>) -> String {
    let items: String = items
        .into_iter()
        .map(|i| format!("<li>{}</li>", escape(&i)))
        .collect();
    if items.is_empty() {
        return items;
    }
    format!("<ul>{items}</ul>")
}
