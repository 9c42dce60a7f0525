//! The exports, by the real program and by a C compiler that is not ours.

use std::path::Path;
use std::process::{Command, Output};

use hornset::calibration::{JointKind, MARRAM};
use hornset::kinematics::Frame;
use hornset::output::{Source, urdf};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

#[path = "support/header.rs"]
mod header;

fn hornset(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hornset"))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the program runs")
}

fn text(args: &[&str]) -> String {
    let output = hornset(args);
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).expect("text")
}

#[test]
fn the_header_compiled_by_gcc_agrees_with_the_library() {
    for (calibration, points) in [(MARRAM.to_owned(), 1500), (header::bent(), 1500)] {
        let robot = header::robot(&calibration);
        let folder = tempfile::tempdir().expect("a folder");
        let mut arguments = header::write(&robot, folder.path(), points);
        arguments.push("-Wdouble-promotion".into());
        for optimise in ["-O0", "-O2"] {
            arguments.push(optimise.into());
            let program = header::compile("gcc", "gcc", &arguments, &folder.path().join("driver"));
            let output = Command::new(program).output().expect("it runs");
            assert!(output.status.success());
            header::judge(&robot, points, &output.stdout);
        }
    }
}

#[test]
fn the_header_says_where_it_comes_from_and_what_one_may_do_with_it() {
    let it = text(&["export", "calibrations/marram.toml", "--as", "c"]);
    let hex = |bytes: &[u8]| -> String {
        let digest = Sha256::digest(bytes);
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    };
    // The example of FIPS 180-4: what is compared with is the standard's digest.
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(hex(b"abc"), abc);
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/marram.toml");
    let digest = hex(&std::fs::read(file).expect("the example is there"));
    assert!(it.contains(&format!("SHA-256 of the calibration file: {digest}")));
    assert!(it.starts_with("/*\n * Marram: its calibration"));
    assert!(it.contains(concat!(
        "Exported by hornset ",
        env!("CARGO_PKG_VERSION"),
        " at 20"
    )));
    assert!(it.contains("SPDX: 0BSD") && it.contains("Permission to use, copy, modify"));
    assert!(it.contains("#define MARRAM_PIN_LF_TIBIA 24\n"));
    assert!(!it.contains('@'), "a placeholder was left");
}

#[test]
fn a_robot_that_is_not_calibrated_has_no_header_but_a_urdf_and_json() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("new.toml");
    let file = file.to_str().expect("plain");
    text(&["new", file, "--legs", "1"]);
    let output = hornset(&["export", file, "--as", "c"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty());
    let why = String::from_utf8_lossy(&output.stderr);
    assert!(
        why.contains(
            "zero_us and us_per_degree of each. Record these first:\n  LF: coxa, femur, tibia\n"
        ),
        "{why}"
    );
    assert!(text(&["export", file, "--as", "urdf"]).contains("<robot name=\"new\">"));
    let json: Value = serde_json::from_str(&text(&["export", file, "--as", "json"])).expect("JSON");
    assert_eq!(json["legs"][0]["joints"]["femur"]["zero_us"], Value::Null);
    let output = hornset(&["export", "tests/bad_files/pin-one.toml", "--as", "json"]);
    assert_eq!(output.status.code(), Some(3));
}

