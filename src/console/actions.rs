//! What several pages and layers do alike: stop, wake, limp, jog, set the board up, sit down, quit.
//!
//! Each changes the state and returns the effects; nothing here does I/O or reads a clock.

use std::collections::VecDeque;
use std::time::Duration;

use crate::board::{PinState, Request, Stop};
use crate::calibration::{JointKind, JointRef, Method};
use crate::kinematics::FOOT_MM_S;
use crate::procedure::{FEW, Heard, Waking};
use crate::units::{Pin, Pulse};

use super::effect::{AskId, Effect, Now};
use super::guided::{self, task::Task};
use super::layers::count::Count;
use super::layers::quit;
use super::notice::{self, Trouble};
use super::sit::{self, SIT_MS, Sitting, Then};
use super::state::{Asked, Stands, State, WakeQueue};

/// Between the first pulses of two joints: long enough to see which one jumped.
const BETWEEN_WAKES: Duration = Duration::from_millis(500);
/// µs for a degree while nothing is measured: less than any common servo's, so that the speed errs to the slow side.
const CAUTIOUS_US_PER_DEG: f64 = 8.0;

/// Sends a request whose answer is to be known again.
pub fn ask(state: &mut State, request: Request, asked: Asked, now: &Now) -> Effect {
    let id = AskId(state.next_ask);
    state.next_ask += 1;
    state.pending.insert(id, (asked, now.at));
    Effect::Ask(id, request)
}

/// Two lines said once, until the next key.
pub fn say(state: &mut State, first: impl Into<String>, second: impl Into<String>) {
    state.said = Some((first.into(), second.into()));
}

/// Something went wrong: two lines until Enter or Esc, and two bells.
pub fn trouble(state: &mut State, trouble: Trouble) -> Effect {
    if trouble.ends_motion() {
        end_motion(state);
    }
    notice::add(&mut state.troubles, trouble);
    // The newest is shown, above what was said or is open.
    state.said = None;
    state.behind = false;
    Effect::Bell(2)
}

/// Closes whatever was about to move something.
pub fn end_motion(state: &mut State) {
    guided::drop_rest(state);
    state.layers.retain(|layer| !layer.leads_to_motion());
    state.queue = None;
    state.sitting = None;
    state.motion = None;
    state.bell_for = None;
    state.bench.no_targets();
}

/// Stops, as the head line says, because this key was pressed.
pub fn stop(state: &mut State, key: &'static str, repeat: bool) -> Vec<Effect> {
    state.stop_key = key;
    // A key held down is one stop: only a second press lets go on the ground.
    if repeat && state.stands == Stands::Ground && state.space_again {
        return vec![Effect::Stop(Stop::Freeze)];
    }
    let stop = state.space_means();
    end_motion(state);
    // At once, so that nothing is asked for between the stop and its answer.
    guided::stopped(state, &heard(stop));
    state.quitting = false;
    state.bench.was_awake.clear();
    if state.stands == Stands::Ground {
        state.space_again = stop == Stop::Freeze;
    }
    vec![Effect::Stop(stop)]
}

/// What a machine of guided work is told of a stop.
fn heard(stop: Stop) -> Heard {
    match stop {
        Stop::Limp => Heard::WentLimp,
        Stop::Freeze => Heard::Frozen,
    }
}

/// Everything limp, by the way that overtakes all.
pub fn limp_all(state: &mut State) -> Vec<Effect> {
    end_motion(state);
    guided::stopped(state, &Heard::WentLimp);
    state.space_again = false;
    state.bench.was_awake.clear();
    vec![Effect::Stop(Stop::Limp)]
}

/// Freezes everything.
pub fn freeze(state: &mut State) -> Vec<Effect> {
    end_motion(state);
    guided::stopped(state, &Heard::Frozen);
    vec![Effect::Stop(Stop::Freeze)]
}

/// Ends the freeze that stands.
pub fn thaw(state: &mut State, now: &Now) -> Vec<Effect> {
    match state.bench.frozen {
        Some(n) => vec![ask(state, Request::Thaw(n), Asked::Thaw, now)],
        None => Vec::new(),
    }
}

