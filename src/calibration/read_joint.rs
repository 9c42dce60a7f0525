//! Reads one joint's table: pin, servo, and the values that were recorded with when and how.
//!
//! Which values contradict each other is `check`'s matter.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeValue;

use super::finding::Fault;
use super::model::{Joint, Method, Recorded, Span};
use super::reader::{Fields, Reader};
use crate::units::{Pin, Pulse};

pub(super) fn read_joint(
    reader: &mut Reader<'_>,
    mut fields: Fields<'_, '_>,
    at: Option<&str>,
) -> Joint {
    let sendable = Pulse::MIN.us()..=Pulse::MAX.us();
    let joint = Joint {
        pin: read_pin(reader, &mut fields),
        servo: read_servo(reader, &mut fields),
        zero: read_recorded(reader, &mut fields, "zero_us", -2000.0..=5000.0, at),
        scale: read_scale(reader, &mut fields, at),
        near_end: read_recorded(reader, &mut fields, "near_end_us", sendable.clone(), at),
        far_end: read_recorded(reader, &mut fields, "far_end_us", sendable, at),
        limits: read_span(reader, &mut fields, "limits_us"),
        guard: read_span(reader, &mut fields, "guard_us"),
        needed_deg: reader.pair(&mut fields, "needed_deg", -180.0..=180.0),
        play_deg: read_recorded(reader, &mut fields, "play_deg", 0.0..=45.0, at),
    };
    reader.finish(fields);
    joint
}

fn read_pin(reader: &mut Reader<'_>, fields: &mut Fields<'_, '_>) -> Option<Pin> {
    let value = fields.take(reader, "pin")?;
    let pin = match value.get_ref() {
        DeValue::Integer(number) if number.radix() == 10 => number.as_str().parse::<Pin>().ok(),
        DeValue::String(text) => text.parse::<Pin>().ok(),
        _ => None,
    };
    if pin.is_none() {
        let found = reader.raw(value);
        let place = fields.place("pin");
        reader.note(
            Fault::BadPin,
            value.span().start,
            &place,
            found,
            "2 to 69, or \"A0\" to \"A15\" in quotes",
            "Write what is printed on the board beside the plug.",
        );
    }
    pin
}

fn read_servo(reader: &mut Reader<'_>, fields: &mut Fields<'_, '_>) -> Option<String> {
    let (text, offset) = reader.text(fields, "servo", "servo = \"07\"")?;
    if servo_number(&text).is_err() {
        let place = fields.place("servo");
        reader.note(
            Fault::BadName,
            offset,
            &place,
            format!("\"{}\"", text.escape_debug()),
            "1 to 12 characters without blanks",
            "Write the number on the servo's sticker.",
        );
        return None;
    }
    Some(text)
}

/// Whether a sticker can say this; else what it can say.
pub fn servo_number(text: &str) -> Result<(), &'static str> {
    let good = (1..=12).contains(&text.chars().count())
        && !text
            .chars()
            .any(|c| c.is_whitespace() || c.is_control() || c == '"' || c == '\\');
    good.then_some(())
        .ok_or("1 to 12 characters without blanks")
}

fn read_scale(
    reader: &mut Reader<'_>,
    fields: &mut Fields<'_, '_>,
    at: Option<&str>,
) -> Option<Recorded> {
    let scale = read_recorded(reader, fields, "us_per_degree", -100.0..=100.0, at)?;
    let (fault, found) = match scale.value.abs() {
        0.0 => (Fault::ZeroScale, "0".to_owned()),
        small if small < 1.0 => (Fault::OutOfRange, scale.value.to_string()),
        _ => return Some(scale),
    };
    let offset = reader.place_of(&fields.path_to("us_per_degree"));
    let place = fields.place("us_per_degree");
    reader.note(
        fault,
        offset,
        &place,
        found,
        "1 to 100, or −1 to −100 on a mirrored joint",
        "Most hobby servos have about 10; measure it with two marks.",
    );
    None
}

