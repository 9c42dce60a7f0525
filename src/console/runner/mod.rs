//! The edge: terminal, threads, link, disk and clock around the pure console.
//!
//! One channel takes keys, the link's events and the ports' list; one loop takes from it, lets `update` decide,
//! carries the effects out and draws what changed. No thread but the loop ever writes to the state.

mod clock;
mod emergency;
mod files;
mod terminal;

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use anyhow::Context;
use crossterm::event;

use self::clock::Clock;
use self::emergency::Emergency;
use self::terminal::Display;
use super::bench::Place;
use super::compose;
use super::effect::{AskId, ByHand, Effect, Fate, Input, Now};
use super::guided;
use super::keys::{Code, Key};
use super::pages::first::{self, FirstRun};
use super::state::State;
use super::theme::Look;
use super::update::{due, update};
use crate::board::{Event, HandsError, HandsHandle, Link, SightHandle, Ticket, ports};
use crate::procedure::Sensor;

/// Opens the link to a place: the console knows no transport.
pub type Opener = Box<dyn Fn(&Place, Box<dyn Fn(Event) + Send>) -> Link>;

/// What the console is opened on.
pub struct Options {
    /// Opens links.
    pub open: Opener,
    /// What to open at once; without it the first screen asks.
    pub place: Option<Place>,
    /// The seed that the first screen offers.
    pub seed: u64,
    /// The calibration file.
    pub file: Option<PathBuf>,
    /// A current sensor, and when the board's own trip is to act.
    pub sensor: Option<Sensor>,
    /// How to draw.
    pub look: Look,
    /// F12 panics: for the test of what a panic leaves behind.
    pub panic_on_f12: bool,
}

/// How the console came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The builder left.
    Left,
    /// A signal, by its number.
    Signal(i32),
}

/// One thing that reached the loop.
enum Message {
    Terminal(event::Event),
    /// The terminal gives nothing any more.
    NoTerminal,
    /// From the link of this number.
    Link(u64, Event),
    Ports(Result<Vec<ports::PortInfo>, String>),
    Signal(i32),
}

/// The longest wait: so often the worker is told that the loop runs, and the practice robot is looked at.
const TURN: Duration = Duration::from_millis(200);
/// Between two bells, so that two are heard as two.
const BETWEEN_BELLS: Duration = Duration::from_millis(180);
/// How often the practice robot is looked at.
const LOOK: Duration = Duration::from_millis(250);

/// Runs the console until it is left.
pub fn run(options: Options) -> anyhow::Result<End> {
    let work = files::begin(options.file.as_deref(), &files::stamp())?;
    let first = FirstRun::new(options.seed, cfg!(feature = "practice"));
    let first = match options.file {
        None => first.with_files(files::at_hand()),
        Some(_) => first,
    };
    let mut state = State::new(work, first);
    state.sensor = options.sensor;
    let emergency = Arc::new(Emergency::default());
    emergency::catch_panics(&emergency);
    let (sender, inbox) = channel();
    let signals = sender.clone();
    emergency::catch_signals(&emergency, move |signal| {
        let _ = signals.send(Message::Signal(signal));
    })
    .context("signals cannot be caught")?;
    let display = Display::take(options.look)?;
    let keys = sender.clone();
    std::thread::spawn(move || read_keys(&keys));
    let runner = Runner {
        state,
        display,
        emergency,
        sender,
        inbox,
        opener: options.open,
        clock: Clock::new(),
        link: None,
        link_number: 0,
        tickets: HashMap::new(),
        sight: None,
        looked: Duration::ZERO,
        bells: 0,
        next_bell: Instant::now(),
        looking: false,
        end: None,
        stops_before: 0,
        panic_on_f12: options.panic_on_f12,
    };
    runner.run(options.place)
}

fn read_keys(sender: &Sender<Message>) {
    // After a hang-up the terminal fails at once and for ever: one failure ends the thread.
    while let Ok(event) = event::read() {
        if sender.send(Message::Terminal(event)).is_err() {
            return;
        }
    }
    let _ = sender.send(Message::NoTerminal);
}

/// What a builder's hands would do to the practice robot, and what he would see.
fn by_hand(hands: &HandsHandle, act: &ByHand) -> Result<Option<String>, HandsError> {
    let done = |result: Result<(), HandsError>| result.map(|()| None);
    hands.with(|hands| match act {
        ByHand::PlaceGauge { leg, joint, tool } => done(hands.place_gauge(leg, joint, *tool)),
        ByHand::SwapPlugs(one, other) => done(hands.swap_plugs(*one, *other)),
        ByHand::TurnHorn {
            leg,
            joint,
            teeth,
            arm,
        } => done(hands.turn_horn(leg, joint, *teeth, *arm)),
        ByHand::UnscrewLeg { leg, joint } => done(hands.unscrew_leg(leg, joint)),
        ByHand::ScrewLegOn { leg, joint } => done(hands.screw_leg_on(leg, joint)),
        ByHand::ExchangeServo { leg, joint, servo } => {
            done(hands.exchange_servo(leg, joint, servo))
        }
        ByHand::PutOnTestPin { servo, pin } => done(hands.put_on_test_pin(servo, *pin)),
        ByHand::ClearTestPin => {
            hands.clear_test_pin();
            Ok(None)
        }
        ByHand::LookAtHorn { leg, joint } => {
            let horn = hands.horn(leg, joint)?;
            Ok(Some(format!(
                "horn: {} teeth, {} arms",
                horn.teeth, horn.arms
            )))
        }
        ByHand::LookAtSpares => Ok(Some(format!("spares: {}", hands.spares().join(" ")))),
    })
}

