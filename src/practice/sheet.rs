//! The printed sheet: a paper with a millimetre grid on a board under one leg or several, for feet to be put down on.
//!
//! It is printed smaller than it says, lies tilted and not quite where it was meant to, anew each time it is laid. Feet
//! stop on it, nothing else of a leg meets it, and it never moves: what would take a foot into it is held, what takes it
//! along it or away from it is free.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::body::Body;
use super::fault::{Fault, Faults};
use super::geometry::{self, Point, dot, less};
use super::looks::round_to;
use super::marram::{BALL_RADIUS_MM, LEGS};
use super::robot::{self, SHEET_STREAM, TOUCHES_STREAM, about_normal, within};
use super::world::World;
use crate::board::hands::{HandsError, SheetPlace};
use crate::board::sight::{SeenTouch, Sight};

/// What the printer makes of a millimetre: common practice says to measure a print, because many scale it to fit.
const PRINTED: f64 = 0.99;
/// How far from level the board lies.
const TILT_DEG: f64 = 0.5;
/// Standard deviations of where it lies, in each direction, and of how it is turned: "placed to a few mm".
const OFF_MM: f64 = 3.0;
const TURN_DEG: f64 = 1.0;
/// How often the way of a millisecond is halved to find where the foot comes onto the sheet: to a few micrometres.
const HALVINGS: u32 = 8;
/// A joint that takes the foot down by less in a millisecond moves it along.
const LEAST_MM: f64 = 1e-9;
/// A foot that is nearer than this touches.
const TOUCHES_MM: f64 = 0.05;
/// How well a touch is read off the grid, and to what.
const READING_MM: f64 = 0.5;
const READ_TO_MM: f64 = 1.0;
/// The same without errors, as gauges are read then.
const EXACT_TO_MM: f64 = 0.1;

/// How a sheet really lies, in the body's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrueSheet {
    /// Where the zero of its grid is.
    pub origin_mm: [f64; 3],
    /// How far its grid is turned, seen from above counter-clockwise.
    pub turn_deg: f64,
    /// How far it is tilted after that,
    pub tilt_deg: f64,
    /// and toward where it rises: counter-clockwise from forward.
    pub rises_to_deg: f64,
    /// Millimetres of a millimetre that is printed.
    pub scale: f64,
}

/// A sheet that was laid.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sheet {
    pub lies: TrueSheet,
    /// Under which legs.
    under: [bool; 6],
    /// The directions of its grid, and upward from it.
    axes: [Point; 3],
}

impl Sheet {
    fn new(lies: TrueSheet, under: [bool; 6]) -> Sheet {
        let (sin, cos) = lies.tilt_deg.to_radians().sin_cos();
        let (to_y, to_x) = lies.rises_to_deg.to_radians().sin_cos();
        // A level direction, tilted: what of it points to where the sheet rises is lifted.
        let tilted = |x: f64, y: f64| {
            let rises = x * to_x + y * to_y;
            let gains = rises * (cos - 1.0);
            [x + to_x * gains, y + to_y * gains, rises * sin]
        };
        let (turn_y, turn_x) = lies.turn_deg.to_radians().sin_cos();
        Sheet {
            lies,
            under,
            axes: [
                tilted(turn_x, turn_y),
                tilted(-turn_y, turn_x),
                [-sin * to_x, -sin * to_y, cos],
            ],
        }
    }

    /// Free room below the ball of a foot that has its centre there, mm; negative: it would be in the sheet. Infinite
    /// where the sheet does not lie under this leg.
    pub(super) fn room(&self, leg: usize, foot: Point) -> f64 {
        if !self.under[leg] {
            return f64::INFINITY;
        }
        dot(less(foot, self.lies.origin_mm), self.axes[2]) - BALL_RADIUS_MM
    }

    /// Where on the printed grid such a foot touches, if it does: straight below its centre as seen from the sheet.
    fn touch(&self, leg: usize, foot: Point) -> Option<[f64; 2]> {
        let from_zero = less(foot, self.lies.origin_mm);
        let on_grid = |axis: Point| dot(from_zero, axis) / self.lies.scale;
        (self.room(leg, foot) < TOUCHES_MM).then(|| [on_grid(self.axes[0]), on_grid(self.axes[1])])
    }
}

