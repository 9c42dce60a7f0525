//! The thread that owns the link, and the handle through which everybody else talks to the board.
//!
//! No call of the handle waits for the board.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use super::event::{Event, Ticket, Trouble};
use super::request::Request;
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

fn run(
    mut open: impl FnMut() -> Result<Box<dyn Transport>, TransportError>,
    _settings: LinkSettings,
    inbox: &Receiver<Order>,
    events: &impl Fn(Event),
) {
    match open() {
        Ok(link) => events(Event::Opened {
            name: link.name().to_owned(),
            sight: link.sight(),
        }),
        Err(error) => events(Event::Trouble(Trouble::Open(error))),
    }
    while !matches!(inbox.recv(), Ok(Order::Close) | Err(_)) {}
    events(Event::Closed);
}
