//! Jog: one joint by steps of its pulse, or of degrees once they are known; what is seen there is recorded here.

use std::time::Duration;

use super::{Page, PageId};
use crate::board::PinState;
use crate::calibration::{Joint, JointKind, JointRef};
use crate::console::actions;
use crate::console::command::{
    ARROWS, Command, ENTER, ESC, FREEZE_SIT, Foot, HELP, JOINTS_LAST, LEGS_LAST, PAGES_LAST,
    QUIT_QUIET, SAVE, SPACE, STEP, TURN_GROUND_BIG, UNDO,
};
use crate::console::compose;
use crate::console::effect::{Effect, Now};
use crate::console::intent::{Intent, Side, Way};
use crate::console::keys::Code;
use crate::console::layers::Table;
use crate::console::layers::value::degrees_known;
use crate::console::measure::{number, sendable};
use crate::console::state::{Stands, State, Unit};
use crate::console::update;
use crate::console::view;
use crate::console::view::frame::LINE;
use crate::console::view::pen::columns;
use crate::units::Pulse;

/// Jog.
pub struct Jog;

const MOVE: Command = Command {
    binds: ARROWS,
    keys: "← → h l",
    help: "smaller, larger pulse by one step; ↑ ↓ the joint's own way",
    foot: &[Foot::new("←→", "pulse")],
    works: move_works,
};

fn move_works(state: &State, intent: Intent) -> Result<(), String> {
    state.may_jog()?;
    match intent {
        Intent::Arrow(Way::Up | Way::Down) => match state.joint().and_then(|j| j.scale.as_ref()) {
            Some(_) => Ok(()),
            None => Err("which way is positive is known after two marks: ← →".into()),
        },
        _ => Ok(()),
    }
}

const TYPE: Command = Command {
    binds: &[(Code::Char('='), Intent::Type)],
    keys: "=",
    help: "type a value (digits work only there)",
    foot: &[Foot::new("=", "type").long("type a value")],
    works: |state, _| state.may_jog().map(|_| ()),
};

const UNIT: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "µs or degrees",
    foot: &[],
    works: |state, _| degrees_known(state),
};

/// Waking, as several pages offer it.
pub const WAKE_ROW: Command = Command {
    binds: &[
        (Code::Char('w'), Intent::Wake),
        (Code::Char('W'), Intent::WakeLeg),
    ],
    keys: "w W",
    help: "wake this joint, this leg",
    foot: &[Foot::new("w", "wake")],
    works: wake_works,
};

fn wake_works(state: &State, intent: Intent) -> Result<(), String> {
    state.may_move()?;
    if intent == Intent::WakeLeg {
        return Ok(());
    }
    let pin = state.pin_or_why()?;
    match state.bench.plug(pin).state {
        PinState::Limp => Ok(()),
        _ => Err(format!("pin {pin} is awake already")),
    }
}

/// Going limp, as several pages offer it.
pub const LIMP_ROW: Command = Command {
    binds: &[
        (Code::Char('z'), Intent::Limp),
        (Code::Char('Z'), Intent::LimpLeg),
    ],
    keys: "z Z",
    help: "limp this joint, this leg",
    foot: &[Foot::new("z", "limp").wide()],
    works: |state, _| {
        state.linked()?;
        state.pin_or_why().map(|_| ())
    },
};

const RECORD: Command = Command {
    binds: &[
        (Code::Char('m'), Intent::Mark),
        (Code::Char('E'), Intent::End),
    ],
    keys: "m E",
    help: "record a mark, record an end",
    foot: &[Foot::new("m", "mark"), Foot::new("E", "end")],
    works: record_works,
};

fn record_works(state: &State, _: Intent) -> Result<(), String> {
    let pin = state.pin_or_why()?;
    match state.bench.plug(pin).pulse {
        Some(_) => Ok(()),
        None => Err("it is limp: w wakes it".into()),
    }
}

const GUARD: Command = Command {
    binds: &[
        (Code::Char('['), Intent::Widen(Side::Near)),
        (Code::Char('('), Intent::Widen(Side::Near)),
        (Code::Char(']'), Intent::Widen(Side::Far)),
        (Code::Char(')'), Intent::Widen(Side::Far)),
    ],
    keys: "[ ] ( )",
    help: "widen the guard below, above: 50 µs beyond the pulse",
    foot: &[Foot::new("[ ]", "guard").wide()],
    works: |state, _| state.may_jog().map(|_| ()),
};

