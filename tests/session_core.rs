//! The host's session against the real firmware core, in virtual time, over a cable with faults.
//!
//! Nothing here sleeps: a millisecond passes when the test says so, bytes take their time on the
//! wire, and what counts is the pulses that the core asks for.
#![cfg(feature = "practice")]

use std::collections::VecDeque;
use std::time::Duration;

use hornset::board::codec::Assembler;
use hornset::board::faulty::{Faults, Mischief};
use hornset::board::session::{Output, Session};
use hornset::board::{By, Done, Event, LinkSettings, Reason, ResetCause, Stop, Ticket};
use hornset::practice::{Firmware, Identity};
use hornset::units::{Pin, Pulse};

/// Session, wire and core.
struct Bench {
    session: Session,
    firmware: Firmware,
    board_rate: u32,
    host_rate: u32,
    now_ms: u64,
    cable: Mischief,
    /// Bytes under way to the board, and those to the host gathered to lines.
    up: VecDeque<u8>,
    down: Assembler,
    events: Vec<Event>,
    written: Vec<String>,
    /// The pulses of pin 22 in half µs, one for each frame; 0: none.
    pulses: Vec<u16>,
    tickets: u64,
}

impl Bench {
    fn new(board_rate: u32) -> Bench {
        let identity = Identity {
            fw: "0.1.0".into(),
            board: "core".into(),
            id: 7,
        };
        let mut bench = Bench {
            session: Session::new(LinkSettings::default()),
            firmware: Firmware::new(identity),
            board_rate,
            host_rate: 0,
            now_ms: 1000,
            cable: Mischief::new(Faults::default(), 0),
            up: VecDeque::new(),
            down: Assembler::default(),
            events: Vec::new(),
            written: Vec::new(),
            pulses: Vec::new(),
            tickets: 0,
        };
        bench.session.opened(bench.now());
        bench
    }

    /// A bench whose board was found.
    fn found() -> Bench {
        let mut bench = Bench::new(250_000);
        bench.run(2500);
        assert!(
            bench
                .events
                .iter()
                .any(|e| matches!(e, Event::Found { .. }))
        );
        bench.events.clear();
        bench.written.clear();
        bench
    }

    fn now(&self) -> Duration {
        Duration::from_millis(self.now_ms)
    }

    fn ask(&mut self, line: &str) -> Ticket {
        self.tickets += 1;
        let ticket = Ticket(self.tickets);
        self.session
            .ask(ticket, line.parse().expect(line), self.now());
        ticket
    }

    /// Asks, lets it be answered, and expects `done`.
    fn do_it(&mut self, line: &str) {
        let ticket = self.ask(line);
        self.run(100);
        assert!(
            self.events.iter().any(|e| matches!(
                e, Event::Answer { ticket: t, result: Ok(_) } if *t == ticket
            )),
            "{line}: {:?}",
            self.events
        );
    }

    fn run(&mut self, for_ms: u64) {
        for _ in 0..for_ms {
            self.step();
        }
    }

    fn step(&mut self) {
        let now = self.now();
        if self.session.poll_at().is_some_and(|at| at <= now) {
            self.session.poll(now);
        }
        while let Some(output) = self.session.next_output() {
            match output {
                Output::Rate(rate) => self.host_rate = rate,
                Output::Line(line) => {
                    self.written
                        .push(String::from_utf8(line.clone()).expect("ASCII"));
                    self.up.extend(self.cable.pass(&line));
                }
            }
        }
        // Ten bits a byte.
        let bytes = (self.host_rate / 10_000).max(1) as usize;
        for _ in 0..bytes.min(self.up.len()) {
            let byte = self.up.pop_front().expect("a byte");
            if self.host_rate == self.board_rate {
                self.firmware.receive(&[byte]);
            } else {
                // At another rate nearly every byte ends in a framing error.
                self.firmware.receive_error();
            }
        }
        if self.firmware.step() {
            let pulses = self.firmware.pulses();
            let pulse = pulses.iter().find(|p| p.pin == 22 && p.ticks != 0);
            self.pulses.push(pulse.map_or(0, |p| p.ticks));
        }
        for byte in self.firmware.take_sent((self.board_rate / 10_000) as usize) {
            if let Some(Ok(mut line)) = self.down.push(byte) {
                line.push(b'\n');
                let mut line = self.cable.pass(&line);
                if self.host_rate != self.board_rate {
                    line.iter_mut().for_each(|b| *b = b.rotate_left(3) ^ 0x55);
                }
                self.session.receive(&line, now);
            }
        }
        while let Some(event) = self.session.next_event() {
            self.events.push(event);
        }
        self.now_ms += 1;
    }

