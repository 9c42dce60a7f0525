//! Holds the arrows between the modules: who may use whom, which crate is named where,
//! that the pure parts stay pure,
//! and that `unsafe` stands in one file alone. It reads the sources as text.

use std::fs;
use std::path::{Path, PathBuf};

/// For each module the modules it may name by `crate::…`; `units` is free to all.
///
/// `cli` and `console` stand at the edge. `practice` is known only to the one place
/// that opens transports, [`OPENS_TRANSPORTS`], and to the subcommand that serves it.
const ARROWS: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("calibration", &[]),
    ("board", &[]),
    ("kinematics", &["calibration"]),
    ("estimate", &["kinematics", "calibration"]),
    ("procedure", &["estimate", "kinematics", "calibration"]),
    ("output", &["kinematics", "calibration"]),
    ("practice", &["board"]),
    (
        "console",
        &[
            "procedure",
            "estimate",
            "kinematics",
            "calibration",
            "output",
            "board",
        ],
    ),
    (
        "cli",
        &[
            "console",
            "procedure",
            "estimate",
            "kinematics",
            "calibration",
            "output",
            "board",
        ],
    ),
];

/// The files outside `practice` that may name it.
const OPENS_TRANSPORTS: &[&str] = &["src/cli/practice.rs", "src/cli/open.rs", "src/lib.rs"];

/// What the pure parts never name: the disk, the clock, threads, the terminal's streams.
const IMPURE: &[&str] = &[
    "std::fs",
    "fs::",
    "std::thread",
    "thread::",
    "Instant::now",
    "SystemTime",
    "Timestamp::now",
    "std::process",
    "println!",
    "std::io",
];

/// The parts that are pure: time is an argument there, bytes come in and go out.
const PURE: &[&str] = &[
    "src/units.rs",
    "src/board/codec.rs",
    "src/board/crc.rs",
    "src/board/request.rs",
    "src/board/answer.rs",
    "src/board/session/",
    "src/calibration/model.rs",
    "src/calibration/check.rs",
    "src/calibration/read.rs",
    "src/kinematics/",
    "src/estimate/",
    "src/procedure/",
    "src/console/update.rs",
    "src/console/state.rs",
    "src/console/view/",
    "src/console/compose/",
    "src/console/guided/",
    "src/console/pages/",
    "src/console/layers/",
];

/// The one file of a pure folder that may read the disk: it loads the calibrated robot.
const LOADS: &str = "src/kinematics/robot.rs";

fn sources() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("src is readable") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

fn relative(path: &Path) -> String {
    path.strip_prefix(env!("CARGO_MANIFEST_DIR"))
        .expect("a file of this package")
        .to_string_lossy()
        .replace('\\', "/")
}

/// The code of a line: what stands before `//`, so that prose may name anything.
fn code(line: &str) -> &str {
    line.split("//").next().unwrap_or("")
}

fn module_of(relative: &str) -> &str {
    relative
        .trim_start_matches("src/")
        .split(['/', '.'])
        .next()
        .unwrap_or("")
}

