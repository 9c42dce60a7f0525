//! One whole robot led through the job, and judged against the truth.

use std::rc::Rc;

use hornset::board::{Hands, Request};
use hornset::calibration::logbook::{Entry, Way, What};
use hornset::calibration::model::{Joint, JointKind, JointRef};
use hornset::estimate::{Knowledge, knowledge};
use hornset::practice::{Fault, Settings, TrueJoint, Truth};
use hornset::procedure::{
    Bench as Known, Bounds, Check, Ends, Horns, Marks, Plugs, Scope, Sensor, Servo, Supply, Waking,
};
use hornset::units::{Pin, Pulse};

use crate::driver::{Driver, Strays};
use crate::figures::{Fitted, HORN_DEG, Horned, JointFigures, Robot};
use crate::person::{Advised, index};
use crate::replaced;

/// Readings of the first round.
const FIRST: usize = 6;
/// A pin with nothing on it, for single servos.
const TEST_PIN: u8 = 44;
/// How long all eighteen stay awake, ms.
const ALL_AWAKE_MS: u32 = 3000;
/// The current sensor says 500 mV at rest and 250 mV more for each ampere: what a servo draws that presses after one fine step.
const SENSOR: Sensor = Sensor {
    input: 0,
    mv: 600,
    ms: 40,
};
/// How far he has them wake from where they were parked: this part of the way to their limits.
const FAR: f64 = 0.8;
/// Every so many-th robot has a servo replaced in the end.
const REPLACED: u64 = 5;
/// The leg at which a screw comes loose in the end.
const LOOSENED: JointRef = JointRef {
    leg: 5,
    kind: JointKind::Tibia,
};

/// Every tenth robot, as often one with an odd seed as one with an even seed.
fn is_turn(seed: u64, which: u64) -> bool {
    seed % 10 == which + seed / 10 % 2
}

/// This seed's bench: every second one has a supply of 3 A over thin leads, every tenth one a dead servo that is built
/// in, and every tenth one a current sensor.
fn bench_of(seed: u64) -> Settings {
    let mut settings = Settings::seeded(seed);
    if seed % 2 == 1 {
        settings.faults = settings.faults.with(Fault::WeakSupply);
    }
    if is_turn(seed, 1) {
        settings.faults = settings.faults.with(Fault::DeadServo);
    }
    settings.sensor = is_turn(seed, 8);
    settings
}

/// Leads the builder of this seed's robot through everything.
pub fn whole_robot(seed: u64) -> Robot {
    let mut driver = Driver::new(bench_of(seed), seed);
    let mut robot = Robot {
        seed,
        ..Robot::default()
    };
    driver.strays = match seed {
        it if is_turn(it, 3) => Strays::Leaves,
        it if is_turn(it, 6) => Strays::Undoes,
        _ => Strays::No,
    };
    let sensor = bench_of(seed).sensor.then_some(SENSOR);
    driver.lead(Supply::new);
    spares(&mut driver, &mut robot);
    robot.swapped = plugs(&mut driver);
    if bench_of(seed).faults.has(Fault::DeadServo) {
        robot.dead_wrong = Some(dead_servo(&mut driver));
    }
    for leg in 0..driver.known().robot.legs.len() {
        let scope = Scope::Leg(leg);
        horns(&mut driver, scope, &mut robot);
        driver.lead(|known| Bounds::new(known, scope, Known::default()));
        let placings = marks(&mut driver, leg);
        let bench = Known {
            sensor,
            ..Known::default()
        };
        driver.lead(|known| Ends::new(known, scope, bench.clone()));
        driver.no_trip();
        judge_marks(&driver, leg, placings, &mut robot);
    }
    robot.awake = wake_all(&mut driver);
    driver.all_limp();
    if seed.is_multiple_of(REPLACED) {
        robot.replaced = Some(replaced::one_servo(&mut driver, &mut robot));
    }
    let (known, truth) = (driver.known(), driver.bench.world.truth());
    robot.plugs_wrong = plugs_wrong(&known, &truth);
    robot.unbounded = unbounded(&known, &truth);
    robot.minutes = driver.bench.world.ms() as f64 / 60_000.0;
    robot.answers = driver.answers;
    robot.strayed = (driver.strays != Strays::No).then_some((driver.left, driver.undone));
    robot.trips = sensor.map(|_| driver.trips);
    robot.called_off = called_off(&mut driver);
    robot.loosened_found = loosened_is_found(&mut driver);
    robot.worst = driver.bench.watch.worst;
    robot.worst_doing = driver.bench.watch.worst_doing.clone();
    robot.beyond_us = driver.bench.watch.beyond_us;
    robot.mishaps = driver.bench.mishaps.clone();
    if bench_of(seed).faults.has(Fault::WeakSupply) {
        robot.at_once_browns_out = Some(browns_out_at_once(&mut driver));
    }
    robot
}

