//! The whole state of the console, and questions about it.
//!
//! Plain data: `update` is the only writer, `compose` only reads.
//! No clock, no I/O: the time of every change came in as an argument.

use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

use crate::board::{PinState, Stop};
use crate::calibration::{Joint, JointKind, JointRef};
use crate::procedure::{Ask, Sensor};
use crate::units::{Pin, Pulse};

use super::bench::{Bench, LinkState, Place};
use super::effect::{AskId, ByHand};
use super::guided::Guided;
use super::layers::Layer;
use super::measure::{FACTORY_GUARD, path_shown, sendable};
use super::motion::Moving;
use super::notice::Trouble;
use super::pages::body::BodyDesk;
use super::pages::first::FirstRun;
use super::pages::foot::FootDesk;
use super::pages::{Page, PageId};
use super::recording::Recording;
use super::sit::Sitting;
use super::work::Work;

/// What the builder said about the robot; it decides what Space does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Stands {
    /// Not said yet: Space limps.
    #[default]
    Unsaid,
    /// On the stand: Space limps.
    Stand,
    /// On the ground: Space freezes, a second one limps.
    Ground,
}

/// What owns the next line and the second line now, and with them Enter and Esc.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Front {
    /// Two lines said once; where they do not name Enter, it puts them away and does nothing else.
    Said,
    /// What went wrong.
    Trouble,
    /// The layer on top.
    Layer,
    /// The page.
    Page,
}

/// In which unit the chosen joint is jogged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Unit {
    /// Microseconds.
    #[default]
    Us,
    /// Degrees.
    Degrees,
}

/// The steps of a jog.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steps {
    /// In half-microseconds: 1 to 256, always a power of two.
    pub halves: u16,
    /// In degrees: 0.0625 to 16, always a power of two.
    pub deg: f64,
    /// Which of the two counts.
    pub unit: Unit,
}

/// Pins to be woken, one at a time.
#[derive(Debug, Clone, PartialEq)]
pub struct WakeQueue {
    /// Which, and at what pulse.
    pub rest: VecDeque<(Pin, Pulse)>,
    /// The one that was asked for last, until its first pulse has come.
    pub waiting_for: Option<Pin>,
    /// Not before this moment.
    pub not_before: Duration,
}

/// Why a request was sent, to know what its answer means.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// A wake at this pulse.
    Wake(Pin, Pulse),
    /// A guard that the builder changed.
    Guard(Pin),
    /// A guard from the file.
    FileGuard(Pin),
    /// Ends a freeze.
    Thaw,
    /// Some pins limp.
    Limp(Vec<Pin>),
    /// A move of several pins.
    Move,
    /// A set-point of a motion.
    Pose,
    /// The order of pins for the set-points to come.
    Roster(Vec<Pin>),
    /// A request of guided work, and in which run it was made.
    Guided(Ask, u64),
    /// The end of a trip that a machine left.
    NoTrip,
    /// A read or a setting that nobody waits for.
    Quiet,
}

/// The console's state.
#[derive(Debug)]
pub struct State {
    /// Columns and rows of the terminal.
    pub size: (u16, u16),
    /// The page underneath all layers.
    pub page: PageId,
    /// What lies above the page; the last one takes the keys.
    pub layers: Vec<Box<dyn Layer>>,
    /// Body as big words and numbers.
    pub big: bool,
    /// Quarters the picture is turned, counter-clockwise.
    pub turn: u8,
    /// What went wrong and was not answered yet.
    pub troubles: Vec<Trouble>,
    /// The layer on top was opened after what went wrong: its lines are shown, and the troubles wait as `(+1)`.
    pub behind: bool,
    /// Said once after a key, until the next: two lines.
    pub said: Option<(String, String)>,
    /// The board.
    pub bench: Bench,
    /// Where the robot stands.
    pub stands: Stands,
    /// On the ground, Space was pressed once: the next lets go.
    pub space_again: bool,
    /// The key that stopped last, as the screen calls it.
    pub stop_key: &'static str,
    /// Ctrl-C was pressed and the question about unsaved work stands: a second one leaves without it.
    pub interrupted: bool,
    /// The robot and its file.
    pub work: Work,
    /// The chosen joint.
    pub chosen: JointRef,
    /// The steps of a jog.
    pub steps: Steps,
    /// The first screen's list.
    pub first: FirstRun,
    /// A current sensor on an analog input, for the board's own trip while ends are looked for.
    pub sensor: Option<Sensor>,
    /// Guided work under way.
    pub guided: Option<Guided>,
    /// Pins being woken one after another.
    pub queue: Option<WakeQueue>,
    /// A foot or the body is on its way.
    pub motion: Option<Moving>,
    /// What was sent last in a motion, and the µs before they were rounded.
    pub exact: BTreeMap<Pin, (Pulse, f64)>,
    /// What the foot page remembers.
    pub foot: FootDesk,
    /// What the body page remembers.
    pub body: BodyDesk,
    /// The robot is sitting down.
    pub sitting: Option<Sitting>,
    /// The builder wants to leave; asked until everything is answered.
    pub quitting: bool,
    /// When a key was pressed last.
    pub last_key: Duration,
    /// A pin on a way longer than a step: one bell when it has arrived.
    pub bell_for: Option<Pin>,
    /// Joints whose guard is to be sent once they have come inside it.
    pub guards_due: Vec<JointRef>,
    /// Pins that were still to be tried when Plugs was left: no plan names them.
    pub pins_left: Vec<Pin>,
    /// What hands did with an Enter that said so; practice robot only.
    pub hands_did: Vec<ByHand>,
    /// What is being written into the logbook.
    pub recording: Option<Recording>,
    /// Requests without an answer yet.
    pub pending: BTreeMap<AskId, (Asked, Duration)>,
    /// The number of the next request.
    pub next_ask: u64,
}

