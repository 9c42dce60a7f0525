//! Calibration files on a real disk: what a save changes, and what it never does.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use hornset::calibration::file::{self, Claim, FileError};
use hornset::calibration::{
    Change, Fault, JointKind, JointRef, Loaded, MARRAM, Method, Recorded, read,
};
use hornset::units::{Pin, Pulse};
use tempfile::TempDir;

const FEMUR: JointRef = JointRef {
    leg: 0,
    kind: JointKind::Femur,
};

fn recorded(value: f64) -> Option<Recorded> {
    Some(Recorded {
        value,
        spread: None,
        at: "2026-04-02T08:15:00+02:00".into(),
        by: Method::Jog,
    })
}

/// A folder with Marram of one's own in it: no template, and a remark by its builder.
fn own() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    let text = MARRAM
        .replace("template = true\n", "")
        .replace("servo = \"07\"", "servo = \"07\"   # squeaks");
    fs::write(&path, text).expect("written");
    (folder, path)
}

fn set_zero(loaded: &mut Loaded, value: f64) {
    loaded
        .record(FEMUR, &[Change::Zero(recorded(value))])
        .expect("a good change");
}

#[test]
fn a_save_changes_the_recorded_values_and_no_other_byte() {
    for ending in ["\n", "\r\n"] {
        let (_folder, path) = own();
        let before = fs::read_to_string(&path)
            .expect("text")
            .replace('\n', ending);
        fs::write(&path, &before).expect("written");
        let mut loaded = file::load(&path).expect("a good file");
        assert!(!loaded.is_dirty());
        set_zero(&mut loaded, 1491.5);
        let span = (Pulse::from_halves(1820), Pulse::from_halves(4441));
        loaded
            .record(
                FEMUR,
                &[Change::Guard(Some(span)), Change::Pin(Some(Pin::LAST))],
            )
            .expect("a good change");
        assert!(loaded.is_dirty());
        loaded.save().expect("saved");
        assert!(!loaded.is_dirty());
        let after = fs::read_to_string(&path).expect("text");
        let expected = before
            .replace(
                "zero_us = { value = 1487.5, spread = 4.0, at = 2026-03-14T13:15:06Z, by = \"marks\" }",
                "zero_us = { value = 1491.5, at = 2026-04-02T08:15:00+02:00, by = \"jog\" }",
            )
            .replace("guard_us = [895.0, 2240.0]", "guard_us = [910.0, 2220.5]")
            .replace("pin = 23", "pin = \"A15\"");
        assert_ne!(expected, before);
        assert_eq!(after, expected);
        assert!(after.contains("# squeaks"));
        let again = file::load(&path).expect("still good");
        assert_eq!(again.robot(), loaded.robot());
    }
}

#[test]
fn undo_takes_back_the_last_change_and_says_which() {
    let (_folder, path) = own();
    let mut loaded = file::load(&path).expect("a good file");
    let before = loaded.text().to_owned();
    set_zero(&mut loaded, 1491.5);
    loaded
        .record(FEMUR, &[Change::Play(None)])
        .expect("a good change");
    assert_eq!(loaded.undo().as_deref(), Some("LF femur play_deg"));
    assert_eq!(loaded.undo().as_deref(), Some("LF femur zero_us"));
    assert_eq!(loaded.undo(), None);
    assert_eq!(loaded.text(), before);
    assert!(!loaded.is_dirty());
}

#[test]
fn a_change_that_would_make_a_bad_file_is_refused_and_leaves_no_trace() {
    let (_folder, path) = own();
    let mut loaded = file::load(&path).expect("a good file");
    let before = loaded.text().to_owned();
    let bad = [
        (Change::NearEnd(recorded(950.0)), Fault::LimitsOutsideEnds),
        (Change::Scale(recorded(0.0)), Fault::ZeroScale),
        (Change::Pin(Pin::new(22).ok()), Fault::DuplicatePin),
        (Change::Zero(recorded(9999.0)), Fault::OutOfRange),
        (Change::Servo(Some("".into())), Fault::BadName),
    ];
    for (change, fault) in bad {
        match loaded.record(FEMUR, &[change]) {
            Err(FileError::BadChange(findings)) => assert_eq!(findings[0].fault, fault),
            other => panic!("{other:?}"),
        }
    }
    let nan = loaded.record(FEMUR, &[Change::Zero(recorded(f64::NAN))]);
    assert!(matches!(nan, Err(FileError::NotFinite("zero_us"))));
    let mut when = recorded(1500.0).expect("there");
    when.at = "yesterday".into();
    let when = loaded.record(FEMUR, &[Change::Zero(Some(when))]);
    assert!(matches!(when, Err(FileError::BadChange(it)) if it[0].fault == Fault::BadTime));
    assert_eq!(loaded.text(), before);
    // The same end is fine when the limits move with it, in one change.
    let span = (Pulse::from_halves(1980), Pulse::from_halves(4400));
    loaded
        .record(
            FEMUR,
            &[Change::NearEnd(recorded(950.0)), Change::Limits(Some(span))],
        )
        .expect("both together are good");
}

