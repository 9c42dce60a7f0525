//! The screens' own numbers as inputs, for the tests.

use super::*;
use crate::units::Pulse;

/// Marram's build: mounts x, y mm and yaw degrees, links 31/67/104 mm.
const MOUNTS: [(&str, char, f64, f64, f64); 6] = [
    ("LF", 'e', 85.0, 55.0, 45.0),
    ("LM", 'd', 0.0, 75.0, 90.0),
    ("LR", 'c', -85.0, 55.0, 135.0),
    ("RF", 'r', 85.0, -55.0, -45.0),
    ("RM", 'f', 0.0, -75.0, -90.0),
    ("RR", 'v', -85.0, -55.0, -135.0),
];

/// A leg's points in its own plane for these angles, out and up, by a textbook's forward kinematics of two links.
fn side(femur_deg: f64, tibia_deg: f64) -> [[f64; 2]; 4] {
    let (f, k) = (femur_deg.to_radians(), (femur_deg + tibia_deg).to_radians());
    let knee = [31.0 + 67.0 * f.cos(), 67.0 * f.sin()];
    [
        [0.0, 0.0],
        [31.0, 0.0],
        knee,
        [knee[0] + 104.0 * k.cos(), knee[1] + 104.0 * k.sin()],
    ]
}

fn above(x: f64, y: f64, yaw_deg: f64, coxa_deg: f64) -> [[f64; 3]; 4] {
    let (sin, cos) = (yaw_deg + coxa_deg).to_radians().sin_cos();
    side(11.8, -71.0).map(|[out, up]| [x + out * cos, y + out * sin, up])
}

pub fn robot() -> RobotPicture {
    use JointGlyph::{Awake, Dead, Limp};
    let legs = MOUNTS
        .iter()
        .map(|&(name, key, x, y, yaw)| LegPicture {
            name: name.into(),
            key: Some(key),
            points_mm: above(x, y, yaw, if name == "LF" { -4.0 } else { 0.0 }),
            joints: match name {
                "LF" => [Awake; 3],
                "RM" => [Limp, Dead, Limp],
                _ => [Limp; 3],
            },
            measured: if matches!(name, "LF" | "LM" | "RF") {
                [true; 3]
            } else {
                [false; 3]
            },
        })
        .collect();
    RobotPicture {
        legs,
        chosen: Some((0, None)),
        ..RobotPicture::default()
    }
}

/// A robot with so many legs, evenly around, for the tests of every size.
pub fn robot_of(legs: usize) -> RobotPicture {
    let legs = (0..legs)
        .map(|i| {
            let yaw = 360.0 * i as f64 / legs as f64 + 20.0;
            let (sin, cos) = yaw.to_radians().sin_cos();
            LegPicture {
                name: format!("L{i}"),
                key: "erdfcvxb".chars().nth(i),
                points_mm: above(80.0 * cos, 60.0 * sin, yaw, 0.0),
                joints: [JointGlyph::Waking, JointGlyph::Frozen, JointGlyph::NoPlug],
                measured: [true, false, true],
            }
        })
        .collect();
    RobotPicture {
        legs,
        turn: 1,
        chosen: Some((0, Some(1))),
        support_mm: vec![[100.0, 100.0], [-100.0, 90.0], [0.0, -120.0]],
        centre_mm: Some([3.0, 2.0]),
        margin: Some("margin 31 mm".into()),
    }
}

pub fn head() -> Head {
    Head {
        robot: "Marram".into(),
        link: Link::Practice { seed: 7, speed: 1 },
        place: Place::Stand,
        state: Whole::Awake(3),
        supply: Supply::Volts {
            volts: 5.02,
            real: false,
        },
        file: "saved 10:41".into(),
    }
}

pub fn entry(keys: &str, text: &str) -> FootEntry {
    FootEntry {
        keys: keys.into(),
        text: text.into(),
        long: None,
        keep: keys == "?",
    }
}

fn long(keys: &str, text: &str, long: &str) -> FootEntry {
    FootEntry {
        long: Some(long.into()),
        ..entry(keys, text)
    }
}

