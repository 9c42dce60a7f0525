//! From the text of a calibration file to a robot, or to everything that is wrong with the text.
//!
//! Pure: the text in, a robot and findings out.
//! Which values contradict each other is `check`'s matter, TOML's spelling `reader`'s and `toml10`'s.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::check;
use super::finding::{Fault, Finding, line_and_column};
use super::model::{Body, Joint, JointKind, Leg, Links, Method, Mount, Recorded, Robot, Span};
use super::reader::{Fields, Reader, type_in_words};
use super::toml10;
use crate::units::{Pin, Pulse};

/// The format that this hornset writes.
pub const FORMAT: i64 = 1;

/// The oldest format that this hornset reads.
pub const OLDEST_FORMAT: i64 = 0;

/// What a text says.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The robot; `None` when any finding is an error.
    pub robot: Option<Robot>,
    /// Errors and warnings, in the order of the text.
    pub findings: Vec<Finding>,
    /// The format that the file states; `None` when it does not come so far.
    pub format: Option<i64>,
}

impl Reading {
    /// Whether the file is refused.
    pub fn is_refused(&self) -> bool {
        self.robot.is_none()
    }

    fn refused(format: Option<i64>, findings: Vec<Finding>) -> Self {
        Reading {
            robot: None,
            findings,
            format,
        }
    }
}

/// Reads the bytes of a file.
pub fn read_bytes(bytes: &[u8]) -> Reading {
    match std::str::from_utf8(bytes) {
        Ok(text) => read(text),
        Err(error) => {
            let good = error.valid_up_to();
            let head = std::str::from_utf8(&bytes[..good]).unwrap_or_default();
            let (line, column) = line_and_column(head, head.len());
            let finding = Finding {
                fault: Fault::NotUtf8,
                line,
                column,
                place: "the file".into(),
                found: format!("the byte 0x{:02X}", bytes[good]),
                expected: "text in UTF-8".into(),
                remedy: "Save it as UTF-8 in your editor.".into(),
            };
            Reading::refused(None, vec![finding])
        }
    }
}

/// Reads a text.
pub fn read(text: &str) -> Reading {
    let mut reader = Reader::new(text);
    let (root, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        let there = text.get(span.clone()).unwrap_or_default();
        // The parser's own sentence: what is wrong, and after the comma what it waited for.
        let (wrong, expected) =
            error
                .message()
                .split_once(", expected ")
                .unwrap_or(match error.message() {
                    twice @ "duplicate key" => (twice, "each key and table once"),
                    other => (other, "TOML"),
                });
        let found = match there.trim() {
            "" => wrong.to_owned(),
            some => format!("{wrong} at {}", some.escape_debug()),
        };
        reader.note(
            Fault::Syntax,
            span.start,
            "the way it is written",
            found,
            expected,
            "Look just before this place too: a quote or bracket may be missing there.",
        );
    }
    if !errors.is_empty() {
        return Reading::refused(None, sorted(reader.findings));
    }
    let root = root.get_ref();
    let mut top = Fields::new(root, String::new(), String::new(), 0);
    let format = read_format(&mut reader, &mut top);
    if !format.is_some_and(|it| (OLDEST_FORMAT..=FORMAT).contains(&it)) {
        return Reading::refused(format, reader.findings);
    }
    toml10::check(&mut reader, text, root);
    let whole_file_at = if format == Some(0) {
        read_recorded_at(&mut reader, &mut top)
    } else {
        None
    };
    let robot = read_robot(&mut reader, top, whole_file_at.as_deref());
    check::check(&mut reader, &robot);
    let findings = sorted(reader.findings);
    let refused = findings.iter().any(Finding::is_error);
    Reading {
        robot: (!refused).then_some(robot),
        findings,
        format,
    }
}

fn sorted(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.sort_by_key(|it| (it.line, it.column));
    findings
}

fn read_format(reader: &mut Reader<'_>, top: &mut Fields<'_, '_>) -> Option<i64> {
    if !top.has("format") {
        top.missing(reader, "format", "the whole number 1");
        return None;
    }
    let value = top.take(reader, "format")?;
    let start = value.span().start;
    let raw = reader.raw(value);
    let expected = format!("{OLDEST_FORMAT} or {FORMAT}");
    let DeValue::Integer(number) = value.get_ref() else {
        let found = format!("{raw} ({})", type_in_words(value.get_ref()));
        reader.note(
            Fault::WrongType,
            start,
            "format",
            found,
            format!("a whole number, {expected}"),
            "Write format = 1.",
        );
        return None;
    };
    let format = i64::from_str_radix(number.as_str(), number.radix()).unwrap_or(i64::MAX);
    if format > FORMAT {
        reader.note(
            Fault::Format,
            start,
            "format",
            raw,
            expected,
            "A newer hornset wrote this file: use that one. Nothing was changed.",
        );
    } else if format < OLDEST_FORMAT {
        reader.note(
            Fault::Format,
            start,
            "format",
            raw,
            expected,
            "Write format = 1 if the file follows the page FORMAT.md.",
        );
    }
    Some(format)
}