    fn run_until_fate(&mut self, ticket: Ticket) {
        let fate = |e: &Event| match e {
            Event::Answer { ticket: t, .. }
            | Event::NoAnswer { ticket: t }
            | Event::Dropped { ticket: t, .. } => *t == ticket,
            _ => false,
        };
        let until = self.now_ms + 10_000;
        while !self.events.iter().any(fate) {
            self.step();
            assert!(self.now_ms < until, "no fate for {ticket:?}");
        }
    }

    fn answer(&self, ticket: Ticket) -> Option<Result<&Done, Reason>> {
        self.events.iter().find_map(|e| match e {
            Event::Answer { ticket: t, result } if *t == ticket => {
                Some(result.as_ref().map_err(|r| r.reason))
            }
            _ => None,
        })
    }

    fn frozen(&self) -> bool {
        self.events
            .iter()
            .any(|e| matches!(e, Event::Frozen { .. }))
    }
}

#[test]
fn the_core_is_found_at_either_rate_and_by_nobody_else() {
    for rate in [250_000, 115_200] {
        let mut bench = Bench::new(rate);
        bench.run(1500);
        let found = bench.events.iter().find_map(|e| match e {
            Event::Found { hello, rate } => Some((hello.id, *rate)),
            _ => None,
        });
        assert_eq!(found, Some((7, rate)));
    }
}

/// A peck shows in the pulses each time it is done: one frame at the outer pulse, no more. So a
/// peck that was done twice would be seen on the pin.
#[test]
fn no_peck_is_done_twice_over_a_bad_cable() {
    let (mut repeats, mut calm) = (0, 0);
    for seed in 0..60 {
        let mut bench = Bench::found();
        bench.do_it("wake 22 1500");
        bench.cable = Mischief::new(
            Faults {
                drop: 0.15,
                damage: 0.05,
                twice: 0.1,
                delay: 0.0,
            },
            seed,
        );
        bench.pulses.clear();
        bench.written.clear();
        let mut tickets = Vec::new();
        for _ in 0..25 {
            let ticket = bench.ask("peck 22 1510 0");
            tickets.push(ticket);
            bench.run_until_fate(ticket);
            bench.run(60); // One peck at a time: two that overlap would look like one.
        }
        bench.cable = Mischief::new(Faults::default(), 0);
        bench.run(3000);
        let pecks = bench.written.iter().filter(|l| l.contains("peck"));
        let mut lines: Vec<&String> = pecks.collect();
        let sent = lines.len();
        lines.dedup();
        repeats += sent - lines.len();
        let out = bench.pulses.iter().filter(|p| **p == 3020).count();
        assert!(
            out <= lines.len(),
            "seed {seed}: {out} pecks seen, {} asked",
            lines.len()
        );
        let done = tickets
            .iter()
            .filter(|t| matches!(bench.answer(**t), Some(Ok(_))))
            .count();
        if !bench.frozen() {
            calm += 1;
            assert!(
                out >= done,
                "seed {seed}: {out} pecks seen, {done} said to be done"
            );
        }
        let other = bench.pulses.iter().find(|p| ![0, 3000, 3020].contains(*p));
        assert_eq!(other, None, "seed {seed}");
    }
    assert!(repeats > 100, "the cable was too good: {repeats} repeats");
    assert!(
        calm > 10,
        "the cable was too bad: {calm} runs without a freeze"
    );
}

