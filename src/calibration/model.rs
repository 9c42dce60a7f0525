//! What is known of one robot: geometry, and for each joint its plug, its servo and what was measured.
//!
//! Plain data with the conversions that belong to a single joint.
//! Nothing here reads a file, a clock or a board.
//! Lengths are mm, angles degrees, pulses µs, as in the file.

use std::fmt;
use std::str::FromStr;

use crate::units::{Pin, Pulse};

/// One robot, one file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Robot {
    /// What its builder calls it.
    pub name: String,
    /// A shipped example: saving asks for another name first.
    pub template: bool,
    /// The outline of the body, for pictures; `None` when the builder did not measure it.
    pub body: Option<Body>,
    /// One to eight legs, in the order of the file.
    pub legs: Vec<Leg>,
}

/// The body's outline and balance, in the body frame (x forward, y left, z up).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Along x, mm.
    pub length_mm: f64,
    /// Along y, mm.
    pub width_mm: f64,
    /// Centre of mass, mm; the origin when the file does not say.
    pub centre_of_mass_mm: [f64; 3],
}

/// One leg: where it is mounted, how long its links are, its three joints.
#[derive(Debug, Clone, PartialEq)]
pub struct Leg {
    /// From the robot's own view, `LF` for left front.
    pub name: String,
    /// Where its coxa axis stands on the body.
    pub mount: Mount,
    /// Its lengths.
    pub links: Links,
    /// Coxa, femur, tibia: see [`JointKind::index`].
    pub joints: [Joint; 3],
}

/// Where the coxa axis stands in the body frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mount {
    /// Forward, mm.
    pub x_mm: f64,
    /// Left, mm.
    pub y_mm: f64,
    /// Up, mm.
    pub z_mm: f64,
    /// Which way the leg points at coxa 0°: counter-clockwise from forward, degrees.
    pub yaw_deg: f64,
}

/// A leg's lengths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Links {
    /// From the coxa axis out to the femur axis, mm.
    pub coxa_mm: f64,
    /// From the femur axis to the tibia axis, mm.
    pub femur_mm: f64,
    /// From the tibia axis to the centre of the foot's ball, mm.
    pub tibia_mm: f64,
    /// How far the femur axis stands above the mount, mm; usually 0.
    pub coxa_height_mm: f64,
    /// A fixed bend: the foot lies this much above the line that the tibia servo's 0° means, degrees; usually 0.
    pub tibia_bend_deg: f64,
    /// Radius of the foot's ball, mm: the ground is this much below the foot point.
    pub ball_radius_mm: f64,
}

/// One joint: everything known about it, most of it `None` at first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Joint {
    /// Which plug drives it.
    pub pin: Option<Pin>,
    /// The number on the servo's sticker.
    pub servo: Option<String>,
    /// The pulse at 0°, µs; it may lie outside 500-2500.
    pub zero: Option<Recorded>,
    /// µs for each degree, with its sign.
    pub scale: Option<Recorded>,
    /// Where the mechanism ends, at the smaller pulse, µs.
    pub near_end: Option<Recorded>,
    /// Where the mechanism ends, at the larger pulse, µs.
    pub far_end: Option<Recorded>,
    /// The pulses that software may ask for: inside the ends by a margin.
    pub limits: Option<Span>,
    /// The pulses that the board is told to accept.
    pub guard: Option<Span>,
    /// The angles the robot needs, degrees, smaller first.
    pub needed_deg: Option<(f64, f64)>,
    /// Full play between both sides, degrees.
    pub play_deg: Option<Recorded>,
}

/// A pair of pulses, the smaller first.
pub type Span = (Pulse, Pulse);

/// A measured value, with when and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The value, in the unit that the field states.
    pub value: f64,
    /// The ± beside it on the screen: half the width of its 95 % interval, same unit. `None`: not known.
    pub spread: Option<f64>,
    /// When, as RFC 3339 with an offset: `2026-03-14T10:22:05Z`.
    pub at: String,
    /// By which method.
    pub by: Method,
}

