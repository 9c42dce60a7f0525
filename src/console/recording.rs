//! Recording and taking back: marks, ends, guards, undo, and the way to a saved file.
//!
//! What is to be recorded is proposed, the runner writes it into the logbook, and only when it is there
//! the screen says so and the board is told what follows from it. Nothing here does I/O.

use crate::board::{PinState, Request};
use crate::calibration::logbook::{self, What};
use crate::calibration::{JointRef, Span};
use crate::units::Pulse;

use super::actions::{ask, guard_to_board, guards_due, say, slew_of, trouble};
use super::effect::{Effect, Now};
use super::guided::{self, hands};
use super::intent::Side;
use super::layers::save::SaveAs;
use super::layers::take_back::TakeBack;
use super::measure::{FACTORY_GUARD, number};
use super::notice::Trouble;
use super::state::{Asked, State};
use super::work::{Marked, Proposal};

/// A take-up move is at least this long, µs: longer than any play.
const TAKE_UP_US: f64 = 15.0;

/// Something that is being written into the logbook, and what is done once it is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    proposal: Proposal,
    then: Then,
}

/// What is done once it is recorded.
#[derive(Debug, Clone, PartialEq)]
enum Then {
    Mark {
        pulse: Pulse,
        angle_deg: f64,
        /// The zero that it replaces, if no mark told that one.
        instead_of_us: Option<f64>,
    },
    End {
        side: Side,
        pulse: Pulse,
        back_to: Pulse,
        /// The guard that the board still has.
        before: Span,
    },
    Guard {
        guard: Span,
    },
    Undo {
        /// The guard that the board still has.
        before: Span,
        /// What is taken back.
        whats: Vec<What>,
    },
    /// A machine of guided work is told.
    Guided,
}

/// Sends a proposal on its way into the logbook.
fn record(state: &mut State, proposal: Result<Proposal, String>, then: Then) -> Vec<Effect> {
    if state.recording.is_some() {
        return vec![still_written(state)];
    }
    match proposal {
        Ok(proposal) => {
            let effect = Effect::Record {
                whats: proposal.whats.clone(),
                stamp: proposal.stamp.clone(),
            };
            state.recording = Some(Recording { proposal, then });
            vec![effect]
        }
        Err(why) => vec![not_recorded(state, why)],
    }
}

/// The logbook has it, or why not.
pub fn recorded(state: &mut State, result: Result<(), String>, now: &Now) -> Vec<Effect> {
    let Some(Recording { proposal, then }) = state.recording.take() else {
        return Vec::new();
    };
    let result = result.and_then(|()| state.work.recorded(&proposal));
    let supply = |what: &What| matches!(what, What::Supply { .. });
    if result.is_ok() && proposal.whats.iter().any(supply) {
        state.bench.browned_out = false;
    }
    if then == Then::Guided {
        return guided::recorded(state, result, now);
    }
    if let Err(why) = result {
        return vec![not_recorded(state, why)];
    }
    let at = proposal.at;
    match then {
        Then::Mark {
            pulse,
            angle_deg,
            instead_of_us,
        } => after_mark(state, at, (pulse, angle_deg), instead_of_us, now),
        Then::End {
            side,
            pulse,
            back_to,
            before,
        } => after_end(state, at, (side, pulse), back_to, before, now),
        Then::Guard { guard } => after_guard(state, at, guard, now),
        Then::Undo { before, whats } => after_undo(state, &proposal, before, &whats, now),
        Then::Guided => Vec::new(),
    }
}

fn still_written(state: &mut State) -> Effect {
    let why = "Not recorded: the one before is still being written.\nTry again.";
    not_recorded(state, why.into())
}

fn not_recorded(state: &mut State, why: String) -> Effect {
    let (what, remedy) = two_lines(&why);
    trouble(state, Trouble::Told { what, remedy })
}

/// What was found, and the remedy: a file's own findings are several lines, an error's remedy is its second sentence,
/// and the screen has one line for each.
pub fn two_lines(why: &str) -> (String, String) {
    let mut lines = why.lines();
    let first = lines.next().unwrap_or_default();
    match (lines.next(), first.split_once(". ")) {
        (Some(second), _) => (first.to_owned(), second.trim().to_owned()),
        (None, Some((what, remedy))) => (format!("{what}."), remedy.to_owned()),
        (None, None) => (first.to_owned(), String::new()),
    }
}

