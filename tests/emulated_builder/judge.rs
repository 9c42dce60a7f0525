//! Compares what the builder saved with the leg that hung on the pins, and looks at every pulse that the pins put out.

use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;

use hornset::calibration::file;
use hornset::calibration::model::{Joint, Robot};
use hornset::calibration::{JointKind, Recorded};

use crate::bench::{Given, us_of};
use crate::driver::Said;
use crate::emulator::{CYCLES_PER_FRAME, CYCLES_PER_US};
use crate::leg::Built;
use crate::pulses::Pulse;

/// The bars for six readings, which 95 % of all joints meet: degrees beyond the placing's error, a share of the scale.
const BAR_DEG: f64 = 1.25;
const BAR_SCALE: f64 = 0.025;
/// What stands in the file as ± covers 95 %; so many times that is 99.9 % (3.29 of 1.96 standard deviations).
const OF_ITS_OWN: f64 = 1.68;
/// One fine step and 30 µs: nothing goes farther beyond an end.
const BEYOND_US: f64 = 8.0 + 30.0;
/// Nothing is outward of the last confirmed pulse for longer.
pub const OUT_MS: u64 = 300;
/// Not of the issue: where a late ear called a peck or two too far free, the way out to the next peck presses already.
pub const PRESSED_MS: u64 = 1000;
/// Pulses farther apart than this belong to two wakes.
const LIMP_CYCLES: u64 = 3 * CYCLES_PER_FRAME;

/// What was found of one joint, minus what is so.
pub struct Found {
    name: &'static str,
    /// At the mid-travel pulse, less what the placing erred by.
    middle_off_deg: f64,
    scale_off: f64,
    /// Zero with the placing's error and all, and scale, each in parts of its own ±.
    of_own: [f64; 2],
    /// How far outward of the truth each end was found, µs.
    ends_off_us: [f64; 2],
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let ([zero, scale], [near, far]) = (self.of_own, self.ends_off_us);
        write!(
            f,
            "{:<9} middle {:+.2}° scale {:+.2} %, {zero:.2} and {scale:.2} of their own ±; near end {near:+.1} µs far end {far:+.1} µs outward",
            self.name,
            self.middle_off_deg,
            self.scale_off * 100.0,
        )
    }
}

/// The saved file.
pub struct Judge {
    path: PathBuf,
    robot: Robot,
}

impl Judge {
    pub fn of(path: &Path) -> Judge {
        Judge {
            robot: file::load(path).expect("a sound file").robot().clone(),
            path: path.to_owned(),
        }
    }

    /// `check` passes, and `fit` makes the same of the logbook alone.
    pub fn the_commands_agree(&self) {
        let run = |args: &[&str]| {
            let out = Command::new(env!("CARGO_BIN_EXE_hornset"))
                .args(args)
                .arg(&self.path)
                .output();
            let out = out.expect("it runs");
            let said = String::from_utf8_lossy(&out.stdout).into_owned();
            assert!(out.status.success(), "{args:?}: {said} {out:?}");
            said
        };
        run(&["check"]);
        let fit: serde_json::Value = serde_json::from_str(&run(&["fit", "--json"])).expect("JSON");
        assert_eq!(fit["agrees"], true, "{:#}", fit["differences"]);
    }

    fn joint(&self, kind: JointKind) -> &Joint {
        &self.robot.legs[0].joints[kind.index()]
    }

