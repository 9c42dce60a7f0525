//! The chosen leg from the side, as the view draws it.

use super::{pose, robot};
use crate::calibration::{JointKind, Leg};
use crate::console::state::State;
use crate::console::view::{Bound, BoundKind, LegView, Positive};

/// The chosen leg in its own plane.
pub fn side(state: &State) -> LegView {
    let Some(leg) = state.work.robot().legs.get(state.chosen.leg) else {
        return LegView::default();
    };
    let angles = pose::angles(state, leg);
    // Seen in the leg's own plane: the coxa's angle does not foreshorten it.
    let points = pose::points(leg, 0.0, angles[1], angles[2]);
    let measured = robot::measured(&leg.joints);
    let words = ["coxa", "femur", "knee"];
    let numbers = std::array::from_fn(|i| {
        if measured[i] {
            format!("{} {}°", words[i], signed(angles[i]))
        } else {
            format!("{} ?", words[i])
        }
    });
    let chosen = state.chosen.kind;
    let joint = leg.joint(chosen);
    let [axis, femur, knee, foot] = points.map(|[out, _, up]| [out, up]);
    LegView {
        points_mm: [axis, femur, knee, foot],
        joints: robot::glyphs(state, &leg.joints),
        measured,
        numbers,
        chosen: Some(chosen.index()),
        bounds: bounds(leg, chosen, angles),
        positive: joint.scale.as_ref().map(|_| match chosen {
            JointKind::Coxa if leg.mount.y_mm < 0.0 => Positive::Fore,
            JointKind::Coxa => Positive::Rear,
            JointKind::Femur | JointKind::Tibia => Positive::Up,
        }),
        path: None,
        ends: Vec::new(),
        foot: foot_text(state, leg, angles, measured),
    }
}

/// The bounds of femur and tibia together.
pub fn all_bounds(state: &State, leg: &Leg) -> Vec<Bound> {
    let angles = pose::angles(state, leg);
    [JointKind::Femur, JointKind::Tibia]
        .into_iter()
        .flat_map(|kind| bounds(leg, kind, angles))
        .collect()
}

fn bounds(leg: &Leg, kind: JointKind, angles: [f64; 3]) -> Vec<Bound> {
    // Where this joint's link points at one of its own angles, the others staying as they are.
    let base_deg = match kind {
        JointKind::Tibia => angles[1] + leg.links.tibia_bend_deg,
        JointKind::Femur => 0.0,
        // The coxa's lie in the plane seen from above.
        JointKind::Coxa => return Vec::new(),
    };
    let joint = leg.joint(kind);
    let near = (
        joint.near_end.as_ref().map(|e| e.value),
        joint.limits.map(|l| l.0.us()),
    );
    let far = (
        joint.far_end.as_ref().map(|e| e.value),
        joint.limits.map(|l| l.1.us()),
    );
    [near, far]
        .into_iter()
        .filter_map(|(end, limit)| {
            let (us, kind_of) = match (end, limit) {
                (Some(_), Some(limit)) => (limit, BoundKind::Both),
                (None, Some(limit)) => (limit, BoundKind::Limit),
                (Some(end), None) => (end, BoundKind::End),
                (None, None) => return None,
            };
            let angle = joint.angle_deg(us)?;
            Some(Bound {
                joint: kind.index(),
                kind: kind_of,
                direction_deg: base_deg + angle,
                text: format!("{}°", signed_whole(angle)),
            })
        })
        .collect()
}

fn foot_text(state: &State, leg: &Leg, angles: [f64; 3], measured: [bool; 3]) -> Vec<String> {
    let all_commanded = leg.joints.iter().all(|j| {
        j.pin
            .is_some_and(|pin| state.bench.plug(pin).pulse.is_some())
    });
    if !all_commanded || measured.contains(&false) {
        return Vec::new();
    }
    let [_, _, _, [out, _, up]] = pose::points(leg, 0.0, angles[1], angles[2]);
    vec![
        "foot, from commanded:".into(),
        format!(
            "{out:.1} out   {:.1} {}",
            up.abs(),
            if up < 0.0 { "down" } else { "up" }
        ),
    ]
}

/// `+11.8`, `−71.0`.
pub fn signed(x: f64) -> String {
    with_sign(format!("{:.1}", x.abs()), x)
}

/// `+12`, `−38`.
pub fn signed_whole(x: f64) -> String {
    with_sign(format!("{:.0}", x.abs()), x)
}

/// `149.5`, `−75.6`, `0.0`.
pub fn plain(x: f64) -> String {
    let text = with_sign(format!("{:.1}", x.abs()), x);
    text.trim_start_matches('+').to_owned()
}

fn with_sign(magnitude: String, x: f64) -> String {
    let zero = magnitude.chars().all(|c| c == '0' || c == '.');
    match (zero, x < 0.0) {
        (true, _) => magnitude,
        (false, true) => format!("−{magnitude}"),
        (false, false) => format!("+{magnitude}"),
    }
}
