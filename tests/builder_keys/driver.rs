//! Hands and eyes at the terminal: waits for whole pictures, lets the builder act, counts keys and the board's own time.

#![allow(dead_code)] // the whole robot and the leg on the chip each use their own part of this

use std::collections::BTreeMap;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::person::{Act, Person, Senses, keys_of};
use crate::pty::Console;
use crate::screen::Screen;

/// How long nothing may happen before the test says so: for machines that do much else.
const PATIENCE: Duration = Duration::from_secs(120);
/// The builder is half a second late with what he says of a peck: frames of 20 ms.
const LATE_FRAMES: u64 = 25;

/// How many frames the board counts before it begins anew.
const FRAMES: u64 = 1 << 16;

/// Keys and time of one part of the work.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Effort {
    pub keys: usize,
    pub frames: u64,
}

impl Effort {
    pub fn minutes(self) -> f64 {
        self.frames as f64 * 0.02 / 60.0
    }
}

/// The board's own time.
pub trait Clock {
    /// Frames of 20 ms since power-on.
    fn frames(&mut self) -> u64;
}

/// What he pressed in guided work, at which picture and when.
#[derive(Debug, Clone)]
pub struct Said {
    pub frames: u64,
    pub screen: Screen,
    pub keys: String,
}

/// The board's clock, from the frames that it tells of in the link's trace.
pub struct BoardClock {
    path: PathBuf,
    read: u64,
    rest: String,
    frames: u64,
}

impl BoardClock {
    pub fn of(trace: &Path) -> BoardClock {
        BoardClock {
            path: trace.to_owned(),
            read: 0,
            rest: String::new(),
            frames: 0,
        }
    }
}

impl Clock for BoardClock {
    /// As the board last said.
    fn frames(&mut self) -> u64 {
        let Ok(mut file) = std::fs::File::open(&self.path) else {
            return 0;
        };
        let mut new = String::new();
        if file.seek(SeekFrom::Start(self.read)).is_ok() && file.read_to_string(&mut new).is_ok() {
            self.read += new.len() as u64;
            self.rest.push_str(&new);
        }
        if let Some(at) = self.rest.rfind(" frame=") {
            let digits = &self.rest[at + " frame=".len()..];
            if let Some(end) = digits.find(|c: char| !c.is_ascii_digit()) {
                // The board counts in 16 bits.
                let told: u64 = digits[..end].parse().expect("digits");
                self.frames += (told + FRAMES - self.frames % FRAMES) % FRAMES;
                self.rest = digits.to_owned();
            }
        }
        self.frames
    }
}

/// The console, the builder before it, and what it cost him.
pub struct Driver<'a> {
    pub console: &'a Console,
    pub person: Person,
    pub clock: Box<dyn Clock + 'a>,
    pictures: usize,
    pub screen: Screen,
    answered: Option<[String; 4]>,
    /// By joint; what is for no joint alone stands under the page's name.
    pub effort: BTreeMap<String, Effort>,
    pub keys: usize,
    pub said: Vec<Said>,
    /// What the head line has to say on every picture from now on.
    pub says: Option<String>,
}

