//! From the text of a calibration file to a robot, or to everything that is wrong with the text.
//!
//! Pure: the text in, a robot and findings out.
//! Which values contradict each other is `check`'s matter, TOML's spelling `reader`'s and `toml10`'s.

use toml::de::{DeTable, DeValue};

use super::check;
use super::finding::{Fault, Finding, line_and_column};
use super::model::{Body, Joint, JointKind, Leg, Links, Mount, Robot};
use super::read_joint::{read_joint, read_time};
use super::reader::{Fields, Reader, type_in_words};
use super::toml10;

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
