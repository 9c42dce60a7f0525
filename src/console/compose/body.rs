//! The body page, as the view draws it.

use std::time::Duration;

use super::{robot, scale};
use crate::calibration::{JointKind, JointRef};
use crate::console::measure::number;
use crate::console::pages::body::{component, lit, step_size};
use crate::console::stance::{NAMES, Planted, planted, rooms, stability, unit, values};
use crate::console::state::State;
use crate::console::view::{BodyJog, Margin, RobotPicture};
use crate::kinematics::{BodyPose, CalibratedRobot, InTheWay};

/// The page.
pub fn page(state: &State, now: Duration) -> BodyJog {
    let mut picture = robot::picture(state);
    let robot = CalibratedRobot::new(state.work.robot().clone());
    let (index, _) = component(state.body.mode, state.turn, state.body.way);
    let rooms = rooms(state, &robot).unwrap_or_default();
    let mut pose = BodyPose::default();
    let mut margins: Vec<(JointRef, f64)> = Vec::new();
    if !rooms.is_empty() {
        let stands = planted(state, &robot, &rooms);
        pose = stands.pose;
        stance(state, &stands, &mut picture);
        margins = rooms
            .iter()
            .filter_map(|room| {
                let leg = room.leg.number();
                let margins = room.margins_deg(&robot);
                let kind = JointKind::ALL
                    .into_iter()
                    .min_by(|a, b| margins[a.index()].total_cmp(&margins[b.index()]))?;
                Some((JointRef { leg, kind }, margins[kind.index()].max(0.0)))
            })
            .collect();
    }
    let least = margins.iter().min_by(|a, b| a.1.total_cmp(&b.1)).copied();
    let at = match lit(state).and_then(|ahead| ahead.stop) {
        Some(InTheWay::Joint { leg, joint, .. }) => Some(JointRef {
            leg: leg.number(),
            kind: joint,
        }),
        _ => least.map(|(at, _)| at),
    };
    BodyJog {
        robot: picture,
        pose: pose_text(&pose),
        chosen: Some(index),
        motion: motion_text(state, index),
        margins: margin_text(state, &margins, least.map(|(at, _)| at)),
        scale: at.map_or_else(Default::default, |at| scale::of(state, at, now)),
        scale_title: at.map_or_else(String::new, |at| {
            format!(
                "{}, the first to reach a limit",
                state.work.robot().title(at)
            )
        }),
        field: state.top().and_then(|layer| layer.page_field(state)),
    }
}

/// The feet that carry, the centre of mass and the margin in words, as the body sees them.
fn stance(state: &State, stands: &Planted, picture: &mut RobotPicture) {
    let pose = stands.pose;
    let (corners, margin) = stability(state, stands, pose);
    let ground_z = stands
        .feet
        .iter()
        .map(|foot| foot[2])
        .fold(f64::INFINITY, f64::min);
    let seen = |[x, y]: [f64; 2]| {
        let [x, y, _] = pose.to_body([x, y, ground_z]);
        [x, y]
    };
    let centre = state
        .work
        .robot()
        .body
        .map_or([0.0; 3], |it| it.centre_of_mass_mm);
    let [x, y, _] = pose.to_ground(centre);
    picture.centre_mm = Some(seen([x, y]));
    let feet = corners.len();
    picture.support_mm = corners.into_iter().map(seen).collect();
    picture.margin = margin.map(|mm| {
        let tips = if mm < 0.0 { " !" } else { "" };
        let sign = if mm < 0.0 { "−" } else { "" };
        format!(
            "margin {sign}{:.0} mm to the edge line, {feet} corners{tips}",
            mm.abs()
        )
    });
}

fn pose_text(pose: &BodyPose) -> [(String, String); 6] {
    let values = values(pose);
    std::array::from_fn(|i| {
        let value = super::leg::plain(values[i]);
        let blank = if i < 3 { " " } else { "" };
        (NAMES[i].to_owned(), format!("{value}{blank}{}", unit(i)))
    })
}

fn motion_text(state: &State, index: usize) -> [(String, String); 3] {
    let step = step_size(state, index);
    let blank = if index < 3 { " " } else { "" };
    let seconds = state.body.outlook.as_ref().map(|it| it.step_s);
    let free = lit(state).map(|it| it.free);
    let or_none = |it: Option<String>| it.unwrap_or_else(|| "?".into());
    [
        ("step", format!("{}{blank}{}", number(step), unit(index))),
        ("time", or_none(seconds.map(|s| format!("{s:.1} s")))),
        (
            "free",
            or_none(free.map(|it| format!("{:.0}{blank}{}", it.floor(), unit(index)))),
        ),
    ]
    .map(|(name, value)| (name.to_owned(), value))
}

fn margin_text(state: &State, margins: &[(JointRef, f64)], least: Option<JointRef>) -> Vec<Margin> {
    let robot = state.work.robot();
    (0..robot.legs.len())
        .map(|leg| match margins.iter().find(|(at, _)| at.leg == leg) {
            Some((at, deg)) => Margin {
                joint: robot.title(*at),
                text: format!("{deg:.0}°"),
                least: Some(*at) == least,
            },
            None => Margin {
                joint: robot.legs[leg].name.clone(),
                text: "not known".into(),
                least: false,
            },
        })
        .collect()
}
