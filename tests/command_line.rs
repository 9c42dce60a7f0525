//! What the real program says when a command line goes wrong: what was found, what was expected, what to do; once,
//! and nothing that moves a terminal's cursor.

use std::path::Path;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

fn hornset(args: &[&str], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hornset"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

/// What it says on standard error when it ends with this code, with nothing on standard output.
#[track_caller]
fn said(args: &[&str], folder: &Path, code: i32) -> String {
    let output = hornset(args, folder);
    let text = String::from_utf8(output.stderr).expect("text");
    assert_eq!(output.status.code(), Some(code), "{args:?}: {text}");
    assert_eq!(output.stdout, b"", "{args:?}");
    text
}

/// A folder with Marram of one's own in it, `bench.toml`.
fn folder() -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let text = hornset::calibration::MARRAM.replace("template = true\n", "");
    std::fs::write(folder.path().join("bench.toml"), text).expect("written");
    folder
}

/// Every command that takes a calibration file, on this one.
fn each_command(file: &str) -> [Vec<&str>; 5] {
    [
        vec!["--practice", "--file", file],
        vec!["check", file],
        vec!["ik", file, "LF", "120", "0", "-80"],
        vec!["fk", file, "LF", "0", "0", "-90"],
        vec!["export", file, "--as", "c"],
    ]
}

#[test]
#[cfg(feature = "practice")]
fn a_sheet_is_asked_for_between_the_feet_as_they_hang_and_as_far_as_they_reach() {
    let folder = folder();
    let text = said(&["--practice", "--sheet", "-100"], folder.path(), 2);
    assert!(text.contains("-100 is not in -155..=-140"), "{text}");
    let text = said(&["--port", "x", "--sheet", "-150"], folder.path(), 2);
    assert!(text.contains("cannot be used with"), "{text}");
}

#[test]
fn a_file_that_is_not_there_is_said_once_with_what_to_do() {
    let folder = folder();
    let expected = "hornset: found no file nothing, expected a calibration file. Check the name and the folder; \
                    `hornset new nothing.toml` writes the file of a new robot\n";
    for args in each_command("nothing") {
        assert_eq!(said(&args, folder.path(), 3), expected, "{args:?}");
    }
    let expected = "hornset: found no file bnech.toml, expected a calibration file. Did you mean bench.toml? \
                    If not, check the name and the folder\n";
    for args in each_command("bnech.toml") {
        assert_eq!(said(&args, folder.path(), 3), expected, "{args:?}");
    }
    // The ending was forgotten.
    let text = said(&["--file", "bench"], folder.path(), 3);
    assert!(text.contains("Did you mean bench.toml?"), "{text}");
    // A folder is no file; the cause is there once.
    for args in each_command(".") {
        let text = said(&args, folder.path(), 3);
        assert!(text.starts_with("hornset: cannot read .: "), "{text}");
        assert_eq!(text.matches("directory").count(), 1, "{text}");
    }
}

#[test]
fn a_name_cannot_move_the_cursor() {
    let folder = folder();
    let bad = "red\u{1b}[31m\u{9b}2J.toml";
    let good = std::fs::read_to_string(folder.path().join("bench.toml")).expect("text");
    let no_control = |args: &[&str]| {
        let output = hornset(args, folder.path());
        for bytes in [output.stdout, output.stderr] {
            let text = String::from_utf8(bytes).expect("text");
            let control = text.contains(|c: char| c.is_control() && c != '\n');
            assert!(!control, "{args:?}: {text:?}");
        }
    };
    let with_fit = |file: &'static str| {
        let mut all = each_command(file).to_vec();
        all.push(vec!["fit", file]);
        all
    };
    let bad: &'static str = bad;
    // It is not there; it is no good file.
    with_fit(bad).iter().for_each(|args| no_control(args));
    let text = said(&["ik", bad, "LF", "1", "2", "3"], folder.path(), 3);
    assert!(text.contains(r"red\u{1b}[31m\u{9b}2J.toml"), "{text}");
    std::fs::write(folder.path().join(bad), "format = 1\n").expect("written");
    with_fit(bad).iter().for_each(|args| no_control(args));
    std::fs::write(folder.path().join(bad), good).expect("written");
    no_control(&["check", bad]);
    no_control(&["fit", bad]);
    no_control(&["export", "bench.toml", "--as", "json", "-o", bad]);
    no_control(&["new", bad]);
    no_control(&["new", "no\u{1b}[2J/x.toml"]);
    no_control(&["--practice", "--trace", "no\u{1b}[2J/trace"]);
}

