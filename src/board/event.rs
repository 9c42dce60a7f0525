//! What the worker tells its caller, each with what to do about it.
//!
//! Events are plain data; no caller has to answer one.

use super::answer::{By, Done, Hello, PROTO, ResetCause, Sense, Where};
use super::refusal::Refusal;
use super::sight::SightHandle;
use super::transport::TransportError;
use super::worker::Stop;
use crate::units::{Pin, Pulse};

/// Which [`super::Link::ask`] an event belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ticket(pub u64);

/// Why a request was never done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dropped {
    /// A stop cleared the queue.
    Stopped,
    /// The board was reset meanwhile: what was asked of the board before makes no sense now.
    Reset,
    /// The link is lost.
    Lost,
    /// The board speaks another protocol: only reads and stops are sent.
    OtherProto,
    /// The line would be longer than the protocol allows.
    TooLong,
    /// The link was closed.
    Closed,
}

/// Why the link is lost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LostWhy {
    /// The port failed: nearly always the plug. What the system said, fit to be shown.
    Unplugged(String),
    /// The port is there, but the board does not answer.
    Quiet,
}

/// What went wrong that is no answer and no event of the board.
#[derive(Debug)]
pub enum Trouble {
    /// The link could not be opened.
    Open(TransportError),
    /// Nobody answered `hello`; the link is closed.
    NoBoard {
        /// The rates that were tried.
        rates: Vec<u32>,
    },
    /// The board speaks another protocol: only reads and stops are sent to it.
    OtherProto {
        /// Its protocol.
        proto: u32,
        /// Its firmware, fit to be shown.
        fw: String,
    },
    /// A line from the board came damaged, or made no sense.
    Damaged {
        /// The line, fit to be shown.
        line: String,
        /// How many so far.
        count: u64,
    },
    /// A stop has had no answer yet; it is sent again and again.
    StopUnanswered(Stop),
    /// After a reset a guard could not be set again: the board's own 1400-1600 µs stand there.
    NotRestored {
        /// The words of the request.
        request: String,
        /// Why not, fit to be shown.
        why: String,
    },
}

/// One thing that happened on the link, in order.
#[derive(Debug)]
pub enum Event {
    /// The link is open; nobody has answered yet.
    Opened {
        /// What to call it.
        name: String,
        /// What a person would see; the practice robot alone has it.
        sight: Option<SightHandle>,
    },
    /// The board answered for the first time.
    Found {
        /// Who it is.
        hello: Hello,
        /// At which rate.
        rate: u32,
    },
    /// The board answered a request.
    Answer {
        /// Which.
        ticket: Ticket,
        /// What it said.
        result: Result<Done, Refusal>,
    },
    /// A request had no answer, however often it was sent: it may have been done or not.
    NoAnswer {
        /// Which.
        ticket: Ticket,
    },
    /// A request was not done.
    Dropped {
        /// Which.
        ticket: Ticket,
        /// Why.
        why: Dropped,
    },
    /// The jogged set-points that were sent, and what the board said.
    Jogged {
        /// Pins and where to.
        moves: Vec<(Pin, Pulse)>,
        /// What it said.
        result: Result<Done, Refusal>,
    },
    /// The board has done the stop.
    Stopped {
        /// Which.
        stop: Stop,
        /// The number to thaw it by, for a freeze.
        n: Option<u32>,
    },
    /// Pulses as of one frame; up to 12 pins a line.
    Where(Where),
    /// Counters and inputs.
    Sense(Sense),
    /// The board froze.
    Frozen {
        /// The number to thaw it by.
        n: u32,
        /// On whose account.
        by: By,
    },
    /// Every pin, or those of a trip, went limp by itself.
    WentLimp {
        /// On whose account.
        by: By,
    },
    /// A waking pin has its first pulse.
    Awake(Pin),
    /// The board was reset: every pin is limp, every guard is gone.
    Reset {
        /// Why, as far as the board knows.
        cause: ResetCause,
        /// Who it is now.
        hello: Hello,
    },
    /// The silence times are others than the untouched ones, 500 and 10000, or than those told last.
    /// A reset makes them the untouched ones again.
    Silence {
        /// After so long without a line that feeds it the board freezes.
        freeze_ms: u32,
        /// After so long it goes limp.
        limp_ms: u32,
    },
    /// After a reset: guards, slews, silence, roster and trips stand again. Nothing was woken.
    Restored {
        /// The pins whose guards were set again.
        guards: Vec<Pin>,
    },
    /// The link is lost.
    Lost {
        /// Why.
        why: LostWhy,
    },
    /// The link is there again. If the board was reset meanwhile, [`Event::Reset`] follows.
    Back {
        /// Who it is.
        hello: Hello,
        /// At which rate.
        rate: u32,
    },
    /// Something else went wrong.
    Trouble(Trouble),
    /// The worker has ended; nothing follows.
    Closed,
}

