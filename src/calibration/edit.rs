//! Changes to the text of a calibration file that touch nothing but the value they are about.
//!
//! `toml_edit` makes each change; only the bytes that differ afterwards are carried into the builder's own text.
//! So comments, layout, line ends and even a byte-order mark stay as they were.
//! Pure: text in, text out.

use toml_edit::{Array, Datetime, DocumentMut, InlineTable, Item, TableLike, Value};

use super::model::{Joint, JointRef, Recorded, Robot, Span};
use crate::units::{Pin, Pulse};

/// One thing to write down about a joint; `None` takes it out of the file.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Which plug drives it.
    Pin(Option<Pin>),
    /// The number on the servo's sticker.
    Servo(Option<String>),
    /// The pulse at 0°, µs.
    Zero(Option<Recorded>),
    /// µs/degree, signed.
    Scale(Option<Recorded>),
    /// The near end, µs.
    NearEnd(Option<Recorded>),
    /// The far end, µs.
    FarEnd(Option<Recorded>),
    /// The limits.
    Limits(Option<Span>),
    /// The guard.
    Guard(Option<Span>),
    /// The needed travel, degrees.
    Needed(Option<(f64, f64)>),
    /// The play, degrees.
    Play(Option<Recorded>),
}

impl Change {
    /// The key that it changes.
    pub fn key(&self) -> &'static str {
        match self {
            Change::Pin(_) => "pin",
            Change::Servo(_) => "servo",
            Change::Zero(_) => "zero_us",
            Change::Scale(_) => "us_per_degree",
            Change::NearEnd(_) => "near_end_us",
            Change::FarEnd(_) => "far_end_us",
            Change::Limits(_) => "limits_us",
            Change::Guard(_) => "guard_us",
            Change::Needed(_) => "needed_deg",
            Change::Play(_) => "play_deg",
        }
    }

    fn value(&self) -> Option<Value> {
        match self {
            Change::Pin(pin) => pin.map(pin_value),
            Change::Servo(servo) => servo.as_deref().map(Value::from),
            Change::Zero(it)
            | Change::Scale(it)
            | Change::NearEnd(it)
            | Change::FarEnd(it)
            | Change::Play(it) => it.as_ref().map(recorded_value),
            Change::Limits(span) | Change::Guard(span) => {
                span.map(|(low, high)| pair_value(low.us(), high.us()))
            }
            Change::Needed(pair) => pair.map(|(low, high)| pair_value(low, high)),
        }
    }

    /// What the file would say, as it would be written; `None` when the key would not be there.
    pub fn written(&self) -> Option<String> {
        self.value().map(|it| it.to_string())
    }

    /// Whether every number in it can be written.
    pub(super) fn is_finite(&self) -> bool {
        match self {
            Change::Zero(it)
            | Change::Scale(it)
            | Change::NearEnd(it)
            | Change::FarEnd(it)
            | Change::Play(it) => it
                .as_ref()
                .is_none_or(|it| it.value.is_finite() && it.spread.is_none_or(f64::is_finite)),
            Change::Needed(pair) => {
                pair.is_none_or(|(low, high)| low.is_finite() && high.is_finite())
            }
            Change::Pin(_) | Change::Servo(_) | Change::Limits(_) | Change::Guard(_) => true,
        }
    }
}

/// What must be written down to make one joint into the other.
pub fn changes(from: &Joint, to: &Joint) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut put = |differs: bool, change: Change| {
        if differs {
            changes.push(change);
        }
    };
    put(from.pin != to.pin, Change::Pin(to.pin));
    put(from.servo != to.servo, Change::Servo(to.servo.clone()));
    put(from.zero != to.zero, Change::Zero(to.zero.clone()));
    put(from.scale != to.scale, Change::Scale(to.scale.clone()));
    put(
        from.near_end != to.near_end,
        Change::NearEnd(to.near_end.clone()),
    );
    put(
        from.far_end != to.far_end,
        Change::FarEnd(to.far_end.clone()),
    );
    put(from.limits != to.limits, Change::Limits(to.limits));
    put(from.guard != to.guard, Change::Guard(to.guard));
    put(
        from.needed_deg != to.needed_deg,
        Change::Needed(to.needed_deg),
    );
    put(
        from.play_deg != to.play_deg,
        Change::Play(to.play_deg.clone()),
    );
    changes
}

