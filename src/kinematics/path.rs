//! Straight and arc paths of a foot in time, and the joint speeds they need.
//!
//! A path knows where the foot is and how fast it moves at each moment from 0 to its duration.
//! It does not know whether the leg can follow; [`super::robot`] looks along it for what is in the way.

use super::body::{add, cross, dot, length, scale, sub};
use super::leg::{Angles, Knee, LegGeometry, Unreachable, Vec3};

/// The shape of a path, in any frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// A straight line.
    Straight {
        /// Where it starts, mm.
        from: Vec3,
        /// Where it ends, mm.
        to: Vec3,
    },
    /// A part of a circle: about a vertical axis a stance while the body turns, about a level one a step.
    Arc {
        /// Where it starts, mm.
        from: Vec3,
        /// A point of the axis, mm.
        centre: Vec3,
        /// The axis; only its direction counts.
        axis: Vec3,
        /// How far it turns, right-handed about the axis, radians.
        angle: f64,
    },
}

/// How the foot goes along its path in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// At one speed from end to end.
    Steady,
    /// From rest to rest, `s = 10τ³ − 15τ⁴ + 6τ⁵`.
    ///
    /// The minimum-jerk profile of Flash and Hogan (Journal of Neuroscience 5, 1985); its top speed is 15/8 of the mean.
    Smooth,
}

/// A path in time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FootPath {
    /// Where it goes.
    pub shape: Shape,
    /// How it goes.
    pub timing: Timing,
    /// How long it takes, seconds; 0 for a path that goes nowhere.
    pub duration: f64,
}

impl Shape {
    /// Its length, mm.
    pub fn length(&self) -> f64 {
        match *self {
            Shape::Straight { from, to } => length(sub(to, from)),
            Shape::Arc { angle, .. } => self.radius_vector().map_or(0.0, length) * angle.abs(),
        }
    }

    /// The point at a part of its length, 0 to 1.
    pub fn at(&self, part: f64) -> Vec3 {
        match *self {
            // Both ends are met exactly, whatever the rounding between.
            Shape::Straight { to, .. } if part >= 1.0 => to,
            Shape::Straight { from, to } => add(from, scale(sub(to, from), part)),
            Shape::Arc {
                from,
                centre,
                axis,
                angle,
            } => match unit(axis) {
                Some(axis) => add(centre, turned(sub(from, centre), axis, angle * part)),
                None => from,
            },
        }
    }

    /// How the point moves with the part, mm.
    fn slope(&self, part: f64) -> Vec3 {
        match *self {
            Shape::Straight { from, to } => sub(to, from),
            Shape::Arc {
                centre,
                axis,
                angle,
                ..
            } => match unit(axis) {
                Some(axis) => scale(cross(axis, sub(self.at(part), centre)), angle),
                None => [0.0; 3],
            },
        }
    }

    fn radius_vector(&self) -> Option<Vec3> {
        let Shape::Arc {
            from, centre, axis, ..
        } = *self
        else {
            return None;
        };
        let axis = unit(axis)?;
        let to = sub(from, centre);
        Some(sub(to, scale(axis, dot(axis, to))))
    }
}

fn unit(axis: Vec3) -> Option<Vec3> {
    let size = length(axis);
    (size > 0.0 && size.is_finite()).then(|| scale(axis, 1.0 / size))
}

/// A vector turned about a unit axis, by Rodrigues' rotation formula.
fn turned(vector: Vec3, axis: Vec3, angle: f64) -> Vec3 {
    let (s, c) = angle.sin_cos();
    let along = scale(axis, dot(axis, vector) * (1.0 - c));
    add(add(scale(vector, c), scale(cross(axis, vector), s)), along)
}

impl FootPath {
    /// The path with this shape whose top speed is this, mm/s; `None` for a speed that is not positive.
    pub fn with_top_speed(shape: Shape, timing: Timing, top_speed: f64) -> Option<Self> {
        if !(top_speed > 0.0 && top_speed.is_finite()) {
            return None;
        }
        let peak = match timing {
            Timing::Steady => 1.0,
            Timing::Smooth => 15.0 / 8.0,
        };
        Some(FootPath {
            shape,
            timing,
            duration: peak * shape.length() / top_speed,
        })
    }

    /// Where the foot is at this time, seconds; before 0 at the start, after the end at the end.
    pub fn position(&self, time: f64) -> Vec3 {
        self.shape.at(self.progress(time).0)
    }

    /// How fast it moves, mm/s; zero before and after.
    pub fn velocity(&self, time: f64) -> Vec3 {
        let (part, rate) = self.progress(time);
        scale(self.shape.slope(part), rate)
    }

