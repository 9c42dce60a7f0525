//! What a person at the bench can do to a robot by hand, as a trait: the practice robot obeys it.
//!
//! A real board has no hands to offer: there the builder uses his own. Nothing here is truth: a
//! gauge is read with its errors, and what cannot be done by hand is refused in words.

use std::sync::Arc;

use thiserror::Error;

use super::escape::shown;
use crate::units::Pin;

/// What an angle is read with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tool {
    /// An edge laid on two screw heads.
    Edge,
    /// A printed card with pivot holes and edges.
    Card,
    /// A protractor or any gauge that is held to the joint.
    Gauge,
    /// An inclinometer left in place: good for differences, its own zero means nothing.
    Inclinometer,
}

/// What a person counts on a horn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Horn {
    /// Teeth of the spline.
    pub teeth: u32,
    /// Arms, evenly spread.
    pub arms: u32,
}

/// Where a printed sheet is meant to lie: the zero of its grid, in the body's frame, mm. The grid's directions are meant
/// to be the body's, x forward and y to the left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetPlace {
    /// Forward.
    pub x_mm: f64,
    /// To the left.
    pub y_mm: f64,
    /// Upward: its height.
    pub z_mm: f64,
}

/// Hands that can do what a builder does. None of it takes any of the robot's time.
pub trait Hands: Send {
    /// Places a gauge on a joint, in place of any that was placed before. All its readings share
    /// the error of this placing.
    fn place_gauge(&mut self, leg: &str, joint: &str, tool: Tool) -> Result<(), HandsError>;

    /// Reads the gauge, degrees: each reading has noise of its own.
    fn read_gauge(&mut self) -> Result<f64, HandsError>;

    /// Takes the gauge away; nothing happens if there is none.
    fn take_gauge_away(&mut self);

    /// Exchanges what is plugged on two pins; one of them may be empty.
    fn swap_plugs(&mut self, one: Pin, other: Pin) -> Result<(), HandsError>;

    /// Counts teeth and arms of the horn on a joint.
    fn horn(&self, leg: &str, joint: &str) -> Result<Horn, HandsError>;

    /// Takes the horn off and screws it on again while the servo stays where it is: turned by
    /// `teeth`, positive in the joint's positive way, and with the `arm`-th arm on from the present
    /// one. The joint's angle changes by `360/teeth_of_spline` for each tooth and `360/arms` for
    /// each arm, taken to −180°…180°.
    fn turn_horn(&mut self, leg: &str, joint: &str, teeth: i32, arm: u32)
    -> Result<(), HandsError>;

    /// Unscrews the leg from the horn of a limp joint: the horn stays on, its bare arm is a pointer, and a gauge on
    /// the joint shows the angle at which the joint would stand with the leg on. Nothing happens if it is off.
    fn unscrew_leg(&mut self, leg: &str, joint: &str) -> Result<(), HandsError>;

    /// Screws the leg to the horn of a limp joint again, where its arm stands. Nothing happens if it is on.
    fn screw_leg_on(&mut self, leg: &str, joint: &str) -> Result<(), HandsError>;

    /// The numbers on the stickers of the servos that are built in nowhere.
    fn spares(&self) -> Vec<String>;

    /// Builds a spare into a joint, horn on by eye at mid-travel; what sat there becomes a spare.
    fn exchange_servo(&mut self, leg: &str, joint: &str, spare: &str) -> Result<(), HandsError>;

    /// Plugs one spare, with nothing on its horn, on an empty pin.
    fn put_on_test_pin(&mut self, spare: &str, pin: Pin) -> Result<(), HandsError>;

    /// Puts the servo on the test pin back to the spares; nothing happens if there is none.
    fn clear_test_pin(&mut self);

    /// Lays a printed sheet, on a board, under the feet of these legs, as far as they reach; in place of any that was
    /// laid before. It lies where it is meant to as well as hands can do that. Refused while a joint of such a leg is
    /// awake, and where a foot would hang below the sheet. Other legs do not meet it.
    fn lay_sheet(&mut self, legs: &[&str], meant: SheetPlace) -> Result<(), HandsError>;

