//! The page about the logbook says what the reader takes: its line is an entry, and no kind, key or word is left out.

use hornset::calibration::logbook::{Plan, What, line};
use hornset::calibration::{MARRAM, read};
use serde_json::{Value, json};

const PAGE: &str = include_str!("../calibrations/LOGBOOK.md");

/// The names in backquotes that serde says it would have taken.
fn expected_by(error: &str) -> Vec<String> {
    let (_, list) = error
        .split_once("expected ")
        .unwrap_or_else(|| panic!("no list of names: {error}"));
    let parts = list.split('`').skip(1).step_by(2);
    parts.map(str::to_owned).collect()
}

fn refusal(value: Value) -> String {
    match serde_json::from_value::<What>(value.clone()) {
        Ok(what) => panic!("{value} was taken as {what:?}"),
        Err(error) => error.to_string(),
    }
}

/// The first words in backquotes of every row of a table, with the whole row.
fn rows(heading: &str) -> Vec<(String, String)> {
    let (_, rest) = PAGE.split_once(heading).expect("the heading is there");
    let section = rest.split("\n## ").next().unwrap_or_default();
    let row = |line: &str| {
        let name = line.strip_prefix("| `")?.split('`').next()?;
        Some((name.to_owned(), line.to_owned()))
    };
    section.lines().filter_map(row).collect()
}

#[test]
fn the_line_on_the_page_is_an_entry() {
    let shown = PAGE
        .lines()
        .find(|it| it.starts_with("{\"v\":1"))
        .expect("a line");
    let entry = line::read(shown.as_bytes()).expect("it is whole");
    assert_eq!(entry.n, 17);
    assert_eq!(
        line::write(&entry).expect("it can be written").trim_end(),
        shown
    );
}

#[test]
fn every_kind_has_its_row_with_every_key() {
    let kinds = expected_by(&refusal(json!({ "kind": "no-such-kind" })));
    let rows = rows("## The kinds");
    let documented: Vec<&String> = rows.iter().map(|(name, _)| name).collect();
    assert_eq!(kinds.iter().collect::<Vec<_>>(), documented);
    assert!(kinds.len() > 20, "{kinds:?}");
    for (kind, row) in &rows {
        if kind == "plan" {
            continue;
        }
        let keys = expected_by(&refusal(json!({ "kind": kind, "no_such_key": 1 })));
        let column = row.split('|').nth(2).unwrap_or_default();
        let documented: Vec<&str> = column.split('`').skip(1).step_by(2).collect();
        assert_eq!(keys, documented, "{kind}");
    }
}

#[test]
fn the_plans_keys_are_on_the_page() {
    let robot = read(MARRAM).robot.expect("a good file");
    let plan = serde_json::to_value(What::Plan(Plan::of(&robot))).expect("JSON");
    let mut keys = Vec::new();
    names(&plan, &mut keys);
    for key in keys {
        assert!(
            PAGE.contains(&format!("`{key}`")),
            "{key} is not on the page"
        );
    }
}

fn names(value: &Value, keys: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                keys.push(key.clone());
                names(value, keys);
            }
        }
        Value::Array(list) => list.iter().for_each(|it| names(it, keys)),
        _ => {}
    }
}

#[test]
fn every_word_is_on_the_page() {
    // Each with a key that takes such a word, in an entry that is right otherwise.
    let joint = "LF femur";
    let words = [
        (
            "side",
            json!({ "kind": "checked", "joint": joint, "pulse_us": 1500.0, "angle_deg": 0.0, "from": "?" }),
        ),
        (
            "end",
            json!({ "kind": "free", "joint": joint, "pulse_us": 1500.0, "toward": "?" }),
        ),
        (
            "way",
            json!({ "kind": "plug", "pin": "23", "joint": joint, "way": "?" }),
        ),
        (
            "verdict",
            json!({ "kind": "servo-tested", "servo": "07", "verdict": "?" }),
        ),
        (
            "tool",
            json!({ "kind": "placing", "id": 1, "joints": [joint], "tool": "?" }),
        ),
        (
            "reading",
            json!({ "kind": "mark", "joint": joint, "pulse_us": 1500.0, "angle_deg": 0.0, "by": "?" }),
        ),
        (
            "found by",
            json!({ "kind": "end", "joint": joint, "toward": "near", "pulse_us": 900.0, "by": "?" }),
        ),
        (
            "cause",
            json!({ "kind": "end", "joint": joint, "toward": "near", "pulse_us": 900.0, "by": "peck", "why": "?" }),
        ),
        ("dead", json!({ "kind": "plug", "pin": "23", "why": "?" })),
        (
            "supply question",
            json!({ "kind": "supply-answer", "to": "?" }),
        ),
        (
            "part",
            json!({ "kind": "start-over", "joint": joint, "part": "?" }),
        ),
    ];
    for (name, entry) in words {
        let row = PAGE
            .lines()
            .find(|it| it.starts_with(&format!("| {name} |")))
            .unwrap_or_else(|| panic!("no row for {name}"));
        let documented: Vec<&str> = row.split('`').skip(1).step_by(2).collect();
        assert_eq!(expected_by(&refusal(entry)), documented, "{name}");
    }
}
