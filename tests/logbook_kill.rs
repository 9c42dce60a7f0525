//! Killed at any moment, nothing that was shown as recorded is lost.
//!
//! A program of its own, since it starts itself: as a child it records through the library as the console does,
//! and says each number on its standard output only once the logbook has returned. The parent kills it at a
//! random moment, 500 times, and looks at what is on the disk. Then the real console is killed while it records,
//! and everything its screen showed as recorded is looked for. The control is a child that says a number before it
//! has written the entry: the same look at the disk must find that something was lost.
//!
//! Killing a process does not lose what the kernel already has;
//! what a power cut leaves is cut byte by byte in `logbook.rs`.
#![cfg_attr(not(all(unix, feature = "practice")), allow(dead_code, unused))]

#[cfg(all(unix, feature = "practice"))]
#[path = "support/pty.rs"]
mod pty;

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use hornset::calibration::logbook::{Entry, JointName, Logbook, MarkKind, Side, What};
use hornset::calibration::{JointKind, MARRAM, edit, file};
use hornset::estimate::{knowledge, taken_over};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const KILLS: usize = 500;
const CONTROL_KILLS: usize = 60;
const CONSOLE_KILLS: usize = 40;
/// As many consoles at a time: they wait most of their time.
const CONSOLES: usize = 8;
const AT: &str = "2026-04-02T08:15:00Z";

/// How the child keeps its word.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Child {
    /// As the console: written, then said.
    Careful,
    /// The control: said, and written some entries later.
    Careless,
}

impl Child {
    const BOTH: [Child; 2] = [Child::Careful, Child::Careless];

    /// The argument that makes this program such a child.
    fn word(self) -> &'static str {
        match self {
            Child::Careful => "record-until-killed",
            Child::Careless => "say-until-killed",
        }
    }
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, word, path] = &args[..]
        && let Some(child) = Child::BOTH.into_iter().find(|it| it.word() == word)
    {
        match child {
            Child::Careful => record_until_killed(Path::new(path)),
            Child::Careless => say_until_killed(Path::new(path)),
        }
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
    let tally = kills(Child::Careful, KILLS);
    assert_eq!(tally.lost, [] as [String; 0]);
    // Two kills of three wait for a first entry, so this holds on any machine.
    assert!(tally.recorded >= KILLS / 2, "too little: {tally:?}");
    println!(
        "{KILLS} kills, none lost anything of {} entries shown: {} before one of their own was shown, \
         {} with entries on the disk that were not shown yet, {} with a torn line",
        tally.recorded, tally.nothing_shown, tally.beyond, tally.torn
    );
    let control = kills(Child::Careless, CONTROL_KILLS);
    assert!(!control.lost.is_empty(), "the look at the disk is blind");
    println!(
        "control: {} of {CONTROL_KILLS} kills of the careless child lost something",
        control.lost.len()
    );
    #[cfg(all(unix, feature = "practice"))]
    console::killed();
    println!(
        "killed while recording: {:.1} s",
        start.elapsed().as_secs_f64()
    );
}

/// The entry of that number, the same in the child and in the parent.
fn what(n: u64) -> What {
    let step = (n % 1000) as f64;
    let joint = JointName::new(
        ["LF", "LM", "LR"][(n % 3) as usize],
        JointKind::ALL[(n / 3 % 3) as usize],
    );
    match n % 7 {
        0 => What::Note {
            text: format!("what entry {n} was about: ").repeat(1 + (n % 40) as usize),
        },
        1 => What::Guard {
            joint,
            low_us: 700.0 + step / 2.0,
            high_us: 2100.0,
        },
        _ => What::Mark {
            joint,
            pulse_us: 1000.0 + step,
            from: Some(if n.is_multiple_of(2) {
                Side::Below
            } else {
                Side::Above
            }),
            angle_deg: step / 7.0 - 70.0,
            placing: Some(n / 10),
            by: MarkKind::Absolute,
        },
    }
}

