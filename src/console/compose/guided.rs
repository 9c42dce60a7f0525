//! The present step of guided work, as the view draws it.

use std::time::Duration;

use super::{ends, leg, marks, plugs, robot, scale, sight};
use crate::calibration::JointRef;
use crate::console::guided::Guided;
use crate::console::guided::task::Task;
use crate::console::measure::FACTORY_GUARD;
use crate::console::state::State;
use crate::console::view::text::{degrees, us, whole_degrees};
use crate::console::view::{self, BigBlock, Left, RobotPicture, Scale, ValueField};
use crate::procedure::{Detail, Step, Wants};
use crate::units::Pulse;

/// The body of the page.
pub fn page(state: &State, guided: &Guided, now: Duration) -> view::Page {
    let step = guided.step();
    let choosing = matches!(step.wants, Wants::Pick { .. });
    match &step.picture.detail {
        Detail::Plugs { .. } if step.picture.pin.is_some() && !choosing => {
            view::Page::Plugs(Box::new(plugs::page(state, guided, &step, now)))
        }
        Detail::Marks(rows) if !choosing => {
            view::Page::Marks(Box::new(marks::page(state, guided, &step, rows, now)))
        }
        Detail::Peck(news) => {
            view::Page::Ends(Box::new(ends::page(state, guided, &step, news, now)))
        }
        _ => view::Page::Guided(Box::new(plain(state, guided, &step, now))),
    }
}

/// The title rule.
pub fn title(state: &State, task: Task) -> view::Title {
    let Some(guided) = &state.guided else {
        return view::Title {
            page: task.name().into(),
            ..view::Title::default()
        };
    };
    let step = guided.step();
    let (page, subject) = step.title.split_once(" ── ").unwrap_or((&step.title, ""));
    let mut subject = subject.to_owned();
    let mut simulated = sight::phrase(state);
    match &step.picture.detail {
        Detail::Plugs { .. } => {
            let front = ["up", "left", "down", "right"][usize::from(state.turn % 4)];
            if !subject.is_empty() {
                subject.push_str(", ");
            }
            subject.push_str(&format!("front is {front}"));
            if step.wants == Wants::JointAndWay {
                simulated = sight::swung(state, guided);
            }
        }
        Detail::Marks(_) => simulated = sight::gauge(state),
        Detail::LegOff { to_do: false } => simulated = sight::bare(state).or(simulated),
        Detail::Peck(_) => simulated = sight::pecked(state, guided),
        // A gauge is to be read: nothing may push its reading out of a narrow title.
        _ if matches!(
            step.wants,
            Wants::Value {
                unit: "°",
                start: None,
                ..
            }
        ) =>
        {
            simulated = sight::gauge(state);
        }
        // What was it? The last peck shows it.
        _ if task == Task::Ends && matches!(step.wants, Wants::Pick { .. }) => {
            simulated = sight::against(state, guided).or(simulated);
        }
        // No servo is looked at: its numbers are those of the display.
        _ if task == Task::Supply => simulated = sight::display(state),
        _ if task == Task::Servo => {
            simulated = sight::on_test_pin(state).or_else(|| guided.hint.clone());
        }
        _ => simulated = hinted(guided, simulated),
    }
    view::Title {
        page: page.into(),
        subject,
        simulated,
        urgent: false,
    }
}

/// What was looked at stands before what is seen all the time.
fn hinted(guided: &Guided, phrase: Option<String>) -> Option<String> {
    let phrase = phrase?;
    Some(match &guided.hint {
        Some(hint) => format!("{hint}, {phrase}"),
        None => phrase,
    })
}

fn with_hint(
    state: &State,
    guided: &Guided,
    sight: Option<view::SightBox>,
) -> Option<view::SightBox> {
    let mut sight = sight?;
    let alone = sight::on_test_pin(state).filter(|_| guided.task == Task::Servo);
    if let Some(line) = alone.or_else(|| guided.hint.clone()) {
        sight.lines.insert(0, line);
    }
    Some(sight)
}

