//! Colours by role, never by taste, and never without a glyph or word beside them.
//!
//! Three palettes: the terminal's own sixteen, Okabe and Ito's, and none at all.

use ratatui::style::{Color, Modifier, Style};

/// A reason for a colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// Ordinary text.
    Plain,
    /// What must be read first: head line, next line.
    Strong,
    /// Asked to move, not yet its turn.
    Waking,
    /// Moves or can move.
    Moving,
    /// Frozen.
    Stopped,
    /// An end, or a dead servo.
    End,
    /// Something is wrong; always with `!`.
    Wrong,
    /// Simulated; always with the word.
    Simulated,
    /// Chosen: reverse video, with brackets or `►` beside it.
    Chosen,
    /// A key that does not work now, with the reason beside it.
    Off,
}

/// Which colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// The terminal's own sixteen.
    #[default]
    Sixteen,
    /// Okabe and Ito, *Color Universal Design* (2008): told apart by all kinds of colour sight.
    OkabeIto,
    /// No colour at all; bold and reverse stay.
    Mono,
}

impl Theme {
    /// How text of this role is drawn.
    pub fn style(self, role: Role) -> Style {
        let style = Style::new();
        let (sixteen, okabe_ito, modifier) = match role {
            Role::Plain => return style,
            Role::Strong => return style.add_modifier(Modifier::BOLD),
            Role::Chosen => return style.add_modifier(Modifier::REVERSED),
            Role::Off => return style.add_modifier(Modifier::DIM),
            Role::Waking => (Color::Yellow, 0x00E6_9F00, Modifier::empty()),
            Role::Moving => (Color::Yellow, 0x00E6_9F00, Modifier::BOLD),
            Role::Stopped if self == Theme::Mono => {
                return style.add_modifier(Modifier::BOLD | Modifier::UNDERLINED);
            }
            Role::Stopped => (Color::Cyan, 0x0056_B4E9, Modifier::BOLD),
            Role::End => (Color::Magenta, 0x00CC_79A7, Modifier::empty()),
            Role::Wrong => (Color::Red, 0x00D5_5E00, Modifier::BOLD),
            Role::Simulated => (Color::Green, 0x0000_9E73, Modifier::empty()),
        };
        let style = style.add_modifier(modifier);
        match self {
            Theme::Sixteen => style.fg(sixteen),
            Theme::OkabeIto => style.fg(Color::from_u32(okabe_ito)),
            Theme::Mono => style,
        }
    }

    /// The theme to use: the one asked for, unless the surroundings forbid colour.
    ///
    /// `no_color` is the value of `NO_COLOR` (<https://no-color.org>: present and not empty means none), `term` that of `TERM`,
    /// `terminal` whether output goes to a terminal, `never` whether `--no-color` was given.
    pub fn choose(
        asked: Theme,
        no_color: Option<&str>,
        term: Option<&str>,
        terminal: bool,
        never: bool,
    ) -> Theme {
        let forbidden = no_color.is_some_and(|value| !value.is_empty())
            || term == Some("dumb")
            || !terminal
            || never;
        if forbidden { Theme::Mono } else { asked }
    }
}

/// How lines of pictures are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Strokes {
    /// Braille dots, two by four a cell.
    #[default]
    Braille,
    /// `─ │ \ /` and `∙`, for fonts without Braille, and always with `--ascii`.
    Plain,
}

/// How everything is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Look {
    /// Colours.
    pub theme: Theme,
    /// ASCII only: `--ascii`, and a terminal without UTF-8.
    pub ascii: bool,
    /// Lines of pictures.
    pub strokes: Strokes,
}
