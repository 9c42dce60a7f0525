//! One peck, as the view draws it; for ends and for rough bounds.

use std::time::Duration;

use super::guided::{angle, lit, scale_of, scale_title};
use super::sight;
use crate::calibration::{JointKind, JointRef};
use crate::console::guided::Guided;
use crate::console::state::State;
use crate::console::view::Ends;
use crate::console::view::text::{degrees, us, whole_degrees};
use crate::procedure::{PeckNews, Step};

/// The page.
pub fn page(state: &State, guided: &Guided, step: &Step, news: &PeckNews, now: Duration) -> Ends {
    let at = step.picture.joint;
    let (from, to) = (us(news.from.us()), us(news.to.us()));
    let out_us = (news.to.us() - news.from.us()).abs();
    let turn = angle(state, at, news.to)
        .zip(angle(state, at, news.from))
        .map(|(a, b)| format!("   ({})", degrees(a - b)))
        .unwrap_or_default();
    let side = if news.to > news.from { "far" } else { "near" };
    let about = news
        .about
        .filter(|about| *about > news.number)
        .map(|about| format!(" of about {about}"))
        .unwrap_or_default();
    let free: Vec<String> = news
        .free
        .iter()
        .map(|it| format!("{} free", us(it.us())))
        .collect();
    let rows = [
        ("out", format!("{from} → {to} µs   {} µs{turn}", us(out_us))),
        ("there", "250 ms at most".into()),
        (
            "back",
            if news.back {
                format!("{to} → {from} µs   done")
            } else {
                "by itself, timed by the board".into()
            },
        ),
        (
            "last",
            if free.is_empty() {
                "none yet on this side".into()
            } else {
                free.join("   ")
            },
        ),
        (
            "now",
            if news.back {
                format!("{to} ?")
            } else {
                to.clone()
            },
        ),
        (
            "then",
            news.then.map_or_else(String::new, |then| {
                format!("{}, if this one was free", us(then.us()))
            }),
        ),
    ];
    let trip = match (news.trip, state.sensor.is_some()) {
        (true, _) => "fitted",
        (false, true) => "not used here",
        (false, false) => "not fitted",
    };
    Ends {
        headline: format!("peck {}{about}, toward the {side} end", news.number),
        peck: rows.map(|(label, text)| (label.into(), text)).into(),
        big: to,
        beside: vec![
            "µs, farthest pulse of this peck".into(),
            format!("board's own trip: {trip}"),
            at.map_or_else(String::new, |at| others(state, at)),
            "a wrong answer costs one peck:".into(),
            "250 ms, then it comes back alone".into(),
        ],
        found: vec![step.lines.join("   ")],
        close: news.close,
        robot: lit(state, at),
        sight: sight::of_peck(state, guided),
        scale: scale_of(state, step, now),
        scale_title: scale_title(state, step),
    }
}

/// Where the leg's other joints stand: an end may be another one with them elsewhere.
fn others(state: &State, at: JointRef) -> String {
    let others = JointKind::ALL.into_iter().filter(|kind| *kind != at.kind);
    let words: Vec<String> = others
        .map(|kind| {
            let it = JointRef { kind, ..at };
            let pin = state.work.robot().joint(it).and_then(|joint| joint.pin);
            let pulse = pin.and_then(|pin| state.bench.plug(pin).pulse);
            let stands = match pulse.map(|pulse| (pulse, angle(state, Some(it), pulse))) {
                None => "limp".to_owned(),
                Some((_, Some(deg))) => whole_degrees(deg.round()),
                Some((pulse, None)) => format!("{pulse} µs"),
            };
            format!("{} {stands}", kind.word())
        })
        .collect();
    format!("others {}", words.join("  "))
}
