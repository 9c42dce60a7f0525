//! One entry of the logbook: its number, when it was made, and what was observed or decided.

use serde::{Deserialize, Serialize};

use super::plan::Plan;
use super::words::{
    Copper, Dead, End, EndKind, JointName, MarkKind, Neighbour, Part, Side, SupplyQuestion, Taken,
    Tool, Verdict, Way, Why, Wire,
};

/// The format of the entries that this hornset writes, and the newest that it reads.
pub const FORMAT: u32 = 1;

/// One entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its number: 1, 2, 3 …
    pub n: u64,
    /// When it was made, RFC 3339 with an offset.
    pub at: String,
    /// What it says.
    pub what: What,
}

/// What an entry says. Pulses are µs, angles degrees.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
#[expect(
    clippy::large_enum_variant,
    reason = "a logbook holds some hundreds of entries; a box would be in every reader's way for nothing"
)]
pub enum What {
    /// Geometry, legs and planned wiring; a later plan replaces an earlier one.
    Plan(Plan),
    /// What a file said of a joint that no entry tells: taken over by hand, kept until observations replace it.
    ///
    /// Each value that it gives stands in place of what was observed before; what it does not give stays.
    TakenOver {
        /// Which joint.
        joint: JointName,
        /// The servo's number.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        servo: Option<String>,
        /// The pulse at 0°, µs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        zero_us: Option<Taken>,
        /// µs/degree, signed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        us_per_degree: Option<Taken>,
        /// The near end, µs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        near_end_us: Option<Taken>,
        /// The far end, µs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        far_end_us: Option<Taken>,
        /// The limits, µs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        limits_us: Option<(f64, f64)>,
        /// The guard, µs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        guard_us: Option<(f64, f64)>,
        /// The full play, degrees.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        play_deg: Option<Taken>,
    },
    /// Entry `entry` no longer counts. Undoing an undo makes the first one count again.
    Undo {
        /// Which entry.
        entry: u64,
    },
    /// What of this joint is to be found anew: what was observed of it before no longer counts.
    StartOver {
        /// Which joint.
        joint: JointName,
        /// Which part of what is known of it.
        part: Part,
    },
    /// One answer on the way to a [`What::Supply`], which sums them up; kept so that the questions can be left.
    SupplyAnswer {
        /// Which question.
        to: SupplyQuestion,
        /// The answer to a question that is yes or no.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        yes: Option<bool>,
        /// The answer to a question for a number; none if it is not known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        value: Option<f64>,
    },
    /// The servo supply.
    Supply {
        /// What it is set to, V.
        volts: f64,
        /// Its current limit, A.
        limit_amps: f64,
        /// One servo's stall current, A, if it is known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stall_amps: Option<f64>,
        /// The builder's own reading of the supply's display, V.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        display_volts: Option<f64>,
        /// The same, A.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        display_amps: Option<f64>,
        /// Board and supply share their ground.
        common_ground: bool,
        /// Every plug's ground side was looked at.
        plugs_checked: bool,
    },
    /// A servo, alone on the test pin.
    ServoTested {
        /// The number on its sticker.
        servo: String,
        /// What it was found to be.
        verdict: Verdict,
        /// How long it ran, s.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ran_s: Option<f64>,
        /// What else was seen.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        note: Option<String>,
    },
    /// A servo was built in.
    ServoPlaced {
        /// Where.
        joint: JointName,
        /// The number on its sticker.
        servo: String,
    },
    /// Another servo sits there now: what depended on the old one no longer counts.
    ServoReplaced {
        /// Where.
        joint: JointName,
        /// The new one's number.
        servo: String,
    },
    /// What the servos and horns here have alike, said once for all of them; what is left out was said before.
    ///
    /// Teeth are the first thing that is asked: an entry with teeth begins another kind.
    ServoKind {
        /// Teeth of the spline.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        teeth: Option<u32>,
        /// Arms of the horn.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        arms: Option<u32>,
        /// How far it turns to each side of its centre, degrees.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        travel_deg: Option<f64>,
        /// No number for all: how far each servo turns is measured.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        measured: bool,
    },
    /// Whether the horns are on already and stay as they are: asked once, before the first one.
    HornsOn {
        /// The robot is built, and its horns stay; else they are still to go on, or may be turned.
        stay: bool,
    },
    /// The travel that this joint needs, where the plan does not say it, or says another.
    Needed {
        /// Which joint.
        joint: JointName,
        /// The smallest angle, degrees.
        low_deg: f64,
        /// The largest.
        high_deg: f64,
    },
    /// The angle at which a horn came out was read once; the mean of the readings goes into [`What::Horn`].
    HornRead {
        /// Which joint.
        joint: JointName,
        /// What the gauge said, degrees.
        angle_deg: f64,
    },
    /// The leg was unscrewed from the horn of this joint, or screwed on again: while it is off nothing else is done with it.
    Leg {
        /// Which joint.
        joint: JointName,
        /// It is on.
        on: bool,
    },
    /// With the leg unscrewed from the horn: the angle at which its bare arm stood when the servo had come to the end
    /// of its own travel.
    HornEnd {
        /// Which joint.
        joint: JointName,
        /// Which of its ends.
        toward: End,
        /// What the gauge said, degrees.
        angle_deg: f64,
    },
    /// How a horn was put on.
    Horn {
        /// Which joint.
        joint: JointName,
        /// Teeth of the spline.
        teeth: u32,
        /// Arms of the horn.
        arms: u32,
        /// The angle at which it came out at the mid-travel pulse, degrees.
        came_out_deg: f64,
        /// By how many teeth it was then turned, positive the joint's positive way.
        turn_teeth: i32,
        /// Which arm was taken, from 0: the one that was on.
        arm: u32,
        /// The travel that remains at the worst side, degrees.
        margin_deg: f64,
        /// The same at smaller and at larger angles; entries of earlier versions do not tell.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        margins_deg: Option<(f64, f64)>,
    },
    /// What moved when this pin's pulse grew a little.
    Plug {
        /// The pin.
        pin: Copper,
        /// What moved; nothing if the servo or plug is dead.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        joint: Option<JointName>,
        /// Which way.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        way: Option<Way>,
        /// What else moved with it.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        also: Vec<JointName>,
        /// Why nothing moved, if the builder knows.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<Dead>,
    },
    /// The plugs on two pins were exchanged.
    PlugsExchanged {
        /// Both pins.
        pins: (Copper, Copper),
    },
    /// The wiring as found is the plan from now on.
    MapAccepted {
        /// Every plug that drives a joint.
        wires: Vec<Wire>,
    },
    /// Rough bounds by eye: marks have room inside, the board guards them.
    Bounds {
        /// Which joint.
        joint: JointName,
        /// The smaller pulse, µs.
        low_us: f64,
        /// The larger pulse, µs.
        high_us: f64,
    },
    /// A gauge was put in its place; the marks that name it share one unknown offset.
    Placing {
        /// Its number among all placings.
        id: u64,
        /// The joints that it is read for.
        joints: Vec<JointName>,
        /// What was placed.
        tool: Tool,
    },
    /// This pulse put this joint at this angle.
    Mark {
        /// Which joint.
        joint: JointName,
        /// The commanded pulse, µs.
        pulse_us: f64,
        /// The side that it came from; none if the last motion is not known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<Side>,
        /// The angle, degrees.
        angle_deg: f64,
        /// Which placing of the gauge; none if it stands alone.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        placing: Option<u64>,
        /// What the reading is good for.
        by: MarkKind,
    },
    /// A peck toward an end moved freely.
    Free {
        /// Which joint.
        joint: JointName,
        /// Toward which end.
        toward: End,
        /// The peck's farthest pulse, µs.
        pulse_us: f64,
    },
    /// The mechanism ends here.
    End {
        /// Which joint.
        joint: JointName,
        /// Which end.
        toward: End,
        /// The pulse, µs.
        pulse_us: f64,
        /// How it was found.
        by: EndKind,
        /// What it was; none if nobody asked.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<Why>,
        /// Where the other joints stood.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        others: Vec<Neighbour>,
    },
    /// The pulses that software may ask for.
    Limits {
        /// Which joint.
        joint: JointName,
        /// How far inside the ends, µs.
        margin_us: f64,
        /// The smaller pulse, µs.
        low_us: f64,
        /// The larger pulse, µs.
        high_us: f64,
    },
    /// The pulses that the board is told to accept.
    Guard {
        /// Which joint.
        joint: JointName,
        /// The smaller pulse, µs.
        low_us: f64,
        /// The larger pulse, µs.
        high_us: f64,
    },
    /// Numbers that a person typed; they stand until marks replace them.
    Typed {
        /// Which joint.
        joint: JointName,
        /// The pulse at 0°, µs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        zero_us: Option<f64>,
        /// µs/degree, signed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        us_per_degree: Option<f64>,
        /// The full play, degrees.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        play_deg: Option<f64>,
    },
    /// A check of what is known, not a part of the fit: this pulse was read as this angle.
    Checked {
        /// Which joint.
        joint: JointName,
        /// The commanded pulse, µs.
        pulse_us: f64,
        /// The side that it came from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<Side>,
        /// The angle that was read, degrees.
        angle_deg: f64,
    },
    /// The calibration file was saved with everything up to here; a file with other bytes was edited since.
    Saved {
        /// SHA-256 of the file's bytes, in hex.
        sha256: String,
    },
    /// A remark.
    Note {
        /// Its words.
        text: String,
    },
}

