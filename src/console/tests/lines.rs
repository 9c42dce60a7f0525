//! The two lines say what is true and what Enter does: frozen, limp, sat down, and what stands in front of what.

use std::time::Duration;

use ratatui::{buffer::Buffer, layout::Rect};

use super::{Desk, pin, refusal};
use crate::board::sight::{SeenJoint, SeenTouch, Sight};
use crate::board::{By, Event, LostWhy, Reason, Stop};
use crate::calibration;
use crate::console::effect::{Effect, Input};
use crate::console::theme::Look;
use crate::console::view::{Overlay, Place, Whole};

/// On the ground, the femur calibrated and below its rest: it can sit down.
fn can_sit() -> Desk {
    let mut desk = Desk::on_the_ground();
    desk.keys("m <Enter> = 1 5 4 0 <Enter> m 4 <Enter> = 1 4 5 0 <Enter>");
    desk.log.clear();
    desk
}

#[test]
fn limp_on_the_ground_is_not_called_frozen() {
    for keys in ["<Space> <Space>", "p Z <Enter>"] {
        let mut desk = Desk::on_the_ground();
        desk.keys(keys);
        assert!(desk.pulses.is_empty(), "{keys}");
        let screen = desk.screen();
        assert_eq!(screen.head.state, Whole::Limp, "{keys}");
        assert_eq!(screen.head.place, Place::Ground, "{keys}");
        assert_eq!(screen.big_words, "THAW FIRST");
        desk.says("All limp, and the board is still frozen. Enter thaws.");
        assert!(!desk.row(2).contains("force"), "{}", desk.row(2));
        desk.keys("<Enter>");
        desk.says("Enter: wake LF femur on pin 23.");
    }
}

#[test]
fn space_with_nothing_awake_does_not_speak_of_falling() {
    let mut desk = Desk::on_the_ground();
    desk.keys("z <Enter> <Space>");
    desk.says("All limp, and the board is still frozen. Enter thaws.");
    assert!(!desk.row(2).contains("falls"), "{}", desk.row(2));
}

#[test]
fn sitting_down_thaws_first_as_the_frozen_line_offers() {
    let mut desk = can_sit();
    desk.keys("<Space>");
    assert_eq!(
        desk.row(2),
        "A second Space lets go and the robot falls. y sits it down slowly."
    );
    desk.log.clear();
    desk.keys("y");
    assert_eq!(desk.asked(), ["thaw 1", "go 4000 23:1600"]);
    assert_eq!(desk.screen().head.state, Whole::Awake(1));
    desk.says("Sitting down: 5 s more. Hands away.");
    desk.wait(Duration::from_secs(5));
    desk.says("It has sat down.");
    assert!(desk.row(2).contains("Space twice"), "{}", desk.row(2));
}

#[test]
fn sitting_down_is_offered_only_where_it_works_and_y_says_why_not() {
    let mut desk = Desk::on_the_ground();
    desk.keys("<Space>");
    assert_eq!(
        desk.row(2),
        "A second Space lets go and the robot falls. Hold the body first."
    );
    desk.keys("y");
    desk.says("Not now: no awake femur has a zero and µs/degree yet.");
    assert_eq!(desk.screen().notice.more, 1);
    // Enter puts the reason away, and only the next one does what the frozen line says.
    desk.keys("<Enter>");
    desk.says("Frozen, because you pressed Space.");
    assert_eq!(desk.screen().head.state, Whole::Frozen);
    desk.keys("<Enter>");
    assert_eq!(desk.screen().head.state, Whole::Awake(1));
}

#[test]
fn enter_thaws_before_it_wakes_what_went_limp_by_silence() {
    let mut desk = Desk::awake();
    desk.freezes = 1;
    desk.frozen = true;
    desk.event(Event::Frozen {
        n: 1,
        by: By::Silence,
    });
    desk.pulses.clear();
    desk.event(Event::WentLimp { by: By::Silence });
    assert!(desk.row(2).starts_with("Enter thaws; a second Enter wakes"));
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(desk.asked(), ["thaw 1"]);
    assert!(desk.row(2).starts_with("Enter wakes what was awake"));
    desk.keys("<Enter>");
    desk.says("Hands away. What was awake wakes in 3 s");
}

