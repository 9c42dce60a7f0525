//! Lines: bytes to messages and back, with the check, the tag and the length bound.
//!
//! It knows no verb's meaning, keeps no answer and reads no clock.

/// The longest line either way, in bytes with its end.
pub const LINE_MAX: usize = 255;
