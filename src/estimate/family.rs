//! The family check: joints that should be alike, and the odd one out.
//!
//! Median and MAD, because one bad joint must not hide itself by moving the mean. Left and right are
//! compared first: where they differ as sides, each joint is judged among its own side.
//! It names and measures; it changes nothing.

use crate::calibration::model::{JointRef, Leg, Robot};

/// A robust score beyond this is odd (Iglewicz and Hoaglin 1993 recommend 3.5; from memory).
const ODD: f64 = 3.5;
/// MAD times this is the standard deviation of a normal population.
const MAD_TO_SD: f64 = 1.4826;
/// The fewest joints among which one can be odd.
const FEWEST: usize = 3;

/// A side of the robot, from its own view.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Hand {
    /// y is positive.
    Left,
    /// y is negative.
    Right,
}

impl Hand {
    /// The side on which a leg is mounted; `None` in the middle.
    pub fn of(leg: &Leg) -> Option<Hand> {
        let y = leg.mount.y_mm;
        (y != 0.0).then_some(if y > 0.0 { Hand::Left } else { Hand::Right })
    }
}

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Trait {
    /// The angle error at mid-travel, degrees.
    Middle,
    /// µs/degree with its sign.
    Scale,
    /// The full play, degrees.
    Play,
}

impl Trait {
    /// Differences of this size are usual among hobby servos screwed on by hand (common practice).
    fn usual(self) -> f64 {
        match self {
            Trait::Middle => 2.0,
            Trait::Scale => 0.2,
            Trait::Play => 0.2,
        }
    }

    fn unit(self) -> &'static str {
        match self {
            Trait::Middle | Trait::Play => "°",
            Trait::Scale => " µs/°",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Trait::Middle => "angle error at mid-travel",
            Trait::Scale => "scale",
            Trait::Play => "play",
        }
    }
}

/// One joint's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Member {
    /// Whose.
    pub joint: JointRef,
    /// On which side its leg is mounted.
    pub hand: Option<Hand>,
    /// The value.
    pub value: f64,
    /// Its standard uncertainty; 0 when it is not known.
    pub sd: f64,
}

/// A joint that does not look like its family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Odd {
    /// Which.
    pub joint: JointRef,
    /// What is compared.
    pub what: Trait,
    /// Its value.
    pub value: f64,
    /// The median that it was held against.
    pub median: f64,
    /// Value less median.
    pub off_by: f64,
    /// The same in robust standard deviations.
    pub score: f64,
    /// With the other sign it would fit.
    pub reversed: bool,
}

/// What one trait says of a family.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// The median of all.
    pub median: f64,
    /// Their robust standard deviation, about the medians of the sides where these differ; never below what is usual.
    pub spread: f64,
    /// Left median less right median, when there are two or more on each side.
    pub left_less_right: Option<f64>,
    /// The sides differ by more than chance.
    pub sides_differ: bool,
    /// The odd ones, oddest first.
    pub odd: Vec<Odd>,
}

/// Compares joints that should be alike, the same kind on every leg; `None` with fewer than three usable values.
pub fn family(what: Trait, members: &[Member]) -> Option<Family> {
    let usable = |m: &&Member| m.value.is_finite() && m.sd.is_finite() && m.sd >= 0.0;
    let members: Vec<Member> = members.iter().filter(usable).copied().collect();
    if members.len() < FEWEST {
        return None;
    }
    let on = |hand: Hand| -> Vec<f64> {
        let same = members.iter().filter(|m| m.hand == Some(hand));
        same.map(|m| m.value).collect()
    };
    let all: Vec<f64> = members.iter().map(|m| m.value).collect();
    let (left, right) = (on(Hand::Left), on(Hand::Right));
    let mut family = Family {
        median: median(&all),
        spread: spread(
            what,
            &all.iter().map(|v| v - median(&all)).collect::<Vec<_>>(),
        ),
        left_less_right: None,
        sides_differ: false,
        odd: Vec::new(),
    };
    if left.len() >= 2 && right.len() >= 2 {
        let (l, r) = (median(&left), median(&right));
        let about: Vec<f64> = left
            .iter()
            .map(|v| v - l)
            .chain(right.iter().map(|v| v - r))
            .collect();
        let within = spread(what, &about);
        // The standard error of a median is √(π/2) times that of a mean, for normal populations.
        let each = 1.0 / left.len() as f64 + 1.0 / right.len() as f64;
        let error = within * (std::f64::consts::FRAC_PI_2 * each).sqrt();
        family.left_less_right = Some(l - r);
        family.sides_differ = (l - r).abs() > ODD * error;
        if family.sides_differ {
            family.spread = within;
        }
    }
    for member in &members {
        let side = match member.hand {
            Some(Hand::Left) if family.sides_differ => &left,
            Some(Hand::Right) if family.sides_differ => &right,
            _ => &all,
        };
        if side.len() < FEWEST {
            continue;
        }
        let median = median(side);
        let sd = family.spread.hypot(member.sd);
        let score = (member.value - median) / sd;
        if score.abs() > ODD {
            family.odd.push(Odd {
                joint: member.joint,
                what,
                value: member.value,
                median,
                off_by: member.value - median,
                score,
                reversed: (-member.value - median).abs() <= ODD * sd,
            });
        }
    }
    family
        .odd
        .sort_by(|a, b| b.score.abs().total_cmp(&a.score.abs()));
    Some(family)
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match sorted.len() % 2 {
        1 => sorted[half],
        _ => (sorted[half - 1] + sorted[half]) / 2.0,
    }
}

