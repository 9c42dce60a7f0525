//! One leg: foot from angles, angles from foot, and how well it can move there.
//!
//! ```text
//!        z                      knee
//!        │                     ●
//!        │        femur  Lf  ╱   ╲  tibia Lt        θ1 turns about z, seen from above counter-clockwise
//!        │                 ╱ θ2    ╲ θ3 (< 0)       θ2 and θ3 turn about the same level axis, positive lifts
//!        ●───────────────●          ╲
//!   coxa axis    Lc   (height h)     ○ foot (centre of its ball)
//!        └───────────────────────────────── r
//! ```
//!
//! Pure functions of numbers: no allocation, no panic, never a NaN from finite numbers.
//! Lengths in mm, angles in radians; degrees and pulses belong to [`super::robot`].

use thiserror::Error;

use crate::calibration::Links;

/// A point or a velocity: x, y, z.
pub type Vec3 = [f64; 3];

/// Coxa, femur, tibia.
pub type Angles = [f64; 3];

/// How far beyond its reach a point may lie and still count as on the boundary, mm.
///
/// It covers the rounding of a point that was computed on the boundary, and no more.
pub const REACH_SLACK_MM: f64 = 1e-9;

/// Closer to the coxa axis than this, mm, no direction can be told.
pub const AXIS_SLACK_MM: f64 = 1e-6;

/// A leg's lengths, ready for computing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegGeometry {
    /// Coxa axis to femur axis, mm.
    pub coxa: f64,
    /// Femur axis to tibia axis, mm.
    pub femur: f64,
    /// Tibia axis to foot, mm.
    pub tibia: f64,
    /// Femur axis above the mount, mm.
    pub height: f64,
    /// Fixed bend of the tibia, radians, added to θ3.
    pub bend: f64,
}

/// On which side of the line from femur axis to foot the knee is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Knee {
    /// Above it: the usual way, the tibia bends down.
    Up,
    /// Below it.
    Down,
}

/// Why no angles put the foot there.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum Unreachable {
    /// Farther than the straight leg.
    #[error(
        "the point is {} mm too far: expected one within the straight leg's reach; move it nearer",
        short(*by_mm)
    )]
    TooFar {
        /// By how much, mm.
        by_mm: f64,
    },
    /// Nearer than the folded leg.
    #[error(
        "the point is {} mm too near: expected one outside the folded leg's; move it out",
        short(*by_mm)
    )]
    TooNear {
        /// By how much, mm.
        by_mm: f64,
    },
    /// On the coxa axis, where every coxa angle would do.
    #[error(
        "the point is on the coxa axis, {} mm from its middle, where the coxa has no direction: move it out",
        short(*from_axis_mm)
    )]
    OnAxis {
        /// How far from the axis it is, mm: less than [`AXIS_SLACK_MM`].
        from_axis_mm: f64,
    },
    /// Not a point.
    #[error("the point has a coordinate that is no finite number: expected three lengths in mm")]
    NotFinite,
}

/// A length as it is read at a bench; what two decimals cannot say, or only a row of digits, in powers of ten.
fn short(mm: f64) -> String {
    if mm == 0.0 {
        "0".into()
    } else if (0.005..1e6).contains(&mm.abs()) {
        format!("{mm:.2}")
    } else {
        format!("{mm:.0e}")
    }
}

/// How well the foot can be moved at some angles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dexterity {
    /// Singular values of the Jacobian, mm per radian, largest first.
    pub singular_values: [f64; 3],
    /// How far the knee is from straight, radians, 0 to π.
    pub from_straight: f64,
    /// How far the knee is from folded, radians, 0 to π.
    pub from_folded: f64,
    /// How far the foot is from the coxa axis, mm.
    pub from_axis: f64,
}

impl Knee {
    /// The usual one first.
    pub const BOTH: [Knee; 2] = [Knee::Up, Knee::Down];

    /// The other one.
    pub fn other(self) -> Knee {
        match self {
            Knee::Up => Knee::Down,
            Knee::Down => Knee::Up,
        }
    }

