//! Fills the view's plain structs from the state. It reads, it never changes; nothing is drawn here.

pub mod body;
pub mod ends;
pub mod family;
pub mod foot;
pub mod guided;
pub mod jog;
pub mod leg;
pub mod marks;
pub mod matrix;
pub mod plugs;
pub mod pose;
pub mod robot;
pub mod scale;
pub mod sight;

use std::path::Path;
use std::time::Duration;

use super::bench::{LinkState, Place};
use super::command::{Command, Foot, LEGS};
use super::keys::Code;
use super::layers::Table;
use super::measure::{number, path_shown};
use super::notice;
use super::state::{Front, Stands, State};
use super::update::{table_on_top, waiting_for};
use super::view;
use super::view::pen::columns;
use crate::calibration::{Joint, Robot};

/// Below this the supply is low for common servos and for the chip's own clock, V.
const LOW_V: f64 = 4.5;

/// All that stands on the screen now.
pub fn screen(state: &State, now: Duration) -> view::Screen {
    let page = state.page();
    let mut title = page.title(state);
    let mut body = page.picture(state, now);
    if let Some((name, lines, at)) = state.top().and_then(|layer| layer.list(state)) {
        title = view::Title {
            page: name,
            ..view::Title::default()
        };
        body = view::Page::List(lines, at);
    } else if state.big {
        title = view::Title {
            page: "Big view".into(),
            subject: format!("{}, {}", page.name(), title.subject),
            ..title
        };
        body = view::Page::Big(big(state, now));
    }
    if let Some(warning) = sight::warning(state) {
        title.urgent = true;
        let room = title.room(state.size.0.into());
        title.simulated = Some(match title.simulated {
            Some(phrase) => behind(&warning, &phrase, room),
            None => warning,
        });
    }
    view::Screen {
        head: head(state, now),
        title,
        page: body,
        overlay: state.top().and_then(|layer| layer.overlay(state, now)),
        big_words: big_words(state),
        notice: next_lines(state, now),
        foot: foot(state),
    }
}

/// A warning, and of the phrase behind it as much as has room, by whole parts.
fn behind(warning: &str, phrase: &str, room: i32) -> String {
    let parts: Vec<&str> = phrase.split(", ").collect();
    let with = |n: usize| [&[warning], &parts[..n]].concat().join(", ");
    let whole = (0..=parts.len()).rev().map(with);
    let mut fitting = whole.filter(|it| columns(it) <= room);
    fitting.next().unwrap_or_else(|| warning.to_owned())
}

fn head(state: &State, now: Duration) -> view::Head {
    let bench = &state.bench;
    let opened = bench.place.is_some();
    view::Head {
        robot: if opened {
            state.work.robot().name.clone()
        } else {
            "───".into()
        },
        link: match (&bench.link, &bench.place) {
            (LinkState::Lost(since), _) => view::Link::Lost {
                seconds: now.saturating_sub(*since).as_secs(),
            },
            (LinkState::Opening, _) => view::Link::Looking,
            (LinkState::Up, Some(Place::Practice { seed, .. })) => view::Link::Practice {
                seed: *seed,
                speed: bench.sight.as_ref().map_or(1, |sight| sight.speed),
            },
            (LinkState::Up, Some(Place::Port(_))) => view::Link::Port {
                name: bench.name.clone(),
                baud: bench.rate,
            },
            _ => view::Link::None,
        },
        place: match state.stands {
            Stands::Unsaid => view::Place::Unsaid,
            Stands::Stand => view::Place::Stand,
            Stands::Ground if state.space_again => view::Place::GroundAgain,
            Stands::Ground => view::Place::Ground,
        },
        state: if bench.reset {
            view::Whole::Reset
        } else if bench.frozen.is_some() && bench.holds() {
            view::Whole::Frozen
        } else if bench.waking() > 0 {
            view::Whole::Waking(bench.waking())
        } else if bench.awake() > 0 {
            view::Whole::Awake(bench.awake())
        } else {
            view::Whole::Limp
        },
        supply: match bench.supply_v {
            None => view::Supply::None,
            Some(volts) if volts < LOW_V => view::Supply::Low { volts },
            Some(volts) => view::Supply::Volts {
                volts,
                real: !state.practice(),
            },
        },
        file: file(state),
    }
}

fn file(state: &State) -> String {
    let work = &state.work;
    if work.read_only() {
        return "read only".into();
    }
    match (work.unsaved(), &work.saved_at, work.path()) {
        (0, Some(at), _) => format!("saved {at}"),
        (0, None, Some(path)) => path
            .file_name()
            .map(|name| path_shown(Path::new(name)))
            .unwrap_or_default(),
        (0, None, None) => "no file".into(),
        (n, _, _) => format!("{n} unsaved"),
    }
}

