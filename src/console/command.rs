//! The command tables' one shape: from an entry come the key's meaning, the foot line, the help line and the reason why it is dim.
//!
//! Each page and each layer lists its commands once; the entries that all of them share stand here.
//! Nothing here changes state.

use crate::calibration::JointKind;

use super::intent::{Intent, Way};
use super::keys::Code;
use super::state::State;

/// One entry of a command table.
pub struct Command {
    /// Which key asks for what.
    pub binds: &'static [(Code, Intent)],
    /// The keys as help writes them: `← → h l`.
    pub keys: &'static str,
    /// What they do, as help says it.
    pub help: &'static str,
    /// What the foot line shows of it.
    pub foot: &'static [Foot],
    /// Why it does not work now; asked for each intent of the entry.
    pub works: fn(&State, Intent) -> Result<(), String>,
}

/// One entry of the foot line.
pub struct Foot {
    /// The keys: `←→`.
    pub keys: &'static str,
    /// What they do, in short.
    pub text: &'static str,
    /// What they do where there are 120 columns.
    pub long: Option<&'static str>,
    /// Shown only where there are 120 columns.
    pub wide: bool,
    /// Never cut.
    pub keep: bool,
    /// Shown behind all others: where there is room left.
    pub last: bool,
}

impl Foot {
    /// An ordinary entry.
    pub const fn new(keys: &'static str, text: &'static str) -> Foot {
        Foot {
            keys,
            text,
            long: None,
            wide: false,
            keep: false,
            last: false,
        }
    }

    /// With more to say where there is room.
    pub const fn long(self, long: &'static str) -> Foot {
        Foot {
            long: Some(long),
            ..self
        }
    }

    /// Only where there is room.
    pub const fn wide(self) -> Foot {
        Foot { wide: true, ..self }
    }

    /// Where there is room left.
    pub const fn last(self) -> Foot {
        Foot { last: true, ..self }
    }

    /// Never cut.
    pub const fn keep(self) -> Foot {
        Foot { keep: true, ..self }
    }
}

/// It always works.
pub fn always(_: &State, _: Intent) -> Result<(), String> {
    Ok(())
}

/// The intent of a key in this table.
pub fn intent_of(table: &[&Command], code: Code) -> Option<Intent> {
    table
        .iter()
        .flat_map(|c| c.binds)
        .find(|(bound, _)| *bound == code)
        .map(|(_, intent)| *intent)
}

/// Why the intent does not work now, by the table it came from.
pub fn reason_against(table: &[&Command], intent: Intent, state: &State) -> Option<String> {
    let command = table
        .iter()
        .find(|c| c.binds.iter().any(|(_, bound)| *bound == intent))?;
    (command.works)(state, intent).err()
}

/// Stop: no table needs to bind it, `update` looks for it before any table; it stands here for help.
pub const SPACE: Command = Command {
    binds: &[],
    keys: "Space",
    help: "stop: limp on the stand, freeze on the ground",
    foot: &[],
    works: always,
};

/// Stop, where the foot line has nothing more urgent to show.
pub const SPACE_SHOWN: Command = Command {
    foot: &[Foot::new("Space", "stop")],
    ..SPACE
};

/// Go on.
pub const ENTER: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "go on: does what the ► line says",
    foot: &[],
    works: always,
};

/// Go on, shown in the foot line.
pub const ENTER_SHOWN: Command = Command {
    foot: &[Foot::new("Enter", "go on")],
    ..ENTER
};

/// Back one level.
pub const ESC: Command = Command {
    binds: &[(Code::Esc, Intent::Back)],
    keys: "Esc",
    help: "back one level, never quits",
    foot: &[],
    works: always,
};

/// Leaves a field.
pub const LEAVE_FIELD: Command = Command {
    foot: &[Foot::new("Esc", "leave field")],
    ..ESC
};

/// Goes to what was typed.
pub const GO_THERE: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "go there",
    foot: &[Foot::new("Enter", "go there")],
    works: always,
};

/// Halves and doubles the step, as the pages that jog offer it.
pub const STEP: Command = Command {
    binds: &[
        (Code::Char(','), Intent::Finer),
        (Code::Char(';'), Intent::Finer),
        (Code::Char('.'), Intent::Coarser),
        (Code::Char(':'), Intent::Coarser),
    ],
    keys: ", .",
    help: "halve, double the step",
    foot: &[Foot::new(", .", "step")],
    works: always,
};

/// The leg keys.
pub const LEGS: Command = Command {
    binds: &[
        (Code::Char('e'), Intent::Leg('e')),
        (Code::Char('r'), Intent::Leg('r')),
        (Code::Char('d'), Intent::Leg('d')),
        (Code::Char('f'), Intent::Leg('f')),
        (Code::Char('c'), Intent::Leg('c')),
        (Code::Char('v'), Intent::Leg('v')),
        (Code::Char('x'), Intent::Leg('x')),
        (Code::Char('b'), Intent::Leg('b')),
        (Code::Char('t'), Intent::Leg('t')),
        (Code::Char('g'), Intent::Leg('g')),
    ],
    keys: "e r d f c v",
    help: "leg at that place in the picture",
    foot: &[],
    works: always,
};

/// The leg keys, shown in the foot line.
pub const LEGS_SHOWN: Command = Command {
    foot: &[Foot::new("e r d f c v", "leg")],
    ..LEGS
};

/// The leg keys, shown in the foot line where there is room left.
pub const LEGS_LAST: Command = Command {
    foot: &[Foot::new("e r d f c v", "leg").last()],
    ..LEGS
};

