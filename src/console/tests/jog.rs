//! Choosing, waking, jogging, typing a value, widening the guard.

use std::time::Duration;

use super::{Desk, pin, refusal};
use crate::board::Reason;
use crate::calibration::JointKind;
use crate::console::view::{Page, Whole};

#[test]
fn leg_keys_are_places_and_joint_keys_run_from_body_to_foot() {
    for (keys, title) in [
        ("e u", "LF coxa"),
        ("d", "LM femur"),
        ("c o", "LR tibia"),
        ("r", "RF femur"),
        ("f", "RM femur"),
        ("v i", "RR femur"),
        // Turned by a half, the key at the upper left chooses the leg that is drawn there now.
        ("T T e", "RR femur"),
        ("T e", "RF femur"),
        ("T t", "RR femur"),
    ] {
        let mut desk = Desk::on_jog();
        desk.keys(keys);
        assert_eq!(desk.state.title(), title, "after {keys}");
        assert!(!desk.moved());
    }
}

#[test]
fn waking_asks_first_and_says_that_it_jumps() {
    let mut desk = Desk::on_jog();
    desk.keys("w");
    assert!(!desk.moved());
    desk.says("Enter wakes LF femur at 1500 µs. It will jump to this pulse at full speed.");
    desk.keys("1 4 5 0 <Enter>");
    assert_eq!(desk.asked(), ["wake 23 1450"]);
    assert_eq!(desk.screen().head.state, Whole::Awake(1));
}

#[test]
fn enter_does_what_the_next_line_says_and_esc_leaves_it_limp() {
    let mut desk = Desk::on_jog();
    desk.says("Enter: wake LF femur on pin 23.");
    desk.keys("<Enter> <Esc>");
    assert!(!desk.moved());
    desk.keys("<Enter> <Enter>");
    assert_eq!(desk.asked(), ["wake 23 1500"]);
}

#[test]
fn a_wake_outside_the_guard_is_not_asked() {
    let mut desk = Desk::on_jog();
    desk.keys("w 1 9 0 0 <Enter>");
    assert!(!desk.moved());
    desk.says("LF femur does not wake so: the guard is 1400 to 1600 µs.");
}

#[test]
fn the_last_pulse_known_is_the_first_offered() {
    let mut desk = Desk::awake();
    desk.keys("l l l z w");
    desk.says("Enter wakes LF femur at 1524 µs.");
}

#[test]
fn a_leg_wakes_after_a_countdown_one_joint_at_a_time() {
    let mut desk = Desk::on_jog();
    desk.keys("W <Enter> <Enter>");
    desk.says("Hands away. LF wakes in 3 s");
    desk.wait(Duration::from_millis(2900));
    assert!(!desk.moved(), "Enter does not shorten it");
    desk.wait(Duration::from_millis(150));
    assert_eq!(desk.asked(), ["wake 22 1500"]);
    desk.wait(Duration::from_millis(1200));
    assert_eq!(
        desk.asked(),
        ["wake 22 1500", "wake 23 1500", "wake 24 1500"]
    );
    assert_eq!(desk.screen().head.state, Whole::Awake(3));
}