impl Event {
    /// What to do about it, one sentence or two; `None`: nothing is amiss.
    pub fn remedy(&self) -> Option<String> {
        let text = match self {
            Event::Answer {
                result: Err(refusal),
                ..
            }
            | Event::Jogged {
                result: Err(refusal),
                ..
            } => refusal.remedy(),
            Event::NoAnswer { .. } => {
                "It may have been done or not: read where the pins are before going on."
            }
            Event::Dropped { why, .. } => why.remedy(),
            Event::Frozen { by, .. } => match by {
                By::Asked => return None,
                By::Silence => {
                    "It goes limp if nothing is done. The host was stopped or the cable is loose; \
                     thaw to go on."
                }
                By::Trip => "An input rose above its trip: see what pressed, then thaw.",
                By::Noisy => "Shorten or shield the cable, keep it off the servo wires; then thaw.",
            },
            Event::WentLimp { by: By::Trip } => "An input rose above its trip: see what pressed.",
            Event::WentLimp { .. } => {
                "The host was silent too long. Hold the robot, then wake its pins one at a time."
            }
            Event::Reset { cause, .. } => match cause {
                ResetCause::Brownout => {
                    "The supply dipped. Read its display; give it more current, then wake one pin \
                     at a time."
                }
                ResetCause::Power => {
                    "The board lost its power: look at its plug and its supply, then wake one pin \
                     at a time."
                }
                ResetCause::Watchdog => {
                    "The firmware hung: note what you did last and report it. Everything is limp."
                }
                ResetCause::External | ResetCause::Unknown => {
                    "A button, or a program that opened the port. Everything is limp; wake one pin \
                     at a time."
                }
            },
            Event::Lost {
                why: LostWhy::Unplugged(_),
            } => {
                "Plug the cable in again: the board is found by itself. It freezes by itself and \
                 then goes limp."
            }
            Event::Lost {
                why: LostWhy::Quiet,
            } => {
                "Look at the board's supply and the cable: it is looked for again. It freezes by \
                 itself and then goes limp."
            }
            Event::Trouble(trouble) => return Some(trouble.remedy()),
            _ => return None,
        };
        Some(text.to_owned())
    }
}

impl Dropped {
    /// What to do about it.
    pub fn remedy(self) -> &'static str {
        match self {
            Dropped::Stopped => "A stop came first: ask again when it is safe.",
            Dropped::Reset => "The board was reset meanwhile: see what it needs, then ask again.",
            Dropped::Lost => "Wait until the link is back, then ask again.",
            Dropped::OtherProto => "Load the firmware that comes with this program.",
            Dropped::TooLong => "Name fewer pins at once: a line holds 255 bytes.",
            Dropped::Closed => "Open the link again.",
        }
    }
}