/// What must be written down to give each joint of one robot what the other knows of the joint of that name.
pub fn changes_of_robot(from: &Robot, to: &Robot) -> Vec<(JointRef, Change)> {
    from.joints()
        .filter_map(|(at, joint)| {
            let (_, leg) = to.leg_named(&from.legs[at.leg].name)?;
            let changes = changes(joint, leg.joint(at.kind));
            Some(changes.into_iter().map(move |change| (at, change)))
        })
        .flatten()
        .collect()
}

/// Printed digits as a number, `A0` to `A15` as text.
fn pin_value(pin: Pin) -> Value {
    let printed = pin.to_string();
    match printed.parse::<i64>() {
        Ok(number) => Value::from(number),
        Err(_) => Value::from(printed),
    }
}

fn pair_value(low: f64, high: f64) -> Value {
    let mut array = Array::new();
    array.push(tidy(low));
    array.push(tidy(high));
    Value::Array(array)
}

fn recorded_value(it: &Recorded) -> Value {
    let mut table = InlineTable::new();
    table.insert("value", tidy(it.value).into());
    if let Some(spread) = it.spread {
        table.insert("spread", tidy(spread).into());
    }
    // A time that is none is written as text; reading the file back then refuses it by name.
    let at = match it.at.parse::<Datetime>() {
        Ok(at) => Value::from(at),
        Err(_) => Value::from(it.at.as_str()),
    };
    table.insert("at", at);
    table.insert("by", it.by.word().into());
    Value::InlineTable(table)
}

