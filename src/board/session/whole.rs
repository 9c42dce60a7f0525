//! The board as a whole: found, reset, lost; and what becomes of what was asked of it.

use std::time::Duration;

use super::known::Known;
use super::queue::Origin;
use super::{Flight, Phase, SILENCE_MS, Session};
use crate::board::answer::{By, Hello, PROTO};
use crate::board::event::{Dropped, Event, LostWhy, Trouble};
use crate::board::request::{Kind, Request};

impl Session {
    pub(super) fn greeted(&mut self, hello: Hello, sent: Duration, now: Duration) {
        match self.phase {
            Phase::Finding { .. } => self.found(hello, sent, now),
            Phase::Up => {
                if self
                    .known
                    .as_ref()
                    .is_none_or(|k| k.was_reset(&hello, sent))
                {
                    self.reset(hello, now);
                    return;
                }
                let (n, by) = (hello.frozen, hello.by);
                self.known = Some(Known::new(hello, now));
                match by {
                    Some(by) if n != 0 && n != self.frozen => self.froze(n, by, now),
                    _ => self.frozen = n,
                }
                if self
                    .flight
                    .as_ref()
                    .is_some_and(|f| f.due.is_none() && sent >= f.asked)
                {
                    self.send_flight(now);
                }
            }
            Phase::Away | Phase::Ended => {}
        }
    }

    pub(super) fn found(&mut self, hello: Hello, sent: Duration, now: Duration) {
        self.phase = Phase::Up;
        let rate = self.rate;
        let before = self.known.replace(Known::new(hello.clone(), now));
        self.frozen = hello.frozen;
        self.starve = hello.by == Some(By::Silence);
        if hello.proto != PROTO {
            let trouble = Trouble::OtherProto {
                proto: hello.proto,
                fw: hello.fw.clone(),
            };
            self.events.push_back(Event::Trouble(trouble));
        }
        match before {
            None => {
                self.tag = hello.last;
                self.events.push_back(Event::Found { hello, rate });
            }
            Some(before) => {
                self.events.push_back(Event::Back {
                    hello: hello.clone(),
                    rate,
                });
                if before.was_reset(&hello, sent) {
                    self.reset(hello, now);
                } else if self.unrestored {
                    self.restore();
                }
            }
        }
        if self.read_only() {
            self.refuse_queue();
        } else {
            self.queue.first(Origin::Sync, Request::SilenceOf);
            self.sync(now);
        }
        if self.stop.is_some() {
            self.send_stop(now);
        }
    }

    pub(super) fn reset(&mut self, hello: Hello, now: Duration) {
        self.drop_all(Dropped::Reset);
        self.awake.clear();
        self.syncing.clear();
        self.frozen = hello.frozen;
        self.silence_ms = SILENCE_MS;
        self.starve = false;
        // The tags go on: a line that was under way may have given the new start a `last` already.
        self.known = Some(Known::new(hello.clone(), now));
        self.events.push_back(Event::Reset {
            cause: hello.cause,
            hello,
        });
        self.restore();
    }

    pub(super) fn restore(&mut self) {
        self.unrestored = true;
        self.unguarded.clear();
        if !self.read_only() {
            self.queue.restore(self.setup.again());
        }
    }

    pub(super) fn unset(&mut self, request: &Request, why: String) {
        if let Request::Guard { pin, .. } = request {
            self.unguarded.insert(*pin);
        }
        let request = request.to_string();
        self.events
            .push_back(Event::Trouble(Trouble::NotRestored { request, why }));
    }

    pub(super) fn lose(&mut self, why: LostWhy) {
        if let Some(flight) = self.flight.take() {
            self.unanswered(flight);
        }
        self.drop_all(Dropped::Lost);
        self.hello = None;
        // While the board is looked for again, it is known to be lost.
        if self.known.is_none() || matches!(self.phase, Phase::Up) {
            self.events.push_back(Event::Lost { why });
        }
    }

    /// Gives up on a flight: it may have been done or not.
    pub(super) fn unanswered(&mut self, flight: Flight) {
        match flight.origin {
            Origin::User(ticket) => self.events.push_back(Event::NoAnswer { ticket }),
            Origin::Restore => self.unset(&flight.request, "no answer".into()),
            Origin::Jog(_) | Origin::Sync | Origin::Beat => {}
        }
    }

    /// Drops everything of the caller's, in flight or not, and what the session wanted itself.
    pub(super) fn drop_all(&mut self, why: Dropped) {
        let flying = self.flight.take().and_then(|f| f.origin.ticket());
        let queued = self.queue.clear();
        self.queue.clear_own();
        for ticket in flying.into_iter().chain(queued) {
            self.events.push_back(Event::Dropped { ticket, why });
        }
    }

    /// A stop came: what is on the wire is not sent again; what is not there yet is dropped.
    pub(super) fn stop_flight(&mut self) {
        let Some(flight) = &mut self.flight else {
            return;
        };
        if flight.origin == Origin::Restore {
            return;
        }
        flight.last_try = true;
        if flight.due.is_some() {
            return;
        }
        // It waits for a `hello`, to be sent or to be repeated.
        if let Some(flight) = self.flight.take() {
            match (flight.tries, flight.origin.ticket()) {
                (0, Some(ticket)) => {
                    self.events.push_back(Event::Dropped {
                        ticket,
                        why: Dropped::Stopped,
                    });
                }
                _ => self.unanswered(flight),
            }
        }
    }

    pub(super) fn read_only(&self) -> bool {
        self.known.as_ref().is_some_and(|k| k.hello.proto != PROTO)
    }

    /// Why a request is not even queued.
    pub(super) fn refuses(&self, request: &Request) -> Option<Dropped> {
        match self.phase {
            Phase::Ended => Some(Dropped::Closed),
            Phase::Away | Phase::Finding { .. } if self.known.is_some() => Some(Dropped::Lost),
            _ if self.read_only() && request.kind() == Kind::Change => Some(Dropped::OtherProto),
            _ => None,
        }
    }

    pub(super) fn refuse_queue(&mut self) {
        for ticket in self.queue.drop_changes() {
            self.events.push_back(Event::Dropped {
                ticket,
                why: Dropped::OtherProto,
            });
        }
    }
}