/// Robust standard deviation of deviations from a median; among few joints it can be tiny by chance, so never below what is usual.
fn spread(what: Trait, deviations: &[f64]) -> f64 {
    let sizes: Vec<f64> = deviations.iter().map(|d| d.abs()).collect();
    (MAD_TO_SD * median(&sizes)).max(what.usual())
}

impl Odd {
    /// Which joint, by how much, and why that may be.
    pub fn words(&self, robot: &Robot) -> String {
        let (unit, what) = (self.what.unit(), self.what.words());
        let why = match (self.what, self.reversed) {
            (Trait::Scale, true) => {
                "it turns the other way: a servo of another make, or its way was answered wrong"
            }
            (_, true) => "with the other sign it would fit: was an angle read from the wrong side?",
            // A tooth is 14.4 to 17.1 degrees on splines of 25 to 21.
            (Trait::Middle, _) if (13.0..19.0).contains(&self.off_by.abs()) => {
                "about one tooth of the horn"
            }
            (Trait::Middle, _) => "look at its horn, its screw and its marks",
            (Trait::Scale, _) => "another servo type, or a mark that was read wrong",
            (Trait::Play, _) if self.off_by > 0.0 => "worn gears, or a loose screw",
            (Trait::Play, _) => "look at its marks from both sides",
        };
        format!(
            "{}: its {what} is {:+.1}{unit}, its family's {:+.1}{unit}, {:.1}{unit} off: {why}",
            robot.title(self.joint),
            self.value,
            self.median,
            self.off_by.abs()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::model::JointKind;

    /// Legs 0-2 stand left, 3-5 right.
    fn members(values: [f64; 6]) -> Vec<Member> {
        let member = |(leg, value)| Member {
            joint: JointRef {
                leg,
                kind: JointKind::Femur,
            },
            hand: Some(if leg < 3 { Hand::Left } else { Hand::Right }),
            value,
            sd: 0.5,
        };
        values.into_iter().enumerate().map(member).collect()
    }

    fn odd_legs(family: &Family) -> Vec<usize> {
        family.odd.iter().map(|odd| odd.joint.leg).collect()
    }

    fn robot() -> Robot {
        Robot {
            name: "Marram".into(),
            template: false,
            body: None,
            legs: Vec::new(),
        }
    }

    #[test]
    fn median_and_mad_of_a_worked_row() {
        // 1 1 2 2 4 6 9: median 2, deviations 0 0 1 1 2 4 7, MAD 1 (a textbook example; from memory).
        let row = [1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0];
        assert_eq!(median(&row), 2.0);
        let deviations = row.map(|v| v - 2.0);
        assert!((spread(Trait::Play, &deviations) - 1.4826).abs() < 1e-12);
        assert_eq!(median(&[1.0, 2.0, 3.0, 10.0]), 2.5);
    }

    #[test]
    fn a_horn_a_tooth_off_is_the_odd_one() {
        let family =
            family(Trait::Middle, &members([1.0, -1.5, 2.0, 15.4, 0.0, -0.5])).expect("six");
        assert_eq!(odd_legs(&family), [3]);
        assert!(
            (family.odd[0].off_by - 14.9).abs() < 1e-9,
            "{:?}",
            family.odd[0]
        );
        let words = family.odd[0].words(&robot());
        assert!(
            words.contains("+15.4°") && words.contains("14.9° off: about one tooth"),
            "{words}"
        );
        assert!(!family.sides_differ);
    }

    #[test]
    fn usual_differences_are_no_oddity() {
        let alike = family(Trait::Middle, &members([0.1, 0.0, 0.1, 3.0, 0.0, -3.0])).expect("six");
        assert_eq!(alike.odd, []);
        let play = family(Trait::Play, &members([1.0, 0.9, 1.1, 1.0, 0.8, 1.2])).expect("six");
        assert_eq!(play.odd, []);
    }

    #[test]
    fn sides_that_mirror_each_other_are_judged_apart() {
        let mirrored = [10.6, 10.5, -10.7, -10.6, -10.4, -10.7];
        let family = family(Trait::Scale, &members(mirrored)).expect("six");
        assert!(family.sides_differ);
        assert!((family.left_less_right.expect("both sides") - 21.1).abs() < 1e-9);
        assert_eq!(odd_legs(&family), [2]);
        assert!(
            family.odd[0].reversed
                && family.odd[0]
                    .words(&robot())
                    .contains("turns the other way")
        );
    }

    #[test]
    fn a_value_of_which_little_is_known_is_not_odd() {
        let mut six = members([0.0, 0.5, -0.5, 0.2, 9.0, 0.0]);
        assert_eq!(odd_legs(&family(Trait::Middle, &six).expect("six")), [4]);
        six[4].sd = 5.0;
        assert_eq!(family(Trait::Middle, &six).expect("six").odd, []);
    }

    #[test]
    fn among_two_nobody_is_odd() {
        assert_eq!(family(Trait::Middle, &members([0.0; 6])[..2]), None);
        let mut three = members([0.0, 0.0, 20.0, 0.0, 0.0, 0.0])[..3].to_vec();
        assert_eq!(
            odd_legs(&family(Trait::Middle, &three).expect("three")),
            [2]
        );
        three[0].value = f64::NAN;
        assert_eq!(family(Trait::Middle, &three), None);
    }
}
