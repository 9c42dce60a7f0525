//! The builder: reads the step on the screen and what a person would see, and answers. He knows nothing else.
//!
//! He hears the touch of an end with 5 µs of noise; what hums on and on beside his question he does not overhear.

use std::collections::HashMap;

use hornset::board::{Against, Hands, Sight, Tool};
use hornset::calibration::logbook::{Way, Why};
use hornset::calibration::model::{JointKind, JointRef};
use hornset::estimate::horns::Seat as HornSeat;
use hornset::procedure::{Answer, Detail, PeckNews, Step, Wants};
use hornset::units::{Pin, Pulse};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::driver::Seen;

/// Noise of the pulse at which he hears a touch, µs.
const EAR_US: f64 = 5.0;

/// One servo's stall current, from its data sheet, A.
const STALL_A: f64 = 1.4;

/// A motion of less than this he does not see, degrees.
const SEEN_DEG: f64 = 0.15;

/// A joint that was pushed by more than this and did not move at all is not lost in its play, µs.
const PLAY_US: f64 = 24.0;

/// What his hands do before an answer.
pub type ByHand = Box<dyn FnOnce(&mut dyn Hands) -> Answer>;

/// What he does at a step.
pub enum Act {
    /// Something moves: he waits.
    Wait,
    /// He answers.
    Say(Answer),
    /// He answers, half a second late.
    SayLate(Answer),
    /// His hands do something first.
    ByHand(ByHand),
}

/// The advice on one horn, as he read it: the best seat first, then all that were named.
#[derive(Debug, Clone)]
pub struct Advised {
    pub joint: JointRef,
    pub seats: Vec<HornSeat>,
}

/// The builder.
pub struct Person {
    rng: ChaCha8Rng,
    /// Exchange the plugs, or accept the wiring as it is.
    pub exchanges: bool,
    /// How many rounds of marks he takes of a joint.
    pub rounds: usize,
    /// The advice that he read.
    pub advised: Vec<Advised>,
    /// Joints for which he was told that marks had less room than they want.
    pub told_short: Vec<JointRef>,
    /// Spares that he has yet to test, by their stickers; and what he made of those that he did.
    pub untested: Vec<String>,
    pub verdicts: Vec<(String, bool)>,
    /// What the wiring was said to be, last.
    pub told_wiring: Vec<String>,
    /// He has mended since what was found of the plugs.
    pub mended: bool,
    /// The sticker of the spare that he builds in.
    pub puts_in: String,
    /// The last words of the last work.
    pub told_last: String,
    pub told_lines: Vec<String>,
    /// He reads every gauge so much too high: for the judge's own test.
    pub misreads_deg: f64,
    /// He tells one travel for all servos instead of having each measured: the same.
    pub tells_one_travel: bool,
    /// When the bare arm that he looks at moved last, in the robot's seconds, and how often he saw it at rest since.
    arm: (Option<f64>, usize),
    /// He takes every second joint for its neighbour in the leg: the same.
    pub mistakes_joints: bool,
    /// The round of marks of this joint.
    round: usize,
    approach: Approach,
    /// The other ways toward ends during the present work, by pin, side and finds.
    approaches: HashMap<(Option<Pin>, bool, usize), Approach>,
    why: Why,
}

/// One way toward an end, peck by peck.
#[derive(Debug, Default)]
struct Approach {
    pin: Option<Pin>,
    outward: bool,
    finds: usize,
    /// The pulse by which he hears the touch too late; negative: too early.
    late_us: f64,
    /// Where in the step of the first touch the touch itself lies: nobody can know.
    within: f64,
    /// The first peck went here.
    began: Option<Pulse>,
    /// The first peck that touched, and how far it went beyond the touch.
    first_touch: Option<(Pulse, f64)>,
    swung: bool,
}

impl Person {
    pub fn new(seed: u64) -> Person {
        Person {
            rng: ChaCha8Rng::seed_from_u64(seed ^ 0x00B1_D3E5),
            exchanges: seed.is_multiple_of(2),
            rounds: 2,
            advised: Vec::new(),
            told_short: Vec::new(),
            untested: Vec::new(),
            verdicts: Vec::new(),
            told_wiring: Vec::new(),
            mended: false,
            puts_in: String::new(),
            told_last: String::new(),
            told_lines: Vec::new(),
            misreads_deg: 0.0,
            tells_one_travel: false,
            arm: (None, 0),
            mistakes_joints: false,
            round: 0,
            approach: Approach::default(),
            approaches: HashMap::new(),
            why: Why::Linkage,
        }
    }

