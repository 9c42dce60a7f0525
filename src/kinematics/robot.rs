//! The calibrated robot: pulses from a foot point or joint angles, and back, in the frame of a leg, the body or the ground.
//!
//! This is the one object that other code uses. It respects limits and ends: it never hands out a pulse beyond them.
//! It commands nothing; what it computes holds for an unloaded leg, as the calibration does.

use std::path::Path;

use thiserror::Error;

use super::body::{BodyPose, body_to_leg, leg_to_body};
use super::leg::{Angles, Knee, LegGeometry, Unreachable, Vec3};
use super::path::FootPath;
use crate::calibration::file::{self, FileError};
use crate::calibration::{Joint, JointKind, Leg, Robot};

/// How far a pulse may lie beyond its bound by rounding alone, µs.
const PULSE_SLACK_US: f64 = 1e-6;

/// A robot whose calibration is known, to compute with.
///
/// ```
/// use hornset::{CalibratedRobot, kinematics::Frame};
///
/// // Any calibration file; this one is an example that ships with hornset.
/// let path = concat!(env!("CARGO_MANIFEST_DIR"), "/calibrations/marram.toml");
/// let robot = CalibratedRobot::load(path)?;
/// let lf = robot.leg("LF")?;
///
/// // Which pulses put the left front foot 120 mm out and 80 mm below its coxa axis?
/// let pose = robot.pose_for_foot(lf, [120.0, 0.0, -80.0], Frame::Leg)?;
/// println!("{:.1} {:.1} {:.1} µs", pose.pulses_us[0], pose.pulses_us[1], pose.pulses_us[2]);
///
/// // And back, seen from the middle of the body.
/// let foot = robot.foot_of_pulses(lf, pose.pulses_us, Frame::Body)?;
/// assert!((foot[2] + 80.0).abs() < 1e-9);
///
/// // A point that the leg cannot have says why, and by how much.
/// let why = robot.pose_for_foot(lf, [300.0, 0.0, -80.0], Frame::Leg).unwrap_err();
/// assert!(why.to_string().contains("too far"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CalibratedRobot {
    robot: Robot,
    legs: Vec<LegGeometry>,
}

/// One of the robot's legs, from [`CalibratedRobot::leg`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct LegIndex(usize);

impl LegIndex {
    /// Its place in the order of the file, from 0.
    pub fn number(self) -> usize {
        self.0
    }
}

/// In which frame a point is meant, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Frame {
    /// The leg's own: x outward along its mount, z up, its coxa axis at the origin.
    Leg,
    /// The body's: x forward, y left, z up.
    Body,
    /// The ground's, with the body standing over it like this.
    Ground(BodyPose),
}

/// One way to put a foot somewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// On which side the knee is.
    pub knee: Knee,
    /// Coxa, femur, tibia, degrees.
    pub angles_deg: [f64; 3],
    /// The pulses, µs, not rounded: a board takes the nearest half.
    pub pulses_us: [f64; 3],
}

/// How far a joint would be beyond what limits and ends allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beyond {
    /// Which joint.
    pub joint: JointKind,
    /// By how many degrees.
    pub by_deg: f64,
    /// By how many µs.
    pub by_us: f64,
    /// What it would be beyond.
    pub bound: Bound,
}

/// What bounds a joint's pulse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Bound {
    /// A limit of the calibration.
    Limit,
    /// An end of the mechanism, no limit being known there.
    End,
    /// What a board sends at all, 500 to 2500 µs.
    Board,
}

impl Bound {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Bound::Limit => "limit",
            Bound::End => "end",
            Bound::Board => "travel of 500 to 2500 µs",
        }
    }
}

/// Why there are no pulses, or no angles.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoPose {
    /// There is no such leg.
    #[error("there is no leg {name}: expected one of {}", legs.join(", "))]
    NoLeg {
        /// The name asked for.
        name: String,
        /// The legs there are.
        legs: Vec<String>,
    },
    /// Something is not known yet.
    #[error("{joint} of {leg} has no {missing} in the file: record it first")]
    NotCalibrated {
        /// The leg.
        leg: String,
        /// The joint.
        joint: JointKind,
        /// The key that the file lacks.
        missing: &'static str,
    },
    /// No angles put the foot there.
    #[error(transparent)]
    Unreachable(#[from] Unreachable),
    /// The angles are there, but a joint may not go so far.
    #[error(
        "{leg} {joint} would be {by_deg:.2}° ({by_us:.1} µs) beyond its limit: expected a point or angle inside; move it back"
    )]
    Limit {
        /// The leg.
        leg: String,
        /// The first joint from the body that is beyond.
        joint: JointKind,
        /// By how much, degrees.
        by_deg: f64,
        /// By how much, µs.
        by_us: f64,
        /// Beyond what.
        bound: Bound,
    },
    /// An angle or pulse that is no number.
    #[error("an angle or pulse is no finite number: expected three of them")]
    NotFinite,
}