#[test]
fn a_file_changed_by_somebody_else_is_never_overwritten() {
    let (_folder, path) = own();
    let mut loaded = file::load(&path).expect("a good file");
    set_zero(&mut loaded, 1491.5);
    let theirs = format!("{}# edited meanwhile\n", loaded.text());
    fs::write(&path, &theirs).expect("written");
    assert!(matches!(loaded.save(), Err(FileError::ChangedOnDisk(_))));
    assert_eq!(fs::read_to_string(&path).expect("text"), theirs);
    fs::remove_file(&path).expect("removed");
    assert!(matches!(loaded.save(), Err(FileError::ChangedOnDisk(_))));
    assert!(!path.exists() && loaded.is_dirty());
}

#[test]
fn the_second_console_only_reads_until_the_first_has_left() {
    let (folder, path) = own();
    let first = file::load(&path).expect("a good file");
    let mut second = file::load(&path).expect("a good file");
    assert!(!first.is_read_only() && second.is_read_only());
    set_zero(&mut second, 1491.5);
    assert!(matches!(second.save(), Err(FileError::ReadOnly(_))));
    drop(first);
    let third = file::load(&path).expect("a good file");
    assert!(!third.is_read_only());
    drop((second, third));
    let left: Vec<_> = fs::read_dir(folder.path()).expect("the folder").collect();
    assert_eq!(left.len(), 1, "the lock file is gone: {left:?}");
}

#[test]
fn the_lock_is_kept_through_saves() {
    let (_folder, path) = own();
    let mut first = file::load(&path).expect("a good file");
    set_zero(&mut first, 1491.5);
    first.save().expect("saved");
    assert!(file::load(&path).expect("a good file").is_read_only());
}

#[test]
fn an_example_asks_for_a_name_and_no_file_is_overwritten_unasked() {
    let (folder, taken) = own();
    let before = fs::read(&taken).expect("bytes");
    let mut example = file::from_text(MARRAM).expect("a good text");
    set_zero(&mut example, 1491.5);
    assert!(example.needs_name());
    assert!(matches!(example.save(), Err(FileError::NoName(_))));
    let onto = example.save_as(&taken, Some("Dune"));
    assert!(matches!(onto, Err(FileError::Exists(_))));
    assert_eq!(fs::read(&taken).expect("bytes"), before);
    let path = folder.path().join("dune.toml");
    example.save_as(&path, Some("Dune")).expect("saved");
    assert_eq!(example.path(), Some(path.as_path()));
    assert!(!example.needs_name() && !example.robot().template);
    let text = fs::read_to_string(&path).expect("text");
    assert!(text.contains("name = \"Dune\"\n") && !text.contains("template"));
    set_zero(&mut example, 1492.0);
    example.save().expect("from now on it has a name");
    // Asked and answered yes, it may; but not over what another console has open.
    let mut another = file::from_text(MARRAM).expect("a good text");
    let open = file::load(&taken).expect("a good file");
    assert!(matches!(Claim::take(&taken), Err(FileError::ReadOnly(_))));
    assert_eq!(fs::read(&taken).expect("bytes"), before);
    drop(open);
    let claim = Claim::take(&taken).expect("free");
    another.save_over(claim, Some("Shore")).expect("saved");
    assert_eq!(fs::read_to_string(&taken).expect("text"), another.text());
    assert_eq!(another.path(), Some(taken.as_path()));
    // The same example, opened as a file, asks too.
    let shipped = folder.path().join("shipped.toml");
    fs::write(&shipped, MARRAM).expect("written");
    let mut shipped = file::load(&shipped).expect("a good file");
    set_zero(&mut shipped, 1491.5);
    assert!(matches!(shipped.save(), Err(FileError::NoName(_))));
}

