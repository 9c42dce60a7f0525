//! Sitting down slowly: all femurs lift together until the feet are as high as the femur axes, and the body comes down.
//!
//! Pure: it computes pulses from what the file knows; `update` sends them.
//! The ground takes the body's weight on the way; what the legs do after that costs no force.

use std::time::Duration;

use crate::board::PinState;
use crate::calibration::{JointKind, JointRef, Leg};
use crate::units::{Pin, Pulse};

use super::measure::sendable;
use super::state::State;

/// How long the way down takes, ms.
pub const SIT_MS: u32 = 4000;
/// How long after the board said when the move would end it is taken for ended.
pub const SETTLE: Duration = Duration::from_millis(300);

/// What comes when the robot has sat down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Then {
    /// Nothing: it stays awake.
    Stay,
    /// Everything limp.
    Limp,
}

/// A robot on its way down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sitting {
    /// When it will be down.
    pub until: Duration,
    /// And then.
    pub then: Then,
}

/// Pins and pulses of the way down, for every awake femur whose zero and µs/degree are known.
pub fn moves(state: &State) -> Vec<(Pin, Pulse)> {
    let mut moves = Vec::new();
    for (index, leg) in state.work.robot().legs.iter().enumerate() {
        let at = JointRef {
            leg: index,
            kind: JointKind::Femur,
        };
        let femur = leg.joint(JointKind::Femur);
        let Some(pin) = femur.pin else { continue };
        if state.bench.plug(pin).state != PinState::Awake {
            continue;
        }
        let tibia = leg.joint(JointKind::Tibia);
        let tibia_deg = tibia
            .pin
            .and_then(|pin| state.bench.plug(pin).pulse)
            .and_then(|pulse| tibia.angle_deg(pulse.us()))
            .unwrap_or(-80.0);
        let Some(us) = femur.pulse_us(femur_for_level_foot(leg, tibia_deg)) else {
            continue;
        };
        let (low, high) = state.guard_of(at);
        let (near, far) = femur.limits.unwrap_or((low, high));
        if near.max(low) > far.min(high) {
            continue;
        }
        let target = sendable(us).clamp(near.max(low), far.min(high));
        // Only ever upward: a leg that is higher already stays where it is.
        let now = state
            .bench
            .plug(pin)
            .pulse
            .and_then(|p| femur.angle_deg(p.us()));
        let then = femur.angle_deg(target.us());
        if let (Some(now), Some(then)) = (now, then)
            && then > now
        {
            moves.push((pin, target));
        }
    }
    moves
}

/// Why there is nothing that could sit down; `None` when there is.
pub fn why_none(state: &State) -> Option<String> {
    if !moves(state).is_empty() {
        return None;
    }
    let known = state.work.robot().legs.iter().any(|leg| {
        let femur = leg.joint(JointKind::Femur);
        let awake = |pin| state.bench.plug(pin).state == PinState::Awake;
        femur.pin.is_some_and(awake) && femur.pulse_us(0.0).is_some()
    });
    Some(if known {
        "the awake femurs are up already".into()
    } else {
        "no awake femur has a zero and µs/degree yet".into()
    })
}

/// The femur's angle at which the foot is as high as the femur axis: `Lf sin θ2 + Lt sin(θ2 + θ3) = 0`, the foot outward.
fn femur_for_level_foot(leg: &Leg, tibia_deg: f64) -> f64 {
    let knee = (tibia_deg + leg.links.tibia_bend_deg).to_radians();
    let (up, out) = (
        leg.links.tibia_mm * knee.sin(),
        leg.links.femur_mm + leg.links.tibia_mm * knee.cos(),
    );
    (-up).atan2(out).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{Links, Mount};

    #[test]
    fn the_foot_is_level_with_the_femur_axis() {
        let leg = Leg {
            name: "LF".into(),
            mount: Mount::default(),
            links: Links {
                coxa_mm: 31.0,
                femur_mm: 67.0,
                tibia_mm: 104.0,
                coxa_height_mm: 0.0,
                tibia_bend_deg: 0.0,
                ball_radius_mm: 4.0,
            },
            joints: Default::default(),
        };
        for tibia in [-125.0_f64, -80.0, -40.0, 0.0] {
            let femur = femur_for_level_foot(&leg, tibia);
            let height =
                67.0 * femur.to_radians().sin() + 104.0 * (femur + tibia).to_radians().sin();
            assert!(height.abs() < 1e-9, "tibia {tibia}: {height} mm");
        }
    }
}
