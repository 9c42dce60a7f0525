//! The firmware core alone, on this machine, under the address and undefined-behaviour sanitizers.
//!
//! Compiles `tests/core` (plain C, its own reading of the exchanges and of the protocol) with the core and runs it:
//! the exchanges of `protocol/vectors`, and more than ten million bytes that no sane host would send, with every
//! pulse judged from outside. Each program also has controls that must fail, so that neither can be blind.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The files of a folder with this extension, sorted.
fn files(folder: &Path, extension: &str) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        .map(|entry| entry.expect("an entry of a folder").path())
        .filter(|path| path.extension().is_some_and(|have| have == extension))
        .collect();
    found.sort();
    assert!(
        !found.is_empty(),
        "no .{extension} file in {}",
        folder.display()
    );
    found
}

/// Runs a command, and fails with all it said unless it succeeds. Returns what it printed.
fn succeed(command: &mut Command) -> String {
    let output = command.output().unwrap_or_else(|error| {
        panic!("{command:?}: {error}; these tests need a C compiler called cc, or named by CC")
    });
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        output.status.success(),
        "{command:?}: {}\n{text}{}",
        output.status,
        String::from_utf8_lossy(&output.stderr)
    );
    text
}

fn compiler() -> Command {
    Command::new(std::env::var_os("CC").unwrap_or_else(|| "cc".into()))
}

/// Compiles everything once, and returns the folder with the programs `vectors` and `fuzz`.
fn built() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| {
        let source = root().join("tests/core");
        let core = root().join("protocol/firmware/src/core");
        let build = Path::new(env!("CARGO_TARGET_TMPDIR")).join("core");
        let _ = std::fs::remove_dir_all(&build);
        std::fs::create_dir_all(&build).expect("a folder to build in");
        let flags = format!("@{}", source.join("flags").display());
        succeed(
            compiler()
                .current_dir(&build)
                .args([&flags, "-c"])
                .arg(format!("-I{}", core.display()))
                .args(files(&source, "c"))
                .args(files(&core, "c")),
        );
        for program in ["vectors", "fuzz"] {
            let mains = ["vectors.o", "fuzz.o"];
            let objects = files(&build, "o").into_iter().filter(|path| {
                let name = path
                    .file_name()
                    .and_then(|name| name.to_str())
                    .unwrap_or("");
                !mains.contains(&name) || name == format!("{program}.o")
            });
            succeed(
                compiler()
                    .current_dir(&build)
                    .arg(&flags)
                    .args(objects)
                    .args(["-o", program]),
            );
        }
        build
    })
}

#[test]
fn the_core_gives_the_answers_of_the_vectors() {
    let said = succeed(
        Command::new(built().join("vectors")).args(files(&root().join("protocol/vectors"), "txt")),
    );
    println!("{said}");
}

#[test]
fn the_reader_of_vectors_sees_every_kind_of_difference() {
    succeed(
        Command::new(built().join("vectors"))
            .arg("--must-fail")
            .arg(root().join("tests/core/must_fail.txt")),
    );
}

#[test]
fn no_bytes_make_a_pulse_outside_the_guard() {
    let said = succeed(&mut Command::new(built().join("fuzz")));
    println!("{said}");
    let bytes: u64 = said
        .lines()
        .find_map(|line| line.split_once(" bytes"))
        .and_then(|(count, _)| count.parse().ok())
        .expect("fuzz says how many bytes it sent");
    assert!(bytes >= 10_000_000, "only {bytes} bytes");
}

#[test]
fn the_judge_of_pulses_finds_every_fault_built_in() {
    println!(
        "{}",
        succeed(Command::new(built().join("fuzz")).arg("--controls"))
    );
}