/// Lays sheets: the k-th of a seed lies the same, whatever else was done.
#[derive(Debug)]
pub(super) struct Layer {
    rng: ChaCha8Rng,
    errs: bool,
}

impl Layer {
    pub(super) fn new(seed: u64, faults: Faults) -> Layer {
        Layer {
            rng: robot::stream(seed, SHEET_STREAM),
            errs: faults.has(Fault::Sheet),
        }
    }

    /// How a sheet comes to lie that is meant to lie there.
    fn lay(&mut self, meant: SheetPlace) -> TrueSheet {
        let rng = &mut self.rng;
        let off: Point = std::array::from_fn(|_| within(rng, OFF_MM));
        let turn_deg = within(rng, TURN_DEG);
        let rises_to_deg = rng.random_range(-180.0..180.0);
        let at = [meant.x_mm, meant.y_mm, meant.z_mm];
        if self.errs {
            TrueSheet {
                origin_mm: std::array::from_fn(|i| at[i] + off[i]),
                turn_deg,
                tilt_deg: TILT_DEG,
                rises_to_deg,
                scale: PRINTED,
            }
        } else {
            TrueSheet {
                origin_mm: at,
                turn_deg: 0.0,
                tilt_deg: 0.0,
                rises_to_deg: 0.0,
                scale: 1.0,
            }
        }
    }
}

/// Looks where feet touch the sheet, and reads anew each time that one comes to touch.
#[derive(Debug)]
pub(super) struct Touches {
    rng: ChaCha8Rng,
    errs: bool,
    /// The errors of what was read of each leg, while it touches.
    read: [Option<[f64; 2]>; 6],
}

impl Touches {
    pub(super) fn new(seed: u64, errs: bool) -> Touches {
        Touches {
            rng: robot::stream(seed, TOUCHES_STREAM),
            errs,
            read: [None; 6],
        }
    }

    /// Looks at all feet.
    pub(super) fn look(&mut self, body: &Body, sight: &mut Sight) {
        sight.touches.clear();
        for (leg, read) in self.read.iter_mut().enumerate() {
            let Some(at) = body.touch(leg) else {
                *read = None;
                continue;
            };
            let rng = &mut self.rng;
            let error = *read.get_or_insert_with(|| [0, 1].map(|_| about_normal(rng, READING_MM)));
            sight.touches.push(SeenTouch {
                leg: LEGS[leg].name.into(),
                at_mm: std::array::from_fn(|i| {
                    if self.errs {
                        round_to(at[i] + error[i], READ_TO_MM)
                    } else {
                        round_to(at[i], EXACT_TO_MM)
                    }
                }),
            });
        }
    }
}

impl Body {
    /// Where on the sheet's grid a leg's foot touches.
    fn touch(&self, leg: usize) -> Option<[f64; 2]> {
        let sheet = self.sheet.as_ref().filter(|_| !self.is_off(leg))?;
        sheet.touch(leg, self.foot(leg))
    }

