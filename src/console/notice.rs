//! What went wrong, in two lines each: what happened, and the remedy.
//!
//! An event keeps its two lines until Enter or Esc; of two, the one that lets something fall or move wins.
//! The texts are those of the screens' specification; nothing here changes state.

use std::time::Duration;

use crate::board::{By, Reason, Refusal, ResetCause};
use crate::units::{Pin, Pulse};

use super::bench::Silence;
use super::state::State;
use super::view;

/// Something that went wrong and was not answered yet.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// The board froze.
    Frozen {
        /// On whose account.
        by: FrozenBy,
        /// When.
        at: Duration,
    },
    /// The board let everything go by itself.
    WentLimp {
        /// On whose account.
        by: By,
    },
    /// The link is lost.
    Lost,
    /// It is back, and the board was not reset meanwhile.
    Back,
    /// The board was reset.
    Reset {
        /// Why.
        cause: ResetCause,
        /// Its count of starts.
        boot: u16,
        /// Its guards stand again.
        restored: bool,
        /// The link was lost meanwhile.
        after_loss: bool,
    },
    /// The board refused something.
    Refused {
        /// First line, behind `Refused: `.
        what: String,
        /// The remedy.
        remedy: String,
    },
    /// Something with its own two lines.
    Told {
        /// What happened.
        what: String,
        /// The remedy.
        remedy: String,
    },
    /// Nobody pressed a key for three minutes while pins were awake.
    Nobody {
        /// When the rest pose begins.
        until: Duration,
        /// Seconds that were rung for already.
        rung: u64,
    },
}

/// On whose account the board froze, as the builder sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrozenBy {
    /// Space on the ground.
    Space,
    /// The key `p`, or another program.
    Asked,
    /// Silence.
    Silence,
    /// A reflex on an input.
    Trip,
    /// Damaged lines.
    Noisy,
}

impl From<By> for FrozenBy {
    fn from(by: By) -> FrozenBy {
        match by {
            By::Asked => FrozenBy::Asked,
            By::Silence => FrozenBy::Silence,
            By::Trip => FrozenBy::Trip,
            By::Noisy => FrozenBy::Noisy,
        }
    }
}

impl Trouble {
    /// Which of two is shown: the greater lets more fall or move.
    fn weight(&self) -> u8 {
        match self {
            Trouble::WentLimp { .. } => 7,
            Trouble::Reset { .. } => 6,
            Trouble::Nobody { .. } => 5,
            Trouble::Lost => 4,
            Trouble::Frozen { .. } => 3,
            Trouble::Back => 2,
            Trouble::Refused { .. } | Trouble::Told { .. } => 1,
        }
    }

    /// Enter does nothing but put it away.
    pub fn is_put_away(&self) -> bool {
        self.weight() <= 2
    }