fn cell(text: &str) -> Cell {
    let kind = match text.chars().last() {
        Some('!') => CellKind::Wrong,
        Some('×') => CellKind::Dead,
        _ => CellKind::Plain,
    };
    Cell {
        text: text.into(),
        kind,
    }
}

fn row(leg: &str, cells: [&str; 3]) -> MatrixRow {
    MatrixRow {
        leg: leg.into(),
        cells: cells.map(cell),
    }
}

pub fn matrix() -> Matrix {
    Matrix {
        rows: vec![
            row("LF", ["±0.8°", "±0.9°", "far end ?"]),
            row("LM", ["±0.8°", "5 marks", "4 marks"]),
            row("LR", ["1 mark", "bounds", "bounds"]),
            row("RF", ["±1.0°", "±0.9°", "±1.1°"]),
            row("RM", ["plug 34", "dead ×", "plug 36"]),
            row("RR", ["plug 37", "plug 39 !", "plug 38 !"]),
        ],
        chosen: Some((0, 2)),
    }
}

pub fn tibia() -> Scale {
    Scale {
        commanded: Pulse::from_us(1516.0),
        guard: Some((720.0, 1890.0)),
        limits: Some((738.0, 1876.0)),
        near_end: Some(702.0),
        far_end: Some(1912.0),
        zero: Some(Zero {
            us: 2290.0,
            spread: Some(8.0),
        }),
        marks: vec![980.0, 982.0, 1308.0, 1310.0, 1800.0, 1802.0],
        needed_deg: Some((-125.0, -40.0)),
        fit: Some(Fit {
            zero_us: 2290.0,
            us_per_deg: 10.9,
            curve: 0.0,
            nominal: false,
        }),
        ..Scale::default()
    }
}

pub fn femur() -> Scale {
    Scale {
        commanded: Pulse::from_us(1612.5),
        guard: Some((895.0, 2240.0)),
        limits: Some((904.0, 2231.0)),
        near_end: Some(868.0),
        far_end: Some(2268.0),
        zero: Some(Zero {
            us: 1487.5,
            spread: Some(4.0),
        }),
        marks: vec![1009.0, 1011.0, 1487.0, 1490.0, 1965.0, 1968.0],
        needed_deg: Some((-50.0, 60.0)),
        fit: Some(Fit {
            zero_us: 1487.5,
            us_per_deg: 10.62,
            curve: 0.0,
            nominal: false,
        }),
        ..Scale::default()
    }
}

pub fn home() -> Screen {
    let pairs = [
        ("pulse", "1516 µs commanded"),
        ("zero", "2290 ± 8 µs"),
        ("near end", "702 ± 5 µs"),
        ("far end", "?"),
    ];
    let home = Home {
        robot: robot(),
        matrix: matrix(),
        notes: vec![
            "9 of 18 joints marked, 6 have both ends".into(),
            "! plugs 38 and 39 are exchanged".into(),
            "× pin 35: servo 14 did not move".into(),
        ],
        sight: Some(SightBox {
            lines: vec![
                "LF stands, five legs hang".into(),
                "no hum".into(),
                "supply display  5.02 V   0.4 A".into(),
                "limit 8 A    stall sum 21.6 A".into(),
            ],
        }),
        log: Vec::new(),
        joint: Some(JointCard {
            title: "LF tibia   pin 24   servo 08".into(),
            rows: pairs
                .map(|(label, value)| (label.into(), value.into()))
                .into(),
        }),
        // Before its far end was found: guard 715 to 2010, no limits.
        scale: Some(Scale {
            guard: Some((715.0, 2010.0)),
            limits: None,
            far_end: None,
            ..tibia()
        }),
        scale_title: "LF tibia".into(),
    };
    Screen {
        head: head(),
        title: Title {
            page: "Home".into(),
            subject: "front is up, T turns it".into(),
            simulated: None,
            urgent: false,
        },
        page: Page::Home(Box::new(home)),
        overlay: None,
        big_words: "FIND FAR END LF TIBIA".into(),
        notice: Notice {
            next: "Enter: find the far end of LF tibia. Then LF lacks only touches.".into(),
            second: "It will wake one joint on pin 24. Hands away first. Space stops.".into(),
            second_long: Some(
                "It will wake one joint on pin 24, at 1516 µs, at full speed. Hands away first. Space stops."
                    .into(),
            ),
            ..Notice::default()
        },
        foot: vec![
            entry("Enter", "go on"),
            long("arrows", "choose", "choose a cell"),
            entry("e r d f c v", "leg"),
            entry("u i o", "joint"),
            entry("F2", "pages"),
            entry("T", "turn"),
            entry("G", "ground"),
            entry("?", "help"),
            entry("q", "quit"),
        ],
    }
}

