//! The foot page, as the view draws it: the leg from both sides, the ways of the arrows and what stops them, numbers.

use std::time::Duration;

use super::leg::{self, signed_whole};
use super::{pose, robot, scale};
use crate::calibration::{Joint, JointKind, JointRef, Leg};
use crate::console::axes;
use crate::console::measure::number;
use crate::console::motion;
use crate::console::pages::foot::{Ahead, WAYS, arrow, lit};
use crate::console::state::State;
use crate::console::view::{FootJog, FootPath, LegView, Margin, Positive, TopView};
use crate::kinematics::{
    CalibratedRobot, Frame, InTheWay, LegIndex, Legroom, Unreachable, Vec3, leg_to_body,
};

/// The page.
pub fn page(state: &State, now: Duration) -> FootJog {
    let Some(leg) = state.work.robot().legs.get(state.chosen.leg) else {
        return FootJog::default();
    };
    let robot_now = CalibratedRobot::new(state.work.robot().clone());
    let room = motion::room(state, &robot_now, state.chosen.leg).ok();
    let (path, others) = ways(state);
    let side_path = |ahead: &Way3| FootPath {
        to_mm: [ahead.end[0].hypot(ahead.end[1]), ahead.end[2]],
        stop: ahead.side.clone(),
    };
    let sign = axes::fore(&leg.mount).1;
    let top_path = |ahead: &Way3| FootPath {
        to_mm: [ahead.end[0], sign * ahead.end[1]],
        stop: ahead.top.clone(),
    };
    let at = nearest(state, room.as_ref(), &robot_now);
    FootJog {
        robot: robot::picture(state),
        side: LegView {
            chosen: None,
            positive: Some(Positive::Up),
            bounds: leg::all_bounds(state, leg),
            path: path.as_ref().map(side_path),
            ends: others
                .iter()
                .map(side_path)
                .filter(|_| !state.foot.top)
                .collect(),
            foot: Vec::new(),
            ..leg::side(state)
        },
        top: TopView {
            path: path.as_ref().map(top_path),
            ends: others
                .iter()
                .map(top_path)
                .filter(|_| state.foot.top)
                .collect(),
            ..top(state, leg, room.as_ref())
        },
        top_has_arrows: state.foot.top,
        point: point(state, leg, room.as_ref()),
        motion: numbers(state),
        spread: room
            .as_ref()
            .and_then(|room| spread_mm(&robot_now, room))
            .map_or_else(String::new, |mm| format!("± {mm:.1} mm unloaded")),
        knee: room
            .as_ref()
            .map_or_else(Vec::new, |room| knee(&robot_now, room)),
        ways: words(state),
        margins: room
            .as_ref()
            .map_or_else(Vec::new, |room| margins(&robot_now, room)),
        scale: at.map_or_else(Default::default, |at| scale::of(state, at, now)),
        scale_title: at.map_or_else(String::new, |at| {
            let why = match lit(state).and_then(|it| it.stop) {
                Some(InTheWay::Joint { .. }) => "the first to reach a limit on this path",
                _ => "the nearest to a limit",
            };
            format!("{}, {why}", state.work.robot().title(at))
        }),
        field: state.top().and_then(|layer| layer.page_field(state)),
    }
}

/// One way to be drawn: where it ends, and what is written there in each view.
struct Way3 {
    end: Vec3,
    side: Option<String>,
    top: Option<String>,
}

