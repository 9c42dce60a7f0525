//! Streams a motion of feet to the board: one `pose` a frame, each when the one before was answered.
//!
//! A part of `update`: the time is an argument. A late tick delays the motion; nothing is ever sent twice as fast to catch up.
//! Whatever stops a motion ends it: nothing here goes on by itself.

use std::time::Duration;

use crate::board::{PinState, Request};
use crate::calibration::{Joint, JointKind, JointRef, Robot};
use crate::kinematics::{CalibratedRobot, Course, LegIndex, Legroom, Stream};
use crate::units::Pin;

use super::actions;
use super::compose::pose;
use super::effect::{AskId, Effect, Now};
use super::measure::sendable;
use super::notice::Trouble;
use super::stance::Planted;
use super::state::{Asked, State};

/// Between two set-points: a frame of the board.
pub const FRAME: Duration = Duration::from_millis(20);
/// So long an answer may take before the next set-point waits for it.
///
/// With less than a frame of it, no more than six set-points can fall into five frames of the board.
pub const ANSWER: Duration = Duration::from_millis(10);

/// What moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// The foot of this leg.
    Foot(usize),
    /// The body.
    Body,
}

/// A motion under way.
#[derive(Debug)]
pub struct Moving {
    /// What moves.
    pub moves: Moves,
    /// The robot it was planned with.
    pub robot: CalibratedRobot,
    /// What is left of it.
    pub stream: Stream,
    /// The pins, in the order of the set-points.
    pins: Vec<Pin>,
    /// The next set-point is due then.
    next_at: Duration,
    /// The request whose answer it waits for.
    waits: Option<AskId>,
    /// Ring when it has arrived: something other than a step.
    bell: bool,
}

/// A motion that could be begun.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The robot it was planned with.
    pub robot: CalibratedRobot,
    /// The motion.
    pub stream: Stream,
}

/// What a joint lacks for its foot to be jogged; `None` when it has all.
pub fn lacks(joint: &Joint) -> Option<&'static str> {
    match (joint.pin, &joint.zero, &joint.scale) {
        (None, ..) => Some("no pin"),
        (_, None, _) => Some("no zero"),
        (.., None) => Some("no µs/degree"),
        _ if joint.is_nominal() => Some("a nominal µs/degree only"),
        _ => None,
    }
}

/// Which joint of a leg lacks what.
pub fn unknown(robot: &Robot, leg: usize) -> Option<String> {
    JointKind::ALL.into_iter().find_map(|kind| {
        let at = JointRef { leg, kind };
        let what = lacks(robot.joint(at)?)?;
        Some(format!("{} has {what}", robot.title(at)))
    })
}

/// `Ok` with the pins of a leg when its foot can be moved now.
pub fn ready(state: &State, leg: usize) -> Result<[Pin; 3], String> {
    let robot = state.work.robot();
    if let Some(why) = unknown(robot, leg) {
        return Err(why);
    }
    state.may_move()?;
    let data = robot.legs.get(leg).ok_or("there is no such leg")?;
    let mut pins = [Pin::FIRST; 3];
    for (slot, joint) in pins.iter_mut().zip(&data.joints) {
        let pin = joint.pin.ok_or("a joint has no pin")?;
        *slot = pin;
        match state.bench.plug(pin).state {
            PinState::Awake => {}
            PinState::Waking => return Err(format!("pin {pin} is not awake yet")),
            PinState::Limp => return Err(format!("{} is limp: Enter wakes it", data.name)),
        }
    }
    Ok(pins)
}

/// Where a pin was sent last, or is, µs: exact behind what was rounded for the board.
fn commanded_us(state: &State, pin: Pin) -> Option<f64> {
    let plug = state.bench.plug(pin);
    let pulse = plug.target.or(plug.pulse).or(plug.last)?;
    match state.exact.get(&pin) {
        Some((sent, exact)) if *sent == pulse => Some(*exact),
        _ => Some(pulse.us()),
    }
}

/// The leg where it is commanded to be, with what its joints may do.
///
/// A limp leg is taken for where it would wake, so that its picture can be shown.
pub fn room(state: &State, robot: &CalibratedRobot, leg: usize) -> Result<Legroom, String> {
    if let Some(why) = unknown(state.work.robot(), leg) {
        return Err(why);
    }
    let index = index(robot, leg).ok_or("there is no such leg")?;
    let mut pulses = [0.0; 3];
    let mut guards = [(0.0, 0.0); 3];
    for kind in JointKind::ALL {
        let at = JointRef { leg, kind };
        let pin = state.work.robot().joint(at).and_then(|j| j.pin);
        pulses[kind.index()] = pin
            .and_then(|pin| commanded_us(state, pin))
            .unwrap_or_else(|| state.offered_pulse(at).us());
        let (low, high) = state.guard_of(at);
        guards[kind.index()] = (low.us(), high.us());
    }
    Legroom::new(robot, index, pulses, guards).map_err(|why| why.to_string())
}

/// A leg's number in the robot to compute with.
pub fn index(robot: &CalibratedRobot, leg: usize) -> Option<LegIndex> {
    robot.legs().nth(leg)
}