/// The next line and the second line.
pub fn next_lines(state: &State, now: Duration) -> view::Notice {
    let told = |(next, second): (String, String)| view::Notice {
        next,
        second,
        more: state.troubles.len(),
        ..view::Notice::default()
    };
    match (state.front(), &state.said, state.top()) {
        (Front::Said, Some(said), _) => return told(said.clone()),
        (Front::Layer, _, Some(layer)) => {
            let (next, second) = layer.lines(state, now);
            let wrong = layer.wrong().map(|why| format!("Not like this: {why}."));
            return told((next, wrong.unwrap_or(second)));
        }
        (Front::Trouble, ..) => {
            if let Some(trouble) = notice::compose(state, now) {
                return trouble;
            }
        }
        _ => {}
    }
    if let Some(what) = waiting_for(state, now) {
        return told((
            format!("Waiting for the board: {what}."),
            "Space stops, before anything that waits.".into(),
        ));
    }
    if state.bench.frozen.is_some() {
        let held = state.bench.holds();
        return told((
            "Enter thaws. It moves nothing.".into(),
            if held {
                "Frozen: every pin keeps its pulse and its force. Moves are refused.".into()
            } else {
                "All limp, and the board is still frozen: nothing wakes before that.".into()
            },
        ));
    }
    if let Some(sitting) = &state.sitting {
        return told((
            format!(
                "Sitting down: {} s more. Hands away.",
                notice::seconds_left(sitting.until, now)
            ),
            "Space stops.".into(),
        ));
    }
    if let Some(who) = still_wake(state) {
        return told((
            format!("Hands away: {who}."),
            "Each jumps to its pulse at full speed. Space stops.".into(),
        ));
    }
    view::Notice {
        alarm: state.page().wrong(state),
        ..told(state.page().lines(state, now))
    }
}

/// Of those that were asked for together, who has not jumped yet: `LF tibia still wakes`.
fn still_wake(state: &State) -> Option<String> {
    let mut pins = state.still_wake();
    let pin = pins.next()?;
    let of_pin = |(_, joint): &(_, &Joint)| joint.pin == Some(pin);
    let first = match state.work.robot().joints().find(of_pin) {
        Some((at, _)) => state.work.robot().title(at),
        None => format!("pin {pin}"),
    };
    Some(match pins.count() {
        0 => format!("{first} still wakes"),
        more => format!("{first} and {more} more still wake, one after the other"),
    })
}

fn big_words(state: &State) -> String {
    let bench = &state.bench;
    if let LinkState::Lost(_) = bench.link {
        return "LINK LOST".into();
    }
    if bench.reset {
        return "BOARD RESET".into();
    }
    if bench.frozen.is_some() {
        let held = bench.holds();
        return if held { "FROZEN" } else { "THAW FIRST" }.into();
    }
    match state.top().map(|layer| layer.big_words()) {
        Some(words) if !words.is_empty() => words.into(),
        _ if still_wake(state).is_some() => "HANDS AWAY".into(),
        _ => state.page().big_words(state),
    }
}

fn big(state: &State, now: Duration) -> view::BigPage {
    let words = view::BigBlock {
        text: big_words(state),
        beside: Vec::new(),
    };
    let count = state.top().and_then(|layer| layer.big_number(state, now));
    let number = state.page().big_number(state);
    view::BigPage {
        blocks: [Some(words), count, number].into_iter().flatten().collect(),
        below: match state.top() {
            Some(_) => None,
            None => state.page().below_big(state, now).map(Box::new),
        },
    }
}

const PUT_AWAY: Foot = Foot::new("Enter", "put it away");

fn foot(state: &State) -> Vec<view::FootEntry> {
    let wide = state.size.0 >= 120;
    let table: Table = table_on_top(state);
    let mut shown: Vec<_> = table
        .iter()
        .filter(|command| why_off(command, state).is_none())
        .flat_map(|command| command.foot.iter().map(move |foot| (command, foot)))
        .filter(|(command, foot)| (wide || !foot.wide) && key_works(command, foot.keys, state))
        .map(|(_, foot)| foot)
        .collect();
    // What is shown where room is left stands behind all others, before what is never cut.
    let (last, others): (Vec<_>, Vec<_>) = shown.into_iter().partition(|foot| foot.last);
    shown = others;
    let end = shown.iter().position(|foot| foot.keep);
    let end = end.unwrap_or(shown.len());
    shown.splice(end..end, last);
    // What went wrong takes Enter and Esc for itself.
    let away = state.front() == Front::Trouble
        && notice::shown(&state.troubles).is_some_and(|(_, it)| it.is_put_away());
    if away {
        shown.retain(|foot| !["Enter", "Esc"].contains(&foot.keys));
        shown.insert(0, &PUT_AWAY);
    }
    shown
        .into_iter()
        .map(|foot| view::FootEntry {
            keys: as_turned(foot.keys, state),
            text: as_turned(foot.text, state),
            long: foot.long.map(Into::into),
            keep: foot.keep,
        })
        .collect()
}