#[test]
fn json_holds_every_number_of_the_file() {
    let it: Value = serde_json::from_str(&text(&[
        "export",
        "calibrations/marram.toml",
        "--as",
        "json",
    ]))
    .expect("JSON");
    let file: toml::Table = MARRAM.parse().expect("TOML");
    let file: Value = serde_json::to_value(&file).expect("a value");
    let mut compared = 0;
    for (leg, theirs) in file["leg"].as_array().expect("legs").iter().enumerate() {
        let ours = &it["legs"][leg];
        assert_eq!(ours["name"], theirs["name"]);
        for part in ["mount", "links"] {
            for (key, value) in theirs[part].as_object().expect("a table") {
                assert_eq!(&ours[part][key], value);
                compared += 1;
            }
        }
        for kind in ["coxa", "femur", "tibia"] {
            for (key, value) in theirs[kind].as_object().expect("a table") {
                let ours = &ours["joints"][kind][key];
                match key.as_str() {
                    "pin" => assert_eq!(ours.as_str().expect("text"), value.to_string()),
                    _ if value.is_object() => {
                        assert_eq!(ours["value"], value["value"]);
                        assert_eq!(ours["spread"], value["spread"]);
                        assert_eq!(ours["by"], value["by"]);
                        // serde writes a TOML date as a table with one secret key.
                        let at = value["at"].as_object().and_then(|it| it.values().next());
                        assert_eq!(Some(&ours["at"]), at);
                    }
                    _ => assert_eq!(ours, value),
                }
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 6 * (3 + 4 + 3 * 10));
    assert_eq!(
        it["legs"][0]["joints"]["femur"]["allowed_us"],
        serde_json::json!([904.0, 2231.0])
    );
}

#[test]
fn an_export_goes_to_a_file_and_overwrites_none_unasked() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("marram.h");
    let path = out.to_str().expect("plain");
    let args = [
        "export",
        "calibrations/marram.toml",
        "--as",
        "c",
        "-o",
        path,
    ];
    assert_eq!(text(&args), "");
    let first = std::fs::read_to_string(&out).expect("written");
    assert!(first.contains("#endif"));
    std::fs::write(&out, "mine").expect("written");
    let output = hornset(&args);
    assert_eq!(output.status.code(), Some(3));
    assert_eq!(std::fs::read_to_string(&out).expect("there"), "mine");
    let mut args = args.to_vec();
    args.push("--replace");
    text(&args);
    assert_ne!(std::fs::read_to_string(&out).expect("there"), "mine");
    assert!(Path::new(path).exists());
}

/// What other libraries are given by `tests/urdf_check.py`: URDFs, 1,000 random legal poses of each robot, and our feet.
#[test]
fn poses_for_other_libraries() {
    let own = tempfile::tempdir().expect("a folder");
    let folder =
        std::env::var_os("HORNSET_TEST_POSES").map_or(own.path().into(), std::path::PathBuf::from);
    let one_leg = include_str!("../calibrations/one-leg.toml");
    for (file, calibration) in [
        ("marram", MARRAM.to_owned()),
        ("bent", header::bent()),
        ("one-leg", one_leg.to_owned()),
    ] {
        let robot = header::robot(&calibration);
        let source = Source {
            robot: &robot,
            digest: "0123abcd",
            at: "2026-03-21T09:00:00Z",
        };
        std::fs::write(folder.join(format!("{file}.urdf")), urdf::write(&source)).expect("written");
        let mut rng = ChaCha8Rng::seed_from_u64(20_260_321);
        let mut poses = Vec::new();
        for _ in 0..1000 {
            let mut pose = serde_json::Map::new();
            for leg in robot.legs() {
                let data = robot.leg_data(leg);
                let angles = JointKind::ALL.map(|kind| {
                    let (low, high) = data.joint(kind).allowed_deg().expect("calibrated");
                    rng.random_range(low..high)
                });
                robot.pulses_for_angles(leg, angles).expect("a legal pose");
                let foot = robot.foot(leg, angles, Frame::Body);
                pose.insert(
                    data.name.clone(),
                    json!({ "angles_deg": angles, "foot_mm": foot }),
                );
            }
            poses.push(Value::Object(pose));
        }
        let limits: serde_json::Map<String, Value> = robot
            .legs()
            .map(|leg| {
                let data = robot.leg_data(leg);
                let all =
                    JointKind::ALL.map(|kind| data.joint(kind).allowed_deg().expect("calibrated"));
                (data.name.clone(), json!(all))
            })
            .collect();
        let all = json!({ "limits_deg": limits, "poses": poses });
        std::fs::write(folder.join(format!("{file}.json")), all.to_string()).expect("written");
    }
}
