//! The real console in a pseudo-terminal, on the practice robot: from the first screen to a saved file, and how it ends.
#![cfg(all(unix, feature = "practice"))]

#[path = "support/pty.rs"]
mod pty;

use std::path::Path;
use std::process::Command;

use pty::{Console, folder, sent, text_of, until_file};
use rustix::process::Signal;

/// Chooses the practice robot on the first screen, wherever it stands in the list of this machine's ports.
fn choose_practice(console: &Console) {
    console.see("where do we work today?");
    // The first look at the ports decides what stands in the list.
    console.until("the ports were looked for", |screen| {
        screen.contains("last look") || screen.contains("serial port")
    });
    // The list alone: the next line has the same sign.
    let chosen = |screen: &str| {
        let mut list = screen.lines().take(20);
        list.find(|line| line.contains('►')).map(str::to_owned)
    };
    while let Some(port) = chosen(&console.screen()).filter(|it| !it.contains("practice robot")) {
        console.keys("<Down>");
        console.until("the choice went down", |screen| {
            chosen(screen).is_some_and(|it| it != port)
        });
    }
    console.press("<Enter>", "── Home");
}

/// On the practice robot, on the stand, on Jog of LF femur, awake at 1500 µs.
fn awake(args: &[&str], folder: &Path) -> Console {
    let console = Console::start(&[&["--practice"], args].concat(), folder);
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.keys("i");
    console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    console.press("w", "It will jump to this pulse at full speed");
    console.press("<Enter>", "1 awake");
    console
}

fn check(file: &Path) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_hornset"))
        .arg("check")
        .arg(file)
        .output()
        .expect("hornset check runs")
}

#[test]
fn from_the_first_screen_to_a_saved_file() {
    let folder = folder();
    std::fs::create_dir(folder.path().join("calibrations")).expect("a folder");
    let mut console = Console::start(&[], folder.path());
    choose_practice(&console);
    console.see("practice, seed 7");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.keys("i");
    console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    console.press("w", "It will jump to this pulse at full speed");
    console.press("<Enter>", "1 awake");
    // Jog by steps: 8 µs up, then half of it down.
    console.press("l", "1508 commanded");
    console.press(",h", "1504 commanded");
    console.press("=1470.5<Enter>", "1470.5 commanded");
    console.press("m", "Type the angle, then Enter: 1470.5 µs");
    console.press("<Enter>", "Noted: the zero of LF femur is at 1470.5 µs.");
    console.press("=1570.5<Enter>", "1570.5 commanded");
    console.press("m10<Enter>", "Noted: zero 1470.5 µs, 10 µs/° from 2 marks.");
    // Degrees, now that they are known.
    console.press("<Tab>", "degrees, commanded");
    console.press("=-2.5<Enter>", "1445.5 commanded");
    console.press("<Tab>", "µs, commanded");
    // The guard is widened, and the ends are recorded.
    console.press("=1410<Enter>", "1410 commanded");
    console.press("[", "Enter widens the guard of LF femur down to 1360 µs.");
    console.press("<Enter>", "The guard of LF femur is 1360 to 1600 µs now.");
    console.press("=1360<Enter>", "1360 commanded");
    console.press("E", "Enter: 1360 µs is the near end of LF femur.");
    console.press("<Enter>", "Noted: the near end of LF femur is at 1360 µs.");
    console.see("1397 commanded");
    console.press("=1600<Enter>", "1600 commanded");
    console.press("E", "Enter: 1600 µs is the far end of LF femur.");
    console.press("<Enter>", "Noted: the far end of LF femur is at 1600 µs.");
    console.see("1563 commanded");
    // Undo says what it takes back; then it is recorded once more.
    console.press("<BS>", "Taken back: the far end of LF femur.");
    console.press("=1599.5<Enter>", "1599.5 commanded");
    console.press(
        "E<Enter>",
        "Noted: the far end of LF femur is at 1599.5 µs.",
    );
    console.see("1562.5 commanded");
    // Nothing was written so far; the first save asks for a name.
    let saved = folder.path().join("calibrations/my-marram.toml");
    assert!(!saved.exists());
    console.press("s", "Enter saves as calibrations/my-marram.toml.");
    console.press("<Enter>", "Saved: calibrations/my-marram.toml.");
    console.press("q", "1 awake. Enter: limp, quit. Esc: stay.");
    console.keys("<Enter>");
    assert!(console.ended().success());
    assert!(!console.on_other_screen() && console.is_cooked());

    let text = text_of(&saved);
    let reading = hornset::calibration::read(&text);
    let robot = reading.robot.expect("it is a good file");
    let (leg, _) = robot.leg_named("LF").expect("LF");
    let femur = robot.legs[leg].joint(hornset::calibration::JointKind::Femur);
    let value = |it: &Option<hornset::calibration::Recorded>| it.as_ref().map(|it| it.value);
    assert_eq!(value(&femur.zero), Some(1470.5));
    assert_eq!(value(&femur.scale), Some(10.0));
    assert_eq!(value(&femur.near_end), Some(1360.0));
    assert_eq!(value(&femur.far_end), Some(1599.5));
    let span = |it: Option<hornset::calibration::Span>| it.map(|(a, b)| (a.us(), b.us()));
    assert_eq!(span(femur.limits), Some((1397.0, 1563.0)));
    assert_eq!(span(femur.guard), Some((1387.0, 1572.5)));
    assert!(!robot.template);
    let checked = check(&saved);
    assert!(
        checked.status.success(),
        "{}",
        String::from_utf8_lossy(&checked.stderr)
    );
    // The lock went with the console.
    let mut left: Vec<_> = std::fs::read_dir(folder.path().join("calibrations"))
        .expect("listed")
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .collect();
    left.sort();
    assert_eq!(left, ["my-marram.logbook", "my-marram.toml"]);
}