/// Looks along a course of these legs, the others standing as they are drawn.
pub fn plan(state: &State, robot: &CalibratedRobot, rooms: Vec<Legroom>, course: Course) -> Stream {
    let slews: Vec<[f64; 3]> = rooms
        .iter()
        .map(|room| {
            let leg = room.leg.number();
            JointKind::ALL.map(|kind| {
                let slew = actions::slew_us_per_s(state, JointRef { leg, kind });
                f64::from(slew.unwrap_or(1))
            })
        })
        .collect();
    let still: Vec<(LegIndex, [f64; 3])> = robot
        .legs()
        .filter(|leg| rooms.iter().all(|room| room.leg != *leg))
        .map(|leg| (leg, pose::angles(state, robot.leg_data(leg))))
        .collect();
    Stream::plan(robot, rooms, &slews, &still, course)
}

/// Begins a motion, or turns the one under way to a new goal.
pub fn start(state: &mut State, moves: Moves, plan: Plan, bell: bool, now: &Now) -> Vec<Effect> {
    let Plan { robot, mut stream } = plan;
    let mut pins = Vec::new();
    for leg in stream.legs() {
        match ready(state, leg.number()) {
            Ok(of_leg) => pins.extend(of_leg),
            Err(why) => {
                actions::say(state, format!("Nothing moves: {why}."), "");
                return Vec::new();
            }
        }
    }
    let before = state.motion.take();
    // Closed by the next motion: a refusal about an earlier one.
    state
        .troubles
        .retain(|t| !matches!(t, Trouble::Refused { .. }));
    let (mut next_at, mut waits) = (now.at, None);
    if let Some(before) = before {
        next_at = before.next_at.max(now.at);
        if before.pins == pins {
            stream.carry_on_from(&before.stream);
            waits = before.waits;
        }
    }
    state.motion = Some(Moving {
        moves,
        robot,
        stream,
        pins,
        next_at,
        waits,
        bell,
    });
    tick(state, now)
}

/// The next set-point, once it is due and the one before was answered.
pub fn tick(state: &mut State, now: &Now) -> Vec<Effect> {
    let Some(mut moving) = state.motion.take() else {
        return Vec::new();
    };
    if moving.waits.is_some() || now.at < moving.next_at {
        state.motion = Some(moving);
        return Vec::new();
    }
    let ask = if state.bench.roster.as_ref() != Some(&moving.pins) {
        let pins = moving.pins.clone();
        actions::ask(
            state,
            Request::Roster(pins.clone()),
            Asked::Roster(pins),
            now,
        )
    } else {
        let Some(point) = moving.stream.next(&moving.robot) else {
            return Vec::new();
        };
        let exact = moving.stream.pulses_us(&moving.robot);
        let pulses: Vec<_> = point
            .pulses_us
            .iter()
            .flatten()
            .map(|us| sendable(*us))
            .collect();
        for ((pin, pulse), exact) in moving.pins.iter().zip(&pulses).zip(exact.iter().flatten()) {
            state.bench.plug_mut(*pin).target = Some(*pulse);
            state.exact.insert(*pin, (*pulse, *exact));
        }
        if let (Some(pose), Some(feet)) = (moving.stream.pose(), moving.stream.planted()) {
            let legs = moving.stream.legs();
            state.body.planted = Some(Planted {
                legs: legs.map(|leg| leg.number()).collect(),
                feet: feet.to_vec(),
                pose,
            });
        }
        // From now on, not from when it was due: what was late stays late.
        moving.next_at = now.at + FRAME;
        let request = Request::Pose {
            ms: FRAME.as_millis() as u32,
            pulses: pulses.into_iter().map(Some).collect(),
        };
        actions::ask(state, request, Asked::Pose, now)
    };
    if let Effect::Ask(id, _) = &ask {
        moving.waits = Some(*id);
    }
    state.motion = Some(moving);
    vec![ask]
}

/// The board has done what a motion asked.
pub fn answered(state: &mut State, id: AskId, asked: &Asked, now: &Now) -> Vec<Effect> {
    if let Asked::Roster(pins) = asked {
        state.bench.roster = Some(pins.clone());
    }
    let Some(moving) = &mut state.motion else {
        return Vec::new();
    };
    if moving.waits != Some(id) {
        return Vec::new();
    }
    moving.waits = None;
    if *asked == Asked::Pose {
        moving.next_at = moving.next_at.max((now.at + FRAME).saturating_sub(ANSWER));
    }
    if !moving.stream.is_done() {
        return Vec::new();
    }
    // It rings when the board has arrived, not when it was told.
    state.bell_for = moving.pins.first().copied().filter(|_| moving.bell);
    state.motion = None;
    Vec::new()
}

/// When the next set-point is due.
pub fn due(state: &State) -> Option<Duration> {
    let moving = state.motion.as_ref()?;
    moving.waits.is_none().then_some(moving.next_at)
}

/// Ends a motion where it is; tells whether there was one.
pub fn end(state: &mut State) -> bool {
    state.motion.take().is_some()
}
