//! What the board brings: answers to whom they belong, events as they are.

use std::time::Duration;

use super::queue::Origin;
use super::{DAMAGE_EVERY, Flight, KEEP_RATE, Phase, Session};
use crate::board::answer::{By, Done, Hello, PinState, Told, Where};
use crate::board::codec::Message;
use crate::board::escape::shown;
use crate::board::event::{Event, Trouble};
use crate::board::fields::Fields;
use crate::board::refusal::{Reason, Refusal};
use crate::board::request::{Kind, Request};
use crate::board::worker::Stop;

impl Session {
    /// Takes what came from the board.
    pub fn receive(&mut self, bytes: &[u8], now: Duration) {
        for &byte in bytes {
            let Some(line) = self.lines.push(byte) else {
                continue;
            };
            match line {
                Ok(line) => match Message::parse(&line) {
                    Ok(message) => self.take(message, &line, now),
                    Err(error) => self.damage(error.to_string(), now),
                },
                Err(error) => self.damage(error.to_string(), now),
            }
        }
    }

    /// Notes a damaged line. While the board is looked for, damage is what another rate looks like.
    pub(super) fn damage(&mut self, line: String, now: Duration) {
        if !matches!(self.phase, Phase::Up) {
            return;
        }
        self.damaged += 1;
        if self.damage_told.is_none_or(|at| now >= at + DAMAGE_EVERY) {
            self.damage_told = Some(now);
            let count = self.damaged;
            self.events
                .push_back(Event::Trouble(Trouble::Damaged { line, count }));
        }
    }

    pub(super) fn take(&mut self, message: Message, line: &[u8], now: Duration) {
        if matches!(self.phase, Phase::Away | Phase::Ended) {
            return;
        }
        self.heard = now;
        if let Phase::Finding { keep_until, .. } = &mut self.phase {
            // A whole line with a right check: this is the rate.
            *keep_until = (*keep_until).max(now + KEEP_RATE);
        }
        match message {
            Message::Done {
                tag: Some(tag),
                fields,
            } => self.done(tag, &fields, line, now),
            Message::Refused {
                tag: Some(0),
                reason,
                ..
            } => {
                self.damage(format!("the board received a damaged line ({reason})"), now);
                // Whose it was it cannot say: everything unanswered is late as of now.
                if let Some(stop) = &mut self.stop {
                    stop.due = now;
                }
                if let Some(due) = self.flight.as_mut().and_then(|f| f.due.as_mut()) {
                    *due = now;
                }
            }
            Message::Refused {
                tag: Some(tag),
                reason,
                fields,
            } => {
                if let Some(flight) = self.flight.take_if(|f| f.tag == tag) {
                    if reason == Reason::Stale {
                        self.tag = fields.number("last").map_or(self.tag, |n| n as u16);
                    }
                    self.answered(flight, Err(Refusal { reason, fields }), now);
                }
            }
            Message::Event { word, fields } => match Told::read(&word, &fields) {
                Ok(Some(told)) => self.told(told, now),
                Ok(None) => {}
                Err(error) => {
                    self.damage(format!("event {}: {error}", shown(word.as_bytes())), now)
                }
            },
            // Answers to lines without a tag: none of ours.
            Message::Done { tag: None, .. } | Message::Refused { tag: None, .. } => {}
        }
    }

    pub(super) fn done(&mut self, tag: u16, fields: &Fields, line: &[u8], now: Duration) {
        if let Some(sent) = self.hello_answered(tag) {
            match Hello::read(fields) {
                Ok(hello) => self.greeted(hello, sent, now),
                Err(error) => self.damage(format!("hello: {error}"), now),
            }
            return;
        }
        if !matches!(self.phase, Phase::Up) {
            return;
        }
        if let Some(out) = self.stop.take_if(|s| s.tag == tag) {
            let n = fields.number("n").ok();
            match (out.stop, n) {
                (Stop::Limp, _) => self.awake.clear(),
                (Stop::Freeze, Some(n)) => self.frozen = n,
                (Stop::Freeze, None) => {}
            }
            self.events.push_back(Event::Stopped { stop: out.stop, n });
            if !self.read_only() {
                self.sync(now);
            }
            return;
        }
        let Some(flight) = self.flight.take_if(|f| f.tag == tag) else {
            return; // A second answer to a line that was repeated.
        };
        let read = if line.len() < flight.request.reply_limit() {
            Done::read(&flight.request, fields).map_err(|e| e.to_string())
        } else {
            Err(format!(
                "{} bytes are too long an answer to {}",
                line.len(),
                flight.request.verb()
            ))
        };
        match read {
            Ok(done) => self.answered(flight, Ok(done), now),
            Err(error) => {
                self.flight = Some(flight);
                self.damage(error, now);
            }
        }
    }

