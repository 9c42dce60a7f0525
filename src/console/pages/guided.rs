//! The pages of guided work: all of them show the present step of a machine, and their keys are answers to it.

use std::time::Duration;

use super::{Page, PageId};
use crate::console::command::{
    ARROWS, Command, ENTER, Foot, HELP, HELP_F1, JOINTS, LEGS, PAGES_LAST, QUIT_QUIET, SAVE, SPACE,
    SPACE_SHOWN, TURN_GROUND_BIG, always,
};
use crate::console::compose;
use crate::console::effect::{Effect, Now};
use crate::console::guided::task::Task;
use crate::console::guided::{self, keys};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::layers::Table;
use crate::console::state::State;
use crate::console::view;
use crate::procedure::{Detail, Wants};

/// One page of guided work.
pub struct GuidedPage(pub Task);

/// The page of a task.
pub fn page(task: Task) -> &'static GuidedPage {
    match task {
        Task::Supply => &GuidedPage(Task::Supply),
        Task::Servo => &GuidedPage(Task::Servo),
        Task::Horns => &GuidedPage(Task::Horns),
        Task::Plugs => &GuidedPage(Task::Plugs),
        Task::Bounds => &GuidedPage(Task::Bounds),
        Task::Marks => &GuidedPage(Task::Marks),
        Task::Ends => &GuidedPage(Task::Ends),
        Task::Check => &GuidedPage(Task::Check),
        Task::Replace => &GuidedPage(Task::Replace),
        Task::Waking => &GuidedPage(Task::Waking),
    }
}

macro_rules! key {
    ($name:ident, $code:expr, $intent:expr, $keys:literal, $help:literal, [$($foot:expr),*]) => {
        const $name: Command = Command {
            binds: &[($code, $intent)],
            keys: $keys,
            help: $help,
            foot: &[$($foot),*],
            works: always,
        };
    };
}

key!(
    NONE,
    Code::Char('n'),
    Intent::No,
    "n",
    "none, no",
    [Foot::new("n", "none")]
);
key!(
    NO,
    Code::Char('n'),
    Intent::No,
    "n",
    "no",
    [Foot::new("n", "no")]
);
key!(
    FREE,
    Code::Char('n'),
    Intent::No,
    "n",
    "it was free: the next peck goes a step farther",
    [Foot::new("n", "it was free")]
);
key!(
    END,
    Code::Char('E'),
    Intent::End,
    "E",
    "an end is here: it touched, hummed, or did not come all the way",
    [Foot::new("E", "end here")]
);
key!(
    NOT_KNOWN,
    Code::Char('n'),
    Intent::No,
    "n",
    "not known, or there is none",
    []
);
key!(
    READ_AGAIN,
    Code::Char('a'),
    Intent::Again,
    "a",
    "once more, before the value is typed",
    []
);
key!(
    AGAIN,
    Code::Char('a'),
    Intent::Again,
    "a",
    "once more",
    [Foot::new("a", "again")]
);
key!(
    PECK_AGAIN,
    Code::Char('a'),
    Intent::Again,
    "a",
    "peck once more",
    [Foot::new("a", "again").long("peck again")]
);
key!(
    ALSO,
    Code::Char('+'),
    Intent::Also,
    "+",
    "and another joint too",
    [Foot::new("+", "also").long("and another")]
);
key!(
    YES,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "yes: does what the ► line says",
    [Foot::new("Enter", "yes")]
);
key!(
    GO_ON,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "go on: does what the ► line says",
    [Foot::new("Enter", "go on")]
);
key!(
    CHOSEN,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "take what is lit",
    [Foot::new("Enter", "take it")]
);
key!(
    IT_IS_SO,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "it is so",
    [Foot::new("Enter", "it is so")]
);
key!(
    HERE,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "it is there",
    [Foot::new("Enter", "it is there")]
);
key!(
    ENOUGH,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "far enough: it stops here",
    [Foot::new("Enter", "far enough")]
);
key!(
    RECORD,
    Code::Enter,
    Intent::GoOn,
    "Enter",
    "record what was typed",
    [Foot::new("Enter", "record")]
);
key!(
    BACK,
    Code::Backspace,
    Intent::Undo,
    "Backspace",
    "the former step; what it recorded no longer counts",
    [Foot::new("Backspace", "undo").wide()]
);
key!(
    RUB_OUT,
    Code::Backspace,
    Intent::Undo,
    "Backspace",
    "rub out; after Esc: the former step",
    [Foot::new("Backspace", "rub out")]
);
key!(
    LEAVE,
    Code::Esc,
    Intent::Back,
    "Esc",
    "leave: all of it stays recorded, what woke goes limp",
    [Foot::new("Esc", "leave")]
);
key!(
    LEAVE_FIELD,
    Code::Esc,
    Intent::Back,
    "Esc",
    "leave the field; an empty one: leave the page",
    [Foot::new("Esc", "leave field").long("leave the field")]
);
key!(
    LEAVE_QUIET,
    Code::Esc,
    Intent::Back,
    "Esc",
    "leave: all of it stays recorded, what woke goes limp",
    []
);
key!(
    FREEZE,
    Code::Char('p'),
    Intent::Freeze,
    "p",
    "freeze all",
    [Foot::new("p", "freeze").wide()]
);

