//! The practice robot: the firmware's own core, compiled in, and around it servos, linkages and a
//! supply that behave as the real ones do, flaws included.
//!
//! It is a transport like any other and is known only to the places that open or serve it. It
//! never shows its truth: only what a person at the bench would see, as a [`crate::board::Sight`],
//! and it obeys only what a person can do by hand, as [`crate::board::Hands`].
//! A seed decides everything about it; it reads no clock but in [`RealTime`].

#[cfg(test)]
mod bench;
mod body;
mod fault;
// The core is C: this is the one file that may call it.
#[allow(unsafe_code)]
mod ffi;
mod firmware;
mod geometry;
mod hands;
mod joint;
mod looks;
mod marram;
mod robot;
mod sensor;
mod servo;
mod sheet;
mod supply;
#[cfg(test)]
mod tests;
mod transport;
mod truth;
#[cfg(unix)]
pub mod tty;
mod world;

pub use fault::{Fault, Faults, NoSuchFault};
pub use firmware::{Firmware, Identity, SlotPulse};
pub use sensor::{
    CURRENT_INPUT, CURRENT_MV_PER_A, CURRENT_OFFSET_MV, VOLTS_DIVIDED_BY, VOLTS_INPUT,
};
pub use sheet::TrueSheet;
pub use transport::{PracticeTransport, RealTime, Shared};
pub use truth::{TrueJoint, Truth};
pub use world::{DEFAULT_SEED, Settings, World};
