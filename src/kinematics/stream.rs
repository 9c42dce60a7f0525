//! A motion of feet cut into frames: the pulses to send next, so that no foot and no joint is too fast.
//!
//! It has no clock: each call is one frame, so that a late caller delays the motion and never hurries it.
//! Feet go along straight lines from rest to rest; the speed grows and falls by one acceleration.

use super::body::{BodyPose, length, sub};
use super::course::Course;
use super::leg::Vec3;
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
mod tests;
