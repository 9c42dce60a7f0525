//! A scripted board in virtual time, with a cable between it and the session: for tests alone.
//!
//! It follows PROTOCOL.md as far as these tests need it; the session against the real firmware
//! core is tested in `tests/`.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::time::Duration;

use super::{Output, Session, ms};
use crate::board::codec::{Assembler, checked, emit};
use crate::board::event::{Event, Ticket};
use crate::board::faulty::{Faults, Mischief};
use crate::board::request::{Kind, Request};
use crate::board::worker::LinkSettings;
use crate::units::Pin;

/// The board.
pub struct FakeBoard {
    pub rate: u32,
    pub proto: u32,
    pub boot: u16,
    pub started: Duration,
    pub last: u16,
    last_line: Vec<u8>,
    last_answer: Vec<u8>,
    pub awake: BTreeSet<Pin>,
    pub guards: BTreeMap<Pin, (u16, u16)>,
    pub frozen: u32,
    /// The silence times, ms.
    pub silence: (u32, u32),
    pub by: &'static str,
    /// The bodies of changes and stops that were done, with when.
    pub done: Vec<(Duration, String)>,
    /// Deaf until then: its boot loader runs, or it has no power.
    pub deaf_until: Duration,
    /// Whether `event ready` is sent after a reset.
    pub says_ready: bool,
    pub cause: &'static str,
    /// This request is refused.
    pub refuses: Option<&'static str>,
    lines: Assembler,
}

impl FakeBoard {
    fn hello(&self, now: Duration) -> String {
        format!(
            "proto={} fw=0.1.0 board=fake id=5e1f0c2a pins=2-69 most=24 tick_ns=500 frame_us=20000 \
             boot={} cause={} up_ms={} last={} frozen={} by={}",
            self.proto,
            self.boot,
            self.cause,
            (now - self.started).as_millis(),
            self.last,
            self.frozen,
            self.by
        )
    }

    fn take(&mut self, bytes: &[u8], now: Duration) -> Vec<u8> {
        let mut answers = Vec::new();
        for &byte in bytes {
            match self.lines.push(byte) {
                None => {}
                Some(Ok(line)) => answers.extend(self.line(&line, now)),
                Some(Err(_)) => answers.extend(emit(Some(0), "refused long").expect("short")),
            }
        }
        answers
    }

    fn line(&mut self, line: &[u8], now: Duration) -> Vec<u8> {
        let Ok(body) = checked(line) else {
            return emit(Some(0), "refused check").expect("short");
        };
        let (tag, words) = body.split_once(' ').expect("the session tags every line");
        let tag: u16 = tag.parse().expect("a tag");
        let request: Request = words.parse().expect("a request");
        if request.kind() != Kind::Change {
            let answer = self.answer(&request, now);
            return emit(Some(tag), &answer).expect("short");
        }
        if tag == self.last && line == self.last_line {
            return self.last_answer.clone();
        }
        let newer = (i32::from(tag) - i32::from(self.last)).rem_euclid(65_535);
        if self.last != 0 && !(1..=32_767).contains(&newer) {
            return emit(Some(tag), &format!("refused stale last={}", self.last)).expect("short");
        }
        let answer = self.answer(&request, now);
        self.last = tag;
        self.last_line = line.to_vec();
        self.last_answer = emit(Some(tag), &answer).expect("short");
        self.last_answer.clone()
    }

    fn answer(&mut self, request: &Request, now: Duration) -> String {
        if self.refuses.is_some_and(|line| line == request.to_string()) {
            return "refused number".into();
        }
        if request.kind() != Kind::Read {
            self.done.push((now, request.to_string()));
        }
        match request {
            Request::Hello => format!("done {}", self.hello(now)),
            Request::Where { .. } => self.whereabouts(Pin::FIRST),
            Request::WhereFrom(pin) => self.whereabouts(*pin),
            Request::SilenceOf => {
                format!(
                    "done freeze_ms={} limp_ms={}",
                    self.silence.0, self.silence.1
                )
            }
            Request::Limp { pins } => {
                self.awake.retain(|p| !pins.is_empty() && !pins.contains(p));
                "done".into()
            }
            Request::Freeze => {
                self.frozen += 1;
                self.by = "asked";
                format!("done n={}", self.frozen)
            }
            Request::Thaw(_) => {
                self.frozen = 0;
                self.by = "none";
                "done".into()
            }
            Request::Guard { pin, low, high } => {
                self.guards.insert(*pin, (low.halves(), high.halves()));
                "done".into()
            }
            Request::Wake { pin, .. } => {
                self.awake.insert(*pin);
                "done in_ms=20".into()
            }
            Request::Go { moves, .. } => match moves.iter().find(|m| !self.awake.contains(&m.0)) {
                Some((pin, _)) => {
                    self.done.pop();
                    format!("refused limp pin={}", pin.number())
                }
                None => "done ms=20".into(),
            },
            _ => "done".into(),
        }
    }

    fn whereabouts(&self, from: Pin) -> String {
        let mut pins = self.awake.range(from..);
        let mut answer = String::from("done");
        for pin in pins.by_ref().take(12) {
            answer += &format!(" {}:1500", pin.number());
        }
        if let Some(more) = pins.next() {
            answer += &format!(" more={}", more.number());
        }
        answer + &format!(" frozen={}", self.frozen)
    }
}