/// What stops a foot on its path, and after which part of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocked {
    /// The last part of the path, 0 to 1, that was still possible; `None` when not even its start is.
    pub reached: Option<f64>,
    /// What is in the way.
    pub why: NoPose,
}

impl CalibratedRobot {
    /// Reads a calibration file.
    pub fn load(path: impl AsRef<Path>) -> Result<Self, FileError> {
        let path = path.as_ref();
        let reading = file::inspect(path)?;
        match reading.robot {
            Some(robot) => Ok(Self::new(robot)),
            None => Err(FileError::Refused {
                path: path.to_owned(),
                findings: reading.findings,
            }),
        }
    }

    /// Takes a robot that was read already.
    pub fn new(robot: Robot) -> Self {
        let legs = robot.legs.iter().map(|leg| (&leg.links).into()).collect();
        CalibratedRobot { robot, legs }
    }

    /// What the file says.
    pub fn robot(&self) -> &Robot {
        &self.robot
    }

    /// The leg of this name.
    pub fn leg(&self, name: &str) -> Result<LegIndex, NoPose> {
        match self.robot.leg_named(name) {
            Some((index, _)) => Ok(LegIndex(index)),
            None => Err(NoPose::NoLeg {
                name: name.escape_debug().to_string(),
                legs: self.robot.legs.iter().map(|leg| leg.name.clone()).collect(),
            }),
        }
    }

    /// All its legs, in the order of the file.
    pub fn legs(&self) -> impl Iterator<Item = LegIndex> + use<> {
        (0..self.legs.len()).map(LegIndex)
    }

    /// What the file says of a leg.
    pub fn leg_data(&self, leg: LegIndex) -> &Leg {
        &self.robot.legs[leg.0]
    }

    /// A leg's lengths, to compute with.
    pub fn geometry(&self, leg: LegIndex) -> &LegGeometry {
        &self.legs[leg.0]
    }

    /// A point of the leg's frame in another.
    pub fn from_leg_frame(&self, leg: LegIndex, point: Vec3, frame: Frame) -> Vec3 {
        let mount = &self.leg_data(leg).mount;
        match frame {
            Frame::Leg => point,
            Frame::Body => leg_to_body(mount, point),
            Frame::Ground(pose) => pose.to_ground(leg_to_body(mount, point)),
        }
    }

    /// A point of another frame in the leg's.
    pub fn to_leg_frame(&self, leg: LegIndex, point: Vec3, frame: Frame) -> Vec3 {
        let mount = &self.leg_data(leg).mount;
        match frame {
            Frame::Leg => point,
            Frame::Body => body_to_leg(mount, point),
            Frame::Ground(pose) => body_to_leg(mount, pose.to_body(point)),
        }
    }

    /// Where the foot is at these angles, degrees. Limits do not count here.
    pub fn foot(&self, leg: LegIndex, angles_deg: [f64; 3], frame: Frame) -> Vec3 {
        let foot = self.geometry(leg).fk(angles_deg.map(f64::to_radians));
        self.from_leg_frame(leg, foot, frame)
    }

    /// Where the foot is at these pulses, µs. Limits do not count here.
    pub fn foot_of_pulses(
        &self,
        leg: LegIndex,
        pulses_us: [f64; 3],
        frame: Frame,
    ) -> Result<Vec3, NoPose> {
        Ok(self.foot(leg, self.angles_of_pulses(leg, pulses_us)?, frame))
    }

    /// The angles that these pulses command, degrees. Limits do not count here.
    pub fn angles_of_pulses(&self, leg: LegIndex, pulses_us: [f64; 3]) -> Result<[f64; 3], NoPose> {
        if !pulses_us.iter().all(|it| it.is_finite()) {
            return Err(NoPose::NotFinite);
        }
        self.calibrated(leg)?;
        Ok(JointKind::ALL.map(|kind| {
            let joint = self.leg_data(leg).joint(kind);
            joint.angle_deg(pulses_us[kind.index()]).unwrap_or_default()
        }))
    }