const ENTER_IS_NOTHING: Command = Command {
    help: "nothing here: a habit must not walk a joint past its end",
    ..ENTER
};
const LEGS_PLUGS: Command = Command {
    foot: &[Foot::new("leg", "e r d f c v")],
    ..LEGS
};
const JOINTS_PLUGS: Command = Command {
    foot: &[Foot::new("joint", "u i o")],
    ..JOINTS
};
const WAY: Command = Command {
    binds: ARROWS,
    keys: "↑ ↓ ← →",
    help: "the way it went: up or down; a coxa's foot as it went on the picture",
    foot: &[Foot::new("↑↓", "way")],
    works: always,
};
const LIST: Command = Command {
    binds: ARROWS,
    keys: "↑ ↓ k j",
    help: "choose a line",
    foot: &[Foot::new("↑↓", "choose")],
    works: always,
};
const NUDGE: Command = Command {
    binds: ARROWS,
    keys: "← → h l",
    help: "smaller, larger pulse by one step",
    foot: &[Foot::new("←→", "pulse")],
    works: always,
};
const STEP: Command = Command {
    binds: &[
        (Code::Char(','), Intent::Finer),
        (Code::Char(';'), Intent::Finer),
        (Code::Char('.'), Intent::Coarser),
    ],
    keys: ", .",
    help: "halve, double the step",
    foot: &[Foot::new(", .", "step")],
    works: always,
};
const DIGITS: Command = Command {
    binds: &[],
    keys: "0–9 . -",
    help: "the value",
    foot: &[Foot::new("0–9 . -", "value")],
    works: always,
};
const LETTERS: Command = Command {
    binds: &[],
    keys: "letters",
    help: "the number on the sticker; no blanks: Space stops",
    foot: &[Foot::new("letters", "number")],
    works: always,
};
const HELP_LONG: Command = Command {
    foot: &[Foot::new("?", "").long("help").keep()],
    ..HELP
};

/// What every step has at its end.
macro_rules! table {
    ($($command:expr),*) => {
        &[$($command,)* &SPACE, &FREEZE, &TURN_GROUND_BIG, &PAGES_LAST, &SAVE, &HELP, &QUIT_QUIET]
    };
}

const WAIT: Table = &[
    &SPACE_SHOWN,
    &LEAVE,
    &BACK,
    &FREEZE,
    &TURN_GROUND_BIG,
    &PAGES_LAST,
    &SAVE,
    &HELP,
    &QUIT_QUIET,
];
const ENTERS: Table = table!(&GO_ON, &LEAVE, &BACK);
const YES_NO: Table = table!(&YES, &NO, &AGAIN, &LEAVE, &BACK);
/// Where nothing moved there is nothing to be done again.
const YES_NO_ALONE: Table = table!(&YES, &NO, &LEAVE, &BACK);
const PICK: Table = table!(&LIST, &CHOSEN, &LEAVE, &BACK);
const NUDGES: Table = table!(&NUDGE, &STEP, &HERE, &LEAVE, &BACK);
const PECK: Table = table!(
    &FREE,
    &END,
    &PECK_AGAIN,
    &STEP,
    &BACK,
    &LEAVE,
    &ENTER_IS_NOTHING
);
const COARSE: Table = table!(&FREE, &END, &ENOUGH, &PECK_AGAIN, &BACK, &LEAVE);
/// A field takes its characters, so no letter is a command there.
const VALUE: Table = &[
    &DIGITS,
    &RECORD,
    &RUB_OUT,
    &LEAVE_FIELD,
    &NOT_KNOWN,
    &READ_AGAIN,
    &SPACE,
    &PAGES_LAST,
    &HELP,
    &QUIT_QUIET,
];
const TEXT: Table = &[
    &LETTERS,
    &RECORD,
    &RUB_OUT,
    &LEAVE_FIELD,
    &SPACE,
    &PAGES_LAST,
    &HELP_F1,
];
const PLUG: Table = &[
    &LEGS_PLUGS,
    &JOINTS_PLUGS,
    &WAY,
    &ALSO,
    &NONE,
    &AGAIN,
    &IT_IS_SO,
    &LEAVE_QUIET,
    &SPACE,
    &FREEZE,
    &BACK_QUIET,
    &TURN_GROUND_BIG_QUIET,
    &PAGES_LAST,
    &SAVE,
    &HELP_LONG,
    &QUIT_HELP,
];
const BACK_QUIET: Command = Command { foot: &[], ..BACK };
const QUIT_HELP: Command = Command {
    foot: &[],
    ..QUIT_QUIET
};
const TURN_GROUND_BIG_QUIET: Command = Command {
    foot: &[],
    ..TURN_GROUND_BIG
};