    /// `up` or `down`, as on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Knee::Up => "up",
            Knee::Down => "down",
        }
    }
}

impl From<&Links> for LegGeometry {
    fn from(links: &Links) -> Self {
        LegGeometry {
            coxa: links.coxa_mm,
            femur: links.femur_mm,
            tibia: links.tibia_mm,
            height: links.coxa_height_mm,
            bend: links.tibia_bend_deg.to_radians(),
        }
    }
}

impl LegGeometry {
    /// The foot in the leg's frame, mm.
    ///
    /// `r = Lc + Lf cos θ2 + Lt cos(θ2+θ3+δ)`, `z = h + Lf sin θ2 + Lt sin(θ2+θ3+δ)`; elementary, from the figure.
    pub fn fk(&self, [t1, t2, t3]: Angles) -> Vec3 {
        let (radius, z) = self.plane(t2, t3);
        [radius * t1.cos(), radius * t1.sin(), z]
    }

    /// The knee in the leg's frame, mm: for pictures.
    pub fn knee(&self, [t1, t2, _]: Angles) -> Vec3 {
        let radius = self.coxa + self.femur * t2.cos();
        let z = self.height + self.femur * t2.sin();
        [radius * t1.cos(), radius * t1.sin(), z]
    }

    /// The femur axis in the leg's frame, mm: for pictures.
    pub fn hip(&self, [t1, _, _]: Angles) -> Vec3 {
        [self.coxa * t1.cos(), self.coxa * t1.sin(), self.height]
    }

    /// The foot in the vertical plane of the leg: distance from the coxa axis (negative: behind it), height.
    fn plane(&self, t2: f64, t3: f64) -> (f64, f64) {
        let t23 = t2 + t3 + self.bend;
        (
            self.coxa + self.femur * t2.cos() + self.tibia * t23.cos(),
            self.height + self.femur * t2.sin() + self.tibia * t23.sin(),
        )
    }

    /// The angles that put the foot at this point of the leg's frame, each within (−π, π].
    ///
    /// The coxa points at the foot; the second way, with the leg reaching back over the body, is not offered.
    /// Closed form by the law of cosines, the knee by its half-angle, which keeps all digits near the
    /// straight and the folded leg: tan²(κ/2) = ((Lf+Lt)² − D²) / (D² − (Lf−Lt)²), with D from femur axis to foot
    /// (half-angle formulas of a triangle, any textbook of trigonometry).
    pub fn ik(&self, point: Vec3, knee: Knee) -> Result<Angles, Unreachable> {
        let [x, y, z] = point;
        if !point.iter().all(|it| it.is_finite()) {
            return Err(Unreachable::NotFinite);
        }
        let radius = x.hypot(y);
        if radius < AXIS_SLACK_MM {
            return Err(Unreachable::OnAxis {
                from_axis_mm: radius,
            });
        }
        let (out, up) = (radius - self.coxa, z - self.height);
        let distance = out.hypot(up);
        let longest = self.femur + self.tibia;
        let shortest = (self.femur - self.tibia).abs();
        if distance - longest > REACH_SLACK_MM {
            return Err(Unreachable::TooFar {
                by_mm: distance - longest,
            });
        }
        if shortest - distance > REACH_SLACK_MM {
            return Err(Unreachable::TooNear {
                by_mm: shortest - distance,
            });
        }
        let to_straight = ((longest - distance) * (longest + distance)).max(0.0);
        let to_folded = ((distance - shortest) * (distance + shortest)).max(0.0);
        let bent = 2.0 * to_straight.sqrt().atan2(to_folded.sqrt());
        let bent = match knee {
            Knee::Up => -bent,
            Knee::Down => bent,
        };
        let lift =
            up.atan2(out) - (self.tibia * bent.sin()).atan2(self.femur + self.tibia * bent.cos());
        Ok([y.atan2(x), wrap(lift), wrap(bent - self.bend)])
    }