    /// New work, or the same taken up again.
    pub fn begin(&mut self) {
        self.round = 0;
    }

    /// New work: what he heard of an end before tells nothing of it.
    pub fn forgets(&mut self) {
        self.approach = Approach::default();
        self.approaches.clear();
    }

    /// What he does at this step.
    pub fn answers(&mut self, step: &Step, seen: &Seen, now: &Sight) -> Act {
        if let (true, Some(at)) = (
            step.title.starts_with("Marks") && step.lines.iter().any(|it| it.starts_with("! room")),
            step.picture.joint,
        ) && !self.told_short.contains(&at)
        {
            self.told_short.push(at);
        }
        match &step.wants {
            Wants::Wait => Act::Wait,
            Wants::JointAndWay => self.what_moved(step, seen),
            Wants::FreeOrEnd { .. } => match &step.picture.detail {
                Detail::Peck(news) => self.felt(step, news, seen, now),
                other => panic!("a peck without a box: {other:?}"),
            },
            Wants::Pick { .. } if step.big == "UNSCREW THE LEG" => self.hands(step),
            Wants::Pick { options, start } => Act::Say(self.picks(step, options, *start, now)),
            Wants::Value { start, .. } => self.types(step, *start, now),
            Wants::Text { .. } if step.big == "WRITE A STICKER" => {
                let number = self.untested.first().expect("one more lies there");
                Act::Say(Answer::Text(number.clone()))
            }
            Wants::Text { .. } if step.title.starts_with("Replace") => {
                Act::Say(Answer::Text(self.puts_in.clone()))
            }
            Wants::Text { start } if start.is_empty() => {
                // He stuck numbers on in the order of legs and joints, above those of the spares.
                let at = step.picture.joint.expect("a joint is named");
                Act::Say(Answer::Text(format!("{:02}", index(at) + 31)))
            }
            Wants::Text { start } => Act::Say(Answer::Text(start.clone())),
            Wants::YesNo if step.picture.detail == (Detail::LegOff { to_do: false }) => {
                self.looks_at_the_arm(step, now)
            }
            Wants::YesNo => self.yes_or_no(step, now),
            Wants::Enter => self.hands(step),
            Wants::Over => {
                self.told_last.clone_from(&step.next);
                self.told_lines.clone_from(&step.lines);
                Act::Say(Answer::Enter)
            }
            Wants::Nudge => panic!("nobody chose the edge"),
        }
    }

    /// Plugs: which joint moved when the pulse grew, and which way.
    fn what_moved(&mut self, step: &Step, seen: &Seen) -> Act {
        if step.next.starts_with("Enter if it is so") {
            return Act::Say(Answer::Enter);
        }
        let sight = seen.outward.as_ref().expect("something was nudged");
        let moved: Vec<(usize, f64)> = sight
            .joints
            .iter()
            .enumerate()
            .filter(|(_, it)| it.servo.swung_at.is_some_and(|at| at >= seen.began))
            .map(|(place, it)| (place, it.servo.swung_deg))
            .collect();
        // What hangs on it may fall through its play meanwhile: the one that was driven moved farthest.
        let farthest = moved.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        let Some(&(place, deg)) = farthest else {
            return Act::Say(Answer::None);
        };
        let way = if deg > 0.0 {
            Way::Positive
        } else {
            Way::Negative
        };
        Act::Say(match &step.next {
            it if it.starts_with("Which joint") && self.mistakes_joints => {
                Answer::Joint(joint(place / 3 * 3 + (place + 1) % 3))
            }
            it if it.starts_with("Which joint") => Answer::Joint(joint(place)),
            _ => Answer::Way(way),
        })
    }