pub fn leg() -> LegView {
    LegView {
        ends: Vec::new(),
        points_mm: side(11.8, -71.0),
        joints: [JointGlyph::Awake; 3],
        measured: [true; 3],
        numbers: [
            "coxa −4.0°".into(),
            "femur +11.8°".into(),
            "knee −71.0°".into(),
        ],
        chosen: Some(1),
        bounds: [(70.0, "+70°"), (-55.0, "−55°")]
            .map(|(direction_deg, text)| Bound {
                joint: 1,
                kind: BoundKind::Both,
                direction_deg,
                text: text.into(),
            })
            .into(),
        positive: Some(Positive::Up),
        path: None,
        foot: vec![
            "foot, from commanded:".into(),
            "149.5 out   75.6 down   ± 1.2 mm".into(),
        ],
    }
}

pub fn jog() -> Screen {
    let jog = Jog {
        robot: robot(),
        leg: leg(),
        numbers: JogNumbers {
            joint: "LF femur".into(),
            plug: "pin 23   servo 07".into(),
            big: "1612.5".into(),
            big_unit: "µs, commanded".into(),
            other: ("angle".into(), "+11.8 ± 0.9°".into()),
            zero: "1487.5 ± 4 µs".into(),
            scale: "10.62 ± 0.15 µs/°".into(),
            sense: "+ lifts".into(),
            play: "0.6 ± 0.2°".into(),
            came: "came from below".into(),
            awake: "41 s".into(),
            slew: "slew 1000 µs/s".into(),
            step: "8 µs  (0.75°)".into(),
        },
        scale: femur(),
        field: None,
        sight: Some(SightBox {
            lines: vec![
                "femur of LF stands 11° up".into(),
                "no hum".into(),
                "supply  5.02 V   0.4 A".into(),
            ],
        }),
    };
    Screen {
        head: head(),
        title: Title {
            page: "Jog".into(),
            subject: "LF femur, pin 23, servo 07".into(),
            simulated: Some("femur 11° up, no hum, 0.4 A".into()),
            urgent: false,
        },
        page: Page::Jog(Box::new(jog)),
        overlay: None,
        big_words: "SET 0° BY EDGE".into(),
        notice: Notice {
            next: "Bring the edge onto both screw heads, then m Enter: that is 0°.".into(),
            second: "→ raises the joint by 8 µs. Hands off the leg while it moves. Space stops.".into(),
            second_long: Some(
                "→ raises the joint by 8 µs (0.75°). Hands off the leg while it moves. Space stops.".into(),
            ),
            ..Notice::default()
        },
        foot: vec![
            entry("←→", "pulse"),
            entry(", .", "step"),
            long("=", "type", "type a value"),
            entry("w", "wake"),
            long("z", "", "limp"),
            long("p", "", "freeze"),
            entry("m", "mark"),
            entry("E", "end"),
            entry("Backspace", "undo"),
            entry("?", "help"),
        ],
    }
}

fn first(heading: &str, choices: &[(&str, &str, &str)], file: Option<(&str, &str)>) -> First {
    First {
        heading: heading.into(),
        choices: choices
            .iter()
            .map(|(name, detail, note)| Choice {
                name: (*name).into(),
                detail: (*detail).into(),
                note: (*note).into(),
            })
            .collect(),
        chosen: 0,
        file: file.map(|(name, holds)| (name.into(), holds.into())),
        robot: Some(RobotPicture {
            chosen: None,
            ..robot()
        }),
    }
}

