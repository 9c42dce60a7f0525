//! Finds what the TOML crates read but a reader of TOML 1.0 would not.
//!
//! The file is written for other people's programs too, so such a spelling is refused by name.
//! Source: the changes that TOML 1.1 lists against 1.0: new lines, comments and a trailing comma in inline tables, `\e` and `\x` in strings, times without seconds.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::finding::Fault;
use super::reader::Reader;

/// Notes every spelling that TOML 1.0 does not have.
pub(super) fn check(reader: &mut Reader<'_>, text: &str, table: &DeTable<'_>) {
    for (_, value) in table.iter() {
        check_value(reader, text, value);
    }
}

fn check_value(reader: &mut Reader<'_>, text: &str, value: &Spanned<DeValue<'_>>) {
    let raw = text.get(value.span()).unwrap_or_default();
    let start = value.span().start;
    match value.get_ref() {
        DeValue::String(_) => {
            if let Some(at) = new_escape(raw) {
                note(
                    reader,
                    start + at,
                    "the escape \\e or \\x in a text",
                    "\\u with four hexadecimal digits",
                );
            }
        }
        DeValue::Datetime(_) => {
            let time = raw.split(['T', 't', ' ']).nth(1).unwrap_or_default();
            let clock = time.split(['Z', 'z', '+', '-']).next().unwrap_or_default();
            if !time.is_empty() && clock.matches(':').count() < 2 {
                note(
                    reader,
                    start,
                    "a time without seconds",
                    "hours, minutes and seconds",
                );
            }
        }
        DeValue::Array(array) => {
            for item in array.iter() {
                check_value(reader, text, item);
            }
        }
        DeValue::Table(table) => {
            if raw.starts_with('{') {
                check_braces(reader, text, value.span(), table);
            }
            check(reader, text, table);
        }
        DeValue::Integer(_) | DeValue::Float(_) | DeValue::Boolean(_) => {}
    }
}

/// Between the values of an inline table there may be no new line, and no comma after the last.
fn check_braces(reader: &mut Reader<'_>, text: &str, span: Range<usize>, table: &DeTable<'_>) {
    let mut inner = Vec::new();
    leaves(text, table, &mut inner);
    inner.sort_by_key(|leaf| leaf.start);
    let mut from = span.start + 1;
    let end = span.end.saturating_sub(1);
    for leaf in inner.iter().cloned().chain(std::iter::once(end..end)) {
        let gap = text.get(from..leaf.start).unwrap_or_default();
        if let Some(at) = gap.find('\n') {
            note(
                reader,
                from + at,
                "a new line between braces",
                "the whole table on one line",
            );
            return;
        }
        if leaf.start == end && gap.contains(',') {
            note(
                reader,
                from,
                "a comma before the closing brace",
                "no comma there",
            );
            return;
        }
        from = leaf.end.max(from);
    }
}

/// The spans of keys and written values below an inline table; dotted keys have no span of their own.
fn leaves(text: &str, table: &DeTable<'_>, out: &mut Vec<Range<usize>>) {
    for (key, value) in table.iter() {
        out.push(key.span());
        let raw = text.get(value.span()).unwrap_or_default();
        match value.get_ref() {
            DeValue::Table(inner) if !raw.starts_with('{') => leaves(text, inner, out),
            _ => out.push(value.span()),
        }
    }
}

/// Where a string that honours escapes has one that TOML 1.0 does not know.
fn new_escape(raw: &str) -> Option<usize> {
    if !raw.starts_with('"') {
        return None;
    }
    let bytes = raw.as_bytes();
    let mut at = 0;
    while at + 1 < bytes.len() {
        if bytes[at] == b'\\' {
            if matches!(bytes[at + 1], b'e' | b'x') {
                return Some(at);
            }
            at += 1;
        }
        at += 1;
    }
    None
}

fn note(reader: &mut Reader<'_>, offset: usize, found: &str, expected: &str) {
    reader.note(
        Fault::TomlVersion,
        offset,
        "the way it is written",
        format!("{found} (TOML 1.1)"),
        format!("{expected} (TOML 1.0)"),
        "Write it so that older TOML readers can read it too.",
    );
}