fn read_span(
    reader: &mut Reader<'_>,
    fields: &mut Fields<'_, '_>,
    key: &'static str,
) -> Option<Span> {
    let sendable = Pulse::MIN.us()..=Pulse::MAX.us();
    let (low, high) = reader.pair(fields, key, sendable)?;
    let exact = |us: f64| Pulse::from_us(us).filter(|pulse| pulse.us() == us);
    match (exact(low), exact(high)) {
        (Some(low), Some(high)) => Some((low, high)),
        _ => {
            let offset = reader.place_of(&fields.path_to(key));
            let place = fields.place(key);
            reader.note(
                Fault::HalfStep,
                offset,
                &place,
                format!("[{low}, {high}]"),
                "whole or half microseconds",
                "Round inward, to .0 or .5: the board knows no finer step.",
            );
            None
        }
    }
}

/// A measured value: a table with value, at, by and perhaps spread; in format 0 a bare number.
fn read_recorded(
    reader: &mut Reader<'_>,
    fields: &mut Fields<'_, '_>,
    key: &'static str,
    bounds: RangeInclusive<f64>,
    whole_file_at: Option<&str>,
) -> Option<Recorded> {
    if let Some(at) = whole_file_at
        && fields.peek(key).is_some_and(|it| !it.get_ref().is_table())
    {
        return reader.number(fields, key, bounds).map(|value| Recorded {
            value,
            spread: None,
            at: at.to_owned(),
            by: Method::Carried,
        });
    }
    let example = format!("{key} = {{ value = …, at = 2026-03-14T10:22:05Z, by = \"marks\" }}");
    let mut it = reader.table(fields, key, &example)?;
    let value = reader.needed_number(&mut it, "value", bounds);
    let spread = reader.number(&mut it, "spread", 0.0..=1000.0);
    let at = read_at(reader, &mut it);
    let by = read_by(reader, &mut it);
    reader.finish(it);
    Some(Recorded {
        value: value?,
        spread,
        at: at?,
        by: by?,
    })
}

fn read_at(reader: &mut Reader<'_>, fields: &mut Fields<'_, '_>) -> Option<String> {
    if !fields.has("at") {
        fields.missing(
            reader,
            "at",
            "when it was recorded, as 2026-03-14T10:22:05Z",
        );
        return None;
    }
    let value = fields.take(reader, "at")?;
    let place = fields.place("at");
    read_time(reader, value, &place)
}

pub(super) fn read_time(
    reader: &mut Reader<'_>,
    value: &Spanned<DeValue<'_>>,
    place: &str,
) -> Option<String> {
    if let DeValue::Datetime(it) = value.get_ref()
        && it.offset.is_some()
    {
        let text = it.to_string();
        if text.parse::<jiff::Timestamp>().is_ok() {
            return Some(text);
        }
    }
    let found = reader.raw(value);
    reader.note(
        Fault::BadTime,
        value.span().start,
        place,
        found,
        "date, time and offset without quotes, as 2026-03-14T10:22:05Z",
        "Z means UTC; write +01:00 and the like for a local time.",
    );
    None
}

fn read_by(reader: &mut Reader<'_>, fields: &mut Fields<'_, '_>) -> Option<Method> {
    let words = Method::ALL.map(Method::word).join(", ");
    if !fields.has("by") {
        fields.missing(reader, "by", &format!("how it was found, one of {words}"));
        return None;
    }
    let (text, offset) = reader.text(fields, "by", "by = \"marks\"")?;
    let method = text.parse::<Method>().ok();
    if method.is_none() {
        let place = fields.place("by");
        reader.note(
            Fault::BadMethod,
            offset,
            &place,
            format!("\"{}\"", text.escape_debug()),
            format!("one of {words}"),
            "Write typed for a number that a person typed.",
        );
    }
    method
}