#[test]
fn space_stops_in_fields_help_questions_lists_and_a_terminal_of_20_by_5() {
    let folder = folder();
    let trace = folder.path().join("trace.txt");
    let console = awake(&["--trace", trace.to_str().expect("a path")], folder.path());
    let limps = || sent(&trace).iter().filter(|l| l.contains("limp")).count();
    let places = [
        ("", ""),
        ("?", "Help for Jog"),
        ("=15", "Type a pulse"),
        ("m", "Type the angle"),
        ("G", "Where is the robot?"),
        ("<F2>", "one joint by steps"),
        ("s", "Save as"),
        ("B", "Big view"),
        ("q", "1 awake. Enter: limp, quit."),
    ];
    for (keys, seen) in places {
        console.keys(keys);
        console.see(seen);
        console.see("1 awake");
        let before = limps();
        console.press("<Space>", "│ limp ");
        until_file(&trace, "the stop was sent", |_| limps() > before);
        if keys == "B" {
            console.keys("B");
            console.gone("Big view");
        } else if !keys.is_empty() && console.screen().contains(seen) {
            // What leads to motion was closed by the stop itself.
            console.keys("<Esc>");
            console.gone(seen);
        }
        console.press("w", "It will jump to this pulse at full speed");
        console.press("<Enter>", "1 awake");
    }
    console.press("<Esc>", "── Home");
    let before = limps();
    console.press("<Space>", "│ limp ");
    until_file(&trace, "the stop was sent", |_| limps() > before);
    console.press("w", "It will jump to this pulse at full speed");
    console.press("<Enter>", "1 awake");
    console.resize(20, 5);
    console.see("20x5 <80x24");
    let before = limps();
    console.keys("<Space>");
    until_file(&trace, "the stop was sent", |_| limps() > before);
    console.resize(80, 24);
    console.see("│ limp ");
    // On the first screen there is no link; the key does no harm there.
    let first = Console::start(&[], folder.path());
    first.see("where do we work today?");
    first.press("<Space>", "Space=limp");
}

#[test]
fn on_the_ground_space_freezes_and_enter_thaws() {
    let folder = folder();
    let console = awake(&[], folder.path());
    console.press("G", "Space will freeze, a second Space limp");
    console.press("<Enter>", "on the ground Space=freeze");
    console.press("<Space>", "Frozen, because you pressed Space. Enter thaws.");
    console.see("on the ground Space=LIMP");
    console.see("FROZEN");
    console.press("<Enter>", "1 awake");
    console.see("on the ground Space=freeze");
    console.press("<Space>", "FROZEN");
    // A second Space lets go; what was frozen stays frozen until thawed, but nothing gets pulses.
    console.keys("<Space>");
    console.see("○");
    console.press("<Enter>", "│ limp ");
}

