//! The figures of all robots, printed and held to the promises.

use std::fmt;

use crate::replaced::Replaced;
use crate::watch::Worst;

/// A fit against the truth.
#[derive(Debug, Clone, Copy)]
pub struct Fitted {
    /// The angle at the mid-travel pulse, on the mid-line of the play, less the placing's error.
    pub middle_off_deg: f64,
    /// µs/degree, relative.
    pub scale_off: f64,
    pub marks: usize,
}

/// One joint.
#[derive(Debug, Clone)]
pub struct JointFigures {
    pub what: String,
    pub six: Option<Fitted>,
    pub twelve: Option<Fitted>,
    /// The first six readings are one round: he did not leave among his readings.
    pub six_are_a_round: bool,
    /// Its servo can go ±45° about mid-travel.
    pub servo_has: bool,
    /// The builder was told that marks have less room here.
    pub told_short: bool,
}

/// One piece of advice on a horn.
#[derive(Debug, Clone)]
pub struct Horned {
    /// Read in what is printed when it fails.
    #[allow(dead_code)]
    pub what: String,
    /// What the advised seat lacks of the best one's margin.
    pub loss_deg: f64,
    /// Every seat that is truly within the bar of the best one stands in the advice.
    pub all_are_named: bool,
    /// How many seats were named.
    pub named: usize,
}

/// One robot.
#[derive(Debug, Clone, Default)]
pub struct Robot {
    pub seed: u64,
    pub spares: usize,
    pub spares_wrong: usize,
    pub swapped: bool,
    pub plugs_wrong: Vec<String>,
    pub horns: Vec<Horned>,
    pub joints: Vec<JointFigures>,
    pub unbounded: Vec<String>,
    pub awake: usize,
    /// What the check said of joints at which nothing had changed.
    pub called_off: Vec<String>,
    pub loosened_found: bool,
    pub worst: Worst,
    pub worst_doing: [String; 2],
    pub beyond_us: [f64; 18],
    pub mishaps: Vec<String>,
    /// On a weak supply: whether the board goes down when all start at once.
    pub at_once_browns_out: Option<bool>,
    /// With a dead servo built in: what was not said of it.
    pub dead_wrong: Option<Vec<String>>,
    /// Who strayed: how often he left, and how often he took an answer back.
    pub strayed: Option<(usize, usize)>,
    /// With a current sensor: how often the board's trip acted.
    pub trips: Option<usize>,
    /// The servo that was replaced in the end.
    pub replaced: Option<Replaced>,
    pub answers: usize,
    pub minutes: f64,
}

/// The bars of issue 4.
const OUTWARD_MS: u32 = 300;
/// Not of the issue: where a late ear called a peck or two too far free, the way out to the next peck presses already;
/// this is that way and the peck, however long the builder thinks between them.
pub const PRESSING_MS: u32 = 1000;
/// One fine step of the ends, and 30 µs.
const BEYOND_US: f64 = 8.0 + 30.0;
pub const HORN_DEG: f64 = 4.0;
const SHARE: f64 = 0.95;
/// Not of the issue: of the joints at which nothing changed the check may call off no more than this share.
const CRIES_WOLF: f64 = 0.01;
/// Readings, the angle at mid-travel, µs/degree.
const BARS: [(usize, f64, f64); 2] = [(6, 1.25, 0.025), (12, 1.0, 0.02)];

/// All of them.
#[derive(Debug, Default)]
pub struct Figures {
    pub robots: Vec<Robot>,
}

impl Figures {
    pub fn add(&mut self, robot: Robot) {
        self.robots.push(robot);
        self.robots.sort_by_key(|it| it.seed);
    }

    fn joints(&self) -> impl Iterator<Item = &JointFigures> {
        self.robots.iter().flat_map(|it| &it.joints)
    }

    fn horns(&self) -> impl Iterator<Item = &Horned> {
        self.robots.iter().flat_map(|it| &it.horns)
    }

    /// Shares of the joints whose servo has the travel that are good in angle and in µs/degree; one without a fit is not.
    pub fn shares(&self, (readings, deg, relative): (usize, f64, f64)) -> (f64, f64) {
        let fits: Vec<Option<Fitted>> = self
            .joints()
            .filter(|it| it.servo_has && (readings != 6 || it.six_are_a_round))
            .map(|it| if readings == 6 { it.six } else { it.twelve })
            .collect();
        let share = |good: &dyn Fn(&Fitted) -> bool| {
            let count = fits.iter().flatten().filter(|it| good(it)).count();
            count as f64 / fits.len().max(1) as f64
        };
        (
            share(&|it| it.middle_off_deg.abs() <= deg),
            share(&|it| it.scale_off.abs() <= relative),
        )
    }

