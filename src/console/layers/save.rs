//! Saving under a name, and what may be in its way.

use std::path::PathBuf;
use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::console::command::{Command, ESC, Foot, HELP_F1, LETTERS, SPACE, always};
use crate::console::effect::{self, Effect, Now};
use crate::console::field::{Field, Takes};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::measure::path_shown;
use crate::console::state::State;
use crate::console::view;

/// Asks for a name to save under.
#[derive(Debug)]
pub struct SaveAs {
    why: String,
    field: Field,
}

/// There is a file of that name: asks before it is replaced.
#[derive(Debug)]
pub struct Overwrite {
    path: PathBuf,
}

const SAVE: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "save under this name",
    foot: &[Foot::new("Enter", "save")],
    works: always,
};
const LEAVE: Command = Command {
    foot: &[Foot::new("Esc", "do not save")],
    ..ESC
};
const NAME: Table = &[&LETTERS, &SAVE, &LEAVE, &SPACE, &HELP_F1];

const REPLACE: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "replace that file",
    foot: &[Foot::new("Enter", "replace")],
    works: always,
};
const OTHER: Command = Command {
    binds: &[
        (Code::Char('n'), Intent::Discard),
        (Code::Esc, Intent::Back),
    ],
    keys: "n Esc",
    help: "choose another name",
    foot: &[Foot::new("n", "another name")],
    works: always,
};
const REPLACE_TABLE: Table = &[&REPLACE, &OTHER, &SPACE, &HELP_F1];

impl SaveAs {
    /// Asks for the first name, or for another one than the file's.
    pub fn new(state: &State) -> SaveAs {
        let why = match (state.work.why_name(), state.work.path()) {
            (Some(why), _) => why.into(),
            (None, path) => format!(
                "{} stays as it was last saved.",
                path.map(path_shown).unwrap_or_default()
            ),
        };
        SaveAs::because(state, why)
    }

    /// Asks for another name, and says why.
    pub fn because(state: &State, why: String) -> SaveAs {
        SaveAs {
            why,
            field: Field::with(Takes::Path, state.work.offered_path().display().to_string()),
        }
    }
}

impl Layer for SaveAs {
    fn table(&self) -> Table {
        NAME
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        let next = match named(self.field.text()) {
            Some(path) => format!("Enter saves as {}.", path_shown(&path)),
            None => "Type a name, then Enter saves.".into(),
        };
        (next, self.why.clone())
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::Back => {
                state.quitting = false;
                return Flow::Close(Vec::new());
            }
            Intent::GoOn => match named(self.field.text()) {
                None => self.field.error = Some("a name is missing".into()),
                Some(path) => {
                    return Flow::Close(vec![Effect::SaveAs(effect::SaveAs {
                        path,
                        overwrite: false,
                    })]);
                }
            },
            intent => self.field.edit(intent),
        }
        Flow::Stay(Vec::new())
    }

    fn wrong(&self) -> Option<&str> {
        self.field.error.as_deref()
    }

    fn takes(&self, c: char) -> bool {
        self.field.takes(c)
    }

    fn overlay(&self, _state: &State, _now: Duration) -> Option<view::Overlay> {
        let mut dialog = question(
            "Save as",
            vec![
                self.why.clone(),
                "Another name: type it. An existing file is never replaced unasked.".into(),
            ],
            &[("Enter", "save"), ("Esc", "do not save")],
        );
        dialog.field = Some(self.field.shown("name", "", 40));
        Some(view::Overlay::Dialog(dialog))
    }
}

/// The file that is written under this text: with its ending, whether it was typed or not. Nothing where it names no file.
fn named(text: &str) -> Option<PathBuf> {
    let stem = text.strip_suffix(".toml").unwrap_or(text);
    let is_missing = stem.is_empty() || stem.ends_with(['/', '\\']);
    (!is_missing).then(|| PathBuf::from(format!("{stem}.toml")))
}

impl Overwrite {
    /// That file is there already.
    pub fn new(path: PathBuf) -> Overwrite {
        Overwrite { path }
    }
}

impl Layer for Overwrite {
    fn table(&self) -> Table {
        REPLACE_TABLE
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        (
            format!(
                "{} exists. Enter: replace it. n: another name.",
                path_shown(&self.path)
            ),
            "What it holds now would be lost. Space stops.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::GoOn => Flow::Close(vec![Effect::SaveAs(effect::SaveAs {
                path: self.path.clone(),
                overwrite: true,
            })]),
            Intent::Discard | Intent::Back => {
                let name = SaveAs::because(state, "That name is taken.".into());
                state.open(name);
                Flow::Close(Vec::new())
            }
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn overlay(&self, _state: &State, _now: Duration) -> Option<view::Overlay> {
        let mut dialog = question(
            "Replace a file",
            vec![format!("{} is there already.", path_shown(&self.path))],
            &[("Enter", "replace it"), ("n", "another name")],
        );
        dialog.alarm = true;
        Some(view::Overlay::Dialog(dialog))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_gets_its_ending_once() {
        let shown = |text| named(text).map(|it| it.display().to_string());
        let bench = Some("calibrations/bench.toml".to_owned());
        assert_eq!(shown("calibrations/bench"), bench);
        assert_eq!(shown("calibrations/bench.toml"), bench);
        for none in ["", ".toml", "calibrations/", "calibrations/.toml"] {
            assert_eq!(shown(none), None, "{none:?}");
        }
    }
}