/// How a console that ends by itself leaves things: the terminal clean, the servos stopped.
fn left_clean(mut console: Console, trace: &Path) -> portable_pty::ExitStatus {
    let status = console.ended();
    assert!(!console.on_other_screen(), "the other screen was left");
    assert!(!console.cursor_hidden(), "the cursor is back");
    assert!(console.is_cooked(), "the terminal echoes again");
    let sent = sent(trace);
    assert!(
        sent.iter().any(|line| line.contains("limp")),
        "the servos were stopped: {sent:?}"
    );
    status
}

#[test]
fn signals_stop_the_servos_and_leave_the_terminal_clean() {
    for signal in [Signal::TERM, Signal::HUP, Signal::INT, Signal::QUIT] {
        let folder = folder();
        let trace = folder.path().join("trace.txt");
        let console = awake(&["--trace", trace.to_str().expect("a path")], folder.path());
        console.signal(signal);
        let status = left_clean(console, &trace);
        assert!(!status.success(), "{signal:?}: {status:?}");
    }
}

#[test]
fn a_panic_stops_the_servos_and_leaves_the_terminal_clean() {
    let folder = folder();
    let trace = folder.path().join("trace.txt");
    let args = ["--panic-on-f12", "--trace", trace.to_str().expect("a path")];
    let console = awake(&args, folder.path());
    console.keys("<F12>");
    console.until("the panic's message stands", |_| {
        String::from_utf8_lossy(&console.bytes()).contains("asked to panic")
    });
    let status = left_clean(console, &trace);
    assert!(!status.success());
}

#[test]
fn control_c_stops_and_quits() {
    let folder = folder();
    let trace = folder.path().join("trace.txt");
    let console = awake(&["--trace", trace.to_str().expect("a path")], folder.path());
    console.keys("=15<C-c>");
    assert!(left_clean(console, &trace).success());
}

#[test]
fn a_terminal_that_goes_away_ends_the_console_and_stops_the_servos() {
    let folder = folder();
    let trace = folder.path().join("trace.txt");
    let console = awake(&["--trace", trace.to_str().expect("a path")], folder.path());
    let pid = rustix::process::Pid::from_raw(console.pid() as i32).expect("a process");
    let child = console.hang_up();
    until_file(&trace, "the stop was sent", |text| text.contains("limp"));
    let mut child = child;
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(30);
    while child.try_wait().expect("its state").is_none() {
        assert!(
            std::time::Instant::now() < deadline,
            "{pid:?} outlives its terminal"
        );
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
}

/// The second command of README.md, as it stands there: the robot is the one that its file was measured on.
#[test]
fn the_readmes_robot_with_everything_measured_stands_where_its_foot_was_sent() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = text_of(&top.join("README.md"));
    let command = readme
        .split('`')
        .find(|text| text.starts_with("cargo run") && text.contains("--file"))
        .expect("README.md opens a file");
    let (_, args) = command.split_once(" -- ").expect("arguments");
    let args: Vec<&str> = args.split_whitespace().collect();
    let folder = folder();
    std::fs::create_dir(folder.path().join("calibrations")).expect("a folder");
    let file = folder.path().join("calibrations/marram.toml");
    std::fs::copy(top.join("calibrations/marram.toml"), &file).expect("copied");
    let console = Console::start_sized(&args, folder.path(), 120, 36);
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    // The bench with faults has this leg's plugs wrong.
    console.press("v<F2><Down><Down><Enter>", "── Foot jog ── RR");
    console.press("W<Enter>", "3 awake");
    console.press(
        "=130<Tab>20<Tab>-80",
        "Enter goes to out 130, fore 20, up −80.",
    );
    console.press("<Enter>", "── Foot jog ── RR");
    console.until("the foot is there", |screen| {
        ["130.0 mm", "20.0 mm", "−80.0 mm"]
            .iter()
            .all(|it| screen.contains(it))
    });
    console.press("<F2><Up><Enter>", "── Jog ── RR");
    // What would be seen of the joints, once it is where it was commanded to be, and from there the foot.
    let degrees = |screen: &str, before: &str| {
        let (_, rest) = screen.split_once(before)?;
        let number = rest.split('°').next()?.replace('−', "-");
        number.parse::<f64>().ok()
    };
    let mut seen = Vec::new();
    for (key, joint) in [("u", "coxa"), ("i", "femur"), ("o", "tibia")] {
        let stands = format!("{joint} of RR stands at ");
        console.press(key, &stands);
        console.until("the joint is where it was sent", |screen| {
            let commanded = degrees(screen, "angle  ");
            let real = degrees(screen, &stands);
            screen.contains("no hum")
                && matches!((commanded, real), (Some(a), Some(b)) if (a - b).abs() <= 2.0)
        });
        let real = degrees(&console.screen(), &stands).expect("just seen");
        seen.push(real.to_string());
    }
    let output = Command::new(env!("CARGO_BIN_EXE_hornset"))
        .arg("fk")
        .arg(&file)
        .arg("RR")
        .args(&seen)
        .arg("--json")
        .output()
        .expect("hornset fk runs");
    let it: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    for (axis, wished) in [130.0, 20.0, -80.0].into_iter().enumerate() {
        let got = it["foot_mm"][axis].as_f64().expect("a number");
        // The gauge's own noise, play and the fit: the page says ± 2.9 mm.
        assert!((got - wished).abs() <= 5.0, "{seen:?}: {}", it["foot_mm"]);
    }
}

