//! A servo is replaced when all is done: that joint alone is done again, and no other joint's bytes change in the file.

use std::fs;
use std::path::Path;

use hornset::board::Hands;
use hornset::calibration::model::{JointKind, JointRef};
use hornset::calibration::{MARRAM, edit, file};
use hornset::estimate::Knowledge;
use hornset::procedure::{Bench as Known, Bounds, Ends, Replace, Scope};

use crate::driver::Driver;
use crate::figures::{Fitted, Robot};
use crate::joint_tables::pieces;
use crate::judge;
use crate::person::index;

/// What came of it.
#[derive(Debug, Clone)]
pub struct Replaced {
    /// Read in what is printed when it fails.
    #[allow(dead_code)]
    pub what: String,
    /// The new servo's line against the truth.
    pub fitted: Option<Fitted>,
    /// Nothing outside of that joint's table changed, neither when it was taken out nor when all was done again.
    pub others_stay: bool,
    /// Its own table lost the old servo's line, and has the new one's.
    pub own_is_new: bool,
}

/// Replaces one servo by a spare that he found good.
pub fn one_servo(driver: &mut Driver, robot: &mut Robot) -> Replaced {
    let place = (robot.seed * 7 % 17) as usize;
    let at = JointRef {
        leg: place / 3,
        kind: JointKind::ALL[place % 3],
    };
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    fs::write(&path, MARRAM.replace("template = true\n", "")).expect("written");
    let before = saved(&path, &driver.known());
    puts_in_a_spare(driver, at);
    let without = saved(&path, &driver.known());
    let scope = Scope::Joint(at);
    judge::horns(driver, scope, robot);
    driver.lead(|known| Bounds::new(known, scope, Known::default()));
    let placing_deg = judge::marks_of(driver, at).all_deg;
    driver.lead(|known| Ends::new(known, scope, Known::default()));
    let known = driver.known();
    let after = saved(&path, &known);
    let truth = &driver.bench.world.truth().joints[index(at)];
    let changed = Changed::of([&before, &without, &after], index(at));
    Replaced {
        what: format!("seed {} {} {}", robot.seed, truth.leg, truth.joint),
        fitted: judge::fitted(truth, &known, at, placing_deg),
        others_stay: changed.others_stay,
        own_is_new: changed.own_is_new,
    }
}

/// What became of a file: with the old servo, without any, and with the new one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Changed {
    /// See [`Replaced`].
    pub others_stay: bool,
    /// See [`Replaced`].
    pub own_is_new: bool,
}

impl Changed {
    /// The three texts compared, where this joint's servo is the one.
    pub fn of(texts: [&str; 3], place: usize) -> Changed {
        let [before, without, after] = texts.map(|text| {
            let (mut tables, between) = pieces(text);
            let own = tables.remove(place);
            (own, tables, between)
        });
        let has_line = |own: &str| own.contains("zero_us");
        Changed {
            others_stay: (&before.1, &before.2) == (&without.1, &without.2)
                && (&before.1, &before.2) == (&after.1, &after.2),
            own_is_new: has_line(&before.0)
                && !has_line(&without.0)
                && has_line(&after.0)
                && after.0 != before.0
                && before.1.iter().all(|it| has_line(it)),
        }
    }
}

/// Replaces the servo of this joint by a spare that he found good.
pub fn puts_in_a_spare(driver: &mut Driver, at: JointRef) {
    let spares = driver.bench.world.spares();
    let good = |it: &&(String, bool)| it.1 && spares.contains(&it.0);
    let spare = driver.person.verdicts.iter().find(good);
    driver.person.puts_in = spare.expect("one spare is good").0.clone();
    driver.mark_errors[index(at)].clear();
    driver.work(Replace::new(&driver.known(), at, Known::default()));
}

/// The file's text after what is known was saved into it.
fn saved(path: &Path, known: &Knowledge) -> String {
    let mut loaded = file::load(path).expect("a good file");
    let changes = edit::changes_of_robot(loaded.robot(), &known.robot);
    loaded.record_all(&changes).expect("good changes");
    loaded.save().expect("it is saved");
    fs::read_to_string(path).expect("it is there")
}
