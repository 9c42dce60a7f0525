//! Pure drawing: a [`Screen`] of plain values goes in, cells of a buffer come out.
//!
//! Every page has one struct that holds what stands on it, ready to be drawn; the console fills it.
//! Nothing here reads the console's state, a clock or a file, and nothing changes what it is given.

pub mod big;
pub mod dialog;
pub mod field;
pub mod first;
pub mod foot;
pub mod frame;
pub mod help;
pub mod home;
pub mod jog;
pub mod leg;
pub mod matrix;
pub mod robot;
pub mod scale;
pub mod sight;

pub use big::{BigBlock, BigPage};
pub use dialog::Dialog;
pub use field::ValueField;
pub use first::{Choice, First};
pub use foot::{FootJog, Margin, TopView};
pub use frame::{FootEntry, Head, Link, Notice, Place, Supply, Title, Whole};
pub use help::{Help, HelpEntry, HelpTab};
pub use home::{Home, JointCard};
pub use jog::{Jog, JogNumbers};
pub use leg::{Bound, BoundKind, FootPath, LegView, Positive};
pub use matrix::{Cell, CellKind, Matrix, MatrixRow};
pub use robot::{JointGlyph, LegPicture, RobotPicture};
pub use scale::{Fit, Scale, Way, Zero};
pub use sight::SightBox;

/// All that stands on the screen at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Screen {
    /// The head line's fields.
    pub head: Head,
    /// The title rule: page, what it is about, what is special.
    pub title: Title,
    /// The body.
    pub page: Page,
    /// What covers the body, and the body only: help or a dialog.
    pub overlay: Option<Overlay>,
    /// At most 24 letters, drawn three rows high where there are 36 rows: FIND FAR END.
    pub big_words: String,
    /// The next line and the second line.
    pub notice: Notice,
    /// Keys that work now, most used first, from the command table.
    pub foot: Vec<FootEntry>,
}

/// The body's content.
#[derive(Debug, Clone, PartialEq)]
pub enum Page {
    /// The first screen: where do we work today?
    First(First),
    /// Robot and what is known of it.
    Home(Box<Home>),
    /// One joint by steps of its pulse.
    Jog(Box<Jog>),
    /// One foot along straight lines.
    FootJog(Box<FootJog>),
    /// The body as big words and numbers, for 1.5 m.
    Big(BigPage),
    /// A list to choose from, such as the pages (F2): text, and which line is chosen.
    List(Vec<String>, usize),
}

/// What covers the body while it is open.
#[derive(Debug, Clone, PartialEq)]
pub enum Overlay {
    /// Help for the page.
    Help(Box<Help>),
    /// A question.
    Dialog(Dialog),
}
