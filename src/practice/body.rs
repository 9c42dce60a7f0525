//! The robot's matter in motion: eighteen joints, gravity, legs that meet, a sheet for their feet, a
//! servo on the test pin, and the supply that feeds all of it.
//!
//! Time passes by [`Body::step`] alone, one millisecond each, with the pulses of that moment. What
//! rests costs next to nothing, so that hours can pass in a test.

use super::geometry::{self, Point};
use super::joint::{FREE_DEG, Joint, Met};
use super::marram::{LEGS, NEIGHBOURS};
use super::robot::Built;
use super::servo::{Servo, Shaft};
use super::sheet::Sheet;
use super::supply::{Rail, Supply};
use crate::units::Pin;

/// How often cases warm and cool, in milliseconds.
const WARM_MS: u32 = 20;

/// A servo that stands alone on a pin, nothing on its horn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Loose {
    pub servo: Servo,
    pub shaft: Shaft,
    pub pin: Pin,
}

/// All of it.
#[derive(Debug)]
pub(super) struct Body {
    pub joints: Vec<Joint>,
    pub spares: Vec<Servo>,
    pub loose: Option<Loose>,
    pub supply: Supply,
    pub rail: Rail,
    /// The printed sheet below the feet, if one was laid.
    pub sheet: Option<Sheet>,
    /// Where the legs are, and how much room is left between neighbours.
    points: [[Point; 4]; 6],
    rooms: [f64; 4],
    warm_in: u32,
    /// Every servo rests at the pulses of the last step, and together they draw so much.
    rests: bool,
    /// The same of each leg's three.
    leg_rests: [bool; 6],
    amps: f64,
    /// Servos that burnt and nobody has noticed yet, by joint.
    burnt: Vec<usize>,
}

/// The pulses of this moment by the pin's number, in microseconds.
pub(super) type Pulses = [Option<f64>; 70];

impl Body {
    /// What was built, at rest.
    pub(super) fn new(built: Built) -> Body {
        let mut body = Body {
            joints: built.joints,
            spares: built.spares,
            loose: None,
            rail: built.supply.rail(),
            supply: built.supply,
            sheet: None,
            points: [[[0.0; 3]; 4]; 6],
            rooms: [f64::INFINITY; 4],
            warm_in: WARM_MS,
            rests: false,
            leg_rests: [false; 6],
            amps: 0.0,
            burnt: Vec::new(),
        };
        for leg in 0..LEGS.len() {
            body.refresh(leg);
        }
        body
    }

    /// A hand changed something: nothing rests until it was looked at.
    pub(super) fn touched(&mut self) {
        self.rests = false;
        self.leg_rests = [false; 6];
    }

    /// A hand changed something of this leg.
    pub(super) fn refresh(&mut self, leg: usize) {
        self.touched();
        self.pull(leg);
        self.points[leg] = geometry::points(leg, self.degs(leg));
        for (index, (a, b)) in NEIGHBOURS.into_iter().enumerate() {
            self.rooms[index] = self.room(&self.points[a], a, b);
        }
    }

    /// Free room between a leg that stands there and another one; a leg that is unscrewed lies beside and meets nobody.
    fn room(&self, points: &[Point; 4], leg: usize, other: usize) -> f64 {
        if self.is_off(leg) || self.is_off(other) {
            return f64::INFINITY;
        }
        geometry::room(points, &self.points[other])
    }

    /// A part of this leg is unscrewed from its horn.
    pub(super) fn is_off(&self, leg: usize) -> bool {
        self.joints[leg * 3..leg * 3 + 3].iter().any(|it| it.bare)
    }

    /// A millisecond; `changed`: the pulses may differ from those of the last one. True: the volts
    /// fell so far that the board was reset.
    pub(super) fn step(&mut self, pulses: &Pulses, changed: bool) -> bool {
        if changed || !self.rests {
            self.step_servos(pulses, changed);
        }
        self.warm_in -= 1;
        if self.warm_in == 0 {
            self.warm_in = WARM_MS;
            self.warm();
        }
        self.supply.step(&mut self.rail, self.amps)
    }