    /// The part of the path that is done, and its change, 1/s.
    fn progress(&self, time: f64) -> (f64, f64) {
        if self.duration <= 0.0 || time >= self.duration {
            return (1.0, 0.0);
        }
        if time <= 0.0 {
            let rate = match self.timing {
                Timing::Steady if time == 0.0 => 1.0 / self.duration,
                _ => 0.0,
            };
            return (0.0, rate);
        }
        let t = time / self.duration;
        match self.timing {
            Timing::Steady => (t, 1.0 / self.duration),
            Timing::Smooth => (
                t * t * t * (10.0 + t * (6.0 * t - 15.0)),
                30.0 * t * t * (1.0 - t) * (1.0 - t) / self.duration,
            ),
        }
    }

    /// Angles and joint speeds of a leg that follows the path, at this time; the path is in the leg's frame.
    ///
    /// Speeds in rad/s, `None` where the leg is singular and would need endless speed.
    pub fn joints(
        &self,
        leg: &LegGeometry,
        knee: Knee,
        time: f64,
    ) -> Result<(Angles, Option<Angles>), Unreachable> {
        let angles = leg.ik(self.position(time), knee)?;
        Ok((angles, leg.joint_speeds(angles, self.velocity(time))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEG: LegGeometry = LegGeometry {
        coxa: 31.0,
        femur: 67.0,
        tibia: 104.0,
        height: 0.0,
        bend: 0.0,
    };

    fn paths() -> Vec<FootPath> {
        let straight = Shape::Straight {
            from: [140.0, -30.0, -80.0],
            to: [120.0, 40.0, -60.0],
        };
        let step = Shape::Arc {
            from: [130.0, -30.0, -80.0],
            centre: [130.0, 0.0, -80.0],
            axis: [2.0, 0.0, 0.0],
            angle: -std::f64::consts::PI,
        };
        let mut out = Vec::new();
        for shape in [straight, step] {
            for timing in [Timing::Steady, Timing::Smooth] {
                out.push(FootPath::with_top_speed(shape, timing, 100.0).expect("a speed"));
            }
        }
        out
    }

    #[test]
    fn a_path_starts_and_ends_where_it_should_and_keeps_to_its_top_speed() {
        for path in paths() {
            let end = match path.shape {
                Shape::Straight { to, .. } => to,
                Shape::Arc { .. } => [130.0, 30.0, -80.0],
            };
            assert!(length(sub(path.position(path.duration), end)) < 1e-12);
            assert_eq!(path.position(-1.0), path.position(0.0));
            let mut top = 0.0f64;
            let mut travelled = 0.0;
            let steps = 2000;
            for i in 0..steps {
                let (a, b) = (f64::from(i), f64::from(i + 1));
                let dt = path.duration / f64::from(steps);
                top = top.max(length(path.velocity(a * dt)));
                travelled += length(sub(path.position(b * dt), path.position(a * dt)));
            }
            assert!(top <= 100.0 + 1e-9 && top > 99.9, "{top}");
            assert!(
                (travelled - path.shape.length()).abs() < 1e-3,
                "{travelled}"
            );
        }
        // A half circle of 30 mm: π·30.
        assert!((paths()[2].shape.length() - 94.247_779_607_693_79).abs() < 1e-12);
        // It goes over the top, not through the ground.
        assert!(paths()[2].position(paths()[2].duration / 2.0)[2] > -51.0);
    }

    #[test]
    fn velocities_and_joint_speeds_are_the_differences_of_positions_and_angles() {
        for path in paths() {
            for i in 1..20 {
                let t = path.duration * f64::from(i) / 20.0;
                let h = 1e-6;
                let moved = sub(path.position(t + h), path.position(t - h));
                let slope = scale(moved, 0.5 / h);
                assert!(length(sub(slope, path.velocity(t))) < 1e-4, "{path:?}");
                let (_, speeds) = path.joints(&LEG, Knee::Up, t).expect("in reach");
                let speeds = speeds.expect("not singular");
                let (a, _) = path.joints(&LEG, Knee::Up, t - h).expect("in reach");
                let (b, _) = path.joints(&LEG, Knee::Up, t + h).expect("in reach");
                for k in 0..3 {
                    let slope = (b[k] - a[k]) * 0.5 / h;
                    assert!((slope - speeds[k]).abs() < 1e-5, "{path:?} {k}");
                }
            }
        }
    }

    #[test]
    fn a_path_to_where_it_is_takes_no_time_and_gives_no_nan() {
        let here = Shape::Straight {
            from: [1.0; 3],
            to: [1.0; 3],
        };
        let path = FootPath::with_top_speed(here, Timing::Smooth, 250.0).expect("a speed");
        assert_eq!(path.duration, 0.0);
        assert_eq!(path.position(0.0), [1.0; 3]);
        assert_eq!(path.velocity(0.0), [0.0; 3]);
        assert_eq!(FootPath::with_top_speed(here, Timing::Steady, 0.0), None);
        assert_eq!(
            FootPath::with_top_speed(here, Timing::Steady, f64::NAN),
            None
        );
    }
}
