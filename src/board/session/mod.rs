//! The session: finds the board, matches answers to requests, keeps it fed, sees its resets.
//!
//! It is pure: bytes and the time go in, lines and events come out, and [`Session::poll_at`] says
//! when to come again. It does no I/O and reads no clock; a time is a [`Duration`] since any fixed
//! moment of the caller's.
//!
//! What it holds to:
//!
//! - At most one state-changing line is unanswered. It is repeated with the same tag and the same
//!   check, which the board answers without doing it twice.
//! - A `wake` is sent, and sent again, only after a `hello` has shown that the board was not reset
//!   meanwhile: on a board that lost its guards every other request is harmless.
//! - A stop is sent at once, drops everything that is queued, and nothing else is sent until it
//!   is answered. What was on the wire before it is not repeated after it.
//! - After a reset it sets guards, slews, silence, roster, trips and watch again before anything
//!   else is sent, and never wakes a pin by itself.

#[cfg(test)]
mod fake;
mod incoming;
mod known;
mod outgoing;
mod queue;
mod setup;
#[cfg(test)]
mod tests;
mod whole;

use std::collections::{BTreeSet, VecDeque};
use std::time::Duration;

use super::codec::{Assembler, emit};
use super::event::{Dropped, Event, LostWhy, Ticket};
use super::request::{Kind, Request};
use super::worker::{LinkSettings, Stop};
use crate::units::{Pin, Pulse};
use known::Known;
use queue::{Origin, Queue};
use setup::Setup;

const fn ms(n: u64) -> Duration {
    Duration::from_millis(n)
}

/// Between two `hello` while the board is looked for.
const FIND_EVERY: Duration = ms(300);
/// While the board is looked for, a rate at which a whole line came is kept for so long.
const KEEP_RATE: Duration = ms(1000);
/// Between two `hello` while the link is up: a lost link shows within a second.
const HELLO_EVERY: Duration = ms(300);
/// A `hello` without an answer is sent again after this, and
const HELLO_AGAIN: Duration = ms(250);
/// the link is lost when nothing at all was heard for this long while one was unanswered.
const QUIET: Duration = ms(600);
/// It is lost as well when a board that is heard never answers `hello`, this many times.
const HELLO_TRIES: usize = 12;
/// Between two `where` of the session's own while a pin is awake: events can be missed.
const SYNC_EVERY: Duration = ms(1000);
/// How often a line is sent in all before its caller hears that there was no answer.
const TRIES: u32 = 8;
/// Damage is told at most this often.
const DAMAGE_EVERY: Duration = ms(1000);
/// The board's silence times until others are set: to the freeze, and to limp.
const SILENCE_MS: (u32, u32) = (500, 10_000);

/// What the caller has to do to the transport, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Output {
    /// Write this line.
    Line(Vec<u8>),
    /// Change the rate.
    Rate(u32),
}

#[derive(Debug)]
enum Phase {
    /// There is no link.
    Away,
    /// `hello` goes out, nobody has answered yet.
    Finding {
        since: Duration,
        next: Duration,
        turn: usize,
        /// Stay at the rate that was right until this moment.
        keep_until: Duration,
    },
    /// The board answers.
    Up,
    /// Nobody answered in time, or the caller closed it.
    Ended,
}

/// A request whose answer is awaited.
#[derive(Debug)]
struct Flight {
    origin: Origin,
    request: Request,
    tag: u16,
    line: Vec<u8>,
    tries: u32,
    /// When it is late; `None`: it waits for a `hello` sent at `asked` or later.
    due: Option<Duration>,
    asked: Duration,
    /// When it was first written: what it fed, it fed then.
    written: Duration,
    /// A stop came: it is not sent again.
    last_try: bool,
}

/// The `hello`s whose answers are awaited, oldest first; never empty.
#[derive(Debug)]
struct HelloOut {
    /// Since when none was answered.
    since: Duration,
    /// Each has a tag of its own: an answer is worth what was true when *its* question was sent.
    sends: Vec<(u16, Duration)>,
}

impl HelloOut {
    fn last(&self) -> Duration {
        self.sends.last().map_or(self.since, |s| s.1)
    }
}

/// A stop whose answer is awaited.
#[derive(Debug)]
struct StopOut {
    stop: Stop,
    tag: u16,
    due: Duration,
    tries: u32,
}

/// One talk with one board over one link, from the first `hello` on.
#[derive(Debug)]
pub struct Session {
    settings: LinkSettings,
    phase: Phase,
    lines: Assembler,
    out: VecDeque<Output>,
    events: VecDeque<Event>,
    queue: Queue,
    flight: Option<Flight>,
    hello: Option<HelloOut>,
    stop: Option<StopOut>,
    known: Option<Known>,
    rate: u32,
    setup: Setup,
    /// Pins that are awake or waking, as far as is known.
    awake: BTreeSet<Pin>,
    /// Gathers the pins of a `where` that takes several lines.
    syncing: BTreeSet<Pin>,
    /// The number of the freeze that stands, as the caller was told.
    frozen: u32,
    /// The silence times that stand: to the freeze, and to limp.
    silence_ms: (u32, u32),
    /// The last tag used for a change, and a count for those of reads and stops.
    tag: u16,
    reads: u16,
    fed: Duration,
    heard: Duration,
    hello_sent: Duration,
    synced: Duration,
    alive: Duration,
    /// Frozen for silence: not fed until the caller asks for something.
    starve: bool,
    /// After a reset: guards and the rest do not all stand again yet.
    unrestored: bool,
    /// The pins whose guards could not be set again.
    unguarded: BTreeSet<Pin>,
    damaged: u64,
    damage_told: Option<Duration>,
}

