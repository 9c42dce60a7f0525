//! `hornset ik` and `hornset fk`, the real program: their JSON, their exit codes, and negative numbers without tricks.

use std::process::{Command, Output};

use serde_json::Value;

fn hornset(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hornset"))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the program runs")
}

fn json(args: &[&str], code: i32) -> Value {
    let output = hornset(args);
    assert_eq!(output.status.code(), Some(code), "{args:?} {output:?}");
    serde_json::from_slice(&output.stdout).expect("JSON alone on standard output")
}

const MARRAM: &str = "calibrations/marram.toml";

fn numbers(it: &Value) -> [f64; 3] {
    let list = it.as_array().expect("a list");
    assert_eq!(list.len(), 3);
    [0, 1, 2].map(|i| list[i].as_f64().expect("a number"))
}

#[test]
fn fk_prints_foot_and_pulses() {
    let it = json(&["fk", MARRAM, "LF", "-4", "11.8", "-71.0", "--json"], 0);
    assert_eq!((&it["leg"], &it["frame"]), (&"LF".into(), &"leg".into()));
    // The screens' worked pose: 149.5 out, 10.4 to the side, 75.6 down, rounded there.
    let foot = numbers(&it["foot_mm"]);
    for (ours, theirs) in foot.into_iter().zip([149.5, -10.4, -75.6]) {
        assert!((ours - theirs).abs() < 0.1, "{foot:?}");
    }
    // zero + scale · angle, from the file.
    let pulses = numbers(&it["pulses_us"]);
    assert!((pulses[1] - (1487.5 + 10.62 * 11.8)).abs() < 1e-9);
    assert!((pulses[2] - (2290.0 - 10.9 * 71.0)).abs() < 1e-9);
    assert_eq!(it["within_limits"], true);
    let it = json(&["fk", MARRAM, "LF", "-4", "11.8", "-10", "--json"], 0);
    assert_eq!(it["within_limits"], false);
    // Mount LF: 85, 55, 45°.
    let it = json(
        &[
            "fk", MARRAM, "LF", "0", "0", "-90", "--frame", "body", "--json",
        ],
        0,
    );
    let half = 0.5f64.sqrt();
    let body = numbers(&it["foot_mm"]);
    let by_hand = [85.0 + 98.0 * half, 55.0 + 98.0 * half, -104.0];
    for (ours, theirs) in body.into_iter().zip(by_hand) {
        assert!((ours - theirs).abs() < 1e-9, "{body:?}");
    }
}

#[test]
fn ik_prints_both_knees_and_fk_returns_to_the_point() {
    for frame in ["leg", "body"] {
        let point = match frame {
            "leg" => ["120", "-30.5", "-80"],
            _ => ["150.5", "-130", "-80"],
        };
        let args = [
            "ik", MARRAM, "RF", point[0], point[1], point[2], "--json", "--frame", frame,
        ];
        let it = json(&args, 0);
        assert_eq!(it["frame"], frame);
        assert_eq!(it.get("reason"), None);
        let solutions = it["solutions"].as_array().expect("a list");
        assert_eq!(solutions.len(), 2);
        assert_eq!(solutions[0]["knee"], "up");
        assert_eq!(solutions[0]["within_limits"], true);
        assert_eq!(solutions[1]["knee"], "down");
        assert_eq!(solutions[1]["within_limits"], false);
        for solution in solutions {
            let angles = numbers(&solution["angles_deg"]).map(|it| it.to_string());
            let back = json(
                &[
                    "fk", MARRAM, "RF", &angles[0], &angles[1], &angles[2], "--json", "--frame",
                    frame,
                ],
                0,
            );
            assert_eq!(back["within_limits"], solution["within_limits"]);
            for (ours, typed) in numbers(&back["foot_mm"]).into_iter().zip(point) {
                assert!((ours - typed.parse::<f64>().expect("a number")).abs() < 1e-9);
            }
            for (a, b) in numbers(&back["pulses_us"])
                .into_iter()
                .zip(numbers(&solution["pulses_us"]))
            {
                assert!((a - b).abs() < 1e-9);
            }
        }
    }
}