fn record_until_killed(path: &Path) {
    let mut loaded = file::load(path).expect("a good file");
    let mut book = Logbook::open(path, !loaded.is_read_only()).expect("a good logbook");
    let mut say = std::io::stdout().lock();
    let missing = taken_over(loaded.robot(), &loaded.saved_sha256(), book.entries());
    book.append(&missing, AT).expect("recorded");
    loop {
        // Mostly one at a time; now and then several that belong together.
        let first = book.next();
        let many = if first.is_multiple_of(11) { 5 } else { 1 };
        let whats: Vec<What> = (first..first + many).map(what).collect();
        let last = book.append(&whats, AT).expect("recorded");
        writeln!(say, "{last}").expect("the parent listens");
        say.flush().expect("the parent listens");
        if first.is_multiple_of(13) {
            let known = knowledge(book.entries());
            let changes = edit::changes_of_robot(loaded.robot(), &known.robot);
            // Marks of random numbers may make a robot that no file takes; then there is nothing to save.
            if loaded.record_all(&changes).is_ok() && loaded.is_dirty() {
                loaded.save().expect("saved");
                let sha256 = loaded.saved_sha256();
                book.append(&[What::Saved { sha256 }], AT)
                    .expect("recorded");
            }
        }
    }
}

/// The control: a group is said number by number, then written in one piece.
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

/// A folder with Marram of one's own in it.
fn own(folder: &Path) -> PathBuf {
    let path = folder.join("mine.toml");
    fs::write(&path, MARRAM.replace("template = true\n", "")).expect("written");
    path
}

/// What many kills came to.
#[derive(Debug, Default)]
struct Tally {
    /// What was shown and is not there.
    lost: Vec<String>,
    /// Entries that were shown.
    recorded: usize,
    nothing_shown: usize,
    beyond: usize,
    torn: usize,
}

/// Starts the child, kills it and looks at the disk, that many times.
fn kills(child: Child, count: usize) -> Tally {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut tally = Tally::default();
    let mut folder = tempfile::tempdir().expect("a folder");
    let mut path = own(folder.path());
    let mut shown: Vec<u64> = Vec::new();
    for kill in 0..count {
        // A fresh robot now and then, so that the first entries of a logbook are met too.
        if kill % 20 == 0 || child == Child::Careless {
            folder = tempfile::tempdir().expect("a folder");
            path = own(folder.path());
            shown.clear();
        }
        let numbers = shown_by_one(child, &path, kill, &mut random);
        tally.nothing_shown += usize::from(numbers.is_empty());
        tally.recorded += numbers.len();
        shown.extend(numbers);
        let book = Logbook::open(&path, true).expect("a good logbook");
        assert_eq!(book.missing(), [] as [u64; 0], "kill {kill}");
        for &n in &shown {
            let entry = book.entries().iter().find(|it| it.n == n);
            if entry.map(|it| &it.what) != Some(&what(n)) {
                tally
                    .lost
                    .push(format!("kill {kill}, entry {n}: {entry:?}"));
                break;
            }
        }
        book.entries().iter().for_each(is_meant);
        let loaded = file::load(&path).expect("the calibration file is whole");
        assert!(!loaded.is_read_only(), "the lock went with the process");
        let last = book.entries().last().map_or(0, |it| it.n);
        tally.beyond += usize::from(last > shown.last().copied().unwrap_or(0));
        tally.torn += usize::from(book.torn().is_some());
    }
    tally
}

/// The numbers that one child had shown as recorded when it was killed.
fn shown_by_one(child: Child, path: &Path, kill: usize, random: &mut ChaCha8Rng) -> Vec<u64> {
    let mut process = Command::new(std::env::current_exe().expect("this program"))
        .args([child.word(), path.to_str().expect("a path")])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts itself");
    let mut lines = BufReader::new(process.stdout.take().expect("a pipe")).split(b'\n');
    let mut numbers = Vec::new();
    // Two kills of three fall into the recording, wherever in it; the third may fall into the start.
    if kill.is_multiple_of(3) {
        std::thread::sleep(Duration::from_micros(random.random_range(500..60_000)));
    } else {
        numbers.extend(lines.next().map(number));
        std::thread::sleep(Duration::from_micros(random.random_range(0..30_000)));
    }
    process.kill().expect("killed");
    numbers.extend(lines.map(number));
    let mut said = String::new();
    let errors = process.stderr.as_mut().expect("a pipe");
    errors.read_to_string(&mut said).expect("read");
    let status = process.wait().expect("it ended");
    assert!(
        said.is_empty(),
        "the child failed by itself: {status}: {said}"
    );
    numbers
}