impl Session {
    /// A session without a link.
    pub fn new(settings: LinkSettings) -> Session {
        Session {
            rate: settings.rates.first().copied().unwrap_or(250_000),
            settings,
            phase: Phase::Away,
            lines: Assembler::default(),
            out: VecDeque::new(),
            events: VecDeque::new(),
            queue: Queue::default(),
            flight: None,
            hello: None,
            stop: None,
            known: None,
            setup: Setup::default(),
            awake: BTreeSet::new(),
            syncing: BTreeSet::new(),
            frozen: 0,
            silence_ms: SILENCE_MS,
            tag: 0,
            reads: 0,
            fed: Duration::ZERO,
            heard: Duration::ZERO,
            hello_sent: Duration::ZERO,
            synced: Duration::ZERO,
            alive: Duration::ZERO,
            starve: false,
            unrestored: false,
            unguarded: BTreeSet::new(),
            damaged: 0,
            damage_told: None,
        }
    }

    /// A link was opened: the board is looked for.
    pub fn opened(&mut self, now: Duration) {
        self.lines.clear();
        self.look(now, now);
    }

    /// The link is gone.
    pub fn unplugged(&mut self, why: String) {
        if !matches!(self.phase, Phase::Away | Phase::Ended) {
            self.lose(LostWhy::Unplugged(why));
            self.phase = Phase::Away;
        }
    }

    /// Queues a request.
    pub fn ask(&mut self, ticket: Ticket, request: Request, now: Duration) {
        self.alive = now;
        if let Some(why) = self.refuses(&request) {
            self.events.push_back(Event::Dropped { ticket, why });
            return;
        }
        if request.kind() == Kind::Change {
            self.starve = false;
        }
        self.queue.ask(Origin::User(ticket), request);
    }

    /// Where a pin should go now.
    pub fn jog(&mut self, pin: Pin, pulse: Pulse, now: Duration) {
        self.alive = now;
        let request = Request::Go {
            ms: 0,
            moves: vec![(pin, pulse)],
        };
        if self.refuses(&request).is_none() {
            self.starve = false;
            self.queue.jog(pin, pulse);
        }
    }

    /// The caller still runs.
    pub fn alive(&mut self, now: Duration) {
        self.alive = now;
    }

    /// Stops: at once, and before everything else.
    pub fn stop(&mut self, stop: Stop, now: Duration) {
        self.alive = now;
        for ticket in self.queue.clear() {
            self.events.push_back(Event::Dropped {
                ticket,
                why: Dropped::Stopped,
            });
        }
        self.stop_flight();
        if matches!(self.phase, Phase::Ended) {
            return;
        }
        // The stronger of two stops stands: after `limp` there is nothing left to freeze.
        let stop = self.stop.as_ref().map_or(stop, |s| s.stop.max(stop));
        self.stop = Some(StopOut {
            stop,
            tag: self.read_tag(),
            due: now,
            tries: 0,
        });
        if !matches!(self.phase, Phase::Away) {
            self.send_stop(now);
        }
    }

    /// Whether a stop still waits for its answer.
    pub fn stopping(&self) -> bool {
        self.stop.is_some() && !matches!(self.phase, Phase::Ended)
    }

    /// Ends it: everything that waits is dropped.
    pub fn end(&mut self) {
        self.drop_all(Dropped::Closed);
        self.phase = Phase::Ended;
    }

    /// Whether nothing more will come of it.
    pub fn ended(&self) -> bool {
        matches!(self.phase, Phase::Ended)
    }

    /// What to do to the transport next.
    pub fn next_output(&mut self) -> Option<Output> {
        self.out.pop_front()
    }

    /// What to tell next.
    pub fn next_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    /// When [`Session::poll`] has something to do, if no byte comes before; `None`: never.
    pub fn poll_at(&self) -> Option<Duration> {
        match self.phase {
            Phase::Away | Phase::Ended => None,
            Phase::Finding { since, next, .. } => {
                let end = since + self.settings.find_for;
                let next = if self.known.is_none() {
                    next.min(end)
                } else {
                    next
                };
                Some(self.stop.as_ref().map_or(next, |s| next.min(s.due)))
            }
            Phase::Up => {
                let hello = match &self.hello {
                    Some(hello) => hello.last() + HELLO_AGAIN,
                    None => self.hello_sent + HELLO_EVERY,
                };
                let mut at = hello;
                if let Some(stop) = &self.stop {
                    return Some(at.min(stop.due));
                }
                match &self.flight {
                    Some(flight) => at = flight.due.map_or(at, |due| at.min(due)),
                    None if !self.queue.is_empty() => return Some(Duration::ZERO),
                    None => {
                        at = self.beat_at().map_or(at, |beat| at.min(beat));
                        if !self.awake.is_empty() {
                            at = at.min(self.synced + SYNC_EVERY);
                        }
                    }
                }
                Some(at)
            }
        }
    }

    /// A tag for a line that is no change: far from those of changes, so that a late answer to
    /// one is never taken for an answer to the other.
    fn read_tag(&mut self) -> u16 {
        self.reads = (self.reads + 1) % 8192;
        let tag = (u32::from(self.tag) + 20_000 + u32::from(self.reads)) % 65_535 + 1;
        tag as u16
    }

    fn put(&mut self, tag: u16, request: &Request) {
        if let Ok(line) = emit(Some(tag), &request.to_string()) {
            self.out.push_back(Output::Line(line));
        }
    }
}
