//! The thread that owns the link, and the handle through which everybody else talks to the board.
//!
//! No call of the handle waits for the board.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::event::{Event, Ticket, Trouble};
use super::request::Request;
use super::session::{Output, Session};
use super::transport::{Transport, TransportError};
use crate::units::{Pin, Pulse};

/// The two ways to stop; both overtake everything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stop {
    /// Every ramp stops where it is; the servos keep their force.
    Freeze,
    /// No more pulses at all: what is held up falls.
    Limp,
}

/// How the worker behaves.
#[derive(Debug, Clone)]
pub struct LinkSettings {
    /// The rates that are tried in turn, the likely one first.
    pub rates: Vec<u32>,
    /// How long the board is looked for after the link was opened.
    pub find_for: Duration,
    /// If set, the board's silence clock is fed only while [`Link::alive`] (or any other call of
    /// the handle) comes at least this often: a console that hangs must not hold a servo.
    pub alive_within: Option<Duration>,
    /// The `ms` of the `go` that a jogged set-point is sent with; the slew decides if it is longer.
    pub jog_ms: u32,
}

impl Default for LinkSettings {
    fn default() -> LinkSettings {
        LinkSettings {
            rates: vec![250_000, 115_200],
            find_for: Duration::from_secs(4),
            alive_within: None,
            jog_ms: 20,
        }
    }
}

#[derive(Debug)]
enum Order {
    Ask(Ticket, Request),
    Jog(Pin, Pulse),
    Stop(Stop),
    Alive,
    Close,
}

/// The handle of the worker thread. Dropping it closes the link.
#[derive(Debug)]
pub struct Link {
    orders: Sender<Order>,
    next_ticket: AtomicU64,
    worker: Option<JoinHandle<()>>,
}

impl Link {
    /// Starts the worker: it opens the link, finds the board, and calls `events` from its thread.
    ///
    /// `open` is called again after the link was lost, until it succeeds.
    pub fn start(
        open: impl FnMut() -> Result<Box<dyn Transport>, TransportError> + Send + 'static,
        settings: LinkSettings,
        events: impl Fn(Event) + Send + 'static,
    ) -> Link {
        let (orders, inbox) = channel();
        let worker = std::thread::spawn(move || run(open, settings, &inbox, &events));
        Link {
            orders,
            next_ticket: AtomicU64::new(1),
            worker: Some(worker),
        }
    }

    /// Queues a request; its answer comes as an event with this ticket. In order.
    pub fn ask(&self, request: Request) -> Ticket {
        let ticket = Ticket(self.next_ticket.fetch_add(1, Ordering::Relaxed));
        self.send(Order::Ask(ticket, request));
        ticket
    }

    /// Where a pin should go now: only the newest set-point of a pin is ever sent.
    pub fn jog(&self, pin: Pin, pulse: Pulse) {
        self.send(Order::Jog(pin, pulse));
    }

    /// Stops: overtakes and drops everything that is queued, and is sent until it is answered.
    pub fn stop(&self, stop: Stop) {
        self.send(Order::Stop(stop));
    }

    /// Says that the caller still runs; see [`LinkSettings::alive_within`].
    pub fn alive(&self) {
        self.send(Order::Alive);
    }

    /// Ends the worker. A stop that is not answered yet gets half a second more.
    pub fn close(self) {}

    fn send(&self, order: Order) {
        // The worker outlives every send but for its own end, and says so by `Event::Closed`.
        let _ = self.orders.send(order);
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.send(Order::Close);
        if let Some(worker) = self.worker.take() {
            let _ = worker.join();
        }
    }
}

/// How long a read waits for bytes at most: so long may an order wait for its turn.
const TICK: Duration = Duration::from_millis(2);
/// Between two attempts to open a lost link again.
const REOPEN_EVERY: Duration = Duration::from_millis(500);
/// What a stop without an answer gets when the link is closed.
const LAST_STOP: Duration = Duration::from_millis(500);

type Opened = Result<Box<dyn Transport>, TransportError>;

fn run(
    mut open: impl FnMut() -> Opened,
    settings: LinkSettings,
    inbox: &Receiver<Order>,
    events: &impl Fn(Event),
) {
    match open() {
        Ok(transport) => Worker::new(transport, settings, inbox, events).run(open),
        Err(error) => events(Event::Trouble(Trouble::Open(error))),
    }
    events(Event::Closed);
}

/// Time that never jumps, from whichever clock the present link counts in.
struct Clock {
    /// The time at the moments below.
    base: Duration,
    since: Instant,
    link_since: Duration,
}