#[test]
fn control_c_stops_and_asks_about_unsaved_work_and_a_second_one_leaves() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter>");
    desk.log.clear();
    desk.keys("<C-c>");
    assert_eq!(desk.log, [Effect::Stop(Stop::Limp)]);
    desk.says("1 thing is not saved. Enter: save, quit.");
    assert_eq!(
        desk.row(2),
        "Everything was told to stop. Ctrl-C again quits without saving."
    );
    desk.keys("<C-c>");
    assert_eq!(desk.log.last(), Some(&Effect::Quit));
    // Esc stays, and then it is asked about anew.
    let mut desk = Desk::awake();
    desk.keys("m <Enter> <C-c> <Esc> <C-c>");
    assert!(!desk.log.contains(&Effect::Quit));
    desk.keys("n");
    assert_eq!(desk.log.last(), Some(&Effect::Quit));
    // While a name is typed too.
    let mut desk = Desk::awake();
    desk.keys("m <Enter> <C-c> <Enter> x <C-c>");
    assert_eq!(desk.log.last(), Some(&Effect::Quit));
}

#[test]
fn control_c_twice_on_the_ground_does_not_let_the_robot_fall() {
    let mut desk = Desk::on_the_ground();
    desk.keys("m <Enter>");
    desk.log.clear();
    desk.keys("<C-c>");
    desk.says("1 thing is not saved.");
    assert_eq!(desk.screen().notice.more, 1);
    desk.keys("<C-c>");
    assert_eq!(desk.asked(), ["STOP freeze", "STOP freeze"]);
    assert_eq!(desk.log.last(), Some(&Effect::Quit));
}

#[test]
fn after_control_z_it_says_why_all_is_limp() {
    let mut desk = Desk::awake();
    desk.keys("<C-z>");
    desk.says("Ctrl-Z let everything go limp before hornset was suspended.");
    let mut desk = Desk::on_the_ground();
    desk.keys("<C-z>");
    desk.says("Frozen, because you pressed Ctrl-Z.");
}

#[test]
fn a_field_opened_later_stands_before_an_old_notice() {
    let mut desk = Desk::awake();
    desk.refuse = Some(refusal(Reason::Noisy, ""));
    desk.keys("l");
    desk.says("Refused: noisy");
    for (keys, says) in [
        ("m", "Type the angle"),
        ("G", "Enter: it stands"),
        ("?", "Help."),
    ] {
        desk.keys(keys);
        desk.says(says);
        assert!(!desk.screen().notice.alarm);
        assert_eq!(desk.screen().notice.more, 1);
        // Esc leaves the field, not the notice.
        desk.keys("<Esc>");
        assert!(desk.state.layers.is_empty(), "after {keys}");
        desk.says("Refused: noisy");
    }
    desk.keys("<Esc>");
    desk.says("Bring the edge");
}

#[test]
fn what_goes_wrong_later_stands_before_an_open_field() {
    let mut desk = Desk::awake();
    desk.keys("m 4 5");
    desk.event(Event::Lost {
        why: LostWhy::Quiet,
    });
    desk.says("Link lost.");
    desk.keys("<Enter>");
    desk.says("Type the angle");
    assert_eq!(desk.state.joint().and_then(|j| j.zero.clone()), None);
}

#[test]
fn enter_on_what_was_said_does_nothing_else() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> z");
    desk.says("Enter: wake LF femur");
    desk.keys("= ");
    desk.says("Not now: it is limp");
    desk.keys("<Enter>");
    assert!(desk.state.layers.is_empty(), "the wake was not asked for");
    desk.says("Enter: wake LF femur");
    assert!(!desk.pulses.contains_key(&pin(23)));
}

