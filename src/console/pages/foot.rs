//! Foot jog: one foot along straight lines, by steps or to a typed point; what would stop it is seen before it moves.

use std::time::Duration;

use super::{Page, PageId};
use crate::board::PinState;
use crate::console::actions;
use crate::console::axes::{self, PointFrame};
use crate::console::command::{
    ARROWS, Command, ENTER, ESC, FREEZE_SIT, Foot, HELP, LEGS_LAST, PAGES_LAST, QUIT_QUIET, SAVE,
    SPACE, STEP, TURN_GROUND_BIG, always,
};
use crate::console::compose;
use crate::console::effect::{Effect, Now};
use crate::console::intent::{Intent, Way};
use crate::console::keys::Code;
use crate::console::layers::Table;
use crate::console::layers::knee::Bend;
use crate::console::layers::point::Point;
use crate::console::measure::number;
use crate::console::motion::{self, Moves, Plan};
use crate::console::state::{Stands, State};
use crate::console::view;
use crate::kinematics::{CalibratedRobot, Course, InTheWay, Vec3};
use crate::units::Pulse;

/// Foot jog.
pub struct FootPage;

/// How far ahead a way is looked along, mm.
const AHEAD_MM: f64 = 400.0;
/// So many steps at most may lie before the foot: a key held down must not run away.
const STEPS_AHEAD: f64 = 4.0;
/// Shorter than this, mm, nothing moves.
const LEAST_MM: f64 = 0.05;

/// The arrows, in the order of [`Outlook::ways`].
pub const WAYS: [Way; 4] = [Way::Left, Way::Right, Way::Up, Way::Down];

/// What the page remembers.
#[derive(Debug)]
pub struct FootDesk {
    /// The arrows act in the top view, in the side view otherwise.
    pub top: bool,
    /// The frame of points and arrows.
    pub frame: PointFrame,
    /// The step, mm: 0.5 to 32, a power of two.
    pub step_mm: f64,
    /// The arrow pressed last: its way is drawn.
    pub way: Way,
    /// What lies ahead.
    pub outlook: Option<Outlook>,
}

impl Default for FootDesk {
    fn default() -> FootDesk {
        FootDesk {
            top: false,
            frame: PointFrame::Leg,
            step_mm: 4.0,
            way: Way::Right,
            outlook: None,
        }
    }
}

/// One arrow's way.
#[derive(Debug, Clone, PartialEq)]
pub struct Ahead {
    /// `outward`.
    pub word: &'static str,
    /// How far the foot could go, mm.
    pub free_mm: f64,
    /// What stops it there.
    pub stop: Option<InTheWay>,
    /// The end of the free way, leg frame, mm.
    pub end: Vec3,
    /// How long one step takes, s.
    pub step_s: f64,
}

/// What lies ahead of a foot that rests.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The robot as it was computed with.
    pub robot: CalibratedRobot,
    seen: Seen,
    /// Each arrow's way, in the order of [`WAYS`].
    pub ways: Vec<Ahead>,
}

/// All that an outlook depends on.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    leg: usize,
    top: bool,
    frame: PointFrame,
    step_mm: f64,
    pulses: Vec<Option<Pulse>>,
}

const MOVE: Command = Command {
    binds: ARROWS,
    keys: "← → ↑ ↓ h l k j",
    help: "move the foot one step, as on the lit view",
    foot: &[Foot::new("arrows", "move foot in lit view").long("move the foot in the lit view")],
    works: |state, _| motion::ready(state, state.chosen.leg).map(|_| ()),
};

const VIEW: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "the other view has the arrows",
    foot: &[Foot::new("Tab", "other view")],
    works: always,
};

const TYPE: Command = Command {
    binds: &[(Code::Char('='), Intent::Type)],
    keys: "=",
    help: "type a point to go to",
    foot: &[Foot::new("=", "type point").long("type a point")],
    works: |state, _| motion::ready(state, state.chosen.leg).map(|_| ()),
};

const FRAME: Command = Command {
    binds: &[(Code::Char('A'), Intent::Frame)],
    keys: "A",
    help: "leg frame, body frame",
    foot: &[Foot::new("A", "frame").wide()],
    works: always,
};

const KNEE: Command = Command {
    binds: &[(Code::Char('K'), Intent::Knee)],
    keys: "K",
    help: "bend the knee the other way (asks)",
    foot: &[Foot::new("K", "knee").wide()],
    works: |state, _| {
        motion::ready(state, state.chosen.leg)?;
        other_knee(state).map(|_| ())
    },
};