    /// The pulses that command these angles, wherever they lie: see [`CalibratedRobot::beyond`].
    pub fn raw_pulses(&self, leg: LegIndex, angles_deg: [f64; 3]) -> Result<[f64; 3], NoPose> {
        if !angles_deg.iter().all(|it| it.is_finite()) {
            return Err(NoPose::NotFinite);
        }
        self.calibrated(leg)?;
        Ok(JointKind::ALL.map(|kind| {
            let joint = self.leg_data(leg).joint(kind);
            joint.pulse_us(angles_deg[kind.index()]).unwrap_or_default()
        }))
    }

    /// The first joint, from the body to the foot, that these pulses would drive beyond its limits, its ends or what a board sends.
    pub fn beyond(&self, leg: LegIndex, pulses_us: [f64; 3]) -> Option<Beyond> {
        JointKind::ALL.into_iter().find_map(|kind| {
            let joint = self.leg_data(leg).joint(kind);
            let pulse = pulses_us[kind.index()];
            let (low, high) = joint.allowed_us();
            let by_us = (low - pulse).max(pulse - high);
            // A pulse that is no number is beyond everything.
            let scale = joint.scale.as_ref().map_or(1.0, |it| it.value.abs());
            (by_us.is_nan() || by_us > PULSE_SLACK_US).then_some(Beyond {
                joint: kind,
                by_deg: by_us / scale,
                by_us,
                bound: bound_of(joint, pulse > high),
            })
        })
    }

    /// The pulses for these angles, degrees; refused beyond limits and ends.
    pub fn pulses_for_angles(
        &self,
        leg: LegIndex,
        angles_deg: [f64; 3],
    ) -> Result<[f64; 3], NoPose> {
        let pulses = self.raw_pulses(leg, angles_deg)?;
        self.within(leg, pulses)?;
        Ok(pulses)
    }

    /// Both ways to put the foot there, the knee up first, whatever the limits.
    pub fn angles_for_foot(
        &self,
        leg: LegIndex,
        point: Vec3,
        frame: Frame,
    ) -> Result<[(Knee, [f64; 3]); 2], Unreachable> {
        let point = self.to_leg_frame(leg, point, frame);
        let geometry = self.geometry(leg);
        let degrees = |angles: Angles| angles.map(f64::to_degrees);
        Ok([
            (Knee::Up, degrees(geometry.ik(point, Knee::Up)?)),
            (Knee::Down, degrees(geometry.ik(point, Knee::Down)?)),
        ])
    }

    /// The pose that puts the foot there: with the knee up if limits and ends allow it, else with the knee down.
    ///
    /// When neither way is allowed, the reason is that of the knee up.
    pub fn pose_for_foot(&self, leg: LegIndex, point: Vec3, frame: Frame) -> Result<Pose, NoPose> {
        self.calibrated(leg)?;
        let [up, down] = self.angles_for_foot(leg, point, frame)?;
        let pose = |(knee, angles_deg)| {
            self.pulses_for_angles(leg, angles_deg)
                .map(|pulses_us| Pose {
                    knee,
                    angles_deg,
                    pulses_us,
                })
        };
        pose(up).or_else(|why| pose(down).map_err(|_| why))
    }

    /// The poses of all legs, in the order of the file, that keep their feet where they are planted on the ground while the body stands like this.
    ///
    /// All or none: the first leg that cannot have its foot there says why.
    pub fn stand(&self, feet: &[Vec3], body: BodyPose) -> Result<Vec<Pose>, (LegIndex, NoPose)> {
        self.legs()
            .zip(feet)
            .map(|(leg, &foot)| {
                self.pose_for_foot(leg, foot, Frame::Ground(body))
                    .map_err(|why| (leg, why))
            })
            .collect()
    }