const TABLE: Table = &[
    &SPACE,
    &ENTER,
    &ESC,
    &LEGS_LAST,
    &JOINTS_LAST,
    &MOVE,
    &STEP,
    &TYPE,
    &UNIT,
    &WAKE_ROW,
    &LIMP_ROW,
    &FREEZE_SIT,
    &RECORD,
    &GUARD,
    &UNDO,
    &TURN_GROUND_BIG,
    &PAGES_LAST,
    &SAVE,
    &HELP,
    &QUIT_QUIET,
];

impl Page for Jog {
    fn id(&self) -> PageId {
        PageId::Jog
    }

    fn name(&self) -> &'static str {
        "Jog"
    }

    fn purpose(&self) -> &'static str {
        "one joint by steps; zero, scale and ends"
    }

    fn table(&self) -> Table {
        TABLE
    }

    fn jogs(&self) -> bool {
        true
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let Some(joint) = state.joint() else {
            return ("Choose a joint.".into(), String::new());
        };
        let title = state.title();
        let Some(pin) = joint.pin else {
            return (
                format!("No pin is known for {title}: F2 Plugs finds it, one nudge a pin."),
                "Or write it into the file, pin = 22. Leg keys and u i o choose another joint."
                    .into(),
            );
        };
        match state.bench.plug(pin).state {
            PinState::Limp => (
                format!("Enter: wake {title} on pin {pin}. It asks for the pulse first."),
                match state.stands {
                    Stands::Ground => {
                        "It will jump to that pulse at full speed, on the ground: hold the body."
                    }
                    _ => {
                        "It will jump to that pulse at full speed: leg off the ground, hands away."
                    }
                }
                .into(),
            ),
            PinState::Waking => (
                format!("Wait: {title} gets its first pulse now. Hands away."),
                "Space stops.".into(),
            ),
            PinState::Awake => (awake_line(state, joint), step_line(state, joint)),
        }
    }

    fn big_words(&self, state: &State) -> String {
        let awake = state
            .pin()
            .is_some_and(|pin| state.bench.plug(pin).state == PinState::Awake);
        match state.joint().and_then(compose::missing) {
            _ if !awake => "WAKE IT".into(),
            Some("zero") if state.joint().is_some_and(out_of_reach) => "TYPE THE ANGLE".into(),
            Some("zero") => "SET 0 BY EDGE".into(),
            Some("scale") => "TYPE THE ANGLE".into(),
            Some(end) => format!("FIND {}", end.to_uppercase()),
            None => "KNOWN".into(),
        }
    }

    fn big_number(&self, state: &State) -> Option<view::BigBlock> {
        let numbers = compose::jog::numbers(state, Duration::ZERO);
        Some(view::BigBlock {
            text: numbers.big,
            beside: vec![
                format!("{}   {}", numbers.big_unit, numbers.joint),
                numbers.other.1,
            ],
        })
    }

    fn title(&self, state: &State) -> view::Title {
        view::Title {
            page: "Jog".into(),
            subject: compose::subject(state),
            simulated: compose::sight::phrase(state),
            urgent: false,
        }
    }

    fn picture(&self, state: &State, now: Duration) -> view::Page {
        view::Page::Jog(Box::new(view::Jog {
            robot: compose::robot::picture(state),
            leg: compose::leg::side(state),
            numbers: compose::jog::numbers(state, now),
            scale: compose::scale::of_chosen(state, now),
            field: state.top().and_then(|layer| layer.page_field(state)),
            sight: compose::sight::seen(state),
        }))
    }

    fn act(&self, intent: Intent, state: &mut State, _now: &Now) -> Vec<Effect> {
        match intent {
            Intent::Arrow(way) => step(state, way),
            Intent::Finer => {
                resize_step(state, false);
                Vec::new()
            }
            Intent::Coarser => {
                resize_step(state, true);
                Vec::new()
            }
            Intent::Back => {
                state.page = PageId::Home;
                Vec::new()
            }
            Intent::GoOn => go_on(state),
            _ => Vec::new(),
        }
    }
}

/// Enter does what the `►` line says.
fn go_on(state: &mut State) -> Vec<Effect> {
    let Some((pin, known)) = state
        .joint()
        .and_then(|joint| Some((joint.pin?, compose::missing(joint).is_none())))
    else {
        return Vec::new();
    };
    match state.bench.plug(pin).state {
        PinState::Limp => return update::wake(state),
        PinState::Awake if known => {
            if let Some(next) = next_unknown(state) {
                state.chosen = next;
            }
        }
        _ => {}
    }
    Vec::new()
}

