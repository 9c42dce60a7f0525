//! The numbers of the joint being jogged, as text.

use std::time::Duration;

use super::leg::signed;
use super::plus_minus;
use crate::board::PinState;
use crate::calibration::JointKind;
use crate::console::actions;
use crate::console::measure::number;
use crate::console::state::{State, Unit};
use crate::console::view::JogNumbers;

/// The numbers beside the leg.
pub fn numbers(state: &State, now: Duration) -> JogNumbers {
    let Some(joint) = state.joint() else {
        return JogNumbers::default();
    };
    let plug = joint
        .pin
        .map(|pin| state.bench.plug(pin))
        .unwrap_or_default();
    let angle = plug.pulse.and_then(|p| joint.angle_deg(p.us()));
    let pulse_text = plug.pulse.map_or_else(|| "limp".into(), |p| p.to_string());
    let angle_text = angle.map_or_else(|| "?".into(), signed);
    let nominal = if joint.is_nominal() { ", nominal" } else { "" };
    let in_degrees = state.steps.unit == Unit::Degrees && angle.is_some();
    let mut plug_text = match joint.pin {
        Some(pin) => format!("pin {pin}"),
        None => "no pin known".into(),
    };
    if let Some(servo) = &joint.servo {
        plug_text.push_str(&format!("   servo {servo}"));
    }
    JogNumbers {
        joint: state.title(),
        plug: plug_text,
        big: if in_degrees {
            angle_text.clone()
        } else {
            pulse_text.clone()
        },
        big_unit: match (plug.pulse, in_degrees) {
            (None, _) => "no pulses".into(),
            (_, true) => format!("degrees, commanded{nominal}"),
            (_, false) => "µs, commanded".into(),
        },
        other: match (in_degrees, angle) {
            (true, _) => ("pulse".into(), pulse_text),
            (false, Some(_)) => ("angle".into(), format!("{angle_text}°{nominal}")),
            (false, None) => (String::new(), String::new()),
        },
        zero: match &joint.zero {
            Some(zero) => format!("{} µs", plus_minus(zero.value, zero.spread)),
            None => "not known yet".into(),
        },
        scale: match &joint.scale {
            Some(scale) => format!("{} µs/°{nominal}", plus_minus(scale.value, scale.spread)),
            None => "not known yet".into(),
        },
        sense: match (&joint.scale, state.chosen.kind) {
            (None, _) => String::new(),
            (Some(s), JointKind::Coxa) if s.value > 0.0 => "→ left".into(),
            (Some(_), JointKind::Coxa) => "→ right".into(),
            (Some(s), _) if s.value > 0.0 => "+ lifts".into(),
            (Some(_), _) => "← lifts".into(),
        },
        play: joint
            .play_deg
            .as_ref()
            .map(|p| format!("{}°", plus_minus(p.value, p.spread)))
            .unwrap_or_default(),
        came: match plug.came_up {
            Some(true) => "came from below".into(),
            Some(false) => "came from above".into(),
            None => String::new(),
        },
        awake: match (plug.state, plug.awake_since) {
            (PinState::Awake, Some(since)) => {
                format!("{} s", now.saturating_sub(since).as_secs())
            }
            (PinState::Waking, _) => "waking".into(),
            _ => "limp".into(),
        },
        slew: actions::slew_us_per_s(state, state.chosen)
            .map(|s| format!("slew {s} µs/s"))
            .unwrap_or_default(),
        step: match (state.steps.unit, &joint.scale) {
            (Unit::Us, Some(scale)) => format!(
                "{}  ({}°)",
                step_text(state),
                number(f64::from(state.steps.halves) / 2.0 / scale.value.abs())
            ),
            _ => step_text(state),
        },
    }
}

/// `8 µs` or `0.5°`.
pub fn step_text(state: &State) -> String {
    match state.steps.unit {
        Unit::Us => format!("{} µs", number(f64::from(state.steps.halves) / 2.0)),
        Unit::Degrees => format!("{}°", state.steps.deg),
    }
}