    /// Looks along a path, in steps of at most `step_mm`, for what stops this leg; the knee stays where it starts.
    ///
    /// The path is in the given frame. Returns the way the leg bends its knee when nothing stops it.
    pub fn along(
        &self,
        leg: LegIndex,
        path: &FootPath,
        frame: Frame,
        step_mm: f64,
    ) -> Result<Knee, Blocked> {
        let at = |why, reached| Blocked { reached, why };
        let start = self
            .pose_for_foot(leg, path.shape.at(0.0), frame)
            .map_err(|why| at(why, None))?;
        let steps = (path.shape.length() / step_mm.max(1e-3)).ceil();
        // A path of a kilometre is no foot's: bounded, so that a wrong number cannot hang the caller.
        let steps = if steps.is_finite() {
            steps.clamp(1.0, 1e6)
        } else {
            1.0
        };
        for step in 1..=steps as u32 {
            let part = f64::from(step) / steps;
            let point = self.to_leg_frame(leg, path.shape.at(part), frame);
            self.geometry(leg)
                .ik(point, start.knee)
                .map_err(NoPose::from)
                .and_then(|angles| self.pulses_for_angles(leg, angles.map(f64::to_degrees)))
                .map_err(|why| at(why, Some(f64::from(step - 1) / steps)))?;
        }
        Ok(start.knee)
    }

    fn within(&self, leg: LegIndex, pulses_us: [f64; 3]) -> Result<(), NoPose> {
        match self.beyond(leg, pulses_us) {
            None => Ok(()),
            Some(it) => Err(NoPose::Limit {
                leg: self.leg_data(leg).name.clone(),
                joint: it.joint,
                by_deg: it.by_deg,
                by_us: it.by_us,
                bound: it.bound,
            }),
        }
    }

    /// Whether zero and µs/degree of all three joints are known.
    pub fn calibrated(&self, leg: LegIndex) -> Result<(), NoPose> {
        let data = self.leg_data(leg);
        for kind in JointKind::ALL {
            let joint = data.joint(kind);
            let missing = match (&joint.zero, &joint.scale) {
                (None, _) => "zero_us",
                (_, None) => "us_per_degree",
                _ => continue,
            };
            return Err(NoPose::NotCalibrated {
                leg: data.name.clone(),
                joint: kind,
                missing,
            });
        }
        Ok(())
    }
}

