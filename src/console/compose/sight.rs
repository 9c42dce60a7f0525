//! What a person would see of the practice robot, in words; it never stands on a real board.

use super::plugs::way_word;
use crate::board::PinState;
use crate::board::sight::{Against, SeenJoint, Sight};
use crate::calibration::JointKind;
use crate::console::guided::Guided;
use crate::console::state::State;
use crate::console::view::SightBox;
use crate::console::view::text::whole;

fn seen_joint(state: &State) -> Option<&SeenJoint> {
    let sight = state.bench.sight.as_ref()?;
    let leg = &state.work.robot().legs.get(state.chosen.leg)?.name;
    sight
        .joints
        .iter()
        .find(|j| j.leg == *leg && j.joint == state.chosen.kind.word())
}

/// Where the chosen leg's foot touches the sheet, on its grid: `x 123 y −45`.
pub fn touch(state: &State) -> Option<String> {
    let sight = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let leg = &state.work.robot().legs.get(state.chosen.leg)?.name;
    let touch = sight.touches.iter().find(|touch| touch.leg == *leg)?;
    let [x, y] = touch.at_mm.map(whole);
    Some(format!("x {x} y {y}"))
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
            "{} of {}{}",
            joint.joint,
            joint.leg,
            match bare_arm(state, joint, sight) {
                Some(it) => format!(", leg off: {it}"),
                None => format!(" {}", stands(joint)),
            }
        ));
    }
    if let (Some(joint), Some(at)) = (seen_joint(state), touch(state)) {
        lines.push(format!("{} on the sheet at {at}", joint.leg));
    }
    let humming = those(sight, |j| j.servo.hums);
    lines.push(humming.map_or_else(|| hum(false).into(), |who| format!("{who}: a hum")));
    if let Some(who) = those(sight, |j| j.servo.hot) {
        lines.push(format!("{who}: hot to a finger"));
    }
    lines.push(format!(
        "supply  {:.2} V   {:.1} A",
        sight.supply_v, sight.supply_a
    ));
    if let Some(note) = sight.notes.last() {
        lines.push(note.clone());
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
    Some(SightBox { lines })
}

/// A piece of a bare arm's way is over after so long, seconds.
const PIECE_S: f64 = 0.4;

/// `turns, −38.5°`; nothing while the leg is on. It rests when the last piece of its way did not move it any more.
fn bare_arm(state: &State, joint: &SeenJoint, sight: &Sight) -> Option<String> {
    let began = state.guided.as_ref().map_or(0.0, |it| it.motion_from);
    let swung = joint.servo.swung_at.is_some_and(|at| at >= began);
    let driven = !joint.servo.slack && (swung || sight.seconds < began + PIECE_S);
    let does = match joint.servo.moving || driven {
        true => "turns",
        false => "rests",
    };
    let deg = super::leg::signed(joint.gauge_deg);
    joint.bare.then(|| format!("{does}, {deg}°"))
}