/// Format 0 has one time for the whole file.
fn read_recorded_at(reader: &mut Reader<'_>, top: &mut Fields<'_, '_>) -> Option<String> {
    if !top.has("recorded_at") {
        top.missing(reader, "recorded_at", "a time as 2026-03-14T10:22:05Z");
        return None;
    }
    let value = top.take(reader, "recorded_at")?;
    read_time(reader, value, "recorded_at")
}

fn read_robot(reader: &mut Reader<'_>, mut top: Fields<'_, '_>, at: Option<&str>) -> Robot {
    let mut name = String::new();
    if top.has("name") {
        if let Some((text, offset)) = reader.text(&mut top, "name", "name = \"Marram\"") {
            if let Err(why) = robot_name(&text) {
                reader.note(
                    Fault::BadName,
                    offset,
                    "name",
                    format!("\"{}\"", text.escape_debug()),
                    why,
                    "Give the robot a short name of one line.",
                );
            }
            name = text;
        }
    } else {
        top.missing(reader, "name", "the robot's name in quotes");
    }
    let template = reader.boolean(&mut top, "template").unwrap_or(false);
    let body = reader
        .table(&mut top, "body", "[body]")
        .and_then(|fields| read_body(reader, fields));
    let legs = read_legs(reader, &mut top, at);
    reader.finish(top);
    Robot {
        name,
        template,
        body,
        legs,
    }
}

/// Whether a robot can have this name; else what a name looks like.
pub fn robot_name(text: &str) -> Result<(), &'static str> {
    let good = !text.trim().is_empty()
        && text.trim() == text
        && text.chars().count() <= 40
        && !text.chars().any(char::is_control);
    good.then_some(())
        .ok_or("1 to 40 characters, no blank at either end")
}

/// Whether a leg can have this name; else what a name looks like.
pub fn leg_name(text: &str) -> Result<(), &'static str> {
    let good = text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.len() <= 8
        && text.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    good.then_some(())
        .ok_or("1 to 8 letters, digits and _, a letter first")
}

fn read_body(reader: &mut Reader<'_>, mut fields: Fields<'_, '_>) -> Option<Body> {
    let length = reader.needed_number(&mut fields, "length_mm", 1.0..=2000.0);
    let width = reader.needed_number(&mut fields, "width_mm", 1.0..=2000.0);
    let centre = reader.numbers::<3>(&mut fields, "centre_of_mass_mm", -2000.0..=2000.0);
    reader.finish(fields);
    Some(Body {
        length_mm: length?,
        width_mm: width?,
        centre_of_mass_mm: centre.unwrap_or_default(),
    })
}

fn read_legs(reader: &mut Reader<'_>, top: &mut Fields<'_, '_>, at: Option<&str>) -> Vec<Leg> {
    if !top.has("leg") {
        top.missing(reader, "leg", "one to eight tables [[leg]]");
        return Vec::new();
    }
    let Some(value) = top.take(reader, "leg") else {
        return Vec::new();
    };
    let DeValue::Array(array) = value.get_ref() else {
        let found = format!("{} ({})", reader.raw(value), type_in_words(value.get_ref()));
        reader.note(
            Fault::WrongType,
            value.span().start,
            "leg",
            found,
            "one to eight tables [[leg]]",
            "Write [[leg]] with two brackets on each side.",
        );
        return Vec::new();
    };
    if array.is_empty() || array.len() > Robot::MOST_LEGS {
        let offset = array
            .get(Robot::MOST_LEGS)
            .map_or(value.span().start, |extra| extra.span().start);
        reader.note(
            Fault::LegCount,
            offset,
            "leg",
            format!("{} legs", array.len()),
            format!("1 to {}", Robot::MOST_LEGS),
            "One file is one robot; put other legs into another file.",
        );
    }
    let mut legs = Vec::new();
    for (index, value) in array.iter().enumerate() {
        let title = match value.get_ref() {
            DeValue::Table(table) => table
                .get("name")
                .and_then(|name| name.get_ref().as_str())
                .filter(|name| leg_name(name).is_ok())
                .map_or_else(
                    || format!("leg {}", index + 1),
                    |name| format!("leg {name}"),
                ),
            _ => format!("leg {}", index + 1),
        };
        let path = format!("leg.{index}");
        if let Some(fields) = reader.as_table(value, title, path, "[[leg]]") {
            legs.push(read_leg(reader, fields, at));
        }
    }
    legs
}

