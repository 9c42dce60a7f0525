//! Home: the robot from above and what is known of it. It answers "where was I?" after a week.

use std::time::Duration;

use super::{Page, PageId};
use crate::calibration::{JointKind, JointRef};
use crate::console::command::{
    ARROWS, Command, ENTER_SHOWN, ESC, FREEZE_SIT, Foot, HELP, JOINTS_SHOWN, LEGS_SHOWN, PAGES,
    QUIT_QUIET, SAVE, SPACE, TURN_GROUND_BIG, UNDO, always,
};
use crate::console::compose;
use crate::console::effect::{Effect, Now};
use crate::console::guided::{
    self,
    task::{self, Task},
};
use crate::console::intent::{Intent, Way};
use crate::console::layers::Table;
use crate::console::layers::ground::Ground;
use crate::console::pages::jog::{LIMP_ROW, WAKE_ROW};
use crate::console::state::{Stands, State};
use crate::console::view;
use crate::procedure::{self, Scope};

/// Home.
pub struct Home;

const WALK: Command = Command {
    binds: ARROWS,
    keys: "arrows hjkl",
    help: "choose a cell of the matrix",
    foot: &[Foot::new("arrows", "choose").long("choose a cell")],
    works: always,
};

const UNDO_QUIET: Command = Command { foot: &[], ..UNDO };
const WAKE_QUIET: Command = Command {
    foot: &[],
    ..WAKE_ROW
};
const LIMP_QUIET: Command = Command {
    foot: &[],
    ..LIMP_ROW
};

const TABLE: Table = &[
    &SPACE,
    &ENTER_SHOWN,
    &ESC,
    &WALK,
    &LEGS_SHOWN,
    &JOINTS_SHOWN,
    &PAGES,
    &WAKE_QUIET,
    &LIMP_QUIET,
    &FREEZE_SIT,
    &TURN_GROUND_BIG,
    &SAVE,
    &UNDO_QUIET,
    &HELP,
    &QUIT_QUIET,
];

/// Where a joint is done and a pause is near; below 120 columns the head line has no room for the file.
const NOT_SAVED: &str = "It is not saved yet: s saves. Nothing moves. Space stops.";

/// What Enter does.
enum Next {
    /// Opens guided work.
    Work(Task, Scope),
    /// Goes to a joint that lacks something.
    Walk(JointRef),
    /// Nothing is missing.
    Jog,
}

fn next(state: &State) -> Next {
    if let Some((task, scope)) = task::next(state) {
        return Next::Work(task, scope);
    }
    let mut joints = state.work.robot().joints().map(|(at, _)| at);
    if let Some(at) = joints.find(|at| task::found_off(state, *at).is_some()) {
        return Next::Walk(at);
    }
    let known = state.work.known();
    match procedure::next(known) {
        // A chosen joint is brought to its end: the next one is the next in order, whatever it lacks.
        Some((_, Scope::Joint(at))) => {
            let mut of_leg = Scope::Leg(at.leg).joints(&known.robot).into_iter();
            let lacking = of_leg.find(|it| procedure::lacks(known, *it).is_some());
            Next::Walk(lacking.unwrap_or(at))
        }
        Some((work, scope)) => Next::Work(Task::of(work), scope),
        None => Next::Jog,
    }
}

/// What Enter does, the verb first.
fn verb(state: &State, task: Task) -> String {
    let title = state.title();
    let left = procedure::plugs_left(state.work.known());
    let known = state.work.known().joint(state.chosen);
    match task {
        Task::Horns if known.is_some_and(|it| it.leg_off) => {
            format!("go on with {title}, whose leg is off its horn")
        }
        Task::Supply => "write down the servo supply first".into(),
        Task::Plugs if left > 0 => {
            let have = if left == 1 {
                "joint has"
            } else {
                "joints have"
            };
            format!("go on with the plugs, {left} {have} none yet")
        }
        Task::Plugs => "find which plug drives which joint, pin by pin".into(),
        Task::Horns => format!("see which tooth suits the horn of {title}"),
        Task::Bounds => format!("find rough bounds of {title}, so that marks have room"),
        Task::Marks => format!("mark {title}: which pulse is which angle"),
        Task::Ends => format!("find the ends of {title}"),
        Task::Check => format!("check {title} again, which the last check found off"),
        _ => format!("{} of {title}", task.name()),
    }
}

/// Big words for it, the joint's name beside.
fn short(task: Task) -> &'static str {
    match task {
        Task::Horns => "HORN OF",
        Task::Bounds => "BOUND",
        Task::Marks => "MARK",
        Task::Ends => "END",
        _ => "GO TO",
    }
}

impl Page for Home {
    fn id(&self) -> PageId {
        PageId::Home
    }

