//! Recording and taking back: marks, ends, guards, undo, and the way to a saved file.
//!
//! Each changes the record first and then tells the board what follows from it; nothing here does I/O.

use crate::board::{PinState, Request};
use crate::calibration::{JointRef, Span};
use crate::units::Pulse;

use super::actions::{ask, guard_to_board, say, slew_of, trouble};
use super::effect::{Effect, Now};
use super::intent::Side;
use super::layers::save::SaveAs;
use super::measure::{FACTORY_GUARD, number};
use super::notice::Trouble;
use super::state::{Asked, State};
use super::work::Marked;

/// Records that this pulse is this angle.
pub fn mark(
    state: &mut State,
    at: JointRef,
    pulse: Pulse,
    angle_deg: f64,
    now: &Now,
) -> Vec<Effect> {
    let title = state.work.robot().title(at);
    let back = "Backspace takes it back. s saves.";
    match state.work.mark(at, pulse, angle_deg, &now.stamp) {
        Ok(Marked::Zero { zero_us }) => {
            say(
                state,
                format!(
                    "Recorded: the zero of {title} is at {} µs.",
                    number(zero_us)
                ),
                back,
            );
            slew_of(state, at, now).into_iter().collect()
        }
        Ok(Marked::Fit {
            zero_us,
            us_per_deg,
            marks,
        }) => {
            say(
                state,
                format!(
                    "Recorded: zero {} µs, {} µs/° from {marks} marks.",
                    number(zero_us),
                    number(us_per_deg)
                ),
                back,
            );
            slew_of(state, at, now).into_iter().collect()
        }
        Ok(Marked::Kept) => {
            say(
                state,
                format!(
                    "Kept: {} µs is {}°. A second angle gives the zero.",
                    pulse,
                    number(angle_deg)
                ),
                "Until then it stands in no file. Backspace takes it back.",
            );
            Vec::new()
        }
        Err(why) => vec![not_recorded(state, why)],
    }
}

fn not_recorded(state: &mut State, why: String) -> Effect {
    // The file's own findings are several lines; the screen has one for what and one for the remedy.
    let mut lines = why.lines();
    let what = lines.next().unwrap_or_default().to_owned();
    let remedy = lines.next().map(str::trim).unwrap_or_default().to_owned();
    trouble(state, Trouble::Told { what, remedy })
}

/// Records an end and draws the joint back from it, then tells the board the guard inside it.
pub fn end(
    state: &mut State,
    at: JointRef,
    side: Side,
    pulse: Pulse,
    back_to: Pulse,
    now: &Now,
) -> Vec<Effect> {
    let before = state.guard_of(at);
    if let Err(why) = state.work.end(at, side, pulse, &now.stamp) {
        return vec![not_recorded(state, why)];
    }
    let mut effects = Vec::new();
    let pin = state.work.robot().joint(at).and_then(|j| j.pin);
    if let Some(pin) = pin {
        let awake = state.bench.plug(pin).state == PinState::Awake;
        // The guard on the other side may be nearer than the way back is long.
        let (low, high) = state.guard_of(at);
        let back_to = back_to.clamp(before.0, before.1);
        if awake && state.may_move().is_ok() && low <= high {
            state.bench.plug_mut(pin).target = Some(back_to);
            state.bell_for = Some(pin);
            effects.push(ask(
                state,
                Request::Go {
                    ms: 200,
                    moves: vec![(pin, back_to)],
                },
                Asked::Move,
                now,
            ));
        }
        // The board refuses a guard that excludes the pulse: it comes when the joint has left the end.
        state.guards_due.push(at);
    }
    let word = match side {
        Side::Near => "near",
        Side::Far => "far",
    };
    say(
        state,
        format!(
            "Recorded: the {word} end of {} is at {pulse} µs.",
            state.work.robot().title(at)
        ),
        format!("It moves back to {back_to} µs. Backspace takes the record back. s saves."),
    );
    effects
}

/// Widens a guard, in the record and on the board.
pub fn set_guard(state: &mut State, at: JointRef, guard: Span, now: &Now) -> Vec<Effect> {
    if let Err(why) = state.work.guard(at, guard) {
        return vec![not_recorded(state, why)];
    }
    say(
        state,
        format!(
            "The guard of {} is {} to {} µs now.",
            state.work.robot().title(at),
            guard.0,
            guard.1
        ),
        "Nothing may rest against an end. Backspace takes it back. s saves.",
    );
    match state.work.robot().joint(at).and_then(|j| j.pin) {
        Some(pin) => guard_to_board(state, at, Asked::Guard(pin), now)
            .into_iter()
            .collect(),
        None => Vec::new(),
    }
}

/// Takes the last recorded thing back.
pub fn undo(state: &mut State, now: &Now) -> Vec<Effect> {
    let Some((at, guard)) = state.work.last_guard() else {
        say(state, "Nothing was recorded in this session.", "");
        return Vec::new();
    };
    let before = state.guard_of(at);
    let after = guard.unwrap_or(FACTORY_GUARD);
    let pin = state.work.robot().joint(at).and_then(|j| j.pin);
    if let Some(pulse) = pin.and_then(|pin| state.bench.plug(pin).pulse)
        && (pulse < after.0 || pulse > after.1)
    {
        say(
            state,
            format!("Not taken back: {pulse} µs lies outside the guard that stood before."),
            format!(
                "Jog {} inside {} to {} µs first.",
                state.work.robot().title(at),
                after.0,
                after.1
            ),
        );
        return Vec::new();
    }
    match state.work.undo() {
        Ok(Some((what, at))) => {
            say(state, format!("Taken back: {what}."), "s saves.");
            let mut effects = Vec::new();
            if before != after
                && let Some(pin) = pin
            {
                effects.extend(guard_to_board(state, at, Asked::Guard(pin), now));
            }
            effects.extend(slew_of(state, at, now));
            effects
        }
        Ok(None) => Vec::new(),
        Err(why) => vec![not_recorded(state, why)],
    }
}

/// What saving needs next.
#[derive(Debug)]
pub enum SaveStep {
    /// A name must be asked.
    AskName,
    /// It can be saved where it came from.
    Go(Vec<Effect>),
}

/// How the work can be saved.
pub fn save(state: &State) -> SaveStep {
    match state.work.why_name() {
        Some(_) => SaveStep::AskName,
        None => SaveStep::Go(vec![Effect::Save]),
    }
}

/// Saves, asking for a name first where one is due.
pub fn save_or_ask(state: &mut State) -> Vec<Effect> {
    match save(state) {
        SaveStep::Go(effects) => effects,
        SaveStep::AskName => {
            let ask = SaveAs::new(state);
            state.layers.push(Box::new(ask));
            Vec::new()
        }
    }
}