fn next_unknown(state: &State) -> Option<JointRef> {
    state
        .work
        .robot()
        .joints()
        .find(|(_, joint)| joint.pin.is_some() && compose::missing(joint).is_some())
        .map(|(at, _)| at)
}

fn awake_line(state: &State, joint: &Joint) -> String {
    match compose::missing(joint) {
        Some("zero") if out_of_reach(joint) => {
            "Read the angle, m and type it; again 30° away: zero and µs/degree.".into()
        }
        Some("zero") => "Bring the edge onto both screw heads, then m Enter: that is 0°.".into(),
        Some("scale") => {
            "Turn it by 30° or more ([ ] widen the guard), measure, m: µs/degree.".into()
        }
        Some(end) => {
            let key = if end.starts_with("near") { "[" } else { "]" };
            format!("Find the {end}: {key} widens the guard, small steps, E records it.")
        }
        None => match next_unknown(state) {
            Some(next) => format!(
                "All of {} is known. Enter: choose {}.",
                state.title(),
                state.work.robot().title(next)
            ),
            None => format!(
                "All of {} is known, and of all others.{}",
                state.title(),
                if state.work.unsaved() > 0 {
                    " s saves."
                } else {
                    ""
                }
            ),
        },
    }
}

/// Whether 0° lies outside the travel that it needs, as a knee's does: no edge can be laid there.
fn out_of_reach(joint: &Joint) -> bool {
    joint
        .needed_deg
        .is_some_and(|(least, most)| least > 0.0 || most < 0.0)
}

fn step_line(state: &State, joint: &Joint) -> String {
    let step = compose::jog::step_text(state);
    let does = match (&joint.scale, state.chosen.kind) {
        (None, _) => format!("→ makes the pulse {step} longer."),
        (Some(scale), JointKind::Femur | JointKind::Tibia) if scale.value > 0.0 => {
            format!("→ raises the joint by {step}.")
        }
        (Some(_), JointKind::Femur | JointKind::Tibia) => format!("→ lowers the joint by {step}."),
        (Some(scale), JointKind::Coxa) => {
            let left = scale.value > 0.0;
            let side = if left { "left" } else { "right" };
            format!("→ turns the leg to the robot's {side} by {step}.")
        }
    };
    let all = format!("{does} Hands off the leg while it moves. Space stops.");
    if columns(&all) <= LINE {
        return all;
    }
    format!("{does} Hands off. Space stops.")
}

fn resize_step(state: &mut State, up: bool) {
    let steps = &mut state.steps;
    match steps.unit {
        Unit::Us if up => steps.halves = (steps.halves * 2).min(256),
        Unit::Us => steps.halves = (steps.halves / 2).max(1),
        Unit::Degrees if up => steps.deg = (steps.deg * 2.0).min(16.0),
        Unit::Degrees => steps.deg = (steps.deg / 2.0).max(0.0625),
    }
}

/// One step: → is always the larger pulse, as on the scale; ↑ the positive way.
fn step(state: &mut State, way: Way) -> Vec<Effect> {
    let Some(pin) = state.pin() else {
        return Vec::new();
    };
    let plug = state.bench.plug(pin);
    let Some(from) = plug.target.or(plug.pulse) else {
        return Vec::new();
    };
    let scale = state
        .joint()
        .and_then(|j| j.scale.as_ref())
        .map(|s| s.value);
    let larger = match way {
        Way::Right => true,
        Way::Left => false,
        Way::Up => scale.is_some_and(|s| s > 0.0),
        Way::Down => scale.is_none_or(|s| s < 0.0),
    };
    let halves = match (state.steps.unit, scale) {
        // A step in degrees is at least the half-microsecond that a board can tell apart.
        (Unit::Degrees, Some(scale)) => {
            ((state.steps.deg * scale.abs() * 2.0).round() as u16).max(1)
        }
        _ => state.steps.halves,
    };
    let wished = if larger {
        from.halves().saturating_add(halves)
    } else {
        from.halves().saturating_sub(halves)
    };
    let mut to = Pulse::from_halves(wished);
    let (low, high) = state.guard_of(state.chosen);
    // A long step ends at the guard; only a step that cannot move at all is refused.
    if from >= low && from <= high {
        let bounded = to.clamp(low, high);
        if bounded != from {
            to = bounded;
        }
    }
    if !to.is_sendable() && from.is_sendable() {
        to = sendable(to.us());
    }
    if to == from {
        actions::say(
            state,
            format!("The board sends no pulse beyond {} µs.", number(to.us())),
            "",
        );
        return Vec::new();
    }
    actions::jog_to(state, to)
}