/// Every spare alone on a test pin; what the builder made of them is compared with what they are.
fn spares(driver: &mut Driver, robot: &mut Robot) {
    driver.person.untested = driver.bench.world.spares();
    let sound = driver.bench.world.truth().spares;
    let pin = Pin::new(TEST_PIN).expect("a pin");
    driver.work(Servo::new(&driver.known(), pin, Known::default()));
    robot.spares = driver.person.verdicts.len();
    robot.spares_wrong = sound.len() - robot.spares;
    for verdict in &driver.person.verdicts {
        robot.spares_wrong += usize::from(!sound.contains(verdict));
    }
}

/// Finds every plug; true if plugs were exchanged by hand.
pub fn plugs(driver: &mut Driver) -> bool {
    let found = driver.bench.world.truth();
    let known = driver.known();
    driver.lead(|known| Plugs::new(known, Scope::Robot, &[], Known::default()));
    for (at, _) in known.robot.joints() {
        driver.judged(at);
    }
    let now = driver.bench.world.truth();
    found
        .joints
        .iter()
        .zip(&now.joints)
        .any(|(a, b)| a.pin != b.pin)
}

/// A servo that is built in is dead: what was found of the plugs names its pin and its joint, and is right for the rest;
/// he puts a spare in, and tries that pin again. What of that is not so.
fn dead_servo(driver: &mut Driver) -> Vec<String> {
    let truth = driver.bench.world.truth();
    let joints: Vec<JointRef> = driver.known().robot.joints().map(|(at, _)| at).collect();
    let dead = truth.joints.iter().position(|it| !it.alive);
    let at = joints[dead.expect("one is dead")];
    let it = &truth.joints[index(at)];
    let name = format!("{} {}", it.leg, it.joint);
    let mut wrong = plugs_wrong(&driver.known(), &truth);
    wrong.retain(|it| *it != name);
    let told = driver.person.told_wiring.join(" ");
    let silent = format!("! pin {} moved nothing, planned is {name}:", it.pin);
    if !told.contains(&silent) {
        wrong.push(format!("{silent} was not said: {told}"));
    }
    let number = it.pin.number();
    let tried = driver.known();
    let row = tried.plugs.iter().find(|(pin, _)| pin.number() == number);
    if row.is_none_or(|(_, plug)| plug.joint.is_some()) {
        wrong.push(format!("pin {number} is not written down as silent"));
    }
    replaced::puts_in_a_spare(driver, at);
    driver.person.mended = true;
    driver.bench.watch.nothing_is_confirmed();
    plugs(driver);
    wrong
}

/// The horns of a scope, and what was advised for them.
pub fn horns(driver: &mut Driver, scope: Scope, robot: &mut Robot) {
    let before = driver.bench.world.truth();
    let known = driver.known();
    driver.work(Horns::new(&known, scope, Known::default()));
    for advised in driver.person.advised.drain(..) {
        let truth = &before.joints[index(advised.joint)];
        let needed = known
            .robot
            .joint(advised.joint)
            .and_then(|it| it.needed_deg);
        let needed = needed.expect("planned");
        robot.horns.push(horn(robot.seed, truth, needed, &advised));
    }
}

/// The errors of the placings in which a joint's readings were taken: means.
#[derive(Debug, Clone, Copy)]
pub struct Placings {
    six_deg: f64,
    pub all_deg: f64,
    /// He did not leave between: the first six are one round.
    in_one_go: bool,
}

/// The marks of a leg; the placings' errors come back.
pub fn marks(driver: &mut Driver, leg: usize) -> [Placings; 3] {
    JointKind::ALL.map(|kind| marks_of(driver, JointRef { leg, kind }))
}

/// The marks of a joint: two rounds in one placing, if he does not leave; the placings' errors come back.
pub fn marks_of(driver: &mut Driver, at: JointRef) -> Placings {
    let scope = Scope::Joint(at);
    let left = driver.left;
    driver.lead(|known| Marks::new(known, scope, Known::default()));
    let all = &driver.mark_errors[index(at)];
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    Placings {
        six_deg: mean(&all[..FIRST.min(all.len())]),
        all_deg: mean(all),
        in_one_go: driver.left == left,
    }
}

/// Compares what six and what twelve readings gave with the truth.
pub fn judge_marks(driver: &Driver, leg: usize, placings: [Placings; 3], robot: &mut Robot) {
    let (six, all) = fits(driver, leg);
    judge_fits(driver, leg, placings, (&six, &all), robot);
}