#[test]
fn unsaved_work_is_asked_about_after_awake_pins() {
    let folder = folder();
    let mut console = awake(&[], folder.path());
    console.press("m<Enter>", "Noted: the zero");
    console.press("q", "1 awake. Enter: limp, quit. Esc: stay.");
    console.press("<Enter>", "1 thing is not saved.");
    console.press("<Esc>", "── Jog");
    console.gone("not saved");
    console.press("q", "1 thing is not saved.");
    console.keys("n");
    assert!(console.ended().success());
    let left = std::fs::read_dir(folder.path()).expect("listed").count();
    assert_eq!(left, 0, "nothing was written");
}

#[test]
fn a_second_console_on_the_same_file_is_read_only() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let name = file.to_str().expect("a path");
    let before = text_of(&file);
    let first = Console::start_sized(&["--practice", "--file", name], folder.path(), 120, 36);
    first.see("── Home");
    first.see("bench.toml");
    let second = Console::start(&["--practice", "--file", name], folder.path());
    second.see("── Home");
    second.see("read only here");
    second.press("<Enter>", "say whether the robot is on its stand");
    second.press("<Enter>", "Where is the robot?");
    second.press("<Enter>", "on the stand  Space=limp");
    second.keys("i");
    second.press("<F2><Down><Enter>", "── Jog");
    second.press("w", "full speed");
    second.press("<Enter>", "1 awake");
    second.press("m<Enter>", "Noted");
    second.press("s", "Another console holds the file.");
    second.keys("<Esc>");
    second.gone("Another console");
    assert_eq!(text_of(&file), before);
    // The first one still saves.
    first.press("<Enter>", "Where is the robot?");
    first.press("<Enter>", "on the stand  Space=limp");
    first.keys("i");
    first.press("<F2><Down><Enter>", "── Jog");
    first.press("w", "full speed");
    first.press("<Enter>", "1 awake");
    first.press("m<Enter>", "Recorded");
    first.press("s", "Saved:");
    assert_ne!(text_of(&file), before);
}

#[test]
fn a_file_that_changed_on_the_disk_is_never_overwritten() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let console = awake(&["--file", file.to_str().expect("a path")], folder.path());
    console.press("m<Enter>", "Recorded");
    let theirs = text_of(&file).replace("Marram", "Marram the second");
    std::fs::write(&file, &theirs).expect("written");
    console.press("s", "was changed by somebody else and is left alone.");
    assert_eq!(text_of(&file), theirs);
    let name: String = "<BS>".repeat(80);
    console.press(&name, "Type a name, then Enter saves.");
    console.press("mine.toml<Enter>", "Saved: mine.toml.");
    assert_eq!(text_of(&file), theirs);
    assert!(check(&folder.path().join("mine.toml")).status.success());
}

/// Types a name in place of the one that is offered.
fn retype(console: &Console, name: &str) {
    console.press(&"<BS>".repeat(80), "Type a name, then Enter saves.");
    console.press(name, "Enter saves as");
}