/// Records what a machine of guided work found, as one thing that is taken back as one.
pub fn record_guided(state: &mut State, at: JointRef, whats: Vec<What>, now: &Now) -> Vec<Effect> {
    let words = whats.first().map(ToString::to_string).unwrap_or_default();
    let proposal = state.work.propose(at, words, whats, &now.stamp);
    let proposal = proposal.map(|it| Proposal { guided: true, ..it });
    for_guided(state, proposal, now)
}

/// Takes back what a machine of guided work recorded last.
pub fn undo_guided(state: &mut State, now: &Now) -> Vec<Effect> {
    let proposal = state.work.undo(&now.stamp);
    let proposal = proposal.and_then(|it| it.ok_or_else(|| "Nothing was recorded.".into()));
    for_guided(state, proposal, now)
}

fn for_guided(state: &mut State, proposal: Result<Proposal, String>, now: &Now) -> Vec<Effect> {
    match proposal {
        Ok(_) if state.recording.is_some() => {
            let why = "Not recorded: the one before is still being written.";
            guided::recorded(state, Err(why.into()), now)
        }
        Ok(proposal) => record(state, Ok(proposal), Then::Guided),
        Err(why) => guided::recorded(state, Err(why), now),
    }
}

/// `Recorded` is only said of what is on the disk.
fn recorded_word(state: &State) -> &'static str {
    if state.work.is_durable() {
        "Recorded"
    } else {
        "Noted"
    }
}

fn back_or_save(state: &State) -> &'static str {
    if state.work.is_durable() {
        "Backspace takes it back. s saves."
    } else {
        "Not on the disk yet: s gives it a file. Backspace takes it back."
    }
}

/// Records that this pulse is this angle.
pub fn mark(
    state: &mut State,
    at: JointRef,
    pulse: Pulse,
    angle_deg: f64,
    now: &Now,
) -> Vec<Effect> {
    let from = side_of(state, at);
    let proposal = state.work.mark(at, pulse, angle_deg, from, &now.stamp);
    let then = Then::Mark {
        pulse,
        angle_deg,
        instead_of_us: state.work.zero_without_marks(at),
    };
    record(state, proposal, then)
}

/// From which side the joint came, if it came far enough to have taken up its play.
fn side_of(state: &State, at: JointRef) -> Option<logbook::Side> {
    let pin = state.work.robot().joint(at)?.pin?;
    match state.bench.plug(pin).came_us {
        us if us >= TAKE_UP_US => Some(logbook::Side::Below),
        us if us <= -TAKE_UP_US => Some(logbook::Side::Above),
        _ => None,
    }
}

fn after_mark(
    state: &mut State,
    at: JointRef,
    (pulse, angle_deg): (Pulse, f64),
    instead_of_us: Option<f64>,
    now: &Now,
) -> Vec<Effect> {
    let title = state.work.robot().title(at);
    let word = recorded_word(state);
    let what = match state.work.marked(at) {
        Marked::Zero { zero_us } if instead_of_us.is_some_and(|it| it != zero_us) => format!(
            "{word}: the zero of {title} is at {} µs, no longer at {}.",
            number(zero_us),
            number(instead_of_us.unwrap_or_default())
        ),
        Marked::Zero { zero_us } => {
            format!("{word}: the zero of {title} is at {} µs.", number(zero_us))
        }
        Marked::Fit {
            zero_us,
            us_per_deg,
            marks,
        } => format!(
            "{word}: zero {} µs, {} µs/° from {marks} marks.",
            number(zero_us),
            number(us_per_deg)
        ),
        Marked::Kept => format!(
            "{word}: {pulse} µs is {}°. A second angle gives the zero.",
            number(angle_deg)
        ),
    };
    say(state, what, back_or_save(state));
    slew_of(state, at, now).into_iter().collect()
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
    let proposal = state.work.end(at, side, pulse, &now.stamp);
    let then = Then::End {
        side,
        pulse,
        back_to,
        before,
    };
    record(state, proposal, then)
}

