//! Help: an overlay inside the body, made from the command table's entries.

use super::dialog::wrapped;
use super::pen::{Pen, columns};
use super::scale;
use super::scale::Scale;
use crate::console::theme::Role;

/// Help for one page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Help {
    /// The page's name.
    pub page: String,
    /// Which part is shown below 120 columns; from there on keys, glyphs and scale stand together.
    pub tab: HelpTab,
    /// The command table's entries for this page.
    pub entries: Vec<HelpEntry>,
    /// First entry or line shown.
    pub scroll: usize,
    /// The scale of the chosen joint, as an example.
    pub scale: Scale,
}

/// The parts of help, in Tab's order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HelpTab {
    /// What each key does here.
    #[default]
    Keys,
    /// What each glyph means.
    Glyphs,
    /// The travel scale.
    Scale,
    /// Our words.
    Words,
}

/// One command.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HelpEntry {
    /// `← → h l`.
    pub keys: String,
    /// What it does.
    pub text: String,
    /// Why it does not work now; drawn dim with the reason beside it.
    pub off: Option<String>,
}

/// What each glyph means, for the keys' right side and the glyphs' tab.
const STATES: [(char, &str, &str, Role); 6] = [
    ('○', "limp", "no pulses", Role::Plain),
    ('◊', "waking", "asked for, not yet its turn", Role::Waking),
    ('●', "awake", "gets pulses", Role::Moving),
    ('■', "frozen", "awake, moves refused", Role::Stopped),
    ('×', "dead", "did not move when asked", Role::End),
    ('·', "unknown", "no plug found yet", Role::Plain),
];

const SCALE_SIGNS: [&[(i32, &str)]; 4] = [
    &[
        (0, "─ board allows"),
        (18, "· board refuses"),
        (37, "═ limits"),
    ],
    &[
        (0, "[ ] guard"),
        (12, "( ) limits"),
        (25, "║ end"),
        (33, "▲ zero"),
    ],
    &[(0, "• mark"), (12, "2–9 that many marks in one cell")],
    &[(0, "▼ commanded pulse"), (20, "└─┘ travel it needs")],
];

const SCALE_WORDS: [&str; 2] = [
    "The line ends at 500 and 2500 µs: no board of ours sends less or more.",
    "║ ends are the joint's own: there the mechanism stops.",
];

const MORE_GLYPHS: [(&str, &str); 5] = [
    ("── \\ /", "measured: a calibrated joint's link"),
    ("∙∙", "commanded only: not measured yet"),
    ("××", "needed travel that it does not have"),
    ("►  [LF]", "chosen"),
    ("!", "something is wrong; the next line says what"),
];

const WORDS: [(&str, &str); 19] = [
    ("pin", "a servo's address as printed on the board: 22, A3"),
    ("limp", "no pulses; so is every pin at power-on"),
    ("awake", "the pin gets pulses; waking: not yet its turn"),
    (
        "frozen",
        "awake, stopped where it is, moves refused until thawed",
    ),
    ("guard", "the pulse bounds that the board itself enforces"),
    (
        "silence",
        "no word from this console: the board freezes, then limps",
    ),
    (
        "recorded",
        "on the disk at once; noted: only when s gave it a file",
    ),
    (
        "saved",
        "s: in the file too. Esc leaves a page and keeps it all",
    ),
    ("centre", "the 1500 µs pulse; zero: the pulse at 0°"),
    ("mark", "this pulse put this joint at this angle"),
    (
        "0°",
        "coxa straight out; femur level; tibia in femur's line",
    ),
    ("edge", "a rule laid on two screw heads that line up at 0°"),
    (
        "gauge",
        "reads to about 1°, a simulated one too: mark several",
    ),
    ("end", "where the mechanism ends, near or far"),
    ("limit", "how far the joint may work, inside its ends"),
    ("touch", "with these pulses the foot stood at this point"),
    (
        "commanded",
        "what was asked of the servo; it reports nothing back",
    ),
    ("on the stand", "Space lets go: everything limp"),
    ("on the ground", "Space freezes, a second Space lets go"),
];