    /// A peck: did it move freely?
    fn felt(&mut self, step: &Step, news: &PeckNews, seen: &Seen, now: &Sight) -> Act {
        let place = index(step.picture.joint.expect("a joint pecks"));
        let outward = news.to > news.from;
        let sign = if outward { 1.0 } else { -1.0 };
        if (
            self.approach.pin,
            self.approach.outward,
            self.approach.finds,
        ) != (step.picture.pin, outward, news.found.len())
        {
            // Where he left he goes on with what he heard there.
            let key = (step.picture.pin, outward, news.found.len());
            let here = std::mem::take(&mut self.approach);
            self.approaches
                .insert((here.pin, here.outward, here.finds), here);
            self.approach = match self.approaches.remove(&key) {
                Some(known) => known,
                None => Approach {
                    pin: step.picture.pin,
                    outward,
                    finds: news.found.len(),
                    late_us: EAR_US * self.about_normal(),
                    within: self.rng.random(),
                    began: Some(news.to),
                    ..Approach::default()
                },
            };
        }
        let approach = &mut self.approach;
        let out_by = |from: Pulse| (news.to.us() - from.us()) * sign;
        let hummed = seen.hummed[place] || seen.against[place].is_some();
        let swung = seen.swings[place].is_some_and(|(_, deg)| deg.abs() >= SEEN_DEG);
        // What hums on while he is asked, nobody overhears.
        let mut ends = now.joints[place].servo.hums;
        if hummed {
            // It touched somewhere in this step; he is sure of it so much later.
            let step_us = out_by(news.edge);
            let (first, depth) = *approach
                .first_touch
                .get_or_insert((news.to, step_us * approach.within));
            ends |= out_by(first) + depth >= approach.late_us;
        } else if !swung {
            // It does not come out any more; or it never did, and that is not its play alone.
            let began = approach.began.unwrap_or(news.to);
            ends |= approach.swung || out_by(began) >= PLAY_US;
        }
        // Where he has met it before he takes a rustle for a touch.
        if !news.found.is_empty() && approach.late_us < 0.0 {
            let mean = news.found.iter().sum::<f64>() / news.found.len() as f64;
            ends |= (news.to.us() - mean) * sign >= approach.late_us;
        }
        approach.swung |= swung;
        if !ends {
            // Late with what he is not sure of.
            return match hummed {
                true => Act::SayLate(Answer::Free),
                false => Act::Say(Answer::Free),
            };
        }
        self.why = match &seen.against[place] {
            Some(Against::Body) => Why::Body,
            Some(Against::Cable) => Why::Cable,
            Some(Against::Neighbour(_)) => Why::Neighbour,
            Some(Against::Linkage) => Why::Linkage,
            Some(Against::Sheet) => panic!("nobody laid a sheet"),
            None if hummed => Why::Linkage,
            None => Why::Servo,
        };
        Act::SayLate(Answer::End)
    }

    /// A bare arm turns slowly: he says so when it has stopped, and is half a second late.
    fn looks_at_the_arm(&mut self, step: &Step, now: &Sight) -> Act {
        let seen = now.joints[index(step.picture.joint.expect("a joint"))].servo;
        if seen.moving || seen.swung_at != self.arm.0 {
            self.arm = (seen.swung_at, 0);
            return Act::Wait;
        }
        self.arm.1 += 1;
        match (step.big, self.arm.1) {
            // A stretch ended with the piece that he has just seen it turn.
            ("DID IT TURN ON?", 1) => Act::Say(Answer::Enter),
            (_, 1) => Act::Wait,
            _ => Act::Say(Answer::None),
        }
    }

    /// About normal, standard deviation 1.
    fn about_normal(&mut self) -> f64 {
        (0..12).map(|_| self.rng.random::<f64>()).sum::<f64>() - 6.0
    }

