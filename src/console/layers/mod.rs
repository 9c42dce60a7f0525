//! What lies above a page and takes the keys first: help, the list of pages, fields, questions, a countdown.
//!
//! One file a layer. A layer consumes every key but Space, Ctrl-C and Ctrl-Z, which no layer ever sees.
//! The head line, the next line and the foot line stay in sight above all of them.

pub mod count;
pub mod end;
pub mod ground;
pub mod hands;
pub mod help;
pub mod knee;
pub mod limp;
pub mod mark;
pub mod pages;
pub mod point;
pub mod quit;
pub mod save;
pub mod scope;
pub mod take_back;
pub mod value;
pub mod wake;
pub mod widen;

use std::fmt;
use std::time::Duration;

use super::command::Command;
use super::effect::{Effect, Now};
use super::intent::Intent;
use super::state::State;
use super::view;
use crate::kinematics::Vec3;

/// Whether a layer stays open after an intent, and what is to be done.
#[derive(Debug)]
pub enum Flow {
    /// It stays.
    Stay(Vec<Effect>),
    /// It is closed.
    Close(Vec<Effect>),
}

/// A command table, in the order of help and foot line.
pub type Table = &'static [&'static Command];

/// Something above the page.
pub trait Layer: fmt::Debug {
    /// What its keys do.
    fn table(&self) -> Table;

    /// Next line and second line.
    fn lines(&self, state: &State, now: Duration) -> (String, String);

    /// Carries an intent of its own table out.
    ///
    /// The layer is off the stack meanwhile: what it pushes onto `state.layers` comes to lie above it.
    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow;

    /// Time passed.
    fn tick(&mut self, _state: &mut State, _now: &Now) -> Flow {
        Flow::Stay(Vec::new())
    }

    /// When [`Layer::tick`] wants to be called next.
    fn due(&self, _now: Duration) -> Option<Duration> {
        None
    }

    /// Whether a character is typed into it.
    fn takes(&self, _c: char) -> bool {
        false
    }

    /// Whether it leads to motion: then a stop, and anything that went wrong, closes it.
    fn leads_to_motion(&self) -> bool {
        false
    }

    /// What is wrong with what was typed, once Enter found out: a whole clause for the second line.
    fn wrong(&self) -> Option<&str> {
        None
    }

    /// What it draws over the body.
    fn overlay(&self, _state: &State, _now: Duration) -> Option<view::Overlay> {
        None
    }

    /// A field that the page beneath draws among its numbers.
    fn page_field(&self, _state: &State) -> Option<view::ValueField> {
        None
    }

    /// The point of the leg's frame that a foot is about to be sent to: the page draws the way there.
    fn goal_mm(&self, _state: &State) -> Option<Vec3> {
        None
    }

    /// The body as a list, in place of the page's.
    fn list(&self, _state: &State) -> Option<(String, Vec<String>, usize)> {
        None
    }

    /// At most 24 letters.
    fn big_words(&self) -> &'static str {
        ""
    }

    /// The big number, with up to two lines beside it.
    fn big_number(&self, _state: &State, _now: Duration) -> Option<view::BigBlock> {
        None
    }
}

/// A question's box.
fn question(title: &str, lines: Vec<String>, answers: &[(&str, &str)]) -> view::Dialog {
    view::Dialog {
        title: title.to_owned(),
        lines,
        field: None,
        answers: answers
            .iter()
            .map(|(key, text)| ((*key).to_owned(), (*text).to_owned()))
            .collect(),
        alarm: false,
    }
}
