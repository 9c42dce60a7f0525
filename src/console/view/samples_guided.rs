//! What the wireframes of plugs, marks and ends show, as values.

use super::samples::{entry, femur, head, robot};
use super::*;
use crate::units::Pulse;

fn told(next: &str, second: &str) -> Notice {
    Notice {
        next: next.into(),
        second: second.into(),
        ..Notice::default()
    }
}

fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs
        .iter()
        .map(|(a, b)| ((*a).into(), (*b).into()))
        .collect()
}

fn long(keys: &str, text: &str, long: &str) -> FootEntry {
    FootEntry {
        long: Some(long.into()),
        ..entry(keys, text)
    }
}

/// The femur before its far end was found.
fn bounded(guard: (f64, f64), commanded: f64) -> Scale {
    Scale {
        commanded: Pulse::from_us(commanded),
        guard: Some(guard),
        limits: None,
        near_end: None,
        far_end: None,
        ..femur()
    }
}

pub fn plugs() -> Screen {
    let rows = [
        ("34", "RM coxa ?", "RM coxa"),
        ("33", "RF tibia up", "RF tibia"),
        ("32", "RF femur up", "RF femur"),
        ("31", "RF coxa fore", "RF coxa"),
        ("30", "LR tibia down", "LR tibia"),
    ];
    let plugs = Plugs {
        robot: robot(),
        pin: "34".into(),
        drives: "RM coxa".into(),
        way: "forward  ↓".into(),
        rows: rows
            .map(|(pin, found, planned)| PlugLine {
                pin: pin.into(),
                found: found.into(),
                planned: planned.into(),
                wrong: false,
            })
            .into(),
        notes: Vec::new(),
        counts: pairs(&[
            ("as planned so far", "12 of 12"),
            ("exchanges needed", "none yet"),
            ("not answered", "34 to 39"),
        ]),
        sight: Some(SightBox {
            lines: vec![
                "right middle leg, at the body:".into(),
                "swung toward the front, 4°, back".into(),
                "no hum".into(),
                "supply display  5.03 V   0.3 A".into(),
            ],
        }),
        scale: Scale {
            commanded: Pulse::from_us(1500.0),
            guard: Some((1400.0, 1600.0)),
            way: Some(Way {
                smaller: "down".into(),
                larger: "up".into(),
            }),
            no_degrees: "after two marks".into(),
            ..Scale::default()
        },
        scale_title: "pin 34".into(),
    };
    Screen {
        head: head(),
        title: Title {
            page: "Plugs".into(),
            subject: "pin 34, 12 of 18, front is down".into(),
            simulated: Some("RM coxa forward".into()),
            urgent: false,
        },
        page: Page::Plugs(Box::new(plugs)),
        overlay: None,
        big_words: "PIN 34 WHICH JOINT?".into(),
        notice: told(
            "Which joint moved? Leg key, joint key, then ↑ or ↓ for which way.",
            "Pin 34 nudged 1500 → 1540 → 1500 once. It is limp again. Space stops.",
        ),
        foot: vec![
            entry("leg", "e r d f c v"),
            entry("joint", "u i o"),
            entry("↑↓", "way"),
            long("+", "also", "and another"),
            entry("n", "none"),
            entry("a", "again"),
            entry("Enter", "it is so"),
            long("?", "", "help"),
        ],
    }
}

