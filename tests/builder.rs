//! A scripted builder leads the faulty practice robot through the whole job, in virtual time.
//!
//! He reads only what a person would see: the step on the screen, the joints that move, a gauge, a hum.
//! He runs supply, single servos, plugs, horns, rough bounds, marks, ends, waking, the check and a servo replaced through the step
//! machines of `procedure`, on a hundred robots; what he observed goes through the logbook and its fit, and is judged
//! against the truth here and nowhere else. Every second robot has a supply too weak for many starts at once; on every
//! tenth he leaves and comes back, on every tenth he takes answers back, every tenth has a dead servo built in, and every
//! tenth a current sensor for the board's own trip; on every fifth he replaces a servo in the end.
//! Every pulse of every millisecond is the firmware core's own.
//! The bars are those of issue 4; a control for each kind of check shows that it can fail.
#![cfg(feature = "practice")]

#[path = "builder/bench.rs"]
mod bench;
#[path = "builder/controls.rs"]
mod controls;
#[path = "builder/driver.rs"]
mod driver;
#[path = "builder/figures.rs"]
mod figures;
#[path = "support/joint_tables.rs"]
mod joint_tables;
#[path = "builder/judge.rs"]
mod judge;
#[path = "builder/person.rs"]
mod person;
#[path = "builder/replaced.rs"]
mod replaced;
#[path = "builder/watch.rs"]
mod watch;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use figures::Figures;

/// One robot each.
const SEEDS: std::ops::RangeInclusive<u64> = 1..=100;

/// All robots, on every processor there is.
fn all_seeds() -> Figures {
    let next = AtomicU64::new(*SEEDS.start());
    let all = Mutex::new(Figures::default());
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed > *SEEDS.end() {
                        break;
                    }
                    let one = judge::whole_robot(seed);
                    all.lock().expect("no thread died").add(one);
                }
            });
        }
    });
    all.into_inner().expect("no thread died")
}

#[test]
fn a_builder_is_led_from_the_supply_to_the_check_on_a_hundred_robots() {
    let figures = all_seeds();
    println!("{figures}");
    let broken = figures.broken();
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}
