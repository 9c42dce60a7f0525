//! What the hand asks for next, and what it makes of what was heard.

use super::{Act, At, BARE_SILENCE, COUNT_S, Hand, Trouble, USUAL_SILENCE, Waiting};
use crate::procedure::words::{Ask, Do, Heard};
use crate::units::{Pin, Pulse};

impl Hand {
    /// What a leaving machine asks for at once: limp for all that may be awake, and no wide guard where a horn was bare.
    pub fn let_go(&mut self) -> Vec<Do> {
        self.queue.clear();
        let mut pins: Vec<Pin> = self
            .at
            .iter()
            .filter(|(pin, at)| **at != At::Limp && self.mine.contains(pin))
            .map(|(pin, _)| *pin)
            .collect();
        if let Some(
            Waiting::Answer(Ask::Wake { pin, .. }) | Waiting::Settling(Ask::Wake { pin, .. }),
        ) = &self.waiting
            && !pins.contains(pin)
        {
            pins.push(*pin);
        }
        self.waiting = None;
        for pin in &pins {
            self.at.insert(*pin, At::Limp);
        }
        let bare = std::mem::take(&mut self.bare);
        self.standing.retain(|it| *it != BARE_SILENCE);
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        let mut out = Vec::new();
        if !pins.is_empty() {
            out.push(Do::Ask(Ask::Limp { pins }));
        }
        for pin in bare {
            self.ground.insert(pin, centre);
            self.guard.insert(pin, centre);
            let (low, high) = centre;
            out.push(Do::Ask(Ask::Guard { pin, low, high }));
            out.push(Do::Ask(USUAL_SILENCE));
        }
        out
    }

    /// What can be done now: everything up to the next request that has to be waited for.
    pub fn pump(&mut self) -> Vec<Do> {
        let mut out = Vec::new();
        while self.waiting.is_none() {
            match self.queue.pop_front() {
                None => {
                    self.parking = false;
                    break;
                }
                Some(Act::Count) => out.push(Do::Count(COUNT_S)),
                Some(Act::Bell) => out.push(Do::Bell),
                Some(Act::Ask(ask)) => {
                    self.waiting = Some(Waiting::Answer(ask.clone()));
                    out.push(Do::Ask(ask));
                }
            }
        }
        out
    }

    /// Takes in what was heard; what must be done at once comes back.
    pub fn heard(&mut self, heard: &Heard) -> Vec<Do> {
        match heard {
            Heard::Done(ask) => self.done(ask),
            Heard::Settled => {
                if let Some(Waiting::Settling(_)) = self.waiting {
                    self.waiting = None;
                }
            }
            Heard::Refused { ask, reason } => {
                if self.waiting == Some(Waiting::Answer(ask.clone())) {
                    self.waiting = None;
                    let out = self.let_go();
                    self.trouble = Some(Trouble::Refused(reason.clone()));
                    return out;
                }
            }
            Heard::WentLimp | Heard::Tripped => {
                // A trip names some pins only: any other may be awake still, and is made limp before it wakes again.
                self.stopped(*heard == Heard::Tripped, Trouble::Limp);
                // A reset takes every guard away, and a machine cannot tell a reset from a stop.
                self.guard.clear();
                self.standing.clear();
            }
            Heard::Frozen => {
                self.stopped(true, Trouble::Frozen);
                // A bare arm may press on its servo's own end: it is not held there.
                if !self.bare.is_empty() {
                    let pins: Vec<Pin> = self.bare.iter().copied().collect();
                    self.at.extend(pins.iter().map(|pin| (*pin, At::Limp)));
                    return vec![Do::Ask(Ask::Limp { pins })];
                }
            }
            Heard::Thawed => {
                if self.trouble == Some(Trouble::Frozen) {
                    self.trouble = Some(Trouble::Thawed);
                }
            }
            Heard::CalledOff => {
                self.queue.clear();
                self.waiting = None;
                self.trouble = Some(Trouble::CalledOff);
            }
            Heard::Sense(_) | Heard::Recorded(_) | Heard::NotRecorded(_) => {}
        }
        Vec::new()
    }

    fn stopped(&mut self, may_be_awake: bool, trouble: Trouble) {
        let moved = self.moving();
        if let Some(
            Waiting::Answer(Ask::Wake { pin, .. }) | Waiting::Settling(Ask::Wake { pin, .. }),
        ) = &self.waiting
        {
            // The freeze may have come before or after its first pulse.
            self.at.insert(*pin, At::Lost(None));
        }
        for (pin, it) in &mut self.at {
            *it = match *it {
                At::Limp => continue,
                At::Awake(pulse) if may_be_awake && !moved.contains(pin) => At::Lost(Some(pulse)),
                At::Lost(pulse) if may_be_awake => At::Lost(pulse),
                _ if may_be_awake => At::Lost(None),
                _ => At::Limp,
            };
        }
        self.queue.clear();
        self.waiting = None;
        self.trouble = Some(trouble);
    }

    /// The pins of the motion under way.
    fn moving(&self) -> Vec<Pin> {
        match &self.waiting {
            Some(Waiting::Answer(ask) | Waiting::Settling(ask)) => match ask {
                Ask::Wake { pin, .. } | Ask::Peck { pin, .. } => vec![*pin],
                Ask::Go { moves, .. } => moves.iter().map(|it| it.0).collect(),
                _ => Vec::new(),
            },
            None => Vec::new(),
        }
    }

    fn done(&mut self, ask: &Ask) {
        if self.waiting != Some(Waiting::Answer(ask.clone())) {
            return;
        }
        self.waiting = None;
        match ask {
            Ask::Wake { pin, pulse } => {
                self.at.insert(*pin, At::Awake(*pulse));
                self.waiting = Some(Waiting::Settling(ask.clone()));
            }
            Ask::Go { moves, .. } => {
                for (pin, pulse) in moves {
                    self.at.insert(*pin, At::Awake(*pulse));
                }
                self.waiting = Some(Waiting::Settling(ask.clone()));
            }
            Ask::Peck { .. } => self.waiting = Some(Waiting::Settling(ask.clone())),
            Ask::Limp { pins } if pins.is_empty() => {
                self.at.values_mut().for_each(|it| *it = At::Limp);
            }
            Ask::Limp { pins } => {
                for pin in pins {
                    self.at.insert(*pin, At::Limp);
                }
            }
            Ask::Guard { pin, low, high } => {
                self.guard.insert(*pin, (*low, *high));
                if (*low, *high) == (Pulse::CENTRE, Pulse::CENTRE) {
                    self.bare.remove(pin);
                }
            }
            Ask::Trip { mv: 0, .. } | Ask::Sense { .. } => {}
            Ask::Slew { .. } | Ask::Trip { .. } | Ask::Silence { .. } => {
                self.standing.push(ask.clone())
            }
        }
    }
}