#[test]
fn until_the_whole_leg_is_awake_the_line_says_who_still_jumps() {
    let mut desk = Desk::on_jog();
    desk.keys("u W");
    desk.wait(Duration::from_millis(3050));
    assert_eq!(desk.asked(), ["wake 22 1500"]);
    desk.says("Hands away: LF femur and 1 more still wake, one after the other.");
    assert_eq!(
        desk.row(2),
        "Each jumps to its pulse at full speed. Space stops."
    );
    assert_eq!(desk.screen().big_words, "HANDS AWAY");
    desk.keys("i <Enter>");
    assert!(desk.state.layers.is_empty(), "the line names no Enter");
    desk.keys("u");
    desk.wait(Duration::from_millis(550));
    assert_eq!(desk.asked().len(), 2);
    desk.says("Hands away: LF tibia still wakes.");
    desk.wait(Duration::from_millis(550));
    assert_eq!(desk.asked().len(), 3);
    desk.says("Bring the edge onto both screw heads");
    // The last one does not wake any more.
    desk.keys("Z W");
    desk.wait(Duration::from_millis(3650));
    desk.says("Hands away: LF tibia still wakes.");
    desk.keys("o z u");
    desk.says("Bring the edge onto both screw heads");
    desk.wait(Duration::from_millis(1000));
    assert_eq!(desk.screen().head.state, Whole::Awake(2));
    // Nor does one that has not had its first pulse.
    desk.keys("Z W");
    desk.mute = true;
    desk.wait(Duration::from_millis(3050));
    desk.says("Hands away: LF coxa and 2 more still wake, one after the other.");
    desk.keys("z");
    desk.says("Hands away: LF femur and 1 more still wake, one after the other.");
}

#[test]
fn a_step_is_halved_and_doubled_from_a_half_to_128() {
    let mut desk = Desk::awake();
    for (keys, pulse) in [
        ("l", 1508.0),
        ("<Right>", 1516.0),
        ("h", 1508.0),
        (", , , , l", 1508.5),
        (", , , l", 1509.0),
        (". l", 1510.0),
        (". . . . . . . . . . h", 1400.0),
        ("l", 1528.0),
    ] {
        desk.keys(keys);
        assert_eq!(desk.femur_pulse(), Some(pulse), "after {keys}");
    }
}

#[test]
fn a_step_ends_at_the_guard_and_the_next_is_refused_without_asking() {
    let mut desk = Desk::awake();
    desk.keys(". . . . l");
    assert_eq!(desk.femur_pulse(), Some(1600.0));
    desk.log.clear();
    desk.keys("l");
    assert!(!desk.moved());
    desk.says("Refused: guard. 1728 is above 1600 on pin 23.");
    desk.keys("<Esc> h");
    assert_eq!(desk.femur_pulse(), Some(1472.0));
}

#[test]
fn a_refusal_does_not_take_the_next_fields_enter() {
    let mut desk = Desk::awake();
    desk.keys("= 1 3 9 0 <Enter>");
    desk.says("Refused: guard.");
    desk.keys("= 1 4 1 0");
    desk.says("Type a pulse in µs");
    desk.keys("<Enter>");
    assert_eq!(desk.femur_pulse(), Some(1410.0));
}

#[test]
fn a_limp_joint_is_not_jogged_and_the_reason_is_said() {
    let mut desk = Desk::on_jog();
    desk.keys("l");
    assert!(!desk.moved());
    desk.says("Not now: it is limp: w wakes it.");
}

#[test]
fn digits_type_only_in_fields() {
    let mut desk = Desk::awake();
    desk.keys("1 5 5 0 <Enter>");
    assert!(!desk.moved());
    desk.keys("= 1 5 5 0 . 5 <Enter>");
    assert_eq!(desk.asked(), ["jog 23 1550.5"]);
    desk.keys("= 1 5 <Esc>");
    assert_eq!(desk.femur_pulse(), Some(1550.5));
}

#[test]
fn degrees_wait_for_zero_and_scale() {
    let mut desk = Desk::awake();
    desk.keys("<Tab>");
    desk.says("Not now: degrees need a zero");
    // 1500 µs is 0°, 1540 µs is 4°: 10 µs a degree.
    desk.keys("m <Enter> = 1 5 4 0 <Enter> m 4 <Enter> <Tab> = 2 . 5 <Enter>");
    assert_eq!(desk.femur_pulse(), Some(1525.0));
    desk.keys("l");
    assert_eq!(desk.femur_pulse(), Some(1535.0), "a step of 1°");
    desk.keys(", k");
    assert_eq!(
        desk.femur_pulse(),
        Some(1540.0),
        "half a degree the positive way"
    );
    let Page::Jog(jog) = desk.screen().page else {
        panic!("the page is Jog");
    };
    assert_eq!(
        (jog.numbers.big.as_str(), jog.numbers.step.as_str()),
        ("+4.0", "0.5°")
    );
}