/// The names in a folder, but for those of locks.
fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .expect("listed")
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|name| !name.ends_with(".lock"))
        .collect();
    names.sort();
    names
}

#[test]
fn a_read_only_console_cannot_save_over_the_file_that_another_console_holds() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let first = awake(&["--file", "bench.toml"], folder.path());
    first.press("m<Enter>", "Recorded");
    let second = Console::start(&["--practice", "--file", "bench.toml"], folder.path());
    second.see("read only here");
    second.press("<Enter>", "The logbook knows more than the file");
    second.press("<Enter>", "say whether the robot is on its stand");
    let before = text_of(&file);
    let logbook = text_of(&file.with_extension("logbook"));
    second.press("s", "Another console holds the file.");
    retype(&second, "bench.toml");
    second.press("<Enter>", "Another console holds bench.toml.");
    // However the name is spelled.
    let other_spelling = folder.path().join("bench").display().to_string();
    retype(&second, &other_spelling);
    second.press("<Enter>", "Another console holds");
    second.press("<Esc>", "── Home");
    // And from a console that has no file of its own.
    let third = awake(&[], folder.path());
    third.press("m<Enter>", "Noted");
    third.press("s", "It has no file yet.");
    retype(&third, "bench.toml");
    third.press("<Enter>", "bench.toml is there already.");
    third.press("<Enter>", "Another console holds bench.toml.");
    assert_eq!(text_of(&file), before);
    assert_eq!(text_of(&file.with_extension("logbook")), logbook);
    assert_eq!(names_in(folder.path()), ["bench.logbook", "bench.toml"]);
    first.press("s", "Saved: bench.toml.");
}

#[test]
fn a_file_that_changed_on_the_disk_is_not_overwritten_under_its_own_name_either() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let console = awake(&["--file", "bench.toml"], folder.path());
    console.press("m<Enter>", "Recorded");
    let theirs = text_of(&file).replace("Marram", "Marram the second");
    std::fs::write(&file, &theirs).expect("written");
    console.press(
        "s",
        "bench.toml was changed by somebody else and is left alone.",
    );
    retype(&console, "bench.toml");
    console.press(
        "<Enter>",
        "bench.toml was changed by somebody else and is left alone.",
    );
    console.press("<Enter>", "Saved: my-marram.toml.");
    assert_eq!(text_of(&file), theirs);
    // It has not locked itself out: what comes next is saved where it now is, and the first file is free.
    console.press("=1520<Enter>", "1520 commanded");
    console.press("m5<Enter>", "Recorded");
    console.press("s", "Saved: my-marram.toml.");
    assert_eq!(text_of(&file), theirs);
    let later = Console::start_sized(
        &["--practice", "--file", "bench.toml"],
        folder.path(),
        120,
        36,
    );
    later.see("── Home");
    later.gone("read only here");
}

#[test]
fn the_first_screen_says_how_a_file_that_is_there_is_opened() {
    let folder = folder();
    let console = Console::start(&[], folder.path());
    console.see("where do we work today?");
    console.until("the ports were looked for", |screen| {
        screen.contains("last look") || screen.contains("serial port")
    });
    assert!(!console.screen().contains("--file"), "there is none");
    drop(console);
    let calibrations = folder.path().join("calibrations");
    std::fs::create_dir(&calibrations).expect("a folder");
    let file = pty::marram_in(&calibrations);
    let old = calibrations.join("old.toml");
    std::fs::copy(&file, &old).expect("copied");
    let long_ago = std::time::SystemTime::UNIX_EPOCH;
    let opened = std::fs::File::options().append(true).open(&old);
    let opened = opened.expect("it opens");
    opened.set_modified(long_ago).expect("an older file");
    let mut console = Console::start(&[], folder.path());
    console.see("file     none: quit, then hornset --file calibrations/bench.toml");
    console.keys("q");
    assert!(console.ended().success());
    // What it says is true; and where a file is open, it says nothing.
    let named = Console::start(&["--file", "calibrations/bench.toml"], folder.path());
    named.see("file     calibrations/bench.toml");
    assert!(!named.screen().contains("--file"));
}

#[test]
fn opening_and_quitting_leaves_nothing_on_the_disk() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let before = text_of(&file);
    let mut console = Console::start(&["--practice", "--file", "bench.toml"], folder.path());
    console.see("── Home");
    console.keys("q");
    assert!(console.ended().success());
    assert_eq!(text_of(&file), before);
    let left = std::fs::read_dir(folder.path()).expect("listed").count();
    assert_eq!(left, 1, "the file alone, no logbook and no lock");
}