#[test]
fn ik_says_why_and_by_how_much_and_fails() {
    let it = json(&["ik", MARRAM, "LF", "210", "0", "0", "--json"], 1);
    assert_eq!(it["reason"], "too-far");
    assert!((it["amount_mm"].as_f64().expect("mm") - 8.0).abs() < 1e-9);
    let it = json(&["ik", MARRAM, "LF", "31", "0", "0", "--json"], 1);
    assert_eq!(it["reason"], "too-near");
    assert!((it["amount_mm"].as_f64().expect("mm") - 37.0).abs() < 1e-9);
    let it = json(&["ik", MARRAM, "LF", "0", "0", "-60", "--json"], 1);
    assert_eq!(it["reason"], "on-axis");
    assert_eq!(it["amount_mm"], 0.0);
    // Nearly straight: the tibia's limit at 1876 µs is (1876 − 2290) / 10.9 = −37.98°.
    let it = json(&["ik", MARRAM, "LF", "200", "0", "0", "--json"], 1);
    assert_eq!(
        (&it["reason"], &it["joint"]),
        (&"limit".into(), &"tibia".into())
    );
    let tibia = numbers(&it["solutions"][0]["angles_deg"])[2];
    let amount = it["amount_deg"].as_f64().expect("degrees");
    assert!((tibia - (1876.0 - 2290.0) / 10.9 - amount).abs() < 1e-9);
    let text = hornset(&["ik", MARRAM, "LF", "210", "0", "0"]);
    assert_eq!(text.status.code(), Some(1));
    assert!(text.stdout.is_empty());
    assert!(String::from_utf8_lossy(&text.stderr).contains("8.00 mm too far"));
}

#[test]
fn options_may_stand_anywhere_and_numbers_be_written_in_any_way() {
    let first = json(&["ik", MARRAM, "--json", "LF", "120", "-.5", "-8e1"], 0);
    let last = json(&["ik", MARRAM, "LF", "1.2e2", "-0.5", "-80.0", "--json"], 0);
    let between = json(&["ik", MARRAM, "LF", "120", "--json", "-0.5", "-80"], 0);
    assert_eq!(first, last);
    assert_eq!(first, between);
    for bad in ["nan", "inf", "-inf", "x", "-x", "1,5"] {
        let output = hornset(&["ik", MARRAM, "LF", "120", bad, "-80"]);
        assert_eq!(output.status.code(), Some(2), "{bad}");
    }
    assert_eq!(
        hornset(&["fk", MARRAM, "XY", "0", "0", "0"]).status.code(),
        Some(2)
    );
    assert_eq!(
        hornset(&["fk", "nowhere.toml", "LF", "0", "0", "0"])
            .status
            .code(),
        Some(3)
    );
}

#[test]
fn a_leg_that_is_not_calibrated_has_angles_and_no_pulses() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("new.toml");
    let file = file.to_str().expect("plain");
    assert!(hornset(&["new", file]).status.success());
    let it = json(&["fk", file, "LM", "0", "30", "-90", "--json"], 0);
    assert_eq!(it["pulses_us"], Value::Null);
    assert_eq!(it["within_limits"], false);
    assert!(it["missing"].as_str().expect("text").contains("zero_us"));
    let it = json(&["ik", file, "LM", "120", "0", "-80", "--json"], 1);
    assert_eq!(it["solutions"].as_array().expect("a list").len(), 2);
    assert_eq!(it["solutions"][0]["pulses_us"], Value::Null);
    assert!(it["missing"].as_str().expect("text").contains("zero_us"));
}

const ONE_LEG: &str = "calibrations/one-leg.toml";