impl Clock {
    fn new() -> Clock {
        Clock {
            base: Duration::ZERO,
            since: Instant::now(),
            link_since: Duration::ZERO,
        }
    }

    fn now(&self, link: Option<&mut (dyn Transport + 'static)>) -> Duration {
        let passed = match link.and_then(|link| link.clock()) {
            Some(clock) => clock.saturating_sub(self.link_since),
            None => self.since.elapsed(),
        };
        self.base + passed
    }

    /// From now on it counts in this link's time.
    fn go_on_from(&mut self, now: Duration, link: Option<&mut (dyn Transport + 'static)>) {
        self.base = now;
        self.since = Instant::now();
        self.link_since = link.and_then(|link| link.clock()).unwrap_or_default();
    }
}

struct Worker<'a, E: Fn(Event)> {
    session: Session,
    transport: Option<Box<dyn Transport>>,
    inbox: &'a Receiver<Order>,
    events: &'a E,
    clock: Clock,
    /// The caller closed the link at this moment.
    closing: Option<Duration>,
}

impl<'a, E: Fn(Event)> Worker<'a, E> {
    fn new(
        transport: Box<dyn Transport>,
        settings: LinkSettings,
        inbox: &'a Receiver<Order>,
        events: &'a E,
    ) -> Worker<'a, E> {
        let mut worker = Worker {
            session: Session::new(settings),
            transport: None,
            inbox,
            events,
            clock: Clock::new(),
            closing: None,
        };
        worker.adopt(transport);
        worker
    }

    fn adopt(&mut self, transport: Box<dyn Transport>) {
        (self.events)(Event::Opened {
            name: transport.name().to_owned(),
            sight: transport.sight(),
        });
        let now = self.now();
        self.transport = Some(transport);
        self.clock.go_on_from(now, self.transport.as_deref_mut());
        self.session.opened(now);
    }

    /// This worker's time: the clock's, or that of a link with a clock of its own.
    fn now(&mut self) -> Duration {
        self.clock.now(self.transport.as_deref_mut())
    }

    fn run(mut self, mut open: impl FnMut() -> Opened) {
        let mut reopen_at = Duration::ZERO;
        loop {
            self.read();
            // One moment for all of a turn, taken after the read: what came while this thread did
            // not run is taken in before anything is called late.
            let now = self.now();
            self.take_orders(now);
            self.session.poll(now);
            self.write();
            self.tell();
            let give_up = self
                .closing
                .is_some_and(|at| !self.session.stopping() || now >= at + LAST_STOP);
            if give_up {
                self.session.end();
            }
            if self.session.ended() {
                self.tell();
                return;
            }
            if self.transport.is_none() && now >= reopen_at {
                reopen_at = now + REOPEN_EVERY;
                if let Ok(transport) = open() {
                    self.adopt(transport);
                }
            }
        }
    }

    fn read(&mut self) {
        let wait = match self.session.poll_at() {
            Some(at) => at.saturating_sub(self.now()).min(TICK),
            None => TICK,
        };
        let Some(transport) = &mut self.transport else {
            std::thread::sleep(wait);
            return;
        };
        let mut bytes = [0; 4096];
        match transport.read(&mut bytes, wait) {
            Ok(count) => {
                let now = self.now();
                self.session.receive(&bytes[..count], now);
            }
            Err(error) => self.fail(&error),
        }
    }

    fn take_orders(&mut self, now: Duration) {
        loop {
            match self.inbox.try_recv() {
                Ok(Order::Ask(ticket, request)) => self.session.ask(ticket, request, now),
                Ok(Order::Jog(pin, pulse)) => self.session.jog(pin, pulse, now),
                Ok(Order::Stop(stop)) => self.session.stop(stop, now),
                Ok(Order::Alive) => self.session.alive(now),
                Ok(Order::Close) | Err(TryRecvError::Disconnected) => {
                    self.closing.get_or_insert(now);
                    return;
                }
                Err(TryRecvError::Empty) => return,
            }
        }
    }

    fn write(&mut self) {
        while let Some(output) = self.session.next_output() {
            let Some(transport) = &mut self.transport else {
                continue; // The link went away under it: the session has been told.
            };
            let result = match &output {
                Output::Line(line) => transport.write(line),
                Output::Rate(baud) => transport.set_rate(*baud),
            };
            if let Err(error) = result {
                self.fail(&error);
            }
        }
    }

    fn fail(&mut self, error: &TransportError) {
        let now = self.now();
        self.transport = None;
        self.clock.go_on_from(now, None);
        self.session.unplugged(error.to_string());
    }

    fn tell(&mut self) {
        while let Some(event) = self.session.next_event() {
            (self.events)(event);
        }
    }
}
