//! The travel scale of the chosen joint, as the view draws it.

use std::time::Duration;

use crate::board::PinState;
use crate::calibration::{Joint, JointKind, JointRef};
use crate::console::state::State;
use crate::console::view::scale::{Fit, Scale, Way, Zero};

/// The scale of the chosen joint.
pub fn of_chosen(state: &State, now: Duration) -> Scale {
    of(state, state.chosen, now)
}

/// The scale of any joint.
pub fn of(state: &State, at: JointRef, _now: Duration) -> Scale {
    let Some(joint) = state.work.robot().joint(at) else {
        return Scale::default();
    };
    let plug = joint
        .pin
        .map(|pin| state.bench.plug(pin))
        .unwrap_or_default();
    let (low, high) = state.guard_of(at);
    Scale {
        commanded: plug.pulse.or(match plug.state {
            PinState::Limp => None,
            _ => plug.last,
        }),
        target: plug.target.filter(|target| Some(*target) != plug.pulse),
        guard: Some((low.us(), high.us())),
        limits: joint.limits.map(|(near, far)| (near.us(), far.us())),
        near_end: joint.near_end.as_ref().map(|e| e.value),
        far_end: joint.far_end.as_ref().map(|e| e.value),
        zero: joint.zero.as_ref().map(|zero| Zero {
            us: zero.value,
            spread: zero.spread,
        }),
        marks: state.work.marks_of(at).map(|m| m.pulse_us).collect(),
        needed_deg: joint.needed_deg,
        fit: fit(joint),
        way: way(joint, at.kind),
        no_degrees: match (joint.pin, &joint.zero) {
            (None, _) => "not known yet, first the plug, then two marks".into(),
            (Some(_), None) => "after two marks".into(),
            (Some(_), Some(_)) => "after one more mark".into(),
        },
    }
}

fn fit(joint: &Joint) -> Option<Fit> {
    let (zero, scale) = (joint.zero.as_ref()?, joint.scale.as_ref()?);
    Some(Fit {
        zero_us: zero.value,
        us_per_deg: scale.value,
        curve: 0.0,
        nominal: joint.is_nominal(),
    })
}

fn way(joint: &Joint, kind: JointKind) -> Option<Way> {
    let scale = joint.scale.as_ref()?.value;
    let (negative, positive) = match kind {
        JointKind::Coxa => ("right", "left"),
        JointKind::Femur | JointKind::Tibia => ("down", "up"),
    };
    let (smaller, larger) = if scale > 0.0 {
        (negative, positive)
    } else {
        (positive, negative)
    };
    Some(Way {
        smaller: smaller.into(),
        larger: larger.into(),
    })
}