#[test]
fn on_the_ground_a_joint_or_a_leg_goes_limp_only_after_a_question() {
    for (key, line) in [
        ("z", "Enter lets LF femur go limp, on the ground."),
        ("Z", "Enter lets LF go limp, on the ground."),
    ] {
        let mut desk = Desk::on_the_ground();
        desk.log.clear();
        desk.keys(key);
        desk.says(line);
        assert!(desk.row(2).contains("hold the body"), "{}", desk.row(2));
        desk.keys("<Esc>");
        assert!(desk.asked().is_empty(), "{:?}", desk.asked());
        desk.keys(key);
        // A stop closes the question: Enter then is no answer to it.
        desk.keys("<Space> <Enter>");
        assert_eq!(desk.pulses.len(), 1);
        desk.keys(key);
        desk.keys("<Enter>");
        assert!(desk.pulses.is_empty());
    }
    // On the stand a leg only drops: it is let go at once.
    let mut desk = Desk::awake();
    desk.keys("Z");
    assert!(desk.pulses.is_empty());
}

#[test]
fn the_leg_keys_of_foot_line_and_help_are_those_beside_the_feet() {
    let mut desk = Desk::new();
    desk.open();
    let shown = |desk: &Desk| {
        let foot = desk.screen().foot;
        let entry = foot.into_iter().find(|it| it.text == "leg");
        entry.map(|it| it.keys)
    };
    assert_eq!(shown(&desk).as_deref(), Some("e r d f c v"));
    desk.keys("T");
    assert_eq!(shown(&desk).as_deref(), Some("e r t d f g"));
    desk.keys("?");
    let Some(Overlay::Help(help)) = desk.screen().overlay else {
        panic!("help is open");
    };
    assert!(help.entries.iter().any(|it| it.keys == "e r t d f g"));
    assert!(!help.entries.iter().any(|it| it.keys == "e r d f c v"));
}

#[test]
fn a_wake_on_the_ground_does_not_speak_of_a_leg_in_the_air() {
    let mut desk = Desk::on_the_ground();
    desk.keys("u");
    assert!(
        desk.row(2).contains("on the ground: hold the body"),
        "{}",
        desk.row(2)
    );
    desk.keys("w");
    assert!(
        desk.row(2).starts_with("On the ground it may tip"),
        "{}",
        desk.row(2)
    );
    let Some(Overlay::Dialog(dialog)) = desk.screen().overlay else {
        panic!("a dialog is open");
    };
    assert!(
        dialog
            .lines
            .iter()
            .any(|it| it.contains("stands on the ground"))
    );
    assert!(!dialog.lines.iter().any(|it| it.contains("off the ground")));
    // On the stand it does.
    desk.keys("<Esc> G <Enter> w");
    assert!(
        desk.row(2).starts_with("Leg off the ground"),
        "{}",
        desk.row(2)
    );
}

#[test]
fn a_half_typed_pulse_is_not_called_the_one_it_wakes_at() {
    let mut desk = Desk::on_jog();
    desk.keys("w 9");
    desk.says("LF femur does not wake so: the board sends 500 to 2500 µs.");
    desk.keys("<Esc> w 1 5 2 0");
    desk.says("Enter wakes LF femur at 1520 µs.");
}

#[test]
fn after_an_end_it_says_which_way_leads_from_it() {
    let mut desk = Desk::awake();
    desk.keys("= 1 5 5 0 <Enter> E <Enter>");
    assert_eq!(
        desk.row(2),
        "It moves back to 1513 µs. Still a hum? ← until it is quiet. s saves."
    );
    desk.log.clear();
    desk.keys("h");
    assert_eq!(
        desk.asked().first().map(String::as_str),
        Some("jog 23 1505")
    );
    let mut desk = Desk::awake();
    desk.keys("= 1 4 4 0 <Enter> E <Enter>");
    assert!(desk.row(2).contains("Still a hum? →"), "{}", desk.row(2));
}