/// Wakes one pin.
pub fn wake(state: &mut State, pin: Pin, pulse: Pulse, now: &Now) -> Effect {
    ask(
        state,
        Request::Wake { pin, pulse },
        Asked::Wake(pin, pulse),
        now,
    )
}

/// Wakes pins one after another, each when the one before has its first pulse.
pub fn wake_all(state: &mut State, wakes: Vec<(Pin, Pulse)>, now: &Now) -> Vec<Effect> {
    state.queue = Some(WakeQueue {
        rest: VecDeque::from(wakes),
        waiting_for: None,
        not_before: now.at,
    });
    next_wake(state, now)
}

/// The next pin of the queue, once the one before is awake and looked at.
pub fn next_wake(state: &mut State, now: &Now) -> Vec<Effect> {
    let Some(queue) = &mut state.queue else {
        return Vec::new();
    };
    if let Some(pin) = queue.waiting_for {
        if state.bench.plug(pin).state != PinState::Awake {
            return Vec::new();
        }
        queue.waiting_for = None;
        queue.not_before = now.at + BETWEEN_WAKES;
    }
    if now.at < queue.not_before {
        return Vec::new();
    }
    match queue.rest.pop_front() {
        Some((pin, pulse)) => {
            queue.waiting_for = Some(pin);
            vec![wake(state, pin, pulse, now)]
        }
        None => {
            state.queue = None;
            vec![Effect::Bell(1)]
        }
    }
}

/// Wakes what is limp of the chosen leg.
pub fn wake_leg(state: &mut State, now: &Now) -> Vec<Effect> {
    if let Err(why) = state.may_move() {
        say(state, format!("Not now: {why}."), "");
        return Vec::new();
    }
    let wakes: Vec<(Pin, Pulse)> = state
        .pins_of_leg()
        .into_iter()
        .filter(|(_, pin)| state.bench.plug(*pin).state == PinState::Limp)
        .map(|(at, pin)| (pin, state.offered_pulse(at)))
        .collect();
    if wakes.is_empty() {
        say(state, "Not now: no joint of this leg is limp.", "");
        return Vec::new();
    }
    let leg = state.work.robot().legs.get(state.chosen.leg);
    let whose = leg.map_or_else(String::new, |l| l.name.clone());
    wake_several(state, whose, wakes, now)
}

/// Wakes several after a countdown that shows the sum if they are many; where the supply asks for it by the plan,
/// which wakes one for each Enter.
pub fn wake_several(
    state: &mut State,
    whose: String,
    wakes: Vec<(Pin, Pulse)>,
    now: &Now,
) -> Vec<Effect> {
    let plan = plan_of(state, &wakes);
    if wakes.len() > 1 && plan.is_eased() {
        return guided::start(state, Task::Waking, Box::new(plan), now);
    }
    state.open(Count::new(whose, wakes, now.at));
    Vec::new()
}

/// Wakes what was awake before the board let go: more than a few by the plan, where the sum waits for an Enter.
pub fn wake_again(state: &mut State, now: &Now) -> Vec<Effect> {
    let wakes = std::mem::take(&mut state.bench.was_awake);
    if wakes.len() > FEW {
        let plan = plan_of(state, &wakes);
        return guided::start(state, Task::Waking, Box::new(plan), now);
    }
    if wakes.is_empty() {
        return Vec::new();
    }
    wake_several(state, "What was awake".into(), wakes, now)
}

fn plan_of(state: &State, wakes: &[(Pin, Pulse)]) -> Waking {
    let bench = guided::task::bench(state);
    Waking::these(state.work.known(), wakes, state.bench.browned_out, bench)
}

/// Some pins limp.
pub fn limp(state: &mut State, pins: Vec<Pin>, now: &Now) -> Vec<Effect> {
    // A foot cannot go on with a limp joint, nor the body over a limp leg.
    super::motion::end(state);
    if let Some(queue) = &mut state.queue {
        queue.rest.retain(|(pin, _)| !pins.contains(pin));
        queue.waiting_for = queue.waiting_for.filter(|pin| !pins.contains(pin));
    }
    let request = Request::Limp { pins: pins.clone() };
    vec![ask(state, request, Asked::Limp(pins), now)]
}