    fn picks(&mut self, step: &Step, options: &[String], start: usize, now: &Sight) -> Answer {
        let named = |word: &str| {
            let at = options.iter().position(|it| it.starts_with(word));
            Answer::Pick(at.unwrap_or_else(|| panic!("no {word} in {options:?}")))
        };
        let has = |word: &str| options.iter().any(|it| it.starts_with(word));
        if step.big.ends_with("OR ACCEPT?") {
            self.told_wiring.clone_from(&step.lines);
            // What was mended since is tried again, once.
            if std::mem::take(&mut self.mended) {
                return named("mend it");
            }
        }
        match step.big {
            "EXCHANGE OR ACCEPT?" if self.exchanges && has("exchange") => named("exchange"),
            "EXCHANGE OR ACCEPT?" | "MEND OR ACCEPT?" | "ACCEPT THE WIRING?" => named("accept"),
            "WHY NOTHING?" => named("not known"),
            // He counts what the practice robot's horns have.
            "COUNT THE TEETH" => named("25 "),
            "COUNT THE ARMS" => named("4 "),
            "HOW FAR DOES IT TURN?" if self.tells_one_travel => named("one number"),
            "HOW FAR DOES IT TURN?" => named("measure each"),
            "CHOOSE THE GAUGE" => named("protractor"),
            "WHERE FROM?" => named("a supply"),
            "ALREADY BUILT?" => named("test"),
            "HORNS ON ALREADY?" => named("they go on now"),
            "WHAT IS IT?" => self.verdict(options, now),
            "WHAT WAS IT?" => {
                let at = Why::ALL.iter().position(|it| *it == self.why);
                Answer::Pick(at.expect("a cause"))
            }
            "TURN THE HORN" | "HORN MAY STAY" => {
                if let Detail::Horn { seats, .. } = &step.picture.detail {
                    self.advised.push(Advised {
                        joint: step.picture.joint.expect("a joint"),
                        seats: seats.clone(),
                    });
                }
                Answer::Pick(start)
            }
            other => panic!("a choice that the builder does not know: {other} {options:?}"),
        }
    }

    fn types(&mut self, step: &Step, start: Option<f64>, now: &Sight) -> Act {
        match (step.big, start) {
            ("TYPE THE ANGLE" | "READ IT AGAIN", None) => {
                let at = step.picture.joint.expect("a joint");
                let (name, slip) = (leg_and_joint(at), self.misreads_deg);
                let anew = !matches!(step.picture.detail, Detail::Marks(_));
                Act::ByHand(Box::new(move |hands| {
                    if anew {
                        // Held to the joint for this reading alone.
                        hands
                            .place_gauge(name.0, name.1, Tool::Gauge)
                            .expect("it fits");
                    }
                    Answer::Value(hands.read_gauge().expect("it is there") + slip)
                }))
            }
            ("READ THE DISPLAY", None) if step.next.contains("volts") => {
                Act::Say(Answer::Value(now.supply_v))
            }
            ("READ THE DISPLAY", None) => Act::Say(Answer::Value(now.supply_a)),
            ("TYPE STALL CURRENT", None) => Act::Say(Answer::Value(STALL_A)),
            ("TYPE THE LIMIT", _) => Act::Say(Answer::Value(now.limit_a)),
            (_, Some(start)) => Act::Say(Answer::Value(start)),
            (other, None) => panic!("a value that the builder does not know: {other}"),
        }
    }

    fn yes_or_no(&mut self, step: &Step, now: &Sight) -> Act {
        match step.big {
            "ANOTHER MARK?" | "MARKS ARE ENOUGH" | "MISTYPED?" => {
                self.round += 1;
                if self.round < self.rounds {
                    return Act::Say(Answer::Again);
                }
                self.round = 0;
                Act::Say(Answer::None)
            }
            // He looks at its screw first, and this was only the check.
            "BEGIN ANEW?" => Act::Say(Answer::None),
            "COMMON GROUND?" | "LOOK AT EACH PLUG" => Act::Say(Answer::Enter),
            "STILL AND QUIET?" => {
                let seen = now.on_test_pin.as_ref().expect("it is plugged in");
                Act::Say(if seen.servo.slack {
                    Answer::None
                } else {
                    Answer::Enter
                })
            }
            "ANOTHER SERVO?" => {
                let more = !self.untested.is_empty();
                Act::ByHand(Box::new(move |hands| {
                    hands.clear_test_pin();
                    if more { Answer::Enter } else { Answer::None }
                }))
            }
            other => panic!("a question that the builder does not know: {other}"),
        }
    }

