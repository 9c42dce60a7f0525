//! What a key press asks for: the console's verbs, apart from any key.
//!
//! The command tables turn keys into these, `update` carries them out; nothing here does either.

use crate::calibration::JointKind;

/// A direction of the four arrows and of `h j k l`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// To the left; in Jog: smaller pulse.
    Left,
    /// To the right; in Jog: larger pulse.
    Right,
    /// Up; in Jog: the joint's positive way, once it is known.
    Up,
    /// Down; in Jog: the joint's negative way, once it is known.
    Down,
}

/// Which bound of a guard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The one at the smaller pulse: near end, low guard.
    Near,
    /// The one at the larger pulse: far end, high guard.
    Far,
}

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Intent {
    /// Stop, as the head line says.
    Stop,
    /// Do what the `►` line says.
    GoOn,
    /// Back one level.
    Back,
    /// Open or close help.
    Help,
    /// Leave the console; asks.
    Quit,
    /// Stop, then leave at once.
    StopAndQuit,
    /// Stop, then suspend the process.
    StopAndSuspend,
    /// Open the list of pages.
    Pages,
    /// Save the file.
    Save,
    /// Save under another name and go on there.
    SaveAs,
    /// Take the last recorded thing back.
    Undo,
    /// Change between pictures and the big view.
    Big,
    /// Turn the picture by a quarter.
    Turn,
    /// Say whether the robot is on its stand or on the ground.
    Ground,
    /// Freeze everything.
    Freeze,
    /// Sit down slowly.
    SitDown,
    /// Choose the leg whose foot bears this letter in the picture.
    Leg(char),
    /// Choose a joint of the chosen leg.
    Joint(JointKind),
    /// An arrow.
    Arrow(Way),
    /// Halve the step.
    Finer,
    /// Double the step.
    Coarser,
    /// Open a field to type a value.
    Type,
    /// Wake the chosen joint.
    Wake,
    /// Wake the chosen leg, after a countdown.
    WakeLeg,
    /// Let the chosen joint go limp.
    Limp,
    /// Let the chosen leg go limp.
    LimpLeg,
    /// Record that this pulse is an angle.
    Mark,
    /// Record that the mechanism ends here.
    End,
    /// Widen the guard on one side.
    Widen(Side),
    /// Points and ways in the leg's frame, or in the body's.
    Frame,
    /// Bend the knee the other way.
    Knee,
    /// Next view, field or unit.
    Next,
    /// A character typed into a field.
    Put(char),
    /// Rub out the character typed last.
    RubOut,
    /// None, no: nothing moved, it was free, enough.
    No,
    /// Once more.
    Again,
    /// And another one too.
    Also,
    /// Leave without saving, in the dialog that asks.
    Discard,
}
