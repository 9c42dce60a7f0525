//! The session with a made-up board and virtual time: bytes in, lines and events out.

mod finding;
mod jogging;
mod loss;
mod requests;
mod resets;
mod silence;
mod stops;

use super::fake::World;
use super::*;
use crate::board::answer::{By, ResetCause};
use crate::board::event::Trouble;
use crate::board::faulty::Faults;
use crate::board::refusal::Reason;
use proptest::prelude::*;

fn pin(n: u8) -> Pin {
    Pin::new(n).expect("a pin")
}

fn us(us: u16) -> Pulse {
    Pulse::from_halves(2 * us)
}

/// The events in short, pictures and counters left out.
fn told(world: &World) -> Vec<String> {
    world
        .events
        .iter()
        .filter(|e| !matches!(e, Event::Where(_) | Event::Sense(_)))
        .map(|e| match e {
            Event::Found { rate, .. } => format!("found at {rate}"),
            Event::Back { rate, .. } => format!("back at {rate}"),
            Event::Answer {
                ticket,
                result: Ok(_),
            } => format!("{} done", ticket.0),
            Event::Answer {
                ticket,
                result: Err(r),
            } => format!("{} refused {}", ticket.0, r.reason),
            Event::NoAnswer { ticket } => format!("{} no answer", ticket.0),
            Event::Dropped { ticket, why } => format!("{} dropped {why:?}", ticket.0),
            Event::Jogged { moves, result } => {
                let to: Vec<String> = moves.iter().map(|(p, u)| format!("{p}:{u}")).collect();
                let end = if result.is_ok() { "" } else { " refused" };
                format!("jogged {}{end}", to.join(" "))
            }
            Event::Stopped { stop, n } => format!("stopped {stop:?} {n:?}"),
            Event::Frozen { n, by } => format!("frozen {n} by {by}"),
            Event::WentLimp { by } => format!("limp by {by}"),
            Event::Awake(pin) => format!("awake {pin}"),
            Event::Reset { cause, .. } => format!("reset {cause}"),
            Event::Restored { guards } => format!("restored {}", guards.len()),
            Event::Lost { why } => format!("lost {why:?}"),
            Event::Trouble(Trouble::NoBoard { rates }) => format!("no board {rates:?}"),
            Event::Trouble(Trouble::OtherProto { proto, .. }) => format!("proto {proto}"),
            Event::Trouble(Trouble::Damaged { .. }) => "damaged".into(),
            Event::Trouble(Trouble::StopUnanswered(stop)) => format!("unanswered {stop:?}"),
            Event::Trouble(Trouble::NotRestored { request, .. }) => {
                format!("not restored {request}")
            }
            other => format!("{other:?}"),
        })
        .collect()
}