    fn name(&self) -> &'static str {
        "Home"
    }

    fn purpose(&self) -> &'static str {
        "the robot, and what is known of it"
    }

    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        if state.stands == Stands::Unsaid {
            return (
                "Enter: say whether the robot is on its stand or on the ground.".into(),
                "Until it is said, Space lets everything go limp.".into(),
            );
        }
        let Some(joint) = state.joint() else {
            return ("Choose a joint with the arrows.".into(), String::new());
        };
        let title = state.title();
        // Without one it is the plugs that come first.
        let pin = joint.pin.map_or_else(String::new, |it| it.to_string());
        match next(state) {
            Next::Work(task, _) => (
                format!("Enter: {}.", verb(state, task)),
                match task {
                    Task::Supply => "Nothing moves: it asks and sums. Space stops.".into(),
                    Task::Plugs if nothing_tried(state) => {
                        "Hands away first. Not built in yet? F2 One servo tries each. Space stops."
                            .into()
                    }
                    Task::Plugs => {
                        "It nudges one pin after the other. Hands away first. Space stops.".into()
                    }
                    Task::Horns => {
                        "It asks first, and wakes one joint later. Hands away then. Space stops."
                            .into()
                    }
                    _ => format!(
                        "It will wake one joint on pin {pin}. Hands away first. Space stops."
                    ),
                },
            ),
            Next::Walk(at) => (
                format!(
                    "All of {title} is known. Enter walks on to {}.",
                    state.work.robot().title(at)
                ),
                match state.work.unsaved() {
                    0 => "Nothing moves. Space stops.".into(),
                    _ => NOT_SAVED.into(),
                },
            ),
            Next::Jog => (
                format!("All is known. Enter: jog {title}."),
                match state.work.unsaved() {
                    0 => format!(
                        "F2, Check: a mark a joint each morning. w wakes pin {pin}. Space stops."
                    ),
                    _ => NOT_SAVED.into(),
                },
            ),
        }
    }

    fn big_words(&self, state: &State) -> String {
        if state.stands == Stands::Unsaid {
            return "STAND OR GROUND?".into();
        }
        match next(state) {
            Next::Work(Task::Supply, _) => "SUPPLY FIRST".into(),
            Next::Work(Task::Plugs, _) => "FIND PLUGS".into(),
            Next::Work(task, _) => format!("{} {}", short(task), state.title().to_uppercase()),
            Next::Walk(_) | Next::Jog => "KNOWN".into(),
        }
    }

    fn title(&self, state: &State) -> view::Title {
        let front = ["up", "left", "down", "right"][usize::from(state.turn % 4)];
        view::Title {
            page: "Home".into(),
            subject: format!("front is {front}, T turns it"),
            simulated: None,
            urgent: false,
        }
    }

    fn picture(&self, state: &State, now: Duration) -> view::Page {
        view::Page::Home(Box::new(view::Home {
            robot: compose::robot::picture(state),
            matrix: compose::matrix::matrix(state),
            notes: compose::matrix::notes(state),
            sight: compose::sight::seen(state),
            log: last_lines(state),
            joint: Some(compose::card(state)),
            scale: Some(compose::scale::of_chosen(state, now)),
            scale_title: state.title(),
        }))
    }

    fn act(&self, intent: Intent, state: &mut State, now: &Now) -> Vec<Effect> {
        let legs = state.work.robot().legs.len();
        let chosen = &mut state.chosen;
        match intent {
            Intent::Arrow(Way::Up) => chosen.leg = chosen.leg.saturating_sub(1),
            Intent::Arrow(Way::Down) => chosen.leg = (chosen.leg + 1).min(legs.saturating_sub(1)),
            Intent::Arrow(Way::Left) => {
                let left = chosen.kind.index().saturating_sub(1);
                chosen.kind = JointKind::ALL[left];
            }
            Intent::Arrow(Way::Right) => {
                let right = (chosen.kind.index() + 1).min(2);
                chosen.kind = JointKind::ALL[right];
            }
            Intent::GoOn if state.stands == Stands::Unsaid => {
                let ask = Ground::new(state);
                state.open(ask);
            }
            Intent::GoOn if state.joint().is_some() => match next(state) {
                Next::Work(task, scope) => return guided::open(state, task, scope, now),
                Next::Walk(at) => state.chosen = at,
                Next::Jog => state.page = PageId::Jog,
            },
            _ => {}
        }
        Vec::new()
    }
}

/// No servo was tried alone and no plug was looked for: the robot may not be built yet.
fn nothing_tried(state: &State) -> bool {
    let known = state.work.known();
    known.servos.is_empty() && known.plugs.is_empty()
}

/// What was written into the logbook lately, the newest last.
fn last_lines(state: &State) -> Vec<String> {
    let entries = state.work.entries();
    let last = entries.len().saturating_sub(5);
    entries[last..]
        .iter()
        .map(|it| it.what.to_string())
        .collect()
}