fn first_screen(first: First, words: &str, next: &str, second: &str) -> Screen {
    Screen {
        head: Head {
            robot: "───".into(),
            link: Link::None,
            place: Place::Unsaid,
            state: Whole::Limp,
            supply: Supply::None,
            file: "no file".into(),
        },
        title: Title {
            page: "hornset 0.1".into(),
            subject: "where do we work today?".into(),
            simulated: None,
            urgent: false,
        },
        page: Page::First(first),
        overlay: None,
        big_words: words.into(),
        notice: Notice {
            next: next.into(),
            second: second.into(),
            ..Notice::default()
        },
        foot: vec![
            entry("↑↓", "choose"),
            entry("Enter", "go on"),
            entry("?", "help"),
            entry("q", "quit"),
        ],
    }
}

pub fn first_none() -> Screen {
    let choices = [
        (
            "practice robot",
            "Marram, seed 7, faults as on a real bench",
            "",
        ),
        ("practice robot", "clean, no faults", ""),
        ("look again", "last look 1 s ago, every 2 s", ""),
    ];
    first_screen(
        first("No serial port is there.", &choices, None),
        "PRACTICE?",
        "Enter opens the practice robot. Nothing real can move.",
        "Plug in a board at any time: it appears here by itself.",
    )
}

pub fn first_board() -> Screen {
    let choices = [
        (
            "ttyUSB0  board 3F2A90C1",
            "Marram, last worked on 18 November",
            "",
        ),
        ("ttyACM1  never opened before", "", "how to load it"),
        (
            "practice robot",
            "Marram, seed 7, faults as on a real bench",
            "",
        ),
    ];
    let file = Some(("calibrations/marram.toml", "9 of 18 joints marked"));
    first_screen(
        first("Two serial ports.", &choices, file),
        "ON THE STAND?",
        "Enter opens the board on ttyUSB0. Connecting resets it: it drops.",
        "Put the robot on its stand or its belly first. Space stops, always.",
    )
}

pub fn help() -> Screen {
    let entries = [
        ("Space", "stop: limp on the stand, freeze on the ground"),
        ("Enter", "go on: does what the ► line says"),
        ("Esc", "back one level, never quits"),
        ("e r d f c v", "leg at that place in the picture"),
        ("u i o", "coxa, femur, tibia: body to foot"),
        ("← → h l", "smaller, larger pulse by one step"),
        (", .", "halve, double the step"),
        ("=", "type a value (digits work only there)"),
        ("w W", "wake this joint, this leg"),
        ("z Z", "limp this joint, this leg"),
        ("p y", "freeze all, sit down slowly"),
        ("m E", "record a mark, record an end"),
        ("a n +", "again, none, and another"),
        ("T G B", "turn picture, stand/ground, big view"),
        ("s", "save"),
        ("q", "quit (asks while pins are awake)"),
    ];
    let help = Help {
        page: "Jog".into(),
        tab: HelpTab::Keys,
        entries: entries
            .map(|(keys, text)| HelpEntry {
                keys: keys.into(),
                text: text.into(),
                off: None,
            })
            .into(),
        scroll: 0,
        scale: femur(),
    };
    let jog = jog();
    Screen {
        title: Title {
            simulated: None,
            ..jog.title
        },
        overlay: Some(Overlay::Help(Box::new(help))),
        big_words: "HELP".into(),
        notice: Notice {
            next: "Help. Esc or ? goes back to Jog. Space still stops.".into(),
            second: "Keys shown dim do not work here now; the reason stands beside them.".into(),
            ..Notice::default()
        },
        foot: vec![
            entry("Esc", "back"),
            entry("↑↓", "more"),
            entry("Tab:", "keys, glyphs, scale, words"),
        ],
        ..jog
    }
}