fn after_end(
    state: &mut State,
    at: JointRef,
    (side, pulse): (Side, Pulse),
    back_to: Pulse,
    before: Span,
    now: &Now,
) -> Vec<Effect> {
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
    let what = format!(
        "{}: the {word} end of {} is at {pulse} µs.",
        recorded_word(state),
        state.work.robot().title(at)
    );
    // The play, and how far it was pressed, may be more than the way back.
    let inward = match side {
        Side::Near => '→',
        Side::Far => '←',
    };
    say(
        state,
        what,
        format!("It moves back to {back_to} µs. Still a hum? {inward} until it is quiet. s saves."),
    );
    effects
}

/// Widens a guard, in the record and on the board.
pub fn set_guard(state: &mut State, at: JointRef, guard: Span, now: &Now) -> Vec<Effect> {
    let proposal = state.work.guard(at, guard, &now.stamp);
    record(state, proposal, Then::Guard { guard })
}

fn after_guard(state: &mut State, at: JointRef, guard: Span, now: &Now) -> Vec<Effect> {
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

/// Takes the last recorded thing back; what another page or hands did it names first, and asks.
pub fn undo(state: &mut State, now: &Now) -> Vec<Effect> {
    if state.recording.is_some() {
        return vec![still_written(state)];
    }
    let Some((_, after)) = state.work.without_last() else {
        return take_back(state, now);
    };
    let whats = state.work.last_whats();
    let hands = whats.iter().find_map(|it| hands::to_put_back(it, &after));
    if hands.is_some() && state.bench.holds() {
        say(
            state,
            "Not taken back: hands must put something back, and a servo is awake.",
            "Let all go limp, then Backspace again. Space stops.",
        );
        return Vec::new();
    }
    if state.work.last_is_guided() || !state.page().jogs() {
        let words = state.work.last().unwrap_or_default().to_owned();
        state.open(TakeBack::new(words, hands));
        return Vec::new();
    }
    take_back(state, now)
}

/// Takes the last recorded thing back, asked or not.
pub fn take_back(state: &mut State, now: &Now) -> Vec<Effect> {
    let Some((at, after)) = state.work.without_last() else {
        say(state, "Nothing was recorded in this session.", "");
        return Vec::new();
    };
    let guard = after.robot.joint(at).and_then(|joint| joint.guard);
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
    match state.work.undo(&now.stamp) {
        Ok(Some(proposal)) => {
            let whats = state.work.last_whats();
            record(state, Ok(proposal), Then::Undo { before, whats })
        }
        Ok(None) => Vec::new(),
        Err(why) => vec![not_recorded(state, why)],
    }
}

fn after_undo(
    state: &mut State,
    proposal: &Proposal,
    before: Span,
    whats: &[What],
    now: &Now,
) -> Vec<Effect> {
    let at = proposal.at;
    say(
        state,
        format!("Taken back: {}.", proposal.words),
        "s saves.",
    );
    let (_, acts) = hands::put_back(state, whats);
    let mut effects: Vec<Effect> = acts.into_iter().map(Effect::ByHand).collect();
    let pin = state.work.robot().joint(at).and_then(|j| j.pin);
    if before != state.guard_of(at)
        && let Some(pin) = pin
    {
        effects.extend(guard_to_board(state, at, Asked::Guard(pin), now));
    }
    effects.extend(slew_of(state, at, now));
    let rewires = |it: &What| {
        matches!(
            it,
            What::Plug { .. } | What::PlugsExchanged { .. } | What::MapAccepted { .. }
        )
    };
    if whats.iter().any(rewires) {
        // Joints sit on other pins again, and the board keeps guards and speeds by pins.
        let joints: Vec<JointRef> = state.work.robot().joints().map(|(at, _)| at).collect();
        for it in joints {
            state.guards_due.push(it);
            effects.extend(slew_of(state, it, now));
        }
        effects.extend(guards_due(state, now));
    }
    effects
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
            state.open(ask);
            Vec::new()
        }
    }
}
