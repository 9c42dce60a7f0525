//! The console without terminal and board: keys as text, virtual time, a scripted board; *before, keys, after*.

mod body;
mod everywhere;
mod first;
mod foot;
mod guided;
mod jog;
mod lines;
mod quit;
mod record;
mod stop;
mod trouble;

use std::collections::BTreeMap;
use std::time::Duration;

use super::effect::{Effect, Fate, Input, Now};
use super::keys::Key;
use super::pages::first::{FirstRun, open};
use super::state::State;
use super::update::update;
use super::{bench::Place, compose, view};
use crate::board::fields::Fields;
use crate::board::{
    By, Done, Event, Hello, PinAt, PinState, Reason, Refusal, Request, ResetCause, Stop, Where,
};
use crate::units::{Pin, Pulse};

/// A console at a bench whose board does what it is asked at once.
pub struct Desk {
    pub state: State,
    pub now: Duration,
    /// Everything that was asked of the world, in order.
    pub log: Vec<Effect>,
    /// The board's pins.
    pub pulses: BTreeMap<Pin, Pulse>,
    pub freezes: u32,
    pub frozen: bool,
    /// What the board will refuse next.
    pub refuse: Option<Refusal>,
    /// The board does not answer while this is set.
    pub mute: bool,
    /// The order of pins that `pose` means.
    pub roster: Vec<Pin>,
    /// Every `pose` and when it was sent.
    pub poses: Vec<(Duration, Vec<Pulse>)>,
    /// What the last step of guided work that had anything to say said, line by line.
    told: Vec<String>,
}

impl Desk {
    /// On the first screen.
    pub fn new() -> Desk {
        let work = super::work::Work::plan("calibrations".into(), "2026-03-14T10:00:00Z")
            .expect("the plan reads");
        Desk::with(work)
    }

    pub fn with(work: super::work::Work) -> Desk {
        Desk {
            state: State::new(work, FirstRun::new(7, true)),
            now: Duration::ZERO,
            log: Vec::new(),
            pulses: BTreeMap::new(),
            freezes: 0,
            frozen: false,
            refuse: None,
            mute: false,
            roster: Vec::new(),
            poses: Vec::new(),
            told: Vec::new(),
        }
    }

    /// On Jog of LF femur, on the stand, nothing awake.
    pub fn on_jog() -> Desk {
        let mut desk = Desk::new();
        desk.open();
        desk.keys("<Enter> <Enter> i <F2> <Down> <Enter>");
        assert_eq!(desk.row(0), "Jog");
        desk.log.clear();
        desk
    }

    /// The same, awake at 1500.
    pub fn awake() -> Desk {
        let mut desk = Desk::on_jog();
        desk.keys("w <Enter>");
        desk.log.clear();
        desk
    }

    /// Awake and on the ground.
    pub fn on_the_ground() -> Desk {
        let mut desk = Desk::awake();
        desk.keys("G <Enter>");
        assert_eq!(desk.screen().head.place, view::Place::Ground);
        desk
    }

    pub fn open(&mut self) {
        let place = Place::Practice {
            seed: 7,
            clean: false,
        };
        let effects = open(&mut self.state, place);
        self.carry_out(effects);
    }

    /// Presses keys.
    pub fn keys(&mut self, text: &str) {
        for key in Key::parse_all(text).expect("keys as text") {
            self.input(Input::Key(key));
        }
    }

    /// Lets time pass in steps, with the board's watch every 50 ms.
    pub fn wait(&mut self, time: Duration) {
        let end = self.now + time;
        while self.now < end {
            self.now += Duration::from_millis(50);
            self.input(Input::Tick);
            if !self.mute {
                self.watch();
            }
        }
    }

    /// Lets time pass in steps of this length, with the board's watch every 50 ms.
    pub fn run(&mut self, time: Duration, step: Duration) {
        let end = self.now + time;
        while self.now < end {
            let before = self.now.as_millis() / 50;
            self.now += step;
            self.input(Input::Tick);
            if !self.mute && self.now.as_millis() / 50 > before {
                self.watch();
            }
        }
    }