pub fn big() -> Screen {
    let block = |text: &str, beside: &[&str]| BigBlock {
        text: text.into(),
        beside: beside.iter().map(|line| (*line).into()).collect(),
    };
    Screen {
        head: head(),
        title: Title {
            page: "Big view".into(),
            subject: "Marks, LF femur, pin 23, mark 6".into(),
            simulated: None,
            urgent: false,
        },
        page: Page::Big(BigPage {
            blocks: vec![
                block("HANDS AWAY", &[]),
                block("3", &["seconds until it moves"]),
                block(
                    "1968",
                    &[
                        "µs will be commanded   LF femur   +45°",
                        "farther up by 45°",
                    ],
                ),
            ],
            below: None,
        }),
        overlay: None,
        big_words: "HANDS AWAY".into(),
        notice: Notice {
            next: "Hands away. It moves to 1968 µs from above in 3 s.".into(),
            second: "Space stops. Esc stops the count. B shows the pictures again.".into(),
            ..Notice::default()
        },
        foot: vec![
            entry("Space", "stop"),
            entry("Esc", "not now"),
            entry("B", "pictures"),
        ],
    }
}

pub fn foot() -> Screen {
    let text = |pairs: [(&str, &str); 3]| pairs.map(|(label, value)| (label.into(), value.into()));
    let angle = -4.0_f64.to_radians();
    let page = FootJog {
        robot: robot(),
        side: LegView {
            chosen: None,
            path: Some(FootPath {
                to_mm: [173.5, -75.6],
                stop: Some("24 mm to limit".into()),
            }),
            foot: Vec::new(),
            ..leg()
        },
        top: TopView {
            points_mm: side(11.8, -71.0).map(|[out, _]| [out * angle.cos(), -out * angle.sin()]),
            joints: [JointGlyph::Awake; 3],
            measured: [true; 3],
            limits_deg: Some((-45.0, 45.0)),
            path: Some(FootPath {
                to_mm: [173.5, 10.4],
                stop: Some("tibia −38°".into()),
            }),
            ends: Vec::new(),
            ahead: "LM swings here".into(),
            behind: "RF: clear".into(),
        },
        top_has_arrows: false,
        point: text([("out", "149.5 mm"), ("fore", "10.4 mm"), ("up", "−75.6 mm")]),
        motion: text([("step", "4 mm"), ("time", "0.4 s"), ("speed", "10 mm/s")]),
        spread: "± 1.2 mm unloaded".into(),
        ways: Vec::new(),
        knee: vec![
            "knee up, chosen   (knee down: tibia".into(),
            "+71°, 109° past its limit −38°)".into(),
        ],
        margins: [("coxa", "41°"), ("femur", "58°"), ("tibia", "33°")]
            .map(|(joint, text)| Margin {
                joint: joint.into(),
                text: text.into(),
                least: joint == "tibia",
            })
            .into(),
        scale: tibia(),
        scale_title: "LF tibia, the first to reach a limit on this path".into(),
        field: None,
    };
    Screen {
        head: head(),
        title: Title {
            page: "Foot jog".into(),
            subject: "LF, leg frame, side view has the arrows".into(),
            simulated: None,
            urgent: false,
        },
        page: Page::FootJog(Box::new(page)),
        overlay: None,
        big_words: "OUT 4 FREE 24 MM".into(),
        notice: Notice {
            next: "→ moves the foot 4 mm outward. The path is free for 24 mm.".into(),
            second: "After 24 mm: tibia limit −38°. Three joints move. Space stops.".into(),
            second_long: Some(
                "After 24 mm: tibia limit −38°. Three joints move, 0.4 s, at most 250 mm/s. Space stops."
                    .into(),
            ),
            ..Notice::default()
        },
        foot: vec![
            long("arrows", "move foot in lit view", "move the foot in the lit view"),
            long("Tab", "other view", "other view"),
            entry(", .", "step"),
            long("=", "type point", "type a point"),
            entry("A", "frame"),
            entry("K", "knee"),
            entry("?", "help"),
        ],
    }
}

