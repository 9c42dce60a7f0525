//! The `key=value` fields of a line from the board, and how each is read.
//!
//! A field that is not known is passed over; what a line means stands elsewhere.

use thiserror::Error;

use super::escape::shown;
use crate::units::{Pin, Pulse};

/// The fields behind the head of a line, in order, as they came.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Fields(Vec<String>);

/// A field that is due and missing, or is not what it should be.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{found}, where {wanted} was due: the firmware and this program differ")]
pub struct FieldError {
    pub(super) found: String,
    pub(super) wanted: String,
}

impl Fields {
    /// From the words of a line.
    pub fn new<'a>(words: impl IntoIterator<Item = &'a str>) -> Fields {
        Fields(words.into_iter().map(str::to_owned).collect())
    }

    /// The words, as they came: not yet fit to be shown.
    pub fn words(&self) -> &[String] {
        &self.0
    }

    /// The words, fit to be shown.
    pub fn text(&self) -> String {
        shown(self.0.join(" ").as_bytes())
    }

    /// The value of the first `key=value` with this key.
    pub fn get(&self, key: &str) -> Option<&str> {
        self.pairs().find(|(k, _)| *k == key).map(|(_, v)| v)
    }

    pub(super) fn pairs(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().filter_map(|w| w.split_once('='))
    }

    /// The number in the field `key`.
    pub fn number(&self, key: &str) -> Result<u32, FieldError> {
        self.read(key, "a whole number", whole)
    }

    pub(super) fn small(&self, key: &str) -> Result<u16, FieldError> {
        self.read(key, "a number of 16 bits", |v| {
            u16::try_from(whole(v)?).ok()
        })
    }

    pub(super) fn pin(&self, key: &str) -> Result<Pin, FieldError> {
        self.read(key, "a pin", |v| v.parse().ok())
    }

    pub(super) fn pulse(&self, key: &str) -> Result<Pulse, FieldError> {
        self.read(key, "a pulse", |v| v.parse().ok())
    }

    pub(super) fn read<T>(
        &self,
        key: &str,
        wanted: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<T, FieldError> {
        let value = self.get(key).ok_or_else(|| FieldError {
            found: "nothing".into(),
            wanted: format!("{key}="),
        })?;
        read(value).ok_or_else(|| FieldError {
            found: format!("{key}={}", shown(value.as_bytes())),
            wanted: format!("{key}= with {wanted}"),
        })
    }

    /// Reads a field that may be missing; one that is there must be right.
    pub(super) fn maybe<T>(
        &self,
        key: &str,
        read: impl Fn(&Fields, &str) -> Result<T, FieldError>,
    ) -> Result<Option<T>, FieldError> {
        self.get(key).map(|_| read(self, key)).transpose()
    }
}

/// Digits alone: the standard parser would take `+5` as well.
pub(super) fn whole(word: &str) -> Option<u32> {
    word.bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| word.parse().ok())?
}
