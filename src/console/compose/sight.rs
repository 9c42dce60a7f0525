//! What a person would see of the practice robot, in words; it never stands on a real board.

use crate::board::sight::SeenJoint;
use crate::console::state::State;
use crate::console::view::SightBox;

fn seen_joint(state: &State) -> Option<&SeenJoint> {
    let sight = state.bench.sight.as_ref()?;
    let leg = &state.work.robot().legs.get(state.chosen.leg)?.name;
    sight
        .joints
        .iter()
        .find(|j| j.leg == *leg && j.joint == state.chosen.kind.word())
}

/// The box beside the pictures.
pub fn seen(state: &State) -> Option<SightBox> {
    if !state.practice() {
        return None;
    }
    let sight = state.bench.sight.as_ref()?;
    let mut lines = Vec::new();
    if let Some(joint) = seen_joint(state) {
        lines.push(format!(
            "{} of {} {}",
            joint.joint,
            joint.leg,
            stands(joint)
        ));
    }
    let others: Vec<String> = sight
        .joints
        .iter()
        .filter(|j| j.servo.moving)
        .map(|j| format!("{} {}", j.leg, j.joint))
        .collect();
    if !others.is_empty() {
        lines.push(format!("moving: {}", others.join(", ")));
    }
    lines.push(hum(sight.joints.iter().any(|j| j.servo.hums)).into());
    lines.push(format!(
        "supply  {:.2} V   {:.1} A",
        sight.supply_v, sight.supply_a
    ));
    if let Some(note) = sight.notes.last() {
        lines.push(note.clone());
    }
    Some(SightBox { lines })
}

fn stands(joint: &SeenJoint) -> String {
    if joint.servo.slack {
        "hangs slack".into()
    } else {
        format!("stands at {}°", super::leg::signed(joint.gauge_deg))
    }
}

fn hum(any: bool) -> &'static str {
    if any { "a hum" } else { "no hum" }
}

/// One phrase at the right end of the title rule.
pub fn phrase(state: &State) -> Option<String> {
    if !state.practice() {
        return None;
    }
    let sight = state.bench.sight.as_ref()?;
    let joint = seen_joint(state)?;
    let where_it_is = if joint.servo.slack {
        "slack".to_owned()
    } else {
        format!("gauge {}°", super::leg::signed(joint.gauge_deg))
    };
    Some(format!(
        "{where_it_is}, {}, {:.1} A",
        hum(joint.servo.hums),
        sight.supply_a
    ))
}