/// The one big number of the page.
pub fn big_number(state: &State, step: &Step) -> Option<BigBlock> {
    let whose = step.picture.joint.map(|at| state.work.robot().title(at));
    let beside = |first: &str| {
        [Some(first.to_owned()), whose.clone()]
            .into_iter()
            .flatten()
    };
    match &step.picture.detail {
        Detail::Plugs { .. } => step.picture.pin.map(|pin| BigBlock {
            text: format!("PIN {pin}"),
            beside: vec!["which joint moved when it was nudged?".into()],
        }),
        Detail::Peck(news) => Some(BigBlock {
            text: us(news.to.us()),
            beside: beside("µs, farthest pulse of this peck").collect(),
        }),
        Detail::Marks(_) => {
            let field = state.guided.as_ref()?.desk.field.as_ref()?;
            Some(BigBlock {
                text: field.text().replace('-', "−"),
                beside: beside("degrees, as the gauge says").collect(),
            })
        }
        _ => step
            .picture
            .pulse
            .or(step.picture.ghost)
            .map(|pulse| BigBlock {
                text: us(pulse.us()),
                beside: beside("µs, commanded").collect(),
            }),
    }
}

/// What stands under the big words where the answer needs it: a drawing, a list, a field, sums.
pub fn below_big(state: &State, guided: &Guided, now: Duration) -> Option<view::Guided> {
    let view::Page::Guided(page) = page(state, guided, now) else {
        return None;
    };
    Some(view::Guided {
        picture: match page.picture {
            drawing @ Left::Drawing(_) => drawing,
            _ => Left::Drawing(Vec::new()),
        },
        // They stand above.
        big: String::new(),
        scale: None,
        ..*page
    })
}

/// The robot from above, the joint of the step lit.
pub fn lit(state: &State, at: Option<JointRef>) -> RobotPicture {
    RobotPicture {
        chosen: at.map(|at| (at.leg, Some(at.kind.index()))),
        ..robot::picture(state)
    }
}

/// The scale of what the step is about: the pin that is driven may be another one than the plan's.
pub fn scale_of(state: &State, step: &Step, now: Duration) -> Scale {
    let picture = &step.picture;
    let mut it = match picture.joint {
        Some(at) => scale::of(state, at, now),
        None => Scale {
            no_degrees: "not known yet, first the plug, then two marks".into(),
            ..Scale::default()
        },
    };
    if let Some(pin) = picture.pin {
        let plug = state.bench.plug(pin);
        it.commanded = plug.pulse.or(picture.pulse);
        it.target = picture
            .ghost
            .or(plug.target)
            .filter(|to| Some(*to) != it.commanded);
        // What the machine told the board; before that, what the board starts with.
        let known = picture.guard.or_else(|| {
            let at = state.work.robot().joint_of_pin(pin)?;
            Some(state.guard_of(at))
        });
        let (low, high) = known.unwrap_or(FACTORY_GUARD);
        it.guard = Some((low.us(), high.us()));
    }
    it
}

/// Its title: `LF femur`, or `pin 34`.
pub fn scale_title(state: &State, step: &Step) -> String {
    match (step.picture.joint, step.picture.pin) {
        (Some(at), _) => state.work.robot().title(at),
        (None, Some(pin)) => format!("pin {pin}"),
        (None, None) => String::new(),
    }
}

/// The field that is typed in now.
pub fn field(guided: &Guided, step: &Step) -> Option<ValueField> {
    let field = guided.desk.field.as_ref()?;
    let (label, unit, width) = match &step.wants {
        Wants::Value { unit: "°", .. } => ("angle", "°", 6),
        Wants::Value { unit: "pin", .. } => ("pin", "", 3),
        Wants::Value { unit, .. } => ("value", *unit, 7),
        _ => ("number", "", 12),
    };
    Some(ValueField {
        label: label.into(),
        text: field.text().replace('-', "−"),
        unit: unit.into(),
        width,
        error: field.error.clone(),
    })
}

/// A pulse's angle by the present calibration: ` (+11.8°)`, or nothing.
pub fn angle(state: &State, at: Option<JointRef>, pulse: Pulse) -> Option<f64> {
    state.work.robot().joint(at?)?.angle_deg(pulse.us())
}

