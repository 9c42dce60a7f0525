//! The builder at the keys: he reads the picture on the screen, and presses keys. He knows nothing else.
//!
//! He hears the touch of an end with 5 µs of noise and answers half a second late. What he sees and hears of the robot comes
//! through [`Senses`]: from the box of what one would see, or from servos that stand beside a real board.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::screen::{PeckBox, Screen, joint_in};

/// Noise of the pulse at which he hears a touch, µs.
const EAR_US: f64 = 5.0;
/// One servo's stall current, from its data sheet, A.
const STALL_A: &str = "1.4";
/// A motion of less than this he does not see, degrees.
const SEEN_DEG: f64 = 0.15;
/// A joint that was pushed by more than this and did not move at all is not lost in its play, µs.
const PLAY_US: f64 = 24.0;

/// What he sees, hears and feels of the robot beside the question on the screen.
pub trait Senses {
    /// Leg, joint and way of what swung when a pin was nudged: `LF femur up`.
    fn swung(&mut self, screen: &Screen) -> Option<String>;
    /// The gauge at the joint of the question, degrees.
    fn gauge_deg(&mut self, screen: &Screen) -> f64;
    /// What there was of the last peck.
    fn felt(&mut self, screen: &Screen) -> Felt;
    /// Volts and amps on the supply's display.
    fn display(&mut self, screen: &Screen) -> (f64, f64);
    /// Teeth and arms of the horn of the question's joint.
    fn horn(&mut self, screen: &Screen) -> (u32, u32);
    /// Whether he takes legs off their horns, to see how far each servo turns.
    fn unscrews(&self) -> bool {
        false
    }
    /// The bare arm of the question's joint has stopped.
    fn arm_rests(&mut self, _screen: &Screen) -> bool {
        unreachable!("no leg comes off")
    }
    /// The single servo on the test pin: `servo 14 turns, quiet, cool`.
    fn on_test_pin(&mut self, screen: &Screen) -> String;
    /// Stickers of the servos that are built in nowhere.
    fn spares(&mut self, screen: &Screen) -> Vec<String>;
    /// His hands do what the next line asks for, before he presses Enter.
    fn hands(&mut self, _screen: &Screen) {}
}

/// What was to be seen, heard and felt of a peck.
#[derive(Debug, Clone, PartialEq)]
pub struct Felt {
    pub hummed: bool,
    pub moved_deg: f64,
    /// `the body`, `the linkage`, …, if he saw what it leaned against.
    pub against: Option<String>,
}

/// What he does at a picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// Something moves, or nothing is asked: he waits.
    Wait,
    /// Keys, as `pty::Console::keys` reads them.
    Press(String),
    /// The same, half a second late.
    PressLate(String),
}

/// The builder.
pub struct Person {
    rng: ChaCha8Rng,
    approach: Approach,
    /// What the last end was, as the list of causes calls it.
    cause: &'static str,
    /// Rounds of six marks that he takes of a joint, and how many he took of this one.
    rounds: usize,
    round: (String, usize),
    /// Number that goes on the next sticker.
    sticker: u32,
    tested: Vec<String>,
    spares: Vec<String>,
    /// Verdicts: number and first word.
    pub verdicts: Vec<(String, String)>,
}

/// One way toward an end, peck by peck.
#[derive(Debug, Default)]
struct Approach {
    search: String,
    finds: usize,
    late_us: f64,
    /// Where in the step of the first touch the touch itself lies: nobody can know.
    within: f64,
    began_us: f64,
    /// The first peck that touched, and how far it went beyond the touch.
    first_touch: Option<(f64, f64)>,
    swung: bool,
}

impl Person {
    pub fn new(seed: u64, rounds: usize) -> Person {
        Person {
            rounds,
            round: (String::new(), 0),
            rng: ChaCha8Rng::seed_from_u64(seed ^ 0x00B1_D3E5),
            approach: Approach::default(),
            cause: "the linkage",
            sticker: 31,
            tested: Vec::new(),
            spares: Vec::new(),
            verdicts: Vec::new(),
        }
    }