/// The way that is drawn with its dots, and those of which only the end is.
fn ways(state: &State) -> (Option<Way3>, Vec<Way3>) {
    let to = |end: Vec3| Way3 {
        end,
        side: None,
        top: None,
    };
    if let Some(goal) = state.top().and_then(|layer| layer.goal_mm(state)) {
        return (Some(to(goal)), Vec::new());
    }
    if let Some(moving) = &state.motion {
        let (goal, _) = moving.stream.goal(&moving.robot);
        let of_this_leg = moving
            .stream
            .legs()
            .zip(goal)
            .find(|(leg, _)| leg.number() == state.chosen.leg);
        return (of_this_leg.map(|(_, goal)| to(goal)), Vec::new());
    }
    let Some(outlook) = &state.foot.outlook else {
        return (None, Vec::new());
    };
    let one = |ahead: &Ahead| Way3 {
        end: ahead.end,
        side: ahead.stop.map(|stop| match stop {
            InTheWay::Joint { edge, .. } => {
                format!("{:.0} mm to {}", ahead.free_mm.floor(), edge.word())
            }
            other => format!(
                "{:.0} mm, {}",
                ahead.free_mm.floor(),
                stop_text(state, &other)
            ),
        }),
        top: ahead.stop.map(|stop| short(state, &stop)),
    };
    let lit_one = lit(state).map(one);
    let others = WAYS
        .iter()
        .zip(&outlook.ways)
        .filter(|(way, ahead)| **way != state.foot.way && ahead.stop.is_some());
    (lit_one, others.map(|(_, ahead)| one(ahead)).collect())
}

/// What each arrow's way is free for, and what comes then: two rows under each other.
fn words(state: &State) -> Vec<String> {
    if state.motion.is_some() || lit(state).is_none() {
        return Vec::new();
    }
    let Some(outlook) = &state.foot.outlook else {
        return Vec::new();
    };
    let mut rows = [String::from("free"), String::from("then")];
    for (way, ahead) in WAYS.iter().zip(&outlook.ways) {
        rows[0].push_str(&format!("  {} {:<4.0}", arrow(*way), ahead.free_mm.floor()));
        let word = ahead
            .stop
            .map_or_else(String::new, |stop| one_word(state, &stop));
        rows[1].push_str(&format!("  {word:<6}"));
    }
    rows[0].push_str(" mm");
    rows.map(|row| row.trim_end().to_owned()).into()
}

fn one_word(state: &State, stop: &InTheWay) -> String {
    match stop {
        InTheWay::Reach(Unreachable::TooFar { .. }) => "reach".into(),
        InTheWay::Reach(Unreachable::TooNear { .. }) => "fold".into(),
        InTheWay::Reach(_) => "axis".into(),
        InTheWay::Joint { joint, .. } => joint.to_string(),
        InTheWay::Leg { other, .. } => leg_name(state, *other),
    }
}

fn leg_name(state: &State, leg: LegIndex) -> String {
    let legs = &state.work.robot().legs;
    legs.get(leg.number())
        .map_or_else(String::new, |data| data.name.clone())
}

/// `tibia limit −38°`, `LM is in the way`, `it is out of reach`.
pub fn stop_text(state: &State, stop: &InTheWay) -> String {
    match stop {
        InTheWay::Reach(Unreachable::TooFar { .. }) => "out of the leg's reach".into(),
        InTheWay::Reach(Unreachable::TooNear { .. }) => "too near, the leg is folded".into(),
        InTheWay::Reach(_) => "the coxa's axis".into(),
        InTheWay::Joint {
            joint,
            edge,
            at_deg,
            ..
        } => format!("{joint} {} {}°", edge.word(), signed_whole(*at_deg)),
        InTheWay::Leg { other, .. } => format!("{} is in the way", leg_name(state, *other)),
    }
}

/// The same with the leg's name, where more than one moves.
pub fn stop_text_of_leg(state: &State, stop: &InTheWay) -> String {
    match stop {
        InTheWay::Joint { leg, .. } => {
            format!("{} {}", leg_name(state, *leg), stop_text(state, stop))
        }
        InTheWay::Leg { leg, other } => format!(
            "{} and {} come too near",
            leg_name(state, *leg),
            leg_name(state, *other)
        ),
        InTheWay::Reach(_) => format!("a foot is {}", stop_text(state, stop)),
    }
}

/// What is written at the end of the dots in the top view.
fn short(state: &State, stop: &InTheWay) -> String {
    match stop {
        InTheWay::Joint { joint, at_deg, .. } => format!("{joint} {}°", signed_whole(*at_deg)),
        other => one_word(state, other),
    }
}