#[test]
fn a_newer_format_is_refused_and_left_as_it_is() {
    let (_folder, path) = own();
    let newer = fs::read_to_string(&path)
        .expect("text")
        .replace("format = 1", "format = 2\nwings = 2");
    fs::write(&path, &newer).expect("written");
    match file::load(&path) {
        Err(FileError::Refused { findings, .. }) => {
            assert_eq!(findings.len(), 1);
            assert_eq!(findings[0].fault, Fault::Format);
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(fs::read_to_string(&path).expect("text"), newer);
}

#[test]
fn an_older_format_is_read_and_a_copy_is_kept_beside_it() {
    let (folder, path) = own();
    let older = "# from last year\nformat = 0\nrecorded_at = 2025-11-02T12:00:00Z # all of it\nname = \"Old\"\n\n\
                 [[leg]]\nname = \"LF\"\nmount = { x_mm = 0.0, y_mm = 0.0, yaw_deg = 0.0 }\n\
                 links = { coxa_mm = 31.0, femur_mm = 67.0, tibia_mm = 104.0 }\n\n\
                 [leg.coxa]\npin = 22\n\n[leg.femur]\npin = 23\nzero_us = 1487.5 # by eye\n\n[leg.tibia]\n";
    fs::write(&path, older).expect("written");
    let mut loaded = file::load(&path).expect("it is read");
    let zero = loaded.robot().joint(FEMUR).expect("there").zero.clone();
    let zero = zero.expect("known");
    assert_eq!(
        (zero.value, zero.at.as_str(), zero.by),
        (1487.5, "2025-11-02T12:00:00Z", Method::Carried)
    );
    assert!(!loaded.is_dirty());
    loaded
        .record(FEMUR, &[Change::Scale(recorded(10.62))])
        .expect("a good change");
    assert!(loaded.is_dirty());
    loaded.save().expect("saved");
    let text = fs::read_to_string(&path).expect("text");
    assert!(text.starts_with("# from last year\nformat = 1\n"), "{text}");
    assert!(text.contains(
        "zero_us = { value = 1487.5, at = 2025-11-02T12:00:00Z, by = \"carried\" } # by eye\n"
    ));
    assert!(!text.contains("recorded_at"));
    assert!(read(&text).robot.is_some());
    let kept = folder.path().join("mine.format0.toml");
    assert_eq!(fs::read_to_string(kept).expect("the copy"), older);
}

/// Run again as another process by the tests below; by itself it saves ten times.
#[test]
fn saving_again_and_again() {
    let job = std::env::var("HORNSET_TEST_SAVING").unwrap_or_default();
    let (rounds, path, _folder) = match job.split_once(' ') {
        Some((rounds, path)) => (rounds.parse().expect("a number"), path.into(), None),
        None => {
            let (folder, path) = own();
            (10, path, Some(folder))
        }
    };
    let path: PathBuf = path;
    let mut loaded = file::load(&path).expect("a good file");
    for round in 0..rounds {
        set_zero(&mut loaded, 1400.0 + f64::from(round % 200));
        if let Err(error) = loaded.save() {
            println!("save failed: {error}");
            assert!(!job.is_empty(), "{error}");
            return;
        }
    }
    assert!(file::inspect(&path).expect("readable").robot.is_some());
}

fn saver(rounds: u32, path: &Path) -> Command {
    let mut command = Command::new(std::env::current_exe().expect("this program"));
    command
        .args(["--exact", "saving_again_and_again", "--nocapture"])
        .env(
            "HORNSET_TEST_SAVING",
            format!("{rounds} {}", path.display()),
        )
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::null());
    command
}

#[test]
fn killed_at_any_moment_a_save_leaves_the_old_file_or_the_new_one_whole() {
    let (_folder, path) = own();
    let lines = fs::read_to_string(&path).expect("text").lines().count();
    for round in 0..25u64 {
        let before = fs::read(&path).expect("bytes");
        let mut child = saver(1_000_000, &path).spawn().expect("it runs");
        // Until a save was seen, then a different moment each time.
        let deadline = std::time::Instant::now() + Duration::from_secs(20);
        while fs::read(&path).expect("always there") == before {
            assert!(std::time::Instant::now() < deadline, "it never saved");
            std::thread::sleep(Duration::from_millis(1));
        }
        std::thread::sleep(Duration::from_micros(round * 373 % 5000));
        child.kill().expect("it was running");
        child.wait().expect("it has ended");
        let after = fs::read_to_string(&path).expect("text");
        let reading = read(&after);
        assert!(reading.robot.is_some(), "{:?}", reading.findings);
        assert_eq!(after.lines().count(), lines);
    }
}

/// What other readers are given by `tests/toml10.py`: files with every kind of value written by us.
#[test]
fn samples_for_other_readers() {
    let own = tempfile::tempdir().expect("a folder");
    let folder = std::env::var_os("HORNSET_TEST_SAMPLES").map_or(own.path().into(), PathBuf::from);
    for (name, start) in [
        ("marram", MARRAM.to_owned()),
        ("crlf", MARRAM.replace('\n', "\r\n")),
    ] {
        let mut it = file::from_text(&start).expect("a good text");
        for value in [-0.0, 1e-7, 1_234.567_89, -1_999.0, 4_999.999_96] {
            let mut zero = recorded(value).expect("there");
            zero.spread = Some(value.abs() / 100.0);
            zero.by = Method::Touches;
            it.record(FEMUR, &[Change::Zero(Some(zero))]).expect("good");
            let path = folder.join(format!("{name}-{value}.toml"));
            let _ = fs::remove_file(&path);
            it.record(
                FEMUR,
                &[
                    Change::Servo(Some("ü'7".into())),
                    Change::Pin(Some(Pin::LAST)),
                    Change::Needed(Some((-1.0 / 3.0, 1.0 / 3.0))),
                ],
            )
            .expect("good");
            let mut copy = file::from_text(it.text()).expect("good");
            copy.save_as(&path, Some("Say \"hi\" µ")).expect("saved");
            let again = file::load(&path).expect("we read it ourselves");
            let zero = again.robot().joint(FEMUR).expect("there").zero.clone();
            assert!((zero.expect("known").value - value).abs() <= 0.5e-4);
        }
    }
}

#[cfg(unix)]
mod unix {
    use super::*;
    use std::os::unix::fs::{PermissionsExt, symlink};

    #[test]
    fn a_symbolic_link_stays_one_and_its_target_is_saved() {
        let (folder, path) = own();
        let elsewhere = folder.path().join("notebook");
        fs::create_dir(&elsewhere).expect("a folder");
        let link = elsewhere.join("link.toml");
        symlink("../mine.toml", &link).expect("a link");
        let mut loaded = file::load(&link).expect("a good file");
        assert!(file::load(&path).expect("a good file").is_read_only());
        set_zero(&mut loaded, 1491.5);
        loaded.save().expect("saved");
        let kind = fs::symlink_metadata(&link).expect("there").file_type();
        assert!(kind.is_symlink());
        let text = fs::read_to_string(&path).expect("text");
        assert_eq!(text, loaded.text());
    }

    #[test]
    fn permissions_stay_and_a_new_file_is_an_ordinary_one() {
        let (folder, path) = own();
        for mode in [0o640, 0o664, 0o600] {
            fs::set_permissions(&path, PermissionsExt::from_mode(mode)).expect("set");
            let mut loaded = file::load(&path).expect("a good file");
            set_zero(&mut loaded, 1400.0 + f64::from(mode));
            loaded.save().expect("saved");
            let now = fs::metadata(&path).expect("there").permissions().mode();
            assert_eq!(now & 0o777, mode);
        }
        let plain = folder.path().join("plain");
        fs::write(&plain, "").expect("written");
        let new = folder.path().join("new.toml");
        file::create(&new, b"x").expect("created");
        let mode = |path: &Path| fs::metadata(path).expect("there").permissions().mode();
        assert_eq!(mode(&new), mode(&plain));
    }

    /// This program, bound by permissions even when the tests run as root.
    fn without_rights() -> Command {
        let program = std::env::current_exe().expect("this program");
        if !rustix::process::geteuid().is_root() {
            return Command::new(program);
        }
        // Root without any capability is an ordinary owner of files (capabilities(7); setpriv is part of util-linux).
        let mut command = Command::new("setpriv");
        command
            .args(["--inh-caps=-all", "--bounding-set=-all"])
            .arg(program);
        command
    }

    #[test]
    fn a_folder_that_cannot_be_written_to_is_an_error_and_the_file_stays() {
        let (folder, path) = own();
        let before = fs::read(&path).expect("bytes");
        fs::set_permissions(folder.path(), PermissionsExt::from_mode(0o555)).expect("set");
        let mut command = without_rights();
        command
            .args(["--exact", "saving_again_and_again", "--nocapture"])
            .env("HORNSET_TEST_SAVING", format!("1 {}", path.display()))
            .current_dir("/");
        let output = command.output().expect("it runs");
        fs::set_permissions(folder.path(), PermissionsExt::from_mode(0o755)).expect("set");
        let text = String::from_utf8_lossy(&output.stdout);
        assert!(text.contains("save failed: cannot save"), "{text}");
        assert!(text.contains("mine.toml: Permission denied"), "{text}");
        assert_eq!(fs::read(&path).expect("bytes"), before);
        let left = fs::read_dir(folder.path()).expect("the folder").count();
        assert_eq!(left, 1, "nothing is left behind");
    }
}