impl State {
    /// The console as it starts: on the first screen, nothing opened.
    pub fn new(work: Work, first: FirstRun) -> State {
        let told = |(what, remedy): &(String, String)| Trouble::Told {
            what: what.clone(),
            remedy: remedy.clone(),
        };
        let mut troubles: Vec<Trouble> = work.notices().iter().map(told).collect();
        // The last is shown first: what else there is to know of the file can wait.
        if work.read_only() {
            let name = work.path().map(path_shown).unwrap_or_default();
            troubles.push(Trouble::Told {
                what: format!("{name} is open in another hornset: read only here."),
                remedy: "Close the other one, or save under another name with s. Enter goes on."
                    .into(),
            });
        }
        let said = match work.warnings() {
            0 => None,
            n => Some((
                match n {
                    1 => "1 thing in the file deserves another look.".into(),
                    n => format!("{n} things in the file deserve another look."),
                },
                "`hornset check` names them, with line and remedy.".into(),
            )),
        };
        State {
            size: (80, 24),
            page: PageId::First,
            layers: Vec::new(),
            big: false,
            turn: 0,
            troubles,
            behind: false,
            said,
            bench: Bench::default(),
            stands: Stands::Unsaid,
            space_again: false,
            stop_key: "Space",
            interrupted: false,
            work,
            chosen: JointRef {
                leg: 0,
                kind: JointKind::Coxa,
            },
            steps: Steps {
                halves: 16,
                deg: 1.0,
                unit: Unit::Us,
            },
            first,
            sensor: None,
            guided: None,
            queue: None,
            motion: None,
            exact: BTreeMap::new(),
            foot: FootDesk::default(),
            body: BodyDesk::default(),
            sitting: None,
            quitting: false,
            last_key: Duration::ZERO,
            bell_for: None,
            guards_due: Vec::new(),
            pins_left: Vec::new(),
            hands_did: Vec::new(),
            recording: None,
            pending: BTreeMap::new(),
            next_ask: 1,
        }
    }