/// All modules named after `crate::`, also in braces: `use crate::{board, units::Pin}`.
fn named(source: &str) -> Vec<String> {
    let text: String = source.lines().map(|l| format!("{} ", code(l))).collect();
    let word = |s: &str| -> String {
        s.trim_start()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    let mut names = Vec::new();
    for (at, _) in text.match_indices("crate::") {
        // `$crate::` in a macro counts as well: it names the same thing.
        let rest = &text[at + "crate::".len()..];
        if let Some(group) = rest.strip_prefix('{') {
            let mut depth = 0;
            names.push(word(group));
            for (i, c) in group.char_indices() {
                match c {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => names.push(word(&group[i + 1..])),
                    _ => {}
                }
            }
        } else {
            names.push(word(rest));
        }
    }
    names.retain(|n| !n.is_empty() && n.chars().next().is_some_and(char::is_lowercase));
    names
}

/// Everything wrong with one file; empty when it keeps the arrows.
fn faults(relative: &str, source: &str) -> Vec<String> {
    let module = module_of(relative);
    let mut faults = Vec::new();
    if !matches!(module, "main" | "lib") {
        let allowed = ARROWS.iter().find(|(m, _)| *m == module).map(|(_, a)| *a);
        match allowed {
            None => faults.push(format!("{relative}: module {module} has no row in ARROWS")),
            Some(allowed) => {
                for name in named(source) {
                    let known = ARROWS.iter().any(|(m, _)| *m == name);
                    let free = name == module || name == "units" || allowed.contains(&&*name);
                    let opener = name == "practice" && OPENS_TRANSPORTS.contains(&relative);
                    if known && !free && !opener {
                        faults.push(format!("{relative}: {module} may not use {name}"));
                    }
                }
            }
        }
    }
    let crates: &[(&str, &[&str])] = &[
        ("ratatui", &["src/console/"]),
        ("crossterm", &["src/console/"]),
        ("serialport", &["src/board/serial.rs", "src/board/ports.rs"]),
        ("anyhow", &["src/main.rs", "src/cli/", "src/console/runner"]),
        ("rand", &["src/practice/", "src/board/faulty.rs"]),
        ("rand_chacha", &["src/practice/", "src/board/faulty.rs"]),
        ("toml_edit", &["src/calibration/"]),
        ("clap", &["src/cli/"]),
    ];
    let tests_begin = source
        .lines()
        .position(|line| line.trim() == "mod tests {")
        .unwrap_or(usize::MAX);
    for (number, line) in source.lines().enumerate() {
        let code = code(line);
        for (name, homes) in crates {
            let at_home = homes.iter().any(|home| relative.starts_with(home));
            if !at_home && code.contains(&format!("{name}::")) {
                faults.push(format!("{relative}:{}: names {name}", number + 1));
            }
        }
        // Tests stand at a file's end, and may time themselves and read what they compare with.
        let pure = PURE.iter().any(|home| relative.starts_with(home)) && relative != LOADS;
        if pure && number < tests_begin && !relative.ends_with("tests.rs") {
            for word in IMPURE.iter().filter(|word| code.contains(**word)) {
                faults.push(format!(
                    "{relative}:{}: a pure part names {word}",
                    number + 1
                ));
            }
        }
        let unsafe_here = code.contains("unsafe ") || code.contains("allow(unsafe_code)");
        if unsafe_here && relative != "src/practice/ffi.rs" && relative != "src/practice/mod.rs" {
            faults.push(format!("{relative}:{}: unsafe", number + 1));
        }
        // mod.rs may let ffi.rs in, and nothing more.
        if relative == "src/practice/mod.rs" && code.contains("unsafe ") {
            faults.push(format!("{relative}:{}: unsafe", number + 1));
        }
    }
    faults
}

#[test]
fn every_source_keeps_the_arrows() {
    let sources = sources();
    assert!(sources.len() > 10, "the sources were not found");
    let mut all = Vec::new();
    for path in &sources {
        let text = fs::read_to_string(path).expect("a source is UTF-8 text");
        all.extend(faults(&relative(path), &text));
    }
    assert!(all.is_empty(), "\n{}", all.join("\n"));
}

#[test]
fn main_is_under_forty_lines() {
    let main = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/main.rs"))
        .expect("src/main.rs is there");
    assert!(main.lines().count() < 40);
}

/// The check can fail: each of these breaks one rule, and is named.
#[test]
fn a_wrong_use_is_found() {
    let wrong = [
        ("src/board/x.rs", "use crate::calibration::Robot;"),
        (
            "src/calibration/x.rs",
            "use crate::{units::Pin, board::Request};",
        ),
        ("src/console/x.rs", "let r = crate::practice::Robot::new();"),
        ("src/practice/x.rs", "use crate::kinematics::leg;"),
        ("src/kinematics/x.rs", "use ratatui::Frame;"),
        ("src/board/x.rs", "use serialport::SerialPort;"),
        ("src/console/x.rs", "unsafe { f() }"),
        ("src/novel/x.rs", ""),
        (
            "src/board/session/x.rs",
            "let now = std::time::Instant::now();",
        ),
        ("src/kinematics/x.rs", "println!(\"{x}\");"),
    ];
    for (file, source) in wrong {
        assert_eq!(faults(file, source).len(), 1, "{file}: {source}");
    }
    let right = [
        (
            "src/board/x.rs",
            "use crate::units::Pin; // not crate::console",
        ),
        (
            "src/cli/open.rs",
            "use crate::{board::Transport, practice::Robot};",
        ),
        (
            "src/console/x.rs",
            "use crate::kinematics::leg; use ratatui::Frame;",
        ),
    ];
    for (file, source) in right {
        assert_eq!(
            faults(file, source),
            Vec::<String>::new(),
            "{file}: {source}"
        );
    }
}
