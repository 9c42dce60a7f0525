//! Which tooth of the spline and which arm of the horn: the seat that leaves the widest margin.
//!
//! It weighs the travel that the joint needs against the travel that the servo has, on the worse
//! of both sides. It knows no pulses: all of it is in degrees, positive the joint's positive way.

use std::cmp::Ordering;

use thiserror::Error;

/// Seats whose margins differ by less than this are as good as each other: nobody reads an angle better at the bench.
pub const AS_GOOD_DEG: f64 = 4.0;
/// By the angle that was read a seat that is as good may seem so much worse: two seats on either side of the ideal differ
/// by twice the reading's error, which has a standard deviation of about 1°, so that twice that is allowed for.
pub const NAMED_DEG: f64 = AS_GOOD_DEG + 4.0;
/// Spline counts that hobby servos have (common practice).
pub const TEETH: [u32; 4] = [21, 23, 24, 25];
/// Arms that horns have.
pub const ARMS: [u32; 4] = [1, 2, 4, 6];

/// A joint whose servo stands at its mid-travel pulse with the horn on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mounted {
    /// Teeth of the spline.
    pub teeth: u32,
    /// Arms of the horn that the leg can be screwed to, evenly spaced.
    pub arms: u32,
    /// The angle at which the joint stands now.
    pub came_out_deg: f64,
    /// The travel that the joint needs, smaller angle first.
    pub needed_deg: (f64, f64),
    /// How far the servo can turn from here toward smaller and toward larger angles, both positive.
    pub servo_deg: (f64, f64),
}

/// One way to put the horn on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seat {
    /// Turn the horn on its spline by so many teeth, positive the joint's positive way.
    pub turn_teeth: i32,
    /// Then take this arm, counted the positive way from the one that is on, which is 0.
    pub arm: u32,
    /// The angle at which the joint would stand at the mid-travel pulse.
    pub middle_deg: f64,
    /// What would be left beyond the needed travel at smaller and at larger angles; negative: it lacks so much.
    pub margin_deg: (f64, f64),
}

impl Seat {
    /// The margin on the worse side.
    pub fn worst_deg(&self) -> f64 {
        self.margin_deg.0.min(self.margin_deg.1)
    }

    /// What the hands must do.
    pub fn words(&self) -> String {
        let turn = match self.turn_teeth {
            0 => "leave the horn on its tooth".to_owned(),
            n => {
                let teeth = if n.abs() == 1 { "tooth" } else { "teeth" };
                let way = if n > 0 { "positive" } else { "negative" };
                format!("turn the horn {} {teeth} the {way} way", n.abs())
            }
        };
        match self.arm {
            0 => turn,
            n => format!("{turn}, take arm {n} counted the positive way"),
        }
    }
}

/// What to do with the horn.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// The seat with the widest margin.
    pub best: Seat,
    /// Others within [`NAMED_DEG`] of it, the best of them first: one that is truly as good is hardly ever missing.
    pub also: Vec<Seat>,
    /// How it is now.
    pub now: Seat,
}

impl Advice {
    /// The needed travel fits within the servo's.
    pub fn fits(&self) -> bool {
        self.best.worst_deg() >= 0.0
    }

    /// The horn may stay as it is: nothing is better by more than anybody can read.
    pub fn may_stay(&self) -> bool {
        self.best.worst_deg() - self.now.worst_deg() <= AS_GOOD_DEG
    }
}

/// Why there is no advice.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum HornError {
    /// A count that no spline or horn has.
    #[error("{found} {what}: expected {low} to {high}; count them again")]
    Count {
        /// Teeth or arms.
        what: &'static str,
        /// What was said.
        found: u32,
        /// The least.
        low: u32,
        /// The most.
        high: u32,
    },
    /// Not a number, or travel whose ends are in the wrong order.
    #[error("{what}: {found}°, expected {expected}")]
    Angle {
        /// Which.
        what: &'static str,
        /// What was said.
        found: f64,
        /// What may be said.
        expected: &'static str,
    },
}

/// The best seat for the horn, and those as good.
///
/// # Errors
/// Counts of teeth or arms that do not exist, angles without sense.
pub fn advise(mounted: &Mounted) -> Result<Advice, HornError> {
    check(mounted)?;
    let seats = seats(mounted);
    let mut ranked = seats.clone();
    ranked.sort_by(rank);
    let best = ranked[0];
    let close = |seat: &Seat| best.worst_deg() - seat.worst_deg() <= NAMED_DEG;
    Ok(Advice {
        best,
        also: ranked[1..].iter().copied().filter(close).collect(),
        now: seats[0],
    })
}

fn check(mounted: &Mounted) -> Result<(), HornError> {
    let count = |what, found, low, high| match (low..=high).contains(&found) {
        true => Ok(()),
        false => Err(HornError::Count {
            what,
            found,
            low,
            high,
        }),
    };
    count("teeth", mounted.teeth, 4, 100)?;
    count("arms", mounted.arms, 1, 12)?;
    let (low, high) = mounted.needed_deg;
    let (below, above) = mounted.servo_deg;
    let angles = [
        (
            "the angle it came out at",
            mounted.came_out_deg,
            mounted.came_out_deg.is_finite(),
            "a number",
        ),
        (
            "the smallest angle needed",
            low,
            low.is_finite(),
            "a number",
        ),
        (
            "the largest angle needed",
            high,
            high.is_finite() && high >= low,
            "at least the smallest",
        ),
        (
            "the servo's travel",
            below,
            below.is_finite() && below >= 0.0,
            "0 or more",
        ),
        (
            "the servo's travel",
            above,
            above.is_finite() && above >= 0.0,
            "0 or more",
        ),
    ];
    match angles.into_iter().find(|(_, _, fine, _)| !fine) {
        Some((what, found, _, expected)) => Err(HornError::Angle {
            what,
            found,
            expected,
        }),
        None => Ok(()),
    }
}

