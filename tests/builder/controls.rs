//! What each kind of check says of work that is not as it should be: a check that cannot fail is none.

use hornset::board::Request;
use hornset::calibration::MARRAM;
use hornset::calibration::logbook::What;
use hornset::calibration::model::{JointKind, JointRef};
use hornset::estimate::knowledge;
use hornset::practice::{Fault, Settings, TrueJoint};
use hornset::procedure::{Bench as Known, Bounds, Ends, Horns, Scope};
use hornset::units::{Pin, Pulse};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::bench::Bench;
use crate::driver::{Death, Driver};
use crate::figures::{Figures, HORN_DEG, PRESSING_MS, Robot};
use crate::joint_tables::pieces;
use crate::judge;
use crate::replaced::{Changed, Replaced};

const SEED: u64 = 7;
const FEMUR: JointRef = JointRef {
    leg: 1,
    kind: JointKind::Femur,
};

fn driver() -> Driver {
    Driver::new(Settings::seeded(SEED), SEED)
}

fn pulse(us: f64) -> Pulse {
    Pulse::from_us(us).expect("a pulse")
}

/// Wakes a pin at its centre with all of its travel allowed, and by no step machine.
fn wake(bench: &mut Bench, pin: Pin) {
    let (low, high) = (Pulse::MIN, Pulse::MAX);
    let asked = [
        Request::Guard { pin, low, high },
        Request::Wake {
            pin,
            pulse: Pulse::CENTRE,
        },
    ];
    for request in asked {
        bench.ask(request).expect("it is done");
    }
    bench.until_awake(pin);
    bench.run(500);
}

#[test]
fn who_moves_a_joint_onto_its_end_and_asks_then_is_found_out() {
    let mut driver = driver();
    driver.judged(FEMUR);
    let truth = driver.bench.world.truth();
    let joint = truth.joint("LM", "femur").expect("it is there");
    let (pin, bench) = (joint.pin, &mut driver.bench);
    wake(bench, pin);
    // Seven steps of 20 µs a second, and on: no peck, it stays where it went.
    let mut at = 1500.0;
    while bench.watch.worst.beyond_us < 100.0 && at < 2480.0 {
        at += 20.0;
        let moves = vec![(pin, pulse(at))];
        bench.ask(Request::Go { ms: 0, moves }).expect("it is done");
        bench.run(500);
    }
    let worst = bench.watch.worst;
    assert!(worst.outward_ms > 300, "{worst:?}");
    assert!(worst.pressing_ms > 300, "{worst:?}");
    assert!(worst.beyond_us >= 100.0, "{worst:?}");
}

#[test]
fn who_mistakes_joints_has_a_wrong_map() {
    let mut driver = driver();
    driver.person.mistakes_joints = true;
    driver.person.exchanges = false;
    judge::plugs(&mut driver);
    let wrong = judge::plugs_wrong(&driver.known(), &driver.bench.world.truth());
    assert_eq!(wrong.len(), 18, "{wrong:?}");
}

#[test]
fn who_misreads_the_gauge_has_the_wrong_tooth_and_the_wrong_middle() {
    let mut driver = driver();
    judge::plugs(&mut driver);
    let mut robot = Robot::default();
    driver.person.misreads_deg = 9.0;
    judge::horns(&mut driver, Scope::Leg(1), &mut robot);
    assert!(
        robot.horns.iter().all(|it| it.loss_deg > 4.0),
        "{:?}",
        robot.horns
    );
    driver.work(Bounds::new(
        &driver.known(),
        Scope::Leg(1),
        Known::default(),
    ));
    let placings = judge::marks(&mut driver, 1);
    judge::judge_marks(&driver, 1, placings, &mut robot);
    let mut figures = Figures::default();
    figures.add(robot);
    let (angle, scale) = figures.shares((12, 1.0, 0.02));
    assert_eq!(angle, 0.0);
    assert!(
        scale > 0.5,
        "what all readings have too much tells nothing of µs/degree: {scale}"
    );
}