/// Every table, for the tests.
pub const TABLES: &[Table] = &[
    WAIT,
    ENTERS,
    YES_NO,
    YES_NO_ALONE,
    PICK,
    NUDGES,
    PECK,
    COARSE,
    VALUE,
    TEXT,
    PLUG,
];

fn wants(state: &State) -> Wants {
    state
        .guided
        .as_ref()
        .map_or(Wants::Wait, |guided| guided.step().wants)
}

impl Page for GuidedPage {
    fn id(&self) -> PageId {
        PageId::Work(self.0)
    }

    fn name(&self) -> &'static str {
        self.0.name()
    }

    fn purpose(&self) -> &'static str {
        self.0.purpose()
    }

    fn table(&self) -> Table {
        ENTERS
    }

    fn table_now(&self, state: &State) -> Table {
        match wants(state) {
            Wants::Wait => WAIT,
            Wants::Enter | Wants::Over => ENTERS,
            Wants::Value { .. } => VALUE,
            Wants::Text { .. } => TEXT,
            Wants::Pick { .. } => PICK,
            Wants::YesNo if self.0 == Task::Supply => YES_NO_ALONE,
            Wants::YesNo => YES_NO,
            Wants::Nudge => NUDGES,
            Wants::FreeOrEnd { enough: false } => PECK,
            Wants::FreeOrEnd { enough: true } => COARSE,
            Wants::JointAndWay => PLUG,
        }
    }

    fn takes(&self, state: &State, c: char) -> bool {
        state.guided.as_ref().is_some_and(|it| it.desk.takes(c))
    }

    fn answers(&self) -> bool {
        true
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        match &state.guided {
            Some(guided) => {
                let step = guided.step();
                if step.wants == Wants::Over && !state.work.is_durable() {
                    let second =
                        "Nothing will move. Not on the disk yet: s gives it a file. Space stops.";
                    return (step.next, second.into());
                }
                (step.next, step.second)
            }
            None => (String::new(), String::new()),
        }
    }

    fn wrong(&self, state: &State) -> bool {
        state.guided.as_ref().is_some_and(|it| it.step().wrong)
    }

    fn big_words(&self, state: &State) -> String {
        let Some(guided) = &state.guided else {
            return String::new();
        };
        let step = guided.step();
        match (&step.picture.detail, step.picture.pin) {
            (Detail::Plugs { .. }, Some(pin)) if step.wants == Wants::JointAndWay => {
                format!("PIN {pin} {}", step.big)
            }
            _ => step.big.into(),
        }
    }

    fn big_number(&self, state: &State) -> Option<view::BigBlock> {
        let step = state.guided.as_ref()?.step();
        compose::guided::big_number(state, &step)
    }

    fn below_big(&self, state: &State, now: Duration) -> Option<view::Guided> {
        compose::guided::below_big(state, state.guided.as_ref()?, now)
    }

    fn title(&self, state: &State) -> view::Title {
        compose::guided::title(state, self.0)
    }

    fn picture(&self, state: &State, now: Duration) -> view::Page {
        match &state.guided {
            Some(guided) => compose::guided::page(state, guided, now),
            None => view::Page::List(Vec::new(), 0),
        }
    }

    fn act(&self, intent: Intent, state: &mut State, now: &Now) -> Vec<Effect> {
        match keys::answer(state, intent) {
            Some(answer) => guided::answer(state, &answer, now),
            None => Vec::new(),
        }
    }
}