#[test]
fn a_nominal_scale_is_marked_beside_its_pulses() {
    let it = json(&["fk", ONE_LEG, "LF", "0", "10", "-80", "--json"], 0);
    assert_eq!(it["nominal"], serde_json::json!(["tibia"]));
    let it = json(&["ik", ONE_LEG, "LF", "120", "0", "-80", "--json"], 0);
    for solution in it["solutions"].as_array().expect("a list") {
        assert_eq!(solution["nominal"], serde_json::json!(["tibia"]));
    }
    for args in [
        &["fk", ONE_LEG, "LF", "0", "10", "-80"][..],
        &["ik", ONE_LEG, "LF", "120", "0", "-80"],
    ] {
        let output = hornset(args);
        let text = String::from_utf8(output.stdout).expect("text");
        let with_pulses = text.lines().filter(|line| line.contains("µs"));
        assert!(
            with_pulses.clone().count() >= 1
                && with_pulses.clone().all(|l| l.ends_with("  nominal: tibia")),
            "{text}"
        );
    }
    // Where everything was measured there is no such word.
    let it = json(&["fk", MARRAM, "LF", "0", "10", "-80", "--json"], 0);
    assert_eq!(it["nominal"], serde_json::json!([]));
    let output = hornset(&["fk", MARRAM, "LF", "0", "10", "-80"]);
    assert!(!String::from_utf8_lossy(&output.stdout).contains("nominal"));
}

#[test]
fn check_counts_what_was_measured_and_names_what_is_nominal() {
    let output = hornset(&["check", ONE_LEG]);
    assert_eq!(
        String::from_utf8_lossy(&output.stdout),
        "calibrations/one-leg.toml: good: One leg, 1 leg, 2 of 3 joints calibrated; \
         µs/degree nominal, typed and not measured: LF tibia\n"
    );
    let it = json(&["check", ONE_LEG, "--json"], 0);
    assert_eq!(
        it[0]["calibrated"],
        serde_json::json!(["LF coxa", "LF femur"])
    );
    assert_eq!(it[0]["nominal"], serde_json::json!(["LF tibia"]));
    let it = json(&["check", MARRAM, "--json"], 0);
    assert_eq!(it[0]["calibrated"].as_array().map(Vec::len), Some(18));
    assert_eq!(it[0]["nominal"], serde_json::json!([]));
}

#[test]
fn every_export_says_what_is_nominal() {
    let exported = |file: &str, form: &str| {
        let output = hornset(&["export", file, "--as", form]);
        assert_eq!(output.status.code(), Some(0));
        let text = |bytes| String::from_utf8(bytes).expect("text");
        (text(output.stdout), text(output.stderr))
    };
    let note = "Nominal, typed and not measured: the microseconds per degree of LF tibia.";
    for form in ["c", "urdf"] {
        let (text, said) = exported(ONE_LEG, form);
        assert!(text.contains(note), "{text}");
        assert_eq!(said, format!("hornset: {note}\n"));
        let (text, said) = exported(MARRAM, form);
        assert!(!text.contains("ominal") && said.is_empty(), "{text}{said}");
    }
    let (text, said) = exported(ONE_LEG, "json");
    assert_eq!(said, format!("hornset: {note}\n"));
    let it: Value = serde_json::from_str(&text).expect("JSON");
    let nominal =
        ["coxa", "femur", "tibia"].map(|it_is| &it["legs"][0]["joints"][it_is]["nominal"]);
    assert_eq!(nominal, [&false.into(), &false.into(), &Value::Bool(true)]);
}

#[test]
fn what_ik_says_is_short() {
    let said = |point: [&str; 3]| {
        let output = hornset(&["ik", MARRAM, "LF", point[0], point[1], point[2]]);
        let text = String::from_utf8(output.stderr).expect("text");
        (output.status.code(), text)
    };
    let (code, text) = said(["0", "0", "-60"]);
    assert_eq!(code, Some(1));
    assert!(
        text.contains("on the coxa axis, 0 mm from its middle"),
        "{text}"
    );
    let (_, text) = said(["3e-8", "0", "-60"]);
    assert!(
        text.contains("on the coxa axis, 3e-8 mm from its middle"),
        "{text}"
    );
    let (_, text) = said(["9999", "0", "0"]);
    assert!(text.contains("9797.00 mm too far"), "{text}");
    for huge in ["1e300", "10001", "-1e9"] {
        let (code, text) = said([huge, "0", "0"]);
        assert_eq!(code, Some(2));
        assert!(
            text.contains("expected a number from -10000 to 10000"),
            "{text}"
        );
        assert!(text.lines().all(|line| line.len() < 120), "{text}");
    }
}
