//! What a leg may do from where it stands: its joints' bounds, and what a point is refused for.
//!
//! Besides limits and ends it knows the board's guard, and it never makes a joint worse off than it is:
//! a joint that stands beyond a limit may stay and come back.

use thiserror::Error;

use super::leg::{Knee, Unreachable, Vec3};
use super::robot::{CalibratedRobot, Frame, LegIndex, NoPose};
use crate::calibration::{Joint, JointKind};

/// Centre lines of two legs are kept this far apart, mm: hornset does not know how thick a leg is.
///
/// A common servo is 20 mm wide (common practice), half of it on either side, and 10 mm are left between.
pub const APART_MM: f64 = 30.0;
/// How far a pulse may lie beyond its bound by rounding alone, µs.
const SLACK_US: f64 = 1e-6;

/// What ends a joint's way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// A limit of the calibration.
    Limit,
    /// An end of the mechanism, no limit being known there.
    End,
    /// The pulse bound that the board enforces.
    Guard,
    /// What a board sends at all.
    Board,
}

impl Edge {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Edge::Limit => "limit",
            Edge::End => "end",
            Edge::Guard => "guard",
            Edge::Board => "travel of 500 to 2500 µs",
        }
    }
}

/// What is in a foot's way.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum InTheWay {
    /// No angles put the foot there.
    #[error(transparent)]
    Reach(#[from] Unreachable),
    /// A joint would go beyond its bound.
    #[error("the {joint} ends at {at_deg:.1}°, its {}: move the point back", edge.word())]
    Joint {
        /// Whose leg.
        leg: LegIndex,
        /// Which joint.
        joint: JointKind,
        /// What it ends at.
        edge: Edge,
        /// Where, degrees.
        at_deg: f64,
    },
    /// Another leg comes too near.
    #[error("two legs would come nearer than 30 mm to each other: move the other one first")]
    Leg {
        /// The leg that moves.
        leg: LegIndex,
        /// The one that it would meet.
        other: LegIndex,
    },
}

/// One bound of a joint, on one side of its pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stop {
    us: f64,
    edge: Edge,
}

/// A leg where it stands, and what its joints may do from there.
#[derive(Debug, Clone, PartialEq)]
pub struct Legroom {
    /// Which leg.
    pub leg: LegIndex,
    /// The way its knee is bent, and stays bent.
    pub knee: Knee,
    /// The commanded pulses, µs.
    pub pulses_us: [f64; 3],
    /// The angles that they command, degrees.
    pub angles_deg: [f64; 3],
    /// The foot at these, in the leg's frame, mm.
    pub foot: Vec3,
    stops: [[Stop; 2]; 3],
}

impl Legroom {
    /// The leg at these commanded pulses, with the guards that the board has for its joints.
    pub fn new(
        robot: &CalibratedRobot,
        leg: LegIndex,
        pulses_us: [f64; 3],
        guards_us: [(f64, f64); 3],
    ) -> Result<Legroom, NoPose> {
        let angles_deg = robot.angles_of_pulses(leg, pulses_us)?;
        let bend = robot.geometry(leg).bend.to_degrees();
        let stops = std::array::from_fn(|i| {
            let joint = &robot.leg_data(leg).joints[i];
            let [low, high] = stops_of(joint, guards_us[i]);
            [
                Stop {
                    us: low.us.min(pulses_us[i]),
                    ..low
                },
                Stop {
                    us: high.us.max(pulses_us[i]),
                    ..high
                },
            ]
        });
        Ok(Legroom {
            leg,
            knee: if angles_deg[2] + bend > 0.0 {
                Knee::Down
            } else {
                Knee::Up
            },
            pulses_us,
            angles_deg,
            foot: robot.foot(leg, angles_deg, Frame::Leg),
            stops,
        })
    }

    /// The same leg with its knee bent the other way, to ask what it could do then.
    pub fn other_knee(&self) -> Legroom {
        Legroom {
            knee: self.knee.other(),
            ..self.clone()
        }
    }

    /// The angles that put the foot at a point of the leg's frame, with the knee as it is; whatever the bounds.
    pub fn angles_at(&self, robot: &CalibratedRobot, point: Vec3) -> Result<[f64; 3], Unreachable> {
        let angles = robot.geometry(self.leg).ik(point, self.knee)?;
        Ok(angles.map(f64::to_degrees))
    }

    /// The pulses for these angles, µs, not rounded; refused beyond a bound.
    pub fn pulses_for(
        &self,
        robot: &CalibratedRobot,
        angles_deg: [f64; 3],
    ) -> Result<[f64; 3], InTheWay> {
        let mut pulses = [0.0; 3];
        for kind in JointKind::ALL {
            let i = kind.index();
            let joint = robot.leg_data(self.leg).joint(kind);
            // Without calibration there is no Legroom.
            let pulse = joint.pulse_us(angles_deg[i]).unwrap_or(f64::NAN);
            let [low, high] = self.stops[i];
            let stop = if pulse < low.us - SLACK_US {
                low
            } else if pulse <= high.us + SLACK_US {
                pulses[i] = pulse;
                continue;
            } else {
                high
            };
            return Err(InTheWay::Joint {
                leg: self.leg,
                joint: kind,
                edge: stop.edge,
                at_deg: joint.angle_deg(stop.us).unwrap_or_default(),
            });
        }
        Ok(pulses)
    }