#[test]
fn who_tells_one_travel_for_servos_whose_sides_differ_may_have_a_tooth_that_is_too_far_off() {
    let worse = (1..=100).find_map(|seed| {
        let mut driver = Driver::new(Settings::seeded(seed), seed);
        driver.person.tells_one_travel = true;
        judge::plugs(&mut driver);
        let mut robot = Robot::default();
        judge::horns(&mut driver, Scope::Robot, &mut robot);
        robot.horns.into_iter().find(|it| it.loss_deg > HORN_DEG)
    });
    assert!(worse.is_some(), "measuring each servo changes nothing");
}

#[test]
fn a_pulse_that_is_not_what_was_written_down_shows_in_us_per_degree() {
    let mut driver = driver();
    judge::plugs(&mut driver);
    let mut robot = Robot::default();
    driver.work(Horns::new(&driver.known(), Scope::Leg(1), Known::default()));
    driver.work(Bounds::new(
        &driver.known(),
        Scope::Leg(1),
        Known::default(),
    ));
    let placings = judge::marks(&mut driver, 1);
    let mut entries = driver.book.entries().to_vec();
    for entry in &mut entries {
        if let What::Mark { pulse_us, .. } = &mut entry.what {
            *pulse_us += (*pulse_us - 1500.0) * 0.06;
        }
    }
    let moved = knowledge(&entries);
    judge::judge_fits(&driver, 1, placings, (&moved, &moved), &mut robot);
    let mut figures = Figures::default();
    figures.add(robot);
    let (angle, scale) = figures.shares((12, 1.0, 0.02));
    assert_eq!(scale, 0.0);
    assert!(angle > 0.5, "the middle is the same: {angle}");
}

#[test]
fn a_file_in_which_another_joint_changed_when_a_servo_was_replaced_is_found_out() {
    let place = 4;
    let (tables, between) = pieces(MARRAM);
    // The text with the joint's own table, another joint's, and what stands between them, told anew.
    let text = |own: &dyn Fn(&str) -> String, other: &str, rest: &str| -> String {
        let mut text = between[0].clone() + rest;
        for (index, table) in tables.iter().enumerate() {
            match index {
                _ if index == place => text += &own(table),
                5 => text = text + table + other,
                _ => text += table,
            }
            text += &between[index + 1];
        }
        text
    };
    let same = |own: &str| own.to_owned();
    let empty = |own: &str| {
        let lines = own.split_inclusive('\n');
        lines.filter(|it| !it.starts_with("zero_us")).collect()
    };
    let new = |own: &str| own.replace("zero_us", "# another servo\nzero_us");
    assert_eq!(text(&same, "", ""), MARRAM);
    let before = text(&same, "", "");
    let (without, after) = (text(&empty, "", ""), text(&new, "", ""));
    let of = |without: &str, after: &str| {
        let it = Changed::of([&before, without, after], place);
        (it.others_stay, it.own_is_new)
    };
    assert_eq!(of(&without, &after), (true, true));
    assert_eq!(of(&without, &text(&new, "#", "")), (false, true));
    assert_eq!(of(&text(&empty, "#", ""), &after), (false, true));
    assert_eq!(of(&without, &text(&new, "", "#")), (false, true));
    assert_eq!(of(&before, &after), (true, false));
    assert_eq!(of(&without, &before), (true, false));
    assert_eq!(of(&without, &without), (true, false));
    // What the figures make of it.
    let told = |others_stay, own_is_new| {
        let mut figures = Figures::default();
        figures.add(Robot {
            replaced: Some(Replaced {
                what: "one".into(),
                fitted: None,
                others_stay,
                own_is_new,
            }),
            ..Robot::default()
        });
        let broken = figures.broken();
        let says = |start: &str| broken.iter().any(|it| it.starts_with(start));
        (
            says("the file after a servo was replaced"),
            says("[0, 0] of 1 joints with a new servo are good"),
        )
    };
    assert_eq!(told(true, true), (false, true));
    assert_eq!(told(false, true), (true, true));
    assert_eq!(told(true, false), (true, true));
}

