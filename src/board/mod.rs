//! Placeholder header; its owner replaces it.
