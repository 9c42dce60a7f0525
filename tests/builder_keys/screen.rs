//! One whole picture of the console at 120 columns and 36 rows, read as a person reads it: where a thing stands says what it is.

#![allow(dead_code)] // the whole robot and the leg on the chip each use their own part of this

/// Rows from the top.
const TITLE: usize = 1;
const NEXT: usize = 33;
const SECOND: usize = 34;
const FOOT: usize = 35;
/// The first row of the body.
const BODY: usize = 2;

/// A picture.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Screen {
    rows: Vec<String>,
}

/// The box of a peck, and what stands beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct PeckBox {
    pub from_us: f64,
    pub to_us: f64,
    /// The last pulse that was free on this side.
    pub free_us: Option<f64>,
    /// Where this side's end was found, if it was.
    pub found_us: Option<f64>,
    /// The joint and the way: a search of its own.
    pub search: String,
}

impl Screen {
    pub fn of(text: &str) -> Screen {
        Screen {
            rows: text.lines().map(str::to_owned).collect(),
        }
    }

    pub fn text(&self) -> String {
        self.rows.join("\n")
    }

    fn row(&self, index: usize) -> &str {
        self.rows.get(index).map_or("", |row| row.trim_end())
    }

    /// The head line, field by field.
    pub fn head(&self) -> Vec<&str> {
        self.row(0).split('│').map(str::trim).collect()
    }

    /// `Marks ── LF femur, pin 23, absolute, placing 1`, without its rule.
    pub fn title(&self) -> &str {
        self.row(TITLE).trim_matches(['─', ' '])
    }

    /// The page's name.
    pub fn page(&self) -> &str {
        self.title().split(" ── ").next().unwrap_or_default()
    }

    /// The joint that the title names: `LF femur`.
    pub fn joint(&self) -> Option<String> {
        joint_in(self.title().split(" ── ").nth(1)?)
    }

    /// The next line without its sign.
    pub fn next(&self) -> &str {
        self.row(NEXT).trim_start_matches([' ', '►', '!'])
    }

    /// Whether the foot line has more keys than those that stop and leave: an answer is awaited.
    pub fn takes_answers(&self) -> bool {
        !self.row(FOOT).trim_start().starts_with("Space stop")
    }

    /// What tells this question from the next one.
    pub fn question(&self) -> [String; 4] {
        let headline = match self.page() {
            "Ends" | "Rough bounds" => self.row(BODY),
            _ => "",
        };
        [self.row(TITLE), self.row(NEXT), self.row(SECOND), headline].map(str::to_owned)
    }

    /// The lines of the box of what a person would see.
    pub fn sight(&self) -> Vec<String> {
        let top = self.rows.iter().enumerate().find_map(|(y, row)| {
            let chars: Vec<char> = row.chars().collect();
            let at = row.find("What you would see (simulated)")?;
            let at = row[..at].chars().count();
            let left = chars[..at].iter().rposition(|c| *c == '┌')?;
            let right = at + chars[at..].iter().position(|c| *c == '┐')?;
            Some((y, left, right))
        });
        let Some((y, left, right)) = top else {
            return Vec::new();
        };
        self.rows[y + 1..]
            .iter()
            .map(|row| row.chars().collect::<Vec<char>>())
            .take_while(|row| row.get(left) == Some(&'│'))
            .map(|row| row[left + 1..right.min(row.len())].iter().collect())
            .map(|line: String| line.trim().to_owned())
            .filter(|line| !line.is_empty())
            .collect()
    }

    /// What stands behind these words in the box.
    pub fn seen(&self, words: &str) -> Option<String> {
        let sight = self.sight();
        let line = sight.iter().find_map(|line| line.strip_prefix(words));
        line.map(|it| it.trim().to_owned())
    }

    /// The gauge on the marks' page, degrees.
    pub fn gauge_deg(&self) -> Option<f64> {
        let words = "what you would see (simulated): gauge ";
        let row = self.rows.iter().find(|row| row.contains(words))?;
        number(row.split(words).nth(1)?)
    }

    /// Volts and amps on the supply's display.
    pub fn display(&self) -> Option<(f64, f64)> {
        let line = self.seen("supply")?;
        let line = line.trim_start_matches("display").trim();
        let mut words = line.split_whitespace();
        let volts = words.next()?.parse().ok()?;
        let amps = words.nth(1)?.parse().ok()?;
        Some((volts, amps))
    }

    /// The options of a question, and which is lit.
    pub fn options(&self) -> (Vec<String>, usize) {
        let mut lit = 0;
        let mut all = Vec::new();
        for row in self.rows.iter().skip(BODY + 1) {
            let mut chars = row.chars().skip(4);
            let sign = chars.next();
            let rest: String = chars.collect();
            let words = rest.strip_prefix(' ').unwrap_or_default();
            if words.is_empty() || words.starts_with(' ') || !matches!(sign, Some(' ' | '►')) {
                break;
            }
            if sign == Some('►') {
                lit = all.len();
            }
            all.push(words.trim().to_owned());
        }
        (all, lit)
    }

    /// The peck that is asked about.
    pub fn peck(&self) -> Option<PeckBox> {
        let labelled = |label: &str| {
            self.rows.iter().find_map(|row| {
                let inner = row.trim_start().strip_prefix('│')?;
                let text = inner.trim_start().strip_prefix(label)?;
                text.split('│').next().map(str::trim)
            })
        };
        let out = labelled("out ")?;
        let (from, to) = out.split_once(" → ")?;
        let free = labelled("last ")?.rsplit_once(" free").map(|(all, _)| all);
        let side = if self.row(BODY).contains("far end") {
            "far"
        } else {
            "near"
        };
        let words = format!("{side} end ");
        let found = self
            .rows
            .iter()
            .find(|row| row.contains("times") && row.contains(&words))
            .and_then(|row| number(row.split(&words).nth(1)?));
        Some(PeckBox {
            from_us: number(from)?,
            to_us: number(to)?,
            free_us: free.and_then(|all| number(all.rsplit(' ').next()?)),
            found_us: found,
            search: format!("{} {side}", self.title()),
        })
    }
}

/// The first number of a text, with a real minus or none.
pub fn number(text: &str) -> Option<f64> {
    let text = text.trim().replace('−', "-");
    let end = text
        .char_indices()
        .find(|(at, c)| !(c.is_ascii_digit() || *c == '.' || *at == 0 && "+-".contains(*c)))
        .map_or(text.len(), |(at, _)| at);
    text[..end].trim_end_matches('.').parse().ok()
}

/// `LF femur` in a text.
pub fn joint_in(text: &str) -> Option<String> {
    let words: Vec<&str> = text.split([' ', ',', '.', ':', '\'']).collect();
    let kinds = ["coxa", "femur", "tibia"];
    let pair = words
        .windows(2)
        .find(|pair| kinds.contains(&pair[1]) && pair[0].len() == 2)?;
    Some(pair.join(" "))
}