impl<'a> Driver<'a> {
    pub fn new(console: &'a Console, clock: impl Clock + 'a, person: Person) -> Driver<'a> {
        Driver {
            console,
            person,
            clock: Box::new(clock),
            pictures: 0,
            screen: Screen::default(),
            answered: None,
            effort: BTreeMap::new(),
            keys: 0,
            said: Vec::new(),
            says: None,
        }
    }

    /// Waits for the next whole picture.
    #[track_caller]
    fn look(&mut self, until: Instant, what: &str) {
        let left = until.saturating_duration_since(Instant::now());
        let (pictures, text) = self.console.picture_after(self.pictures, left);
        assert!(
            pictures > self.pictures,
            "waited in vain for {what}; the screen:\n{text}"
        );
        self.pictures = pictures;
        self.screen = Screen::of(&text);
        // Every picture says how fast the time runs.
        let runs = self
            .says
            .as_ref()
            .is_none_or(|it| self.screen.head().contains(&it.as_str()));
        assert!(runs, "it does not say {:?}:\n{text}", self.says);
    }

    /// Waits for a picture of which this is true; the present one may be it.
    #[track_caller]
    pub fn until(&mut self, what: &str, true_now: impl Fn(&Screen) -> bool) {
        let until = Instant::now() + PATIENCE;
        while !true_now(&self.screen) {
            self.look(until, what);
        }
    }

    /// Presses keys and waits for what they bring.
    #[track_caller]
    pub fn press(&mut self, keys: &str, what: &str, true_now: impl Fn(&Screen) -> bool) {
        self.type_keys(keys);
        self.until(what, true_now);
    }

    fn type_keys(&mut self, keys: &str) {
        self.console.keys(keys);
        self.keys += count(keys);
    }

    /// Lets half a second of the board's time go by.
    fn be_late(&mut self) {
        let began = self.clock.frames();
        let until = Instant::now() + PATIENCE;
        while self.clock.frames() < began + LATE_FRAMES {
            assert!(
                Instant::now() < until,
                "the board's time stands still:\n{}",
                self.screen.text()
            );
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    /// Leads the builder through guided work until the page is left.
    #[track_caller]
    pub fn work(&mut self, senses: &mut dyn Senses) {
        self.answered = None;
        loop {
            let mut until = Instant::now() + PATIENCE;
            let act = loop {
                if self.screen.page() == "Home" {
                    return;
                }
                if self.answered.as_ref() != Some(&self.screen.question()) {
                    self.answered = None;
                    match self.person.acts(&self.screen, senses) {
                        // A minute of running is a long wait, and its seconds are seen to go by.
                        Act::Wait => {}
                        act => break act,
                    }
                }
                let before = self.screen.question();
                self.look(until, "a question that the builder knows");
                if self.screen.question() != before {
                    until = Instant::now() + PATIENCE;
                }
            };
            let about = self.screen.joint();
            let about = about.unwrap_or_else(|| self.screen.page().to_owned());
            self.answered = Some(self.screen.question());
            let keys = match act {
                Act::PressLate(keys) => {
                    self.be_late();
                    keys
                }
                Act::Press(keys) => keys,
                Act::Wait => continue,
            };
            self.type_keys(&keys);
            self.said.push(Said {
                frames: self.clock.frames(),
                screen: self.screen.clone(),
                keys: keys.clone(),
            });
            self.charge(about, &keys);
        }
    }

    /// Writes keys, and the time since the last ones, to a joint's account.
    fn charge(&mut self, about: String, keys: &str) {
        let now = self.clock.frames();
        let spent: u64 = self.effort.values().map(|it| it.frames).sum();
        let effort = self.effort.entry(about).or_default();
        effort.keys += count(keys);
        effort.frames += now.saturating_sub(spent);
    }

    /// Goes to a joint on Home.
    #[track_caller]
    pub fn choose(&mut self, joint: &str) {
        // Its scale stands there, under its name.
        let named = format!(" ─ {joint} ─");
        self.press(&keys_of(joint), "the joint is chosen", |it| {
            it.page() == "Home" && it.text().contains(&named)
        });
        self.charge(joint.to_owned(), &keys_of(joint));
    }

    /// Does with Enter all that Home has for a joint.
    #[track_caller]
    pub fn finish(&mut self, joint: &str, senses: &mut dyn Senses) {
        self.choose(joint);
        loop {
            // For a moment it may say what it waits for.
            self.until("what Enter does", |it| {
                it.next().starts_with("Enter: ") || it.next().starts_with("All ")
            });
            if self.screen.next().starts_with("All ") {
                return;
            }
            self.press("<Enter>", "guided work", |it| it.page() != "Home");
            self.charge(joint.to_owned(), "<Enter>");
            self.work(senses);
        }
    }

    /// Opens the page of this name through the list of pages; `width`: how many lines down in the question on what.
    #[track_caller]
    pub fn open(&mut self, page: &str, width: Option<usize>) {
        let begin = self.keys;
        self.press("<F2>", "the list of pages", |it| {
            it.next().starts_with("Enter opens")
        });
        let wanted = format!("Enter opens {page}.");
        for _ in 0..30 {
            if self.screen.next() == wanted {
                break;
            }
            let before = self.screen.next().to_owned();
            self.press("<Down>", "the next page of the list", |it| {
                it.next() != before
            });
        }
        assert_eq!(self.screen.next(), wanted);
        let asked = format!("Enter opens {page} for");
        match width {
            None => self.press("<Enter>", page, |it| it.page() == page),
            Some(down) => {
                self.press("<Enter>", "the question on what", |it| {
                    it.next().starts_with(&asked)
                });
                for _ in 0..down {
                    let before = self.screen.next().to_owned();
                    self.press("<Down>", "another width", |it| it.next() != before);
                }
                self.press("<Enter>", page, |it| it.page() == page);
            }
        }
        let keys = self.keys - begin;
        self.effort.entry(page.to_owned()).or_default().keys += keys;
    }

    /// What all of it cost.
    pub fn table(&self) -> String {
        let mut text = String::new();
        let mut all = Effort::default();
        for (about, effort) in &self.effort {
            text += &format!(
                "{about:<14} {:>5} keys {:>7.1} min\n",
                effort.keys,
                effort.minutes()
            );
            all.keys += effort.keys;
            all.frames += effort.frames;
        }
        text + &format!(
            "{:<14} {:>5} keys {:>7.1} min\n",
            "in all",
            all.keys,
            all.minutes()
        )
    }
}

/// How many keys these are.
fn count(keys: &str) -> usize {
    let mut named = false;
    let mut count = 0;
    for c in keys.chars() {
        match c {
            '<' => named = true,
            '>' => {
                named = false;
                count += 1;
            }
            _ if named => {}
            _ => count += 1,
        }
    }
    count
}
