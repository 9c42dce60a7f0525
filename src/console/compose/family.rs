//! Joints that should be alike: the odd one out, in words.

use crate::calibration::{JointKind, JointRef};
use crate::console::state::State;
use crate::estimate::family::{Family, Hand, Member, Odd, Trait, family};

/// What is compared, the weightiest first.
const TRAITS: [Trait; 3] = [Trait::Scale, Trait::Middle, Trait::Play];

/// One trait of all joints of a kind.
fn of(state: &State, kind: JointKind, what: Trait) -> (Vec<Member>, Option<Family>) {
    let robot = state.work.robot();
    let members: Vec<Member> = robot
        .joints()
        .filter(|(at, _)| at.kind == kind)
        .filter_map(|(joint, it)| {
            let known = state.work.known().joint(joint)?;
            let (value, sd) = match what {
                Trait::Scale => {
                    let scale = it.scale.as_ref()?;
                    (scale.value, scale.spread.unwrap_or(0.0) / 2.0)
                }
                Trait::Middle => {
                    let error = known.fit.as_ref()?.error_deg;
                    (error.value, error.sd)
                }
                Trait::Play => {
                    let play = known.fit.as_ref()?.play_deg();
                    (play.value, play.sd)
                }
            };
            Some(Member {
                joint,
                hand: Hand::of(&robot.legs[joint.leg]),
                value,
                sd,
            })
        })
        .collect();
    let found = family(what, &members);
    (members, found)
}

/// All odd joints of the robot, each once, with the trait in which it is oddest.
pub fn odd(state: &State) -> Vec<Odd> {
    let mut all: Vec<Odd> = Vec::new();
    for kind in JointKind::ALL {
        for what in TRAITS {
            let Some(family) = of(state, kind, what).1 else {
                continue;
            };
            for odd in family.odd {
                match all.iter_mut().find(|it| it.joint == odd.joint) {
                    Some(it) if it.score.abs() < odd.score.abs() => *it = odd,
                    Some(_) => {}
                    None => all.push(odd),
                }
            }
        }
    }
    all
}

/// `odd 1.8° !`: at most ten characters.
pub fn cell(odd: &Odd) -> String {
    let unit = match odd.what {
        Trait::Scale => "µ/°",
        Trait::Middle | Trait::Play => "°",
    };
    let by = odd.off_by.abs();
    let decimals = usize::from(by < 9.95 && odd.what != Trait::Scale);
    let long = format!("odd {by:.decimals$}{unit} !");
    if long.chars().count() <= 10 {
        long
    } else {
        "odd !".into()
    }
}

/// `like joints (femur)   LF 10.60   LM 10.4   …   median 10.6 µs/°   none is odd`.
pub fn likes(state: &State, at: JointRef) -> Option<String> {
    let (members, found) = of(state, at.kind, Trait::Scale);
    if members.len() < 2 {
        return None;
    }
    let robot = state.work.robot();
    let values: Vec<String> = members
        .iter()
        .map(|it| {
            let value = super::super::view::text::signed(it.value, 1);
            format!(
                "{} {}",
                robot.legs[it.joint.leg].name,
                value.trim_start_matches('+')
            )
        })
        .collect();
    let rest = match found {
        None => "three are needed to tell an odd one".to_owned(),
        Some(family) => {
            let median = super::super::measure::number(family.median);
            match family.odd.first() {
                Some(odd) => format!(
                    "median {median} µs/°   ! {} is odd",
                    robot.legs[odd.joint.leg].name
                ),
                None if family.sides_differ => "left and right differ   none is odd".to_owned(),
                None => format!("median {median} µs/°   none is odd"),
            }
        }
    };
    Some(format!(
        "like joints ({})   {}   {rest}",
        at.kind.word(),
        values.join("   ")
    ))
}