/// Waking and limping a whole leg.
const LEG: Command = Command {
    binds: &[
        (Code::Char('W'), Intent::WakeLeg),
        (Code::Char('Z'), Intent::LimpLeg),
    ],
    keys: "W Z",
    help: "wake this leg, limp this leg",
    foot: &[],
    works: |state, intent| match intent {
        Intent::WakeLeg => state.may_move(),
        _ => state.linked(),
    },
};

const TABLE: Table = &[
    &SPACE,
    &ENTER,
    &ESC,
    &MOVE,
    &VIEW,
    &STEP,
    &TYPE,
    &FRAME,
    &KNEE,
    &LEGS_LAST,
    &LEG,
    &FREEZE_SIT,
    &TURN_GROUND_BIG,
    &PAGES_LAST,
    &SAVE,
    &HELP,
    &QUIT_QUIET,
];

impl Page for FootPage {
    fn id(&self) -> PageId {
        PageId::Foot
    }

    fn name(&self) -> &'static str {
        "Foot jog"
    }

    fn purpose(&self) -> &'static str {
        "one foot along straight lines"
    }

    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let robot = state.work.robot();
        let Some(leg) = robot.legs.get(state.chosen.leg) else {
            return ("Choose a leg.".into(), String::new());
        };
        if let Some(why) = motion::unknown(robot, state.chosen.leg) {
            return (
                format!("The foot of {} cannot move yet: {why}.", leg.name),
                "Two marks of a joint on the Jog page give both. Leg keys choose another leg."
                    .into(),
            );
        }
        let limp = |j: &crate::calibration::Joint| {
            j.pin
                .is_some_and(|pin| state.bench.plug(pin).state == PinState::Limp)
        };
        if leg.joints.iter().any(limp) {
            let again = if leg.joints.iter().all(limp) {
                ""
            } else {
                " the rest of"
            };
            return (
                format!(
                    "Enter: wake{again} {} for its foot, after 3 s, one joint at a time.",
                    leg.name
                ),
                match state.stands {
                    Stands::Ground => {
                        "Each joint jumps to its pulse at full speed, on the ground: hold the body."
                    }
                    _ => {
                        "Each joint jumps to its pulse at full speed: leg off the ground, hands away."
                    }
                }
                .into(),
            );
        }
        if let Err(why) = motion::ready(state, state.chosen.leg) {
            return (format!("Wait: {why}."), "Space stops.".into());
        }
        if let Some(moving) = &state.motion {
            let (goal, _) = moving.stream.goal(&moving.robot);
            let left = distance(goal.first(), moving.stream.feet().first());
            return (
                format!("The foot of {} moves: {} mm to go.", leg.name, tenth(left)),
                "An arrow turns it to a new point, Esc ends it where it is. Space stops.".into(),
            );
        }
        match lit(state) {
            Some(_) if presses(state) => (
                "The foot stands on the sheet: farther down only presses.".into(),
                "The first touch counts: pressing bends the leg and shifts it. Space stops.".into(),
            ),
            Some(ahead) => ahead_lines(state, ahead),
            None => ("Look ahead first.".into(), String::new()),
        }
    }

    fn big_words(&self, state: &State) -> String {
        if motion::unknown(state.work.robot(), state.chosen.leg).is_some() {
            return "MARKS FIRST".into();
        }
        if motion::ready(state, state.chosen.leg).is_err() {
            return "WAKE THE LEG".into();
        }
        if state.motion.is_some() {
            return "IT MOVES".into();
        }
        match lit(state) {
            Some(_) if presses(state) => "ON THE SHEET".into(),
            Some(ahead) => {
                let word = ahead.word.trim_start_matches("to the ").to_uppercase();
                let word = word.trim_end_matches("WARD");
                format!(
                    "{word} {} FREE {:.0} MM",
                    number(state.foot.step_mm),
                    ahead.free_mm.floor()
                )
            }
            None => String::new(),
        }
    }

    fn big_number(&self, state: &State) -> Option<view::BigBlock> {
        let ahead = lit(state).filter(|_| !presses(state))?;
        Some(view::BigBlock {
            text: format!("{:.0}", ahead.free_mm.floor()),
            beside: vec![
                format!("mm free {}", ahead.word),
                ahead.stop.map_or_else(String::new, |stop| {
                    format!("then {}", compose::foot::stop_text(state, &stop))
                }),
            ],
        })
    }

    fn title(&self, state: &State) -> view::Title {
        let leg = state.work.robot().legs.get(state.chosen.leg);
        let lit = if state.foot.top { "top" } else { "side" };
        view::Title {
            page: "Foot jog".into(),
            subject: format!(
                "{}, {}, {lit} view has the arrows",
                leg.map_or("?", |leg| leg.name.as_str()),
                state.foot.frame.word()
            ),
            simulated: compose::sight::phrase(state),
            urgent: false,
        }
    }

    fn picture(&self, state: &State, now: Duration) -> view::Page {
        view::Page::FootJog(Box::new(compose::foot::page(state, now)))
    }

    fn look(&self, state: &mut State) {
        if state.motion.is_some() {
            return;
        }
        let seen = seen(state);
        let fresh = |it: &Outlook| it.seen == seen && it.robot.robot() == state.work.robot();
        if !state.foot.outlook.as_ref().is_some_and(fresh) {
            state.foot.outlook = outlook(state, seen);
        }
    }

    fn act(&self, intent: Intent, state: &mut State, now: &Now) -> Vec<Effect> {
        match intent {
            Intent::Arrow(way) => return step(state, way, now),
            Intent::Finer => state.foot.step_mm = (state.foot.step_mm / 2.0).max(0.5),
            Intent::Coarser => state.foot.step_mm = (state.foot.step_mm * 2.0).min(32.0),
            Intent::Next => state.foot.top = !state.foot.top,
            Intent::Frame => {
                state.foot.frame = match state.foot.frame {
                    PointFrame::Leg => PointFrame::Body,
                    PointFrame::Body => PointFrame::Leg,
                };
            }
            Intent::Type => match Point::foot(state) {
                Ok(layer) => state.open(layer),
                Err(why) => actions::say(state, format!("Not now: {why}."), ""),
            },
            Intent::Knee => match other_knee(state) {
                Ok(plan) => state.open(Bend::new(state, plan)),
                Err(why) => actions::say(state, format!("Not now: {why}."), ""),
            },
            Intent::Back => {
                // A motion ends where it is; only then is there a level to go back.
                if motion::end(state) {
                    actions::say(state, "The motion was ended where it is.", "");
                } else {
                    state.page = PageId::Home;
                }
            }
            Intent::GoOn => return wake(state, now),
            _ => {}
        }
        Vec::new()
    }
}