    /// Of the weak supplies: whether the board goes down when all start at once.
    fn weak(&self) -> impl Iterator<Item = bool> {
        self.robots.iter().filter_map(|it| it.at_once_browns_out)
    }

    fn replaced(&self) -> impl Iterator<Item = &Replaced> {
        self.robots.iter().filter_map(|it| it.replaced.as_ref())
    }

    /// How many of the joints with a new servo are good in angle, and how many in µs/degree: each by itself, as the
    /// issue says it; fewer than 12 readings are good in neither.
    fn replaced_well(&self) -> [usize; 2] {
        let (_, deg, relative) = BARS[1];
        let fits = || self.replaced().filter_map(|it| it.fitted);
        let read = || fits().filter(|it| it.marks >= 12);
        [
            read().filter(|it| it.middle_off_deg.abs() <= deg).count(),
            read().filter(|it| it.scale_off.abs() <= relative).count(),
        ]
    }

    fn called_off(&self) -> Vec<String> {
        let told = self.robots.iter().flat_map(|it| {
            let said = move |line: &String| format!("seed {}: {line}", it.seed);
            it.called_off.iter().map(said)
        });
        told.collect()
    }

    /// What does not keep the promises; each in words.
    pub fn broken(&self) -> Vec<String> {
        let mut broken = Vec::new();
        for it in &self.robots {
            let mut say = |what: String| broken.push(format!("seed {}: {what}", it.seed));
            if !it.plugs_wrong.is_empty() {
                say(format!("plugs {:?}", it.plugs_wrong));
            }
            if it.spares_wrong > 0 {
                say(format!("{} spares misjudged", it.spares_wrong));
            }
            if it.worst.outward_ms > OUTWARD_MS || it.worst.pressing_ms > PRESSING_MS {
                say(format!("pressed {:?} at {}", it.worst, it.worst_doing[0]));
            }
            if it.worst.beyond_us > BEYOND_US {
                say(format!(
                    "{:.1} µs beyond an end at {}",
                    it.worst.beyond_us, it.worst_doing[1]
                ));
            }
            if !it.unbounded.is_empty() {
                say(format!("no limits inside the ends: {:?}", it.unbounded));
            }
            if !it.mishaps.is_empty() {
                say(format!("{:?}", it.mishaps));
            }
            if it.awake != 18 {
                say(format!("{} of 18 woke by the plan", it.awake));
            }
            if it.dead_wrong.as_ref().is_some_and(|it| !it.is_empty()) {
                say(format!("the dead servo: {:?}", it.dead_wrong));
            }
            if it.strayed == Some((0, 0)) || it.trips == Some(0) {
                say("nobody strayed, or no trip acted: it was not put to the test".to_string());
            }
            if it.at_once_browns_out == Some(false) {
                say(
                    "its weak supply bears all at once: the plan was not put to the test"
                        .to_string(),
                );
            }
            if !it.loosened_found {
                say("the loosened horn was not found by the check".to_string());
            }
        }
        for it in self.horns() {
            if it.loss_deg > HORN_DEG || !it.all_are_named {
                broken.push(format!("horn {it:?}"));
            }
        }
        let called = self.called_off();
        if called.len() as f64 > CRIES_WOLF * self.joints().count() as f64 {
            broken.push(format!("called off, and nothing had changed: {called:?}"));
        }
        for it in self.joints() {
            if !it.servo_has && !it.told_short {
                broken.push(format!("{}: short, and nobody said so", it.what));
            }
        }
        for it in self.replaced() {
            if !it.others_stay || !it.own_is_new {
                broken.push(format!("the file after a servo was replaced: {it:?}"));
            }
        }
        let (good, all) = (self.replaced_well(), self.replaced().count());
        if all == 0 || good.iter().any(|it| (*it as f64) < SHARE * all as f64) {
            broken.push(format!(
                "{good:?} of {all} joints with a new servo are good"
            ));
        }
        for bar in BARS {
            let (angle, scale) = self.shares(bar);
            if angle < SHARE || scale < SHARE {
                broken.push(format!("{} readings: {angle:.3} {scale:.3}", bar.0));
            }
        }
        broken
    }
}

