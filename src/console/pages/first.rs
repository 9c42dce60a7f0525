//! The first screen: where do we work today? No port is opened before one is chosen here by name.

use std::path::PathBuf;
use std::time::Duration;

use super::{Page, PageId};
use crate::board::ports::PortInfo;
use crate::console::bench::{LinkState, Place};
use crate::console::command::{CHOOSE, ENTER_SHOWN, ESC, HELP, QUIT, SPACE};
use crate::console::compose;
use crate::console::effect::{Effect, Now};
use crate::console::intent::{Intent, Way};
use crate::console::layers::Table;
use crate::console::measure::path_shown;
use crate::console::state::State;
use crate::console::view;

/// How often the ports are looked for, which opens none of them.
pub const LOOK_EVERY: Duration = Duration::from_secs(2);

/// So much of a file's name has room at 80 columns.
const LONGEST_FILE: usize = 32;

/// The first screen's list.
#[derive(Debug)]
pub struct FirstRun {
    ports: Vec<PortInfo>,
    error: Option<String>,
    chosen: usize,
    looked: Option<Duration>,
    next_look: Duration,
    seed: u64,
    /// This build has a practice robot.
    practice: bool,
    /// Calibration files that could be opened instead of none, the newest first.
    at_hand: Vec<PathBuf>,
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Line {
    Port(PortInfo),
    Practice { clean: bool },
    LookAgain,
}

impl FirstRun {
    /// A list that was never looked for yet.
    pub fn new(seed: u64, practice: bool) -> FirstRun {
        FirstRun {
            ports: Vec::new(),
            error: None,
            chosen: 0,
            looked: None,
            next_look: Duration::ZERO,
            seed,
            practice,
            at_hand: Vec::new(),
        }
    }

    /// With files that could have been named on the command line, the newest first.
    pub fn with_files(self, at_hand: Vec<PathBuf>) -> FirstRun {
        FirstRun { at_hand, ..self }
    }

    /// How one of the files at hand is opened: what was named when the console was started stays.
    fn how_to_open(&self) -> Option<String> {
        let newest = self.at_hand.first()?.to_string_lossy();
        let plain = |c: char| c.is_ascii_alphanumeric() || "-_./".contains(c);
        let file = if newest.chars().count() <= LONGEST_FILE && newest.chars().all(plain) {
            &newest
        } else {
            // A name that a shell would read otherwise, or that is too long here.
            "calibrations/NAME.toml"
        };
        Some(format!("none: quit, then hornset --file {file}"))
    }

    /// USB ports first, then the practice robot, then ports that are hardly ever a board: none of those is offered first.
    fn lines(&self) -> Vec<Line> {
        let ports = |usb: bool| {
            let of_kind = move |port: &&PortInfo| port.usb.is_some() == usb;
            self.ports.iter().filter(of_kind).cloned().map(Line::Port)
        };
        let mut lines: Vec<Line> = ports(true).collect();
        let usb = !lines.is_empty();
        if self.practice {
            lines.push(Line::Practice { clean: false });
            if !usb {
                lines.push(Line::Practice { clean: true });
            }
        }
        lines.extend(ports(false));
        if !usb {
            lines.push(Line::LookAgain);
        }
        lines
    }

    /// Whether it is time to look; the next time is set with it.
    pub fn look_due(&mut self, now: Duration) -> bool {
        let due = now >= self.next_look;
        if due {
            self.next_look = now + LOOK_EVERY;
        }
        due
    }

    /// What the look found. What was chosen stays chosen, wherever it stands now.
    pub fn ports_seen(&mut self, ports: Result<Vec<PortInfo>, String>, now: Duration) {
        let chosen = self.lines().get(self.chosen).cloned();
        let first_look = self.looked.is_none();
        self.looked = Some(now);
        match ports {
            Ok(ports) => (self.ports, self.error) = (ports, None),
            Err(why) => (self.ports, self.error) = (Vec::new(), Some(why)),
        }
        let lines = self.lines();
        self.chosen = match chosen {
            Some(line) if !first_look => lines.iter().position(|l| *l == line).unwrap_or(0),
            _ => 0,
        };
    }

    fn heading(&self) -> String {
        match (self.ports.len(), &self.error) {
            (0, Some(_)) => "The serial ports could not be listed.".into(),
            (0, None) => "No serial port is there.".into(),
            (1, _) => "One serial port.".into(),
            (n, _) => {
                let words = [
                    "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine",
                ];
                match words.get(n - 2) {
                    Some(word) => format!("{word} serial ports."),
                    None => format!("{n} serial ports."),
                }
            }
        }
    }