struct Runner {
    state: State,
    display: Display,
    emergency: Arc<Emergency>,
    sender: Sender<Message>,
    inbox: Receiver<Message>,
    opener: Opener,
    clock: Clock,
    link: Option<Arc<Link>>,
    link_number: u64,
    tickets: HashMap<Ticket, AskId>,
    sight: Option<SightHandle>,
    /// By the console's own clock: where the robot's time runs fast, more often.
    looked: Duration,
    bells: u8,
    next_bell: Instant,
    looking: bool,
    end: Option<End>,
    /// How many stops were answered when the last one was sent.
    stops_before: u64,
    panic_on_f12: bool,
}

impl Runner {
    fn run(mut self, place: Option<Place>) -> anyhow::Result<End> {
        let (columns, rows) = self.display.size();
        self.update(Input::Size(columns, rows))?;
        if let Some(place) = place {
            let effects = first::open(&mut self.state, place);
            self.carry_out(effects)?;
        }
        while self.end.is_none() {
            self.draw()?;
            let wait = self.wait();
            match self.inbox.recv_timeout(wait) {
                Ok(message) => {
                    self.take(message)?;
                    // What came meanwhile is taken in before the next picture.
                    while self.end.is_none()
                        && let Ok(message) = self.inbox.try_recv()
                    {
                        self.take(message)?;
                    }
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            self.turn()?;
        }
        let end = self.end.unwrap_or(End::Left);
        self.close_link();
        Ok(end)
    }

    fn now(&self) -> Now {
        let wall = jiff::ZonedDateTime::now();
        Now {
            at: self.clock.now(),
            stamp: files::stamp(),
            clock: wall.strftime("%H:%M").to_string(),
        }
    }

    fn update(&mut self, input: Input) -> anyhow::Result<()> {
        // Whatever comes may end a motion: what is seen then is not of some time before.
        if guided::moves(&self.state) && !matches!(input, Input::Sight(_)) {
            self.look()?;
        }
        let now = self.now();
        let effects = update(&mut self.state, input, &now);
        self.emergency.set_means(self.state.space_means());
        self.carry_out(effects)
    }

    fn draw(&mut self) -> anyhow::Result<()> {
        let screen = compose::screen(&self.state, self.clock.now());
        self.display.draw(screen, self.state.size)
    }

    fn wait(&self) -> Duration {
        let now = self.clock.now();
        let mut wait = TURN;
        if self.sight.is_some() {
            wait = wait.min(self.clock.by_the_wall(LOOK));
        }
        if let Some(due) = due(&self.state, now) {
            wait = wait.min(self.clock.by_the_wall(due.saturating_sub(now)));
        }
        if self.bells > 0 {
            wait = wait.min(self.next_bell.saturating_duration_since(Instant::now()));
        }
        wait
    }

    /// What is done at each turn of the loop.
    fn turn(&mut self) -> anyhow::Result<()> {
        if let Some(link) = &self.link {
            link.alive();
        }
        if self.bells > 0 && Instant::now() >= self.next_bell {
            self.display.bell();
            self.bells -= 1;
            self.next_bell = Instant::now() + BETWEEN_BELLS;
        }
        if self.clock.now().saturating_sub(self.looked) >= LOOK {
            self.look()?;
        }
        self.update(Input::Tick)
    }

    /// Looks at the practice robot, if that is what it is.
    fn look(&mut self) -> anyhow::Result<()> {
        let Some(sight) = &self.sight else {
            return Ok(());
        };
        self.looked = self.clock.now();
        let seen = sight.look();
        self.update(Input::Sight(seen))
    }

    fn take(&mut self, message: Message) -> anyhow::Result<()> {
        match message {
            Message::Terminal(event::Event::Key(key)) => {
                let Some(key) = Key::from_terminal(key) else {
                    return Ok(());
                };
                if self.panic_on_f12 && key.code == Code::F(12) {
                    panic!("F12 was pressed, and the program was asked to panic then");
                }
                self.update(Input::Key(key))
            }
            Message::Terminal(event::Event::Resize(columns, rows)) => {
                self.update(Input::Size(columns, rows))
            }
            Message::Terminal(_) => Ok(()),
            Message::NoTerminal => {
                self.emergency.stop();
                self.end = Some(End::Left);
                Ok(())
            }
            Message::Link(number, event) if number == self.link_number => self.link_said(event),
            Message::Link(..) => Ok(()),
            Message::Ports(found) => {
                self.looking = false;
                self.update(Input::Ports(found))
            }
            Message::Signal(signal) => {
                #[cfg(unix)]
                if signal == signal_hook::consts::SIGTSTP {
                    return self.update(Input::Key(Key::press(Code::Ctrl('z'))));
                }
                self.end = Some(End::Signal(signal));
                Ok(())
            }
        }
    }

    fn link_said(&mut self, event: Event) -> anyhow::Result<()> {
        let (ticket, fate) = match event {
            Event::Answer { ticket, result } => (ticket, Fate::Answered(result)),
            Event::NoAnswer { ticket } => (ticket, Fate::NoAnswer),
            Event::Dropped { ticket, .. } => (ticket, Fate::Dropped),
            Event::Opened { name, sight } => {
                self.sight = sight.clone();
                self.clock.follow(sight.as_ref());
                return self.update(Input::Board(Event::Opened { name, sight }));
            }
            other => return self.update(Input::Board(other)),
        };
        match self.tickets.remove(&ticket) {
            Some(id) => self.update(Input::Asked(id, fate)),
            None => Ok(()),
        }
    }

    fn carry_out(&mut self, effects: Vec<Effect>) -> anyhow::Result<()> {
        for effect in effects {
            match effect {
                Effect::Stop(stop) => {
                    if let Some(link) = &self.link {
                        self.stops_before = self.emergency.count();
                        link.stop(stop);
                    }
                }
                Effect::Ask(id, request) => match &self.link {
                    Some(link) => {
                        let ticket = link.ask(request);
                        self.tickets.insert(ticket, id);
                    }
                    None => self.update(Input::Asked(id, Fate::Dropped))?,
                },
                Effect::Jog(pin, pulse) => {
                    if let Some(link) = &self.link {
                        link.jog(pin, pulse);
                    }
                }
                Effect::Open(place) => self.open(&place),
                Effect::Close => self.close_link(),
                Effect::LookForPorts => self.look_for_ports(),
                Effect::Record { whats, stamp } => {
                    let result = files::record(&mut self.state.work, &whats, &stamp);
                    self.update(Input::Recorded(result))?;
                }
                Effect::Save => {
                    let stamp = self.now().stamp;
                    let said = files::save(&mut self.state.work, &stamp);
                    self.update(Input::File(said))?;
                }
                Effect::SaveAs(to) => {
                    let stamp = self.now().stamp;
                    let said = files::save_as(&mut self.state.work, &to, &stamp);
                    self.update(Input::File(said))?;
                }
                Effect::ByHand(act) => {
                    let hands = self.sight.as_ref().and_then(|sight| sight.hands());
                    if let Some(result) = hands.map(|hands| by_hand(hands, &act)) {
                        self.update(Input::ByHand(result.map_err(|e| e.to_string())))?;
                        // What hands changed is seen at once.
                        self.look()?;
                    }
                }
                Effect::Bell(times) => self.bells = self.bells.max(times),
                Effect::Suspend => self.suspend()?,
                Effect::Quit => self.end = Some(End::Left),
            }
        }
        Ok(())
    }

    fn open(&mut self, place: &Place) {
        self.close_link();
        self.link_number += 1;
        let number = self.link_number;
        let sender = self.sender.clone();
        let emergency = Arc::clone(&self.emergency);
        let events = move |event| {
            if let Event::Stopped { .. } = event {
                emergency.was_stopped();
            }
            let _ = sender.send(Message::Link(number, event));
        };
        let link = Arc::new((self.opener)(place, Box::new(events)));
        self.emergency.set_link(Some(Arc::clone(&link)));
        self.link = Some(link);
    }

    fn close_link(&mut self) {
        self.emergency.set_link(None);
        self.sight = None;
        self.clock.follow(None);
        self.tickets.clear();
        // Dropping the last handle waits for a stop that is on its way, half a second at most.
        self.link = None;
    }

    fn look_for_ports(&mut self) {
        if self.looking {
            return;
        }
        self.looking = true;
        let sender = self.sender.clone();
        std::thread::spawn(move || {
            let found = ports::list().map_err(|e| e.to_string());
            let _ = sender.send(Message::Ports(found));
        });
    }

    /// Suspends, once the stop that was just sent is answered.
    fn suspend(&mut self) -> anyhow::Result<()> {
        #[cfg(unix)]
        {
            if self.link.is_some() {
                self.emergency.wait_beyond(self.stops_before);
            }
            self.display.leave_for(|| {
                let _ = signal_hook::low_level::raise(signal_hook::consts::SIGSTOP);
            })?;
            let (columns, rows) = self.display.size();
            self.update(Input::Size(columns, rows))?;
        }
        Ok(())
    }
}
