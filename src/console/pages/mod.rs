//! The pages: one file each, all of one shape. A later page is one more file and one more line in [`PAGES`].

pub mod body;
pub mod first;
pub mod foot;
pub mod guided;
pub mod home;
pub mod jog;

use std::time::Duration;

use self::guided::GuidedPage;
use super::effect::{Effect, Now};
use super::guided::task::Task;
use super::intent::Intent;
use super::layers::Table;
use super::state::State;
use super::view;

/// Which page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PageId {
    /// Where do we work today?
    First,
    /// The robot and what is known of it.
    Home,
    /// One joint by steps of its pulse.
    Jog,
    /// One foot along straight lines.
    Foot,
    /// The body over planted feet.
    Body,
    /// Guided work; it is open exactly while `State::guided` is there.
    Work(Task),
}

/// The pages that F2 lists: by hand first, then guided, in the order of the work.
pub const PAGES: &[&dyn Page] = &[
    &first::First,
    &home::Home,
    &jog::Jog,
    &foot::FootPage,
    &body::BodyPage,
    &GuidedPage(Task::Supply),
    &GuidedPage(Task::Servo),
    &GuidedPage(Task::Horns),
    &GuidedPage(Task::Plugs),
    &GuidedPage(Task::Bounds),
    &GuidedPage(Task::Marks),
    &GuidedPage(Task::Ends),
    &GuidedPage(Task::Check),
    &GuidedPage(Task::Replace),
    &GuidedPage(Task::Waking),
];

impl PageId {
    /// The page.
    pub fn page(self) -> &'static dyn Page {
        match self {
            PageId::First => &first::First,
            PageId::Home => &home::Home,
            PageId::Jog => &jog::Jog,
            PageId::Foot => &foot::FootPage,
            PageId::Body => &body::BodyPage,
            PageId::Work(task) => guided::page(task),
        }
    }
}

/// One kind of work, one screen.
pub trait Page: Sync {
    /// Which one.
    fn id(&self) -> PageId;

    /// Its name in the title rule and in the list of pages.
    fn name(&self) -> &'static str;

    /// What it is for, in the list of pages.
    fn purpose(&self) -> &'static str;

    /// Its commands, most used first.
    fn table(&self) -> Table;

    /// Why it does not open now.
    fn opens(&self, state: &State) -> Result<(), String> {
        state.linked()
    }

    /// Whether the keys of a jog act on it.
    fn jogs(&self) -> bool {
        false
    }

    /// Next line and second line.
    fn lines(&self, state: &State, now: Duration) -> (String, String);

    /// Something is wrong: the next line starts with `!`.
    fn wrong(&self, _state: &State) -> bool {
        false
    }

    /// At most five words, at most 24 letters.
    fn big_words(&self, _state: &State) -> String {
        String::new()
    }

    /// The one big number of the page, with up to two lines beside it.
    fn big_number(&self, _state: &State) -> Option<view::BigBlock> {
        None
    }

    /// What must be seen to answer, under the big words.
    fn below_big(&self, _state: &State, _now: Duration) -> Option<view::Guided> {
        None
    }

    /// The title rule.
    fn title(&self, state: &State) -> view::Title;

    /// The body.
    fn picture(&self, state: &State, now: Duration) -> view::Page;

    /// Looks ahead anew when something changed that its picture shows; called after every input.
    fn look(&self, _state: &mut State) {}

    /// Its commands on the present step; the same as [`Page::table`] for most pages.
    fn table_now(&self, _state: &State) -> Table {
        self.table()
    }

    /// Whether a character is typed into a field of the page now.
    fn takes(&self, _state: &State, _c: char) -> bool {
        false
    }

    /// Whether its keys are answers to what a step machine asks.
    fn answers(&self) -> bool {
        false
    }

    /// Carries out what is the page's own among its table's intents.
    fn act(&self, intent: Intent, state: &mut State, now: &Now) -> Vec<Effect>;
}