impl What {
    /// The joint that it is about, if it is about one.
    pub fn joint(&self) -> Option<&JointName> {
        match self {
            What::TakenOver { joint, .. }
            | What::StartOver { joint, .. }
            | What::ServoPlaced { joint, .. }
            | What::ServoReplaced { joint, .. }
            | What::Needed { joint, .. }
            | What::HornRead { joint, .. }
            | What::HornEnd { joint, .. }
            | What::Leg { joint, .. }
            | What::Horn { joint, .. }
            | What::Bounds { joint, .. }
            | What::Mark { joint, .. }
            | What::Free { joint, .. }
            | What::End { joint, .. }
            | What::Limits { joint, .. }
            | What::Guard { joint, .. }
            | What::Typed { joint, .. }
            | What::Checked { joint, .. } => Some(joint),
            What::Plug { joint, .. } => joint.as_ref(),
            What::Plan(_)
            | What::Undo { .. }
            | What::SupplyAnswer { .. }
            | What::Supply { .. }
            | What::ServoTested { .. }
            | What::ServoKind { .. }
            | What::HornsOn { .. }
            | What::PlugsExchanged { .. }
            | What::MapAccepted { .. }
            | What::Placing { .. }
            | What::Saved { .. }
            | What::Note { .. } => None,
        }
    }
}
