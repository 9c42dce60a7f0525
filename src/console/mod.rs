//! The terminal console.

pub mod theme;
pub mod view;
