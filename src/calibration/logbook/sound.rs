//! Whether an entry says something that can be: the same rules before it is written and after it is read.

use super::entry::{Entry, What};
use super::words::Taken;
use crate::calibration::read;
use crate::units::Pulse;

impl Entry {
    /// What is wrong with it: found, expected; `None` for a sound entry.
    pub fn fault(&self) -> Option<String> {
        if self.at.parse::<jiff::Timestamp>().is_err() {
            let found = self.at.escape_debug();
            return Some(format!(
                "found the time \"{found}\", expected one as 2026-03-14T10:22:05Z"
            ));
        }
        match &self.what {
            What::Undo { entry } if *entry == 0 || *entry >= self.n => Some(format!(
                "found an undo of entry {entry} in entry {}, expected an earlier one",
                self.n
            )),
            what => what.fault(),
        }
    }
}

impl What {
    /// What is wrong with it by itself.
    fn fault(&self) -> Option<String> {
        match self {
            What::Plan(plan) => {
                if !(1..=8).contains(&plan.legs.len()) {
                    return Some(format!(
                        "found a plan with {} legs, expected one to eight",
                        plan.legs.len()
                    ));
                }
                plan.legs
                    .iter()
                    .find_map(|leg| read::leg_name(&leg.name).err())
                    .map(|expected| format!("found a leg's name that is none, expected {expected}"))
            }
            What::TakenOver {
                zero_us,
                us_per_degree,
                near_end_us,
                far_end_us,
                limits_us,
                guard_us,
                play_deg,
                ..
            } => [zero_us, us_per_degree, near_end_us, far_end_us, play_deg]
                .into_iter()
                .flatten()
                .find_map(Taken::fault)
                .or_else(|| scale(us_per_degree.as_ref().map(|it| it.value)))
                .or_else(|| span(*limits_us))
                .or_else(|| span(*guard_us)),
            What::Bounds {
                low_us, high_us, ..
            }
            | What::Guard {
                low_us, high_us, ..
            } => span(Some((*low_us, *high_us))),
            What::Limits {
                margin_us,
                low_us,
                high_us,
                ..
            } => finite("margin", *margin_us).or_else(|| span(Some((*low_us, *high_us)))),
            What::Mark {
                pulse_us,
                angle_deg,
                ..
            }
            | What::Checked {
                pulse_us,
                angle_deg,
                ..
            } => pulse(*pulse_us).or_else(|| angle(*angle_deg)),
            What::Free { pulse_us, .. } => pulse(*pulse_us),
            What::End {
                pulse_us, others, ..
            } => pulse(*pulse_us).or_else(|| others.iter().filter_map(|it| it.pulse_us).find_map(pulse)),
            What::Typed {
                zero_us,
                us_per_degree,
                play_deg,
                ..
            } => [("zero", zero_us), ("play", play_deg)]
                .into_iter()
                .find_map(|(name, it)| it.and_then(|it| finite(name, it)))
                .or_else(|| scale(*us_per_degree)),
            What::SupplyAnswer { to, yes, value } => {
                let fits = match (yes, value) {
                    (Some(_), None) => to.is_yes_or_no(),
                    (None, Some(_)) => !to.is_yes_or_no(),
                    (None, None) => to.may_be_unknown(),
                    (Some(_), Some(_)) => false,
                };
                let expected = match to.is_yes_or_no() {
                    true => "`yes` alone",
                    false => "`value` alone",
                };
                (!fits)
                    .then(|| {
                        format!(
                            "found another answer to {}, expected {expected}",
                            to.words()
                        )
                    })
                    .or_else(|| value.and_then(|it| finite("value", it)))
            }
            What::Supply {
                volts, limit_amps, ..
            } => finite("volts", *volts).or_else(|| finite("limit", *limit_amps)),
            What::ServoKind {
                teeth: None,
                arms: None,
                travel_deg: None,
                measured: false,
            } => Some("found a kind of servo without anything said of it, expected one of `teeth`, `arms`, `travel_deg`, `measured`".into()),
            What::ServoKind {
                travel_deg: Some(_),
                measured: true,
                ..
            } => Some("found a travel for all servos and that each is measured, expected one of them".into()),
            What::HornsOn { .. } | What::Leg { .. } => None,
            What::ServoKind { travel_deg, .. } => travel_deg.and_then(angle),
            What::Needed {
                low_deg, high_deg, ..
            } => {
                // The same as in a file.
                let can_be = low_deg < high_deg && *low_deg >= -180.0 && *high_deg <= 180.0;
                (!can_be).then(|| {
                    format!(
                        "found {low_deg}° to {high_deg}° needed, expected −180 to 180°, the smaller angle first"
                    )
                })
            }
            What::Horn {
                came_out_deg,
                margin_deg,
                margins_deg,
                ..
            } => {
                let (below, above) = margins_deg.unwrap_or_default();
                let margins = [*margin_deg, below, above];
                angle(*came_out_deg)
                    .or_else(|| margins.into_iter().find_map(|it| finite("margin", it)))
            }
            What::HornRead { angle_deg, .. } | What::HornEnd { angle_deg, .. } => angle(*angle_deg),
            What::Plug {
                joint: Some(joint),
                why: Some(why),
                ..
            } => Some(format!(
                "found a pin that moved {joint} and a cause for moving nothing ({}), expected one of them",
                why.words()
            )),
            What::Plug { .. }
            | What::Undo { .. }
            | What::StartOver { .. }
            | What::ServoTested { .. }
            | What::ServoPlaced { .. }
            | What::ServoReplaced { .. }
            | What::PlugsExchanged { .. }
            | What::MapAccepted { .. }
            | What::Placing { .. }
            | What::Saved { .. }
            | What::Note { .. } => None,
        }
    }
}