/// A line is written in one piece, so that none is half a number.
fn number(line: std::io::Result<Vec<u8>>) -> u64 {
    let text = String::from_utf8(line.expect("read")).expect("digits");
    text.parse().expect("a number")
}

/// Every entry that is there is one that was meant.
fn is_meant(entry: &Entry) {
    match &entry.what {
        What::Plan(_) | What::TakenOver { .. } | What::StartOver { .. } | What::Saved { .. } => {}
        found => assert_eq!(*found, what(entry.n), "entry {}", entry.n),
    }
}

#[cfg(all(unix, feature = "practice"))]
mod console {
    //! The real console, killed while it records.

    use super::*;
    use rustix::process::Signal;

    pub fn killed() {
        let next = AtomicUsize::new(0);
        let (mut shown, mut lately) = (0, 0);
        std::thread::scope(|scope| {
            let workers: Vec<_> = (0..CONSOLES)
                .map(|_| {
                    scope.spawn(|| {
                        let (mut shown, mut lately) = (0, 0);
                        loop {
                            let kill = next.fetch_add(1, Ordering::Relaxed);
                            if kill >= CONSOLE_KILLS {
                                return (shown, lately);
                            }
                            let (marks, last) = killed_once(kill);
                            shown += marks;
                            lately += usize::from(last);
                        }
                    })
                })
                .collect();
            for worker in workers {
                let (marks, last) = worker.join().expect("none lost anything");
                shown += marks;
                lately += last;
            }
        });
        println!(
            "{CONSOLE_KILLS} kills of the console, none lost anything of {shown} marks shown; \
             {lately} had one on the disk that was not shown yet"
        );
    }

    /// Kills one console at a random moment; how many marks it had shown as recorded,
    /// and whether there was one more on the disk.
    fn killed_once(kill: usize) -> (usize, bool) {
        let mut random = ChaCha8Rng::seed_from_u64(1000 + kill as u64);
        let folder = pty::folder();
        let path = own(folder.path());
        let name = path.to_str().expect("a path");
        let console = pty::Console::start(&["--practice", "--file", name], folder.path());
        console.see("practice, seed 7");
        console.see("say whether the robot is on its stand");
        console.press("<Enter>", "Where is the robot?");
        console.press("<Enter>", "on the stand  Space=limp");
        console.press("i<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
        console.press("w", "full speed");
        console.press("<Enter>", "1 awake");
        console.press("=1460<Enter>", "1460 commanded");
        // Steps so large that each mark comes from the same side, and so takes the place of the one before.
        let mut pulses = (1520..).step_by(20);
        let mut shown: Vec<u32> = pulses.by_ref().take(random.random_range(1..5)).collect();
        for us in &shown {
            console.press(&format!("={us}<Enter>"), &format!("{us} commanded"));
            console.press("m<Enter>", &sentence(*us));
        }
        let last = pulses.next().expect("there is always one more");
        console.press(&format!("={last}<Enter>"), &format!("{last} commanded"));
        // One of three is killed while it also saves.
        console.keys(if kill.is_multiple_of(3) {
            "m<Enter>s"
        } else {
            "m<Enter>"
        });
        // A key takes up to a frame or two until its answer is on the screen.
        std::thread::sleep(Duration::from_micros(random.random_range(0..120_000)));
        console.signal(Signal::KILL);
        // What it had written to the terminal by then still arrives.
        std::thread::sleep(Duration::from_millis(100));
        let screen = console.screen();
        let is_shown = screen.contains(&sentence(last)) || screen.contains("Saved:");
        if is_shown {
            shown.push(last);
        }
        let book = Logbook::open(&path, true).expect("a good logbook");
        let is_there = |us: u32| {
            book.entries().iter().any(|it| {
                matches!(&it.what, What::Mark { pulse_us, angle_deg: 0.0, .. } if *pulse_us == f64::from(us))
            })
        };
        for &us in &shown {
            assert!(
                is_there(us),
                "kill {kill}: the mark at {us} µs was shown as recorded"
            );
        }
        let loaded = file::load(&path).expect("the calibration file is whole");
        assert!(!loaded.is_read_only(), "the lock went with the process");
        (shown.len(), !is_shown && is_there(last))
    }

    fn sentence(us: u32) -> String {
        format!("Recorded: the zero of LF femur is at {us} µs.")
    }
}