#[test]
fn a_turn_that_the_guard_stops_names_the_key_that_widens_it() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> <Enter>");
    desk.says("Turn it by 30° or more ([ ] widen the guard)");
    desk.keys("= 1 9 0 0 <Enter>");
    desk.says("Refused: guard. 1900 is above 1600 on pin 23.");
    assert!(
        desk.row(2).contains("] widens the guard"),
        "{}",
        desk.row(2)
    );
    assert!(!desk.row(2).contains('['), "{}", desk.row(2));
    desk.keys("= 1 1 0 0 <Enter>");
    assert!(
        desk.row(2).contains("[ widens the guard"),
        "{}",
        desk.row(2)
    );
}

#[test]
fn the_gauges_error_is_said_once_before_the_first_mark() {
    let mut desk = Desk::awake();
    desk.input(Input::Sight(Sight {
        gauges_err: true,
        ..Sight::default()
    }));
    desk.keys("m");
    assert!(
        desk.row(2).contains("gauge errs by about 1°"),
        "{}",
        desk.row(2)
    );
    desk.keys("<Enter> m");
    assert!(!desk.row(2).contains("gauge"), "{}", desk.row(2));
    // A clean robot is read exactly.
    let mut desk = Desk::awake();
    desk.input(Input::Sight(Sight::default()));
    desk.keys("m");
    assert!(!desk.row(2).contains("gauge"), "{}", desk.row(2));
}

#[test]
fn what_is_wrong_with_a_typed_value_stands_whole_in_the_second_line() {
    let mut desk = Desk::awake();
    desk.keys("= 1 2 3 4 5 <Enter>");
    assert_eq!(
        desk.row(2),
        "Not like this: 12345 µs: the board sends 500 to 2500."
    );
    desk.keys("<Esc> m 3 6 0 <Enter>");
    assert_eq!(desk.row(2), "Not like this: an angle is −180° to 180°.");
    // At the next key it is gone.
    desk.keys("<BS>");
    assert!(!desk.row(2).starts_with("Not"), "{}", desk.row(2));
}

fn seen(change: impl FnOnce(&mut Sight)) -> Input {
    let joint = |leg: &str, joint: &str| SeenJoint {
        leg: leg.into(),
        joint: joint.into(),
        ..SeenJoint::default()
    };
    let mut sight = Sight {
        joints: vec![
            joint("LF", "femur"),
            joint("LM", "tibia"),
            joint("RR", "coxa"),
        ],
        ..Sight::default()
    };
    change(&mut sight);
    Input::Sight(sight)
}

#[test]
fn a_hum_and_heat_of_any_joint_stand_first_in_the_title_on_every_page() {
    let mut desk = Desk::awake();
    desk.input(seen(|_| {}));
    let title = |desk: &Desk| {
        let title = desk.screen().title;
        (title.simulated.unwrap_or_default(), title.urgent)
    };
    assert_eq!(title(&desk), ("gauge 0.0°, no hum, 0.0 A".into(), false));
    desk.input(seen(|sight| sight.joints[1].servo.hums = true));
    assert_eq!(
        title(&desk),
        ("LM tibia: a hum, gauge 0.0°, no hum, 0.0 A".into(), true)
    );
    desk.input(seen(|sight| {
        sight.joints[1].servo.hums = true;
        sight.joints[2].servo.hums = true;
    }));
    assert!(title(&desk).0.starts_with("LM tibia and 1 more: a hum"));
    // Home has no phrase of its own.
    desk.keys("<Esc>");
    desk.input(seen(|sight| sight.joints[2].servo.hot = true));
    assert_eq!(title(&desk), ("RR coxa: hot".into(), true));
}

#[test]
fn what_was_noticed_is_news_for_a_while() {
    let mut desk = Desk::awake();
    let smell = || {
        seen(|sight| {
            sight.notes.push("a smell of burning from LF femur".into());
        })
    };
    desk.input(smell());
    let phrase = |desk: &Desk| desk.screen().title.simulated.unwrap_or_default();
    assert!(phrase(&desk).starts_with("a smell of burning from LF femur"));
    desk.wait(Duration::from_secs(19));
    desk.input(smell());
    assert!(phrase(&desk).starts_with("a smell of burning from LF femur"));
    desk.wait(Duration::from_secs(2));
    assert!(!phrase(&desk).contains("smell"));
}