impl fmt::Display for Figures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.robots.len().max(1);
        let total = |of: fn(&Robot) -> f64| self.robots.iter().map(of).sum::<f64>();
        let most = |of: fn(&Robot) -> f64| self.robots.iter().map(of).fold(f64::MIN, f64::max);
        writeln!(
            f,
            "{count} robots, {} with two plugs exchanged by hand; a robot takes {:.0} answers and {:.0} minutes",
            self.robots.iter().filter(|it| it.swapped).count(),
            total(|it| it.answers as f64) / count as f64,
            total(|it| it.minutes) / count as f64
        )?;
        writeln!(
            f,
            "{:.0} spares tested alone, {:.0} misjudged",
            total(|it| it.spares as f64),
            total(|it| it.spares_wrong as f64)
        )?;
        let horns: Vec<&Horned> = self.horns().collect();
        let worst = |of: fn(&Horned) -> f64| horns.iter().map(|it| of(it)).fold(f64::MIN, f64::max);
        writeln!(
            f,
            "{} horns: the advised seat loses {:.2}° at most; {} are the best; every seat as good named for {}, {} seats at most",
            horns.len(),
            worst(|it| it.loss_deg),
            horns.iter().filter(|it| it.loss_deg < 1e-6).count(),
            horns.iter().filter(|it| it.all_are_named).count(),
            horns.iter().map(|it| it.named).max().unwrap_or_default(),
        )?;
        let (has, short): (Vec<_>, Vec<_>) = self.joints().partition(|it| it.servo_has);
        writeln!(
            f,
            "{} joints whose servo has ±45°; {} counted apart, {} of them named to the builder; {} more named for their linkage",
            has.len(),
            short.len(),
            short.iter().filter(|it| it.told_short).count(),
            has.iter().filter(|it| it.told_short).count(),
        )?;
        for bar in BARS {
            let (angle, scale) = self.shares(bar);
            writeln!(
                f,
                "{} readings: mid-travel within {}° on {:.1} %, µs/degree within {:.1} % on {:.1} %",
                bar.0,
                bar.1,
                100.0 * angle,
                100.0 * bar.2,
                100.0 * scale
            )?;
        }
        let without: Vec<&str> = has
            .iter()
            .filter(|it| it.six.is_none_or(|it| it.marks < 6))
            .map(|it| it.what.as_str())
            .collect();
        writeln!(f, "  fewer than 6 readings: {without:?}")?;
        writeln!(
            f,
            "outward of the last confirmed pulse {:.0} ms at most, pressing {:.0} ms at most, {:.1} µs beyond an end at most",
            most(|it| f64::from(it.worst.outward_ms)),
            most(|it| f64::from(it.worst.pressing_ms)),
            most(|it| it.worst.beyond_us)
        )?;
        writeln!(
            f,
            "{} weak supplies, on which the plan woke all; when all start at once, {} of them brown out",
            self.weak().count(),
            self.weak().filter(|it| *it).count()
        )?;
        let strayed = |of: fn(&(usize, usize)) -> usize| -> Vec<usize> {
            let each = self.robots.iter().filter_map(|it| it.strayed.as_ref());
            each.map(of).filter(|it| *it > 0).collect()
        };
        let (left, undone) = (strayed(|it| it.0), strayed(|it| it.1));
        let trips = self.robots.iter().filter_map(|it| it.trips);
        writeln!(
            f,
            "left {} times on {} robots, taken back {} times on {}; {} dead servos built in; {} trips on {}",
            left.iter().sum::<usize>(),
            left.len(),
            undone.iter().sum::<usize>(),
            undone.len(),
            self.robots
                .iter()
                .filter(|it| it.dead_wrong.is_some())
                .count(),
            trips.clone().sum::<usize>(),
            trips.count(),
        )?;
        writeln!(
            f,
            "{} servos replaced: {:?} of those joints keep angle and µs/degree, and {} files changed nowhere else",
            self.replaced().count(),
            self.replaced_well(),
            self.replaced().filter(|it| it.others_stay).count()
        )?;
        writeln!(
            f,
            "the morning after, {} of {} joints are called off though nothing had changed",
            self.called_off().len(),
            self.joints().count()
        )?;
        let mut beyond: Vec<(f64, &str)> = self
            .robots
            .iter()
            .flat_map(|it| it.beyond_us.iter().zip(&it.joints))
            .map(|(us, joint)| (*us, joint.what.as_str()))
            .collect();
        beyond.sort_by(|a, b| b.0.total_cmp(&a.0));
        writeln!(f, "  farthest {:.1?}", &beyond[..beyond.len().min(5)])
    }
}
