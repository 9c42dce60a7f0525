//! The words that entries are made of.
//!
//! They are written to files as they stand here: a word may be added with a new format, none is ever changed.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::calibration::model::{JointKind, Method, Recorded};
use crate::calibration::read::leg_name;
use crate::units::Pin;

/// One joint by name, `LF femur`, so that the logbook stands alone.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct JointName {
    /// The leg's name.
    pub leg: String,
    /// Which of its joints.
    pub kind: JointKind,
}

/// From which side a joint came to a pulse: the side on which the take-up move began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// From smaller pulses: the last motion raised the pulse.
    Below,
    /// From larger pulses: the last motion lowered the pulse.
    Above,
}

/// One of a joint's two ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum End {
    /// At the smaller pulse.
    Near,
    /// At the larger pulse.
    Far,
}

/// What it was that ended the motion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// The linkage or the printed parts.
    Linkage,
    /// The servo's own travel.
    Servo,
    /// A cable came taut.
    Cable,
    /// It met a neighbour leg.
    Neighbour,
    /// It met the body.
    Body,
}

/// How an end was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EndKind {
    /// By pecks, each answered by the builder.
    Peck,
    /// The builder recorded the present pulse while jogging.
    Jog,
    /// The board's trip acted on a current sensor.
    Trip,
}

/// Which way the joint turns when the pulse grows.
///
/// Positive turns the coxa counter-clockwise seen from above, lifts the femur, stretches the knee upward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// A larger pulse is a larger angle.
    Positive,
    /// A larger pulse is a smaller angle.
    Negative,
}

/// What a reading of an angle is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MarkKind {
    /// An edge brought onto two screw heads: a good zero.
    Null,
    /// An angle read from a gauge and typed.
    Absolute,
    /// From an instrument left in place: good for differences within its placing, no zero.
    Difference,
}

/// What an angle is read with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tool {
    /// An edge laid on two screw heads.
    Edge,
    /// A printed card with pivot holes and edges.
    Card,
    /// A protractor or any gauge that is held to the joint.
    Gauge,
    /// An inclinometer left in place, a phone for one.
    Inclinometer,
}

/// What a servo was found to be, alone on the test pin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Fit to be built in.
    Good,
    /// It hunts or jitters.
    Noisy,
    /// It gets hot without a load.
    Hot,
    /// It does not move.
    Dead,
    /// It was built in without a test.
    Untested,
}

/// A part of what is known of a joint that can be begun anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Which plug drives it, and which way it turns.
    Plug,
    /// Its horn.
    Horn,
    /// Its rough bounds.
    Bounds,
    /// Its marks, and what was typed or taken over for zero, µs/degree and play.
    Marks,
    /// Its ends, pecks, limits and guard.
    Ends,
}

/// A question about the servo supply, in the order in which they are asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SupplyQuestion {
    /// Have the servos a supply of their own? Else the board feeds them.
    OwnSource,
    /// Do board and supply share their ground?
    CommonGround,
    /// Was every plug's ground side looked at?
    PlugsChecked,
    /// What it is set to, V.
    Volts,
    /// Its current limit, A.
    LimitAmps,
    /// One servo's stall current, A.
    StallAmps,
    /// The builder's own reading of the supply's display, V.
    DisplayVolts,
    /// The same, A.
    DisplayAmps,
}

/// Why a pin moved nothing, as the builder found it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Dead {
    /// No plug sits there.
    NoPlug,
    /// The plug sits turned round.
    PlugTurned,
    /// The wire is broken, or the servo is dead.
    WireOrServo,
}

/// Where another joint stood during an observation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Neighbour {
    /// Which joint.
    pub joint: JointName,
    /// Its commanded pulse, µs; none if it was limp, so that nobody knows where it hung.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pulse_us: Option<f64>,
}

/// Which plug drives which joint.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wire {
    /// The plug's pin.
    pub pin: Copper,
    /// The joint that it drives.
    pub joint: JointName,
}

/// A pin as an entry writes it: the printed form, in quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Copper(pub Pin);

/// A value that stood in a file without a logbook, as it stood there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Taken {
    /// The value, in the unit that the field's name states.
    pub value: f64,
    /// The ± beside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spread: Option<f64>,
    /// When it was recorded, as the file said it.
    pub at: String,
    /// By which method, the file's own word.
    #[serde(with = "method")]
    pub by: Method,
}

impl JointName {
    /// The joint of that leg.
    pub fn new(leg: impl Into<String>, kind: JointKind) -> JointName {
        JointName {
            leg: leg.into(),
            kind,
        }
    }
}

impl fmt::Display for JointName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} {}", self.leg, self.kind.word()))
    }
}

impl FromStr for JointName {
    type Err = String;

    fn from_str(text: &str) -> Result<JointName, String> {
        let wrong = || {
            let found = text.escape_debug();
            format!("found \"{found}\", expected a leg and coxa, femur or tibia, as \"LF femur\"")
        };
        let (leg, kind) = text.split_once(' ').ok_or_else(wrong)?;
        let kind = JointKind::ALL.into_iter().find(|it| it.word() == kind);
        leg_name(leg).map_err(|_| wrong())?;
        Ok(JointName::new(leg, kind.ok_or_else(wrong)?))
    }
}

impl TryFrom<String> for JointName {
    type Error = String;

    fn try_from(text: String) -> Result<JointName, String> {
        text.parse()
    }
}

impl From<JointName> for String {
    fn from(name: JointName) -> String {
        name.to_string()
    }
}

impl TryFrom<String> for Copper {
    type Error = String;

    fn try_from(text: String) -> Result<Copper, String> {
        text.parse().map(Copper).map_err(|_| {
            let found = text.escape_debug();
            format!(
                "found the pin \"{found}\", expected what is printed beside it, as \"23\" or \"A3\""
            )
        })
    }
}