    /// What he makes of the servo on the test pin.
    fn verdict(&mut self, options: &[String], now: &Sight) -> Answer {
        let seen = now.on_test_pin.as_ref().expect("it is plugged in");
        let word = match seen.servo {
            it if it.slack => "dead",
            it if it.rattles => "noisy",
            it if it.hot => "hot",
            _ => "good",
        };
        self.verdicts.push((seen.number.clone(), word == "good"));
        let at = options.iter().position(|it| it.starts_with(word));
        Answer::Pick(at.expect("a verdict"))
    }

    /// Enter, after the hands have done what the words ask for.
    fn hands(&mut self, step: &Step) -> Act {
        let name = step.picture.joint.map(leg_and_joint);
        match (step.big, &step.picture.detail) {
            ("PLACE THE GAUGE", _) => {
                let (leg, joint) = name.expect("a joint");
                Act::ByHand(Box::new(move |hands| {
                    hands.place_gauge(leg, joint, Tool::Gauge).expect("it fits");
                    Answer::Enter
                }))
            }
            ("TURN THE HORN", Detail::Horn { seats, .. }) => {
                let ((leg, joint), seat) = (name.expect("a joint"), seats[0]);
                Act::ByHand(Box::new(move |hands| {
                    hands
                        .turn_horn(leg, joint, seat.turn_teeth, seat.arm)
                        .expect("it goes on");
                    hands.screw_leg_on(leg, joint).expect("it is limp");
                    Answer::Enter
                }))
            }
            ("UNSCREW THE LEG", _) => {
                let (leg, joint) = name.expect("a joint");
                Act::ByHand(Box::new(move |hands| {
                    hands.unscrew_leg(leg, joint).expect("it is limp");
                    Answer::Pick(1)
                }))
            }
            ("SCREW THE LEG ON", _) => {
                let (leg, joint) = name.expect("a joint");
                Act::ByHand(Box::new(move |hands| {
                    hands.screw_leg_on(leg, joint).expect("it is limp");
                    Answer::Enter
                }))
            }
            ("CHANGE THE SERVO", _) => {
                let ((leg, joint), spare) = (name.expect("a joint"), self.puts_in.clone());
                Act::ByHand(Box::new(move |hands| {
                    let put_in = hands.exchange_servo(leg, joint, &spare);
                    put_in.expect("it is limp");
                    Answer::Enter
                }))
            }
            ("HANDS AWAY", Detail::PlugSides) => {
                let number = self.untested.remove(0);
                let pin = step.picture.pin.expect("a test pin");
                Act::ByHand(Box::new(move |hands| {
                    hands.put_on_test_pin(&number, pin).expect("it is free");
                    Answer::Enter
                }))
            }
            // He lets it run its minute.
            ("IT RUNS FOR A MINUTE", _) => Act::Wait,
            ("EXCHANGE TWO PLUGS", _) => {
                let pins: Vec<Pin> = step
                    .next
                    .split(|c: char| !c.is_ascii_digit())
                    .filter_map(|word| word.parse().ok())
                    .filter_map(|number| Pin::new(number).ok())
                    .collect();
                Act::ByHand(Box::new(move |hands| {
                    hands.swap_plugs(pins[0], pins[1]).expect("both are limp");
                    Answer::Enter
                }))
            }
            ("REFUSED" | "NOT RECORDED" | "ALL LIMP" | "FROZEN" | "NOT NOW", _) => {
                panic!("trouble: {} {}", step.title, step.next)
            }
            _ => Act::Say(Answer::Enter),
        }
    }
}

/// A joint's place in the robot's own list.
pub fn index(at: JointRef) -> usize {
    at.leg * 3 + at.kind.index()
}

fn joint(place: usize) -> JointRef {
    JointRef {
        leg: place / 3,
        kind: JointKind::ALL[place % 3],
    }
}

const LEGS: [&str; 6] = ["LF", "LM", "LR", "RF", "RM", "RR"];

/// The same of a joint by its name.
pub fn place(leg: &str, kind: JointKind) -> usize {
    let leg = LEGS.iter().position(|it| *it == leg);
    leg.expect("one of its legs") * 3 + kind.index()
}

fn leg_and_joint(at: JointRef) -> (&'static str, &'static str) {
    (LEGS[at.leg], at.kind.word())
}
