//! Body jog: shift, lift, turn and tilt the body over feet that stay where they are.

use std::time::Duration;

use super::foot::{WAYS, arrow, commanded};
use super::{Page, PageId};
use crate::console::actions;
use crate::console::command::{
    ARROWS, Command, ENTER, ESC, FREEZE_SIT, Foot, HELP, LEGS_LAST, PAGES_LAST, QUIT_QUIET, SAVE,
    SPACE, STEP, TURN_GROUND_BIG, always,
};
use crate::console::compose;
use crate::console::effect::{Effect, Now};
use crate::console::intent::{Intent, Way};
use crate::console::keys::Code;
use crate::console::layers::Table;
use crate::console::layers::point::Point;
use crate::console::measure::number;
use crate::console::motion::{self, Moves, Plan};
use crate::console::stance::{
    Planted, limp, plan_to, planted, pose, pose_of, ready, rooms, standing, tips, unit, values,
};
use crate::console::state::{Stands, State};
use crate::console::view;
use crate::kinematics::{CalibratedRobot, Course, InTheWay};
use crate::units::Pulse;

/// Body jog.
pub struct BodyPage;

/// How far a way is looked along, mm and degrees.
const AHEAD: [f64; 2] = [200.0, 45.0];
/// So many steps at most may lie before the body: a key held down must not run away.
const STEPS_AHEAD: f64 = 4.0;
/// What the arrows do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mode {
    /// Over the ground, as the picture is turned.
    #[default]
    Shift,
    /// Up and down, and turn left and right.
    Lift,
    /// Nose up and down, left and right side down.
    Tilt,
}

/// What the page remembers.
#[derive(Debug)]
pub struct BodyDesk {
    /// What the arrows do.
    pub mode: Mode,
    /// The step of lengths, mm: 0.5 to 32.
    pub step_mm: f64,
    /// The step of angles, degrees: 0.125 to 8.
    pub step_deg: f64,
    /// The arrow pressed last.
    pub way: Way,
    /// Where the feet were planted, and the pose since.
    pub planted: Option<Planted>,
    /// What lies ahead.
    pub outlook: Option<Outlook>,
}

impl Default for BodyDesk {
    fn default() -> BodyDesk {
        BodyDesk {
            mode: Mode::Shift,
            step_mm: 4.0,
            step_deg: 1.0,
            way: Way::Up,
            planted: None,
            outlook: None,
        }
    }
}

/// One arrow's way.
#[derive(Debug, Clone, PartialEq)]
pub struct Ahead {
    /// How far it could go, mm or degrees.
    pub free: f64,
    /// What stops it there.
    pub stop: Option<InTheWay>,
}

/// What lies ahead of a body that rests.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    robot: CalibratedRobot,
    seen: Seen,
    /// Each arrow's way, in the order of [`WAYS`].
    pub ways: Vec<Ahead>,
    /// How long a step of the lit arrow takes, s.
    pub step_s: f64,
}

/// All that an outlook depends on.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    mode: Mode,
    way: Way,
    turn: u8,
    step: f64,
    pulses: Vec<Option<Pulse>>,
}

const MOVE: Command = Command {
    binds: ARROWS,
    keys: "← → ↑ ↓ h l k j",
    help: "move the body one step; what they do, Tab changes",
    foot: &[Foot::new("arrows", "move the body")],
    works: |state, _| ready(state).map(|_| ()),
};

const MODE: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "shift; lift and turn; tilt",
    foot: &[Foot::new("Tab", "shift, lift, tilt")],
    works: always,
};

const TYPE: Command = Command {
    binds: &[(Code::Char('='), Intent::Type)],
    keys: "=",
    help: "type a pose to go to",
    foot: &[Foot::new("=", "type pose").long("type a pose")],
    works: |state, _| ready(state).map(|_| ()),
};

const LIMP: Command = Command {
    binds: &[(Code::Char('Z'), Intent::LimpLeg)],
    keys: "Z",
    help: "limp the chosen leg",
    foot: &[],
    works: |state, _| state.linked(),
};