fn plain(state: &State, guided: &Guided, step: &Step, now: Duration) -> view::Guided {
    let picture = &step.picture;
    let about_joint = picture.joint.is_some();
    let pulse = picture
        .pin
        .and_then(|pin| state.bench.plug(pin).pulse)
        .or(picture.pulse);
    let mut lines = Vec::new();
    if let Some(deg) = pulse.and_then(|pulse| angle(state, picture.joint, pulse)) {
        lines.push(format!("angle {}, commanded", degrees(deg)));
    }
    lines.extend(step.lines.iter().cloned());
    view::Guided {
        robot: lit(state, picture.joint),
        picture: match &picture.detail {
            Detail::PlugSides => Left::Drawing(plug_sides()),
            Detail::LegOff { .. } => Left::Drawing(bare_horn()),
            _ if guided.task == Task::Servo => Left::Drawing(one_servo()),
            Detail::Horn {
                came_out_deg,
                wanted_deg,
                ..
            } => Left::Drawing(horn(*came_out_deg, *wanted_deg)),
            _ if about_joint => Left::Leg(Box::new(leg::side(state))),
            _ => Left::Robot,
        },
        big: pulse.map(|it| us(it.us())).unwrap_or_default(),
        big_unit: if pulse.is_some() {
            "µs, commanded".into()
        } else {
            String::new()
        },
        lines,
        options: match &step.wants {
            Wants::Pick { options, .. } => Some((options.clone(), guided.desk.pick)),
            _ => None,
        },
        field: field(guided, step),
        sight: match &step.wants {
            Wants::Pick { .. } if guided.task == Task::Ends => sight::of_peck(state, guided),
            _ if guided.task == Task::Supply => sight::of_supply(state),
            _ => with_hint(state, guided, sight::seen(state)),
        },
        scale: (about_joint || picture.pin.is_some()).then(|| scale_of(state, step, now)),
        scale_title: scale_title(state, step),
    }
}

/// How the three wires of a servo plug sit on a board's pins.
fn plug_sides() -> Vec<String> {
    [
        "the board's edge",
        "┌────────┬────────┬────────┐",
        "│ ground │  plus  │ signal │",
        "└───┬────┴───┬────┴───┬────┘",
        "  black     red     white",
        " or brown        or orange",
        "plus in the middle: turned round it",
        "drives nothing; one pin aside it may",
        "harm board or servo. Look twice.",
    ]
    .map(String::from)
    .into()
}

/// A servo alone on the bench.
fn one_servo() -> Vec<String> {
    [
        "      ┌───┐",
        "  ┌───┤ ● ├─────────┐   spline bare,",
        "  │   └───┘         │   no horn on it",
        "  │                 │",
        "  │    a sticker    │   held down, or",
        "  │    with its     │   on its side on",
        "  │     number      │   the table",
        "  └─────────────────┘",
    ]
    .map(String::from)
    .into()
}

/// The horn on its spline, and nothing screwed to it.
fn bare_horn() -> Vec<String> {
    [
        "      ┌─────┐",
        "  ┌───┤  ●══╪═══    the leg's arm is",
        "  │   └─────┘       the pointer: read",
        "  │         │       it as if the leg",
        "  └─────────┘       sat on it still",
        "the horn stays on its spline; the leg",
        "lies beside it: mind its cables",
    ]
    .map(String::from)
    .into()
}

/// Where the link came out, and where the middle of its needed travel lies.
fn horn(came_out_deg: Option<f64>, wanted_deg: f64) -> Vec<String> {
    let mut lines = vec![
        "a horn seen from its screw".to_owned(),
        "      │".to_owned(),
        "   ╲  │  ╱      one tooth of 25:".to_owned(),
        "    ╲ │ ╱       14.4°, of 21: 17.1°".to_owned(),
        "  ────●────".to_owned(),
        "    ╱ │ ╲       arms lie evenly".to_owned(),
        "   ╱  │  ╲      around the screw".to_owned(),
        "      │".to_owned(),
        format!("middle of needed travel {}", whole_degrees(wanted_deg)),
    ];
    if let Some(deg) = came_out_deg {
        lines.push(format!("it came out at          {}", whole_degrees(deg)));
        lines.push(format!(
            "off by                  {}",
            whole_degrees(deg - wanted_deg)
        ));
    }
    lines
}