/// Enter does what the `►` line says: it wakes the leg, after a countdown.
fn wake(state: &mut State, now: &Now) -> Vec<Effect> {
    let known = motion::unknown(state.work.robot(), state.chosen.leg).is_none();
    match known && motion::ready(state, state.chosen.leg).is_err() {
        true => actions::wake_leg(state, now),
        false => Vec::new(),
    }
}

/// The way that is drawn.
pub fn lit(state: &State) -> Option<&Ahead> {
    let index = WAYS.iter().position(|way| *way == state.foot.way)?;
    let outlook = state.foot.outlook.as_ref()?;
    (outlook.seen.leg == state.chosen.leg).then_some(())?;
    outlook.ways.get(index)
}

/// The foot is seen to stand on the printed sheet, of which no computed way knows, and the lit way does not lift it.
fn presses(state: &State) -> bool {
    let lifts = lit(state).is_some_and(|ahead| ahead.word == "up");
    !lifts && compose::sight::touch(state).is_some()
}

fn ahead_lines(state: &State, ahead: &Ahead) -> (String, String) {
    let (step, free) = (state.foot.step_mm, ahead.free_mm);
    let arrow = arrow(state.foot.way);
    let stop = ahead
        .stop
        .map(|stop| compose::foot::stop_text(state, &stop))
        .unwrap_or_else(|| "nothing known".into());
    if free < LEAST_MM {
        return (
            format!("{arrow} cannot move the foot {}: {stop}.", ahead.word),
            "Another arrow, or Tab for the other view. Space stops.".into(),
        );
    }
    let word = ahead.word;
    let first = if free < step {
        format!(
            "{arrow} moves the foot {} mm {word}, not {}: then {stop}.",
            tenth(free),
            number(step)
        )
    } else {
        format!(
            "{arrow} moves the foot {} mm {word}. The path is free for {} mm.",
            number(step),
            free.floor()
        )
    };
    (
        first,
        format!(
            "After {} mm: {stop}. Three joints move. Space stops.",
            free.floor()
        ),
    )
}

/// The sign of an arrow key.
pub fn arrow(way: Way) -> char {
    match way {
        Way::Left => '←',
        Way::Right => '→',
        Way::Up => '↑',
        Way::Down => '↓',
    }
}

fn tenth(mm: f64) -> String {
    number((mm * 10.0).round() / 10.0)
}

