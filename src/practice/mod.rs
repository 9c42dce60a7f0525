//! The practice robot: the firmware's own core, compiled in, and around it servos, linkages and a
//! supply that behave as the real ones do, flaws included.
//!
//! It is a transport like any other and is known only to the places that open or serve it. It
//! never shows its truth: only what a person at the bench would see, as a [`crate::board::Sight`].
//! A seed decides everything about it; it reads no clock but in [`RealTime`].

// The core is C: this is the one file that may call it.
#[allow(unsafe_code)]
mod ffi;
mod firmware;
mod looks;
mod marram;
mod robot;
mod servo;
mod supply;
mod transport;
#[cfg(unix)]
pub mod tty;
mod world;

pub use firmware::{Firmware, Identity, SlotPulse};
pub use transport::{PracticeTransport, RealTime};
pub use world::{DEFAULT_SEED, Settings, World};
