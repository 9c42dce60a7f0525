//! What time brings: looking for the board, repeating what is late, starting what is next.

use std::time::Duration;

use super::queue::{Job, Origin};
use super::{
    FIND_EVERY, Flight, HELLO_AGAIN, HELLO_EVERY, HELLO_TRIES, HelloOut, Output, Phase, QUIET,
    SYNC_EVERY, Session, TRIES, ms,
};
use crate::board::codec::emit;
use crate::board::event::{Dropped, Event, LostWhy, Trouble};
use crate::board::request::{Kind, Request};
use crate::board::worker::Stop;

impl Session {
    /// Does what is due. Bytes that have come go into [`Session::receive`] first.
    pub fn poll(&mut self, now: Duration) {
        match self.phase {
            Phase::Away | Phase::Ended => {}
            Phase::Finding { since, .. }
                if self.known.is_none() && now >= since + self.settings.find_for =>
            {
                let rates = self.settings.rates.clone();
                self.events
                    .push_back(Event::Trouble(Trouble::NoBoard { rates }));
                self.drop_all(Dropped::Lost);
                self.phase = Phase::Ended;
            }
            Phase::Finding { .. } => {
                self.find(now);
                self.repeat_stop(now);
            }
            Phase::Up => {
                self.repeat_stop(now);
                self.watch_link(now);
                if matches!(self.phase, Phase::Up) {
                    self.repeat_flight(now);
                    self.start_next(now);
                }
            }
        }
    }

    pub(super) fn look(&mut self, now: Duration, keep_until: Duration) {
        self.hello = None;
        self.phase = Phase::Finding {
            since: now,
            next: now,
            turn: 0,
            keep_until,
        };
        self.find(now);
    }

    pub(super) fn find(&mut self, now: Duration) {
        let rates = self.settings.rates.clone();
        let Phase::Finding {
            next,
            turn,
            keep_until,
            ..
        } = &mut self.phase
        else {
            return;
        };
        if now < *next {
            return;
        }
        *next = now + FIND_EVERY;
        if now >= *keep_until && !rates.is_empty() {
            self.rate = rates[*turn % rates.len()];
            *turn += 1;
            self.lines.clear();
            self.out.push_back(Output::Rate(self.rate));
        }
        // What the board received at another rate may still stand in its line: end that first.
        self.out.push_back(Output::Line(b"\n".to_vec()));
        self.send_hello(now);
    }

    pub(super) fn send_hello(&mut self, now: Duration) {
        let tag = self.read_tag();
        let out = self.hello.get_or_insert_with(|| HelloOut {
            since: now,
            sends: Vec::new(),
        });
        out.sends.push((tag, now));
        self.hello_sent = now;
        self.put(tag, &Request::Hello);
    }

    pub(super) fn send_stop(&mut self, now: Duration) {
        let Some(out) = &mut self.stop else { return };
        let request = match out.stop {
            Stop::Freeze => Request::Freeze,
            Stop::Limp => Request::Limp { pins: Vec::new() },
        };
        out.tries += 1;
        out.due = now + request.deadline();
        let (tag, tries, stop) = (out.tag, out.tries, out.stop);
        if tries == 4 {
            self.events
                .push_back(Event::Trouble(Trouble::StopUnanswered(stop)));
        }
        self.put(tag, &request);
    }

    pub(super) fn repeat_stop(&mut self, now: Duration) {
        if self.stop.as_ref().is_some_and(|s| now >= s.due) {
            self.send_stop(now);
        }
    }

    pub(super) fn watch_link(&mut self, now: Duration) {
        match &self.hello {
            Some(hello) => {
                let quiet = now >= hello.since.max(self.heard) + QUIET;
                if quiet || hello.sends.len() > HELLO_TRIES {
                    self.lose(LostWhy::Quiet);
                    self.look(now, now + self.settings.find_for);
                } else if now >= hello.last() + HELLO_AGAIN {
                    self.send_hello(now);
                }
            }
            None if now >= self.hello_sent + HELLO_EVERY => self.send_hello(now),
            None => {}
        }
    }