fn distance(a: Option<&Vec3>, b: Option<&Vec3>) -> f64 {
    let (Some(a), Some(b)) = (a, b) else {
        return 0.0;
    };
    (a[0] - b[0]).hypot(a[1] - b[1]).hypot(a[2] - b[2])
}

fn seen(state: &State) -> Seen {
    Seen {
        leg: state.chosen.leg,
        top: state.foot.top,
        frame: state.foot.frame,
        step_mm: state.foot.step_mm,
        pulses: commanded(state),
    }
}

/// The commanded pulses of all joints, targets before what the board said.
pub fn commanded(state: &State) -> Vec<Option<Pulse>> {
    state
        .work
        .robot()
        .joints()
        .map(|(_, joint)| {
            let plug = state.bench.plug(joint.pin?);
            plug.target.or(plug.pulse).or(plug.last)
        })
        .collect()
}

fn outlook(state: &State, seen: Seen) -> Option<Outlook> {
    let robot = CalibratedRobot::new(state.work.robot().clone());
    let room = motion::room(state, &robot, seen.leg).ok()?;
    let mount = robot.robot().legs.get(seen.leg)?.mount;
    let ways = WAYS
        .map(|way| {
            let (along, word) = axes::way(&mount, seen.frame, seen.top, way);
            let to = |mm: f64| std::array::from_fn(|i| room.foot[i] + along[i] * mm);
            let line = |mm: f64| {
                let course = Course::Line {
                    from: room.foot,
                    to: to(mm),
                };
                motion::plan(state, &robot, vec![room.clone()], course)
            };
            let all = line(AHEAD_MM);
            let free_mm = all.free_mm();
            let step_mm = seen.step_mm.min(free_mm);
            Ahead {
                word,
                free_mm,
                stop: all.stop(),
                end: to(free_mm),
                step_s: f64::from(line(step_mm).frames_left(&robot)) * motion::FRAME.as_secs_f64(),
            }
        })
        .into();
    Some(Outlook { robot, seen, ways })
}

/// One step of the foot, from where it is sent to already.
fn step(state: &mut State, way: Way, now: &Now) -> Vec<Effect> {
    state.foot.way = way;
    let leg = state.chosen.leg;
    let robot = CalibratedRobot::new(state.work.robot().clone());
    let (room, mount) = match (
        motion::room(state, &robot, leg),
        robot.robot().legs.get(leg),
    ) {
        (Ok(room), Some(data)) => (room, data.mount),
        (Err(why), _) => {
            actions::say(state, format!("Nothing moves: {why}."), "");
            return Vec::new();
        }
        (_, None) => return Vec::new(),
    };
    let (along, word) = axes::way(&mount, state.foot.frame, state.foot.top, way);
    let sent_to = match &state.motion {
        Some(moving) if moving.moves == Moves::Foot(leg) => {
            moving.stream.goal(&moving.robot).0.first().copied()
        }
        _ => None,
    }
    .unwrap_or(room.foot);
    let step_mm = state.foot.step_mm;
    let to: Vec3 = std::array::from_fn(|i| sent_to[i] + along[i] * step_mm);
    if distance(Some(&to), Some(&room.foot)) > STEPS_AHEAD * step_mm + LEAST_MM {
        return Vec::new();
    }
    let course = Course::Line {
        from: room.foot,
        to,
    };
    let stream = motion::plan(state, &robot, vec![room], course);
    if stream.free_mm() < LEAST_MM {
        let why = match stream.stop() {
            Some(stop) => compose::foot::stop_text(state, &stop),
            None => "it is there".into(),
        };
        actions::say(
            state,
            format!("{} cannot move the foot {word}: {why}.", arrow(way)),
            "Another arrow, or Tab for the other view. Space stops.",
        );
        return Vec::new();
    }
    motion::start(state, Moves::Foot(leg), Plan { robot, stream }, false, now)
}

/// The motion to the other knee, or why there is none.
fn other_knee(state: &State) -> Result<Plan, String> {
    if state.motion.is_some() {
        return Err("the foot moves".into());
    }
    let robot = CalibratedRobot::new(state.work.robot().clone());
    let room = motion::room(state, &robot, state.chosen.leg)?;
    let angles = compose::foot::other_knee(&robot, &room)
        .map_err(|why| compose::foot::knee_stop_text(&room, &why))?;
    let course = Course::Joints {
        from: room.angles_deg,
        to: angles,
    };
    let stream = motion::plan(state, &robot, vec![room], course);
    match stream.stop() {
        Some(stop) => Err(format!(
            "on the way to the other knee: {}",
            compose::foot::stop_text(state, &stop)
        )),
        None => Ok(Plan { robot, stream }),
    }
}
