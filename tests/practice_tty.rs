//! `hornset practice --tty`, driven as any serial program would: open the terminal, write lines,
//! read answers, close it, come back. The program itself is the real binary.
#![cfg(all(unix, feature = "practice"))]

use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};

use hornset::board::codec::emit;

/// Long enough for a busy machine; nothing here measures time.
const PATIENCE: Duration = Duration::from_secs(20);

struct Served {
    child: Child,
    path: String,
}

impl Served {
    fn start(args: &[&str]) -> Served {
        Served::start_as(&[&["practice", "--tty"], args].concat())
    }

    fn start_as(args: &[&str]) -> Served {
        let mut child = Command::new(env!("CARGO_BIN_EXE_hornset"))
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the binary starts");
        let mut first = String::new();
        BufReader::new(child.stdout.take().expect("it is piped"))
            .read_line(&mut first)
            .expect("it prints a line");
        let path = first
            .trim_end()
            .strip_prefix("tty ")
            .unwrap_or_else(|| panic!("the first line is {first:?}"))
            .to_string();
        Served { child, path }
    }

    fn signal(&self, signal: rustix::process::Signal) {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, signal).expect("it runs");
    }

    fn ends(&mut self) -> std::process::ExitStatus {
        let start = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().expect("it is our child") {
                return status;
            }
            assert!(start.elapsed() < PATIENCE, "it does not end");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // Only when a test failed; otherwise it has ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A plain program at the terminal.
struct Program {
    tty: File,
    heard: String,
    /// Nothing was heard whole yet: whoever opens a port may come in the middle of a line.
    is_new: bool,
}

impl Program {
    fn open(path: &str) -> Program {
        let tty = OpenOptions::new()
            .read(true)
            .write(true)
            .custom_flags(rustix::fs::OFlags::NOCTTY.bits() as i32)
            .open(path)
            .expect("the terminal opens");
        Program {
            tty,
            heard: String::new(),
            is_new: true,
        }
    }

    fn write(&mut self, bytes: &[u8]) {
        self.tty.write_all(bytes).expect("it is written");
    }

    /// The next whole line with this in it; lines before it are passed over, later ones kept.
    fn hear(&mut self, what: &str) -> String {
        let start = Instant::now();
        loop {
            while let Some(end) = self.heard.find('\n') {
                let line: String = self.heard.drain(..=end).collect();
                if line.contains(what) {
                    return line;
                }
                let passes = std::mem::take(&mut self.is_new) || line.starts_with("event ");
                assert!(passes, "waited for {what:?}: {line:?}");
            }
            assert!(
                start.elapsed() < PATIENCE,
                "waited for {what:?}, heard {:?}",
                self.heard
            );
            self.read();
        }
    }

    /// Reads what has come, after at most a tenth of a second. One handle and no thread, so that
    /// dropping it closes the terminal.
    fn read(&mut self) {
        let wait = Timespec {
            tv_sec: 0,
            tv_nsec: 100_000_000,
        };
        let mut fds = [PollFd::new(&self.tty, PollFlags::IN)];
        if poll(&mut fds, Some(&wait)).expect("it can be waited for") > 0 {
            let mut buf = [0; 256];
            let count = self.tty.read(&mut buf).expect("it is read");
            self.heard.push_str(&String::from_utf8_lossy(&buf[..count]));
        }
    }

    fn hello(&mut self) -> String {
        self.write(b"hello\n");
        self.hear("done proto=1 fw=")
    }

    fn change(&mut self, tag: u16, words: &str) -> String {
        self.write(&emit(Some(tag), words).expect("short"));
        self.hear(&format!("{tag} done"))
    }
}

#[test]
fn a_plain_serial_program_says_hello_wakes_and_moves() {
    let mut served = Served::start(&["--seed", "3"]);
    let mut program = Program::open(&served.path);
    let hello = program.hello();
    assert!(hello.contains(" board=practice "), "{hello}");
    program.change(1, "silence 2000 60000");
    program.change(2, "wake 22 1500");
    program.hear("event awake pin=22;");
    program.change(3, "go 0 22:1550.5");
    let start = Instant::now();
    loop {
        program.write(b"where\n");
        let at = program.hear("done 22:");
        if at.contains(" 22:1550.5 ") {
            break;
        }
        assert!(start.elapsed() < PATIENCE, "{at}");
    }
    program.write(b"limp\n");
    program.hear("done;B49F\n");
    served.signal(rustix::process::Signal::TERM);
    assert_eq!(served.ends().code(), Some(0));
}

#[test]
fn programs_come_and_go_and_the_robot_stays() {
    let mut served = Served::start(&[]);
    for round in 0..3u16 {
        let mut program = Program::open(&served.path);
        let hello = program.hello();
        assert!(hello.contains(" boot=1 "), "round {round}: {hello}");
        assert!(hello.contains(&format!(" last={round} ")), "{hello}");
        program.change(round + 1, "beat");
    }
    // As `echo freeze > tty` does: written and closed at once.
    std::fs::write(&served.path, b"freeze\n").expect("it is written");
    let mut program = Program::open(&served.path);
    let start = Instant::now();
    while !program.hello().contains(" frozen=1 by=asked;") {
        assert!(start.elapsed() < PATIENCE);
    }
    served.signal(rustix::process::Signal::INT);
    assert_eq!(served.ends().code(), Some(0));
}

#[test]
fn nothing_is_echoed_and_bytes_pass_as_they_are() {
    let mut served = Served::start(&["--clean"]);
    let mut program = Program::open(&served.path);
    program.hello();
    // With echo or line editing the robot or we would see other bytes than these.
    program.write(b"hel\x03\x04\x7f\r\n");
    // Any line but an event before it fails `hear`.
    let answer = program.hear("refused");
    assert!(answer.starts_with("0 refused bytes;"), "{answer:?}");
    served.signal(rustix::process::Signal::TERM);
    assert_eq!(served.ends().code(), Some(0));
}

#[test]
fn without_tty_the_command_does_the_same() {
    let mut served = Served::start_as(&["practice"]);
    let mut program = Program::open(&served.path);
    let hello = program.hello();
    assert!(hello.contains(" board=practice "), "{hello}");
    served.signal(rustix::process::Signal::TERM);
    assert_eq!(served.ends().code(), Some(0));
}

#[test]
fn faults_are_named_and_a_wrong_name_is_told_all_of_them() {
    let says = |args: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_hornset"))
            .args(["practice", "--tty"])
            .args(args)
            .output()
            .expect("the binary starts");
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        String::from_utf8_lossy(&out.stderr).into_owned()
    };
    let wrong = says(&["--fault", "gremlins"]);
    assert!(
        wrong.contains("plugs-swapped") && wrong.contains("weak-supply"),
        "{wrong}"
    );
    assert!(says(&["--fault", "play", "--clean"]).contains("cannot be used with"));
    assert!(says(&["--speed", "0"]).contains("1..=200"));
}

#[test]
fn a_served_robot_may_have_single_faults_and_run_fast() {
    let mut served = Served::start(&[
        "--fault", "play", "--fault", "droop", "--sensor", "--speed", "20",
    ]);
    let mut program = Program::open(&served.path);
    program.hello();
    let start = Instant::now();
    // Half a minute since its start, told by the board itself.
    loop {
        let hello = program.hello();
        let up = hello.split_once("up_ms=").map(|(_, rest)| rest);
        let up = up.and_then(|rest| rest.split(' ').next()?.parse::<u64>().ok());
        if up.expect("a number") >= 30_000 {
            break;
        }
        assert!(start.elapsed() < PATIENCE, "{hello}");
    }
    served.signal(rustix::process::Signal::TERM);
    assert_eq!(served.ends().code(), Some(0));
}