    /// How the foot moves, mm for each radian: rows x, y, z, columns coxa, femur, tibia.
    ///
    /// The partial derivatives of [`LegGeometry::fk`].
    pub fn jacobian(&self, [t1, t2, t3]: Angles) -> [[f64; 3]; 3] {
        let (radius, _) = self.plane(t2, t3);
        let (s1, c1) = t1.sin_cos();
        let [[out2, out3], [up2, up3]] = self.plane_jacobian(t2, t3);
        [
            [-radius * s1, c1 * out2, c1 * out3],
            [radius * c1, s1 * out2, s1 * out3],
            [0.0, up2, up3],
        ]
    }

    /// The same within the leg's vertical plane: rows out and up, columns femur and tibia.
    fn plane_jacobian(&self, t2: f64, t3: f64) -> [[f64; 2]; 2] {
        let (s2, c2) = t2.sin_cos();
        let (s23, c23) = (t2 + t3 + self.bend).sin_cos();
        let (out3, up3) = (-self.tibia * s23, self.tibia * c23);
        [
            [-self.femur * s2 + out3, out3],
            [self.femur * c2 + up3, up3],
        ]
    }

    /// How well the foot can be moved at these angles.
    ///
    /// Turned by θ1, the Jacobian falls into the coxa's column, whose only entry is `r`, and the plane's 2×2 block,
    /// whose determinant is `Lf Lt sin(θ3+δ)`; its larger singular value is the closed form for 2×2
    /// (half the sum of `|(a+d, c−b)|` and `|(a−d, b+c)|`), the smaller the determinant divided by it, which does not cancel.
    pub fn dexterity(&self, [_, t2, t3]: Angles) -> Dexterity {
        let (radius, _) = self.plane(t2, t3);
        let [[a, b], [c, d]] = self.plane_jacobian(t2, t3);
        let large = 0.5 * ((a + d).hypot(c - b) + (a - d).hypot(b + c));
        let area = (self.femur * self.tibia * (t3 + self.bend).sin()).abs();
        let small = if large > 0.0 { area / large } else { 0.0 };
        let mut singular_values = [radius.abs(), large, small];
        singular_values.sort_by(|a, b| b.total_cmp(a));
        let bent = wrap(t3 + self.bend).abs();
        Dexterity {
            singular_values,
            from_straight: bent,
            from_folded: std::f64::consts::PI - bent,
            from_axis: radius.abs(),
        }
    }

    /// The joint speeds, rad/s, that give the foot this velocity, mm/s; `None` where the leg cannot move that way.
    ///
    /// The inverse of the Jacobian, block by block as in [`LegGeometry::dexterity`].
    pub fn joint_speeds(&self, angles: Angles, velocity: Vec3) -> Option<Angles> {
        let [t1, t2, t3] = angles;
        let (radius, _) = self.plane(t2, t3);
        let (s1, c1) = t1.sin_cos();
        let out = c1 * velocity[0] + s1 * velocity[1];
        let across = -s1 * velocity[0] + c1 * velocity[1];
        let [[a, b], [c, d]] = self.plane_jacobian(t2, t3);
        // a d − b c, without its cancellation.
        let area = self.femur * self.tibia * (t3 + self.bend).sin();
        let speeds = [
            across / radius,
            (d * out - b * velocity[2]) / area,
            (a * velocity[2] - c * out) / area,
        ];
        speeds.iter().all(|it| it.is_finite()).then_some(speeds)
    }
}

impl Dexterity {
    /// The least speed of the foot, mm/s, that some turning of the joints by 1 rad/s gives: 0 at a singularity.
    pub fn least(&self) -> f64 {
        self.singular_values[2]
    }
}

/// An angle within (−π, π].
pub fn wrap(angle: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    if angle > -PI && angle <= PI {
        return angle;
    }
    let turned = angle.rem_euclid(TAU);
    if turned > PI { turned - TAU } else { turned }
}