    fn watch(&mut self) {
        let at = self.whereabouts(Some((self.now.as_millis() / 20) as u32));
        self.input(Input::Board(Event::Where(at)));
    }

    fn whereabouts(&self, frame: Option<u32>) -> Where {
        Where {
            pins: self
                .pulses
                .iter()
                .map(|(pin, pulse)| PinAt {
                    pin: *pin,
                    pulse: Some(*pulse),
                    state: PinState::Awake,
                })
                .collect(),
            frame,
            more: None,
            frozen: if self.frozen { self.freezes } else { 0 },
        }
    }

    pub fn input(&mut self, input: Input) {
        let now = self.now();
        let effects = update(&mut self.state, input, &now);
        self.two_lines_fit();
        self.lines_fit();
        self.carry_out(effects);
    }

    /// At 80 columns neither the next line nor the second is cut, whatever was done to come here.
    #[track_caller]
    fn two_lines_fit(&self) {
        let notice = compose::next_lines(&self.state, self.now);
        let more = match notice.more {
            0 => 0,
            n => format!(" (+{n})").chars().count(),
        };
        // A sign and two blanks stand before the text.
        let room = 80 - 3;
        let next = notice.next.chars().count() + more;
        assert!(
            next <= room,
            "{next} > {room} with (+{}): {:?}",
            notice.more,
            notice.next
        );
        let second = notice.second.chars().count();
        assert!(second <= room, "{second} > {room}: {:?}", notice.second);
    }

    /// At 80×24 everything that a step of guided work has to say stands on the screen.
    #[track_caller]
    fn lines_fit(&mut self) {
        let step = self.state.guided.as_ref().map(|guided| guided.step());
        let Some(step) = step.filter(|it| !it.lines.is_empty() && it.lines != self.told) else {
            return;
        };
        let screen = self.screen();
        let view::Page::Guided(page) = &screen.page else {
            return;
        };
        let rows = lines::drawn(self, 80, 24);
        for line in &page.lines {
            let is_there = rows.iter().any(|row| row.contains(line.trim_end()));
            assert!(
                is_there || screen.overlay.is_some(),
                "{line:?} is not on {rows:#?}"
            );
        }
        self.told = step.lines;
    }

    pub fn event(&mut self, event: Event) {
        self.input(Input::Board(event));
    }

    pub fn now(&self) -> Now {
        Now {
            at: self.now,
            stamp: "2026-03-14T10:22:05Z".into(),
            clock: "10:41".into(),
        }
    }