/// How a value was come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Method {
    /// A person typed the number.
    Typed,
    /// Recorded at the present pulse while jogging.
    Jog,
    /// Fitted from marks.
    Marks,
    /// Fitted from touches.
    Touches,
    /// Found by pecking.
    Peck,
    /// Taken over from a file of an older format, which did not say.
    Carried,
}

/// Which of a leg's three joints, from the body to the foot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum JointKind {
    /// Turns the leg about the vertical axis.
    Coxa,
    /// Lifts the leg.
    Femur,
    /// Bends the knee.
    Tibia,
}

/// One joint of one robot: the leg's place in [`Robot::legs`], and which of its joints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JointRef {
    /// Index into [`Robot::legs`].
    pub leg: usize,
    /// Which joint of it.
    pub kind: JointKind,
}

impl Robot {
    /// The most legs a robot has here.
    pub const MOST_LEGS: usize = 8;

    /// The leg of that name, and its index.
    pub fn leg_named(&self, name: &str) -> Option<(usize, &Leg)> {
        self.legs.iter().enumerate().find(|(_, l)| l.name == name)
    }

    /// The joint at that place; `None` when there is no such leg.
    pub fn joint(&self, at: JointRef) -> Option<&Joint> {
        self.legs.get(at.leg).map(|leg| leg.joint(at.kind))
    }

    /// All joints, leg by leg, from body to foot.
    pub fn joints(&self) -> impl Iterator<Item = (JointRef, &Joint)> {
        self.legs.iter().enumerate().flat_map(|(leg, it)| {
            JointKind::ALL
                .into_iter()
                .map(move |kind| (JointRef { leg, kind }, it.joint(kind)))
        })
    }

    /// The joint that this pin drives.
    pub fn joint_of_pin(&self, pin: Pin) -> Option<JointRef> {
        self.joints()
            .find(|(_, joint)| joint.pin == Some(pin))
            .map(|(at, _)| at)
    }

    /// The joints whose scale is nominal, in the order of the file.
    pub fn nominal(&self) -> Vec<JointRef> {
        self.joints()
            .filter(|(_, joint)| joint.is_nominal())
            .map(|(at, _)| at)
            .collect()
    }

    /// `LF femur`, as screens and messages say it.
    pub fn title(&self, at: JointRef) -> String {
        match self.legs.get(at.leg) {
            Some(leg) => format!("{} {}", leg.name, at.kind),
            None => format!("leg {} {}", at.leg + 1, at.kind),
        }
    }
}

impl Leg {
    /// One of its joints.
    pub fn joint(&self, kind: JointKind) -> &Joint {
        &self.joints[kind.index()]
    }

    /// The joints whose scale is nominal.
    pub fn nominal(&self) -> Vec<JointKind> {
        JointKind::ALL
            .into_iter()
            .filter(|kind| self.joint(*kind).is_nominal())
            .collect()
    }

    /// One of its joints, to change it.
    pub fn joint_mut(&mut self, kind: JointKind) -> &mut Joint {
        &mut self.joints[kind.index()]
    }
}

impl Joint {
    /// Whether its µs/degree is nominal: typed from a data sheet, not measured on this servo.
    pub fn is_nominal(&self) -> bool {
        let scale = self.scale.as_ref();
        scale.is_some_and(|scale| scale.by == Method::Typed)
    }

    /// Whether zero and µs/degree are known and the latter was measured.
    pub fn is_calibrated(&self) -> bool {
        self.zero.is_some() && self.scale.is_some() && !self.is_nominal()
    }

    /// The angle that this pulse commands, degrees; `None` until zero and µs/degree are known.
    pub fn angle_deg(&self, pulse_us: f64) -> Option<f64> {
        let (zero, scale) = (self.zero.as_ref()?, self.scale.as_ref()?);
        Some((pulse_us - zero.value) / scale.value)
    }

    /// The pulse that commands this angle, µs, wherever it lies; `None` until zero and µs/degree are known.
    pub fn pulse_us(&self, angle_deg: f64) -> Option<f64> {
        let (zero, scale) = (self.zero.as_ref()?, self.scale.as_ref()?);
        Some(zero.value + scale.value * angle_deg)
    }