    /// When the `hello` with this tag was sent; forgets it and those before it.
    pub(super) fn hello_answered(&mut self, tag: u16) -> Option<Duration> {
        let out = self.hello.as_mut()?;
        let at = out.sends.iter().position(|s| s.0 == tag)?;
        let sent = out.sends[at].1;
        out.sends.drain(..=at);
        match out.sends.first() {
            Some(next) => out.since = next.1,
            None => self.hello = None,
        }
        Some(sent)
    }

    pub(super) fn answered(
        &mut self,
        flight: Flight,
        result: Result<Done, Refusal>,
        now: Duration,
    ) {
        let Flight {
            origin,
            request,
            written,
            ..
        } = flight;
        if request.kind() == Kind::Change
            && let Some(known) = &mut self.known
        {
            known.took_tag();
        }
        match &result {
            Ok(done) => {
                if request.kind() == Kind::Change {
                    self.fed = self.fed.max(written);
                }
                self.setup.note(&request);
                self.note(&request, done);
            }
            // It is limp after all, unless the refusal says that it is not.
            Err(refusal) => {
                if let Request::Wake { pin, .. } = &request
                    && !matches!(refusal.reason, Reason::Waking | Reason::Awake)
                {
                    self.awake.remove(pin);
                }
            }
        }
        match (origin, result) {
            (Origin::User(ticket), result) => {
                self.events.push_back(Event::Answer { ticket, result })
            }
            (Origin::Jog(moves), result) => self.events.push_back(Event::Jogged { moves, result }),
            (Origin::Sync, Ok(Done::Where(part))) => self.synchronised(part, now),
            (Origin::Restore, Err(refusal)) => self.unset(&request, refusal.to_string()),
            (Origin::Restore | Origin::Sync | Origin::Beat, _) => {}
        }
    }

    /// What a done request says about the state of the board.
    pub(super) fn note(&mut self, request: &Request, done: &Done) {
        match request {
            Request::Limp { pins } if pins.is_empty() => self.awake.clear(),
            Request::Limp { pins } => self.awake.retain(|p| !pins.contains(p)),
            Request::Thaw(_) => self.frozen = 0,
            Request::Silence { freeze_ms, limp_ms } => self.silence((*freeze_ms, *limp_ms)),
            _ => {}
        }
        match done {
            Done::Silence { freeze_ms, limp_ms } => self.silence((*freeze_ms, *limp_ms)),
            Done::Freeze { n } => self.frozen = *n,
            _ => {}
        }
    }

    /// The board's silence times, told on when they are others than was known.
    fn silence(&mut self, (freeze_ms, limp_ms): (u32, u32)) {
        if self.silence_ms != (freeze_ms, limp_ms) {
            self.silence_ms = (freeze_ms, limp_ms);
            self.events.push_back(Event::Silence { freeze_ms, limp_ms });
        }
    }

    /// The session's own `where`: the truth about which pins are awake, told on as an event.
    pub(super) fn synchronised(&mut self, part: Where, now: Duration) {
        let pins = part.pins.iter().filter(|p| p.state != PinState::Limp);
        self.syncing.extend(pins.map(|p| p.pin));
        match part.more {
            Some(pin) => self.queue.first(Origin::Sync, Request::WhereFrom(pin)),
            None => {
                self.awake = std::mem::take(&mut self.syncing);
                self.synced = now;
            }
        }
        self.events.push_back(Event::Where(part));
    }

    pub(super) fn told(&mut self, told: Told, now: Duration) {
        if let (Told::Ready(_), Phase::Finding { next, .. }) = (&told, &mut self.phase) {
            *next = now;
        }
        if !matches!(self.phase, Phase::Up) {
            return;
        }
        match told {
            Told::Ready(hello) => {
                if self.known.as_ref().is_none_or(|k| k.was_reset(&hello, now)) {
                    self.reset(hello, now);
                }
            }
            Told::Frozen { n, by } => self.froze(n, by, now),
            Told::Limp { by } => {
                if by == By::Silence {
                    self.awake.clear();
                }
                self.events.push_back(Event::WentLimp { by });
                self.sync(now);
            }
            Told::Awake(pin) => {
                self.awake.insert(pin);
                self.events.push_back(Event::Awake(pin));
            }
            Told::Where(part) => self.events.push_back(Event::Where(part)),
            Told::Sense(sense) => self.events.push_back(Event::Sense(sense)),
        }
    }

    pub(super) fn froze(&mut self, n: u32, by: By, now: Duration) {
        if n == self.frozen && by == By::Asked {
            return; // Our own stop, which was told as such.
        }
        self.frozen = n;
        self.starve = by == By::Silence;
        self.events.push_back(Event::Frozen { n, by });
        // A freeze makes a pecking pin limp and cancels wakes.
        self.sync(now);
    }
}