    /// Takes the sheet away; refused while a joint of a leg above it is awake. Nothing happens if there is none.
    fn take_sheet_away(&mut self) -> Result<(), HandsError>;
}

/// What cannot be done by hand, and what can be done instead.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum HandsError {
    /// The robot has no such joint.
    #[error(
        "there is no joint {} {} on this robot: look at it again",
        shown(leg.as_bytes()),
        shown(joint.as_bytes())
    )]
    NoSuchJoint {
        /// Leg asked for.
        leg: String,
        /// Joint asked for.
        joint: String,
    },
    /// The robot has no such leg.
    #[error("there is no leg {} on this robot: look at it again", shown(leg.as_bytes()))]
    NoSuchLeg {
        /// Leg asked for.
        leg: String,
    },
    /// A sheet that lies under nothing.
    #[error("the sheet was to lie under no leg: name one or more")]
    UnderNoLeg,
    /// A foot hangs too low for the sheet.
    #[error(
        "the foot of {leg} hangs {by_mm} mm below where the sheet would lie: lift the foot first, or lay the sheet lower"
    )]
    FootBelow {
        /// Whose foot.
        leg: &'static str,
        /// By how much, whole millimetres.
        by_mm: i32,
    },
    /// The foot would go through the sheet.
    #[error("the foot would go through the sheet: take the sheet away first")]
    ThroughSheet,
    /// No spare has this number.
    #[error("no spare has the number {}: the spares are {spares}", shown(number.as_bytes()))]
    NoSuchSpare {
        /// Number asked for.
        number: String,
        /// Those there are.
        spares: String,
    },
    /// There is no gauge to read.
    #[error("no gauge is placed: place one on a joint first")]
    NoGauge,
    /// This tool says nothing here.
    #[error("{why}: take another gauge")]
    WrongTool {
        /// What is wrong about it.
        why: &'static str,
    },
    /// Neither pin has a plug.
    #[error("no plug sits on {one} or {other}: name a pin that has one")]
    NoPlug {
        /// One pin.
        one: Pin,
        /// The other.
        other: Pin,
    },
    /// A plug sits there already.
    #[error("a plug sits on pin {pin} already: take an empty pin")]
    PinTaken {
        /// That pin.
        pin: Pin,
    },
    /// Hands stay away from what is awake.
    #[error("pin {pin} is awake: make it limp first, hands away until then")]
    Awake {
        /// That pin.
        pin: Pin,
    },
    /// The joint would stand beyond where its linkage ends.
    #[error(
        "the joint would stand at {deg}°, beyond where its linkage ends: move the servo first, or take another tooth or arm"
    )]
    BeyondLinkage {
        /// Where it would stand, whole degrees.
        deg: i32,
    },
}

/// Gives the hands to what wants to act with them.
type Lend = dyn Fn(&mut dyn FnMut(&mut dyn Hands)) + Send + Sync;

/// A handle on the hands of one robot; clones are the same hands.
#[derive(Clone)]
pub struct HandsHandle(Arc<Lend>);

impl HandsHandle {
    /// A handle on hands that `lend` gives to whoever acts, once for each call.
    pub fn new(
        lend: impl Fn(&mut dyn FnMut(&mut dyn Hands)) + Send + Sync + 'static,
    ) -> HandsHandle {
        HandsHandle(Arc::new(lend))
    }

    /// Does something by hand.
    pub fn with<T>(&self, act: impl FnOnce(&mut dyn Hands) -> T) -> T {
        let (mut act, mut done) = (Some(act), None);
        (self.0)(&mut |hands| {
            if let Some(act) = act.take() {
                done = Some(act(hands));
            }
        });
        done.expect("the hands are lent once for each call")
    }
}

impl std::fmt::Debug for HandsHandle {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("HandsHandle")
    }
}