/// The same of what was made of the readings.
pub fn judge_fits(
    driver: &Driver,
    leg: usize,
    placings: [Placings; 3],
    (six, all): (&Knowledge, &Knowledge),
    robot: &mut Robot,
) {
    let truth = driver.bench.world.truth();
    for kind in JointKind::ALL {
        let at = JointRef { leg, kind };
        let it = &truth.joints[index(at)];
        robot.joints.push(JointFigures {
            six: fitted(it, six, at, placings[kind.index()].six_deg),
            twelve: fitted(it, all, at, placings[kind.index()].all_deg),
            six_are_a_round: placings[kind.index()].in_one_go,
            servo_has: servo_has(it),
            told_short: driver.person.told_short.contains(&at),
            what: format!("seed {} {} {}", robot.seed, it.leg, it.joint),
        });
    }
}

/// Wakes all by the plan, far from where they were parked, and leaves them awake for a while; how many are.
fn wake_all(driver: &mut Driver) -> usize {
    let known = driver.known();
    let far = far_from_parked(&known);
    driver.lead(|known| Waking::new(known, Scope::Robot, &far, false, Known::default()));
    driver.bench.run(ALL_AWAKE_MS);
    let pulses = driver.bench.world.pulses().iter();
    pulses.filter(|pulse| pulse.ticks > 0).count()
}

/// Every joint turned toward larger angles: no leg comes nearer to its neighbour.
fn far_from_parked(known: &Knowledge) -> Vec<(Pin, Pulse)> {
    let far = |(at, joint): (JointRef, &Joint)| {
        let (low, high) = joint.limits?;
        let limit = match known.joint(at)?.way? {
            Way::Positive => high,
            Way::Negative => low,
        };
        let centre = Pulse::CENTRE.us();
        Some((
            joint.pin?,
            Pulse::from_us(centre + FAR * (limit.us() - centre))?,
        ))
    };
    known.robot.joints().filter_map(far).collect()
}

/// The same joints on the same supply all start at once, back from there: whether the board is reset.
fn browns_out_at_once(driver: &mut Driver) -> bool {
    wake_all(driver);
    let pins = far_from_parked(&driver.known());
    let bench = &mut driver.bench;
    for &(pin, _) in &pins {
        let (pin, us_per_s) = (Some(pin), 100_000);
        let slew = bench.ask(Request::Slew { pin, us_per_s });
        slew.expect("it is done");
    }
    let before = bench.browned_out();
    for half in pins.chunks(pins.len() / 2) {
        let moves = half.iter().map(|(pin, _)| (*pin, Pulse::CENTRE)).collect();
        bench.send(Request::Go { ms: 0, moves });
    }
    bench.run(ALL_AWAKE_MS);
    !before && bench.browned_out()
}

/// Joints without limits, or with limits outside of their ends.
fn unbounded(known: &Knowledge, truth: &Truth) -> Vec<String> {
    let outside = |at: JointRef, it: &TrueJoint| match known.robot.joint(at).and_then(|j| j.limits)
    {
        None => true,
        Some((low, high)) => [low, high].into_iter().any(|pulse| {
            let deg = it.deg_at(pulse.us());
            deg < it.ends_deg.0 || deg > it.ends_deg.1
        }),
    };
    known
        .robot
        .joints()
        .map(|(at, _)| (at, &truth.joints[index(at)]))
        .filter(|(at, it)| outside(*at, it))
        .map(|(_, it)| format!("{} {}", it.leg, it.joint))
        .collect()
}

/// The next morning nothing has changed, and every joint is checked: which are called off?
fn called_off(driver: &mut Driver) -> Vec<String> {
    driver.work(Check::new(&driver.known(), Scope::Robot, Known::default()));
    let lines = driver.person.told_lines.iter();
    lines.filter(|it| it.ends_with('!')).cloned().collect()
}

/// A week later a horn sits a tooth off, and one leg is checked: is the joint named?
fn loosened_is_found(driver: &mut Driver) -> bool {
    let known = driver.known();
    let name = &known.joint(LOOSENED).expect("planned").name;
    let world = &mut driver.bench.world;
    let (leg, joint) = (name.leg.as_str(), name.kind.word());
    let turned = world
        .turn_horn(leg, joint, 1, 0)
        .or_else(|_| world.turn_horn(leg, joint, -1, 0));
    turned.expect("a tooth one way or the other fits");
    let truth = driver.bench.world.truth();
    driver.bench.watch.hands_were_in(&truth);
    driver.work(Check::new(
        &known,
        Scope::Leg(LOOSENED.leg),
        Known::default(),
    ));
    driver.person.told_last.contains("off")
        && driver
            .person
            .told_lines
            .iter()
            .any(|it| it.starts_with(&format!("{name} ")) && it.ends_with('!'))
}