/// Which bound is the innermost on one side.
fn bound_of(joint: &Joint, upper: bool) -> Bound {
    let end = if upper {
        &joint.far_end
    } else {
        &joint.near_end
    };
    match (joint.limits, end) {
        (Some(_), _) => Bound::Limit,
        (None, Some(_)) => Bound::End,
        (None, None) => Bound::Board,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{MARRAM, read};
    use crate::kinematics::{Shape, Timing};

    fn marram() -> CalibratedRobot {
        CalibratedRobot::new(read(MARRAM).robot.expect("a good file"))
    }

    #[test]
    fn the_worked_pose_of_the_screens() {
        // LF femur 1612.5 µs is +11.8°, tibia 1516 µs is −71.0°: with a coxa at −4.0° the foot is
        // 149.5 out, 10.4 to the side and 75.6 down. All as printed there.
        let robot = marram();
        let lf = robot.leg("LF").expect("there");
        let foot = robot.foot(lf, [-4.0, 11.8, -71.0], Frame::Leg);
        let printed = [149.5, -10.4, -75.6];
        for (ours, theirs) in foot.into_iter().zip(printed) {
            assert!((ours - theirs).abs() < 0.1, "{foot:?}");
        }
        let angles = robot
            .angles_of_pulses(lf, [1500.0, 1612.5, 1516.0])
            .expect("calibrated");
        assert!((angles[1] - 11.8).abs() < 0.05 && (angles[2] + 71.0).abs() < 0.05);
    }

    #[test]
    fn every_frame_gives_the_same_pulses() {
        let robot = marram();
        let ground = Frame::Ground(BodyPose {
            at: [40.0, -20.0, 84.0],
            roll: 0.05,
            pitch: -0.03,
            yaw: 0.4,
        });
        for leg in robot.legs() {
            let at = robot
                .pose_for_foot(leg, [125.0, 15.0, -80.0], Frame::Leg)
                .expect("in reach");
            for frame in [Frame::Leg, Frame::Body, ground] {
                let point = robot
                    .foot_of_pulses(leg, at.pulses_us, frame)
                    .expect("calibrated");
                let again = robot.pose_for_foot(leg, point, frame).expect("in reach");
                for k in 0..3 {
                    assert!((again.pulses_us[k] - at.pulses_us[k]).abs() < 1e-8);
                }
            }
        }
    }

    #[test]
    fn nothing_beyond_a_limit_is_handed_out() {
        let robot = marram();
        let lf = robot.leg("LF").expect("there");
        let femur = robot.leg_data(lf).joint(JointKind::Femur);
        let (_, high) = femur.allowed_deg().expect("known");
        let at = |femur| robot.pulses_for_angles(lf, [0.0, femur, -80.0]);
        assert!(at(high).is_ok());
        match at(high + 1.5) {
            Err(NoPose::Limit {
                joint,
                by_deg,
                bound,
                ..
            }) => {
                assert_eq!((joint, bound), (JointKind::Femur, Bound::Limit));
                assert!((by_deg - 1.5).abs() < 1e-6);
            }
            other => panic!("{other:?}"),
        }
        assert_eq!(at(f64::NAN), Err(NoPose::NotFinite));
        let straight = robot.pose_for_foot(lf, [202.0, 0.0, 0.0], Frame::Leg);
        assert!(
            matches!(straight, Err(NoPose::Limit { .. })),
            "{straight:?}"
        );
        let nan = robot.pose_for_foot(lf, [f64::NAN, 0.0, 0.0], Frame::Body);
        assert_eq!(nan, Err(NoPose::Unreachable(Unreachable::NotFinite)));
    }

    #[test]
    fn the_body_moves_and_the_feet_stay_planted() {
        let robot = marram();
        let start = BodyPose {
            at: [0.0, 0.0, 80.0],
            ..BodyPose::default()
        };
        let feet: Vec<Vec3> = robot
            .legs()
            .map(|leg| {
                let foot = robot.from_leg_frame(leg, [125.0, 0.0, -80.0], Frame::Ground(start));
                assert!(foot[2].abs() < 1e-12);
                foot
            })
            .collect();
        let moved = BodyPose {
            at: [6.0, -4.0, 84.0],
            roll: 0.03,
            pitch: -0.02,
            yaw: 0.05,
        };
        let poses = robot.stand(&feet, moved).expect("a small move");
        for ((leg, pose), foot) in robot.legs().zip(poses).zip(&feet) {
            let there = robot
                .foot_of_pulses(leg, pose.pulses_us, Frame::Ground(moved))
                .expect("calibrated");
            for k in 0..3 {
                assert!((there[k] - foot[k]).abs() < 1e-9);
            }
        }
        let tall = BodyPose {
            at: [0.0, 0.0, 180.0],
            ..BodyPose::default()
        };
        let (leg, why) = robot.stand(&feet, tall).expect_err("too tall");
        assert_eq!(robot.leg_data(leg).name, "LF");
        assert!(matches!(
            why,
            NoPose::Unreachable(Unreachable::TooFar { .. })
        ));
    }

    #[test]
    fn a_leg_that_is_not_calibrated_says_what_is_missing() {
        let text = MARRAM.replacen("zero_us", "#zero_us", 3);
        let robot = CalibratedRobot::new(read(&text).robot.expect("a good file"));
        let lf = robot.leg("LF").expect("there");
        let why = robot.pose_for_foot(lf, [120.0, 0.0, -80.0], Frame::Leg);
        assert_eq!(
            why.expect_err("unknown").to_string(),
            "coxa of LF has no zero_us in the file: record it first"
        );
        assert!(matches!(robot.leg("XX"), Err(NoPose::NoLeg { .. })));
    }

    #[test]
    fn a_path_is_blocked_where_the_leg_ends() {
        let robot = marram();
        let lf = robot.leg("LF").expect("there");
        let out = |to| {
            let shape = Shape::Straight {
                from: [120.0, 0.0, -80.0],
                to: [to, 0.0, -80.0],
            };
            let path = FootPath::with_top_speed(shape, Timing::Steady, 100.0).expect("a speed");
            robot.along(lf, &path, Frame::Leg, 0.5)
        };
        assert_eq!(out(140.0), Ok(Knee::Up));
        let blocked = out(220.0).expect_err("too far");
        // 80 below, the straight leg of 171 reaches 31 + √(171² − 80²) = 182.1; the tibia's limit comes before.
        let reached = 120.0 + 100.0 * blocked.reached.expect("a part");
        assert!((140.0..182.2).contains(&reached), "{reached}");
        assert!(matches!(
            blocked.why,
            NoPose::Limit {
                joint: JointKind::Tibia,
                ..
            }
        ));
    }
}