const TABLE: Table = &[
    &SPACE,
    &ENTER,
    &ESC,
    &MOVE,
    &MODE,
    &STEP,
    &TYPE,
    &LEGS_LAST,
    &LIMP,
    &FREEZE_SIT,
    &TURN_GROUND_BIG,
    &PAGES_LAST,
    &SAVE,
    &HELP,
    &QUIT_QUIET,
];

impl Page for BodyPage {
    fn id(&self) -> PageId {
        PageId::Body
    }

    fn name(&self) -> &'static str {
        "Body jog"
    }

    fn purpose(&self) -> &'static str {
        "the body over planted feet"
    }

    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let legs = match standing(state) {
            Ok(legs) => legs,
            Err(why) => {
                return (
                    format!("The body cannot be moved yet: {why}."),
                    "Three legs must be known: two marks of a joint give zero and µs/degree."
                        .into(),
                );
            }
        };
        if !limp(state, &legs).is_empty() {
            return (
                "Enter: wake all legs that carry, after 3 s, one joint at a time.".into(),
                match state.stands {
                    Stands::Ground => {
                        "Each jumps to its pulse at full speed: the body lies or is held, hands away."
                    }
                    _ => "Each jumps to its pulse at full speed: robot on its stand, hands away.",
                }
                .into(),
            );
        }
        if let Err(why) = ready(state) {
            return (format!("Wait: {why}."), "Space stops.".into());
        }
        if state.motion.is_some() {
            return (
                "The body moves. The feet stay where they are.".into(),
                "Esc ends it where it is. Space stops.".into(),
            );
        }
        ahead_lines(state, &legs)
    }

    fn big_words(&self, state: &State) -> String {
        match (standing(state), ready(state)) {
            (Err(_), _) => return "MARKS FIRST".into(),
            (_, Err(_)) => return "WAKE THE LEGS".into(),
            _ => {}
        }
        let (index, sign) = component(state.body.mode, state.turn, state.body.way);
        let word = word(index, sign).trim_start_matches("to the ");
        let word = word.to_uppercase();
        let unit = if index < 3 { "MM" } else { "DEG" };
        let step = number(step_size(state, index));
        format!("{} {step} {unit}", word.trim_end_matches("WARD"))
    }

    fn title(&self, state: &State) -> view::Title {
        let legs = standing(state).map_or(0, |legs| legs.len());
        let arrows = match state.body.mode {
            Mode::Shift => "arrows shift it",
            Mode::Lift => "arrows lift and turn it",
            Mode::Tilt => "arrows tilt it",
        };
        view::Title {
            page: "Body jog".into(),
            subject: format!("{legs} feet planted, {arrows}"),
            simulated: compose::sight::phrase(state),
            urgent: false,
        }
    }

    fn picture(&self, state: &State, now: Duration) -> view::Page {
        view::Page::BodyJog(Box::new(compose::body::page(state, now)))
    }

    fn look(&self, state: &mut State) {
        if state.motion.is_some() {
            return;
        }
        let (index, _) = component(state.body.mode, state.turn, state.body.way);
        let seen = Seen {
            mode: state.body.mode,
            way: state.body.way,
            turn: state.turn,
            step: step_size(state, index),
            pulses: commanded(state),
        };
        let fresh = |it: &Outlook| it.seen == seen && it.robot.robot() == state.work.robot();
        if !state.body.outlook.as_ref().is_some_and(fresh) {
            state.body.outlook = outlook(state, seen);
        }
    }

    fn act(&self, intent: Intent, state: &mut State, now: &Now) -> Vec<Effect> {
        let (index, _) = component(state.body.mode, state.turn, state.body.way);
        let step = if index < 3 {
            &mut state.body.step_mm
        } else {
            &mut state.body.step_deg
        };
        let (least, most) = if index < 3 { (0.5, 32.0) } else { (0.125, 8.0) };
        match intent {
            Intent::Finer => *step = (*step / 2.0).max(least),
            Intent::Coarser => *step = (*step * 2.0).min(most),
            Intent::Arrow(way) => return go(state, way, now),
            Intent::Next => {
                state.body.mode = match state.body.mode {
                    Mode::Shift => Mode::Lift,
                    Mode::Lift => Mode::Tilt,
                    Mode::Tilt => Mode::Shift,
                };
            }
            Intent::Type => match Point::body(state, index) {
                Ok(layer) => state.open(layer),
                Err(why) => actions::say(state, format!("Not now: {why}."), ""),
            },
            Intent::Back => {
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

/// Which value an arrow changes, and its sign; a shift goes as the picture is turned.
pub fn component(mode: Mode, turn: u8, way: Way) -> (usize, f64) {
    match (mode, way) {
        (Mode::Lift, Way::Up) => (2, 1.0),
        (Mode::Lift, Way::Down) => (2, -1.0),
        (Mode::Lift, Way::Left) => (5, 1.0),
        (Mode::Lift, Way::Right) => (5, -1.0),
        // REP 103: positive pitch lowers the nose, positive roll the right side.
        (Mode::Tilt, Way::Up) => (4, -1.0),
        (Mode::Tilt, Way::Down) => (4, 1.0),
        (Mode::Tilt, Way::Left) => (3, -1.0),
        (Mode::Tilt, Way::Right) => (3, 1.0),
        (Mode::Shift, way) => {
            let quarters = match way {
                Way::Up => 0,
                Way::Left => 1,
                Way::Down => 2,
                Way::Right => 3,
            };
            // Counter-clockwise from the front: with the front at the left, the upper side is the robot's right.
            match (quarters + 4 - turn % 4) % 4 {
                0 => (0, 1.0),
                1 => (1, 1.0),
                2 => (0, -1.0),
                _ => (1, -1.0),
            }
        }
    }
}

/// What a change of a value is called.
pub fn word(index: usize, sign: f64) -> &'static str {
    match (index, sign > 0.0) {
        (0, true) => "forward",
        (0, false) => "backward",
        (1 | 5, true) => "to the left",
        (1 | 5, false) => "to the right",
        (2, true) => "up",
        (2, false) => "down",
        (3, true) => "right side down",
        (3, false) => "left side down",
        (_, true) => "nose down",
        (_, false) => "nose up",
    }
}

/// The step of a value.
pub fn step_size(state: &State, index: usize) -> f64 {
    if index < 3 {
        state.body.step_mm
    } else {
        state.body.step_deg
    }
}

/// Enter does what the `►` line says: it wakes what carries, after a countdown.
fn wake(state: &mut State, now: &Now) -> Vec<Effect> {
    let wakes = standing(state).map_or_else(|_| Vec::new(), |legs| limp(state, &legs));
    if wakes.is_empty() {
        return Vec::new();
    }
    if let Err(why) = state.may_move() {
        actions::say(state, format!("Not now: {why}."), "");
        return Vec::new();
    }
    actions::wake_several(state, "The robot".into(), wakes, now)
}

/// One step of the body, from where it is sent to already.
fn go(state: &mut State, way: Way, now: &Now) -> Vec<Effect> {
    state.body.way = way;
    let (index, sign) = component(state.body.mode, state.turn, way);
    let step = step_size(state, index);
    let here = values(&pose(state));
    let mut to = match &state.motion {
        Some(moving) if moving.moves == Moves::Body => moving
            .stream
            .goal(&moving.robot)
            .1
            .map_or(here, |pose| values(&pose)),
        _ => here,
    };
    to[index] += sign * step;
    if (to[index] - here[index]).abs() > STEPS_AHEAD * step + 1e-6 {
        return Vec::new();
    }
    let why = match plan_to(state, pose_of(to)) {
        Err(why) => why,
        Ok(plan) => match (tips(state, &plan), plan.stream.stop()) {
            (Some(why), _) => why,
            (None, Some(stop)) if plan.stream.free_mm() < 0.05 => {
                compose::foot::stop_text_of_leg(state, &stop)
            }
            (None, _) => return begin(state, plan, now),
        },
    };
    actions::say(
        state,
        format!("{} does not move the body: {why}.", arrow(way)),
        "Another arrow, or Tab for other motions. Space stops.",
    );
    Vec::new()
}

fn begin(state: &mut State, plan: Plan, now: &Now) -> Vec<Effect> {
    motion::start(state, Moves::Body, plan, false, now)
}

fn outlook(state: &State, seen: Seen) -> Option<Outlook> {
    let robot = CalibratedRobot::new(state.work.robot().clone());
    let rooms = rooms(state, &robot).ok()?;
    let stands = planted(state, &robot, &rooms);
    let here = values(&stands.pose);
    let look = |index: usize, by: f64| {
        let mut to = here;
        to[index] += by;
        let course = Course::Body {
            feet: stands.feet.clone(),
            from: stands.pose,
            to: pose_of(to),
        };
        motion::plan(state, &robot, rooms.clone(), course)
    };
    let ways = WAYS
        .map(|way| {
            let (index, sign) = component(seen.mode, seen.turn, way);
            let far = AHEAD[usize::from(index >= 3)];
            let stream = look(index, sign * far);
            Ahead {
                free: far * stream.free_part(),
                stop: stream.stop(),
            }
        })
        .into();
    let (index, sign) = component(seen.mode, seen.turn, seen.way);
    let frames = look(index, sign * seen.step).frames_left(&robot);
    Some(Outlook {
        robot,
        seen,
        ways,
        step_s: f64::from(frames) * motion::FRAME.as_secs_f64(),
    })
}

/// The way of the arrow pressed last.
pub fn lit(state: &State) -> Option<&Ahead> {
    let index = WAYS.iter().position(|way| *way == state.body.way)?;
    state.body.outlook.as_ref()?.ways.get(index)
}

fn ahead_lines(state: &State, legs: &[usize]) -> (String, String) {
    let (index, sign) = component(state.body.mode, state.turn, state.body.way);
    let (step, unit) = (step_size(state, index), unit(index));
    let blank = if index < 3 { " " } else { "" };
    let does = match index {
        0..3 => "moves",
        5 => "turns",
        _ => "tilts",
    };
    let word = word(index, sign);
    let first = format!(
        "{} {does} the body {}{blank}{unit} {word}. The feet stay where they are.",
        arrow(state.body.way),
        number(step)
    );
    let joints = 3 * legs.len();
    let second = match lit(state) {
        Some(Ahead {
            free,
            stop: Some(stop),
        }) => format!(
            "Free for {}{blank}{unit}, then {}. {joints} joints move. Space stops.",
            free.floor(),
            compose::foot::stop_text_of_leg(state, stop)
        ),
        _ => format!("{joints} joints move. Space stops."),
    };
    (first, second)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shift_goes_as_the_picture_is_turned() {
        for (turn, way, due) in [
            (0, Way::Up, "forward"),
            (0, Way::Left, "to the left"),
            (0, Way::Right, "to the right"),
            // Front at the left: the upper side is the robot's right.
            (1, Way::Left, "forward"),
            (1, Way::Up, "to the right"),
            (2, Way::Up, "backward"),
            (2, Way::Left, "to the right"),
            (3, Way::Right, "forward"),
            (3, Way::Up, "to the left"),
        ] {
            let (index, sign) = component(Mode::Shift, turn, way);
            assert_eq!(word(index, sign), due, "{turn} {way:?}");
        }
        for (way, due) in [(Way::Up, "nose up"), (Way::Right, "right side down")] {
            let (index, sign) = component(Mode::Tilt, 1, way);
            assert_eq!(word(index, sign), due);
        }
    }
}