    fn carry_out(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            self.log.push(effect.clone());
            if let Effect::Ask(_, Request::Pose { pulses, .. }) = &effect {
                let pulses = pulses.iter().map(|p| p.expect("every pin is moved"));
                self.poses.push((self.now, pulses.collect()));
            }
            match effect {
                Effect::Open(_) => self.event(Event::Found {
                    hello: hello(1),
                    rate: 250_000,
                }),
                Effect::Ask(id, request) if !self.mute => {
                    let result = match self.refuse.take() {
                        Some(refusal) => Err(refusal),
                        None => Ok(self.done(&request)),
                    };
                    let went = result.is_ok();
                    self.input(Input::Asked(id, Fate::Answered(result)));
                    if let (true, Request::Wake { pin, .. }) = (went, request) {
                        self.event(Event::Awake(pin));
                    }
                }
                Effect::Jog(pin, pulse) if !self.mute => {
                    let result = match self.refuse.take() {
                        Some(refusal) => Err(refusal),
                        None => {
                            self.pulses.insert(pin, pulse);
                            Ok(Done::Move { ms: 20 })
                        }
                    };
                    let moves = vec![(pin, pulse)];
                    self.event(Event::Jogged { moves, result });
                    self.now += Duration::from_millis(20);
                    self.watch();
                }
                Effect::Record { whats, stamp } => {
                    let (book, _) = self.state.work.book_and_file_mut();
                    let result = book.append(&whats, &stamp).map(|_| ());
                    self.input(Input::Recorded(result.map_err(|e| e.to_string())));
                }
                Effect::Stop(stop) if !self.mute => {
                    let n = match stop {
                        Stop::Limp => {
                            self.pulses.clear();
                            None
                        }
                        Stop::Freeze => {
                            self.freezes += 1;
                            self.frozen = true;
                            Some(self.freezes)
                        }
                    };
                    self.event(Event::Stopped { stop, n });
                    if let Some(n) = n {
                        self.event(Event::Frozen { n, by: By::Asked });
                    }
                }
                _ => {}
            }
        }
    }

    fn done(&mut self, request: &Request) -> Done {
        match request {
            Request::Wake { pin, pulse } => {
                self.pulses.insert(*pin, *pulse);
                Done::Wake { in_ms: 20 }
            }
            Request::Go { ms, moves } => {
                self.pulses.extend(moves.iter().copied());
                Done::Move { ms: *ms }
            }
            Request::Limp { pins } => {
                // None named means all.
                self.pulses
                    .retain(|pin, _| !pins.is_empty() && !pins.contains(pin));
                Done::Plain
            }
            Request::Roster(pins) => {
                self.roster.clone_from(pins);
                Done::Roster {
                    pins: pins.len() as u32,
                }
            }
            Request::Pose { ms, pulses } => {
                for (pin, pulse) in self.roster.iter().zip(pulses) {
                    self.pulses.extend(pulse.map(|pulse| (*pin, pulse)));
                }
                Done::Move { ms: *ms }
            }
            Request::Thaw(_) => {
                self.frozen = false;
                Done::Plain
            }
            Request::Where { .. } => Done::Where(self.whereabouts(None)),
            _ => Done::Plain,
        }
    }

    /// What stands on the screen.
    pub fn screen(&self) -> view::Screen {
        compose::screen(&self.state, self.now)
    }

    /// The title's page, the next line, the second line: 0, 1, 2.
    pub fn row(&self, index: usize) -> String {
        let screen = self.screen();
        match index {
            0 => screen.title.page,
            1 => screen.notice.next,
            _ => screen.notice.second,
        }
    }

    /// Asserts on the next line's beginning.
    #[track_caller]
    pub fn says(&self, start: &str) {
        let next = self.row(1);
        assert!(next.starts_with(start), "says {next:?}, not {start:?}");
    }

    /// Everything asked of the board since the log was cleared, as the words of its lines.
    pub fn asked(&self) -> Vec<String> {
        self.log
            .iter()
            .filter_map(|effect| match effect {
                Effect::Ask(_, request) => Some(request.to_string()),
                Effect::Jog(pin, pulse) => Some(format!("jog {pin} {pulse}")),
                Effect::Stop(Stop::Limp) => Some("STOP limp".into()),
                Effect::Stop(Stop::Freeze) => Some("STOP freeze".into()),
                _ => None,
            })
            .collect()
    }

    /// Whether anything was asked that moves a pin.
    pub fn moved(&self) -> bool {
        self.log.iter().any(|effect| match effect {
            Effect::Jog(..) => true,
            Effect::Ask(_, request) => request.may_move(),
            _ => false,
        })
    }

    pub fn femur_pulse(&self) -> Option<f64> {
        self.pulses.get(&pin(23)).map(|p| p.us())
    }
}

pub fn pin(number: u8) -> Pin {
    Pin::new(number).expect("a pin")
}

pub fn hello(boot: u16) -> Hello {
    Hello {
        proto: 1,
        fw: "0.1.0".into(),
        board: "atmega2560".into(),
        id: 7,
        most: 24,
        boot,
        cause: ResetCause::Power,
        up_ms: 500,
        last: 0,
        frozen: 0,
        by: None,
    }
}

/// A refusal with these fields.
pub fn refusal(reason: Reason, fields: &str) -> Refusal {
    Refusal {
        reason,
        fields: Fields::new(fields.split(' ').filter(|w| !w.is_empty())),
    }
}