impl From<Copper> for String {
    fn from(pin: Copper) -> String {
        pin.0.to_string()
    }
}

impl From<Pin> for Copper {
    fn from(pin: Pin) -> Copper {
        Copper(pin)
    }
}

impl From<Recorded> for Taken {
    fn from(it: Recorded) -> Taken {
        Taken {
            value: it.value,
            spread: it.spread,
            at: it.at,
            by: it.by,
        }
    }
}

impl From<Taken> for Recorded {
    fn from(it: Taken) -> Recorded {
        Recorded {
            value: it.value,
            spread: it.spread,
            at: it.at,
            by: it.by,
        }
    }
}

impl Side {
    /// +1 when the last motion raised the pulse, −1 when it lowered it.
    pub fn sign(self) -> f64 {
        match self {
            Side::Below => 1.0,
            Side::Above => -1.0,
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Side::Below => "below",
            Side::Above => "above",
        }
    }
}

impl End {
    /// Near, far.
    pub const BOTH: [End; 2] = [End::Near, End::Far];

    /// Its place in a pair: near 0, far 1.
    pub fn index(self) -> usize {
        match self {
            End::Near => 0,
            End::Far => 1,
        }
    }

    /// The sign of a pulse step toward it.
    pub fn sign(self) -> f64 {
        match self {
            End::Near => -1.0,
            End::Far => 1.0,
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            End::Near => "near",
            End::Far => "far",
        }
    }
}

impl Way {
    /// The sign of µs/degree.
    pub fn sign(self) -> f64 {
        match self {
            Way::Positive => 1.0,
            Way::Negative => -1.0,
        }
    }

    /// The way of this µs/degree.
    pub fn of(us_per_degree: f64) -> Way {
        if us_per_degree < 0.0 {
            Way::Negative
        } else {
            Way::Positive
        }
    }
}

impl Part {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Part::Plug => "plug",
            Part::Horn => "horn",
            Part::Bounds => "bounds",
            Part::Marks => "marks",
            Part::Ends => "ends",
        }
    }
}

impl Dead {
    /// Every cause, in the order in which they are offered.
    pub const ALL: [Dead; 3] = [Dead::NoPlug, Dead::PlugTurned, Dead::WireOrServo];

    /// The words for it.
    pub fn words(self) -> &'static str {
        match self {
            Dead::NoPlug => "no plug sits there",
            Dead::PlugTurned => "its plug sits turned round",
            Dead::WireOrServo => "its wire or its servo is dead",
        }
    }
}

impl SupplyQuestion {
    /// Every question, in the order in which they are asked.
    pub const ALL: [SupplyQuestion; 8] = [
        SupplyQuestion::OwnSource,
        SupplyQuestion::CommonGround,
        SupplyQuestion::PlugsChecked,
        SupplyQuestion::Volts,
        SupplyQuestion::LimitAmps,
        SupplyQuestion::StallAmps,
        SupplyQuestion::DisplayVolts,
        SupplyQuestion::DisplayAmps,
    ];

    /// Its answer is yes or no; that of every other one is a number.
    pub fn is_yes_or_no(self) -> bool {
        self <= SupplyQuestion::PlugsChecked
    }

    /// "Not known" is an answer to it.
    pub fn may_be_unknown(self) -> bool {
        self >= SupplyQuestion::StallAmps
    }

    /// The words for it.
    pub fn words(self) -> &'static str {
        match self {
            SupplyQuestion::OwnSource => "a supply of their own",
            SupplyQuestion::CommonGround => "common ground",
            SupplyQuestion::PlugsChecked => "plugs looked at",
            SupplyQuestion::Volts => "set volts",
            SupplyQuestion::LimitAmps => "limit amps",
            SupplyQuestion::StallAmps => "stall amps",
            SupplyQuestion::DisplayVolts => "display volts",
            SupplyQuestion::DisplayAmps => "display amps",
        }
    }
}

impl Why {
    /// Every cause, in the order in which they are offered.
    pub const ALL: [Why; 5] = [
        Why::Linkage,
        Why::Servo,
        Why::Cable,
        Why::Neighbour,
        Why::Body,
    ];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Why::Linkage => "linkage",
            Why::Servo => "servo",
            Why::Cable => "cable",
            Why::Neighbour => "neighbour",
            Why::Body => "body",
        }
    }
}

impl Verdict {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Good => "good",
            Verdict::Noisy => "noisy",
            Verdict::Hot => "hot",
            Verdict::Dead => "dead",
            Verdict::Untested => "untested",
        }
    }
}

/// A method by the file's own word.
mod method {
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    use crate::calibration::model::Method;

    pub fn serialize<S: Serializer>(it: &Method, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(it.word())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Method, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(|()| {
            let words = Method::ALL.map(Method::word).join(", ");
            let found = text.escape_debug();
            D::Error::custom(format!("found \"{found}\", expected one of {words}"))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_joint_is_written_as_it_is_spoken() {
        let name = JointName::new("LF", JointKind::Femur);
        assert_eq!(
            serde_json::to_string(&name).expect("it can be"),
            "\"LF femur\""
        );
        assert_eq!("LF femur".parse(), Ok(name));
        for wrong in ["LF", "LF knee", " femur", "LF  femur", "9 coxa"] {
            assert!(wrong.parse::<JointName>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_pin_is_written_as_it_is_printed() {
        let pin = Copper(Pin::new(57).expect("a pin"));
        assert_eq!(serde_json::to_string(&pin).expect("it can be"), "\"A3\"");
        assert!(serde_json::from_str::<Copper>("\"1\"").is_err());
    }
}