#[test]
fn a_new_file_in_a_folder_that_is_not_there_says_so() {
    let folder = folder();
    assert_eq!(
        said(&["new", "x/y.toml"], folder.path(), 3),
        "hornset: cannot save x/y.toml: found no folder x, expected one that is there. \
         Make it first, or choose another name; nothing was written\n"
    );
    assert!(!folder.path().join("x").exists());
}

#[test]
fn an_export_onto_a_file_that_is_there_names_the_way_to_overwrite_it() {
    let folder = folder();
    let target = folder.path().join("legs.h");
    std::fs::write(&target, "mine").expect("written");
    let args = ["export", "bench.toml", "--as", "c", "-o", "legs.h"];
    assert_eq!(
        said(&args, folder.path(), 3),
        "hornset: legs.h exists and was not overwritten. Choose another name, or add --replace to overwrite it\n"
    );
    assert_eq!(std::fs::read(&target).expect("there"), b"mine");
    said(&[&args[..], &["--replace"]].concat(), folder.path(), 0);
    assert_ne!(std::fs::read(&target).expect("there"), b"mine");
}

#[cfg(unix)]
#[test]
fn a_reader_that_has_enough_ends_it_without_a_word() {
    use std::os::unix::process::ExitStatusExt;

    let folder = folder();
    for args in [
        &["export", "bench.toml", "--as", "json"][..],
        &["check", "bench.toml"],
        &["fit", "bench.toml"],
        &["ik", "bench.toml", "LF", "120", "0", "-80"],
    ] {
        // A pipe of which nobody holds the other end, as after `head` has left.
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let output = Command::new(env!("CARGO_BIN_EXE_hornset"))
            .args(args)
            .current_dir(folder.path())
            .stdout(writer)
            .stderr(Stdio::piped())
            .output()
            .expect("the program runs");
        let text = String::from_utf8(output.stderr).expect("text");
        assert_eq!(text, "", "{args:?}");
        // As any program ends that leaves this signal alone (signal(7)).
        let signal = rustix::process::Signal::PIPE.as_raw();
        assert_eq!(output.status.signal(), Some(signal), "{args:?}");
    }
}

#[test]
fn the_help_names_the_exit_codes_there_are() {
    let folder = folder();
    let output = hornset(&["--help"], folder.path());
    let help = String::from_utf8(output.stdout).expect("text");
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        help.contains(
            "Exit codes: 0 done; 1 done, and the answer is no; 2 command line not understood; \
             3 a file could not be read or written; 4 the terminal or the system failed."
        ),
        "{help}"
    );
    // Without a terminal the console cannot open: the last of them.
    let text = said(&["--practice"], folder.path(), 4);
    assert!(text.contains("terminal"), "{text}");
}

#[test]
fn a_trace_is_never_written_over_a_file_that_is_there() {
    let folder = folder();
    let path = folder.path().join("bench.toml");
    let before = std::fs::read(&path).expect("there");
    for args in [
        &["--practice", "--trace", "bench.toml"][..],
        &[
            "--practice",
            "--file",
            "bench.toml",
            "--trace",
            "bench.toml",
        ],
    ] {
        assert_eq!(
            said(args, folder.path(), 3),
            "hornset: bench.toml exists and was not overwritten. Choose another name\n"
        );
        assert_eq!(std::fs::read(&path).expect("there"), before);
    }
}