/// The joint whose scale is shown: what stops the lit way, else the nearest to a limit.
fn nearest(state: &State, room: Option<&Legroom>, robot: &CalibratedRobot) -> Option<JointRef> {
    let leg = state.chosen.leg;
    if let Some(InTheWay::Joint { joint, .. }) = lit(state).and_then(|it| it.stop) {
        return Some(JointRef { leg, kind: joint });
    }
    let margins = room?.margins_deg(robot);
    let least = JointKind::ALL
        .into_iter()
        .min_by(|a, b| margins[a.index()].total_cmp(&margins[b.index()]))?;
    Some(JointRef { leg, kind: least })
}

fn top(state: &State, leg: &Leg, room: Option<&Legroom>) -> TopView {
    let [coxa, femur, tibia] = pose::angles(state, leg);
    let sign = axes::fore(&leg.mount).1;
    let coxa_deg = leg.joint(JointKind::Coxa).allowed_deg();
    let (ahead, behind) = neighbours(state, leg, room);
    TopView {
        points_mm: pose::points(leg, coxa, femur, tibia).map(|[out, y, _]| [out, sign * y]),
        joints: robot::glyphs(state, &leg.joints),
        measured: robot::measured(&leg.joints),
        limits_deg: coxa_deg
            .filter(|_| leg.joint(JointKind::Coxa).limits.is_some())
            .map(|(low, high)| {
                if sign > 0.0 {
                    (low, high)
                } else {
                    (-high, -low)
                }
            }),
        path: None,
        ends: Vec::new(),
        ahead,
        behind,
    }
}

/// The nearest leg toward each side of the top view: how far from centre line to centre line, or that it swings here.
fn neighbours(state: &State, leg: &Leg, room: Option<&Legroom>) -> (String, String) {
    let Some(room) = room else {
        return Default::default();
    };
    let all = state.work.robot();
    let robot = CalibratedRobot::new(all.clone());
    let sign = axes::fore(&leg.mount).1;
    let mut sides: [Option<(f64, String)>; 2] = [None, None];
    for other in robot.legs().filter(|it| *it != room.leg) {
        let data = robot.leg_data(other);
        let angles = pose::angles(state, data);
        let apart = robot.legs_apart((room.leg, room.angles_deg), (other, angles));
        // Where its coxa axis lies, seen from this one: toward the upper side of the view, or the lower.
        let at = robot.to_leg_frame(room.leg, leg_to_body(&data.mount, [0.0; 3]), Frame::Body);
        let across = sign * at[1];
        let size = (at[0] * at[0] + at[1] * at[1]).sqrt();
        // A leg on the other side of the body is no neighbour.
        if across.abs() <= 0.5 * size {
            continue;
        }
        let side = &mut sides[usize::from(across < 0.0)];
        if side.as_ref().is_none_or(|(least, _)| apart < *least) {
            let near = apart < 2.0 * crate::kinematics::legroom::APART_MM;
            let words = match near {
                true => format!("{}: {apart:.0} mm", data.name),
                false => format!("{}: clear", data.name),
            };
            *side = Some((apart, words));
        }
    }
    let [ahead, behind] = sides.map(|side| side.map_or_else(String::new, |(_, words)| words));
    (ahead, behind)
}

fn point(state: &State, leg: &Leg, room: Option<&Legroom>) -> [(String, String); 3] {
    let foot = match room {
        Some(room) => room.foot,
        None => {
            let names = axes::shown(&leg.mount, state.foot.frame, [0.0; 3]);
            return names.map(|(name, _)| (name.to_owned(), "?".to_owned()));
        }
    };
    axes::shown(&leg.mount, state.foot.frame, foot)
        .map(|(name, value)| (name.to_owned(), format!("{} mm", leg::plain(value))))
}