    /// Map, direction, limits inside of the ends; then the numbers.
    pub fn joints(&self, built: &[Built; 3], plugs: [u8; 3], placings_deg: [f64; 3]) -> Vec<Found> {
        let all = JointKind::ALL.into_iter().zip(built).zip(plugs);
        all.zip(placings_deg)
            .map(|(((kind, built), plug), placing_deg)| {
                let (joint, name) = (self.joint(kind), built.name);
                let value = |it: &Option<Recorded>| -> (f64, f64) {
                    let it = it.as_ref().unwrap_or_else(|| panic!("{name}: {joint:?}"));
                    (it.value, it.spread.unwrap_or(f64::NAN))
                };
                assert_eq!(joint.pin.map(|it| it.number()), Some(plug), "{name}");
                let ((zero, zero_pm), (scale, scale_pm)) =
                    (value(&joint.zero), value(&joint.scale));
                assert_eq!(scale > 0.0, built.us_per_deg > 0.0, "{name}: direction");
                let (near, far) = built.ends_us();
                let (low, high) = joint.limits.expect("limits");
                assert!(low.us() > near && high.us() < far, "{name}: {low} {high}");
                let line = built.line_us_per_deg();
                // Where the line through mid-travel has its zero: the straight one, as the file's is.
                let true_zero = 1500.0 - built.middle_deg * line;
                Found {
                    name,
                    middle_off_deg: (1500.0 - zero) / scale - built.middle_deg - placing_deg,
                    scale_off: scale / line - 1.0,
                    of_own: [
                        (zero - true_zero).abs() / zero_pm,
                        (scale - line).abs() / scale_pm,
                    ],
                    ends_off_us: [
                        near - value(&joint.near_end).0,
                        value(&joint.far_end).0 - far,
                    ],
                }
            })
            .collect()
    }
}

impl Found {
    /// The bars, and its own ±.
    pub fn check(&self) -> Result<(), String> {
        let [zero, scale] = self.of_own;
        let ends = self.ends_off_us.iter().all(|it| it.abs() <= BEYOND_US);
        let good = self.middle_off_deg.abs() <= BAR_DEG
            && self.scale_off.abs() <= BAR_SCALE
            && zero <= OF_ITS_OWN
            && scale <= OF_ITS_OWN
            && ends;
        if good { Ok(()) } else { Err(self.to_string()) }
    }
}

/// No pulse sent a joint farther beyond an end than is allowed: the farthest, µs.
pub fn beyond_ends(given: &[Given]) -> Result<f64, String> {
    let farthest = |a: &&Given, b: &&Given| a.beyond_us.total_cmp(&b.beyond_us);
    let it = given.iter().max_by(farthest).ok_or("no pulse")?;
    if it.beyond_us <= BEYOND_US {
        return Ok(it.beyond_us);
    }
    Err(format!(
        "joint {} was sent {} µs beyond an end: {:?}",
        it.joint, it.beyond_us, it.pulse
    ))
}

/// A pulse that the builder said was free, from that moment on.
#[derive(Debug, Clone, Copy)]
pub struct Confirmed {
    pub pin: u8,
    pub cycle: u64,
    pub us: f64,
}

/// What the builder confirmed: every peck that he called free.
pub fn confirmed(said: &[Said]) -> Vec<Confirmed> {
    let free = said.iter().filter(|it| it.keys == "n");
    free.filter_map(|it| {
        let peck = it.screen.peck()?;
        let pin = it.screen.title().split("pin ").nth(1)?;
        let digits = pin.split(|c: char| !c.is_ascii_digit()).next()?;
        Some(Confirmed {
            pin: digits.parse().ok()?,
            cycle: it.frames * CYCLES_PER_FRAME,
            us: peck.to_us,
        })
    })
    .collect()
}

