//! Fits and advice: what observations say, with an honest ±, and what to do next.
//!
//! Plain mathematics on values handed in. Nothing here does I/O, reads a clock, starts a thread
//! or draws a random number; the same input gives the same answer.

pub mod check;
mod ends;
pub mod family;
mod fold;
pub mod horns;
mod joint;
pub mod knowledge;
pub mod line;
pub mod marks;
pub mod plugs;
pub mod supply;
mod takeover;
mod turning;

pub use fold::{counting, knowledge, knowledge_after};
pub use knowledge::Knowledge;
pub use takeover::taken_over;