/// Every page and what may lie on it, drawn at 80×24: neither of the two lines is cut.
#[test]
fn neither_line_is_cut_on_any_page_at_80_columns() {
    use crate::console::pages::{PAGES, PageId};
    let plan = || {
        let mut desk = Desk::new();
        desk.open();
        desk.keys("<Enter> <Enter>");
        desk
    };
    let known = || super::foot::desk_of(calibration::MARRAM);
    let states = [
        "",
        "u W <Enter>",
        "G <Enter> W",
        "i W G <Enter> p",
        "o W G <Enter> <Space> <Space>",
    ];
    let on_top = [
        "?", "<Tab>", "<Tab>", "<Tab>", "<Esc>", "w", "<Esc>", "W", "<Esc>", "m", "<Esc>", "E",
        "<Esc>", "=", "9", "<Enter>", "<Esc>", "]", "<Esc>", "K", "<Esc>", "l", "h", "j", "k",
        "<Tab>", "l", ".", "T", "B", "B", "G", "<Esc>", "s", "<Esc>", "y", "z", "<Esc>", "Z",
        "<Esc>", "p", "q", "<Esc>", "<Enter>", "<Enter>", "<Enter>",
    ];
    // Guided work asks for which joint, and then for its answers.
    let answers = [
        "<Enter>", "<Enter>", "n", "<Enter>", "5", "<Enter>", "1 2", "<Enter>", "n", "<Enter>",
        "n", "E", "a", "<BS>", "+", "k", "<Enter>", "u", "j", "<Enter>", "3 0", "<Enter>", "?",
        "<Esc>", "p", "<Enter>", "<Enter>", "<Enter>", "<Space>", "<Enter>", "<Enter>", "n", "q",
        "<Esc>", "<F2>", "<Esc>", "<Esc>", "<Esc>",
    ];
    let mut seen = std::collections::BTreeSet::new();
    for make in [&plan as &dyn Fn() -> Desk, &known] {
        for (index, page) in PAGES.iter().enumerate().skip(1) {
            for state in states {
                let mut desk = make();
                desk.keys(state);
                desk.run(Duration::from_secs(8), Duration::from_millis(100));
                desk.keys("<F2>");
                for _ in 0..PAGES.len() {
                    desk.keys("k");
                }
                for _ in 0..index {
                    desk.keys("j");
                }
                let guided = matches!(page.id(), PageId::Work(_));
                let keys: &[&str] = if guided { &answers } else { &on_top };
                for key in std::iter::once(&"<Enter>").chain(keys) {
                    desk.keys(key);
                    for row in drawn_at_80(&desk) {
                        assert!(
                            !row.ends_with('…'),
                            "{}, {state}, {key}: {row}",
                            page.name()
                        );
                        seen.insert(row);
                    }
                    desk.run(Duration::from_secs(4), Duration::from_millis(500));
                }
            }
        }
    }
    // It came to many places, not to one many times.
    assert!(seen.len() > 250, "{}", seen.len());
}

/// The next line and the second line as they stand on a screen of 80×24.
fn drawn_at_80(desk: &Desk) -> [String; 2] {
    let rows = drawn(desk, 80, 24);
    [rows[21].clone(), rows[22].clone()]
}

/// The rows of a screen of this size, without the blanks at their ends.
pub fn drawn(desk: &Desk, columns: u16, rows: u16) -> Vec<String> {
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    crate::console::view::draw(&desk.screen(), Look::default(), area, &mut buffer);
    let row = |y| {
        let row: String = (0..columns).map(|x| buffer[(x, y)].symbol()).collect();
        row.trim_end().to_owned()
    };
    (0..rows).map(row).collect()
}