#[test]
fn up_is_the_positive_way_of_a_mirrored_joint_too() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> = 1 5 4 0 <Enter> m - 4 <Enter> k");
    assert_eq!(desk.femur_pulse(), Some(1532.0));
    desk.keys("j j");
    assert_eq!(desk.femur_pulse(), Some(1548.0));
}

#[test]
fn a_guard_is_widened_by_50_beyond_the_pulse_after_a_warning() {
    let mut desk = Desk::awake();
    desk.keys("= 1 5 9 0 <Enter> ]");
    desk.says("Enter widens the guard of LF femur up to 1640 µs.");
    assert!(desk.row(2).starts_with("Nothing may rest against an end"));
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(desk.asked(), ["guard 23 1400 1640"]);
    desk.keys("= 1 6 4 0 <Enter>");
    assert_eq!(desk.femur_pulse(), Some(1640.0));
    desk.keys("= 1 5 5 0 <Enter> ]");
    desk.says("Not now: it reaches 50 µs beyond this pulse already");
}

#[test]
fn a_refusal_of_the_board_moves_the_target_back_and_stays_until_answered() {
    let mut desk = Desk::awake();
    desk.refuse = Some(refusal(Reason::Guard, "pin=23 low=1400 high=1510"));
    desk.keys("= 1 5 4 0 <Enter>");
    desk.says("Refused: guard. 1540 is above 1510 on pin 23.");
    assert_eq!(desk.state.bench.plug(pin(23)).target, None);
    desk.wait(Duration::from_secs(2));
    desk.says("Refused: guard.");
    desk.keys("<Enter>");
    desk.says("Bring the edge");
}

#[test]
fn z_lets_one_joint_go_and_capital_z_the_leg() {
    let mut desk = Desk::on_jog();
    desk.keys("W");
    desk.wait(Duration::from_secs(5));
    assert_eq!(desk.pulses.len(), 3);
    desk.keys("z");
    assert_eq!(
        desk.pulses.keys().copied().collect::<Vec<_>>(),
        [pin(22), pin(24)]
    );
    desk.keys("Z");
    assert!(desk.pulses.is_empty());
    assert_eq!(desk.screen().head.state, Whole::Limp);
}

#[test]
fn the_top_speed_keeps_a_foot_below_250_mm_a_second() {
    let desk = Desk::on_jog();
    let links = [202.0, 171.0, 104.0];
    for (kind, reach) in JointKind::ALL.into_iter().zip(links) {
        let mut at = desk.state.chosen;
        at.kind = kind;
        let us_per_s = crate::console::actions::slew_us_per_s(&desk.state, at).expect("known");
        // At 8 µs a degree, less than any common servo has.
        let speed = (f64::from(us_per_s) / 8.0_f64).to_radians() * reach;
        assert!(speed <= 250.0 && speed > 190.0, "{kind}: {speed} mm/s");
    }
}

#[test]
fn the_board_is_told_guards_and_speeds_before_anything_moves() {
    let mut desk = Desk::new();
    desk.open();
    let asked = desk.asked();
    let slews = asked.iter().filter(|a| a.starts_with("slew ")).count();
    assert_eq!(slews, 18);
    assert_eq!(asked.last().map(String::as_str), Some("watch 50"));
    assert!(!desk.moved());
}

#[test]
fn help_lists_the_table_and_a_reason_beside_what_does_not_work() {
    let mut desk = Desk::on_jog();
    desk.keys("?");
    let Some(crate::console::view::Overlay::Help(help)) = desk.screen().overlay else {
        panic!("help is open");
    };
    let table = desk.state.page().table();
    assert_eq!(help.entries.len(), table.len());
    let of = |keys: &str| {
        help.entries
            .iter()
            .find(|e| e.keys == keys)
            .expect("listed")
    };
    assert_eq!(of("m E").off.as_deref(), Some("it is limp: w wakes it"));
    assert_eq!(of("w W").off, None);
    desk.keys("?");
    assert!(desk.screen().overlay.is_none());
}

