//! Takes typed values out of a parsed TOML table and notes everything that is wrong with them.
//!
//! It goes on after a fault, so that a builder sees all of them at once.
//! It knows TOML and no robots: which keys there are is `read`'s matter.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::finding::{Fault, Finding, line_and_column};

/// The one of these words that is nearly spelled like this: few letters differ, or it was cut short.
pub(super) fn nearest<T>(
    word: &str,
    among: impl Iterator<Item = T>,
    spelled: impl Fn(&T) -> String,
) -> Option<T> {
    let word = word.to_lowercase();
    let few = (word.chars().count() / 3).max(1);
    let slips = |other: &str| match other.starts_with(&word) {
        true => 1,
        false => strsim::osa_distance(other, &word),
    };
    // Of two that are as near, the one that begins alike: slips of the first letter are rare.
    let alike = |other: &str| {
        let pairs = other.chars().zip(word.chars());
        pairs.take_while(|(a, b)| a == b).count()
    };
    among
        .map(|it| (spelled(&it).to_lowercase(), it))
        .filter(|(other, _)| !word.is_empty() && slips(other) <= few)
        .min_by_key(|(other, _)| (slips(other), std::cmp::Reverse(alike(other))))
        .map(|(_, it)| it)
}

/// The text, what was found wrong in it, and where each value stands.
pub(super) struct Reader<'t> {
    text: &'t str,
    pub(super) findings: Vec<Finding>,
    places: BTreeMap<String, usize>,
}

/// One table on its way through the reader: its keys are taken one by one, the rest is unknown.
pub(super) struct Fields<'v, 't> {
    table: &'v DeTable<'t>,
    /// In words, `LF femur`; empty for the top of the file.
    pub(super) title: String,
    /// As keys, `leg.0.femur`; empty for the top of the file.
    pub(super) path: String,
    at: usize,
    known: Vec<&'static str>,
}

