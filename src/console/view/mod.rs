//! Pure drawing: a [`Screen`] of plain values goes in, cells of a buffer come out.
//!
//! Every page has one struct that holds what stands on it, ready to be drawn; the console fills it.
//! Nothing here reads the console's state, a clock or a file, and nothing changes what it is given.

mod ascii;
pub mod big;
pub mod body;
pub mod dialog;
pub mod ends;
pub mod field;
pub mod first;
pub mod foot;
pub mod frame;
pub mod guided;
pub mod help;
pub mod home;
pub mod jog;
pub mod leg;
pub mod marks;
pub mod matrix;
pub mod pen;
pub mod plugs;
pub mod robot;
pub mod scale;
mod sheet;
pub mod sight;
pub mod stroke;
pub mod text;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use self::pen::Pen;
use super::theme::{Look, Role};

pub use big::{BigBlock, BigPage};
pub use body::BodyJog;
pub use dialog::Dialog;
pub use ends::Ends;
pub use field::ValueField;
pub use first::{Choice, First};
pub use foot::{FootJog, Margin, TopView};
pub use frame::{FootEntry, Head, Link, Notice, Place, Supply, Title, Whole};
pub use guided::{Guided, Left};
pub use help::{Help, HelpEntry, HelpTab};
pub use home::{Home, JointCard};
pub use jog::{Jog, JogNumbers};
pub use leg::{Bound, BoundKind, FootPath, LegView, Positive};
pub use marks::{Dot, MarkLine, Marks};
pub use matrix::{Cell, CellKind, Matrix, MatrixRow};
pub use plugs::{PlugLine, Plugs};
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
    /// The body shifted, turned and tilted over planted feet.
    BodyJog(Box<BodyJog>),
    /// One pin was nudged: which joint moved?
    Plugs(Box<Plugs>),
    /// Readings over the fitted line.
    Marks(Box<Marks>),
    /// One peck.
    Ends(Box<Ends>),
    /// Any other step of guided work.
    Guided(Box<Guided>),
    /// The body as big words and numbers, for 1.5 m.
    Big(BigPage),
    /// A list to choose from, such as the pages (F2): text, and which line is chosen.
    List(Vec<String>, usize),
}

impl Page {
    /// Whether the page itself draws what would be seen of the practice robot, where it has room.
    fn shows_sight(&self) -> bool {
        !matches!(
            self,
            Page::FootJog(_) | Page::BodyJog(_) | Page::Big(_) | Page::List(..)
        )
    }
}

/// What covers the body while it is open.
#[derive(Debug, Clone, PartialEq)]
pub enum Overlay {
    /// Help for the page.
    Help(Box<Help>),
    /// A question.
    Dialog(Dialog),
}

/// Draws everything that stands on the screen.
///
/// The buffer is blank at first, as ratatui hands it out. Below 80×24 one line says the size now and the size needed; the keys still work there.
pub fn draw(screen: &Screen, look: Look, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area, look);
    let (width, height) = (pen.width(), pen.height());
    let at_least = |size: (u16, u16)| width >= i32::from(size.0) && height >= i32::from(size.1);
    if at_least(frame::SMALLEST) {
        let full = at_least(frame::LARGE);
        let tall = height >= i32::from(frame::LARGE.1);
        let (top, rows) = frame::draw(screen, &mut pen);
        let mut body = pen.window(0, top, width, rows);
        screen.page.draw(&mut body, full, tall);
        match &screen.overlay {
            None => {}
            Some(Overlay::Help(help)) => help.draw(&mut body, full),
            Some(Overlay::Dialog(dialog)) => dialog.draw(&mut body),
        }
    } else {
        frame::too_small(&mut pen);
    }
    if look.ascii {
        ascii::substitute(buf, area);
    }
}

impl Page {
    fn draw(&self, pen: &mut Pen<'_>, full: bool, tall: bool) {
        match self {
            Page::First(first) => first.draw(pen, full),
            Page::Home(home) => home.draw(pen, full, tall),
            Page::Jog(jog) => jog.draw(pen, full),
            Page::FootJog(foot) => foot.draw(pen, full),
            Page::BodyJog(body) => body.draw(pen, full),
            Page::Plugs(plugs) => plugs.draw(pen, full),
            Page::Marks(marks) => marks.draw(pen, full),
            Page::Ends(ends) => ends.draw(pen, full),
            Page::Guided(guided) => guided.draw(pen, full),
            Page::Big(big) => big.draw(pen),
            Page::List(lines, chosen) => list(lines, *chosen, pen),
        }
    }
}

/// A list to choose from; the chosen line is always in sight, and arrows say where there are more.
fn list(lines: &[String], chosen: usize, pen: &mut Pen<'_>) {
    let room = (pen.height() - 2).max(1) as usize;
    let first = (chosen + 1).saturating_sub(room);
    let end = pen.width();
    for (y, (index, line)) in (1..).zip(lines.iter().enumerate().skip(first).take(room)) {
        let after = pen.text_until(6, y, end, line, Role::Plain);
        if index == chosen {
            pen.sign(4, y, '►', Role::Plain);
            pen.mark(4, y, after - 4, Role::Chosen);
        }
    }
    if first > 0 {
        pen.sign(2, 1, '↑', Role::Plain);
    }
    if first + room < lines.len() {
        pen.sign(2, room as i32, '↓', Role::Plain);
    }
}

#[cfg(test)]
mod picture_tests;
#[cfg(test)]
mod samples;
#[cfg(test)]
mod samples_guided;
#[cfg(test)]
mod tests;