/// Joints whose pin or direction is not what is true.
pub fn plugs_wrong(known: &Knowledge, truth: &Truth) -> Vec<String> {
    let wrong = |it: &&TrueJoint| {
        let joint = known
            .joints
            .iter()
            .find(|k| k.name.leg == it.leg && k.name.kind.word() == it.joint);
        let joint = joint.expect("planned");
        let way = joint.way.map(|way| way.sign() > 0.0);
        joint.found_pin != Some(it.pin) || way != Some(it.positive)
    };
    truth
        .joints
        .iter()
        .filter(wrong)
        .map(|it| format!("{} {}", it.leg, it.joint))
        .collect()
}

/// What is known after the first six readings of each joint, and after all.
fn fits(driver: &Driver, leg: usize) -> (Knowledge, Rc<Knowledge>) {
    let all = driver.book.entries();
    let mut counts = [0; 3];
    let name = driver.known().robot.legs[leg].name.clone();
    let six: Vec<Entry> = all
        .iter()
        .filter(|entry| match &entry.what {
            What::Mark { joint, .. } if joint.leg == name => {
                counts[joint.kind.index()] += 1;
                counts[joint.kind.index()] <= FIRST
            }
            _ => true,
        })
        .cloned()
        .collect();
    (knowledge(&six), driver.known())
}

/// Angle at the mid-travel pulse and µs/degree against the truth.
///
/// The truth's µs/degree is the best straight line over ±45° about mid-travel, or over as much of that as the servo has.
pub fn fitted(
    truth: &TrueJoint,
    known: &Knowledge,
    at: JointRef,
    placing_deg: f64,
) -> Option<Fitted> {
    let joint = known.robot.joint(at)?;
    let (zero, scale) = (joint.zero.as_ref()?.value, joint.scale.as_ref()?.value);
    let middle = truth.deg_at(1500.0);
    let half = (middle - truth.reach_deg.0).min(truth.reach_deg.1 - middle) - 0.1;
    let line = truth.line(middle, half.min(45.0))?;
    Some(Fitted {
        middle_off_deg: (1500.0 - zero) / scale - middle - placing_deg,
        scale_off: scale / line - 1.0,
        marks: known.joint(at)?.marks.len(),
    })
}

/// The servo can go ±45° about its mid-travel.
fn servo_has(it: &TrueJoint) -> bool {
    let middle = it.deg_at(1500.0);
    middle - it.reach_deg.0 >= 45.0 && it.reach_deg.1 - middle >= 45.0
}

/// The worse side's margin of each seat, by the truth.
///
/// The servo's travel is what the board's pulses of 500-2500 µs can make of it, to either side for what it is.
fn horn(seed: u64, truth: &TrueJoint, (low, high): (f64, f64), advised: &Advised) -> Horned {
    let middle = truth.deg_at(1500.0);
    let (a, b) = (truth.deg_at(500.0), truth.deg_at(2500.0));
    let (below, above) = (middle - a.min(b), a.max(b) - middle);
    let turned = |teeth: f64, arm: f64| {
        teeth * 360.0 / f64::from(truth.teeth) + arm * 360.0 / f64::from(truth.arms)
    };
    let ideal = (low + high + below - above) / 2.0;
    let margin = |turned: f64| {
        let off = (middle + turned - ideal + 180.0).rem_euclid(360.0) - 180.0;
        let at = ideal + off;
        (low - (at - below)).min(at + above - high)
    };
    let mut all = Vec::new();
    for teeth in 0..truth.teeth {
        for arm in 0..truth.arms {
            all.push(turned(f64::from(teeth), f64::from(arm)));
        }
    }
    let best = all.iter().map(|it| margin(*it)).fold(f64::MIN, f64::max);
    let seats: Vec<f64> = advised
        .seats
        .iter()
        .map(|it| turned(f64::from(it.turn_teeth), f64::from(it.arm)))
        .collect();
    let same = |a: f64, b: f64| ((a - b + 180.0).rem_euclid(360.0) - 180.0).abs() < 1e-6;
    let all_are_named = all
        .iter()
        .filter(|it| best - margin(**it) <= HORN_DEG)
        .all(|it| seats.iter().any(|seat| same(*seat, *it)));
    Horned {
        what: format!("seed {seed} {} {}", truth.leg, truth.joint),
        loss_deg: best - margin(seats[0]),
        all_are_named,
        named: seats.len(),
    }
}
