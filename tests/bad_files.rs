//! A folder of bad calibration files that the real program must refuse, each for its own reason and at its own place.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// File, line, column, fault, and a part of what the message says was found.
///
/// Lines and columns count from 1, columns in characters.
#[rustfmt::skip]
const BAD: &[(&str, usize, usize, &str, &str)] = &[
    ("body-centre-two", 8, 21, "wrong-type", "(2 values)"),
    ("body-flat", 6, 13, "out-of-range", "0.0"),
    ("body-no-width", 5, 1, "missing-key", "no key width_mm"),
    ("crlf-pin", 17, 7, "bad-pin", "99"),
    ("empty", 1, 1, "missing-key", "no key format"),
    ("end-outside", 15, 24, "out-of-range", "2600.0"),
    ("ends-swapped", 16, 14, "ends-swapped", "868, not above near_end_us = 2268"),
    ("format-fraction", 2, 10, "wrong-type", "1.5"),
    ("format-missing", 1, 1, "missing-key", "no key format"),
    ("format-negative", 2, 10, "format", "-1"),
    ("format-newer", 2, 10, "format", "2"),
    ("format-text", 2, 10, "wrong-type", "(text)"),
    ("guard-swapped", 15, 12, "pair-swapped", "[2240, 895]"),
    ("guard-text", 15, 12, "wrong-type", r#""wide" (text)"#),
    ("joint-missing", 5, 1, "missing-key", "no key tibia"),
    ("joint-number", 7, 9, "wrong-type", "24 (a number)"),
    ("joint-unknown", 15, 1, "unknown-key", "the key zero"),
    ("leg-missing", 1, 1, "missing-key", "no key leg"),
    ("leg-name-blank", 6, 8, "bad-name", r#""L F""#),
    ("leg-name-digit", 6, 8, "bad-name", r#""1L""#),
    ("leg-nine", 75, 1, "leg-count", "9 legs"),
    ("leg-no-name", 5, 1, "missing-key", "no key name"),
    ("leg-none", 4, 7, "leg-count", "0 legs"),
    ("leg-of-numbers", 4, 8, "wrong-type", "3 (a number)"),
    ("leg-single-bracket", 5, 1, "wrong-type", "(a table)"),
    ("leg-twice", 20, 8, "duplicate-leg", "LF, as in line 6"),
    ("leg-unknown", 7, 1, "unknown-key", "the key mass_g"),
    ("limits-above-end", 17, 13, "limits-outside-ends", "2300, above 2268"),
    ("limits-below-end", 17, 13, "limits-outside-ends", "860, below 868"),
    ("limits-beyond-both", 17, 13, "limits-outside-ends", "[860, 2300], beyond 868 and 2268"),
    ("limits-fine", 15, 13, "half-step", "[904.25, 2231]"),
    ("limits-one", 15, 13, "wrong-type", "(1 values)"),
    ("limits-outside-board", 15, 21, "out-of-range", "2501.0"),
    ("limits-swapped", 15, 13, "pair-swapped", "[2231, 904]"),
    ("links-ball", 8, 79, "out-of-range", "-4.0"),
    ("links-bend", 8, 79, "out-of-range", "120.0"),
    ("links-huge", 8, 55, "not-finite", "1e999"),
    ("links-inches", 8, 62, "unknown-key", "the key tibia_in"),
    ("links-inf", 8, 55, "not-finite", "inf"),
    ("links-missing", 5, 1, "missing-key", "no key links"),
    ("links-negative", 8, 38, "out-of-range", "-67.0"),
    ("links-no-tibia", 8, 9, "missing-key", "no key tibia_mm"),
    ("links-text", 8, 38, "wrong-type", r#""67" (text)"#),
    ("links-zero", 8, 55, "out-of-range", "0"),
    ("method-unknown", 15, 61, "bad-method", r#""guess""#),
    ("mount-missing", 5, 1, "missing-key", "no key mount"),
    ("mount-nan", 7, 18, "not-finite", "nan"),
    ("mount-no-yaw", 7, 9, "missing-key", "no key yaw_deg"),
    ("mount-number", 7, 9, "wrong-type", "85.0 (a number)"),
    ("mount-yaw-270", 7, 45, "out-of-range", "270.0"),
    ("name-control", 3, 8, "bad-name", r#"a\nb"#),
    ("name-empty", 3, 8, "bad-name", r#""""#),
    ("name-long", 3, 8, "bad-name", "xxxx"),
    ("name-missing", 1, 1, "missing-key", "no key name"),
    ("name-number", 3, 8, "wrong-type", "7 (a number)"),
    ("needed-inf", 15, 22, "not-finite", "inf"),
    ("needed-swapped", 15, 14, "pair-swapped", "[60, -50]"),
    ("newer-key-in-older", 3, 1, "unknown-key", "the key recorded_at"),
    ("not-utf8", 3, 10, "not-utf8", "the byte 0xB0"),
    ("older-nan", 16, 11, "not-finite", "nan"),
    ("older-no-time", 1, 1, "missing-key", "no key recorded_at"),
    ("pin-a16", 14, 7, "bad-pin", r#""A16""#),
    ("pin-fraction", 14, 7, "bad-pin", "22.5"),
    ("pin-hex", 14, 7, "bad-pin", "0x17"),
    ("pin-input", 14, 7, "bad-pin", r#""a3""#),
    ("pin-one", 14, 7, "bad-pin", "1"),
    ("pin-seventy", 14, 7, "bad-pin", "70"),
    ("pin-twice", 14, 7, "duplicate-pin", "22, which LF coxa has too (line 11)"),
    ("pin-twice-two-legs", 25, 7, "duplicate-pin", "24, which LF tibia has too"),
    ("pin-twice-two-spellings", 17, 7, "duplicate-pin", "A3, which LF coxa has too (line 11)"),
    ("play-negative", 15, 22, "out-of-range", "-0.6"),
    ("scale-large", 15, 27, "out-of-range", "608.5"),
    ("scale-small", 15, 17, "out-of-range", "0.0942"),
    ("scale-zero", 15, 17, "zero-scale", "0"),
    ("servo-blank", 15, 9, "bad-name", r#"" ""#),
    ("servo-number", 15, 9, "wrong-type", "7 (a number)"),
    ("servo-twice", 19, 9, "duplicate-servo", "07, which LF coxa has too"),
    ("syntax-bare-word", 3, 8, "syntax", "must be quoted at Bad"),
    ("syntax-bracket", 10, 10, "syntax", "unclosed table"),
    ("syntax-key-twice", 15, 1, "syntax", "duplicate key"),
    ("syntax-lone-cr", 3, 14, "syntax", "carriage return"),
    ("syntax-no-value", 11, 6, "syntax", "must be quoted"),
    ("syntax-open-quote", 3, 12, "syntax", "invalid basic string"),
    ("template-text", 4, 12, "wrong-type", r#""yes" (text)"#),
    ("time-date-only", 15, 34, "bad-time", "2026-03-14"),
    ("time-local", 15, 34, "bad-time", "2026-03-14T10:22:05"),
    ("time-no-such-day", 15, 34, "syntax", "invalid date at 2026-02-30"),
    ("time-text", 15, 34, "bad-time", r#""2026-03-14T10:22:05Z""#),
    ("toml11-escape", 3, 10, "toml-version", r#"\e or \x"#),
    ("toml11-last-comma", 8, 60, "toml-version", "a comma before the closing brace"),
    ("toml11-new-line", 7, 34, "toml-version", "a new line between braces"),
    ("toml11-time", 15, 32, "toml-version", "a time without seconds"),
    ("unknown-top", 4, 1, "unknown-key", "the key nmae"),
    ("wide-letters", 10, 31, "bad-pin", "99"),
    ("zero-bare", 15, 11, "wrong-type", "1487.5 (a number)"),
    ("zero-far", 15, 21, "out-of-range", "14875.0"),
    ("zero-nan", 15, 21, "not-finite", "nan"),
    ("zero-no-method", 15, 11, "missing-key", "no key by"),
    ("zero-no-time", 15, 11, "missing-key", "no key at"),
    ("zero-no-value", 15, 11, "missing-key", "no key value"),
    ("zero-spread-negative", 15, 38, "out-of-range", "-4.0"),
    ("zero-unknown", 15, 29, "unknown-key", "the key sigma"),
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad_files")
}

fn hornset(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hornset"))
        .args(args)
        .output()
        .expect("the program runs")
}

#[test]
fn the_program_refuses_each_file_for_its_own_reason_at_its_own_place() {
    let mut wrong = Vec::new();
    for &(name, line, column, fault, found) in BAD {
        let file = folder().join(format!("{name}.toml"));
        let file = file.to_str().expect("a plain path");
        let output = hornset(&["check", "--json", file]);
        assert_eq!(output.status.code(), Some(1), "{name}");
        let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        assert_eq!(json[0]["good"], false, "{name}");
        let findings = json[0]["findings"].as_array().expect("a list");
        let errors: Vec<&Value> = findings
            .iter()
            .filter(|it| it["severity"] == "error")
            .collect();
        // After a fault of spelling the rest cannot be read well; every other file has exactly one fault.
        let alone = errors.len() == 1 || (fault == "syntax" && !errors.is_empty());
        let first = errors.first().copied().unwrap_or(&Value::Null);
        let says = first["found"].as_str().unwrap_or_default();
        let full = ["place", "expected", "remedy"]
            .iter()
            .all(|key| first[key].as_str().is_some_and(|text| !text.is_empty()));
        if !alone
            || !full
            || first["fault"] != fault
            || first["line"] != line
            || first["column"] != column
            || !says.contains(found)
        {
            wrong.push(format!(
                "{name}: expected {line}:{column} {fault} {found}, got {errors:#?}"
            ));
        }
        let output = hornset(&["check", file]);
        assert_eq!(output.status.code(), Some(1), "{name}");
        let text = String::from_utf8(output.stdout).expect("text");
        let head = format!("{file}:{line}:{column}: error: {fault}: ");
        if !text.starts_with(&head) {
            wrong.push(format!("{name}: expected {head}, got {text}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_file_in_the_folder_is_expected_and_every_expectation_has_its_file() {
    let there: BTreeSet<String> = std::fs::read_dir(folder())
        .expect("the folder")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| path.file_stem().expect("a name").to_string_lossy().into())
        .collect();
    let expected: BTreeSet<String> = BAD.iter().map(|row| row.0.to_owned()).collect();
    assert_eq!(there, expected);
    assert!(expected.len() >= 40 && expected.len() == BAD.len());
}

#[test]
fn all_faults_of_a_file_are_reported_at_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("many.toml");
    let text = std::fs::read_to_string(folder_file("zero-nan")).expect("it is there");
    let text = text
        .replace("pin = 22", "pin = 99")
        .replace("femur_mm = 67.0", "femur_mm = \"67\"")
        .replace("name = \"Bad\"", "nmae = \"Bad\"");
    std::fs::write(&file, text).expect("written");
    let output = hornset(&["check", "--json", file.to_str().expect("plain")]);
    assert_eq!(output.status.code(), Some(1));
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let mut faults: Vec<&str> = json[0]["findings"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|it| it["fault"].as_str().expect("a word"))
        .collect();
    faults.sort_unstable();
    assert_eq!(
        faults,
        [
            "bad-pin",
            "missing-key",
            "not-finite",
            "unknown-key",
            "wrong-type"
        ]
    );
}

fn folder_file(name: &str) -> PathBuf {
    folder().join(format!("{name}.toml"))
}

/// Every key of every table, as calibrations/FORMAT.md has them.
const KEYS: &[(&str, &[&str])] = &[
    (
        "the top of the file",
        &["format", "name", "template", "body", "leg"],
    ),
    ("body", &["length_mm", "width_mm", "centre_of_mass_mm"]),
    (
        "leg LF",
        &["name", "mount", "links", "coxa", "femur", "tibia"],
    ),
    ("leg LF mount", &["x_mm", "y_mm", "z_mm", "yaw_deg"]),
    (
        "leg LF links",
        &[
            "coxa_mm",
            "femur_mm",
            "tibia_mm",
            "coxa_height_mm",
            "tibia_bend_deg",
            "ball_radius_mm",
        ],
    ),
    (
        "LF coxa",
        &[
            "pin",
            "servo",
            "zero_us",
            "us_per_degree",
            "near_end_us",
            "far_end_us",
            "limits_us",
            "guard_us",
            "needed_deg",
            "play_deg",
        ],
    ),
    ("LF coxa zero_us", &["value", "spread", "at", "by"]),
];

/// A file with one key more in this table.
fn with_key(place: &str, key: &str) -> String {
    let more = format!("{key} = 1");
    let more = more.as_str();
    let at = |where_: &str| if where_ == place { more } else { "" };
    let inline = |where_: &str| {
        if where_ == place {
            format!(", {more}")
        } else {
            String::new()
        }
    };
    format!(
        "format = 1\nname = \"Bad\"\n{}\n[body]\nlength_mm = 200.0\nwidth_mm = 120.0\n{}\n[[leg]]\nname = \"LF\"\n\
         mount = {{ x_mm = 85.0, y_mm = 55.0, yaw_deg = 45.0{} }}\n\
         links = {{ coxa_mm = 31.0, femur_mm = 67.0, tibia_mm = 104.0{} }}\n{}\n[leg.coxa]\n\
         zero_us = {{ value = 1500.0, at = 2026-03-14T10:22:05Z, by = \"marks\"{} }}\n{}\n[leg.femur]\n[leg.tibia]\n",
        at("the top of the file"),
        at("body"),
        inline("leg LF mount"),
        inline("leg LF links"),
        at("leg LF"),
        inline("LF coxa zero_us"),
        at("LF coxa"),
    )
}

#[test]
fn an_unknown_key_is_answered_with_all_keys_of_its_table_and_the_one_that_is_nearly_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("odd.toml");
    let ask = |place: &str, key: &str| {
        let text = with_key(place, key);
        std::fs::write(&file, &text).expect("written");
        let output = hornset(&["check", "--json", file.to_str().expect("plain")]);
        let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let findings = json[0]["findings"].as_array().expect("a list").clone();
        let found = findings.iter().find(|it| it["fault"] == "unknown-key");
        let found = found
            .unwrap_or_else(|| panic!("{key} is known in {text}"))
            .clone();
        assert_eq!(found["place"], place, "{text}");
        found
    };
    let mut misspelt = 0;
    for (place, keys) in KEYS {
        let found = ask(place, "qqq");
        let list = found["expected"].as_str().expect("text");
        let list = list.strip_prefix("one of ").expect("a list");
        let list: BTreeSet<&str> = list.split(", ").collect();
        assert_eq!(list, keys.iter().copied().collect(), "{place}");
        let remedy = found["remedy"].as_str().expect("text");
        assert!(!remedy.contains("Did you mean"), "{place}: {remedy}");
        let written = with_key(place, "qqq");
        for key in *keys {
            // A key that stands there already was not meant.
            if written.contains(&format!("{key} = ")) || written.contains(&format!("{key}]")) {
                continue;
            }
            misspelt += 1;
            let mut short = key.to_string();
            short.remove(1);
            let found = ask(place, &short);
            let remedy = found["remedy"].as_str().expect("text");
            let meant = remedy.starts_with(&format!("Did you mean {key}? "));
            assert!(meant, "{place} {short}: {remedy}");
        }
    }
    assert!(misspelt >= 15, "{misspelt}");
}

#[test]
fn good_files_check_and_a_file_that_is_not_there_has_another_code() {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations");
    let mut count = 0;
    for entry in std::fs::read_dir(examples).expect("the folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|end| end == "toml") {
            let output = hornset(&["check", path.to_str().expect("plain")]);
            assert_eq!(output.status.code(), Some(0), "{path:?}");
            count += 1;
        }
    }
    assert!(count >= 2);
    let output = hornset(&["check", "no-such-file.toml"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&output.stderr).contains("no-such-file.toml"));
}

#[test]
fn warnings_do_not_refuse_a_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("odd.toml");
    let text = hornset::calibration::MARRAM
        .replace("pin = 22\n", "pin = 13\n")
        .replace("needed_deg = [-50.0, 60.0]", "needed_deg = [-50.0, 74.0]");
    std::fs::write(&file, text).expect("written");
    let output = hornset(&["check", "--json", file.to_str().expect("plain")]);
    assert_eq!(output.status.code(), Some(0));
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let findings = json[0]["findings"].as_array().expect("a list");
    assert_eq!(findings[0]["fault"], "light-pin");
    // (2231 - 1487.5) / 10.62 = 70.0, so 74 is 4.0 short.
    assert_eq!(findings[1]["fault"], "needed-short");
    assert!(
        findings[1]["found"]
            .as_str()
            .expect("text")
            .contains("short 4.0°")
    );
    assert!(findings.iter().all(|it| it["severity"] == "warning"));
}

/// Any text gives a robot or an error with its place, never a panic; and what is read can be changed and read again.
#[test]
fn mutated_files_are_read_or_refused_and_never_panic() {
    use hornset::calibration::{Change, JointKind, JointRef, MARRAM, file, read_bytes};
    use hornset::units::Pin;
    use rand::{RngExt, SeedableRng};
    let at = JointRef {
        leg: 0,
        kind: JointKind::Tibia,
    };
    let seeds: Vec<Vec<u8>> = std::fs::read_dir(folder())
        .expect("the folder")
        .map(|entry| std::fs::read(entry.expect("an entry").path()).expect("bytes"))
        .collect();
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
    let (mut good, mut bad) = (0, 0);
    for round in 0..700 {
        let mut bytes = match round % 2 {
            0 => seeds[round / 2 % seeds.len()].clone(),
            _ => MARRAM.as_bytes().to_vec(),
        };
        for _ in 0..rng.random_range(1..4) {
            if bytes.is_empty() {
                break;
            }
            let place = rng.random_range(0..bytes.len());
            match rng.random_range(0..8) {
                // A digit for a digit, a letter in a remark: many files stay good.
                4.. => {
                    if bytes[place].is_ascii_digit() {
                        bytes[place] = b'0' + rng.random_range(0..10u8);
                    }
                }
                0 => bytes[place] = rng.random(),
                1 => drop(bytes.remove(place)),
                2 => {
                    let marks = b"[]{}\"'=.,#\\\n\r 09enai";
                    bytes.insert(place, marks[rng.random_range(0..marks.len())]);
                }
                _ => {
                    let end = (place + rng.random_range(1..60)).min(bytes.len());
                    let piece: Vec<u8> = bytes[place..end].to_vec();
                    bytes.splice(place..place, piece);
                }
            }
        }
        let reading = read_bytes(&bytes);
        match reading.robot {
            None => {
                bad += 1;
                let lines = bytes.split(|&byte| byte == b'\n').count();
                assert!(reading.findings.iter().any(|it| it.is_error()));
                for it in reading.findings {
                    assert!((1..=lines).contains(&it.line) && it.column >= 1, "{it}");
                    assert!(!it.to_string().contains(char::is_control), "{it:?}");
                }
            }
            Some(robot) if reading.format == Some(1) => {
                good += 1;
                let text = String::from_utf8(bytes).expect("it was read");
                let mut it = file::from_text(&text).expect("it was read");
                let pin = Pin::new(69).ok();
                it.record(at, &[Change::Pin(pin)]).expect("69 is free");
                assert_eq!(it.robot().joint(at).expect("there").pin, pin);
                it.record(at, &[Change::Pin(robot.joint(at).expect("there").pin)])
                    .expect("what was there before");
                assert_eq!(*it.robot(), robot);
            }
            Some(_) => good += 1,
        }
    }
    assert!(good > 50 && bad > 200, "{good} {bad}");
}