fn read_leg(reader: &mut Reader<'_>, mut fields: Fields<'_, '_>, at: Option<&str>) -> Leg {
    let mut name = String::new();
    if fields.has("name") {
        if let Some((text, offset)) = reader.text(&mut fields, "name", "name = \"LF\"") {
            if let Err(why) = leg_name(&text) {
                let place = fields.place("name");
                reader.note(
                    Fault::BadName,
                    offset,
                    &place,
                    format!("\"{}\"", text.escape_debug()),
                    why,
                    "Name legs from the robot's own view: LF, LM, LR, RF, RM, RR.",
                );
            }
            name = text;
        }
    } else {
        fields.missing(reader, "name", "the leg's name, as \"LF\"");
    }
    let mount = read_mount(reader, &mut fields);
    let links = read_links(reader, &mut fields);
    let joints = JointKind::ALL.map(|kind| {
        let key = kind.word();
        if !fields.has(key) {
            let example = format!("a table [leg.{key}], it may be empty");
            fields.missing(reader, key, &example);
            return Joint::default();
        }
        match reader.table(&mut fields, key, &format!("[leg.{key}]")) {
            Some(mut joint) => {
                joint.title = joint.title.trim_start_matches("leg ").to_owned();
                read_joint(reader, joint, at)
            }
            None => Joint::default(),
        }
    });
    reader.finish(fields);
    Leg {
        name,
        mount,
        links,
        joints,
    }
}

fn read_mount(reader: &mut Reader<'_>, fields: &mut Fields<'_, '_>) -> Mount {
    let example = "mount = { x_mm = 85.0, y_mm = 55.0, yaw_deg = 45.0 }";
    if !fields.has("mount") {
        fields.missing(reader, "mount", example);
        return Mount::default();
    }
    let Some(mut it) = reader.table(fields, "mount", example) else {
        return Mount::default();
    };
    let reach = -2000.0..=2000.0;
    let x = reader.needed_number(&mut it, "x_mm", reach.clone());
    let y = reader.needed_number(&mut it, "y_mm", reach.clone());
    let z = reader.number(&mut it, "z_mm", reach);
    let yaw = reader.needed_number(&mut it, "yaw_deg", -180.0..=180.0);
    reader.finish(it);
    Mount {
        x_mm: x.unwrap_or_default(),
        y_mm: y.unwrap_or_default(),
        z_mm: z.unwrap_or_default(),
        yaw_deg: yaw.unwrap_or_default(),
    }
}

fn read_links(reader: &mut Reader<'_>, fields: &mut Fields<'_, '_>) -> Links {
    let mut links = Links {
        coxa_mm: 0.0,
        femur_mm: 1.0,
        tibia_mm: 1.0,
        coxa_height_mm: 0.0,
        tibia_bend_deg: 0.0,
        ball_radius_mm: 0.0,
    };
    let example = "links = { coxa_mm = 31.0, femur_mm = 67.0, tibia_mm = 104.0 }";
    if !fields.has("links") {
        fields.missing(reader, "links", example);
        return links;
    }
    let Some(mut it) = reader.table(fields, "links", example) else {
        return links;
    };
    let long = 1.0..=1000.0;
    if let Some(mm) = reader.needed_number(&mut it, "coxa_mm", 0.0..=1000.0) {
        links.coxa_mm = mm;
    }
    if let Some(mm) = reader.needed_number(&mut it, "femur_mm", long.clone()) {
        links.femur_mm = mm;
    }
    if let Some(mm) = reader.needed_number(&mut it, "tibia_mm", long) {
        links.tibia_mm = mm;
    }
    if let Some(mm) = reader.number(&mut it, "coxa_height_mm", -500.0..=500.0) {
        links.coxa_height_mm = mm;
    }
    if let Some(deg) = reader.number(&mut it, "tibia_bend_deg", -90.0..=90.0) {
        links.tibia_bend_deg = deg;
    }
    if let Some(mm) = reader.number(&mut it, "ball_radius_mm", 0.0..=100.0) {
        links.ball_radius_mm = mm;
    }
    reader.finish(it);
    links
}

fn read_joint(reader: &mut Reader<'_>, mut fields: Fields<'_, '_>, at: Option<&str>) -> Joint {
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
    bounds: std::ops::RangeInclusive<f64>,
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

fn read_time(reader: &mut Reader<'_>, value: &Spanned<DeValue<'_>>, place: &str) -> Option<String> {
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