/// Every angle that teeth and arms can make, each once, by the fewest arms and then the fewest teeth; as it is now first.
fn seats(mounted: &Mounted) -> Vec<Seat> {
    let (teeth, arms) = (i64::from(mounted.teeth), i64::from(mounted.arms));
    let mut turns: Vec<i64> = (0..teeth)
        .map(|k| if k > teeth / 2 { k - teeth } else { k })
        .collect();
    turns.sort_by_key(|k| (k.abs(), -k));
    let mut taken = vec![false; (teeth * arms) as usize];
    let mut seats = Vec::new();
    for arm in 0..arms {
        for &turn in &turns {
            // In steps of 360°/(teeth·arms) all seats are whole numbers, so equal angles are found exactly.
            let step = (turn * arms + arm * teeth).rem_euclid(teeth * arms);
            if std::mem::replace(&mut taken[step as usize], true) {
                continue;
            }
            let angle = 360.0 * step as f64 / (teeth * arms) as f64;
            seats.push(seat(mounted, turn as i32, arm as u32, angle));
        }
    }
    seats
}

fn seat(mounted: &Mounted, turn_teeth: i32, arm: u32, turned_deg: f64) -> Seat {
    let (low, high) = mounted.needed_deg;
    let (below, above) = mounted.servo_deg;
    // A full turn changes nothing: take the one nearest to where both margins are equal.
    let ideal = (low + high + below - above) / 2.0;
    let off = (mounted.came_out_deg + turned_deg - ideal + 180.0).rem_euclid(360.0) - 180.0;
    let middle_deg = ideal + off;
    Seat {
        turn_teeth,
        arm,
        middle_deg,
        margin_deg: (low - (middle_deg - below), middle_deg + above - high),
    }
}

/// Widest margin first; among equals the one with the least to do.
fn rank(a: &Seat, b: &Seat) -> Ordering {
    let work = |seat: &Seat| (seat.arm, seat.turn_teeth.abs());
    if (a.worst_deg() - b.worst_deg()).abs() < 1e-9 {
        return work(a).cmp(&work(b));
    }
    b.worst_deg().total_cmp(&a.worst_deg())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn femur(came_out_deg: f64) -> Mounted {
        Mounted {
            teeth: 25,
            arms: 1,
            came_out_deg,
            needed_deg: (-50.0, 60.0),
            servo_deg: (85.0, 85.0),
        }
    }

    #[test]
    fn a_tooth_off_is_turned_back() {
        // Mid-travel is +5°; 14.4° a tooth puts 19.4° exactly one tooth above it.
        let advice = advise(&femur(19.4)).expect("advice");
        assert_eq!((advice.best.turn_teeth, advice.best.arm), (-1, 0));
        assert!((advice.best.worst_deg() - 30.0).abs() < 1e-9);
        assert!((advice.now.worst_deg() - 15.6).abs() < 1e-9);
        assert!(advice.also.is_empty() && advice.fits() && !advice.may_stay());
        assert_eq!(
            advice.best.words(),
            "turn the horn 1 tooth the negative way"
        );
    }

    #[test]
    fn two_teeth_as_good_are_both_named() {
        let advice = advise(&femur(5.0 + 7.2)).expect("advice");
        assert_eq!(advice.also.len(), 1);
        let both = [advice.best.turn_teeth, advice.also[0].turn_teeth];
        assert_eq!(
            both,
            [0, -1],
            "at equal margins the one without work comes first"
        );
        assert!(advice.may_stay());
    }

    #[test]
    fn arms_that_fall_on_teeth_are_no_new_seats() {
        let count = |teeth, arms| {
            seats(&Mounted {
                teeth,
                arms,
                ..femur(0.0)
            })
            .len()
        };
        assert_eq!(
            [
                count(24, 4),
                count(24, 6),
                count(25, 4),
                count(25, 1),
                count(21, 6)
            ],
            [24, 24, 100, 25, 42]
        );
    }

    #[test]
    fn a_servo_without_the_travel_is_said() {
        let advice = advise(&Mounted {
            servo_deg: (50.0, 50.0),
            ..femur(5.0)
        })
        .expect("advice");
        assert!(!advice.fits());
        assert!((advice.best.worst_deg() + 5.0).abs() < 1e-9);
    }

    #[test]
    fn senseless_input_is_refused() {
        for wrong in [
            Mounted {
                teeth: 0,
                ..femur(0.0)
            },
            Mounted {
                arms: 0,
                ..femur(0.0)
            },
            Mounted {
                came_out_deg: f64::NAN,
                ..femur(0.0)
            },
            Mounted {
                needed_deg: (10.0, -10.0),
                ..femur(0.0)
            },
            Mounted {
                servo_deg: (-1.0, 80.0),
                ..femur(0.0)
            },
        ] {
            let error = advise(&wrong).expect_err("refused").to_string();
            assert!(error.contains("expected"), "{error}");
        }
    }
}