impl Trouble {
    /// What to do about it.
    pub fn remedy(&self) -> String {
        match self {
            Trouble::Open(error) => error.to_string(),
            Trouble::NoBoard { rates } => format!(
                "Nobody answered at {}. Is this the right port, has the board the firmware, has it \
                 power?",
                rates
                    .iter()
                    .map(u32::to_string)
                    .collect::<Vec<_>>()
                    .join(" or ")
            ),
            Trouble::OtherProto { proto, fw } => format!(
                "The board has firmware {fw}, which speaks protocol {proto}; this program speaks \
                 {PROTO}. It only reads and stops: load the firmware that comes with this program, \
                 {}.",
                env!("CARGO_PKG_VERSION")
            ),
            Trouble::Damaged { .. } => {
                "Shorten or shield the cable, keep it off the servo wires.".into()
            }
            Trouble::StopUnanswered(_) => {
                "Use the switch in the servo supply. The stop is sent again and again.".into()
            }
            Trouble::NotRestored { .. } => {
                "A guard may be missing: connect again before anything is woken.".into()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::fields::Fields;
    use crate::board::refusal::Reason;

    /// Whatever stops the work says what to do about it; what goes well is silent.
    #[test]
    fn all_that_goes_wrong_has_a_remedy() {
        let hello = Hello::read(&Fields::new(["proto=2", "fw=9"])).expect("a hello");
        let mut wrong = Vec::new();
        for &reason in Reason::ALL {
            let refusal = Refusal {
                reason,
                fields: Fields::default(),
            };
            wrong.push(Event::Answer {
                ticket: Ticket(1),
                result: Err(refusal),
            });
        }
        for why in [
            Dropped::Stopped,
            Dropped::Reset,
            Dropped::Lost,
            Dropped::OtherProto,
            Dropped::TooLong,
            Dropped::Closed,
        ] {
            wrong.push(Event::Dropped {
                ticket: Ticket(1),
                why,
            });
        }
        for by in [By::Silence, By::Trip, By::Noisy] {
            wrong.push(Event::Frozen { n: 1, by });
        }
        for by in [By::Silence, By::Trip] {
            wrong.push(Event::WentLimp { by });
        }
        for cause in [
            ResetCause::Power,
            ResetCause::Brownout,
            ResetCause::Watchdog,
            ResetCause::External,
            ResetCause::Unknown,
        ] {
            wrong.push(Event::Reset {
                cause,
                hello: hello.clone(),
            });
        }
        wrong.extend([
            Event::NoAnswer { ticket: Ticket(1) },
            Event::Lost {
                why: LostWhy::Quiet,
            },
            Event::Lost {
                why: LostWhy::Unplugged("gone".into()),
            },
            Event::Trouble(Trouble::Open(TransportError::Missing {
                name: "ttyUSB0".into(),
            })),
            Event::Trouble(Trouble::NoBoard {
                rates: vec![250_000, 115_200],
            }),
            Event::Trouble(Trouble::OtherProto {
                proto: 2,
                fw: "9".into(),
            }),
            Event::Trouble(Trouble::Damaged {
                line: "x".into(),
                count: 1,
            }),
            Event::Trouble(Trouble::StopUnanswered(Stop::Limp)),
            Event::Trouble(Trouble::NotRestored {
                request: "guard".into(),
                why: "check".into(),
            }),
        ]);
        for event in wrong {
            let remedy = event.remedy().unwrap_or_default();
            assert!(
                remedy.len() > 15 && !remedy.contains("  "),
                "{event:?}: {remedy:?}"
            );
        }
        let fine = [
            Event::Found {
                hello: hello.clone(),
                rate: 250_000,
            },
            Event::Back {
                hello,
                rate: 250_000,
            },
            Event::Frozen {
                n: 1,
                by: By::Asked,
            },
            Event::Closed,
        ];
        assert!(fine.iter().all(|e| e.remedy().is_none()));
    }

    #[test]
    fn another_proto_says_which_firmware_is_needed() {
        let trouble = Trouble::OtherProto {
            proto: 2,
            fw: "9.0".into(),
        };
        let text = trouble.remedy();
        assert!(
            text.contains("protocol 2") && text.contains(env!("CARGO_PKG_VERSION")),
            "{text}"
        );
    }
}