/// Sends the chosen joint to a pulse, if it is inside its guard.
pub fn jog_to(state: &mut State, pulse: Pulse) -> Vec<Effect> {
    let pin = match state.may_jog() {
        Ok(pin) => pin,
        Err(why) => {
            say(state, format!("Nothing moves: {why}."), "");
            return Vec::new();
        }
    };
    let guard = state.guard_of(state.chosen);
    if pulse < guard.0 || pulse > guard.1 {
        let refused = notice::outside_guard(state, pin, Some(pulse), guard);
        return vec![trouble(state, refused)];
    }
    // Closed by the next motion: a refusal about an earlier one.
    state
        .troubles
        .retain(|t| !matches!(t, Trouble::Refused { .. }));
    super::motion::end(state);
    state.bench.plug_mut(pin).target = Some(pulse);
    vec![Effect::Jog(pin, pulse)]
}

/// Tells the board a joint's guard.
pub fn guard_to_board(state: &mut State, at: JointRef, asked: Asked, now: &Now) -> Option<Effect> {
    let pin = state.work.robot().joint(at)?.pin?;
    state.linked().ok()?;
    let (low, high) = state.guard_of(at);
    Some(ask(state, Request::Guard { pin, low, high }, asked, now))
}

/// Guards that waited for a joint to come inside them.
pub fn guards_due(state: &mut State, now: &Now) -> Vec<Effect> {
    if state.guards_due.is_empty() || state.linked().is_err() {
        return Vec::new();
    }
    let mut effects = Vec::new();
    for at in std::mem::take(&mut state.guards_due) {
        let Some(pin) = state.work.robot().joint(at).and_then(|j| j.pin) else {
            continue;
        };
        let (low, high) = state.guard_of(at);
        let plug = state.bench.plug(pin);
        let inside = |pulse: Option<Pulse>| pulse.is_none_or(|p| p >= low && p <= high);
        if plug.state != PinState::Waking && inside(plug.pulse) && inside(plug.target) {
            effects.extend(guard_to_board(state, at, Asked::Guard(pin), now));
        } else {
            state.guards_due.push(at);
        }
    }
    effects
}

/// Takes away a trip that a machine left: asked until the board has done it, since a stop overtakes requests.
pub fn trip_due(state: &mut State, now: &Now) -> Option<Effect> {
    let input = state.bench.trip?;
    let asked = Asked::NoTrip;
    let waits = state.pending.values().any(|(it, _)| *it == asked);
    if waits || state.guided.is_some() || state.linked().is_err() {
        return None;
    }
    Some(ask(state, Request::NoTrip(input), asked, now))
}

/// The top speed of a joint: no foot faster than 250 mm/s, whatever its leg's length.
pub fn slew_us_per_s(state: &State, at: JointRef) -> Option<u32> {
    let leg = state.work.robot().legs.get(at.leg)?;
    let links = &leg.links;
    let reach_mm = match at.kind {
        JointKind::Coxa => links.coxa_mm + links.femur_mm + links.tibia_mm,
        JointKind::Femur => links.femur_mm + links.tibia_mm,
        JointKind::Tibia => links.tibia_mm,
    };
    let us_per_deg = match &leg.joint(at.kind).scale {
        Some(scale) if scale.by != Method::Typed => scale.value.abs(),
        Some(scale) => scale.value.abs().min(CAUTIOUS_US_PER_DEG),
        None => CAUTIOUS_US_PER_DEG,
    };
    let deg_per_s = (FOOT_MM_S / reach_mm.max(1.0)).to_degrees();
    // 1000 µs/s is what the board starts with: fast enough for any bench.
    Some((deg_per_s * us_per_deg).clamp(10.0, 1000.0) as u32)
}