#[test]
fn what_would_be_seen_is_on_the_screen_of_every_page_and_size() {
    let of_page = |keys: &str| {
        let mut desk = super::foot::desk_of(calibration::MARRAM);
        desk.keys(keys);
        desk.input(seen(|sight| sight.joints[1].servo.hums = true));
        desk
    };
    for (keys, page) in [
        ("", "Home"),
        ("<F2> j <Enter>", "Jog"),
        ("<F2> j j <Enter>", "Foot jog"),
        ("<F2> j j j <Enter>", "Body jog"),
        ("<F2> j j j j <Enter> <Enter>", "Supply"),
    ] {
        let desk = of_page(keys);
        assert_eq!(desk.row(0), page);
        for (columns, rows) in [(80, 24), (100, 30), (120, 36), (140, 45)] {
            let all = drawn(&desk, columns, rows).join("\n");
            assert!(
                all.contains("LM tibia: a hum"),
                "{page} at {columns}x{rows}:\n{all}"
            );
            assert!(all.contains("simulated"), "{page} at {columns}x{rows}");
        }
    }
}

#[test]
fn where_the_chosen_legs_foot_touches_the_sheet_is_read_where_it_is_jogged() {
    let touch = |leg: &str, at_mm| SeenTouch {
        leg: leg.into(),
        at_mm,
    };
    let cases = [("<F2> j <Enter>", "Jog"), ("<F2> j j <Enter>", "Foot jog")];
    for (keys, page) in cases {
        let mut desk = super::foot::desk_of(calibration::MARRAM);
        desk.keys(keys);
        for hums in [false, true] {
            desk.input(seen(|sight| {
                // It presses: two of its servos hum, and that stands first.
                sight.joints[1].leg = "LF".into();
                sight.joints[2].leg = "LF".into();
                sight.joints[1].servo.hums = hums;
                sight.joints[2].servo.hums = hums;
                sight.touches = vec![touch("RR", [1.0, 2.0]), touch("LF", [-123.4, -145.0])];
            }));
            for (columns, rows) in [(80, 24), (100, 30), (120, 36), (140, 45)] {
                let all = drawn(&desk, columns, rows).join("\n");
                let (title, boxed) = ("sheet x −123 y −145", "LF on the sheet at x −123 y −145 ");
                let shown = all.contains(title) || all.contains(boxed);
                assert!(shown, "{page} at {columns}x{rows}:\n{all}");
                assert!(
                    columns < 120 || page != "Jog" || all.contains(boxed),
                    "{all}"
                );
            }
        }
        let title = &drawn(&desk, 80, 24)[1];
        assert!(!title.contains('…'), "parts are left out whole: {title}");
        // In the air it is not spoken of.
        desk.input(seen(|sight| sight.touches = vec![touch("RR", [1.0, 2.0])]));
        assert!(!drawn(&desk, 120, 36).join("\n").contains("sheet"));
    }
}

#[test]
fn the_scale_and_which_way_lifts_are_read_whole_beside_every_joint() {
    for text in [
        calibration::MARRAM,
        include_str!("../../../calibrations/one-leg.toml"),
    ] {
        let mut desk = super::foot::desk_of(text);
        desk.keys("<F2> j <Enter>");
        let legs = match desk.state.work.robot().legs.len() {
            1 => "e",
            _ => "e d c r f v",
        };
        for leg in legs.split(' ') {
            for joint in ["u", "i", "o"] {
                desk.keys(&format!("{leg} {joint}"));
                for (columns, rows) in [(80, 24), (120, 36)] {
                    let all = drawn(&desk, columns, rows);
                    let row = all.iter().find(|row| row.contains(" scale  "));
                    let row = row.unwrap_or_else(|| panic!("{all:#?}"));
                    let way = ["lifts", "left", "right"];
                    assert!(way.iter().any(|it| row.ends_with(it)), "{row}");
                }
            }
        }
    }
}

#[test]
fn a_dialog_leaves_no_scraps_of_the_page_beside_it() {
    let mut desk = Desk::on_jog();
    desk.keys("w");
    let rows = drawn(&desk, 80, 24);
    let top = rows
        .iter()
        .position(|row| row.contains("─ Wake"))
        .expect("it is open");
    let bottom = rows
        .iter()
        .position(|row| row.contains("└"))
        .expect("it is closed below");
    assert!(bottom > top + 5);
    for row in &rows[top..=bottom] {
        let beside: String = row.chars().take(6).chain(row.chars().skip(74)).collect();
        assert_eq!(beside.trim(), "", "{row}");
    }
}