/// Four decimals are far below what any bench measures, and keep fitted numbers readable.
fn tidy(number: f64) -> f64 {
    let rounded = (number * 1e4).round() / 1e4;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// The text with one thing about one joint changed.
pub(super) fn change(text: &str, at: JointRef, change: &Change) -> Option<String> {
    let value = change.value();
    edit(text, |document| {
        let joint = joint_table(document, at)?;
        put(joint, change.key(), value);
        Some(())
    })
}

/// The text with a robot's name changed, and no template any more.
pub(super) fn rename(text: &str, name: &str) -> Option<String> {
    edit(text, |document| {
        let table = document.as_table_mut();
        put(table, "name", Some(name.into()));
        table.remove("template");
        Some(())
    })
}

/// The text in today's format: bare numbers of format 0 become tables with time and method.
pub(super) fn modernise(text: &str, robot: &Robot) -> Option<String> {
    edit(text, |document| {
        let table = document.as_table_mut();
        put(table, "format", Some(super::FORMAT.into()));
        table.remove("recorded_at");
        for (at, joint) in robot.joints() {
            let table = joint_table(document, at)?;
            let all = [
                Change::Zero(joint.zero.clone()),
                Change::Scale(joint.scale.clone()),
                Change::NearEnd(joint.near_end.clone()),
                Change::FarEnd(joint.far_end.clone()),
                Change::Play(joint.play_deg.clone()),
            ];
            for change in &all {
                let old = table.get(change.key());
                if old.is_some_and(|it| it.is_integer() || it.is_float()) {
                    put(table, change.key(), change.value());
                }
            }
        }
        Some(())
    })
}

fn joint_table(document: &mut DocumentMut, at: JointRef) -> Option<&mut dyn TableLike> {
    let legs = document.get_mut("leg")?;
    let leg: &mut dyn TableLike = match legs {
        Item::ArrayOfTables(tables) => tables.get_mut(at.leg)?,
        Item::Value(Value::Array(array)) => array.get_mut(at.leg)?.as_inline_table_mut()?,
        _ => return None,
    };
    leg.get_mut(at.kind.word())?.as_table_like_mut()
}

/// Sets, replaces or removes a key; a replaced value keeps the blanks and comment around it.
fn put(table: &mut dyn TableLike, key: &str, value: Option<Value>) {
    let Some(mut value) = value else {
        table.remove(key);
        return;
    };
    match table.get_mut(key) {
        Some(Item::Value(old)) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        Some(other) => *other = Item::Value(value),
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}

/// Runs a change on the parsed text and carries the bytes that differ into the builder's own.
fn edit(text: &str, change: impl FnOnce(&mut DocumentMut) -> Option<()>) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let before = document.to_string();
    change(&mut document)?;
    let after = document.to_string();
    Some(splice(text, &before, &after))
}

/// Carries the difference between `before` and `after` into `text`.
///
/// `before` is `text` as `toml_edit` writes it: the same but for line ends and a byte-order mark.
/// The difference is taken line by line from both sides, so that what lies outside it is never touched.
fn splice(text: &str, before: &str, after: &str) -> String {
    let old: Vec<&str> = text.split_inclusive('\n').collect();
    let plain: Vec<&str> = before.split_inclusive('\n').collect();
    let new: Vec<&str> = after.split_inclusive('\n').collect();
    debug_assert_eq!(old.len(), plain.len(), "toml_edit keeps every line");
    let crlf = old.iter().filter(|line| line.ends_with("\r\n")).count();
    let end = if crlf * 2 > old.len() { "\r\n" } else { "\n" };
    let mut out = String::with_capacity(text.len() + 256);
    if text.starts_with('\u{feff}') && !before.starts_with('\u{feff}') {
        out.push('\u{feff}');
    }
    for step in diff(&plain, &new) {
        match step {
            Step::Keep(index) => {
                let line = old.get(index).copied().unwrap_or_default();
                out.push_str(line.trim_start_matches('\u{feff}'));
            }
            Step::Add { index, instead_of } => {
                let line = new[index];
                match line.strip_suffix('\n') {
                    Some(body) => {
                        out.push_str(body);
                        let same = instead_of.and_then(|at| old.get(at));
                        out.push_str(match same {
                            Some(line) if line.ends_with("\r\n") => "\r\n",
                            Some(line) if line.ends_with('\n') => "\n",
                            _ => end,
                        });
                    }
                    None => out.push_str(line),
                }
            }
        }
    }
    out
}

enum Step {
    /// An old line, as it is.
    Keep(usize),
    /// A new line, perhaps in place of an old one.
    Add {
        index: usize,
        instead_of: Option<usize>,
    },
}

/// A short script from the old lines to the new ones, by their longest common subsequence.
fn diff(old: &[&str], new: &[&str]) -> Vec<Step> {
    let head = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let tail = old[head..]
        .iter()
        .rev()
        .zip(new[head..].iter().rev())
        .take_while(|(a, b)| a == b)
        .count();
    let (a, b) = (&old[head..old.len() - tail], &new[head..new.len() - tail]);
    // common[i][j]: the longest common subsequence of a[i..] and b[j..].
    let mut common = vec![vec![0u32; b.len() + 1]; a.len() + 1];
    for i in (0..a.len()).rev() {
        for j in (0..b.len()).rev() {
            common[i][j] = if a[i] == b[j] {
                common[i + 1][j + 1] + 1
            } else {
                common[i + 1][j].max(common[i][j + 1])
            };
        }
    }
    let mut steps: Vec<Step> = (0..head).map(Step::Keep).collect();
    let (mut i, mut j) = (0, 0);
    let mut dropped = Vec::new();
    while i < a.len() || j < b.len() {
        if i < a.len() && j < b.len() && a[i] == b[j] {
            steps.push(Step::Keep(head + i));
            dropped.clear();
            (i, j) = (i + 1, j + 1);
        } else if i < a.len() && (j == b.len() || common[i + 1][j] >= common[i][j + 1]) {
            dropped.push(head + i);
            i += 1;
        } else {
            let instead_of = (!dropped.is_empty()).then(|| dropped.remove(0));
            steps.push(Step::Add {
                index: head + j,
                instead_of,
            });
            j += 1;
        }
    }
    steps.extend((old.len() - tail..old.len()).map(Step::Keep));
    steps
}

/// The bounds of a pulse pair, for callers that compute them: the nearest half steps inside.
pub fn span_inside(low_us: f64, high_us: f64) -> Option<Span> {
    let low = Pulse::from_us((low_us * 2.0).ceil() / 2.0)?;
    let high = Pulse::from_us((high_us * 2.0).floor() / 2.0)?;
    (low < high && low.is_sendable() && high.is_sendable()).then_some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{JointKind, MARRAM, Method, read};

    const FEMUR: JointRef = JointRef {
        leg: 0,
        kind: JointKind::Femur,
    };

    fn zero(value: f64) -> Change {
        Change::Zero(Some(Recorded {
            value,
            spread: Some(3.5),
            at: "2026-03-21T09:00:00Z".into(),
            by: Method::Jog,
        }))
    }

    /// Lines that differ, as (old, new).
    fn changed(old: &str, new: &str) -> Vec<(String, String)> {
        old.split('\n')
            .zip(new.split('\n'))
            .filter(|(a, b)| a != b)
            .map(|(a, b)| (a.to_owned(), b.to_owned()))
            .collect()
    }

    #[test]
    fn a_new_zero_changes_one_line_and_reads_back() {
        let text = change(MARRAM, FEMUR, &zero(1490.0)).expect("it can be changed");
        let lines = changed(MARRAM, &text);
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert_eq!(
            lines[0].1,
            "zero_us = { value = 1490.0, spread = 3.5, at = 2026-03-21T09:00:00Z, by = \"jog\" }"
        );
        let robot = read(&text).robot.expect("still a good file");
        let it = robot.joint(FEMUR).expect("there").zero.clone();
        assert_eq!(it.expect("there").value, 1490.0);
    }

    #[test]
    fn every_byte_outside_the_value_stays_with_any_layout() {
        let odd = "\u{feff}# mine\r\nformat=1 # one\r\n\r\nname = 'Odd'\nleg = [ { name=\"A\", mount={x_mm=0,y_mm=0,yaw_deg=0}, \
                   links={coxa_mm=1,femur_mm=2,tibia_mm=3}, coxa={}, tibia = {  }, femur = { pin =  4 } } ] # last\r\n# end, no new line";
        assert!(read(odd).robot.is_some(), "{:?}", read(odd).findings);
        let text = change(odd, FEMUR, &Change::Pin(Some(Pin::LAST))).expect("changed");
        assert_eq!(text, odd.replace("pin =  4", "pin =  \"A15\""));
        let back = change(&text, FEMUR, &Change::Pin(Pin::new(4).ok())).expect("changed");
        assert_eq!(back, odd);
    }

    #[test]
    fn crlf_and_comments_survive_a_new_key_and_its_removal() {
        let crlf = MARRAM
            .replace("servo = \"07\"\n", "servo = \"07\" # the odd one\n")
            .replace('\n', "\r\n");
        let without = change(&crlf, FEMUR, &Change::Play(None)).expect("changed");
        assert_eq!(without.lines().count() + 1, crlf.lines().count());
        assert!(without.contains("# the odd one\r\n"));
        assert!(!without.replace("\r\n", "").contains(['\r', '\n']));
        let again = change(
            &without,
            FEMUR,
            &Change::Play(Some(Recorded {
                value: 0.6,
                spread: Some(0.2),
                at: "2026-03-14T13:15:06Z".into(),
                by: Method::Marks,
            })),
        )
        .expect("changed");
        assert_eq!(again, crlf);
    }

    #[test]
    fn spans_are_rounded_inwards() {
        let (low, high) = span_inside(904.1, 2231.9).expect("a span");
        assert_eq!((low.us(), high.us()), (904.5, 2231.5));
        assert_eq!(span_inside(400.0, 2000.0), None);
        assert_eq!(span_inside(f64::NAN, 2000.0), None);
    }
}