    /// The nearest whole or half microseconds that do not lie beyond a bound.
    pub fn rounded(&self, pulses_us: [f64; 3], per_us: f64) -> [f64; 3] {
        std::array::from_fn(|i| {
            let [low, high] = self.stops[i];
            let mut scaled = (pulses_us[i] * per_us).round();
            if scaled / per_us > high.us {
                scaled = (high.us * per_us).floor();
            } else if scaled / per_us < low.us {
                scaled = (low.us * per_us).ceil();
            }
            scaled / per_us
        })
    }

    /// How far each joint is from its nearer bound, degrees.
    pub fn margins_deg(&self, robot: &CalibratedRobot) -> [f64; 3] {
        std::array::from_fn(|i| {
            let joint = &robot.leg_data(self.leg).joints[i];
            let [low, high] = self.stops[i];
            let us = (self.pulses_us[i] - low.us).min(high.us - self.pulses_us[i]);
            us / joint.scale.as_ref().map_or(1.0, |it| it.value.abs())
        })
    }
}

/// The innermost bound on each side.
fn stops_of(joint: &Joint, guard_us: (f64, f64)) -> [Stop; 2] {
    let (low, high) = joint.allowed_us();
    let edge = |end: bool| match (joint.limits, end) {
        (Some(_), _) => Edge::Limit,
        (None, true) => Edge::End,
        (None, false) => Edge::Board,
    };
    let inner = |guard: f64, own: f64, guard_is_inside: bool, edge: Edge| match guard_is_inside {
        true => Stop {
            us: guard,
            edge: Edge::Guard,
        },
        false => Stop { us: own, edge },
    };
    [
        inner(
            guard_us.0,
            low,
            guard_us.0 > low,
            edge(joint.near_end.is_some()),
        ),
        inner(
            guard_us.1,
            high,
            guard_us.1 < high,
            edge(joint.far_end.is_some()),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::read;

    const SIX_LEGS: &str = include_str!("../../tests/data/six_legs.toml");
    const WIDE: [(f64, f64); 3] = [(500.0, 2500.0); 3];

    fn marram() -> CalibratedRobot {
        CalibratedRobot::new(read(SIX_LEGS).robot.expect("a good file"))
    }

    fn lf_at(robot: &CalibratedRobot, angles: [f64; 3], guards: [(f64, f64); 3]) -> Legroom {
        let leg = robot.leg("LF").expect("there");
        let pulses = robot.raw_pulses(leg, angles).expect("calibrated");
        Legroom::new(robot, leg, pulses, guards).expect("calibrated")
    }

    #[test]
    fn it_knows_where_it_stands() {
        let robot = marram();
        let room = lf_at(&robot, [-4.0, 11.8, -71.0], WIDE);
        // The numbers of SCREENS' foot jog.
        for (got, due) in room.foot.iter().zip([149.5, -10.4, -75.6]) {
            assert!((got - due).abs() < 0.1, "{:?}", room.foot);
        }
        assert_eq!(room.knee, Knee::Up);
        let back = room.angles_at(&robot, room.foot).expect("it stands there");
        for (got, due) in back.iter().zip(room.angles_deg) {
            assert!((got - due).abs() < 1e-9);
        }
    }

    #[test]
    fn the_innermost_bound_is_named() {
        let robot = marram();
        let room = lf_at(&robot, [0.0, 10.0, -80.0], WIDE);
        // The tibia's far limit is 1876 µs: (1876 − 2290) / 10.90 = −37.98°.
        let Err(InTheWay::Joint {
            joint,
            edge,
            at_deg,
            ..
        }) = room.pulses_for(&robot, [0.0, 10.0, -37.0])
        else {
            panic!("beyond the limit");
        };
        assert_eq!((joint, edge), (JointKind::Tibia, Edge::Limit));
        assert!((at_deg + 37.98).abs() < 0.01);
        let mut guards = WIDE;
        guards[2] = (1200.0, 1700.0);
        let room = lf_at(&robot, [0.0, 10.0, -80.0], guards);
        assert!(matches!(
            room.pulses_for(&robot, [0.0, 10.0, -45.0]),
            Err(InTheWay::Joint {
                edge: Edge::Guard,
                ..
            })
        ));
    }

    #[test]
    fn a_joint_beyond_its_limit_may_come_back_but_go_no_farther() {
        let robot = marram();
        let room = lf_at(&robot, [0.0, 10.0, -36.0], WIDE);
        assert!(room.pulses_for(&robot, [0.0, 10.0, -37.0]).is_ok());
        assert!(room.pulses_for(&robot, [0.0, 10.0, -35.9]).is_err());
    }

    #[test]
    fn rounding_never_crosses_a_bound() {
        let robot = marram();
        let mut guards = WIDE;
        guards[0] = (1000.5, 1510.5);
        let room = lf_at(&robot, [0.0, 10.0, -80.0], guards);
        let [coxa, ..] = room.rounded([1510.5, 1500.0, 1500.0], 1.0);
        assert_eq!(coxa, 1510.0);
        let [coxa, femur, tibia] = room.rounded([1000.5, 1500.3, 1500.2], 2.0);
        assert_eq!((coxa, femur, tibia), (1000.5, 1500.5, 1500.0));
        assert_eq!(room.rounded([1000.5, 1500.0, 1500.0], 1.0)[0], 1001.0);
    }

    #[test]
    fn an_unknown_joint_says_what_is_missing() {
        let text = SIX_LEGS.replacen("zero_us", "#zero_us", 3);
        let robot = CalibratedRobot::new(read(&text).robot.expect("a good file"));
        let lf = robot.leg("LF").expect("there");
        let why = Legroom::new(&robot, lf, [1500.0; 3], WIDE).expect_err("unknown");
        assert!(matches!(why, NoPose::NotCalibrated { .. }));
    }
}
