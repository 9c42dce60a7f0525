//! The practice robot: the firmware's own core, compiled in, and around it servos, linkages and a
//! supply that behave as the real ones do, faults included.
//!
//! It is a transport like any other and is known only to the place that opens transports. It never
//! shows its truth: only what a person at the bench would see, as a [`crate::board::Sight`].

// The core is C: this is the one file that may call it.
#[allow(unsafe_code)]
mod ffi;
mod firmware;

pub use firmware::{Firmware, Identity, SlotPulse};