#[test]
fn eighteen_that_start_at_once_on_a_weak_supply_brown_out_and_that_is_seen() {
    let settings = Settings::seeded(SEED);
    let faults = settings.faults.with(Fault::WeakSupply);
    let mut bench = Bench::new(Settings { faults, ..settings });
    let pins: Vec<Pin> = bench.world.truth().joints.iter().map(|it| it.pin).collect();
    for &pin in &pins {
        let pulse = pulse(1400.0);
        bench.ask(Request::Wake { pin, pulse }).expect("it wakes");
        let us_per_s = 100_000;
        let pin = Some(pin);
        bench
            .ask(Request::Slew { pin, us_per_s })
            .expect("it is done");
    }
    bench.run(3000);
    assert!(bench.mishaps.is_empty(), "{:?}", bench.mishaps);
    for half in pins.chunks(9) {
        let moves = half.iter().map(|pin| (*pin, pulse(1600.0))).collect();
        bench.send(Request::Go { ms: 0, moves });
    }
    bench.run(500);
    let reset = |it: &String| it.contains("Reset");
    assert!(bench.mishaps.iter().any(reset), "{:?}", bench.mishaps);
}

/// To larger pulses or to smaller ones: the linkage ends well before the servo's own travel does, so that it presses there.
fn meets_its_end(it: &TrueJoint, larger: bool) -> bool {
    let (end, reach) = match larger == it.positive {
        true => (it.ends_deg.1, it.reach_deg.1),
        false => (it.ends_deg.0, it.reach_deg.0),
    };
    let outward = if larger == it.positive { 1.0 } else { -1.0 };
    (reach - end) * outward > 5.0 && it.us_at(end).is_some()
}

/// Robots on which the host dies.
const DEATHS: u64 = 10;

#[test]
fn a_host_that_dies_in_mid_peck_leaves_nothing_pressed() {
    for seed in 1..=DEATHS {
        for larger in [false, true] {
            let mut luck = ChaCha8Rng::seed_from_u64(seed * 2 + u64::from(larger));
            let mut driver = Driver::new(Settings::seeded(seed), seed);
            judge::plugs(&mut driver);
            let mut place = luck.random_range(0..18);
            while !meets_its_end(&driver.bench.world.truth().joints[place], larger) {
                place = (place + 1) % 18;
            }
            let at = JointRef {
                leg: place / 3,
                kind: JointKind::ALL[place % 3],
            };
            let scope = Scope::Joint(at);
            driver.work(Bounds::new(&driver.known(), scope, Known::default()));
            // He goes to the end, and the host dies while a peck presses, or just when it is back.
            driver.dies = Some(Death {
                larger,
                after_ms: luck.random_range(0..300),
            });
            driver.work(Ends::new(&driver.known(), scope, Known::default()));
            assert!(driver.is_dead(), "seed {seed}, {at:?}: it met no end");
            let bench = &mut driver.bench;
            bench.run_without_host(15_000);
            let worst = bench.watch.worst;
            assert!(
                worst.outward_ms <= 300 && worst.pressing_ms <= 300,
                "seed {seed}, {at:?}, larger {larger}: {worst:?}"
            );
            assert!(
                bench.world.pulses().iter().all(|it| it.ticks == 0),
                "seed {seed}: silence has made all limp"
            );
        }
    }
}

#[test]
fn however_long_the_builder_thinks_nothing_rests_against_an_end() {
    for seed in [1, 2, 3] {
        let mut driver = Driver::new(Settings::seeded(seed), seed);
        judge::plugs(&mut driver);
        driver.late_ms = 10_000;
        for leg in 0..6 {
            let scope = Scope::Leg(leg);
            driver.work(Bounds::new(&driver.known(), scope, Known::default()));
            driver.work(Ends::new(&driver.known(), scope, Known::default()));
        }
        let worst = driver.bench.watch.worst;
        assert!(
            worst.outward_ms <= 300 && worst.pressing_ms <= PRESSING_MS,
            "seed {seed}: {worst:?} at {:?}",
            driver.bench.watch.worst_doing
        );
        assert!(worst.beyond_us > 0.0, "the ends were met");
    }
}