fn numbers(state: &State) -> [(String, String); 3] {
    let step = format!("{} mm", number(state.foot.step_mm));
    let ahead = lit(state);
    let seconds = ahead.map(|it| it.step_s);
    let speed = ahead.and_then(|it| {
        let mm = it.free_mm.min(state.foot.step_mm);
        (it.step_s > 0.0).then_some(mm / it.step_s)
    });
    let or_none = |it: Option<String>| it.unwrap_or_else(|| "?".into());
    [
        ("step", step),
        ("time", or_none(seconds.map(|s| format!("{s:.1} s")))),
        ("speed", or_none(speed.map(|v| format!("{v:.0} mm/s")))),
    ]
    .map(|(name, value)| (name.to_owned(), value))
}

/// The ± of the foot that follows from those of zero and µs/degree of its joints, as if they were independent; mm.
fn spread_mm(robot: &CalibratedRobot, room: &Legroom) -> Option<f64> {
    let leg = robot.leg_data(room.leg);
    let rows = robot
        .geometry(room.leg)
        .jacobian(room.angles_deg.map(f64::to_radians));
    let mut square = 0.0;
    for kind in JointKind::ALL {
        let i = kind.index();
        let angle = angle_spread_deg(leg.joint(kind), room.angles_deg[i])?.to_radians();
        square += rows.iter().map(|row| (row[i] * angle).powi(2)).sum::<f64>();
    }
    Some(square.sqrt())
}

fn angle_spread_deg(joint: &Joint, angle_deg: f64) -> Option<f64> {
    let (zero, scale) = (joint.zero.as_ref()?, joint.scale.as_ref()?);
    let from_zero = zero.spread? / scale.value;
    let from_scale = scale.spread? * angle_deg / scale.value;
    Some(from_zero.hypot(from_scale))
}

/// The angles of the other knee for the same foot, or the joint that cannot.
pub fn other_knee(
    robot: &CalibratedRobot,
    room: &Legroom,
) -> Result<[f64; 3], (InTheWay, [f64; 3])> {
    let other = room.other_knee();
    let angles = other
        .angles_at(robot, room.foot)
        .map_err(|why| (why.into(), room.angles_deg))?;
    match other.pulses_for(robot, angles) {
        Ok(_) => Ok(angles),
        Err(why) => Err((why, angles)),
    }
}

/// `knee down: tibia +71°, 109° past its limit −38°`.
pub fn knee_stop_text(room: &Legroom, (why, angles): &(InTheWay, [f64; 3])) -> String {
    let other = room.knee.other();
    match why {
        InTheWay::Joint {
            joint,
            edge,
            at_deg,
            ..
        } => {
            let angle = angles[joint.index()];
            format!(
                "knee {}: {joint} {}°, {:.0}° past its {} {}°",
                other.word(),
                signed_whole(angle),
                (angle - at_deg).abs(),
                edge.word(),
                signed_whole(*at_deg)
            )
        }
        _ => format!("knee {}: out of reach", other.word()),
    }
}

/// Two lines about the knee.
fn knee(robot: &CalibratedRobot, room: &Legroom) -> Vec<String> {
    let start = format!("knee {}, chosen   (", room.knee.word());
    match other_knee(robot, room) {
        Ok(_) => vec![format!("{start}K: the other way)")],
        Err(why) => {
            let text = knee_stop_text(room, &why);
            // Broken behind the joint's name, where it fits the picture's width.
            match JointKind::ALL.iter().find_map(|kind| {
                let name = format!("{kind} ");
                let at = text.find(&name)? + name.len();
                Some(text.split_at(at))
            }) {
                Some((first, second)) => {
                    vec![format!("{start}{}", first.trim_end()), format!("{second})")]
                }
                None => vec![start, format!("{text})")],
            }
        }
    }
}

/// How far each joint is from its nearer bound.
fn margins(robot: &CalibratedRobot, room: &Legroom) -> Vec<Margin> {
    let margins = room.margins_deg(robot);
    let least = margins.iter().copied().fold(f64::INFINITY, f64::min);
    JointKind::ALL
        .map(|kind| Margin {
            joint: kind.to_string(),
            text: format!("{:.0}°", margins[kind.index()].max(0.0)),
            least: margins[kind.index()] == least,
        })
        .into()
}