/// Nothing was outward of the last confirmed pulse for longer than it may: the longest, ms.
///
/// Looked at are the pulses from a cycle on, when the builder began to confirm any; a pin's first one then counts as confirmed.
pub fn outside_confirmed(
    pulses: &[Pulse],
    since: u64,
    confirmed: &[Confirmed],
) -> Result<u64, String> {
    let mut longest = 0;
    for pin in 2..70 {
        let mine = || {
            let all = pulses.iter();
            all.filter(|it| it.pin == pin && it.rise >= since)
        };
        let Some(first) = mine().next() else { continue };
        let (mut low, mut high) = (us_of(first), us_of(first));
        let mut told = confirmed.iter().filter(|it| it.pin == pin).peekable();
        // The beginning of the present way out, and the end of its last pulse.
        let mut out: Option<(u64, u64)> = None;
        for pulse in mine() {
            while let Some(it) = told.next_if(|it| it.cycle <= pulse.rise) {
                (low, high) = (low.min(it.us), high.max(it.us));
            }
            let us = us_of(pulse);
            if (low..=high).contains(&us) {
                out = None;
                continue;
            }
            let goes_on = out.filter(|(_, end)| pulse.rise <= end + LIMP_CYCLES);
            let since = goes_on.map_or(pulse.rise, |(since, _)| since);
            out = Some((since, pulse.fall()));
            let ms = (pulse.fall() - since) / CYCLES_PER_US / 1000;
            if ms > OUT_MS {
                return Err(format!(
                    "pin {pin} was at {us} µs, outward of {low} to {high}, for {ms} ms"
                ));
            }
            longest = longest.max(ms);
        }
    }
    Ok(longest)
}

#[cfg(test)]
mod controls {
    use super::*;

    /// A pulse in each frame, from this frame on.
    fn pulses(frame: u64, count: u64, us: u64) -> impl Iterator<Item = Pulse> {
        (frame..frame + count).map(move |frame| Pulse {
            pin: 22,
            rise: frame * CYCLES_PER_FRAME,
            width: us * CYCLES_PER_US,
        })
    }

    fn way_out(frames: u64) -> Vec<Pulse> {
        let there = pulses(0, 10, 1500).chain(pulses(10, frames, 1512));
        there.chain(pulses(10 + frames, 10, 1500)).collect()
    }

    #[test]
    fn what_rests_outward_of_what_was_confirmed_is_refused() {
        let ask =
            |frames, confirmed: &[Confirmed]| outside_confirmed(&way_out(frames), 0, confirmed);
        assert_eq!(ask(12, &[]), Ok(221));
        assert!(ask(17, &[]).is_err());
        let at = |frame| Confirmed {
            pin: 22,
            cycle: frame * CYCLES_PER_FRAME,
            us: 1512.0,
        };
        assert_eq!(ask(17, &[at(9)]), Ok(0));
        assert_eq!(ask(17, &[at(20)]), Ok(181));
        assert!(ask(40, &[at(30)]).is_err());
        assert!(ask(17, &[Confirmed { pin: 23, ..at(9) }]).is_err());
        assert!(
            ask(
                17,
                &[Confirmed {
                    us: 1511.5,
                    ..at(9)
                }]
            )
            .is_err()
        );
    }

    #[test]
    fn what_goes_too_far_beyond_an_end_is_refused() {
        let far = |beyond_us| {
            let pulse = pulses(0, 1, 1500).next().expect("one");
            beyond_ends(&[Given {
                pulse,
                joint: 0,
                beyond_us,
            }])
        };
        assert_eq!(far(-400.0), Ok(-400.0));
        assert_eq!(far(38.0), Ok(38.0));
        assert!(far(38.5).is_err());
        assert!(beyond_ends(&[]).is_err());
    }

    #[test]
    fn what_misses_a_bar_or_its_own_interval_is_refused() {
        let good = || Found {
            name: "LF coxa",
            middle_off_deg: -1.2,
            scale_off: 0.024,
            of_own: [1.6, 1.6],
            ends_off_us: [37.0, -37.0],
        };
        assert_eq!(good().check(), Ok(()));
        let bad: [fn(&mut Found); 6] = [
            |it| it.middle_off_deg = 1.3,
            |it| it.scale_off = -0.026,
            |it| it.of_own[0] = 1.7,
            |it| it.of_own[1] = f64::NAN,
            |it| it.ends_off_us[0] = 39.0,
            |it| it.ends_off_us[1] = -39.0,
        ];
        for spoil in bad {
            let mut it = good();
            spoil(&mut it);
            assert!(it.check().is_err(), "{it}");
        }
    }
}