#[test]
fn the_foot_line_shows_only_what_works_now() {
    let mut desk = Desk::on_jog();
    let keys =
        |desk: &Desk| -> Vec<String> { desk.screen().foot.into_iter().map(|f| f.keys).collect() };
    assert!(!keys(&desk).contains(&"m".to_owned()));
    desk.keys("w <Enter>");
    // What the page is for comes first; what works everywhere stands where room is left.
    assert_eq!(
        keys(&desk),
        [
            "←→",
            ", .",
            "=",
            "m",
            "E",
            "e r d f c v",
            "u i o",
            "F2",
            "?"
        ]
    );
}

#[test]
fn no_table_binds_a_key_twice_or_the_space() {
    use crate::console::keys::Code;
    use crate::console::pages::PAGES;
    let pages = PAGES.iter().map(|page| (page.name(), page.table()));
    let steps = crate::console::pages::guided::TABLES.iter();
    for (name, table) in pages.chain(steps.map(|table| ("a step", *table))) {
        let mut seen: Vec<Code> = Vec::new();
        for (code, _) in table.iter().flat_map(|c| c.binds) {
            assert!(!seen.contains(code), "{name}: {code:?} twice");
            assert_ne!(*code, Code::Char(' '), "{name}");
            seen.push(*code);
        }
    }
}

#[test]
fn home_walks_the_matrix_and_jog_opens_the_joint() {
    let mut desk = Desk::on_jog();
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.keys("<Down> j l <F2> <Down> <Enter>");
    assert_eq!(
        (desk.row(0).as_str(), desk.state.title().as_str()),
        ("Jog", "LR tibia")
    );
    desk.keys("<F2> <Up> <Enter>");
    assert_eq!(desk.row(0), "Home");
}

#[test]
fn a_bell_rings_when_a_typed_value_is_reached_and_never_for_a_step() {
    use crate::console::effect::Effect;
    let bells = |desk: &Desk| {
        desk.log
            .iter()
            .filter(|e| matches!(e, Effect::Bell(_)))
            .count()
    };
    let mut desk = Desk::awake();
    desk.keys("l l h");
    assert_eq!(bells(&desk), 0);
    desk.keys("= 1 5 4 0 <Enter>");
    desk.wait(Duration::from_millis(100));
    assert_eq!(bells(&desk), 1);
}

#[test]
fn a_nominal_scale_is_marked_as_such() {
    let text = crate::calibration::MARRAM.replace(
        "us_per_degree = { value = 10.62, spread = 0.15, at = 2026-03-14T13:15:06Z, by = \"marks\" }",
        "us_per_degree = { value = 10.62, at = 2026-03-14T13:15:06Z, by = \"typed\" }",
    );
    let file = crate::calibration::file::from_text(&text).expect("it reads");
    let work = crate::console::work::Work::new(file, "".into(), "2026-03-14T10:00:00Z");
    let mut desk = Desk::with(work.expect("it is taken over"));
    desk.open();
    desk.keys("<Enter> <Enter> i <F2> <Down> <Enter> w 1 6 1 2 . 5 <Enter>");
    let jog = |desk: &Desk| match desk.screen().page {
        Page::Jog(jog) => jog,
        other => panic!("not Jog: {other:?}"),
    };
    let numbers = jog(&desk).numbers;
    assert_eq!(numbers.scale, "10.62 µs/°, nominal");
    assert_eq!(numbers.other.1, "+11.8°, nominal");
    assert!(jog(&desk).scale.fit.expect("a fit").nominal);
    // The next joint's scale was measured.
    desk.keys("o w <Enter>");
    assert_eq!(jog(&desk).numbers.scale, "10.9 ± 0.18 µs/°");
}