#[test]
fn enter_does_nothing_while_it_sits_down() {
    let mut desk = can_sit();
    desk.keys("<Esc> <Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.keys("y");
    desk.says("Sitting down");
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Home");
    desk.says("Sitting down");
}

#[test]
fn one_of_a_thing_is_not_called_several() {
    let mut desk = Desk::awake();
    desk.keys("q");
    let Some(Overlay::Dialog(dialog)) = desk.screen().overlay else {
        panic!("it asks");
    };
    assert_eq!(
        dialog.lines,
        ["1 servo awake, limp before the console closes."]
    );
    let mut desk = Desk::on_jog();
    desk.keys("W");
    let first = |desk: &Desk| match desk.screen().overlay {
        Some(Overlay::Dialog(dialog)) => dialog.lines[0].clone(),
        _ => panic!("it counts"),
    };
    assert_eq!(first(&desk), "3 seconds until it moves");
    desk.wait(Duration::from_millis(2500));
    assert_eq!(first(&desk), "1 second until it moves");
}

#[test]
fn opening_ends_with_an_awake_joint_moves_nothing_and_a_long_way_is_counted_for() {
    let mut desk = super::foot::desk_of(calibration::MARRAM);
    desk.keys("<F2> j <Enter> w <Enter> = 1 0 0 0 <Enter>");
    desk.wait(Duration::from_secs(1));
    assert_eq!(desk.pulses[&pin(22)].us(), 1000.0);
    desk.log.clear();
    desk.keys("<F2> j j j j j j j j j <Enter> <Enter>");
    assert_eq!(desk.row(0), "Ends");
    desk.wait(Duration::from_secs(5));
    assert!(!desk.moved(), "{:?}", desk.asked());
    desk.says("Enter: find the far end of LF coxa. Hands away first.");
    desk.keys("<Enter>");
    desk.says("Hands away. Pin 22 moves to 1946 µs in 3 s.");
    desk.wait(Duration::from_millis(2800));
    assert!(!desk.moved(), "{:?}", desk.asked());
    desk.wait(Duration::from_millis(500));
    assert!(
        desk.asked().iter().any(|it| it.starts_with("go ")),
        "{:?}",
        desk.asked()
    );
}

#[test]
fn opening_any_page_with_an_awake_joint_moves_nothing() {
    use crate::console::pages::PAGES;
    for (index, page) in PAGES.iter().enumerate().skip(2) {
        let mut desk = super::foot::desk_of(calibration::MARRAM);
        desk.keys("<F2> j <Enter> w <Enter> = 1 0 0 0 <Enter>");
        desk.wait(Duration::from_secs(1));
        desk.log.clear();
        desk.keys("<F2>");
        for _ in 2..index {
            desk.keys("j");
        }
        desk.says(&format!("Enter opens {}.", page.name()));
        desk.keys("<Enter>");
        if desk.state.top().is_some() {
            // For this joint, this leg.
            desk.keys("<Enter>");
        }
        assert_eq!(desk.state.page, page.id());
        desk.wait(Duration::from_secs(5));
        assert!(!desk.moved(), "{}: {:?}", page.name(), desk.asked());
    }
}

#[test]
fn a_terminal_that_is_too_small_takes_no_key_but_q_and_what_stops() {
    let mut desk = Desk::awake();
    desk.keys("z");
    desk.log.clear();
    for size in [(60, 15), (79, 24), (80, 23)] {
        desk.input(Input::Size(size.0, size.1));
        desk.keys("w <Enter> = 9 <Enter> m <Enter>");
        assert!(desk.state.layers.is_empty(), "{size:?}");
        assert!(desk.log.is_empty(), "{size:?}: {:?}", desk.log);
        desk.keys("<Space>");
        assert_eq!(desk.log, [Effect::Stop(Stop::Limp)]);
        desk.log.clear();
    }
    desk.keys("q");
    assert_eq!(desk.log, [Effect::Quit]);
}
