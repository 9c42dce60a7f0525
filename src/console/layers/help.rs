//! Help: made from the command table of the page it was opened on.

use std::time::Duration;

use super::{Flow, Layer, Table};
use crate::console::command::{self, Command, Foot, always};
use crate::console::compose;
use crate::console::effect::Now;
use crate::console::intent::{Intent, Way};
use crate::console::keys::Code;
use crate::console::state::State;
use crate::console::view::{self, HelpTab};

/// Help.
#[derive(Debug)]
pub struct Help {
    tab: HelpTab,
    scroll: usize,
    /// The table and the name of what it explains.
    about: Table2,
    name: String,
}

/// A table whose `Debug` says only how long it is.
struct Table2(Table);

impl std::fmt::Debug for Table2 {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} commands", self.0.len())
    }
}

const BACK: Command = Command {
    binds: &[
        (Code::Esc, Intent::Back),
        (Code::Enter, Intent::Back),
        (Code::Char('?'), Intent::Help),
        (Code::F(1), Intent::Help),
    ],
    keys: "Esc ?",
    help: "back",
    foot: &[Foot::new("Esc", "back").keep()],
    works: always,
};

const MORE: Command = Command {
    foot: &[Foot::new("↑↓", "more")],
    ..command::CHOOSE
};

const TAB: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "keys, glyphs, scale, words",
    foot: &[Foot::new("Tab:", "keys, glyphs, scale, words")],
    works: always,
};

const TABLE: Table = &[&BACK, &MORE, &TAB, &command::QUIT_QUIET];

impl Help {
    /// Help about what takes the keys now.
    pub fn about(state: &State) -> Help {
        let (about, name) = match state.top() {
            Some(layer) => (layer.table(), format!("{} (question)", state.page().name())),
            None => (
                state.page().table_now(state),
                state.page().name().to_owned(),
            ),
        };
        Help {
            tab: HelpTab::Keys,
            scroll: 0,
            about: Table2(about),
            name,
        }
    }
}

impl Layer for Help {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        (
            format!(
                "Help. Esc or ? goes back to {}. Space still stops.",
                self.name
            ),
            "Keys shown dim do not work here now; the reason stands beside them.".into(),
        )
    }

    fn act(&mut self, intent: Intent, _state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::Back | Intent::Help => return Flow::Close(Vec::new()),
            Intent::Next => {
                self.scroll = 0;
                self.tab = match self.tab {
                    HelpTab::Keys => HelpTab::Glyphs,
                    HelpTab::Glyphs => HelpTab::Scale,
                    HelpTab::Scale => HelpTab::Words,
                    HelpTab::Words => HelpTab::Keys,
                };
            }
            Intent::Arrow(Way::Down) => {
                let most = self.about.0.len().saturating_sub(1);
                self.scroll = (self.scroll + 1).min(most);
            }
            Intent::Arrow(Way::Up) => self.scroll = self.scroll.saturating_sub(1),
            _ => {}
        }
        Flow::Stay(Vec::new())
    }

    fn overlay(&self, state: &State, now: Duration) -> Option<view::Overlay> {
        let entries = self
            .about
            .0
            .iter()
            .map(|command| view::HelpEntry {
                keys: compose::as_turned(command.keys, state),
                text: command.help.to_owned(),
                off: compose::why_off(command, state),
            })
            .collect();
        Some(view::Overlay::Help(Box::new(view::Help {
            page: self.name.clone(),
            tab: self.tab,
            entries,
            scroll: self.scroll,
            scale: compose::scale::of_chosen(state, now),
        })))
    }

    fn big_words(&self) -> &'static str {
        "HELP"
    }
}