    /// What he does at this picture of guided work.
    pub fn acts(&mut self, screen: &Screen, senses: &mut dyn Senses) -> Act {
        if !screen.takes_answers() {
            return Act::Wait;
        }
        let next = screen.next();
        let says = |start: &str| next.starts_with(start);
        if screen.page() == "One servo" {
            return self.tests(screen, senses);
        }
        if says("Did anything stop it?") {
            return self.judges(screen, senses);
        }
        let angles = [
            "Type the gauge's angle",
            "Type the angle at which",
            "Type the angle that the bare arm shows",
            "Place the gauge anew, type",
            "They differ much. Place the gauge once more",
        ];
        if says("Type the angle that the bare arm") && !senses.arm_rests(screen) {
            return Act::Wait;
        }
        if angles.iter().any(|it| says(it)) {
            return press(typed(senses.gauge_deg(screen)));
        }
        if says("Which joint moved?") {
            return press(senses.swung(screen).map_or("n".into(), |it| moved(&it)));
        }
        if says("Is the supply still so?") {
            // He reads the display anew.
            return press("n".into());
        }
        if says("Type what the servo supply") {
            // What he set it to, near what its display says.
            let (volts, _) = senses.display(screen);
            return press(format!("{:.0}<Enter>", volts));
        }
        if says("Type the volts on the supply's") {
            return press(format!("{:.2}<Enter>", senses.display(screen).0));
        }
        if says("Type the amps on the supply's") {
            return press(format!("{:.1}<Enter>", senses.display(screen).1));
        }
        if says("Type one servo's stall current") {
            return press(format!("{STALL_A}<Enter>"));
        }
        if says("Type the number on the sticker") {
            self.sticker += 1;
            return press(format!("{}<Enter>", self.sticker - 1));
        }
        if says("Choose the teeth") {
            return pick(screen, &format!("{} ", senses.horn(screen).0));
        }
        if says("Choose the arms") {
            return pick(screen, &format!("{} ", senses.horn(screen).1));
        }
        if says("Choose how far a servo turns") {
            let how = if senses.unscrews() {
                "measure each"
            } else {
                "one number"
            };
            return pick(screen, how);
        }
        if says("Take the leg of ") {
            return pick(screen, "the leg is off");
        }
        if says("n as soon as the bare arm turns no farther") {
            return match senses.arm_rests(screen) {
                true => Act::PressLate("n".into()),
                false => Act::Wait,
            };
        }
        if says("Choose what the angle is read with") {
            return pick(screen, "protractor");
        }
        if says("Choose what it met") {
            return pick(screen, self.cause);
        }
        if next.contains("make the plan. Choose") || next.contains("makes the plan. Choose") {
            return pick(screen, "exchange plugs");
        }
        // He has looked twice at what he typed.
        let keeps = says("Mark ") && next.contains("n keeps it");
        if keeps
            || says("Enter: another mark at")
            || says("Enter goes on: another mark would hardly")
        {
            return self.another_round(screen);
        }
        let by_hand = [
            "Exchange the plugs in",
            "Turn the horn:",
            "Screw ",
            "Did the bare arm turn on",
            "Put the gauge to the joint.",
        ];
        if by_hand.iter().any(|it| says(it)) {
            senses.hands(screen);
            return press("<Enter>".into());
        }
        let enters = [
            "Choose where the servos get",
            "Is the supply's minus",
            "Does each plug sit as drawn",
            "Type its current limit",
            "Enter writes it down",
            "Enter: nudge pin",
            "Enter: try the exchanged plugs",
            "Enter if it is so:",
            "Choose whether the horns are still",
            "Type how far the servo turns",
            "Enter: wake ",
            "Choose how the horn is to sit",
            "No tooth fits",
            "Enter: see how far",
            "Enter: find the ",
            "Type how far the limits keep",
            "Enter leaves: ",
        ];
        if enters.iter().any(|it| says(it)) {
            return press("<Enter>".into());
        }
        Act::Wait
    }

    /// Six readings tell a joint; he takes the round as often as he likes, the gauge left where it is.
    fn another_round(&mut self, screen: &Screen) -> Act {
        let joint = screen.joint().unwrap_or_default();
        if self.round.0 != joint {
            self.round = (joint, 0);
        }
        self.round.1 += 1;
        press(if self.round.1 < self.rounds { "a" } else { "n" }.into())
    }

    /// A peck: did it move freely?
    fn judges(&mut self, screen: &Screen, senses: &mut dyn Senses) -> Act {
        let peck = screen
            .peck()
            .unwrap_or_else(|| panic!("no peck:\n{}", screen.text()));
        let felt = senses.felt(screen);
        if screen.page() == "Rough bounds" {
            // By eye, and coarse.
            let end = felt.hummed || felt.moved_deg < SEEN_DEG && peck.free_us.is_some();
            return Act::PressLate(if end { "E" } else { "n" }.into());
        }
        let ends = self.hears(&peck, &felt);
        if ends {
            self.cause = match &felt.against {
                Some(it) if it.contains("body") => "the body",
                Some(it) if it.contains("cable") => "a cable",
                Some(it) if it.contains("neighbour") => "a neighbour",
                Some(_) => "the linkage",
                None if felt.hummed => "the linkage",
                None => "the servo's own",
            };
        }
        Act::PressLate(if ends { "E" } else { "n" }.into())
    }

