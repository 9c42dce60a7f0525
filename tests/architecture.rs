//! Holds the arrows between the modules: who may use whom, which crate is named where,
//! that everything is pure but what is listed as not,
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

/// What a pure part never names: the disk, the clock, threads, the process, the terminal's streams.
const IMPURE: &[&str] = &[
    "std::fs",
    "fs::",
    "File::",
    // Our own ways to the disk.
    "file::load",
    "file::inspect",
    "file::save",
    "CalibratedRobot::load",
    "Claim::take",
    "Logbook::open",
    "std::thread",
    "thread::",
    "Instant::now",
    "SystemTime",
    "Timestamp::now",
    "Zoned::now",
    "std::process",
    "process::",
    "std::env",
    "env::",
    "std::net",
    "print!",
    "println!",
    "dbg!",
    "std::io",
    "io::",
];

/// The only parts that may touch the world; every other file is pure, a new one too:
/// time is an argument there, bytes come in and go out.
const WORLDLY: &[&str] = &[
    "src/main.rs",
    "src/cli/",
    // The link and what drives it.
    "src/board/serial.rs",
    "src/board/traced.rs",
    "src/board/transport.rs",
    "src/board/worker.rs",
    // The file, its lock and its logbook.
    "src/calibration/disk.rs",
    "src/calibration/file.rs",
    "src/calibration/lock.rs",
    "src/calibration/logbook/book.rs",
    // It loads the calibrated robot for users of the library.
    "src/kinematics/robot.rs",
    "src/console/runner/",
    // The practice robot's own time and its pseudo-terminal.
    "src/practice/transport.rs",
    "src/practice/tty.rs",
];

/// For each dependency where it may be named. All of `Cargo.toml` stands here.
const HOMES: &[(&str, &[&str])] = &[
    ("anyhow", &["src/cli/", "src/console/runner/"]),
    ("clap", &["src/cli/"]),
    ("crossterm", &["src/console/keys.rs", "src/console/runner/"]),
    (
        "jiff",
        &[
            "src/calibration/read_joint.rs",
            "src/calibration/logbook/sound.rs",
            "src/cli/export.rs",
            "src/console/runner/",
        ],
    ),
    ("nalgebra", &["src/estimate/"]),
    ("rand", &["src/practice/", "src/board/faulty.rs"]),
    ("rand_chacha", &["src/practice/", "src/board/faulty.rs"]),
    (
        "ratatui",
        &[
            "src/console/view/",
            "src/console/theme.rs",
            "src/console/runner/",
        ],
    ),
    ("rustix", &["src/board/serial.rs", "src/practice/tty.rs"]),
    ("serde", &["src/calibration/logbook/"]),
    (
        "serde_json",
        &["src/calibration/logbook/", "src/cli/", "src/output/json.rs"],
    ),
    ("serialport", &["src/board/serial.rs", "src/board/ports.rs"]),
    (
        "sha2",
        &[
            "src/calibration/",
            "src/output/mod.rs",
            "src/practice/truth.rs",
        ],
    ),
    ("signal_hook", &["src/cli/", "src/console/runner/"]),
    ("statrs", &["src/estimate/"]),
    ("strsim", &["src/calibration/reader.rs"]),
    (
        "tempfile",
        &["src/calibration/disk.rs", "src/console/runner/"],
    ),
    ("thiserror", &["src/"]),
    ("toml", &["src/calibration/"]),
    ("toml_edit", &["src/calibration/"]),
];

fn sources() -> Vec<PathBuf> {
    below("src")
}

/// All Rust files of a folder.
fn below(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)];
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

/// The code of a line: what stands before `//` and in no string, so that prose may name anything.
fn code(line: &str) -> String {
    let mut code = String::new();
    let mut quoted = false;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '\\' if quoted => drop(chars.next()),
            // A character, not a string's end.
            '\'' if !quoted && chars.peek() == Some(&'"') => drop(chars.next()),
            '"' => {
                quoted = !quoted;
                code.push(c);
            }
            '/' if !quoted && chars.peek() == Some(&'/') => break,
            _ if quoted => {}
            c => code.push(c),
        }
    }
    code
}

/// The modules down to a file: `board session queue` for `src/board/session/queue.rs`.
fn path_of(relative: &str) -> Vec<&str> {
    relative
        .trim_start_matches("src/")
        .trim_end_matches(".rs")
        .split('/')
        .filter(|part| !matches!(*part, "mod" | "lib" | "main"))
        .collect()
}

fn word(text: &str) -> &str {
    let end = text.find(|c: char| !c.is_alphanumeric() && c != '_');
    &text[..end.unwrap_or(text.len())]
}

/// Where `name` stands as a word of its own.
fn words<'a>(code: &'a str, name: &'a str) -> impl Iterator<Item = usize> + 'a {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(name)
        .map(|(at, _)| at)
        .filter(move |at| {
            !code[..*at].ends_with(part) && !code[at + name.len()..].starts_with(part)
        })
}

