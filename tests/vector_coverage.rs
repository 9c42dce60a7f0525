//! The exchanges of `protocol/vectors` against the table *verb × refusal* of `protocol/PROTOCOL.md`.
//!
//! Reads both as text. Fails when a cell of the table has no exchange, when an exchange shows a refusal that the
//! table does not have, when a reason's row and column differ from the list of reasons, or when there are too few.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// A verb of the table's first column, and a reason.
type Cell = (String, String);

fn read(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn cells_of_row(line: &str) -> Vec<&str> {
    line.trim()
        .trim_matches('|')
        .split('|')
        .map(str::trim)
        .collect()
}

/// The section under a heading, up to the next heading of the same depth.
fn section<'a>(text: &'a str, heading: &str) -> &'a str {
    let start = text
        .find(heading)
        .unwrap_or_else(|| panic!("PROTOCOL.md has no heading {heading:?}"));
    let rest = &text[start + heading.len()..];
    &rest[..rest.find("\n## ").unwrap_or(rest.len())]
}

/// The reasons in the order of the table's columns, and the cells that are marked.
fn table() -> (Vec<String>, BTreeSet<Cell>) {
    let text = read("protocol/PROTOCOL.md");
    let mut rows = section(&text, "\n## Verb × refusal\n")
        .lines()
        .filter(|line| line.starts_with('|'))
        .map(cells_of_row);
    let reasons: Vec<String> = rows
        .next()
        .expect("the table has a head")
        .into_iter()
        .skip(1)
        .map(str::to_owned)
        .collect();
    let mut marked = BTreeSet::new();
    for row in rows.skip(1) {
        assert_eq!(
            row.len(),
            reasons.len() + 1,
            "a row of another width: {row:?}"
        );
        for (reason, mark) in reasons.iter().zip(&row[1..]) {
            assert!(["", "●"].contains(mark), "a mark that is none: {mark:?}");
            if !mark.is_empty() {
                marked.insert((row[0].to_owned(), reason.clone()));
            }
        }
    }
    (reasons, marked)
}

/// The table's name for what a line asks: its verb, with its kind where one verb has two.
fn verb_of(line: &str, verbs: &BTreeSet<String>) -> String {
    let body = line.rsplit_once(';').map_or(line, |(body, _)| body);
    let mut words: Vec<&str> = body.split(' ').filter(|word| !word.is_empty()).collect();
    if words
        .first()
        .is_some_and(|word| word.starts_with(|first: char| first.is_ascii_digit()))
    {
        words.remove(0);
    }
    let Some(&verb) = words.first() else {
        return "(other)".to_owned();
    };
    let arguments = words.len() - 1;
    let is_change = match verb {
        "guard" | "slew" => arguments >= 2,
        "silence" => arguments >= 1,
        _ if verbs.contains(verb) => return verb.to_owned(),
        _ => return "(other)".to_owned(),
    };
    format!("{verb} ({})", if is_change { "change" } else { "read" })
}

/// A line of `>b` without its `\xHH`.
fn without_escapes(line: &str) -> String {
    let mut parts = line.split("\\x");
    let first = parts.next().unwrap_or("").to_owned();
    parts.fold(first, |kept, part| kept + part.get(2..).unwrap_or(""))
}

struct Coverage {
    exchanges: usize,
    names: BTreeSet<String>,
    /// For each refusal shown, the first exchange that shows it.
    shown: BTreeMap<Cell, String>,
}

/// Walks through all files: a refusal belongs to the request just before it.
fn coverage(verbs: &BTreeSet<String>) -> Coverage {
    let mut found = Coverage {
        exchanges: 0,
        names: BTreeSet::new(),
        shown: BTreeMap::new(),
    };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/vectors");
    for entry in std::fs::read_dir(&folder).expect("protocol/vectors is a folder") {
        let path = entry.expect("an entry of a folder").path();
        if path.extension().is_none_or(|extension| extension != "txt") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a file of exchanges is text");
        let mut name = String::new();
        let mut asked = String::new();
        for line in text.lines() {
            if let Some(rest) = line.strip_prefix("exchange ") {
                name = rest.to_owned();
                found.exchanges += 1;
                assert!(found.names.insert(name.clone()), "{name:?} stands twice");
            } else if let Some(body) = line.strip_prefix("> ") {
                asked = format!("{body};");
            } else if let Some(body) = line
                .strip_prefix(">= ")
                .or_else(|| line.strip_prefix(">b "))
            {
                // The last line of several; bytes that are not printable are no part of a verb.
                let whole = body.trim_end_matches("\\n").trim_end_matches("\\r");
                let last = whole.rsplit("\\n").next().unwrap_or(whole);
                asked = without_escapes(last);
            } else if let Some(body) = line.strip_prefix("< ") {
                let mut words = body
                    .split(' ')
                    .skip_while(|word| word.parse::<u32>().is_ok());
                if words.next() == Some("refused") {
                    let reason = words.next().expect("a refusal has a reason").to_owned();
                    let cell = (verb_of(&asked, verbs), reason);
                    found.shown.entry(cell).or_insert_with(|| name.clone());
                }
            }
        }
    }
    found
}

