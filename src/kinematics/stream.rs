//! A motion of feet cut into frames: the pulses to send next, so that no foot and no joint is too fast.
//!
//! It has no clock: each call is one frame, so that a late caller delays the motion and never hurries it.
//! Feet go along straight lines from rest to rest; the speed grows and falls by one acceleration.

use super::body::{BodyPose, length, sub};
use super::leg::{Unreachable, Vec3};
use super::legroom::{APART_MM, InTheWay, Legroom};
use super::robot::{CalibratedRobot, Frame, LegIndex};

/// A frame of the board, seconds.
pub const FRAME_S: f64 = 0.02;
/// No foot is faster than this while a person jogs, mm/s (ISO 10218-1's reduced speed).
pub const FOOT_MM_S: f64 = 250.0;
/// What one set-point may move a foot, mm.
///
/// The link's delay varies, so that six set-points can fall into five frames: even then it stays below 250 mm/s.
pub const SET_POINT_MM: f64 = FOOT_MM_S * FRAME_S * 5.0 / 6.0;
/// How the speed grows and falls, mm/s².
const GAIN_MM_S2: f64 = 400.0;
/// How closely a course is looked along before it is gone, mm.
const LOOK_MM: f64 = 1.0;

/// What moves, and from where to where.
#[derive(Debug, Clone, PartialEq)]
pub enum Course {
    /// One foot in a straight line, in its leg's frame.
    Line {
        /// From here, mm.
        from: Vec3,
        /// To here, mm.
        to: Vec3,
    },
    /// One leg's joints together, from angles to angles: the other knee.
    Joints {
        /// From these, degrees.
        from: [f64; 3],
        /// To these, degrees.
        to: [f64; 3],
    },
    /// The body over feet that stay where they are on the ground.
    Body {
        /// The feet on the ground, one for each leg that stands.
        feet: Vec<Vec3>,
        /// From this pose.
        from: BodyPose,
        /// To this one.
        to: BodyPose,
    },
}

/// One frame's set-point.
#[derive(Debug, Clone, PartialEq)]
pub struct SetPoint {
    /// Pulses of coxa, femur, tibia of each leg that moves, µs: whole ones, and halves when it is the last.
    pub pulses_us: Vec<[f64; 3]>,
    /// The course is done.
    pub last: bool,
}

/// A course that is being gone.
#[derive(Debug, Clone)]
pub struct Stream {
    rooms: Vec<Legroom>,
    slews_us_per_frame: Vec<[f64; 3]>,
    course: Course,
    length_mm: f64,
    /// The part of the course up to which nothing is in the way, and what is there.
    end: f64,
    stop: Option<InTheWay>,
    part: f64,
    speed_mm_s: f64,
    feet: Vec<Vec3>,
    sent_us: Vec<[f64; 3]>,
    done: bool,
}

impl Course {
    /// Angles of each leg that moves, degrees, at a part of the course.
    fn at(
        &self,
        robot: &CalibratedRobot,
        rooms: &[Legroom],
        part: f64,
    ) -> Result<Vec<[f64; 3]>, Unreachable> {
        match self {
            Course::Line { from, to } => rooms
                .iter()
                .map(|room| room.angles_at(robot, between(from, to, part)))
                .collect(),
            Course::Joints { from, to } => Ok(vec![between(from, to, part)]),
            Course::Body { feet, .. } => {
                let pose = Frame::Ground(self.pose(part).unwrap_or_default());
                rooms
                    .iter()
                    .zip(feet)
                    .map(|(room, foot)| {
                        room.angles_at(robot, robot.to_leg_frame(room.leg, *foot, pose))
                    })
                    .collect()
            }
        }
    }

    /// The body's pose at a part of the course, if it is the body that moves.
    pub fn pose(&self, part: f64) -> Option<BodyPose> {
        let Course::Body { from, to, .. } = self else {
            return None;
        };
        let mix = |a: f64, b: f64| a + (b - a) * part;
        Some(BodyPose {
            at: between(&from.at, &to.at, part),
            roll: mix(from.roll, to.roll),
            pitch: mix(from.pitch, to.pitch),
            yaw: mix(from.yaw, to.yaw),
        })
    }
}

/// Both ends are met exactly, whatever the rounding between.
fn between(from: &Vec3, to: &Vec3, part: f64) -> Vec3 {
    if part >= 1.0 {
        return *to;
    }
    std::array::from_fn(|i| from[i] + (to[i] - from[i]) * part)
}