#[test]
fn a_stop_overtakes_a_full_queue_within_fifteen_milliseconds() {
    let mut bench = Bench::found();
    for pin in 22..38 {
        bench.ask(&format!("wake {pin} 1500"));
    }
    bench.run(3000);
    let all: String = (22..38).map(|pin| format!(" {pin}:1600")).collect();
    for _ in 0..200 {
        bench.ask(&format!("go 2000{all}"));
    }
    bench
        .session
        .jog(Pin::new(22).expect("a pin"), Pulse::CENTRE, bench.now());
    bench.run(30);
    bench.session.stop(Stop::Limp, bench.now());
    let stopped_at = bench.now_ms;
    while bench.firmware.pulses().iter().any(|p| p.ticks != 0) {
        bench.step();
        assert!(bench.now_ms <= stopped_at + 15, "still pulses after 15 ms");
    }
    bench.run(500);
    let dropped = bench
        .events
        .iter()
        .filter(|e| matches!(e, Event::Dropped { .. }))
        .count();
    assert!(dropped > 150, "{dropped}");
    assert!(bench.events.iter().any(|e| matches!(
        e,
        Event::Stopped {
            stop: Stop::Limp,
            ..
        }
    )));
    assert!(
        bench.firmware.pulses().iter().all(|p| p.ticks == 0),
        "nothing woke again"
    );
}

#[test]
fn reset_in_mid_work_nothing_moves_until_the_guards_stand_again() {
    let mut bench = Bench::found();
    bench.do_it("guard 22 1000 2000");
    bench.do_it("slew all 5000");
    bench.do_it("wake 22 1900");
    bench.ask("go 1000 22:1100");
    bench.run(200);
    bench.events.clear();
    let lost = bench.ask("go 1000 22:1800");
    bench.firmware.reset(ResetCause::Brownout);
    bench.pulses.clear();
    bench.run(2000);
    assert!(bench.pulses.iter().all(|p| *p == 0), "a pin woke by itself");
    assert_eq!(bench.answer(lost), None);
    let order: Vec<&str> = bench
        .events
        .iter()
        .filter_map(|e| match e {
            Event::Reset {
                cause: ResetCause::Brownout,
                ..
            } => Some("reset"),
            Event::Restored { .. } => Some("restored"),
            Event::Dropped { .. } => Some("dropped"),
            _ => None,
        })
        .collect();
    assert_eq!(order, ["dropped", "reset", "restored"]);
    // 1900 lies outside the guard of a pin that has none: it stands again.
    bench.do_it("wake 22 1900");
    bench.run(50);
    assert_eq!(bench.pulses.last(), Some(&3800));
}

#[test]
fn an_unseen_reset_just_before_a_wake_wakes_nothing() {
    let mut bench = Bench::found();
    bench.do_it("guard 22 1000 2000");
    bench.cable = Mischief::new(
        Faults {
            drop: 1.0,
            ..Faults::default()
        },
        0,
    );
    bench.firmware.reset(ResetCause::Brownout);
    bench.run(30); // `event ready` is lost.
    bench.cable = Mischief::new(Faults::default(), 0);
    let wake = bench.ask("wake 22 1500");
    bench.pulses.clear();
    bench.run(1000);
    assert_eq!(bench.answer(wake), None);
    assert!(bench.pulses.iter().all(|p| *p == 0));
    bench.do_it("wake 22 1900");
}

#[test]
fn fed_it_stays_awake_and_starved_it_freezes_and_goes_limp() {
    let mut bench = Bench::found();
    bench.do_it("wake 22 1500");
    bench.run(30_000);
    assert!(!bench.frozen());
    assert_eq!(bench.pulses.last(), Some(&3000));
    // The host does not run for 700 ms; the board does.
    for _ in 0..700 {
        bench.firmware.step();
    }
    bench.now_ms += 700;
    bench.run(9000);
    assert!(bench.events.iter().any(|e| matches!(
        e,
        Event::Frozen {
            by: By::Silence,
            ..
        }
    )));
    bench.run(2000);
    assert!(
        bench
            .events
            .iter()
            .any(|e| matches!(e, Event::WentLimp { by: By::Silence }))
    );
    assert!(
        !bench
            .events
            .iter()
            .any(|e| matches!(e, Event::Lost { .. } | Event::Reset { .. }))
    );
}

#[test]
fn eight_damaged_lines_are_reported_as_noise() {
    let mut bench = Bench::found();
    bench.do_it("wake 22 1500");
    for _ in 0..8 {
        bench.firmware.receive(b"\x80\n");
        bench.run(20);
    }
    let remedy = bench.events.iter().find_map(|e| match e {
        Event::Frozen { by: By::Noisy, .. } => e.remedy(),
        _ => None,
    });
    assert!(remedy.is_some_and(|r| r.contains("cable")));
}