    fn step_servos(&mut self, pulses: &Pulses, changed: bool) {
        let volts = self.rail.volts;
        self.rests = true;
        for leg in 0..LEGS.len() {
            if self.leg_rests[leg] && !changed {
                continue;
            }
            let joints = &self.joints[leg * 3..leg * 3 + 3];
            let rests = joints
                .iter()
                .all(|joint| joint.rests_at(pulses[usize::from(joint.pin.number())]));
            self.leg_rests[leg] = rests;
            if !rests {
                self.rests = false;
                self.step_leg(leg, pulses, volts);
            }
        }
        if let Some(loose) = &mut self.loose {
            let pulse = pulses[usize::from(loose.pin.number())];
            if !loose.shaft.rests_at(pulse) {
                self.rests = false;
                loose.servo.step(&mut loose.shaft, pulse, FREE_DEG, volts);
            }
        }
        let mut joints = 0.0;
        for joint in &self.joints {
            joints += joint.shaft.amps;
        }
        self.amps = joints + self.loose.as_ref().map_or(0.0, |loose| loose.shaft.amps);
    }

    /// What all servos draw together.
    pub(super) fn amps(&self) -> f64 {
        self.amps
    }

    /// Joints whose servo has burnt since this was asked last.
    pub(super) fn take_burnt(&mut self) -> Vec<usize> {
        std::mem::take(&mut self.burnt)
    }

    /// Angles of a leg.
    fn degs(&self, leg: usize) -> [f64; 3] {
        std::array::from_fn(|i| self.joints[leg * 3 + i].deg())
    }

    /// Where the centre of a leg's foot is.
    pub(super) fn foot(&self, leg: usize) -> Point {
        self.points[leg][3]
    }

    /// Where it would be with one joint at this angle.
    pub(super) fn foot_with(&self, place: usize, deg: f64) -> Point {
        let mut degs = self.degs(place / 3);
        degs[place % 3] = deg;
        geometry::points(place / 3, degs)[3]
    }

    /// How gravity pulls at a leg's joints: the femur carries the whole leg, the tibia itself.
    fn pull(&mut self, leg: usize) {
        let [_, femur, tibia] = self.degs(leg).map(f64::to_radians);
        let shin = (femur + tibia).cos();
        let pulls = [0.0, -(0.6 * femur.cos() + 0.4 * shin), -shin];
        for (joint, pull) in self.joints[leg * 3..leg * 3 + 3].iter_mut().zip(pulls) {
            joint.pull = if joint.bare { 0.0 } else { pull };
        }
    }

    fn step_leg(&mut self, leg: usize, pulses: &Pulses, volts: f64) {
        let first = leg * 3;
        let places: [(f64, f64); 3] = std::array::from_fn(|i| self.joints[first + i].place());
        let mut moved = false;
        for joint in &mut self.joints[first..first + 3] {
            moved |= joint.step(pulses[usize::from(joint.pin.number())], volts);
        }
        if !moved {
            return;
        }
        self.pull(leg);
        if let Some(stops) = self.stops_on_sheet(leg, places.map(|it| it.1)) {
            for (joint, stop) in self.joints[first..first + 3].iter_mut().zip(stops) {
                joint.stop(stop, Met::Sheet, volts);
            }
            self.pull(leg);
        }
        let points = geometry::points(leg, self.degs(leg));
        let mut rooms = self.rooms;
        for (index, (a, b)) in NEIGHBOURS.into_iter().enumerate() {
            let other = match leg {
                _ if leg == a => b,
                _ if leg == b => a,
                _ => continue,
            };
            rooms[index] = self.room(&points, leg, other);
            if rooms[index] < 0.0 && rooms[index] < self.rooms[index] {
                // It would go into its neighbour, or deeper: it stays outside.
                for (joint, place) in self.joints[first..first + 3].iter_mut().zip(places) {
                    joint.put_back(place, Met::Leg(LEGS[other].name), volts);
                }
                self.pull(leg);
                return;
            }
        }
        self.points[leg] = points;
        self.rooms = rooms;
    }

    fn warm(&mut self) {
        let seconds = f64::from(WARM_MS) / 1000.0;
        for (index, joint) in self.joints.iter_mut().enumerate() {
            let health = joint.servo.health;
            joint.shaft.warm(&mut joint.servo, seconds);
            if joint.servo.health != health {
                self.burnt.push(index);
                self.rests = false;
                self.leg_rests = [false; 6];
            }
        }
        if let Some(loose) = &mut self.loose {
            loose.shaft.warm(&mut loose.servo, seconds);
        }
    }
}