fn verbs() -> BTreeSet<String> {
    table().1.into_iter().map(|(verb, _)| verb).collect()
}

#[test]
fn every_cell_of_the_table_has_an_exchange() {
    let (_, marked) = table();
    assert!(
        marked.len() > 150,
        "only {} cells: is the table read?",
        marked.len()
    );
    let shown = coverage(&verbs()).shown;
    let missing: Vec<_> = marked
        .iter()
        .filter(|cell| !shown.contains_key(cell))
        .collect();
    assert!(
        missing.is_empty(),
        "no exchange shows these refusals: {missing:?}"
    );
}

#[test]
fn no_exchange_shows_a_refusal_that_the_table_lacks() {
    let (_, marked) = table();
    let strange: Vec<_> = coverage(&verbs())
        .shown
        .into_iter()
        .filter(|(cell, _)| !marked.contains(cell))
        .collect();
    assert!(
        strange.is_empty(),
        "the table has no such cell: {strange:?}"
    );
}

#[test]
fn the_columns_are_the_closed_list_of_reasons_in_its_order() {
    let text = read("protocol/PROTOCOL.md");
    let listed: Vec<String> = section(&text, "\n## Refusals\n")
        .lines()
        .filter(|line| line.starts_with('|'))
        .map(cells_of_row)
        .filter(|row| row[0].parse::<u32>().is_ok())
        .map(|row| row[1].trim_matches('`').to_owned())
        .collect();
    assert_eq!(listed.len(), 20);
    assert_eq!(table().0, listed);
}

#[test]
fn there_are_enough_exchanges() {
    let found = coverage(&verbs());
    assert!(found.exchanges >= 150, "only {}", found.exchanges);
}

#[test]
fn every_verb_and_every_event_is_done_in_an_exchange() {
    let text = read("protocol/PROTOCOL.md");
    let listed = text
        .lines()
        .find_map(|line| line.strip_prefix("< done verbs="))
        .and_then(|line| line.split(';').next())
        .expect("PROTOCOL.md shows the answer to help");
    let verbs: Vec<&str> = listed.split(',').collect();
    assert_eq!(verbs.len(), 18, "{verbs:?}");
    let events = ["ready", "frozen", "limp", "awake", "where", "sense"];
    let mut done = BTreeSet::new();
    let mut seen = BTreeSet::new();
    for entry in std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/vectors"))
        .expect("protocol/vectors is a folder")
    {
        let path = entry.expect("an entry of a folder").path();
        let text = std::fs::read_to_string(&path).expect("a file of exchanges is text");
        let lines: Vec<&str> = text.lines().collect();
        for pair in lines.windows(2) {
            if let (Some(asked), Some(answer)) =
                (pair[0].strip_prefix("> "), pair[1].strip_prefix("< "))
            {
                let is_done =
                    answer.split(' ').find(|word| word.parse::<u32>().is_err()) == Some("done");
                if let (true, Some(verb)) = (
                    is_done,
                    asked.split(' ').find(|word| word.parse::<u32>().is_err()),
                ) {
                    done.insert(verb.to_owned());
                }
            }
            if let Some(event) = pair[1].strip_prefix("< event ") {
                seen.insert(event.split(' ').next().unwrap_or("").to_owned());
            }
        }
    }
    for verb in verbs {
        assert!(done.contains(verb), "no exchange in which {verb} is done");
    }
    for event in events {
        assert!(seen.contains(event), "no exchange with the event {event}");
    }
}