impl<'t> Reader<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        Reader {
            text,
            findings: Vec::new(),
            places: BTreeMap::new(),
        }
    }

    /// Notes a fault at a byte offset.
    pub(super) fn note(
        &mut self,
        fault: Fault,
        offset: usize,
        place: &str,
        found: impl Into<String>,
        expected: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        let (line, column) = line_and_column(self.text, offset);
        self.findings.push(Finding {
            fault,
            line,
            column,
            place: place.to_owned(),
            found: found.into(),
            expected: expected.into(),
            remedy: remedy.into(),
        });
    }

    /// Where the value with this path stands; the start of the text when it is not there.
    pub(super) fn place_of(&self, path: &str) -> usize {
        self.places.get(path).copied().unwrap_or(0)
    }

    /// The line of the value with this path.
    pub(super) fn line_of(&self, path: &str) -> usize {
        line_and_column(self.text, self.place_of(path)).0
    }

    /// The value as it is written, on one line, shortened and safe for a terminal.
    pub(super) fn raw(&self, value: &Spanned<DeValue<'_>>) -> String {
        let text = self.text.get(value.span()).unwrap_or_default();
        let line = text.lines().next().unwrap_or_default();
        let mut short: String = line.chars().take(40).collect();
        if short.len() < text.len() {
            short.push('…');
        }
        short.escape_debug().to_string().replace("\\\"", "\"")
    }

    /// A number within bounds. Whole numbers are read as well.
    pub(super) fn number(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        bounds: RangeInclusive<f64>,
    ) -> Option<f64> {
        let value = fields.take(self, key)?;
        let place = fields.place(key);
        self.number_of(value, &place, bounds)
    }

    /// The number that has to be there.
    pub(super) fn needed_number(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        bounds: RangeInclusive<f64>,
    ) -> Option<f64> {
        if !fields.has(key) {
            let example = format!("a number, {} to {}", bounds.start(), bounds.end());
            fields.missing(self, key, &example);
            return None;
        }
        self.number(fields, key, bounds)
    }

    fn number_of(
        &mut self,
        value: &Spanned<DeValue<'_>>,
        place: &str,
        bounds: RangeInclusive<f64>,
    ) -> Option<f64> {
        let number = match value.get_ref() {
            DeValue::Integer(it) => i64::from_str_radix(it.as_str(), it.radix())
                .ok()
                .map(|whole| whole as f64),
            DeValue::Float(it) => it.as_str().parse::<f64>().ok(),
            other => {
                let found = format!("{} ({})", self.raw(value), type_in_words(other));
                self.note(
                    Fault::WrongType,
                    value.span().start,
                    place,
                    found,
                    format!("a number, {} to {}", bounds.start(), bounds.end()),
                    "Write a plain number without quotes, with a point for decimals.",
                );
                return None;
            }
        };
        let number = number.unwrap_or(f64::INFINITY);
        if !number.is_finite() {
            let found = self.raw(value);
            self.note(
                Fault::NotFinite,
                value.span().start,
                place,
                found,
                format!("a finite number, {} to {}", bounds.start(), bounds.end()),
                "Measure it again, or take the key out until it is known.",
            );
            return None;
        }
        if !bounds.contains(&number) {
            let found = self.raw(value);
            self.note(
                Fault::OutOfRange,
                value.span().start,
                place,
                found,
                format!("{} to {}", bounds.start(), bounds.end()),
                "Check the unit (it stands in the key's name) and the decimal point.",
            );
            return None;
        }
        Some(number)
    }

    /// Two numbers within bounds, the smaller first.
    pub(super) fn pair(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        bounds: RangeInclusive<f64>,
    ) -> Option<(f64, f64)> {
        let start = fields.peek(key).map(|it| it.span().start);
        let [low, high] = self.numbers(fields, key, bounds)?;
        if low >= high {
            let start = start.unwrap_or(fields.at);
            let place = fields.place(key);
            self.note(
                Fault::PairSwapped,
                start,
                &place,
                format!("[{low}, {high}]"),
                "the smaller number first",
                "Exchange the two numbers; for pulses the smaller comes first even on a mirrored leg.",
            );
            return None;
        }
        Some((low, high))
    }

    /// An array of exactly `N` numbers within bounds.
    pub(super) fn numbers<const N: usize>(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        bounds: RangeInclusive<f64>,
    ) -> Option<[f64; N]> {
        let value = fields.take(self, key)?;
        let place = fields.place(key);
        let array = match value.get_ref() {
            DeValue::Array(array) if array.len() == N => array,
            other => {
                let found = match other {
                    DeValue::Array(array) => {
                        format!("{} ({} values)", self.raw(value), array.len())
                    }
                    _ => format!("{} ({})", self.raw(value), type_in_words(other)),
                };
                self.note(
                    Fault::WrongType,
                    value.span().start,
                    &place,
                    found,
                    format!("{N} numbers in square brackets"),
                    "Write them as in [904.0, 2231.0].",
                );
                return None;
            }
        };
        let mut out = [0.0; N];
        let mut good = true;
        for (slot, item) in out.iter_mut().zip(array.iter()) {
            match self.number_of(item, &place, bounds.clone()) {
                Some(number) => *slot = number,
                None => good = false,
            }
        }
        good.then_some(out)
    }

    /// A piece of text, with its place.
    pub(super) fn text(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        example: &str,
    ) -> Option<(String, usize)> {
        let value = fields.take(self, key)?;
        match value.get_ref() {
            DeValue::String(text) => Some((text.to_string(), value.span().start)),
            other => {
                let found = format!("{} ({})", self.raw(value), type_in_words(other));
                let place = fields.place(key);
                self.note(
                    Fault::WrongType,
                    value.span().start,
                    &place,
                    found,
                    format!("text in quotes, as in {example}"),
                    "Put it in double quotes.",
                );
                None
            }
        }
    }

    /// `true` or `false`.
    pub(super) fn boolean(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<bool> {
        let value = fields.take(self, key)?;
        match value.get_ref() {
            DeValue::Boolean(yes) => Some(*yes),
            other => {
                let found = format!("{} ({})", self.raw(value), type_in_words(other));
                let place = fields.place(key);
                self.note(
                    Fault::WrongType,
                    value.span().start,
                    &place,
                    found,
                    "true or false",
                    "Write true or false without quotes.",
                );
                None
            }
        }
    }

    /// A table below this one, ready for its own keys to be taken.
    pub(super) fn table<'v, 'd>(
        &mut self,
        fields: &mut Fields<'v, 'd>,
        key: &'static str,
        example: &str,
    ) -> Option<Fields<'v, 'd>> {
        let value = fields.take(self, key)?;
        let title = fields.place(key);
        let path = fields.path_to(key);
        self.as_table(value, title, path, example)
    }

    /// The same for a value already in hand, an element of an array.
    pub(super) fn as_table<'v, 'd>(
        &mut self,
        value: &'v Spanned<DeValue<'d>>,
        title: String,
        path: String,
        example: &str,
    ) -> Option<Fields<'v, 'd>> {
        match value.get_ref() {
            DeValue::Table(table) => {
                Some(Fields::new(table, title, path, self.header(value.span())))
            }
            other => {
                let found = format!("{} ({})", self.raw(value), type_in_words(other));
                self.note(
                    Fault::WrongType,
                    value.span().start,
                    &title,
                    found,
                    format!("a table, as in {example}"),
                    "Write it as the example shows.",
                );
                None
            }
        }
    }

    /// Where a table's header or opening brace stands.
    fn header(&self, span: std::ops::Range<usize>) -> usize {
        span.start
    }

    /// Notes every key that nobody took.
    pub(super) fn finish(&mut self, fields: Fields<'_, '_>) {
        for (key, _) in fields.table.iter() {
            let name = key.get_ref().as_ref();
            if fields.known.contains(&name) {
                continue;
            }
            let place = if fields.title.is_empty() {
                "the top of the file".to_owned()
            } else {
                fields.title.clone()
            };
            self.note(
                Fault::UnknownKey,
                key.span().start,
                &place,
                format!("the key {}", name.escape_debug()),
                format!("one of {}", fields.known.join(", ")),
                match fields.like(name) {
                    Some(key) => format!(
                        "Did you mean {key}? Mend its spelling, or take it out; your own remarks go after a #."
                    ),
                    None => {
                        "Mend its spelling, or take it out; your own remarks go after a #.".into()
                    }
                },
            );
        }
    }
}