    /// The links of this leg stood so, and as they stand now the foot would be in the sheet, or deeper: where they stop.
    /// Those that took it there get as far as the foot comes onto the sheet; the others go on, so that a joint that
    /// lifts it is not held by one that presses.
    pub(super) fn stops_on_sheet(&self, leg: usize, before_deg: [f64; 3]) -> Option<[f64; 3]> {
        let sheet = self.sheet.as_ref().filter(|_| !self.is_off(leg))?;
        let joints = &self.joints[leg * 3..leg * 3 + 3];
        let room = |links: [f64; 3]| {
            let deg = std::array::from_fn(|i| joints[i].deg_with(links[i]));
            sheet.room(leg, geometry::points(leg, deg)[3])
        };
        let before_mm = sheet.room(leg, self.foot(leg));
        let goes_in = |mm: f64| mm < 0.0 && mm < before_mm;
        let now_deg: [f64; 3] = std::array::from_fn(|i| joints[i].place().1);
        if !goes_in(room(now_deg)) {
            return None;
        }
        let stood_mm = room(before_deg);
        let lowers = std::array::from_fn(|joint| {
            let mut alone = before_deg;
            alone[joint] = now_deg[joint];
            room(alone) < stood_mm - LEAST_MM
        });
        let on_the_way = |held: [bool; 3], part: f64| -> [f64; 3] {
            std::array::from_fn(|i| {
                let part = if held[i] { part } else { 1.0 };
                before_deg[i] + part * (now_deg[i] - before_deg[i])
            })
        };
        let held = if goes_in(room(on_the_way(lowers, 0.0))) {
            [true; 3]
        } else {
            lowers
        };
        let (mut free, mut blocked) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = (free + blocked) / 2.0;
            if room(on_the_way(held, middle)) < 0.0 {
                blocked = middle;
            } else {
                free = middle;
            }
        }
        Some(on_the_way(held, free))
    }
}

impl World {
    /// Lays a sheet: see [`crate::board::hands::Hands::lay_sheet`].
    pub(super) fn lay(&mut self, legs: &[&str], meant: SheetPlace) -> Result<(), HandsError> {
        let mut under = [false; 6];
        for name in legs {
            let leg = LEGS.iter().position(|it| it.name == *name);
            let none = || HandsError::NoSuchLeg {
                leg: (*name).to_owned(),
            };
            under[leg.ok_or_else(none)?] = true;
        }
        if legs.is_empty() {
            return Err(HandsError::UnderNoLeg);
        }
        self.hands_off(under)?;
        if let Some(old) = &self.body.sheet {
            self.hands_off(old.under)?;
        }
        // What was not laid was not placed either: the next one lies as this one would have.
        let before = self.layer.rng.clone();
        let sheet = Sheet::new(self.layer.lay(meant), under);
        for (leg, design) in LEGS.iter().enumerate() {
            let room = sheet.room(leg, self.body.foot(leg));
            if room < 0.0 && !self.body.is_off(leg) {
                self.layer.rng = before;
                return Err(HandsError::FootBelow {
                    leg: design.name,
                    by_mm: (-room).ceil() as i32,
                });
            }
        }
        self.body.sheet = Some(sheet);
        self.body.touched();
        self.look_again();
        Ok(())
    }

    /// The sheet that was there when the bench was switched on, under all legs; or a note why it was not laid.
    pub(super) fn lay_at_start(&mut self, z_mm: i32) {
        let meant = SheetPlace {
            x_mm: 0.0,
            y_mm: 0.0,
            z_mm: f64::from(z_mm),
        };
        if let Err(why) = self.lay(&LEGS.map(|leg| leg.name), meant) {
            self.note(&format!("no sheet was laid: {why}"));
        }
    }

    /// Takes it away: see [`crate::board::hands::Hands::take_sheet_away`].
    pub(super) fn take_away(&mut self) -> Result<(), HandsError> {
        if let Some(sheet) = &self.body.sheet {
            self.hands_off(sheet.under)?;
            self.body.sheet = None;
            self.body.touched();
            self.look_again();
        }
        Ok(())
    }

    /// Hands go below these legs: all of their joints must be limp.
    fn hands_off(&self, under: [bool; 6]) -> Result<(), HandsError> {
        let joints = self.body.joints.iter().enumerate();
        for (_, joint) in joints.filter(|(place, _)| under[place / 3]) {
            self.asleep(joint.pin)?;
        }
        Ok(())
    }

    /// Whether a hand may set this joint there: not if that put the foot through the sheet.
    pub(super) fn clears_sheet(&self, place: usize, deg: f64) -> Result<(), HandsError> {
        let foot = self.body.foot_with(place, deg);
        match &self.body.sheet {
            Some(sheet) if sheet.room(place / 3, foot) < 0.0 => Err(HandsError::ThroughSheet),
            _ => Ok(()),
        }
    }
}