pub fn marks() -> Screen {
    let rows = [
        ("1", "1009", "below", "−45.0", "+0.4"),
        ("2", "1011", "above", "−45.0", "−0.5"),
        ("3", "1487", "below", "0.0", "+0.1"),
        ("4", "1490", "above", "0.0", "−0.3"),
        ("5", "1965", "below", "+45.0", "+0.4"),
        ("6", "1968", "above", "", "?"),
    ];
    let dot = |at_deg, off_deg, below, doubted| Dot {
        at_deg,
        off_deg,
        from_below: Some(below),
        doubted,
    };
    let doubt = "mark 6 is 1.9° off the line: typing";
    let marks = Marks {
        joint: "LF femur".into(),
        dots: vec![
            dot(-45.0, 0.4, true, false),
            dot(-45.0, -0.5, false, false),
            dot(0.0, 0.1, true, false),
            dot(0.0, -0.3, false, false),
            dot(45.0, 0.4, true, false),
            dot(45.0, 1.9, false, true),
        ],
        sd_deg: Some(1.0),
        rows: rows
            .map(|(number, pulse, from, gauge, off)| MarkLine {
                number: number.into(),
                pulse: pulse.into(),
                from: from.into(),
                gauge: gauge.into(),
                off: off.into(),
                awaited: off == "?",
            })
            .into(),
        field: Some(ValueField {
            label: "angle".into(),
            text: "+47".into(),
            unit: "°".into(),
            width: 6,
            error: None,
        }),
        fit: pairs(&[
            ("zero", "1487.5 ± 9 µs"),
            ("scale", "10.60 ± 0.21 µs/°    + lifts"),
            ("play", "0.6 ± 0.3°"),
        ]),
        doubt: Some((format!("{doubt}?"), format!("{doubt}, or a slip?"))),
        family: Some(
            "like joints (femur)   LF 10.60   LM 10.4   RF 10.7   median 10.6 µs/°   none is odd"
                .into(),
        ),
        waiting: Vec::new(),
        sight: None,
        scale: Scale {
            zero: Some(Zero {
                us: 1487.5,
                spread: Some(9.0),
            }),
            fit: Some(Fit {
                zero_us: 1487.5,
                us_per_deg: 10.6,
                curve: 0.0,
                nominal: false,
            }),
            marks: vec![1009.0, 1011.0, 1968.0],
            ..bounded((960.0, 2060.0), 1968.0)
        },
    };
    Screen {
        head: head(),
        title: Title {
            page: "Marks".into(),
            subject: "LF femur, pin 23, absolute, placing 2".into(),
            simulated: Some("gauge +46.9°".into()),
            urgent: false,
        },
        page: Page::Marks(Box::new(marks)),
        overlay: None,
        big_words: "TYPE THE ANGLE".into(),
        notice: Notice {
            second_long: Some(
                "It stands at 1968 µs, reached from above. One mark at −45° next would help most: ± 0.9 → 0.8°."
                    .into(),
            ),
            ..told(
                "Type the gauge's angle, then Enter. Larger is up.",
                "At 1968 µs, reached from above. A mark at −45° next would give ± 0.9 → 0.8°.",
            )
        },
        foot: vec![
            entry("0–9 . -", "value"),
            entry("Enter", "record"),
            entry("Backspace", "rub out"),
            long("Esc", "leave field", "leave the field"),
            long("Tab", "", "kind"),
            entry("?", "help"),
        ],
    }
}

pub fn ends() -> Screen {
    let ends = Ends {
        headline: "peck 14 of about 20, toward the far end".into(),
        peck: pairs(&[
            ("out", "2216 → 2224 µs   8 µs   (+0.8°)"),
            ("there", "250 ms at most"),
            ("back", "2224 → 2216 µs   done"),
            ("last", "2200 free   2208 free   2216 free"),
            ("now", "2224 ?"),
            ("then", "2232, if this one was free"),
        ]),
        big: "2224".into(),
        beside: [
            "µs, farthest pulse of this peck",
            "board's own trip: not fitted",
            "others coxa −4°  tibia −71°",
            "a wrong answer costs one peck:",
            "250 ms, then it comes back alone",
        ]
        .map(String::from)
        .into(),
        found: Vec::new(),
        close: false,
        robot: robot(),
        sight: Some(SightBox {
            lines: vec![
                "femur of LF stands 68° up, knee 9 mm from the body".into(),
                "faint hum during the last peck".into(),
                "supply display  5.02 V   0.5 A → 0.9 A → 0.5 A".into(),
            ],
        }),
        scale: Scale {
            near_end: Some(868.0),
            ..bounded((895.0, 2226.0), 2216.0)
        },
        scale_title: "LF femur".into(),
    };
    Screen {
        head: head(),
        title: Title {
            page: "Ends".into(),
            subject: "LF femur, pin 23, far end".into(),
            simulated: Some("faint hum, 0.9 A".into()),
            urgent: false,
        },
        page: Page::Ends(Box::new(ends)),
        overlay: None,
        big_words: "DID IT TOUCH?".into(),
        notice: told(
            "Did anything stop it? n no, free. E it touched or hummed. a again.",
            "It is back at 2216 µs and stays there until you answer. Space stops.",
        ),
        foot: vec![
            entry("n", "it was free"),
            entry("E", "end here"),
            long("a", "again", "peck again"),
            entry(", .", "step"),
            long("Backspace", "", "undo"),
            entry("Esc", "leave"),
            long("p", "", "freeze"),
            entry("?", "help"),
        ],
    }
}

/// A step without a drawing of its own: a choice, a field, many lines.
pub fn guided() -> Screen {
    let guided = Guided {
        robot: robot(),
        picture: Left::Leg(Box::new(samples::leg())),
        big: "1500".into(),
        big_unit: "µs, commanded".into(),
        lines: (1..9).map(|n| format!("line {n} of many")).collect(),
        options: Some((
            vec!["the linkage".into(), "the servo's own travel".into()],
            1,
        )),
        field: Some(ValueField {
            label: "margin".into(),
            text: "36".into(),
            unit: "µs".into(),
            width: 7,
            error: Some("10 to 200".into()),
        }),
        sight: Some(SightBox::default()),
        scale: Some(femur()),
        scale_title: "LF femur".into(),
    };
    Screen {
        page: Page::Guided(Box::new(guided)),
        ..ends()
    }
}