/// The joint keys.
pub const JOINTS: Command = Command {
    binds: &[
        (Code::Char('u'), Intent::Joint(JointKind::Coxa)),
        (Code::Char('i'), Intent::Joint(JointKind::Femur)),
        (Code::Char('o'), Intent::Joint(JointKind::Tibia)),
    ],
    keys: "u i o",
    help: "coxa, femur, tibia: body to foot",
    foot: &[],
    works: always,
};

/// The joint keys, shown in the foot line.
pub const JOINTS_SHOWN: Command = Command {
    foot: &[Foot::new("u i o", "joint")],
    ..JOINTS
};

/// The joint keys, shown in the foot line where there is room left.
pub const JOINTS_LAST: Command = Command {
    foot: &[Foot::new("u i o", "joint").last()],
    ..JOINTS
};

/// All four arrows and their twins.
pub const ARROWS: &[(Code, Intent)] = &[
    (Code::Left, Intent::Arrow(Way::Left)),
    (Code::Char('h'), Intent::Arrow(Way::Left)),
    (Code::Right, Intent::Arrow(Way::Right)),
    (Code::Char('l'), Intent::Arrow(Way::Right)),
    (Code::Up, Intent::Arrow(Way::Up)),
    (Code::Char('k'), Intent::Arrow(Way::Up)),
    (Code::Down, Intent::Arrow(Way::Down)),
    (Code::Char('j'), Intent::Arrow(Way::Down)),
];

/// Up and down, to choose a line.
pub const CHOOSE: Command = Command {
    binds: ARROWS,
    keys: "↑ ↓ k j",
    help: "choose a line",
    foot: &[Foot::new("↑↓", "choose")],
    works: always,
};

/// The list of pages.
pub const PAGES: Command = Command {
    binds: &[(Code::F(2), Intent::Pages)],
    keys: "F2",
    help: "list of pages",
    foot: &[Foot::new("F2", "pages")],
    works: always,
};

/// The list of pages, in the foot line where there is room left.
pub const PAGES_LAST: Command = Command {
    foot: &[Foot::new("F2", "pages").last()],
    ..PAGES
};

/// Turn, say where it stands, big view.
pub const TURN_GROUND_BIG: Command = Command {
    binds: &[
        (Code::Char('T'), Intent::Turn),
        (Code::Char('G'), Intent::Ground),
        (Code::Char('B'), Intent::Big),
    ],
    keys: "T G B",
    help: "turn picture, stand/ground, big view",
    foot: &[
        Foot::new("T", "turn").wide(),
        Foot::new("G", "ground").wide(),
    ],
    works: always,
};

/// Freeze all, sit down.
pub const FREEZE_SIT: Command = Command {
    binds: &[
        (Code::Char('p'), Intent::Freeze),
        (Code::Char('y'), Intent::SitDown),
    ],
    keys: "p y",
    help: "freeze all, sit down slowly",
    foot: &[Foot::new("p", "freeze").wide()],
    works: freeze_sit_works,
};

fn freeze_sit_works(state: &State, intent: Intent) -> Result<(), String> {
    state.linked()?;
    match intent {
        Intent::SitDown => state.why_no_sit_down().map_or(Ok(()), Err),
        _ => Ok(()),
    }
}

/// Save.
pub const SAVE: Command = Command {
    binds: &[
        (Code::Char('s'), Intent::Save),
        (Code::Char('S'), Intent::SaveAs),
    ],
    keys: "s S",
    help: "save, save under another name",
    foot: &[],
    works: save_works,
};

fn save_works(state: &State, intent: Intent) -> Result<(), String> {
    let something = state.work.unsaved() > 0 || state.work.path().is_none();
    match intent {
        Intent::Save if !something => Err("nothing new to save".into()),
        _ => Ok(()),
    }
}

/// Undo.
pub const UNDO: Command = Command {
    binds: &[(Code::Backspace, Intent::Undo)],
    keys: "Backspace",
    help: "take the last recorded thing back",
    foot: &[Foot::new("Backspace", "undo")],
    works: |state, _| match state.work.last() {
        Some(_) => Ok(()),
        None => Err("nothing was recorded in this session".into()),
    },
};

/// Help.
pub const HELP: Command = Command {
    binds: &[(Code::Char('?'), Intent::Help), (Code::F(1), Intent::Help)],
    keys: "? F1",
    help: "this help",
    foot: &[Foot::new("?", "help").keep()],
    works: always,
};

/// Help from a field, where `?` is no key.
pub const HELP_F1: Command = Command {
    binds: &[(Code::F(1), Intent::Help)],
    keys: "F1",
    help: "this help",
    foot: &[Foot::new("F1", "help").keep()],
    works: always,
};

/// Quit.
pub const QUIT: Command = Command {
    binds: &[(Code::Char('q'), Intent::Quit)],
    keys: "q",
    help: "quit (asks while pins are awake)",
    foot: &[Foot::new("q", "quit")],
    works: always,
};

/// Quit, in the foot line only where there is room.
pub const QUIT_QUIET: Command = Command {
    foot: &[Foot::new("q", "quit").wide()],
    ..QUIT
};

/// Typing a number.
pub const DIGITS: Command = Command {
    binds: &[(Code::Backspace, Intent::RubOut)],
    keys: "0–9 . -",
    help: "the value; Backspace rubs out",
    foot: &[
        Foot::new("0–9 . -", "value"),
        Foot::new("Backspace", "rub out").wide(),
    ],
    works: always,
};

/// Typing a name.
pub const LETTERS: Command = Command {
    binds: &[(Code::Backspace, Intent::RubOut)],
    keys: "letters",
    help: "the name, without blanks: Space stops",
    foot: &[
        Foot::new("letters", "name"),
        Foot::new("Backspace", "rub out"),
    ],
    works: always,
};
