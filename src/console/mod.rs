//! The terminal console.
//!
//! Data flows one way: keys become intents by the page's command table, `update` changes the state and yields effects,
//! the runner carries them out and brings what came of them back; `compose` fills the view's plain structs from the state.
//! Everything but the runner is pure: no I/O, no clock, no thread. `update` is the only writer, `view` only reads.

pub mod actions;
pub mod axes;
pub mod bench;
pub mod command;
pub mod compose;
pub mod effect;
pub mod field;
pub mod guided;
pub mod intent;
pub mod keys;
pub mod layers;
pub mod link;
pub mod measure;
pub mod motion;
pub mod notice;
pub mod pages;
pub mod places;
pub mod recording;
pub mod runner;
pub mod sit;
pub mod stance;
pub mod state;
pub mod theme;
pub mod update;
pub mod view;
pub mod work;

#[cfg(test)]
mod tests;