impl Stream {
    /// Looks along the whole course before anything moves; [`Stream::free_mm`] says how far it can be gone.
    ///
    /// `rooms`: the legs that move, where they stand; `slews_us_per_s`: their joints' top speeds;
    /// `still`: the other legs and their angles.
    pub fn plan(
        robot: &CalibratedRobot,
        rooms: Vec<Legroom>,
        slews_us_per_s: &[[f64; 3]],
        still: &[(LegIndex, [f64; 3])],
        course: Course,
    ) -> Stream {
        let mut stream = Stream {
            slews_us_per_frame: slews_us_per_s
                .iter()
                .map(|slews| slews.map(|it| it * FRAME_S))
                .collect(),
            length_mm: 0.0,
            end: 0.0,
            stop: None,
            part: 0.0,
            speed_mm_s: 0.0,
            feet: rooms.iter().map(|room| room.foot).collect(),
            sent_us: rooms.iter().map(|room| room.pulses_us).collect(),
            done: false,
            rooms,
            course,
        };
        stream.look(robot, still);
        stream
    }

    fn look(&mut self, robot: &CalibratedRobot, still: &[(LegIndex, [f64; 3])]) {
        let coarse = self.coarse_mm(robot);
        let steps = (coarse / LOOK_MM).ceil().clamp(1.0, 4000.0) as u32;
        let start: Vec<_> = self.rooms.iter().map(|room| room.angles_deg).collect();
        let near = self.apart(robot, still, &start);
        let mut good = 0.0;
        for step in 1..=steps {
            let part = f64::from(step) / f64::from(steps);
            match self.passable(robot, still, &near, part) {
                Ok(()) => good = part,
                Err(why) => {
                    let (mut bad, mut why) = (part, why);
                    for _ in 0..20 {
                        let middle = (good + bad) / 2.0;
                        match self.passable(robot, still, &near, middle) {
                            Ok(()) => good = middle,
                            Err(nearer) => (bad, why) = (middle, nearer),
                        }
                    }
                    self.stop = Some(why);
                    break;
                }
            }
        }
        self.end = good;
        self.length_mm = self.measured(robot, steps.max(16), good) / good.max(1e-12);
        self.done = self.free_mm() < 1e-6;
    }

    /// A length that the course surely has not more than, mm.
    fn coarse_mm(&self, robot: &CalibratedRobot) -> f64 {
        match &self.course {
            Course::Line { from, to } => length(sub(*to, *from)),
            Course::Joints { from, to } => {
                let turned: f64 = (0..3).map(|i| (to[i] - from[i]).abs().to_radians()).sum();
                let links = self.rooms.iter().map(|room| {
                    let leg = robot.geometry(room.leg);
                    leg.coxa + leg.femur + leg.tibia
                });
                turned * links.fold(0.0, f64::max)
            }
            Course::Body { feet, from, to } => {
                let turned = (to.roll - from.roll).abs()
                    + (to.pitch - from.pitch).abs()
                    + (to.yaw - from.yaw).abs();
                let arm = feet
                    .iter()
                    .map(|foot| length(sub(*foot, from.at)))
                    .fold(0.0, f64::max);
                length(sub(to.at, from.at)) + turned * (arm + length(sub(to.at, from.at)))
            }
        }
    }

    /// The longest way of a foot up to a part of the course, mm.
    fn measured(&self, robot: &CalibratedRobot, steps: u32, end: f64) -> f64 {
        let mut ways = vec![0.0; self.rooms.len()];
        let mut before = self.feet.clone();
        for step in 1..=steps {
            let part = end * f64::from(step) / f64::from(steps);
            let Ok(angles) = self.course.at(robot, &self.rooms, part) else {
                break;
            };
            let feet = self.feet_at(robot, &angles);
            for ((way, foot), before) in ways.iter_mut().zip(&feet).zip(&before) {
                *way += length(sub(*foot, *before));
            }
            before = feet;
        }
        ways.into_iter().fold(0.0, f64::max)
    }

    fn feet_at(&self, robot: &CalibratedRobot, angles: &[[f64; 3]]) -> Vec<Vec3> {
        self.rooms
            .iter()
            .zip(angles)
            .map(|(room, angles)| robot.foot(room.leg, *angles, Frame::Leg))
            .collect()
    }