    fn seconds_since_look(&self, now: Duration) -> Option<u64> {
        Some(now.saturating_sub(self.looked?).as_secs())
    }
}

/// The first screen.
pub struct First;

const TABLE: Table = &[&CHOOSE, &ENTER_SHOWN, &SPACE, &ESC, &HELP, &QUIT];

impl Page for First {
    fn id(&self) -> PageId {
        PageId::First
    }

    fn name(&self) -> &'static str {
        "First screen"
    }

    fn purpose(&self) -> &'static str {
        "where do we work today?"
    }

    fn table(&self) -> Table {
        TABLE
    }

    fn opens(&self, state: &State) -> Result<(), String> {
        match state.bench.awake() + state.bench.waking() {
            0 => Ok(()),
            n => Err(format!("{n} awake: z or Space first")),
        }
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        if state.bench.link == LinkState::Opening {
            return (
                "Waiting for the board to answer: up to 4 seconds.".into(),
                "It was reset by the opening; everything is limp. Space stops.".into(),
            );
        }
        match state.first.lines().get(state.first.chosen) {
            Some(Line::Port(port)) => (
                format!(
                    "Enter opens the board on {}. Connecting resets it: it drops.",
                    port.short()
                ),
                "Put the robot on its stand or its belly first. Space stops, always.".into(),
            ),
            Some(Line::Practice { .. }) => (
                "Enter opens the practice robot. Nothing real can move.".into(),
                "Plug in a board at any time: it appears here by itself.".into(),
            ),
            _ => (
                "Enter looks again for a serial port.".into(),
                match &state.first.error {
                    Some(why) => why.clone(),
                    None => "Plug in a board at any time: it appears here by itself.".into(),
                },
            ),
        }
    }

    fn big_words(&self, _state: &State) -> String {
        "ON THE STAND?".into()
    }

    fn title(&self, _state: &State) -> view::Title {
        let version = env!("CARGO_PKG_VERSION");
        let short = version.rsplit_once('.').map_or(version, |(v, _)| v);
        view::Title {
            page: format!("hornset {short}"),
            subject: "where do we work today?".into(),
            simulated: None,
            urgent: false,
        }
    }

    fn picture(&self, state: &State, now: Duration) -> view::Page {
        let first = &state.first;
        let choices = first
            .lines()
            .into_iter()
            .map(|line| match line {
                Line::Port(port) => view::Choice {
                    name: port.short(),
                    detail: port
                        .usb
                        .as_ref()
                        .map_or("not USB".into(), ToString::to_string),
                    note: String::new(),
                },
                Line::Practice { clean } => view::Choice {
                    name: "practice robot".into(),
                    detail: if clean {
                        "clean, no faults".into()
                    } else {
                        format!("Marram, seed {}, faults as on a real bench", first.seed)
                    },
                    note: String::new(),
                },
                Line::LookAgain => view::Choice {
                    name: "look again".into(),
                    detail: match first.seconds_since_look(now) {
                        Some(s) => format!("last look {s} s ago, every 2 s"),
                        None => "every 2 s".into(),
                    },
                    note: String::new(),
                },
            })
            .collect();
        let file = state
            .work
            .path()
            .map(|path| (path_shown(path), compose::known(state.work.robot())))
            .or_else(|| Some((first.how_to_open()?, String::new())));
        view::Page::First(view::First {
            heading: first.heading(),
            choices,
            chosen: first.chosen,
            file,
            robot: Some(compose::robot::picture(state)),
        })
    }

    fn act(&self, intent: Intent, state: &mut State, now: &Now) -> Vec<Effect> {
        if state.bench.link == LinkState::Opening {
            return Vec::new();
        }
        let lines = state.first.lines();
        match intent {
            Intent::Arrow(Way::Up) => {
                state.first.chosen = state.first.chosen.saturating_sub(1);
            }
            Intent::Arrow(Way::Down) => {
                state.first.chosen = (state.first.chosen + 1).min(lines.len().saturating_sub(1));
            }
            Intent::GoOn => {
                let place = match lines.get(state.first.chosen) {
                    Some(Line::Port(port)) => Place::Port(port.path.clone()),
                    Some(Line::Practice { clean }) => Place::Practice {
                        seed: state.first.seed,
                        clean: *clean,
                    },
                    Some(Line::LookAgain) => {
                        state.first.next_look = now.at;
                        return Vec::new();
                    }
                    None => return Vec::new(),
                };
                return open(state, place);
            }
            _ => {}
        }
        Vec::new()
    }
}

/// Opens the link to a place that the builder chose by name.
pub fn open(state: &mut State, place: Place) -> Vec<Effect> {
    let mut effects = Vec::new();
    if state.bench.link != LinkState::None {
        effects.push(Effect::Close);
    }
    state.bench = Default::default();
    state.bench.link = LinkState::Opening;
    state.bench.place = Some(place.clone());
    effects.push(Effect::Open(place));
    effects
}