/// Everything named directly behind `crate::`, also in braces: `use crate::{board, units::Pin}`.
fn named(code: &str) -> Vec<&str> {
    let first = |s: &str| -> usize { s.len() - s.trim_start().len() };
    let item = |s| -> &str {
        match &s[first(s)..] {
            glob if glob.starts_with('*') => "*",
            item => word(item),
        }
    };
    let mut names = Vec::new();
    for at in words(code, "crate") {
        // `$crate::` in a macro counts as well: it names the same thing.
        let Some(rest) = code[at + "crate".len()..].strip_prefix("::") else {
            continue;
        };
        let Some(group) = rest.strip_prefix('{') else {
            names.push(item(rest));
            continue;
        };
        let mut depth = 0;
        names.push(item(group));
        for (i, c) in group.char_indices() {
            match c {
                '{' => depth += 1,
                '}' if depth == 0 => break,
                '}' => depth -= 1,
                ',' if depth == 0 => names.push(item(&group[i + 1..])),
                _ => {}
            }
        }
    }
    // What follows the last comma.
    names.retain(|n| !n.is_empty());
    names
}

/// The arrows of one file: each name behind `crate::`, and that there is no other way to the root.
fn arrows(relative: &str, lines: &[String]) -> Vec<String> {
    let module = path_of(relative)[0];
    let mut faults = Vec::new();
    let Some((_, allowed)) = ARROWS.iter().find(|(m, _)| *m == module) else {
        return vec![format!("{relative}: module {module} has no row in ARROWS")];
    };
    let text = lines.join(" ");
    for name in named(&text) {
        let free = name == module || name == "units" || allowed.contains(&name);
        let opener = name == "practice" && OPENS_TRANSPORTS.contains(&relative);
        if !free && !opener {
            faults.push(format!("{relative}: {module} may not use crate::{name}"));
        }
    }
    // Within the file, `mod x {` … `}` goes one deeper; the sources are formatted.
    let mut inside: Vec<usize> = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        let indent = line.len() - line.trim_start().len();
        if inside.last() == Some(&indent) && line.trim() == "}" {
            inside.pop();
        }
        let ups = line.matches("super::").count();
        let chain = "super::".repeat(path_of(relative).len() + inside.len());
        if ups > 0 && line.contains(&chain) {
            faults.push(format!(
                "{relative}:{}: goes up to the root by super: say crate::",
                number + 1
            ));
        }
        if words(line, "mod").next().is_some() && line.trim_end().ends_with('{') {
            inside.push(indent);
        }
    }
    // Other ways to hide a path: `super` in a group or behind `self`, another name for the root.
    for at in words(&text, "use") {
        let it = text[at..].split(';').next().unwrap_or_default();
        let it: String = it.split_whitespace().collect::<Vec<_>>().join(" ");
        let it = it.replace(['{', ','], "{").replace("{ ", "{");
        for hidden in ["{super::", "self::super", "use crate as"] {
            if it.contains(hidden) {
                faults.push(format!("{relative}: {hidden} hides a path: write it out"));
            }
        }
    }
    if !words(&text, "hornset").all(|at| !text[at..].starts_with("hornset::")) {
        faults.push(format!("{relative}: say crate::, not hornset::"));
    }
    faults
}