/// The leg keys as they stand in the picture now: with the front at a side, three stand above the body and three below.
pub fn as_turned(keys: &str, state: &State) -> String {
    if keys != LEGS.keys {
        return keys.to_owned();
    }
    let letters = state.letters();
    let used: Vec<String> = super::places::LETTERS
        .into_iter()
        .filter(|it| letters.contains(it))
        .map(String::from)
        .collect();
    used.join(" ")
}

/// Whether the one key of a foot entry works now, where several keys share a row of help.
fn key_works(command: &Command, keys: &str, state: &State) -> bool {
    let mut chars = keys.chars();
    let (Some(c), None) = (chars.next(), chars.next()) else {
        return true;
    };
    command
        .binds
        .iter()
        .find(|(code, _)| *code == Code::Char(c))
        .is_none_or(|(_, intent)| (command.works)(state, *intent).is_ok())
}

/// Why none of a command's keys works now; `None` when one does.
pub fn why_off(command: &Command, state: &State) -> Option<String> {
    let mut reasons = command
        .binds
        .iter()
        .map(|(_, intent)| (command.works)(state, *intent));
    let first = reasons.next()?.err()?;
    reasons.all(|r| r.is_err()).then_some(first)
}

/// What is still to be found of a joint, in the order of the work.
pub fn missing(joint: &Joint) -> Option<&'static str> {
    if joint.zero.is_none() {
        Some("zero")
    } else if joint.scale.is_none() {
        Some("scale")
    } else if joint.near_end.is_none() {
        Some("near end")
    } else if joint.far_end.is_none() {
        Some("far end")
    } else {
        None
    }
}

/// `9 of 18 have a zero, 6 have both ends`.
pub fn known(robot: &Robot) -> String {
    let all = robot.joints().count();
    let zeros = robot.joints().filter(|(_, j)| j.zero.is_some()).count();
    let ends = robot
        .joints()
        .filter(|(_, j)| j.near_end.is_some() && j.far_end.is_some())
        .count();
    format!("{zeros} of {all} have a zero, {ends} have both ends")
}

/// The chosen joint in a few numbers.
pub fn card(state: &State) -> view::JointCard {
    let joint = state.joint().cloned().unwrap_or_default();
    let mut title = state.title();
    if let Some(pin) = joint.pin {
        title.push_str(&format!("   pin {pin}"));
    }
    if let Some(servo) = &joint.servo {
        title.push_str(&format!("   servo {servo}"));
    }
    let known = |it: &Option<crate::calibration::Recorded>| match it {
        Some(it) => format!("{} µs", plus_minus(it.value, it.spread)),
        None => "?".into(),
    };
    let pulse = joint
        .pin
        .and_then(|pin| state.bench.plug(pin).pulse)
        .map_or_else(|| "limp".into(), |p| format!("{p} µs commanded"));
    view::JointCard {
        title,
        rows: vec![
            ("pulse".into(), pulse),
            ("zero".into(), known(&joint.zero)),
            ("near end".into(), known(&joint.near_end)),
            ("far end".into(), known(&joint.far_end)),
        ],
    }
}

/// `1487.5 ± 4`.
pub fn plus_minus(value: f64, spread: Option<f64>) -> String {
    match spread {
        Some(spread) => {
            // No more digits than the ± makes good.
            let unit = match spread {
                s if s >= 10.0 => 1.0,
                s if s >= 1.0 => 10.0,
                _ => 100.0,
            };
            let shown = |it: f64| number((it * unit).round() / unit);
            format!("{} ± {}", shown(value), shown(spread))
        }
        None => number(value),
    }
}

/// `LF femur, pin 23, servo 07`.
pub fn subject(state: &State) -> String {
    let joint = state.joint();
    let mut text = state.title();
    match joint.and_then(|j| j.pin) {
        Some(pin) => text.push_str(&format!(", pin {pin}")),
        None => text.push_str(", no pin known"),
    }
    if let Some(servo) = joint.and_then(|j| j.servo.as_ref()) {
        text.push_str(&format!(", servo {servo}"));
    }
    text
}