    fn hears(&mut self, peck: &PeckBox, felt: &Felt) -> bool {
        let sign = (peck.to_us - peck.from_us).signum();
        // A search begins anew behind a find: it starts inward of where it was.
        let last = self.approach.first_touch.map(|(us, _)| us);
        let anew = self.approach.finds > 0 && last.is_none() && self.approach.began_us.is_nan();
        if self.approach.search != peck.search || anew {
            let finds = if self.approach.search == peck.search {
                self.approach.finds
            } else {
                0
            };
            self.approach = Approach {
                search: peck.search.clone(),
                finds,
                late_us: EAR_US * self.about_normal(),
                within: self.rng.random(),
                began_us: peck.to_us,
                ..Approach::default()
            };
        }
        // The fine step, from the last free pulse; finer where he has met the end before.
        let step_us = match (peck.free_us, peck.found_us) {
            (Some(free), _) => (peck.to_us - free).abs(),
            (None, Some(_)) => 4.0,
            (None, None) => 8.0,
        };
        let approach = &mut self.approach;
        let out_by = |us: f64| (peck.to_us - us) * sign;
        let mut ends = false;
        if felt.hummed {
            // It touched somewhere in this step; he is sure of it so much later.
            let (first, depth) = *approach
                .first_touch
                .get_or_insert((peck.to_us, step_us * approach.within));
            ends |= out_by(first) + depth >= approach.late_us;
        } else if felt.moved_deg < SEEN_DEG {
            // It does not come out any more; or it never did, and that is not its play alone.
            ends |= approach.swung || out_by(approach.began_us) >= PLAY_US;
        }
        // Where he has met it before he takes a rustle for a touch.
        if let (Some(found), true) = (peck.found_us, approach.late_us < 0.0) {
            ends |= out_by(found) >= approach.late_us;
        }
        approach.swung |= felt.moved_deg >= SEEN_DEG;
        if ends {
            approach.finds += 1;
            approach.first_touch = None;
            approach.began_us = f64::NAN;
        }
        ends
    }

    /// About normal, standard deviation 1.
    fn about_normal(&mut self) -> f64 {
        (0..12).map(|_| self.rng.random::<f64>()).sum::<f64>() - 6.0
    }

    /// A servo alone.
    fn tests(&mut self, screen: &Screen, senses: &mut dyn Senses) -> Act {
        let next = screen.next();
        let says = |start: &str| next.starts_with(start);
        if says("Choose: servos are known to sit") {
            return pick(screen, "test single");
        }
        if says("Write a number on a sticker") {
            if self.spares.is_empty() {
                self.spares = senses.spares(screen);
            }
            let left = self.spares.iter().find(|it| !self.tested.contains(it));
            let Some(number) = left.cloned() else {
                return Act::Wait;
            };
            self.tested.push(number.clone());
            return press(format!("{number}<Enter>"));
        }
        if says("Did it turn, and does it stand") {
            let seen = senses.on_test_pin(screen);
            return press(
                if seen.contains("slack") {
                    "n"
                } else {
                    "<Enter>"
                }
                .into(),
            );
        }
        if next.starts_with("Choose what servo") {
            let seen = senses.on_test_pin(screen);
            let word = match seen {
                it if it.contains("slack") => "dead",
                it if it.contains("rattles") => "noisy",
                it if it.contains("hot") => "hot",
                _ => "good",
            };
            let number = self.tested.last().cloned().unwrap_or_default();
            self.verdicts.push((number, word.to_owned()));
            return pick(screen, word);
        }
        if says("Unplug servo") {
            let more = self.spares.iter().any(|it| !self.tested.contains(it));
            return press(if more { "<Enter>" } else { "n" }.into());
        }
        if says("Plug servo") || says("Enter leaves: ") {
            return press("<Enter>".into());
        }
        Act::Wait
    }
}

fn press(keys: String) -> Act {
    Act::Press(keys)
}

/// Walks to the option that begins so, and takes it.
fn pick(screen: &Screen, start: &str) -> Act {
    let (options, lit) = screen.options();
    let at = options.iter().position(|it| it.starts_with(start));
    let at = at.unwrap_or_else(|| panic!("no {start:?} in {options:?}:\n{}", screen.text()));
    let arrow = if at < lit { "<Up>" } else { "<Down>" };
    press(arrow.repeat(at.abs_diff(lit)) + "<Enter>")
}

/// A value as it is typed.
fn typed(value: f64) -> String {
    format!("{value}<Enter>")
}

/// `LF femur up` as a leg key, a joint key and an arrow; the front of the picture is up.
fn moved(words: &str) -> String {
    let joint = joint_in(words).unwrap_or_else(|| panic!("what moved: {words}"));
    let arrow = match words.rsplit(' ').next() {
        Some("up" | "forward") => "<Up>",
        Some("down" | "back") => "<Down>",
        Some("left") => "<Left>",
        Some("right") => "<Right>",
        _ => panic!("which way: {words}"),
    };
    keys_of(&joint) + arrow
}

/// A joint's two keys, as they stand at the feet of the picture.
pub fn keys_of(joint: &str) -> String {
    let (leg, kind) = joint.split_once(' ').expect("leg and joint");
    let places = ["LF", "LM", "LR", "RF", "RM", "RR"]
        .iter()
        .zip("edcrfv".chars());
    let leg = places
        .into_iter()
        .find(|(name, _)| **name == leg)
        .expect("a leg")
        .1;
    let kind = match kind {
        "coxa" => 'u',
        "femur" => 'i',
        _ => 'o',
    };
    format!("{leg}{kind}")
}