impl<'v, 't> Fields<'v, 't> {
    pub(super) fn new(table: &'v DeTable<'t>, title: String, path: String, at: usize) -> Self {
        Fields {
            table,
            title,
            path,
            at,
            known: Vec::new(),
        }
    }

    /// In words: `LF femur zero_us`.
    pub(super) fn place(&self, key: &str) -> String {
        if self.title.is_empty() {
            key.to_owned()
        } else {
            format!("{} {key}", self.title)
        }
    }

    /// As keys: `leg.0.femur.zero_us`.
    pub(super) fn path_to(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// The key that is not there yet and is spelled nearly like this.
    fn like(&self, name: &str) -> Option<&'static str> {
        let lacking = self.known.iter().copied().filter(|key| !self.has(key));
        nearest(name, lacking, |key| (*key).to_owned())
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    pub(super) fn peek(&self, key: &str) -> Option<&'v Spanned<DeValue<'t>>> {
        self.table.get(key)
    }

    /// The value of a key, which is known from now on.
    pub(super) fn take(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
    ) -> Option<&'v Spanned<DeValue<'t>>> {
        self.known.push(key);
        let value = self.table.get(key)?;
        reader.places.insert(self.path_to(key), value.span().start);
        Some(value)
    }

    /// Notes a key that has to be there and is not.
    pub(super) fn missing(&mut self, reader: &mut Reader<'_>, key: &'static str, example: &str) {
        self.known.push(key);
        let place = if self.title.is_empty() {
            "the top of the file".to_owned()
        } else {
            self.title.clone()
        };
        reader.note(
            Fault::MissingKey,
            self.at,
            &place,
            format!("no key {key}"),
            format!("{key}: {example}"),
            format!("Add a line {key} = … there."),
        );
    }
}

/// What TOML calls it, in words for a builder.
pub(super) fn type_in_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
