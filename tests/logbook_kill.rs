//! Killed at any moment, nothing that was shown as recorded is lost.
//!
//! The real console is killed while a builder works in it: most of the times on guided pages, the others on Jog and while it
//! saves. What its last whole picture had gone on from is looked for on the disk, and so is all that was there before.
//!
//! A program of its own, since the control starts it itself: a child that says a number before it has written the entry.
//! The same look at the disk must find that something was lost.
//!
//! Killing a process does not lose what the kernel already has;
//! what a power cut leaves is cut byte by byte in `logbook.rs`.
#![cfg_attr(not(all(unix, feature = "practice")), allow(dead_code, unused))]

#[cfg(all(unix, feature = "practice"))]
#[path = "builder_keys/eyes.rs"]
mod eyes;
#[cfg(all(unix, feature = "practice"))]
#[path = "logbook_kill/guided.rs"]
mod guided;
#[cfg(all(unix, feature = "practice"))]
#[path = "logbook_kill/jog.rs"]
mod jog;
#[cfg(all(unix, feature = "practice"))]
#[path = "builder_keys/person.rs"]
mod person;
#[cfg(all(unix, feature = "practice"))]
#[path = "support/pty.rs"]
mod pty;
#[cfg(all(unix, feature = "practice"))]
#[path = "builder_keys/screen.rs"]
mod screen;

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use hornset::calibration::logbook::{Entry, Logbook, What};
use hornset::calibration::{MARRAM, file};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const CONTROL_KILLS: usize = 60;
const AT: &str = "2026-04-02T08:15:00Z";
/// The argument that makes this program the child of the control.
const CHILD: &str = "say-until-killed";

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, word, path] = &args[..]
        && word == CHILD
    {
        say_until_killed(Path::new(path));
        return;
    }
    // Whoever names one test of another file does not mean this program; a name of its own runs all of it.
    if args[1..].iter().any(|it| it == "--list") {
        println!("killed_while_recording: test");
        return;
    }
    let filters: Vec<&String> = args[1..].iter().filter(|it| !it.starts_with('-')).collect();
    let is_meant = |it: &&String| "killed_while_recording".contains(it.as_str());
    if !filters.is_empty() && !filters.iter().any(is_meant) {
        return;
    }
    let start = Instant::now();
    #[cfg(all(unix, feature = "practice"))]
    {
        guided::killed();
        jog::killed();
    }
    control();
    println!(
        "killed while recording: {:.1} s",
        start.elapsed().as_secs_f64()
    );
}

/// An entry that was shown as recorded.
pub struct Shown {
    /// Where it was read.
    words: String,
    /// Whether this is it.
    is: Box<dyn Fn(&What) -> bool + Send>,
}

/// What is on the disk after a kill.
pub struct Left {
    entries: Vec<Entry>,
    /// What was there before or was shown since, and is not there.
    lost: Option<String>,
    /// What was answered and not shown yet is there.
    written: bool,
    torn: bool,
}

/// Looks at the disk: all that was there `before` has to be there, and behind it, in its order, what was `shown`;
/// the answer `in_flight` may be.
pub fn look(path: &Path, before: &[Entry], shown: &[Shown], in_flight: Option<&Shown>) -> Left {
    let book = Logbook::open(path, true).expect("a good logbook");
    assert_eq!(book.missing(), [] as [u64; 0]);
    let loaded = file::load(path).expect("the calibration file is whole");
    assert!(!loaded.is_read_only(), "the lock went with the process");
    let entries = book.entries().to_vec();
    let mut lost = (!entries.starts_with(before)).then(|| "what was there before".to_owned());
    let mut new = entries.iter().skip(before.len());
    for it in shown {
        if lost.is_none() && !new.any(|entry| (it.is)(&entry.what)) {
            lost = Some(it.words.clone());
        }
    }
    Left {
        lost,
        written: in_flight.is_some_and(|it| new.any(|entry| (it.is)(&entry.what))),
        torn: book.torn().is_some(),
        entries,
    }
}

/// The look at the disk finds what a careless child has lost.
fn control() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut lost = 0;
    for _ in 0..CONTROL_KILLS {
        let folder = tempfile::tempdir().expect("a folder");
        let path = own(folder.path());
        let shown: Vec<Shown> = said_by_one(&path, &mut random)
            .map(|n| Shown {
                words: format!("entry {n}"),
                is: Box::new(move |it| *it == what(n)),
            })
            .collect();
        lost += usize::from(look(&path, &[], &shown, None).lost.is_some());
    }
    assert!(lost > 0, "the look at the disk is blind");
    println!("control: {lost} of {CONTROL_KILLS} kills of the careless child lost something");
}

/// The entry of that number, the same in the child and in the parent.
fn what(n: u64) -> What {
    What::Note {
        text: format!("what entry {n} was about"),
    }
}

/// The control's child: a group is said number by number, then written in one piece.
fn say_until_killed(path: &Path) {
    let mut book = Logbook::open(path, true).expect("a good logbook");
    let mut say = std::io::stdout().lock();
    loop {
        let first = book.next();
        for n in first..first + 20 {
            writeln!(say, "{n}").expect("the parent listens");
            say.flush().expect("the parent listens");
            std::thread::sleep(Duration::from_micros(200));
        }
        let whats: Vec<What> = (first..first + 20).map(what).collect();
        book.append(&whats, AT).expect("recorded");
    }
}

/// The numbers that one child had said when it was killed.
fn said_by_one(path: &Path, random: &mut ChaCha8Rng) -> impl Iterator<Item = u64> + use<> {
    let mut child = Command::new(std::env::current_exe().expect("this program"))
        .args([CHILD, path.to_str().expect("a path")])
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts itself");
    let mut lines = BufReader::new(child.stdout.take().expect("a pipe")).lines();
    let first = lines.next();
    std::thread::sleep(Duration::from_micros(random.random_range(0..30_000)));
    child.kill().expect("killed");
    child.wait().expect("it ended");
    // A line is written in one piece, so that none is half a number.
    let number = |line: std::io::Result<String>| line.expect("read").parse().expect("a number");
    first.into_iter().chain(lines).map(number)
}

/// A folder with Marram of one's own in it.
pub fn own(folder: &Path) -> PathBuf {
    let path = folder.join("bench.toml");
    fs::write(&path, MARRAM.replace("template = true\n", "")).expect("written");
    path
}