    fn passable(
        &self,
        robot: &CalibratedRobot,
        still: &[(LegIndex, [f64; 3])],
        near: &[f64],
        part: f64,
    ) -> Result<(), InTheWay> {
        let angles = self.course.at(robot, &self.rooms, part)?;
        for (room, angles) in self.rooms.iter().zip(&angles) {
            room.pulses_for(robot, *angles)?;
        }
        let apart = self.apart(robot, still, &angles);
        for (index, (now, at_start)) in apart.iter().zip(near).enumerate() {
            // Legs that stand too near already may part, not come nearer.
            if *now < at_start.min(APART_MM) - 1e-9 {
                let (leg, other) = self.pairs(still).nth(index).unwrap_or((0, 0));
                let leg_of = |i: usize| match self.rooms.get(i) {
                    Some(room) => room.leg,
                    None => still[i - self.rooms.len()].0,
                };
                return Err(InTheWay::Leg {
                    leg: leg_of(leg),
                    other: leg_of(other),
                });
            }
        }
        Ok(())
    }

    /// Pairs of legs of which one moves at least: numbers among the moving ones and, behind them, the still ones.
    fn pairs(
        &self,
        still: &[(LegIndex, [f64; 3])],
    ) -> impl Iterator<Item = (usize, usize)> + use<> {
        let (moving, all) = (self.rooms.len(), self.rooms.len() + still.len());
        (0..moving).flat_map(move |a| (a + 1..all).map(move |b| (a, b)))
    }

    fn apart(
        &self,
        robot: &CalibratedRobot,
        still: &[(LegIndex, [f64; 3])],
        angles: &[[f64; 3]],
    ) -> Vec<f64> {
        let moving = self.rooms.iter().zip(angles);
        let all: Vec<(LegIndex, [f64; 3])> = moving
            .map(|(room, angles)| (room.leg, *angles))
            .chain(still.iter().copied())
            .collect();
        self.pairs(still)
            .map(|(a, b)| robot.legs_apart(all[a], all[b]))
            .collect()
    }

    /// Carries the speed of a course that this one takes the place of, as far as it goes the same way.
    pub fn carry_on_from(&mut self, before: &Stream) {
        let along = |course: &Course| match course {
            Course::Line { from, to } => Some(sub(*to, *from)),
            _ => None,
        };
        let (Some(old), Some(new)) = (along(&before.course), along(&self.course)) else {
            return;
        };
        let dot: f64 = (0..3).map(|i| old[i] * new[i]).sum();
        let cosine = dot / (length(old) * length(new));
        if cosine.is_finite() {
            self.speed_mm_s = before.speed_mm_s * cosine.max(0.0);
        }
        // What was sent last was rounded: the next step starts there.
        if before.sent_us.len() == self.sent_us.len() {
            self.sent_us.clone_from(&before.sent_us);
        }
    }

    /// How far the foot that goes farthest can go, mm.
    pub fn free_mm(&self) -> f64 {
        self.length_mm * self.end
    }

    /// The part of the course that can be gone, 0 to 1.
    pub fn free_part(&self) -> f64 {
        self.end
    }

    /// The feet on the ground, if it is the body that moves.
    pub fn planted(&self) -> Option<&[Vec3]> {
        match &self.course {
            Course::Body { feet, .. } => Some(feet),
            _ => None,
        }
    }

    /// What is in the way before the course is done.
    pub fn stop(&self) -> Option<InTheWay> {
        self.stop
    }