#[test]
fn a_file_in_a_folder_that_may_not_be_written_to_opens_and_its_work_is_saved_elsewhere() {
    use std::os::unix::fs::PermissionsExt;

    let folder = folder();
    let protected = folder.path().join("protected");
    std::fs::create_dir(&protected).expect("a folder");
    let file = pty::marram_in(&protected);
    let before = text_of(&file);
    let set = |mode| {
        let permissions = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(&protected, permissions).expect("the folder is ours");
    };
    set(0o555);
    let args = ["--practice", "--file", "protected/bench.toml"];
    let console = Console::start_bound_by_permissions(&args, folder.path());
    console.see("Nothing can be written beside the file");
    console.press("<Enter>", "say whether the robot is on its stand");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.keys("i");
    console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    console.press("w", "It will jump to this pulse at full speed");
    console.press("<Enter>", "1 awake");
    console.press("m<Enter>", "Noted");
    console.press("s", "Permission denied");
    console.press("<Enter>", "1 awake");
    console.press("S", "Enter saves as protected/my-marram.toml.");
    retype(&console, "mine");
    console.press("<Enter>", "Saved: mine.toml.");
    console.press("m5<Enter>", "Recorded");
    set(0o755);
    assert_eq!(text_of(&file), before);
    let left = std::fs::read_dir(&protected).expect("listed").count();
    assert_eq!(left, 1, "the file alone");
    assert!(check(&folder.path().join("mine.toml")).status.success());
}

#[test]
fn a_file_is_saved_under_another_name_at_any_time_and_the_work_goes_on_there() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let console = awake(&["--file", "bench.toml"], folder.path());
    console.press("?", "Help for Jog");
    console.press(
        &"<Down>".repeat(10),
        "s S          save, save under another name",
    );
    console.keys("<Esc>");
    console.gone("Help for Jog");
    console.press("m<Enter>", "Recorded");
    console.press("s", "Saved: bench.toml.");
    let before = text_of(&file);
    let logbook = text_of(&file.with_extension("logbook"));
    console.press("S", "bench.toml stays as it was last saved.");
    console.press("<Esc>", "── Jog");
    console.gone("Save as");
    console.press("S", "Enter saves as my-marram.toml.");
    retype(&console, "second");
    console.press("<Enter>", "Saved: second.toml.");
    console.press("=1520<Enter>", "1520 commanded");
    console.press("m5<Enter>", "Recorded");
    console.press("s", "Saved: second.toml.");
    assert_eq!(text_of(&file), before);
    assert_eq!(text_of(&file.with_extension("logbook")), logbook);
    let second = text_of(&folder.path().join("second.logbook"));
    assert!(second.starts_with(&logbook) && second.len() > logbook.len());
    // Under its own name it is a plain save.
    console.press("=1530<Enter>", "1530 commanded");
    console.press("m6<Enter>", "Recorded");
    console.press("S", "Enter saves as my-marram.toml.");
    retype(&console, "second");
    console.press("<Enter>", "Saved: second.toml.");
}

#[test]
fn marks_are_still_there_when_the_file_is_opened_again() {
    let folder = folder();
    let file = pty::marram_in(folder.path());
    let mut first = awake(&["--file", "bench.toml"], folder.path());
    first.press("=1510<Enter>", "1510 commanded");
    first.press("m-7<Enter>", "Recorded");
    first.press("=1560<Enter>", "1560 commanded");
    first.press("m-2<Enter>", "Recorded");
    first.press("s", "Saved: bench.toml.");
    first.press("q", "1 awake. Enter: limp, quit.");
    first.keys("<Enter>");
    assert!(first.ended().success());
    let saved = text_of(&file);
    let logbook = text_of(&file.with_extension("logbook"));
    let again = awake(&["--file", "bench.toml"], folder.path());
    // Reading it back changes neither.
    assert_eq!(text_of(&file), saved);
    assert_eq!(text_of(&file.with_extension("logbook")), logbook);
    // A third mark is fitted together with the first two, not in their place.
    again.press("=1600<Enter>", "1600 commanded");
    again.press("m2<Enter>", "from 3 marks");
}

