//! The robot from above, as the view draws it.

use super::pose;
use crate::board::PinState;
use crate::calibration::{Joint, JointKind};
use crate::console::state::State;
use crate::console::view::{JointGlyph, LegPicture, RobotPicture};

/// All legs at their commanded angles.
pub fn picture(state: &State) -> RobotPicture {
    let letters = state.letters();
    let legs = state
        .work
        .robot()
        .legs
        .iter()
        .enumerate()
        .map(|(index, leg)| {
            let [coxa, femur, tibia] = pose::angles(state, leg);
            LegPicture {
                name: leg.name.clone(),
                key: letters.get(index).copied(),
                points_mm: pose::in_body(leg, pose::points(leg, coxa, femur, tibia)),
                joints: glyphs(state, &leg.joints),
                measured: measured(&leg.joints),
            }
        })
        .collect();
    RobotPicture {
        legs,
        turn: state.turn,
        chosen: Some((state.chosen.leg, Some(state.chosen.kind.index()))),
        ..RobotPicture::default()
    }
}

/// A leg's joints' states.
pub fn glyphs(state: &State, joints: &[Joint; 3]) -> [JointGlyph; 3] {
    JointKind::ALL.map(|kind| {
        let Some(pin) = joints[kind.index()].pin else {
            return JointGlyph::NoPlug;
        };
        match state.bench.plug(pin).state {
            PinState::Limp => JointGlyph::Limp,
            PinState::Waking => JointGlyph::Waking,
            PinState::Awake if state.bench.frozen.is_some() => JointGlyph::Frozen,
            PinState::Awake => JointGlyph::Awake,
        }
    })
}

/// Which of a leg's joints are calibrated.
pub fn measured(joints: &[Joint; 3]) -> [bool; 3] {
    JointKind::ALL.map(|kind| {
        let joint = &joints[kind.index()];
        joint.zero.is_some() && joint.scale.is_some()
    })
}