pub fn dialog() -> Screen {
    let dialog = Dialog {
        title: "Save as".into(),
        lines: vec![
            "calibrations/marram.toml is a shipped example: it stays as it is, so this robot needs a name of its own."
                .into(),
        ],
        field: Some(ValueField {
            label: "file".into(),
            text: "calibrations/marram-2.toml".into(),
            unit: String::new(),
            width: 40,
            error: None,
        }),
        answers: vec![
            ("Enter".into(), "save under this name".into()),
            ("Esc".into(), "go back, nothing is saved".into()),
        ],
        alarm: false,
    };
    Screen {
        overlay: Some(Overlay::Dialog(dialog)),
        ..jog()
    }
}

pub fn typing() -> Screen {
    let mut screen = jog();
    if let Page::Jog(jog) = &mut screen.page {
        jog.field = Some(ValueField {
            label: "pulse".into(),
            text: "1600".into(),
            unit: "µs".into(),
            width: 7,
            error: None,
        });
    }
    screen
}

pub fn list() -> Screen {
    let pages = [
        "Home    the robot and what is known",
        "Jog     one joint by steps",
    ];
    Screen {
        page: Page::List(pages.map(String::from).into(), 1),
        title: Title {
            page: "Pages".into(),
            ..Title::default()
        },
        ..home()
    }
}

pub fn alarm() -> Screen {
    Screen {
        head: Head {
            link: Link::Lost { seconds: 3 },
            place: Place::GroundAgain,
            state: Whole::Frozen,
            supply: Supply::Low { volts: 4.31 },
            ..head()
        },
        notice: Notice {
            alarm: true,
            next: "Link lost. The board freezes by itself and goes limp after 10 s.".into(),
            second: "Plug the cable in again: the board is found by itself. The record is safe."
                .into(),
            second_long: None,
            more: 1,
        },
        ..jog()
    }
}

pub fn body() -> Screen {
    let pair = |(label, value): (&str, &str)| (label.to_owned(), value.to_owned());
    let robot = robot();
    let feet = robot
        .legs
        .iter()
        .map(|leg| [leg.points_mm[3][0], leg.points_mm[3][1]]);
    let mut support_mm: Vec<[f64; 2]> = feet.collect();
    support_mm.sort_by(|a, b| a[1].atan2(a[0]).total_cmp(&b[1].atan2(b[0])));
    let page = BodyJog {
        robot: RobotPicture {
            support_mm,
            centre_mm: Some([6.0, -4.0]),
            margin: Some("margin 150 mm".into()),
            ..robot
        },
        pose: [
            ("fore", "12.0 mm"),
            ("left", "−4.0 mm"),
            ("up", "75.6 mm"),
            ("roll", "0.0°"),
            ("pitch", "−1.5°"),
            ("turn", "+10.0°"),
        ]
        .map(pair),
        chosen: Some(0),
        motion: [("step", "4 mm"), ("time", "0.4 s"), ("speed", "10 mm/s")].map(pair),
        margins: [
            "LF tibia", "LM femur", "LR tibia", "RF tibia", "RM coxa", "RR tibia",
        ]
        .map(|joint| Margin {
            joint: joint.into(),
            text: "33°".into(),
            least: joint == "LF tibia",
        })
        .into(),
        scale: tibia(),
        scale_title: "LF tibia, the first to reach a limit".into(),
        field: None,
    };
    Screen {
        head: Head {
            place: Place::Ground,
            state: Whole::Awake(18),
            ..head()
        },
        title: Title {
            page: "Body jog".into(),
            subject: "six feet planted, arrows move fore".into(),
            simulated: None,
            urgent: false,
        },
        page: Page::BodyJog(Box::new(page)),
        big_words: "BODY FORE 4 MM".into(),
        notice: Notice {
            next: "↑ moves the body 4 mm forward. The feet stay where they are.".into(),
            second: "18 joints move, 0.4 s. Space freezes.".into(),
            ..Notice::default()
        },
        ..home()
    }
}