/// A leg that is off: `bare arm turns, −38.5°`.
pub fn bare(state: &State) -> Option<String> {
    let sight = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let arm = bare_arm(state, seen_joint(state)?, sight)?;
    Some(format!("bare arm {arm}"))
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

/// `LM tibia`; `LM tibia and 2 more`.
fn those(sight: &Sight, which: impl Fn(&SeenJoint) -> bool) -> Option<String> {
    let mut all = sight.joints.iter().filter(|joint| which(joint));
    let first = all.next()?;
    let name = format!("{} {}", first.leg, first.joint);
    Some(match all.count() {
        0 => name,
        more => format!("{name} and {more} more"),
    })
}

/// What a person would not overlook, whichever joint is chosen: it stands first in the title rule.
///
/// In guided work the chosen joint's own hum is what the step asks about, and stands there already.
pub fn warning(state: &State) -> Option<String> {
    let sight = state.bench.sight.as_ref().filter(|_| state.practice())?;
    if let Some((note, _)) = &state.bench.noticed {
        return Some(note.clone());
    }
    let asked = seen_joint(state).filter(|_| state.page().answers());
    let hums = |joint: &SeenJoint| joint.servo.hums && asked != Some(joint);
    if let Some(who) = those(sight, hums) {
        return Some(format!("{who}: a hum"));
    }
    those(sight, |joint| joint.servo.hot).map(|who| format!("{who}: hot"))
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
    let touches = touch(state).map_or_else(String::new, |at| format!("sheet {at}, "));
    Some(format!(
        "{touches}{where_it_is}, {}, {:.1} A",
        hum(joint.servo.hums),
        sight.supply_a
    ))
}

/// What the supply's own display shows: `display 5.19 V, 0.1 A`.
pub fn display(state: &State) -> Option<String> {
    let sight = state.bench.sight.as_ref().filter(|_| state.practice())?;
    Some(format!(
        "display {:.2} V, {:.1} A",
        sight.supply_v, sight.supply_a
    ))
}

/// The same in the box beside the pictures.
pub fn of_supply(state: &State) -> Option<SightBox> {
    let sight = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let hums = those(sight, |joint| joint.servo.hums);
    let mut lines: Vec<String> = hums
        .map(|who| format!("{who}: a hum"))
        .into_iter()
        .collect();
    lines.push(format!(
        "supply display  {:.2} V   {:.1} A",
        sight.supply_v, sight.supply_a
    ));
    Some(SightBox { lines })
}

/// What swung in the last motion outward: the joint that went farthest.
fn farthest(guided: &Guided) -> Option<&SeenJoint> {
    /// A swing that an eye sees, degrees.
    const SEEN_DEG: f64 = 0.8;
    let sight = guided.seen.as_ref()?;
    let lately = |joint: &&SeenJoint| {
        let at = joint.servo.swung_at;
        at.is_some_and(|at| at >= guided.seen_from) && joint.servo.swung_deg.abs() >= SEEN_DEG
    };
    sight
        .joints
        .iter()
        .filter(lately)
        .max_by(|a, b| a.servo.swung_deg.abs().total_cmp(&b.servo.swung_deg.abs()))
}

/// `RM coxa forward`; `nothing moved`.
pub fn swung(state: &State, guided: &Guided) -> Option<String> {
    guided.seen.as_ref().filter(|_| state.practice())?;
    let Some(joint) = farthest(guided) else {
        return Some("nothing moved".into());
    };
    Some(format!(
        "{} {} {}",
        joint.leg,
        joint.joint,
        went(state, joint)
    ))
}

/// The way that it swung, as a person sees it.
fn went(state: &State, joint: &SeenJoint) -> &'static str {
    let robot = state.work.robot();
    let leg = robot.legs.iter().position(|leg| leg.name == joint.leg);
    let kind = JointKind::ALL
        .into_iter()
        .find(|kind| kind.word() == joint.joint);
    match leg.zip(kind) {
        Some((leg, kind)) => {
            let at = crate::calibration::JointRef { leg, kind };
            way_word(state, at, joint.servo.swung_deg > 0.0)
        }
        None => "somewhere",
    }
}

/// The box beside the question which joint moved.
pub fn of_plugs(state: &State, guided: &Guided) -> Option<SightBox> {
    let now = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let mut lines = Vec::new();
    if guided.seen.is_some() {
        match farthest(guided) {
            Some(joint) => {
                lines.push(format!("{} {}: it swung", joint.leg, joint.joint));
                lines.push(format!(
                    "{}, {:.0}°, and back",
                    went(state, joint),
                    joint.servo.swung_deg.abs()
                ));
            }
            None => lines.push("nothing moved".into()),
        }
    }
    lines.push(hum(now.joints.iter().any(|j| j.servo.hums)).into());
    lines.push(format!(
        "supply display  {:.2} V   {:.1} A",
        now.supply_v, now.supply_a
    ));
    Some(SightBox { lines })
}

/// What the gauge on the chosen joint reads: `gauge +46.9°`.
pub fn gauge(state: &State) -> Option<String> {
    let joint = seen_joint(state).filter(|_| state.practice())?;
    if joint.servo.slack {
        return Some("slack".into());
    }
    Some(format!(
        "gauge {}",
        super::super::view::text::degrees(joint.gauge_deg)
    ))
}

