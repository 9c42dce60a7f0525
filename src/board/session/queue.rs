//! What waits to be sent: requests in order, and newest-wins slots for jogged set-points.
//!
//! A jog takes its place in the order when its first set-point comes; those that come while it
//! waits replace it. Nothing here knows the board.

use std::collections::{BTreeMap, VecDeque};

use crate::board::event::Ticket;
use crate::board::request::{Kind, Request};
use crate::units::{Pin, Pulse};

/// The most pins that one `go` takes.
const GO_PINS: usize = 16;

/// Who wanted a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// The caller.
    User(Ticket),
    /// The caller's jogged set-points.
    Jog(Vec<(Pin, Pulse)>),
    /// The session: what a reset cleared is set again.
    Restore,
    /// The session: which pins are awake?
    Sync,
    /// The session: the silence clock.
    Beat,
}

impl Origin {
    /// The caller's ticket, if it is the caller's.
    pub fn ticket(&self) -> Option<Ticket> {
        match self {
            Origin::User(ticket) => Some(*ticket),
            _ => None,
        }
    }
}

/// What is to be done next.
#[derive(Debug, PartialEq, Eq)]
pub enum Job {
    /// Send this.
    Ask(Origin, Request),
    /// Send these set-points, 1-16.
    Jog(Vec<(Pin, Pulse)>),
    /// Everything that was to be set again was asked for.
    Restored,
}

/// The queue.
#[derive(Debug, Default)]
pub struct Queue {
    jobs: VecDeque<Job>,
    jogs: BTreeMap<Pin, Pulse>,
}

impl Queue {
    /// Whether nothing waits.
    pub fn is_empty(&self) -> bool {
        self.jobs.is_empty()
    }

    /// Behind everything else.
    pub fn ask(&mut self, origin: Origin, request: Request) {
        self.jobs.push_back(Job::Ask(origin, request));
    }

    /// Before everything else, once: what the session itself wants to know.
    pub fn first(&mut self, origin: Origin, request: Request) {
        let job = Job::Ask(origin, request);
        if !self.jobs.contains(&job) {
            // Behind what restores a board: that comes before all else.
            let at = self.jobs.iter().take_while(|j| is_restore(j)).count();
            self.jobs.insert(at, job);
        }
    }

    /// Before everything else: sets again what a reset cleared.
    pub fn restore(&mut self, requests: Vec<Request>) {
        self.jobs.retain(|j| !is_restore(j));
        self.jobs.push_front(Job::Restored);
        for request in requests.into_iter().rev() {
            self.jobs.push_front(Job::Ask(Origin::Restore, request));
        }
    }

    /// The newest set-point of a pin.
    pub fn jog(&mut self, pin: Pin, pulse: Pulse) {
        if self.jogs.is_empty() {
            self.jobs.push_back(Job::Jog(Vec::new()));
        }
        self.jogs.insert(pin, pulse);
    }

    /// Takes what is to be done next.
    pub fn next(&mut self) -> Option<Job> {
        let job = self.jobs.pop_front()?;
        let Job::Jog(_) = job else { return Some(job) };
        let mut moves = Vec::new();
        while moves.len() < GO_PINS
            && let Some(entry) = self.jogs.pop_first()
        {
            moves.push(entry);
        }
        if !self.jogs.is_empty() {
            self.jobs.push_front(Job::Jog(Vec::new()));
        }
        Some(Job::Jog(moves))
    }

    /// Drops everything of the caller's, and returns the tickets.
    pub fn clear(&mut self) -> Vec<Ticket> {
        self.jogs.clear();
        self.drop_where(|job| match job {
            Job::Ask(origin, _) => origin.ticket().is_some(),
            Job::Jog(_) => true,
            Job::Restored => false,
        })
    }

    /// Drops what the session itself wanted.
    pub fn clear_own(&mut self) {
        self.drop_where(|job| match job {
            Job::Ask(origin, _) => origin.ticket().is_none(),
            Job::Jog(_) => false,
            Job::Restored => true,
        });
    }

    /// Drops every change, the caller's jogs too, and returns the tickets.
    pub fn drop_changes(&mut self) -> Vec<Ticket> {
        self.jogs.clear();
        self.drop_where(|job| match job {
            Job::Ask(_, request) => request.kind() == Kind::Change,
            Job::Jog(_) | Job::Restored => true,
        })
    }

    fn drop_where(&mut self, goes: impl Fn(&Job) -> bool) -> Vec<Ticket> {
        let (gone, kept) = std::mem::take(&mut self.jobs).into_iter().partition(goes);
        self.jobs = kept;
        let gone: VecDeque<Job> = gone;
        gone.iter()
            .filter_map(|job| match job {
                Job::Ask(origin, _) => origin.ticket(),
                _ => None,
            })
            .collect()
    }
}

fn is_restore(job: &Job) -> bool {
    matches!(job, Job::Restored | Job::Ask(Origin::Restore, _))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pin(n: u8) -> Pin {
        Pin::new(n).expect("a pin")
    }

    fn us(us: u16) -> Pulse {
        Pulse::from_halves(2 * us)
    }

    #[test]
    fn the_newest_set_point_of_a_pin_wins_and_keeps_its_place_in_the_order() {
        let mut queue = Queue::default();
        queue.ask(Origin::User(Ticket(1)), Request::Help);
        queue.jog(pin(22), us(1500));
        queue.ask(Origin::User(Ticket(2)), Request::Hello);
        queue.jog(pin(23), us(1400));
        queue.jog(pin(22), us(1510));
        queue.jog(pin(22), us(1520));
        assert_eq!(
            queue.next(),
            Some(Job::Ask(Origin::User(Ticket(1)), Request::Help))
        );
        assert_eq!(
            queue.next(),
            Some(Job::Jog(vec![(pin(22), us(1520)), (pin(23), us(1400))]))
        );
        assert_eq!(
            queue.next(),
            Some(Job::Ask(Origin::User(Ticket(2)), Request::Hello))
        );
        assert_eq!(queue.next(), None);
        queue.jog(pin(22), us(1530));
        assert_eq!(queue.next(), Some(Job::Jog(vec![(pin(22), us(1530))])));
    }

    #[test]
    fn more_pins_than_a_go_takes_go_in_two() {
        let mut queue = Queue::default();
        for n in 2..22 {
            queue.jog(pin(n), us(1500));
        }
        for want in [16, 4] {
            assert!(matches!(queue.next(), Some(Job::Jog(moves)) if moves.len() == want));
        }
        assert_eq!(queue.next(), None);
    }

    #[test]
    fn what_a_reset_cleared_comes_first_and_survives_a_stop() {
        let mut queue = Queue::default();
        queue.ask(Origin::User(Ticket(1)), Request::Help);
        queue.jog(pin(22), us(1500));
        queue.restore(vec![Request::Beat, Request::Freeze]);
        queue.first(Origin::Sync, Request::SilenceOf);
        queue.first(Origin::Sync, Request::SilenceOf);
        assert_eq!(queue.clear(), [Ticket(1)]);
        assert_eq!(queue.next(), Some(Job::Ask(Origin::Restore, Request::Beat)));
        assert_eq!(
            queue.next(),
            Some(Job::Ask(Origin::Restore, Request::Freeze))
        );
        assert_eq!(queue.next(), Some(Job::Restored));
        assert_eq!(
            queue.next(),
            Some(Job::Ask(Origin::Sync, Request::SilenceOf))
        );
        assert_eq!(queue.next(), None);
    }
}