#[test]
fn a_new_file_says_which_lines_are_to_be_filled_and_check_says_that_they_are_not() {
    let folder = folder();
    let made = hornset(&["new", "dune.toml"], folder.path());
    assert_eq!(made.status.code(), Some(0));
    let said = String::from_utf8(made.stderr).expect("text");
    let text = std::fs::read_to_string(folder.path().join("dune.toml")).expect("written");
    // Every number that it names is a line with that word.
    for key in ["mount", "links"] {
        let (_, after) = said.split_once(&format!("`{key}` (lines ")).expect(key);
        let (numbers, _) = after.split_once(')').expect("closed");
        let numbers: Vec<usize> = numbers
            .split(", ")
            .map(|n| n.parse().expect("a number"))
            .collect();
        assert_eq!(numbers.len(), 6, "{said}");
        for n in numbers {
            let line = text.lines().nth(n - 1).expect("a line");
            assert!(line.starts_with(&format!("{key} = ")), "{n}: {line}");
        }
    }
    let checked = |name: &str| {
        let output = hornset(&["check", name], folder.path());
        assert_eq!(output.status.code(), Some(0));
        String::from_utf8(output.stdout).expect("text")
    };
    assert!(
        checked("dune.toml").contains("still the examples of a new file"),
        "{}",
        checked("dune.toml")
    );
    let measured = text.replacen("femur_mm = 67.0", "femur_mm = 66.5", 1);
    std::fs::write(folder.path().join("dune.toml"), measured).expect("written");
    assert!(!checked("dune.toml").contains("examples"));
    // Marram is as long as the examples, and was measured.
    assert!(!checked("bench.toml").contains("examples"));
}

#[test]
fn what_an_export_lacks_is_one_line_a_leg() {
    let folder = folder();
    hornset(&["new", "dune.toml"], folder.path());
    let text = said(&["export", "dune.toml", "--as", "c"], folder.path(), 1);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 7, "{text}");
    assert!(lines[0].ends_with("Record these first:"), "{text}");
    assert_eq!(lines[1], "  LF: coxa, femur, tibia");
    assert!(lines.iter().all(|it| it.chars().count() <= 110), "{text}");
}

#[test]
fn an_export_never_replaces_the_file_that_it_is_made_from() {
    let folder = folder();
    let path = folder.path().join("bench.toml");
    let before = std::fs::read(&path).expect("there");
    std::fs::write(folder.path().join("bench.logbook"), b"").expect("written");
    let mut names = vec!["bench.toml", "./bench.toml", "bench.logbook"];
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("bench.toml", folder.path().join("other.h")).expect("linked");
        names.push("other.h");
    }
    for name in names {
        let args = ["export", "bench.toml", "--as", "c", "-o", name, "--replace"];
        let text = said(&args, folder.path(), 2);
        assert!(text.contains("is what the export is made from"), "{text}");
        assert_eq!(std::fs::read(&path).expect("there"), before);
    }
    assert_eq!(
        std::fs::read(folder.path().join("bench.logbook")).expect("there"),
        b""
    );
}

#[cfg(target_os = "linux")]
#[test]
fn nobody_listening_on_standard_error_is_no_crash() {
    let folder = folder();
    for (args, code) in [
        (vec!["new", "dune.toml"], 0),
        (vec!["check", "nothing.toml"], 3),
        (vec!["export", "dune.toml", "--as", "c"], 1),
        (vec!["ik", "bench.toml", "LF", "900", "0", "0"], 1),
    ] {
        // A device that takes nothing: every write fails.
        let full = std::fs::File::options()
            .write(true)
            .open("/dev/full")
            .expect("there");
        let status = Command::new(env!("CARGO_BIN_EXE_hornset"))
            .args(&args)
            .current_dir(folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(full)
            .status()
            .expect("the program runs");
        assert_eq!(status.code(), Some(code), "{args:?}");
    }
}