    /// The page underneath all layers.
    pub fn page(&self) -> &'static dyn Page {
        self.page.page()
    }

    /// The chosen joint.
    pub fn joint(&self) -> Option<&Joint> {
        self.work.robot().joint(self.chosen)
    }

    /// `LF femur`.
    pub fn title(&self) -> String {
        self.work.robot().title(self.chosen)
    }

    /// The chosen joint's pin.
    pub fn pin(&self) -> Option<Pin> {
        self.joint()?.pin
    }

    /// The pin of the chosen joint, or why there is none.
    pub fn pin_or_why(&self) -> Result<Pin, String> {
        self.pin()
            .ok_or_else(|| format!("no pin is known for {}: F2 Plugs finds it", self.title()))
    }

    /// The chosen joint's pins and those of its leg that have one.
    pub fn pins_of_leg(&self) -> Vec<(JointRef, Pin)> {
        JointKind::ALL
            .into_iter()
            .map(|kind| JointRef {
                leg: self.chosen.leg,
                kind,
            })
            .filter_map(|at| Some((at, self.work.robot().joint(at)?.pin?)))
            .collect()
    }

    /// The guard that the board has for a joint, or will have before anything moves.
    pub fn guard_of(&self, at: JointRef) -> (Pulse, Pulse) {
        self.work
            .robot()
            .joint(at)
            .and_then(|j| j.guard)
            .unwrap_or(FACTORY_GUARD)
    }

    /// The pulse to offer for the first wake: the last known, else the zero, else the centre, always inside guard and limits.
    pub fn offered_pulse(&self, at: JointRef) -> Pulse {
        let Some(joint) = self.work.robot().joint(at) else {
            return Pulse::CENTRE;
        };
        let (low, high) = self.guard_of(at);
        let (low, high) = match joint.limits {
            Some((near, far)) if near.max(low) <= far.min(high) => (near.max(low), far.min(high)),
            _ => (low, high),
        };
        let last = joint.pin.and_then(|pin| self.bench.plug(pin).last);
        let wished = last.unwrap_or_else(|| {
            let middle_deg = joint.needed_deg.map_or(0.0, |(a, b)| (a + b) / 2.0);
            match (joint.pulse_us(middle_deg), &joint.zero) {
                (Some(us), _) => sendable(us),
                (None, Some(zero)) => sendable(zero.value),
                (None, None) => Pulse::CENTRE,
            }
        });
        wished.clamp(low, high)
    }

    /// `Ok` while a board answers.
    pub fn linked(&self) -> Result<(), String> {
        match self.bench.link {
            LinkState::Up => Ok(()),
            LinkState::None => Err("no board is open".into()),
            LinkState::Opening => Err("the board has not answered yet".into()),
            LinkState::Lost(_) => Err("the link is lost".into()),
        }
    }

    /// `Ok` while pins may be woken and moved at all.
    pub fn may_move(&self) -> Result<(), String> {
        self.linked()?;
        match self.bench.frozen {
            Some(_) => Err("frozen: Enter thaws first".into()),
            None => Ok(()),
        }
    }

    /// `Ok` with the pin when the chosen joint is awake and may be moved.
    pub fn may_jog(&self) -> Result<Pin, String> {
        let pin = self.pin_or_why()?;
        self.may_move()?;
        match self.bench.plug(pin).state {
            PinState::Awake => Ok(pin),
            PinState::Waking => Err(format!("pin {pin} is not awake yet")),
            PinState::Limp => Err("it is limp: w wakes it".into()),
        }
    }

    /// Of the pins that are woken one after another, those that have not jumped yet.
    pub fn still_wake(&self) -> impl Iterator<Item = Pin> {
        self.queue.iter().flat_map(|queue| {
            let rest = queue.rest.iter().map(|(pin, _)| *pin);
            queue.waiting_for.into_iter().chain(rest)
        })
    }

    /// What Space means now.
    pub fn space_means(&self) -> Stop {
        match self.stands {
            Stands::Ground if !self.space_again => Stop::Freeze,
            _ => Stop::Limp,
        }
    }

    /// Whether the practice robot is open.
    pub fn practice(&self) -> bool {
        matches!(self.bench.place, Some(Place::Practice { .. }))
    }

    /// The leg letters of the picture as it is turned now, in the order of the legs.
    pub fn letters(&self) -> Vec<char> {
        let mounts: Vec<_> = self.work.robot().legs.iter().map(|l| l.mount).collect();
        super::places::letters(&mounts, self.turn)
    }

    /// Why the robot cannot sit down by itself; `None` when it can. On the ground it can while frozen: it thaws first.
    pub fn why_no_sit_down(&self) -> Option<String> {
        let ground = self.stands == Stands::Ground;
        let may = if ground {
            self.linked()
        } else {
            self.may_move()
        };
        if let Err(why) = may {
            return Some(why);
        }
        if !self.bench.holds() {
            return Some("nothing is awake".into());
        }
        super::sit::why_none(self)
    }

    /// Whether what is read off the robot is simulated, with a gauge's errors.
    pub fn gauges_err(&self) -> bool {
        self.bench.sight.as_ref().is_some_and(|it| it.gauges_err)
    }

    /// Opens a layer on top of all others; what went wrong or was said before waits behind it.
    pub fn open(&mut self, layer: impl Layer + 'static) {
        self.said = None;
        self.behind = true;
        self.layers.push(Box::new(layer));
    }

    /// What owns the two lines, and with them Enter and Esc.
    pub fn front(&self) -> Front {
        if self.said.is_some() {
            return Front::Said;
        }
        match (self.troubles.is_empty(), self.layers.is_empty()) {
            (false, true) => Front::Trouble,
            (false, false) if !self.behind => Front::Trouble,
            (_, false) => Front::Layer,
            (true, true) => Front::Page,
        }
    }

    /// A layer of its own kind lies on top.
    pub fn top(&self) -> Option<&dyn Layer> {
        self.layers.last().map(|l| &**l)
    }
}