/// Tells the board a joint's top speed.
pub fn slew_of(state: &mut State, at: JointRef, now: &Now) -> Option<Effect> {
    let pin = state.work.robot().joint(at)?.pin?;
    state.linked().ok()?;
    let us_per_s = slew_us_per_s(state, at)?;
    let request = Request::Slew {
        pin: Some(pin),
        us_per_s,
    };
    Some(ask(state, request, Asked::Quiet, now))
}

/// Tells a board that was just found all it must know before anything moves.
pub fn set_up_board(state: &mut State, now: &Now) -> Vec<Effect> {
    let joints: Vec<(JointRef, Pin, bool)> = state
        .work
        .robot()
        .joints()
        .filter_map(|(at, joint)| Some((at, joint.pin?, joint.guard.is_some())))
        .collect();
    let mut effects = Vec::new();
    for (at, pin, has_guard) in joints {
        if has_guard {
            effects.extend(guard_to_board(state, at, Asked::FileGuard(pin), now));
        }
        effects.extend(slew_of(state, at, now));
    }
    effects.extend(look(state, now));
    effects
}

/// Asks the board what is awake, and to go on telling.
pub fn look(state: &mut State, now: &Now) -> Vec<Effect> {
    vec![
        ask(
            state,
            Request::Where { pins: Vec::new() },
            Asked::Quiet,
            now,
        ),
        ask(
            state,
            Request::Watch {
                ms: 50,
                inputs: Vec::new(),
            },
            Asked::Quiet,
            now,
        ),
    ]
}

/// Sits down slowly, if it can; what is frozen is thawed first.
pub fn sit_down(state: &mut State, then: Then, now: &Now) -> Vec<Effect> {
    let moves = sit::moves(state);
    end_motion(state);
    if moves.is_empty() {
        return match then {
            Then::Limp => limp_all(state),
            Then::Stay => Vec::new(),
        };
    }
    // Its joints leave the places that a machine knows of.
    guided::stopped(state, &Heard::Frozen);
    let mut effects = thaw(state, now);
    if !effects.is_empty() {
        state
            .troubles
            .retain(|t| !matches!(t, Trouble::Frozen { .. }));
    }
    state.sitting = Some(Sitting {
        until: now.at + Duration::from_millis(u64::from(SIT_MS)) + sit::SETTLE,
        then,
    });
    for (pin, pulse) in &moves {
        state.bench.plug_mut(*pin).target = Some(*pulse);
    }
    let request = Request::Go { ms: SIT_MS, moves };
    effects.push(ask(state, request, Asked::Move, now));
    effects
}

/// The next thing that stands between the builder and leaving: awake pins, then unsaved work, then nothing.
pub fn quit_next(state: &mut State) -> Vec<Effect> {
    let lost = state.linked().is_err();
    if !lost && state.bench.awake() + state.bench.waking() > 0 {
        state.open(quit::Awake);
        return Vec::new();
    }
    if state.work.unsaved() > 0 {
        state.open(quit::Unsaved);
        return Vec::new();
    }
    vec![Effect::Quit]
}

/// Ctrl-C: stops at once, and leaves; what would be lost is asked about once, and a second Ctrl-C leaves without it.
pub fn interrupt(state: &mut State) -> Vec<Effect> {
    // The second one must not be the second Space that lets a robot fall.
    let mut effects = stop(state, "Ctrl-C", state.interrupted);
    if state.interrupted || state.work.unsaved() == 0 {
        effects.push(Effect::Quit);
        return effects;
    }
    state.layers.clear();
    state.open(quit::Unsaved);
    state.interrupted = true;
    effects
}

/// Ctrl-Z: stops at once, then suspends; who comes back reads why all is limp.
pub fn suspend(state: &mut State) -> Vec<Effect> {
    let held = state.bench.holds();
    let mut effects = stop(state, "Ctrl-Z", false);
    if held && effects.contains(&Effect::Stop(Stop::Limp)) {
        say(
            state,
            "Ctrl-Z let everything go limp before hornset was suspended.",
            "Nothing is lost and nothing moves by itself: w wakes a joint again.",
        );
    }
    effects.push(Effect::Suspend);
    effects
}