impl Taken {
    fn fault(&self) -> Option<String> {
        finite("value", self.value).or_else(|| self.spread.and_then(|it| finite("spread", it)))
    }
}

fn finite(name: &str, it: f64) -> Option<String> {
    (!it.is_finite()).then(|| format!("found a {name} of {it}, expected a finite number"))
}

fn pulse(us: f64) -> Option<String> {
    let can_be = Pulse::from_us(us).is_some_and(|it| it.us() == us && it.is_sendable());
    (!can_be).then(|| {
        format!("found a pulse of {us} µs, expected 500 to 2500 in steps of half a microsecond")
    })
}

fn span(pair: Option<(f64, f64)>) -> Option<String> {
    let (low, high) = pair?;
    pulse(low).or_else(|| pulse(high)).or_else(|| {
        (low >= high).then(|| format!("found {low} to {high} µs, expected the smaller first"))
    })
}

fn angle(deg: f64) -> Option<String> {
    let can_be = (-360.0..=360.0).contains(&deg);
    (!can_be).then(|| format!("found an angle of {deg}°, expected −360 to 360"))
}

fn scale(us_per_degree: Option<f64>) -> Option<String> {
    let it = us_per_degree?;
    let can_be = (1.0..=100.0).contains(&it.abs());
    (!can_be).then(|| format!("found {it} µs/°, expected 1 to 100 in size"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::logbook::{Copper, Dead, JointName, SupplyQuestion};
    use crate::calibration::model::JointKind;
    use crate::units::Pin;

    #[test]
    fn an_answer_about_the_supply_is_one_to_its_question() {
        let fault = |to, yes, value| What::SupplyAnswer { to, yes, value }.fault();
        for to in SupplyQuestion::ALL {
            assert_eq!(fault(to, Some(true), None).is_none(), to.is_yes_or_no());
            assert_eq!(fault(to, None, Some(5.0)).is_none(), !to.is_yes_or_no());
            assert_eq!(fault(to, None, None).is_none(), to.may_be_unknown());
            assert!(fault(to, Some(true), Some(5.0)).is_some(), "{to:?}");
            assert!(fault(to, None, Some(f64::NAN)).is_some(), "{to:?}");
        }
    }

    #[test]
    fn a_pin_that_moved_a_joint_is_not_dead() {
        let plug = |joint: Option<JointName>| What::Plug {
            pin: Copper(Pin::FIRST),
            joint,
            way: None,
            also: Vec::new(),
            why: Some(Dead::NoPlug),
        };
        assert_eq!(plug(None).fault(), None);
        let femur = JointName::new("LF", JointKind::Femur);
        let fault = plug(Some(femur)).fault().expect("a fault");
        assert!(fault.contains("moved LF femur"), "{fault}");
    }
}