/// Everything wrong with one file; empty when it keeps the rules.
fn faults(relative: &str, source: &str) -> Vec<String> {
    let lines: Vec<String> = source.lines().map(code).collect();
    let mut faults = match relative {
        "src/main.rs" | "src/lib.rs" => Vec::new(),
        _ => arrows(relative, &lines),
    };
    let tests_begin = lines
        .iter()
        .position(|line| line.trim() == "mod tests {")
        .unwrap_or(usize::MAX);
    let at_home = |homes: &[&str]| homes.iter().any(|home| relative.starts_with(home));
    // Tests stand at a file's end or in files of their own; they may time themselves and read what they compare with.
    let tests = relative.ends_with("tests.rs") || relative.contains("/tests/");
    for (number, code) in lines.iter().enumerate() {
        let tests = tests || number > tests_begin;
        for (name, homes) in HOMES {
            let home = at_home(homes) || (tests && TESTS_MAY_NAME.contains(name));
            // Behind `::` or `.` it is somebody's own module or method.
            let foreign = words(code, name).any(|at| {
                let used = code[at + name.len()..].starts_with([':', ';', '!'])
                    || code[at + name.len()..].starts_with(" as ");
                used && !code[..at].ends_with("::")
                    && !code[..at].trim_end().ends_with("mod")
                    && !code[at + name.len()..].starts_with(": ")
            });
            if !home && foreign {
                faults.push(format!("{relative}:{}: names {name}", number + 1));
            }
        }
        if !at_home(WORLDLY) && !tests {
            for it in IMPURE.iter().filter(|it| impure(code, it)) {
                faults.push(format!("{relative}:{}: a pure part names {it}", number + 1));
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

/// Published tables and made-up samples are read with these in tests.
const TESTS_MAY_NAME: &[&str] = &["serde_json", "ratatui", "toml", "toml_edit"];

fn impure(code: &str, name: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(name)
        .any(|(at, _)| !code[..at].ends_with(part))
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
fn every_dependency_has_a_home_and_every_exception_its_reason() {
    let manifest = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml"))
        .expect("Cargo.toml is there");
    let manifest: toml::Table = manifest.parse().expect("it is TOML");
    let unix = &manifest["target"]["cfg(unix)"]["dependencies"];
    let mut names: Vec<String> = [&manifest["dependencies"], unix]
        .into_iter()
        .flat_map(|table| table.as_table().expect("a table").keys())
        .map(|name| name.replace('-', "_"))
        .collect();
    names.sort();
    let mut homes: Vec<&str> = HOMES.iter().map(|(name, _)| *name).collect();
    homes.sort_unstable();
    assert_eq!(names, homes);
    // An exception that nothing needs any longer is taken away.
    let sources: Vec<(String, String)> = sources()
        .iter()
        .map(|path| {
            let text = fs::read_to_string(path).expect("a source is UTF-8 text");
            (
                relative(path),
                text.lines().map(code).collect::<Vec<_>>().join("\n"),
            )
        })
        .collect();
    let needed = |home: &str, needs: &dyn Fn(&str) -> bool| {
        let mut files = sources.iter().filter(|(file, _)| file.starts_with(home));
        files.any(|(_, text)| needs(text))
    };
    for home in WORLDLY {
        let touches = |text: &str| IMPURE.iter().any(|it| impure(text, it));
        assert!(
            *home == "src/main.rs" || needed(home, &touches),
            "{home} is pure: it needs no exception"
        );
    }
    for (name, homes) in HOMES {
        for home in *homes {
            let uses = |text: &str| words(text, name).next().is_some();
            assert!(needed(home, &uses), "{home} does not name {name}");
        }
    }
}

#[test]
fn no_file_is_longer_than_800_lines() {
    for path in [below("src"), below("tests")].concat() {
        let text = fs::read_to_string(&path).expect("a source is UTF-8 text");
        let lines = text.lines().count();
        assert!(lines <= 800, "{}: {lines} lines", relative(&path));
    }
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
        ("src/novel/x.rs", ""),
        // Ways to the root beside `crate::name`.
        ("src/board/x.rs", "use crate::*;"),
        ("src/board/x.rs", "use crate::CalibratedRobot;"),
        ("src/board/x.rs", "use crate as all;"),
        ("src/board/x.rs", "use hornset::kinematics::leg;"),
        ("src/calibration/x.rs", "use super::super::board::Request;"),
        ("src/calibration/x.rs", "let p = super::super::board::f();"),
        ("src/calibration/mod.rs", "use super::board::Request;"),
        (
            "src/calibration/logbook/x.rs",
            "pub use super::super::super::console::State;",
        ),
        (
            "src/calibration/x.rs",
            "mod tests {\n    use super::super::super::board::Request;\n}",
        ),
        (
            "src/calibration/x.rs",
            "mod tests {\n    use super::f;\n}\nuse super::super::board;",
        ),
        (
            "src/calibration/x.rs",
            "use super::{a, super::board::Request};",
        ),
        (
            "src/calibration/x.rs",
            "use super::{\n    super::board::Request,\n};",
        ),
        // Crates.
        ("src/kinematics/x.rs", "use ratatui::Frame;"),
        ("src/console/pages/x.rs", "use ratatui::Frame;"),
        ("src/board/x.rs", "use serialport::SerialPort;"),
        (
            "src/console/x.rs",
            "let m = nalgebra::DMatrix::zeros(2, 2);",
        ),
        ("src/kinematics/x.rs", "use nalgebra as na;"),
        ("src/console/x.rs", "use statrs::distribution::Normal;"),
        ("src/estimate/x.rs", "use toml_edit::DocumentMut;"),
        ("src/procedure/x.rs", "use jiff;"),
        // What is not pure, also where nobody listed it.
        ("src/console/x.rs", "unsafe { f() }"),
        (
            "src/board/session/x.rs",
            "let now = std::time::Instant::now();",
        ),
        ("src/kinematics/x.rs", "println!(\"{x}\");"),
        ("src/console/work.rs", "let f = File::open(path);"),
        ("src/board/novel.rs", "let text = fs::read(path);"),
        ("src/calibration/edit.rs", "let f = file::load(path);"),
        (
            "src/output/x.rs",
            "let a = \"//\"; let t = Timestamp::now();",
        ),
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
            "src/console/view/x.rs",
            "use crate::kinematics::leg; use ratatui::Frame;",
        ),
        (
            "src/calibration/x.rs",
            "use super::logbook; let text = \"crate::board\"; // super::super::board",
        ),
        (
            "src/calibration/x.rs",
            "mod tests {\n    use super::super::logbook;\n    use super::*;\n}",
        ),
        (
            "src/practice/x.rs",
            "let t = toml_edits::f(); let strand::X = y;",
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