/// What was to be seen and heard of the last peck.
struct OfPeck {
    hummed: bool,
    moved_deg: f64,
    against: Option<&'static str>,
}

fn of_last_peck(state: &State, guided: &Guided) -> Option<OfPeck> {
    let seen = guided.seen.as_ref()?;
    let leg = &state.work.robot().legs.get(state.chosen.leg)?.name;
    let word = state.chosen.kind.word();
    let mut joints = seen.joints.iter();
    let joint = joints.find(|it| it.leg == *leg && it.joint == word)?;
    let lately = |at: Option<f64>| at.is_some_and(|at| at >= guided.seen_from);
    Some(OfPeck {
        hummed: lately(joint.servo.hummed_at) || joint.servo.hums,
        // Out or back: a peck has both.
        moved_deg: if lately(joint.servo.swung_at) {
            joint.servo.swung_deg.abs()
        } else {
            0.0
        },
        against: joint
            .leaned
            .as_ref()
            .filter(|(_, at)| lately(Some(*at)))
            .map(|(it, _)| match it {
                Against::Linkage => "the linkage",
                Against::Body => "the body",
                Against::Cable => "a taut cable",
                Against::Neighbour(_) => "a neighbour leg",
                Against::Sheet => "the sheet",
            }),
    })
}

/// One phrase of the last peck: `moved +0.7°, no hum, 0.5 A`.
pub fn pecked(state: &State, guided: &Guided) -> Option<String> {
    let now = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let Some(peck) = of_last_peck(state, guided) else {
        return phrase(state);
    };
    Some(format!(
        "{}, {}, {:.1} A",
        hum(peck.hummed),
        moved(&peck),
        now.supply_a
    ))
}

fn moved(peck: &OfPeck) -> String {
    if peck.moved_deg < 0.05 {
        "did not move".into()
    } else {
        format!("moved {:.1}°", peck.moved_deg)
    }
}

/// What the joint leaned against in the last peck: `it leaned against the body`.
pub fn against(state: &State, guided: &Guided) -> Option<String> {
    let peck = of_last_peck(state, guided).filter(|_| state.practice())?;
    Some(format!("it leaned against {}", peck.against?))
}

/// The box beside the question whether it moved freely.
pub fn of_peck(state: &State, guided: &Guided) -> Option<SightBox> {
    let now = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let mut lines = Vec::new();
    if let Some(joint) = seen_joint(state) {
        lines.push(format!(
            "{} of {} {}",
            joint.joint,
            joint.leg,
            stands(joint)
        ));
    }
    if let Some(peck) = of_last_peck(state, guided) {
        lines.push(format!(
            "in the last peck: {}, {}",
            moved(&peck),
            if peck.hummed { "a faint hum" } else { "no hum" }
        ));
        if let Some(what) = peck.against {
            lines.push(format!("it leaned against {what}"));
        }
    }
    lines.push(format!(
        "supply display  {:.2} V   {:.1} A",
        now.supply_v, now.supply_a
    ));
    Some(SightBox { lines })
}

/// The servo on the test pin: `servo 14 at +10°, rattles, cool`, as wide as the box; nothing while none is there.
pub fn on_test_pin(state: &State) -> Option<String> {
    let sight = state.bench.sight.as_ref().filter(|_| state.practice())?;
    let it = sight.on_test_pin.as_ref()?;
    // Slack under a pulse: it is dead, and that it did not turn is what is asked about.
    let awake = state.bench.plug(it.pin).state == PinState::Awake;
    let does = if it.servo.slack && awake {
        "slack, did not move".to_owned()
    } else if it.servo.slack {
        "slack".to_owned()
    } else if it.servo.moving {
        "turns".to_owned()
    } else {
        format!(
            "at {}",
            super::super::view::text::whole_degrees(it.horn_deg.round())
        )
    };
    let sounds = match (it.servo.rattles, it.servo.hums) {
        (true, _) => "rattles",
        (_, true) => "hums",
        _ => "quiet",
    };
    let sounds = if it.servo.slack {
        String::new()
    } else {
        format!(", {sounds}")
    };
    let feels = if it.servo.hot { "hot" } else { "cool" };
    Some(format!("servo {} {does}{sounds}, {feels}", it.number))
}