    /// The pulses allowed at all: what limits, ends and the board's own 500-2500 µs leave.
    pub fn allowed_us(&self) -> (f64, f64) {
        let mut low = Pulse::MIN.us();
        let mut high = Pulse::MAX.us();
        if let Some(end) = &self.near_end {
            low = low.max(end.value);
        }
        if let Some(end) = &self.far_end {
            high = high.min(end.value);
        }
        if let Some((near, far)) = self.limits {
            low = low.max(near.us());
            high = high.min(far.us());
        }
        (low, high)
    }

    /// The same bounds as angles, the smaller first; `None` until zero and µs/degree are known.
    pub fn allowed_deg(&self) -> Option<(f64, f64)> {
        let (low, high) = self.allowed_us();
        let (a, b) = (self.angle_deg(low)?, self.angle_deg(high)?);
        Some((a.min(b), a.max(b)))
    }

    /// By how many degrees the needed travel is cut short below and above; zeros when it fits.
    ///
    /// `None` while needed travel, zero or µs/degree are unknown.
    pub fn short_deg(&self) -> Option<(f64, f64)> {
        let (need_low, need_high) = self.needed_deg?;
        let (low, high) = self.allowed_deg()?;
        Some(((low - need_low).max(0.0), (need_high - high).max(0.0)))
    }
}

impl JointKind {
    /// From the body to the foot.
    pub const ALL: [JointKind; 3] = [JointKind::Coxa, JointKind::Femur, JointKind::Tibia];

    /// Its place in [`Leg::joints`].
    pub fn index(self) -> usize {
        match self {
            JointKind::Coxa => 0,
            JointKind::Femur => 1,
            JointKind::Tibia => 2,
        }
    }

    /// The word for it, in the file, on the screen and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            JointKind::Coxa => "coxa",
            JointKind::Femur => "femur",
            JointKind::Tibia => "tibia",
        }
    }
}

impl fmt::Display for JointKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl Method {
    /// Every method, in the order of the file format's page.
    pub const ALL: [Method; 6] = [
        Method::Typed,
        Method::Jog,
        Method::Marks,
        Method::Touches,
        Method::Peck,
        Method::Carried,
    ];

    /// The word for it in the file.
    pub fn word(self) -> &'static str {
        match self {
            Method::Typed => "typed",
            Method::Jog => "jog",
            Method::Marks => "marks",
            Method::Touches => "touches",
            Method::Peck => "peck",
            Method::Carried => "carried",
        }
    }
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for Method {
    type Err = ();

    fn from_str(text: &str) -> Result<Method, ()> {
        Method::ALL
            .into_iter()
            .find(|method| method.word() == text)
            .ok_or(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recorded(value: f64) -> Option<Recorded> {
        Some(Recorded {
            value,
            spread: None,
            at: "2026-03-14T10:22:05Z".into(),
            by: Method::Marks,
        })
    }

    #[test]
    fn a_pulse_becomes_the_angle_of_the_screens() {
        // The worked number of the screens' page: LF femur at 1612.5 µs stands at +11.8°.
        let joint = Joint {
            zero: recorded(1487.5),
            scale: recorded(10.62),
            ..Joint::default()
        };
        let angle = joint.angle_deg(1612.5).expect("both are known");
        assert!((angle - 11.77).abs() < 0.005, "{angle}");
        let back = joint.pulse_us(angle).expect("both are known");
        assert!((back - 1612.5).abs() < 1e-9);
        assert_eq!(Joint::default().angle_deg(1500.0), None);
    }

    #[test]
    fn allowed_is_what_limits_ends_and_the_board_leave() {
        let mut joint = Joint {
            zero: recorded(1500.0),
            scale: recorded(-10.0),
            ..Joint::default()
        };
        assert_eq!(joint.allowed_us(), (500.0, 2500.0));
        joint.near_end = recorded(900.0);
        joint.limits = Some((Pulse::from_halves(1900), Pulse::from_halves(4400)));
        assert_eq!(joint.allowed_us(), (950.0, 2200.0));
        assert_eq!(joint.allowed_deg(), Some((-70.0, 55.0)));
        joint.needed_deg = Some((-72.0, 40.0));
        assert_eq!(joint.short_deg(), Some((2.0, 0.0)));
    }
}