    /// The legs that move.
    pub fn legs(&self) -> impl Iterator<Item = LegIndex> + '_ {
        self.rooms.iter().map(|room| room.leg)
    }

    /// Where the feet are now, each in its leg's frame, mm.
    pub fn feet(&self) -> &[Vec3] {
        &self.feet
    }

    /// The body's pose now, if it is the body that moves.
    pub fn pose(&self) -> Option<BodyPose> {
        self.course.pose(self.part)
    }

    /// The exact pulses of where the feet are now, µs: what was sent last, but for its rounding.
    pub fn pulses_us(&self, robot: &CalibratedRobot) -> Vec<[f64; 3]> {
        self.pulses_at(robot, self.part)
    }

    /// The exact pulses of where the feet will be in the end, µs.
    pub fn goal_pulses_us(&self, robot: &CalibratedRobot) -> Vec<[f64; 3]> {
        self.pulses_at(robot, self.end)
    }

    fn pulses_at(&self, robot: &CalibratedRobot, part: f64) -> Vec<[f64; 3]> {
        let angles = self.course.at(robot, &self.rooms, part).ok();
        let at = |i: usize, room: &Legroom| {
            let angles = angles.as_ref()?.get(i)?;
            robot.raw_pulses(room.leg, *angles).ok()
        };
        let rooms = self.rooms.iter().enumerate();
        rooms
            .map(|(i, room)| at(i, room).unwrap_or(room.pulses_us))
            .collect()
    }

    /// Where the feet will be in the end, each in its leg's frame, mm; and the body's pose.
    pub fn goal(&self, robot: &CalibratedRobot) -> (Vec<Vec3>, Option<BodyPose>) {
        let angles = self.course.at(robot, &self.rooms, self.end);
        let feet = angles.map_or_else(|_| self.feet.clone(), |it| self.feet_at(robot, &it));
        (feet, self.course.pose(self.end))
    }

    /// Whether nothing is left to be sent.
    pub fn is_done(&self) -> bool {
        self.done
    }

    /// In how many frames it will be done.
    pub fn frames_left(&self, robot: &CalibratedRobot) -> u32 {
        let mut copy = self.clone();
        let mut frames = 0;
        while copy.next(robot).is_some() {
            frames += 1;
        }
        frames
    }

    /// The next frame's set-point; `None` when the course is done.
    pub fn next(&mut self, robot: &CalibratedRobot) -> Option<SetPoint> {
        if self.done {
            return None;
        }
        let left_mm = (self.end - self.part) * self.length_mm;
        let gain = GAIN_MM_S2 * FRAME_S;
        // The speed from which the rest of the way still suffices to stop, and no more than one gain above the last.
        let to_stop = (gain * gain + 2.0 * GAIN_MM_S2 * left_mm).sqrt() - gain;
        let speed = (self.speed_mm_s + gain)
            .min(to_stop)
            .min(SET_POINT_MM / FRAME_S);
        let mut step_mm = (speed * FRAME_S).max(gain * FRAME_S).min(left_mm);
        // A joint near the straight leg may be the slower one: the step is shortened until all can follow.
        for _ in 0..60 {
            let last = step_mm >= left_mm;
            let part = if last {
                self.end
            } else {
                self.part + step_mm / self.length_mm
            };
            if let Some(fits) = self.try_step(robot, part, last) {
                if fits >= 1.0 {
                    self.speed_mm_s = step_mm / FRAME_S;
                    return Some(SetPoint {
                        pulses_us: self.sent_us.clone(),
                        last,
                    });
                }
                step_mm *= (fits * 0.98).max(0.5);
            } else {
                step_mm *= 0.5;
            }
        }
        // Nothing fits, which only a course that is not passable can bring about: it ends here.
        self.done = true;
        None
    }

    /// Goes to a part of the course if all can follow within one frame: 1. Else the share of the step that could; `None` if it cannot be had at all.
    fn try_step(&mut self, robot: &CalibratedRobot, part: f64, last: bool) -> Option<f64> {
        let angles = self.course.at(robot, &self.rooms, part).ok()?;
        let feet = self.feet_at(robot, &angles);
        let mut fits = f64::INFINITY;
        for (foot, before) in feet.iter().zip(&self.feet) {
            let moved = length(sub(*foot, *before));
            fits = fits.min(SET_POINT_MM * (1.0 + 1e-9) / moved);
        }
        let per_us = if last { 2.0 } else { 1.0 };
        let mut pulses = Vec::with_capacity(self.rooms.len());
        for (index, room) in self.rooms.iter().enumerate() {
            let exact = room.pulses_for(robot, angles[index]).ok()?;
            let rounded = room.rounded(exact, per_us);
            let (before, slews) = (self.sent_us[index], self.slews_us_per_frame[index]);
            for ((now, before), slew) in rounded.iter().zip(before).zip(slews) {
                // A slew below one microsecond a frame: the board itself takes longer then.
                fits = fits.min((slew.max(1.0) + 1e-9) / (now - before).abs());
            }
            pulses.push(rounded);
        }
        if fits >= 1.0 {
            self.part = part;
            self.feet = feet;
            self.sent_us = pulses;
            self.done = last;
        }
        Some(fits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::read;
    use crate::kinematics::Knee;

    const SIX_LEGS: &str = include_str!("../../tests/data/six_legs.toml");
    const WIDE: [(f64, f64); 3] = [(500.0, 2500.0); 3];
    const SLEWS: [f64; 3] = [750.0, 890.0, 1000.0];

    fn marram() -> CalibratedRobot {
        CalibratedRobot::new(read(SIX_LEGS).robot.expect("a good file"))
    }

    fn room(robot: &CalibratedRobot, name: &str, angles: [f64; 3]) -> Legroom {
        let leg = robot.leg(name).expect("there");
        let pulses = robot.raw_pulses(leg, angles).expect("calibrated");
        // A board has halves.
        let pulses = pulses.map(|us| (us * 2.0).round() / 2.0);
        Legroom::new(robot, leg, pulses, WIDE).expect("calibrated")
    }

    fn line(robot: &CalibratedRobot, to: impl Fn(Vec3) -> Vec3) -> Stream {
        let room = room(robot, "LF", [-4.0, 11.8, -71.0]);
        let course = Course::Line {
            from: room.foot,
            to: to(room.foot),
        };
        Stream::plan(robot, vec![room], &[SLEWS], &[], course)
    }

    /// All set-points, with the pulses before the first.
    fn run(robot: &CalibratedRobot, stream: &mut Stream) -> Vec<Vec<[f64; 3]>> {
        let mut points = vec![stream.rooms.iter().map(|r| r.pulses_us).collect()];
        while let Some(point) = stream.next(robot) {
            assert_eq!(point.last, stream.is_done());
            let whole = point.pulses_us.iter().flatten().all(|us| us.fract() == 0.0);
            let halves = point
                .pulses_us
                .iter()
                .flatten()
                .all(|us| (us * 2.0).fract() == 0.0);
            assert!(if point.last { halves } else { whole }, "{point:?}");
            points.push(point.pulses_us);
        }
        points
    }

    /// How far a point is from the line.
    fn off(point: Vec3, from: Vec3, to: Vec3) -> f64 {
        let along = sub(to, from);
        let size = length(along);
        let part = (0..3).map(|i| (point[i] - from[i]) * along[i]).sum::<f64>() / (size * size);
        length(sub(point, between(&from, &to, part.clamp(0.0, 1.0))))
    }

    #[test]
    fn the_foot_goes_straight_no_faster_than_it_may_and_arrives_to_the_half_microsecond() {
        let robot = marram();
        let lf = robot.leg("LF").expect("there");
        for to in [
            [20.0, 0.0, 0.0],
            [-60.0, 50.0, 30.0],
            [-70.0, -60.0, -40.0],
            [0.0, 0.0, 0.4],
            [10.0, 110.0, 40.0],
        ] {
            let mut stream = line(&robot, |from| {
                [from[0] + to[0], from[1] + to[1], from[2] + to[2]]
            });
            assert_eq!(stream.stop(), None, "{to:?}");
            assert!((stream.free_mm() - length(to)).abs() < 1e-6);
            let Course::Line { from, to: goal } = stream.course else {
                panic!("a line");
            };
            let frames = stream.frames_left(&robot);
            let points = run(&robot, &mut stream);
            assert_eq!(points.len() as u32, frames + 1);
            let feet: Vec<Vec3> = points
                .iter()
                .map(|p| {
                    robot
                        .foot_of_pulses(lf, p[0], Frame::Leg)
                        .expect("calibrated")
                })
                .collect();
            for foot in &feet {
                assert!(off(*foot, from, goal) < 0.35, "{foot:?}");
            }
            // Half a half-microsecond a joint.
            assert!(length(sub(feet[feet.len() - 1], goal)) < 0.1);
            for pair in points.windows(2) {
                for (joint, slew) in SLEWS.iter().enumerate() {
                    let moved = (pair[1][0][joint] - pair[0][0][joint]).abs();
                    assert!(moved <= slew / 50.0, "{joint}: {moved}");
                }
            }
            // Even when six set-points fall into five frames: 25 mm, and the rounding of both ends.
            for six in feet.windows(7) {
                let moved = length(sub(six[6], six[0]));
                assert!(moved <= 25.0 + 0.7, "{moved}");
            }
        }
    }

    #[test]
    fn a_long_way_with_fast_joints_is_gone_at_the_cap_and_not_above_it() {
        // 240 mm across in front of the leg, and joints so fast that nothing but the cap bounds the foot:
        // its gain alone would let it reach 310 mm/s in the middle (√(400 mm/s² · 240 mm)).
        let robot = marram();
        let lf = robot.leg("LF").expect("there");
        let (from, to) = ([130.0, -120.0, -40.0], [130.0, 120.0, -40.0]);
        let angles = robot.geometry(lf).ik(from, Knee::Up).expect("reached");
        let room = room(&robot, "LF", angles.map(f64::to_degrees));
        let course = Course::Line {
            from: room.foot,
            to,
        };
        let fast = [100_000.0; 3];
        let mut stream = Stream::plan(&robot, vec![room], &[fast], &[], course);
        assert_eq!(stream.stop(), None);
        let points = run(&robot, &mut stream);
        let feet: Vec<Vec3> = points
            .iter()
            .map(|p| {
                let foot = robot.foot_of_pulses(lf, p[0], Frame::Leg);
                foot.expect("calibrated")
            })
            .collect();
        let fastest = |set_points: usize| {
            let moved = feet
                .windows(set_points + 1)
                .map(|w| length(sub(w[set_points], w[0])));
            moved.fold(0.0, f64::max)
        };
        // Figures, not the constants of this file: 250 mm/s are 25 mm in five frames, whose rounding may add 1 mm.
        // That many set-points fall into five frames: five, and six when the link's delay varies.
        let (five, six) = (fastest(5), fastest(6));
        assert!((24.0..=26.0).contains(&six), "six set-points: {six} mm");
        assert!((20.0..=21.8).contains(&five), "five set-points: {five} mm");
        // It stays there, and was not touched for one frame only: 240 mm less two ways of 54 mm to gain and lose the speed.
        let at_cap = feet
            .windows(7)
            .filter(|w| length(sub(w[6], w[0])) > 24.0)
            .count();
        assert!(at_cap > 20, "{at_cap} windows at the cap");
    }

    #[test]
    fn it_starts_and_stops_gently() {
        let robot = marram();
        let mut stream = line(&robot, |[x, y, z]| [x - 60.0, y, z]);
        let mut before = stream.feet()[0];
        let mut speeds = vec![0.0];
        while stream.next(&robot).is_some() {
            speeds.push(length(sub(stream.feet()[0], before)) / FRAME_S);
            before = stream.feet()[0];
        }
        speeds.push(0.0);
        for pair in speeds.windows(2) {
            assert!(
                (pair[1] - pair[0]).abs() <= 2.0 * GAIN_MM_S2 * FRAME_S + 1e-6,
                "{speeds:?}"
            );
        }
    }

    #[test]
    fn what_is_in_the_way_is_known_before_and_never_passed() {
        let robot = marram();
        let mut stream = line(&robot, |[x, y, z]| [x + 400.0, y, z]);
        let Some(InTheWay::Joint { joint, at_deg, .. }) = stream.stop() else {
            panic!("{:?}", stream.stop());
        };
        assert_eq!(joint, crate::calibration::JointKind::Tibia);
        assert!((at_deg + 37.98).abs() < 0.01);
        let free = stream.free_mm();
        // By hand: at −37.98° of the knee the foot is √(67² + 104² + 2·67·104·cos 37.98°) = 162.2 from the femur axis,
        // which 75.6 below is 31 + 143.5 = 174.5 from the coxa axis; √(174.5² − 10.4²) − 149.5 = 24.7 mm ahead.
        assert!((free - 24.7).abs() < 0.2, "{free}");
        let lf = robot.leg("LF").expect("there");
        let last = run(&robot, &mut stream).pop().expect("a last one");
        assert!(robot.beyond(lf, last[0]).is_none());
        assert!(stream.is_done());
    }

    #[test]
    fn a_point_out_of_reach_is_said_so_where_nothing_else_stops_the_leg() {
        let text: String = SIX_LEGS
            .lines()
            .filter(|line| !line.contains("limits_us") && !line.contains("_end_us"))
            .map(|line| format!("{line}\n"))
            .collect();
        let robot = CalibratedRobot::new(read(&text).robot.expect("a good file"));
        let stream = line(&robot, |[x, y, z]| [x + 400.0, y, z]);
        assert!(matches!(
            stream.stop(),
            Some(InTheWay::Reach(Unreachable::TooFar { .. }))
        ));
    }

    #[test]
    fn a_neighbour_stops_the_foot_and_a_leg_too_near_may_part() {
        let robot = marram();
        let (lf, lm) = (
            robot.leg("LF").expect("there"),
            robot.leg("LM").expect("there"),
        );
        let plan = |angles: [f64; 3], to: Vec3| {
            let room = room(&robot, "LF", angles);
            let course = Course::Line {
                from: room.foot,
                to,
            };
            let still = [(lm, [-44.0, 30.0, -90.0])];
            Stream::plan(&robot, vec![room], &[SLEWS], &still, course)
        };
        let there = room(&robot, "LF", [44.0, 30.0, -90.0]).foot;
        let stream = plan([0.0, 30.0, -90.0], there);
        assert_eq!(stream.stop(), Some(InTheWay::Leg { leg: lf, other: lm }));
        let (goal, _) = stream.goal(&robot);
        assert!(length(sub(goal[0], there)) > 5.0);
        let back = room(&robot, "LF", [0.0, 30.0, -90.0]).foot;
        let stream = plan([44.0, 30.0, -90.0], back);
        assert_eq!(stream.stop(), None);
    }

    #[test]
    fn a_course_that_takes_anothers_place_starts_where_the_foot_is_and_keeps_its_speed() {
        let robot = marram();
        let mut first = line(&robot, |[x, y, z]| [x - 60.0, y, z]);
        for _ in 0..8 {
            first.next(&robot);
        }
        let here = first.feet()[0];
        let lf = robot.leg("LF").expect("there");
        let on = |to: Vec3| {
            let room = Legroom::new(&robot, lf, first.pulses_us(&robot)[0], WIDE).expect("known");
            let course = Course::Line {
                from: room.foot,
                to,
            };
            let mut stream = Stream::plan(&robot, vec![room], &[SLEWS], &[], course);
            assert!(length(sub(stream.feet()[0], here)) < 1e-9);
            stream.carry_on_from(&first);
            stream
        };
        let mut farther = on([here[0] - 80.0, here[1], here[2]]);
        assert!((farther.speed_mm_s - first.speed_mm_s).abs() < 1e-6 && first.speed_mm_s > 30.0);
        let points = run(&robot, &mut farther);
        for joint in 0..3 {
            let moved = (points[1][0][joint] - first.sent_us[0][joint]).abs();
            assert!(moved <= SLEWS[joint] / 50.0);
        }
        assert_eq!(on([here[0] + 20.0, here[1], here[2]]).speed_mm_s, 0.0);
        assert!(on([here[0], here[1], here[2] + 20.0]).speed_mm_s < 1e-6);
    }

    #[test]
    fn the_other_knee_ends_with_the_foot_where_it_was() {
        let text: String = SIX_LEGS
            .lines()
            .filter(|line| !line.contains("limits_us") && !line.contains("_end_us"))
            .map(|line| format!("{line}\n"))
            .collect();
        let text = text.replace("zero_us = { value = 2290.0", "zero_us = { value = 1500.0");
        let robot = CalibratedRobot::new(read(&text).robot.expect("a good file"));
        let room = room(&robot, "LF", [0.0, 20.0, -50.0]);
        let to = robot
            .geometry(room.leg)
            .ik(room.foot, Knee::Down)
            .expect("reached");
        let course = Course::Joints {
            from: room.angles_deg,
            to: to.map(f64::to_degrees),
        };
        let foot = room.foot;
        let mut stream = Stream::plan(&robot, vec![room], &[SLEWS], &[], course);
        assert_eq!(stream.stop(), None);
        let points = run(&robot, &mut stream);
        assert!(length(sub(stream.feet()[0], foot)) < 1e-6);
        assert!(points.len() > 30);
    }

    #[test]
    fn the_body_moves_over_feet_that_stay() {
        let robot = marram();
        let rooms: Vec<Legroom> = ["LF", "LM", "LR", "RF", "RM", "RR"]
            .map(|name| room(&robot, name, [0.0, 20.0, -85.0]))
            .into();
        let feet: Vec<Vec3> = rooms
            .iter()
            .map(|room| robot.from_leg_frame(room.leg, room.foot, Frame::Body))
            .collect();
        let to = BodyPose {
            at: [15.0, -10.0, 12.0],
            roll: 0.05,
            pitch: -0.08,
            yaw: 0.2,
        };
        let course = Course::Body {
            feet: feet.clone(),
            from: BodyPose::default(),
            to,
        };
        let slews = [SLEWS; 6];
        let mut stream = Stream::plan(&robot, rooms, &slews, &[], course.clone());
        assert_eq!(stream.stop(), None);
        let legs: Vec<LegIndex> = stream.legs().collect();
        let mut before: Vec<Vec3> = stream.feet().to_vec();
        while let Some(point) = stream.next(&robot) {
            let pose = stream.pose().expect("the body moves");
            for (i, leg) in legs.iter().enumerate() {
                let foot = robot
                    .foot_of_pulses(*leg, point.pulses_us[i], Frame::Ground(pose))
                    .expect("calibrated");
                assert!(length(sub(foot, feet[i])) < 0.4, "{foot:?}");
                let moved = length(sub(stream.feet()[i], before[i]));
                // A sixth of 25 mm: six set-points can fall into five frames.
                assert!(moved <= 25.0 / 6.0 + 1e-6, "{moved}");
            }
            before = stream.feet().to_vec();
        }
        assert_eq!(stream.pose(), Some(to));
        // Too far for a leg: it stops before, and says which joint of which leg.
        let far = Course::Body {
            feet,
            from: BodyPose::default(),
            to: BodyPose {
                at: [300.0, 0.0, 0.0],
                ..BodyPose::default()
            },
        };
        let rooms = stream.rooms.clone();
        let rooms: Vec<Legroom> = rooms
            .iter()
            .map(|room| Legroom::new(&robot, room.leg, room.pulses_us, WIDE).expect("known"))
            .collect();
        let stream = Stream::plan(&robot, rooms, &slews, &[], far);
        assert!(stream.stop().is_some());
        assert!(stream.free_mm() > 10.0);
    }

    #[test]
    fn a_wide_turn_of_the_body_takes_its_feet_to_the_cap_and_not_above_it() {
        let robot = marram();
        let rooms: Vec<Legroom> = ["LF", "LM", "LR", "RF", "RM", "RR"]
            .map(|name| room(&robot, name, [0.0, 20.0, -70.0]))
            .into();
        let feet: Vec<Vec3> = rooms
            .iter()
            .map(|room| robot.from_leg_frame(room.leg, room.foot, Frame::Body))
            .collect();
        let turned = |yaw: f64| BodyPose {
            yaw,
            ..BodyPose::default()
        };
        // Joints so fast that nothing but the cap bounds the feet.
        let fast = [[100_000.0; 3]; 6];
        let turn = |rooms: Vec<Legroom>, from: f64, to: f64| {
            let (feet, from, to) = (feet.clone(), turned(from), turned(to));
            let stream = Stream::plan(&robot, rooms, &fast, &[], Course::Body { feet, from, to });
            assert_eq!(stream.stop(), None);
            stream
        };
        let mut aside = turn(rooms, 0.0, -0.42);
        run(&robot, &mut aside);
        let pulses = aside.pulses_us(&robot);
        let rooms: Vec<Legroom> = aside
            .legs()
            .zip(pulses)
            .map(|(leg, us)| Legroom::new(&robot, leg, us, WIDE).expect("known"))
            .collect();
        let mut wide = turn(rooms, -0.42, 0.42);
        let legs: Vec<LegIndex> = wide.legs().collect();
        let points = run(&robot, &mut wide);
        let mut fastest = 0.0_f64;
        for (i, leg) in legs.iter().enumerate() {
            let at: Vec<Vec3> = points
                .iter()
                .map(|p| {
                    let foot = robot.foot_of_pulses(*leg, p[i], Frame::Leg);
                    foot.expect("calibrated")
                })
                .collect();
            for six in at.windows(7) {
                fastest = fastest.max(length(sub(six[6], six[0])));
            }
        }
        // 25 mm, and the rounding of both ends; a little less because the feet go along arcs.
        assert!((24.0..=26.0).contains(&fastest), "{fastest}");
    }

    #[test]
    fn a_course_to_where_it_is_is_done_at_once() {
        let robot = marram();
        let mut stream = line(&robot, |from| from);
        assert!(stream.is_done() && stream.next(&robot).is_none());
        assert!(stream.free_mm() < 1e-6);
    }
}