    /// A later one of the same kind takes the place of an earlier one.
    fn same_kind(&self, other: &Trouble) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other)
    }

    /// Something moves, falls or stands still by itself because of it: what was about to move must not.
    pub fn ends_motion(&self) -> bool {
        self.weight() >= 3
    }

    /// Its two lines.
    pub fn lines(&self, state: &State, now: Duration) -> (String, String) {
        let two = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        match self {
            Trouble::Frozen { by, .. }
                if matches!(by, FrozenBy::Space | FrozenBy::Asked) && !state.bench.holds() =>
            {
                two(
                    "All limp, and the board is still frozen. Enter thaws.",
                    "Thawing moves nothing; nothing wakes before it.",
                )
            }
            Trouble::Frozen { by, at } => match by {
                FrozenBy::Space => {
                    let again = match state.stop_key {
                        "Space" => "A second Space",
                        _ => "Space",
                    };
                    let rest = match state.why_no_sit_down() {
                        None => "y sits it down slowly.",
                        Some(_) => "Hold the body first.",
                    };
                    (
                        format!(
                            "Frozen, because you pressed {}. Enter thaws.",
                            state.stop_key
                        ),
                        format!("{again} lets go and the robot falls. {rest}"),
                    )
                }
                FrozenBy::Asked => two(
                    "Frozen. Enter thaws; thawing moves nothing.",
                    "Every pin keeps its pulse and its force until then.",
                ),
                FrozenBy::Silence => {
                    let Silence { freeze, limp } = state.bench.silence;
                    let what = format!(
                        "The board heard nothing for {} and froze. Enter thaws.",
                        lasted(freeze)
                    );
                    if !state.bench.holds() {
                        return two(
                            &what,
                            "All is limp. The host was stopped or the cable is loose.",
                        );
                    }
                    // The board counts both times from the same line.
                    let left = limp
                        .saturating_sub(freeze)
                        .saturating_sub(now.saturating_sub(*at));
                    (
                        what,
                        format!(
                            "Limp in {} s if nothing is done. The host was stopped or the cable is loose.",
                            left.as_secs()
                        ),
                    )
                }
                FrozenBy::Trip => two(
                    "An input tripped and the board froze. Enter thaws.",
                    "It freezes again while the input stays high: look at that input first.",
                ),
                FrozenBy::Noisy => two(
                    "Eight damaged lines in a second: the board froze.",
                    "Shorten or shield the cable, keep it off the servo wires. Enter thaws.",
                ),
            },
            Trouble::WentLimp { by: By::Trip } => {
                two("An input tripped and let pins go limp.", wakes_again(state))
            }
            Trouble::WentLimp { .. } => two(
                &format!(
                    "The board heard nothing for {} and went limp.",
                    lasted(state.bench.silence.limp)
                ),
                wakes_again(state),
            ),
            Trouble::Lost => two(
                &format!(
                    "Link lost. The board freezes by itself and goes limp after {}.",
                    lasted(state.bench.silence.limp)
                ),
                &format!(
                    "Plug the cable in again: the board is found by itself. {}",
                    record_is(state)
                ),
            ),
            Trouble::Back => two(
                "The board is back, and it was not reset meanwhile.",
                "Look at the head line: what is awake may be frozen. Enter goes on.",
            ),
            Trouble::Reset {
                cause,
                boot,
                restored,
                after_loss,
            } => reset_lines(state, *cause, *boot, *restored, *after_loss),
            Trouble::Refused { what, remedy } => (format!("Refused: {what}"), remedy.clone()),
            Trouble::Told { what, remedy } => (what.clone(), remedy.clone()),
            Trouble::Nobody { until, .. } => (
                format!(
                    "Still there? Any key. Rest pose in {} s, then limp.",
                    seconds_left(*until, now)
                ),
                "No key for three minutes while servos hold. Space stops at once.".into(),
            ),
        }
    }
}

/// A silence time in few letters: `500 ms`, `10 s`, `1.25 s`.
fn lasted(time: Duration) -> String {
    match time.as_millis() {
        ms if ms < 1000 => format!("{ms} ms"),
        _ => format!("{} s", super::measure::number(time.as_secs_f64())),
    }
}

/// Whole seconds until a moment, rounded up.
pub fn seconds_left(until: Duration, now: Duration) -> u64 {
    until.saturating_sub(now).as_millis().div_ceil(1000) as u64
}

fn record_is(state: &State) -> &'static str {
    if state.work.unsaved() == 0 || state.work.is_durable() {
        "The record is safe."
    } else {
        "s saves the record."
    }
}

/// What Enter does after the board let go by itself.
fn wakes_again(state: &State) -> &'static str {
    match (state.bench.frozen, state.bench.was_awake.as_slice()) {
        (None, []) => "Look at what is limp. Enter goes on.",
        (None, _) => "Enter wakes what was awake, one at a time, at the last pulses. Hands away.",
        (Some(_), []) => "It is frozen too: Enter thaws, which moves nothing.",
        (Some(_), _) => "Enter thaws; a second Enter wakes what was awake, one by one. Hands away.",
    }
}