#[test]
fn a_shipped_example_saves_under_another_name() {
    let folder = folder();
    let example = folder.path().join("marram.toml");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/marram.toml");
    std::fs::copy(source, &example).expect("copied");
    let before = text_of(&example);
    let console = awake(&["--file", "marram.toml"], folder.path());
    console.press("m<Enter>", "Noted");
    console.press("s", "The shipped example stays as it is.");
    retype(&console, "marram.toml");
    console.press("<Enter>", "Enter saves as my-marram.toml.");
    assert_eq!(text_of(&example), before);
    console.press("<Enter>", "Saved: my-marram.toml.");
    assert_eq!(text_of(&example), before);
    let saved = text_of(&folder.path().join("my-marram.toml"));
    let robot = hornset::calibration::read(&saved).robot.expect("good");
    assert!(!robot.template);
}

#[test]
fn an_existing_file_is_replaced_only_after_a_question() {
    let folder = folder();
    let taken = folder.path().join("my-marram.toml");
    std::fs::write(&taken, "somebody else's").expect("written");
    let console = awake(&[], folder.path());
    console.press("m<Enter>", "Noted");
    console.press("s", "Enter saves as my-marram.toml.");
    console.press("<Enter>", "my-marram.toml is there already.");
    console.press("n", "Enter saves as my-marram.toml.");
    assert_eq!(text_of(&taken), "somebody else's");
    console.press("<Enter>", "is there already.");
    console.press("<Enter>", "Saved: my-marram.toml.");
    assert!(check(&taken).status.success());
}

#[test]
fn a_bad_file_and_a_port_that_is_not_there_are_said() {
    let folder = folder();
    let bad = folder.path().join("bad.toml");
    std::fs::write(&bad, "format = 1\nname = 3\n").expect("written");
    let mut console = Console::start(&["--file", "bad.toml"], folder.path());
    assert_eq!(console.ended().exit_code(), 3);
    console.see("bad.toml is refused");
    assert!(!console.on_other_screen());

    let console = Console::start(&["--port", "/dev/no-such-port"], folder.path());
    console.see("where do we work today?");
    console.see("/dev/no-such-port is not there");
}

#[test]
fn control_z_stops_motion_before_it_suspends_and_comes_back() {
    let folder = folder();
    let trace = folder.path().join("trace.txt");
    let console = awake(&["--trace", trace.to_str().expect("a path")], folder.path());
    console.keys("<C-z>");
    until_file(&trace, "the stop was sent", |text| text.contains("limp"));
    console.until_suspended();
    assert!(!console.on_other_screen() && console.is_cooked());
    console.signal(Signal::CONT);
    console.see("│ limp ");
    assert!(console.on_other_screen() && !console.is_cooked());
}

#[test]
fn no_colour_and_ascii_are_kept_to() {
    let folder = folder();
    let console = Console::start(&["--practice", "--no-color", "--ascii"], folder.path());
    console.see("-- Home");
    console.see("not said yet  Space=limp");
    let bytes = console.bytes();
    assert!(bytes.is_ascii());
    let text = String::from_utf8_lossy(&bytes);
    let colours = text
        .split("\x1b[")
        .filter_map(|part| part.split_once('m'))
        .filter(|(codes, _)| codes.bytes().all(|b| b.is_ascii_digit() || b == b';'))
        .flat_map(|(codes, _)| codes.split(';').map(str::to_owned).collect::<Vec<_>>())
        .filter(|code| matches!(code.parse::<u32>(), Ok(30..=38 | 40..=48 | 90..=107)))
        .count();
    assert_eq!(colours, 0);
}

#[test]
fn with_a_robot_whose_time_runs_fast_timers_follow_it_and_the_head_line_says_so() {
    let folder = folder();
    let start = std::time::Instant::now();
    let mut console = awake(&["--speed", "20", "--clean"], folder.path());
    console.see("practice, 20×");
    // Three minutes of the robot's time without a key, and another half: asked, and then limp.
    console.see("Still there?");
    console.see("│ limp");
    assert!(
        start.elapsed() < std::time::Duration::from_secs(180),
        "no faster than the clock"
    );
    console.keys("q");
    console.keys("<Enter>");
    assert!(console.ended().success());
}
