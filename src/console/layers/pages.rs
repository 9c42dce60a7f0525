//! The list of pages (F2).

use std::time::Duration;

use super::{Flow, Layer, Table};
use crate::console::command::{CHOOSE, ENTER_SHOWN, ESC, HELP, QUIT_QUIET, SPACE};
use crate::console::effect::{Effect, Now};
use crate::console::guided;
use crate::console::intent::{Intent, Way};
use crate::console::layers::scope::Scope;
use crate::console::pages::{PAGES, PageId};
use crate::console::state::State;

/// The list of pages.
#[derive(Debug)]
pub struct Pages {
    at: usize,
}

const TABLE: Table = &[&ENTER_SHOWN, &CHOOSE, &SPACE, &ESC, &HELP, &QUIT_QUIET];

impl Pages {
    /// The list, the present page chosen.
    pub fn new(state: &State) -> Pages {
        Pages {
            at: PAGES.iter().position(|p| p.id() == state.page).unwrap_or(0),
        }
    }
}

/// Opens a page: guided work that is under way is left, other guided work is begun.
fn open(page: PageId, state: &mut State, now: &Now) -> Vec<Effect> {
    if page == state.page {
        return Vec::new();
    }
    let effects = guided::leave(state, now);
    match page {
        PageId::Work(task) => {
            let [width, more @ ..] = task.widths() else {
                return effects;
            };
            if more.is_empty() {
                let scope = width.scope(state.chosen);
                return [effects, guided::open(state, task, scope, now)].concat();
            }
            state.open(Scope::new(task));
        }
        page => state.page = page,
    }
    effects
}

impl Layer for Pages {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let page = PAGES[self.at.min(PAGES.len() - 1)];
        match page.opens(state) {
            Ok(()) => (
                format!("Enter opens {}.", page.name()),
                "Opening a page moves nothing. Space stops.".into(),
            ),
            Err(why) => (
                format!("{} does not open now: {why}.", page.name()),
                "Choose another with ↑ ↓. Space stops.".into(),
            ),
        }
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::Arrow(Way::Down) => self.at = (self.at + 1).min(PAGES.len() - 1),
            Intent::Arrow(Way::Up) => self.at = self.at.saturating_sub(1),
            Intent::GoOn => {
                let page = PAGES[self.at];
                if page.opens(state).is_ok() {
                    return Flow::Close(open(page.id(), state, now));
                }
            }
            _ => {}
        }
        Flow::Stay(Vec::new())
    }

    fn list(&self, state: &State) -> Option<(String, Vec<String>, usize)> {
        let lines = PAGES
            .iter()
            .map(|page| {
                let off = page.opens(state).err().map(|why| format!("({why})"));
                format!(
                    "{:<12} {}",
                    page.name(),
                    off.unwrap_or_else(|| page.purpose().into())
                )
            })
            .collect();
        Some(("Pages".into(), lines, self.at))
    }
}