fn reset_lines(
    state: &State,
    cause: ResetCause,
    boot: u16,
    restored: bool,
    after_loss: bool,
) -> (String, String) {
    let wake = if !restored {
        "All limp. Guards are being set again."
    } else if state.bench.was_awake.is_empty() {
        "All limp, guards are set again. Enter goes on."
    } else {
        "Enter wakes what was awake, one at a time, at the last pulses. Hands away."
    };
    if after_loss && cause != ResetCause::Brownout {
        let pins = state
            .work
            .robot()
            .joints()
            .filter(|(_, j)| j.pin.is_some())
            .count();
        let guards = if restored {
            "guards are set again"
        } else {
            "guards are being set"
        };
        return (
            format!("The board is back. All {pins} pins are limp, {guards}."),
            wake.into(),
        );
    }
    match cause {
        ResetCause::Brownout => (
            format!("The board reset: its supply dipped (brown-out, boot {boot})."),
            // Enter does nothing before the guards stand again.
            match restored {
                false => wake.into(),
                true => {
                    "All limp. Read the supply's display; more current, or Enter: wake one by one."
                        .into()
                }
            },
        ),
        ResetCause::Watchdog => (
            format!("The board reset: its firmware hung (watchdog, boot {boot})."),
            wake.into(),
        ),
        ResetCause::Power => (
            format!("The board reset: its power was off (boot {boot})."),
            wake.into(),
        ),
        ResetCause::External => (
            format!("The board reset: button or port opened (boot {boot})."),
            wake.into(),
        ),
        ResetCause::Unknown => (
            format!("The board reset, it does not know why (boot {boot})."),
            wake.into(),
        ),
    }
}

/// The two lines of a refusal. `wished` is the pulse that was asked for, if one was.
pub fn refused(state: &State, refusal: &Refusal, wished: Option<(Pin, Pulse)>) -> Trouble {
    if refusal.reason == Reason::Guard
        && let (Some(pin), Some((low, high))) = (refusal.pin(), refusal.guard())
    {
        let pulse = wished.filter(|(p, _)| *p == pin).map(|(_, pulse)| pulse);
        return outside_guard(state, pin, pulse, (low, high));
    }
    Trouble::Refused {
        what: format!("{refusal}."),
        remedy: refusal.remedy().to_owned(),
    }
}

/// The two lines for a pulse outside the guard.
pub fn outside_guard(
    state: &State,
    pin: Pin,
    wished: Option<Pulse>,
    (low, high): (Pulse, Pulse),
) -> Trouble {
    let what = match wished {
        Some(pulse) if pulse < low => format!("guard. {pulse} is below {low} on pin {pin}."),
        Some(pulse) => format!("guard. {pulse} is above {high} on pin {pin}."),
        None => format!("guard. Pin {pin} takes {low} to {high} µs."),
    };
    let joint = state
        .work
        .robot()
        .joint_of_pin(pin)
        .and_then(|at| state.work.robot().joint(at));
    let end = joint.and_then(|j| match wished {
        Some(pulse) if pulse < low => j.near_end.as_ref().map(|e| ("near", e)),
        Some(_) => j.far_end.as_ref().map(|e| ("far", e)),
        None => None,
    });
    let remedy = match end {
        Some((side, end)) => {
            let spread = end
                .spread
                .map(|s| format!(" ± {}", super::measure::number(s)))
                .unwrap_or_default();
            format!(
                "Nothing moved. The {side} end is at {}{spread}; the guard keeps away from it.",
                super::measure::number(end.value)
            )
        }
        None => {
            let key = match wished {
                Some(pulse) if pulse < low => "[",
                Some(_) => "]",
                None => "[ or ]",
            };
            format!("Nothing moved. {key} widens the guard, at most 50 µs beyond the pulse.")
        }
    };
    Trouble::Refused { what, remedy }
}

/// Adds a trouble; one of the same kind is replaced.
pub fn add(troubles: &mut Vec<Trouble>, trouble: Trouble) {
    troubles.retain(|t| !t.same_kind(&trouble));
    troubles.push(trouble);
}

/// The trouble that is shown: the weightiest, the newest of equals.
pub fn shown(troubles: &[Trouble]) -> Option<(usize, &Trouble)> {
    troubles
        .iter()
        .enumerate()
        .max_by_key(|(index, t)| (t.weight(), *index))
}

/// Its lines as the view takes them.
pub fn compose(state: &State, now: Duration) -> Option<view::Notice> {
    let (_, trouble) = shown(&state.troubles)?;
    let (next, second) = trouble.lines(state, now);
    Some(view::Notice {
        alarm: true,
        next,
        second,
        second_long: None,
        more: state.troubles.len() - 1,
    })
}