    pub(super) fn repeat_flight(&mut self, now: Duration) {
        let Some(flight) = &mut self.flight else {
            return;
        };
        if flight.due.is_none_or(|due| now < due) {
            return;
        }
        if flight.last_try || flight.tries >= TRIES {
            if let Some(flight) = self.flight.take() {
                self.unanswered(flight);
            }
        } else if matches!(flight.request, Request::Wake { .. }) {
            // It may have been done and only the answer lost, or the board was reset: ask first.
            flight.due = None;
            flight.asked = now;
            self.send_hello(now);
        } else {
            self.send_flight(now);
        }
    }

    pub(super) fn send_flight(&mut self, now: Duration) {
        let longest = if self.awake.is_empty() {
            Duration::MAX
        } else {
            // With a short silence time there is less patience for a lost answer.
            ms(u64::from(self.silence_ms.0 / 3).max(40))
        };
        let Some(flight) = &mut self.flight else {
            return;
        };
        if flight.tries == 0 {
            flight.written = now;
        }
        flight.tries += 1;
        flight.due = Some(now + flight.request.deadline().min(longest));
        self.out.push_back(Output::Line(flight.line.clone()));
    }

    /// Starts what is next, when nothing is in flight and no stop is unanswered.
    pub(super) fn start_next(&mut self, now: Duration) {
        while self.flight.is_none() && self.stop.is_none() {
            if self.beat_at().is_some_and(|at| now >= at) {
                self.start(Origin::Beat, Request::Beat, now);
                continue;
            }
            match self.queue.next() {
                Some(Job::Ask(origin, request)) => self.start(origin, request, now),
                Some(Job::Jog(moves)) => {
                    let request = Request::Go {
                        ms: self.settings.jog_ms,
                        moves: moves.clone(),
                    };
                    self.start(Origin::Jog(moves), request, now);
                }
                Some(Job::Restored) => {
                    self.unrestored = false;
                    let mut guards = self.setup.guarded();
                    guards.retain(|pin| !self.unguarded.contains(pin));
                    self.events.push_back(Event::Restored { guards });
                }
                None if !self.awake.is_empty() && now >= self.synced + SYNC_EVERY => self.sync(now),
                None => return,
            }
        }
    }

    pub(super) fn start(&mut self, origin: Origin, request: Request, now: Duration) {
        let tag = match request.kind() {
            Kind::Change => self.tag % 65535 + 1,
            Kind::Read | Kind::Stop => self.read_tag(),
        };
        let Ok(line) = emit(Some(tag), &request.to_string()) else {
            if let Origin::User(ticket) = origin {
                self.events.push_back(Event::Dropped {
                    ticket,
                    why: Dropped::TooLong,
                });
            }
            return;
        };
        if request.kind() == Kind::Change {
            self.tag = tag;
        }
        let wakes = match request {
            Request::Wake { pin, .. } => {
                self.awake.insert(pin);
                true
            }
            _ => false,
        };
        self.flight = Some(Flight {
            origin,
            request,
            tag,
            line,
            tries: 0,
            due: None,
            asked: now,
            written: now,
            last_try: false,
        });
        if wakes {
            // A board that was reset unseen has no guards: it is asked before it wakes anything.
            self.send_hello(now);
        } else {
            self.send_flight(now);
        }
    }

    /// When the silence clock has to be fed next.
    pub(super) fn beat_at(&self) -> Option<Duration> {
        let idle = self.awake.is_empty() || self.starve || self.read_only();
        if idle {
            return None;
        }
        let at = self.fed + ms(u64::from(self.silence_ms.0 / 4).clamp(25, 200));
        match self.settings.alive_within {
            Some(within) if at > self.alive + within => None,
            _ => Some(at),
        }
    }

    pub(super) fn sync(&mut self, now: Duration) {
        self.synced = now;
        self.queue
            .first(Origin::Sync, Request::Where { pins: Vec::new() });
    }
}