/// Session, cable and board, and a clock that only [`World::run`] moves.
pub struct World {
    pub session: Session,
    pub board: FakeBoard,
    pub now: Duration,
    pub events: Vec<Event>,
    /// What the session wrote, with when and at which rate.
    pub written: Vec<(Duration, u32, String)>,
    /// The cable carries nothing.
    pub cut: bool,
    /// The cable's two ends are joined: what is sent comes back.
    pub loopback: bool,
    rate: u32,
    cable: Mischief,
    up: VecDeque<(Duration, Vec<u8>)>,
    down: VecDeque<(Duration, Vec<u8>)>,
    tickets: u64,
}

impl World {
    pub fn new(settings: LinkSettings) -> World {
        World {
            session: Session::new(settings),
            board: FakeBoard {
                rate: 250_000,
                proto: 1,
                boot: 7,
                started: Duration::ZERO,
                last: 0,
                last_line: Vec::new(),
                last_answer: Vec::new(),
                awake: BTreeSet::new(),
                guards: BTreeMap::new(),
                frozen: 0,
                silence: (500, 10_000),
                by: "none",
                done: Vec::new(),
                deaf_until: Duration::ZERO,
                says_ready: true,
                cause: "power",
                refuses: None,
                lines: Assembler::default(),
            },
            now: ms(10_000),
            events: Vec::new(),
            written: Vec::new(),
            cut: false,
            loopback: false,
            rate: 0,
            cable: Mischief::new(Faults::default(), 0),
            up: VecDeque::new(),
            down: VecDeque::new(),
            tickets: 0,
        }
    }

    /// A world in which the board was found and everything the session asks by itself is answered.
    pub fn found() -> World {
        let mut world = World::new(LinkSettings::default());
        world.open();
        world.run(200);
        world.events.clear();
        world.written.clear();
        world
    }

    pub fn open(&mut self) {
        self.session.opened(self.now);
        self.settle();
    }

    pub fn faults(&mut self, faults: Faults, seed: u64) {
        self.cable = Mischief::new(faults, seed);
    }

    pub fn ask(&mut self, line: &str) -> Ticket {
        self.tickets += 1;
        let ticket = Ticket(self.tickets);
        self.session
            .ask(ticket, line.parse().expect(line), self.now);
        ticket
    }

    /// The board resets; it is deaf for so long.
    pub fn reset(&mut self, boot: u16, deaf_ms: u64, cause: &'static str) {
        self.down.clear();
        self.up.clear();
        let board = &mut self.board;
        board.boot = boot;
        board.started = self.now + ms(deaf_ms);
        board.deaf_until = board.started;
        board.last = 0;
        board.awake.clear();
        board.guards.clear();
        board.frozen = 0;
        board.silence = (500, 10_000);
        board.by = "none";
        board.cause = cause;
        board.lines.clear();
        if board.says_ready {
            let ready = format!("event ready {}", board.hello(board.started));
            let line = emit(None, &ready).expect("short");
            self.down.push_back((board.started + ms(3), line));
        }
    }

    /// The board says this by itself.
    pub fn say(&mut self, words: &str) {
        self.down
            .push_back((self.now + ms(2), emit(None, words).expect("short")));
    }

    /// Lets time pass, a millisecond at a time. The session is polled only when it asked for it.
    pub fn run(&mut self, for_ms: u64) {
        for _ in 0..for_ms {
            self.settle();
            self.now += ms(1);
        }
        self.settle();
    }

    /// Everything that is due at this very moment.
    pub fn settle_once(&mut self) {
        self.settle();
    }

    fn settle(&mut self) {
        while self.up.front().is_some_and(|l| l.0 <= self.now) {
            let (_, line) = self.up.pop_front().expect("a line");
            if self.loopback {
                self.down.push_back((self.now + ms(2), line));
            } else if self.now >= self.board.deaf_until && !self.cut {
                let answer = self.board.take(&line, self.now);
                for line in answer.split_inclusive(|b| *b == b'\n') {
                    let line = self.cable.pass(line);
                    self.down.push_back((self.now + ms(2), line));
                }
            }
        }
        while self.down.front().is_some_and(|l| l.0 <= self.now) {
            let (_, mut line) = self.down.pop_front().expect("a line");
            if self.cut {
                continue;
            }
            if self.rate != self.board.rate && !self.loopback {
                line.iter_mut().for_each(|b| *b = b.rotate_left(3) ^ 0x55);
            }
            self.session.receive(&line, self.now);
        }
        if self.session.poll_at().is_some_and(|at| at <= self.now) {
            self.session.poll(self.now);
            let at = self.session.poll_at();
            assert!(
                at.is_none_or(|at| at > self.now),
                "it would spin: {at:?} at {:?}",
                self.now
            );
        }
        while let Some(output) = self.session.next_output() {
            match output {
                Output::Rate(rate) => self.rate = rate,
                Output::Line(line) => {
                    let text = String::from_utf8(line.clone()).expect("ASCII");
                    self.written
                        .push((self.now, self.rate, text.trim_end().into()));
                    let line = self.cable.pass(&line);
                    if self.rate == self.board.rate || self.loopback {
                        self.up.push_back((self.now + ms(1), line));
                    }
                }
            }
        }
        while let Some(event) = self.session.next_event() {
            self.events.push(event);
        }
    }

    /// The words of what was written, without tag and check, the session's own reads left out.
    pub fn words(&self) -> Vec<&str> {
        self.written
            .iter()
            .filter_map(|(_, _, line)| line.split_once(' '))
            .map(|(_, rest)| rest.split(';').next().unwrap_or(rest))
            .filter(|w| {
                !matches!(*w, "hello" | "where" | "silence") && !w.starts_with("where from")
            })
            .collect()
    }

    /// What the board has done, its words alone.
    pub fn done(&self) -> Vec<&str> {
        self.board.done.iter().map(|d| d.1.as_str()).collect()
    }
}