impl Help {
    /// Draws help over the body; `full` where keys, glyphs and scale have room together.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let width = pen.width() - 4;
        let height = pen.height();
        pen.clear();
        let mut pen = pen.window(2, 0, width, height);
        let part = match self.tab {
            HelpTab::Keys => "keys",
            HelpTab::Glyphs => "glyphs",
            HelpTab::Scale => "scale",
            HelpTab::Words => "words",
        };
        let together = full && self.tab != HelpTab::Words;
        let title = if together {
            format!("Help for {}", self.page)
        } else {
            format!("Help for {}: {part}", self.page)
        };
        pen.boxed(&title, Role::Strong);
        let mut inside = pen.window(3, 1, width - 5, height - 2);
        if together {
            let rows = inside.height() - scale::ROWS as i32 - 1;
            if self.keys(&mut inside.window(0, 0, 60, rows)) {
                inside.text(0, rows, "↓ more", Role::Plain);
            }
            let mut right = inside.window(61, 0, width - 66, rows);
            states(&mut right, 0);
            scale_signs(&mut right, 7);
            let top = rows + 2;
            self.scale
                .draw(&mut pen.window(3, top, width - 6, scale::ROWS as i32));
            return;
        }
        match self.tab {
            HelpTab::Keys => {
                if self.keys(&mut inside) {
                    pen.text(3, height - 1, " ↓ more ", Role::Plain);
                }
            }
            HelpTab::Glyphs => {
                states(&mut inside, 1);
                for (y, (glyph, meaning)) in (8..).zip(MORE_GLYPHS) {
                    inside.text(0, y, glyph, Role::Plain);
                    inside.text(13, y, meaning, Role::Plain);
                }
            }
            HelpTab::Scale => {
                scale_signs(&mut inside, 0);
                for (y, line) in (5..).zip(SCALE_WORDS) {
                    inside.text(0, y, line, Role::Plain);
                }
                let top = inside.height() - scale::ROWS as i32;
                // One column of the box's own on each side.
                self.scale
                    .draw(&mut pen.window(1, top, width - 2, scale::ROWS as i32));
            }
            HelpTab::Words => {
                let (end, rows) = (inside.width(), inside.height().max(0) as usize);
                let last = WORDS.len().saturating_sub(rows);
                let first = self.scroll.min(last);
                for (y, (word, meaning)) in (0..).zip(&WORDS[first..]).take(rows) {
                    inside.text(0, y, word, Role::Plain);
                    inside.text_until(15, y, end, meaning, Role::Plain);
                }
                if first < last {
                    pen.text(3, height - 1, " ↓ more ", Role::Plain);
                }
            }
        }
    }

    /// The command table's entries; what does not work now is dim, with the reason. Says whether there are more below.
    fn keys(&self, pen: &mut Pen<'_>) -> bool {
        let (end, rows) = (pen.width(), pen.height().max(0) as usize);
        let lines: Vec<(i32, &str, String, Role)> = self
            .entries
            .iter()
            .flat_map(|entry| {
                let (text, role) = match &entry.off {
                    Some(reason) => (format!("{}  ({reason})", entry.text), Role::Off),
                    None => (entry.text.clone(), Role::Plain),
                };
                let column = (columns(&entry.keys) + 2).max(13);
                // What is too long for one row goes on in the next one: nothing of it may be hidden.
                let parts = if column + columns(&text) <= end {
                    vec![text]
                } else {
                    wrapped(&text, end - column)
                };
                let keys = std::iter::once(entry.keys.as_str()).chain(std::iter::repeat(""));
                let lines = keys.zip(parts);
                lines.map(move |(keys, text)| (column, keys, text, role))
            })
            .collect();
        let last = lines.len().saturating_sub(rows);
        let first = self.scroll.min(last);
        for (y, (column, keys, text, role)) in (0..).zip(lines.iter().skip(first).take(rows)) {
            pen.text(0, y, keys, *role);
            pen.text_until(*column, y, end, text, *role);
        }
        first < last
    }
}

fn states(pen: &mut Pen<'_>, top: i32) {
    for (y, (sign, word, meaning, role)) in (top..).zip(STATES) {
        pen.sign(0, y, sign, role);
        pen.text(2, y, word, role);
        pen.text(12, y, meaning, Role::Plain);
    }
}

fn scale_signs(pen: &mut Pen<'_>, top: i32) {
    for (y, row) in (top..).zip(SCALE_SIGNS) {
        for (x, words) in row {
            pen.text(*x, y, words, Role::Plain);
        }
    }
}
