//! The stance: which legs carry the body, where their feet are planted, where the body is over them, whether it stands.
//!
//! Questions about the state, for the body's page and its picture; nothing here moves anything.

use crate::board::PinState;
use crate::calibration::JointRef;
use crate::kinematics::{BodyPose, CalibratedRobot, Course, Frame, Legroom, SupportPolygon, Vec3};
use crate::units::{Pin, Pulse};

use super::motion::{self, Plan};
use super::state::{Stands, State};

/// The pose's values, as they are written.
pub const NAMES: [&str; 6] = ["fore", "left", "up", "roll", "pitch", "turn"];
/// A foot that stands higher than the lowest by more than this carries nothing, mm.
const LIFTED_MM: f64 = 5.0;
/// So much may the feet have moved for the pose to be the one that was planted, mm.
const SAME_MM: f64 = 0.3;
/// Fewer legs do not carry a body.
const LEAST_LEGS: usize = 3;

/// Feet on the ground, and the body over them.
#[derive(Debug, Clone, PartialEq)]
pub struct Planted {
    /// Which legs.
    pub legs: Vec<usize>,
    /// Their feet in the ground frame, whose origin is where the body was when they were planted; mm.
    pub feet: Vec<Vec3>,
    /// Where the body is now.
    pub pose: BodyPose,
}

/// The unit of a value of the pose.
pub fn unit(index: usize) -> &'static str {
    if index < 3 { "mm" } else { "°" }
}

/// A pose as its six values, mm and degrees.
pub fn values(pose: &BodyPose) -> [f64; 6] {
    let [x, y, z] = pose.at;
    let [roll, pitch, yaw] = [pose.roll, pose.pitch, pose.yaw].map(f64::to_degrees);
    [x, y, z, roll, pitch, yaw]
}

/// The pose of six values.
pub fn pose_of([x, y, z, roll, pitch, yaw]: [f64; 6]) -> BodyPose {
    BodyPose {
        at: [x, y, z],
        roll: roll.to_radians(),
        pitch: pitch.to_radians(),
        yaw: yaw.to_radians(),
    }
}

/// The legs that can carry the body: those whose joints are all known. The others must be limp.
pub fn standing(state: &State) -> Result<Vec<usize>, String> {
    let robot = state.work.robot();
    let mut legs = Vec::new();
    let mut lacking = None;
    for leg in 0..robot.legs.len() {
        match motion::unknown(robot, leg) {
            None => legs.push(leg),
            Some(why) => {
                lacking.get_or_insert(why);
            }
        }
    }
    if legs.len() >= LEAST_LEGS {
        return Ok(legs);
    }
    Err(match lacking {
        // What is missing is of no use to one who has too few legs.
        Some(why) if robot.legs.len() >= LEAST_LEGS => why,
        _ => "it takes three legs or more".into(),
    })
}

/// The limp joints of these legs, and at which pulse each would wake.
pub fn limp(state: &State, legs: &[usize]) -> Vec<(Pin, Pulse)> {
    let joints = state.work.robot().joints();
    joints
        .filter(|(at, _)| legs.contains(&at.leg))
        .filter_map(|(at, joint)| Some((at, joint.pin?)))
        .filter(|(_, pin)| state.bench.plug(*pin).state == PinState::Limp)
        .map(|(at, pin): (JointRef, _)| (pin, state.offered_pulse(at)))
        .collect()
}

/// `Ok` with the legs that stand when the body can be moved now.
pub fn ready(state: &State) -> Result<Vec<usize>, String> {
    let legs = standing(state)?;
    state.may_move()?;
    for (at, joint) in state.work.robot().joints() {
        let awake = joint
            .pin
            .is_some_and(|pin| state.bench.plug(pin).state != PinState::Limp);
        if awake && !legs.contains(&at.leg) {
            return Err(format!(
                "{} is awake and cannot follow: leg key, Z",
                state.work.robot().title(at)
            ));
        }
    }
    if !limp(state, &legs).is_empty() {
        return Err("joints that carry are limp: Enter wakes them".into());
    }
    for leg in &legs {
        motion::ready(state, *leg)?;
    }
    Ok(legs)
}

/// The legs that stand, each where it is commanded to be.
pub fn rooms(state: &State, robot: &CalibratedRobot) -> Result<Vec<Legroom>, String> {
    standing(state)?
        .into_iter()
        .map(|leg| motion::room(state, robot, leg))
        .collect()
}

/// The feet and the body over them: as planted, or planted anew where they are now.
pub fn planted(state: &State, robot: &CalibratedRobot, rooms: &[Legroom]) -> Planted {
    let legs: Vec<usize> = rooms.iter().map(|room| room.leg.number()).collect();
    let at = |pose: BodyPose| {
        let feet = rooms.iter();
        feet.map(move |room| robot.from_leg_frame(room.leg, room.foot, Frame::Ground(pose)))
    };
    if let Some(old) = &state.body.planted
        && old.legs == legs
        && at(old.pose).zip(&old.feet).all(|(now, then)| {
            let off: f64 = (0..3).map(|i| (now[i] - then[i]).powi(2)).sum();
            off.sqrt() < SAME_MM
        })
    {
        return old.clone();
    }
    Planted {
        legs,
        feet: at(BodyPose::default()).collect(),
        pose: BodyPose::default(),
    }
}

/// Where the body is.
pub fn pose(state: &State) -> BodyPose {
    let robot = CalibratedRobot::new(state.work.robot().clone());
    rooms(state, &robot).map_or_else(
        |_| BodyPose::default(),
        |rooms| planted(state, &robot, &rooms).pose,
    )
}

/// The motion to a pose.
pub fn plan_to(state: &State, pose: BodyPose) -> Result<Plan, String> {
    let robot = CalibratedRobot::new(state.work.robot().clone());
    let rooms = rooms(state, &robot)?;
    let stands = planted(state, &robot, &rooms);
    let course = Course::Body {
        feet: stands.feet,
        from: stands.pose,
        to: pose,
    };
    let stream = motion::plan(state, &robot, rooms, course);
    Ok(Plan { robot, stream })
}

/// The feet that carry, on the ground, and how far inside their polygon's edge lines the centre of mass is, mm.
pub fn stability(state: &State, planted: &Planted, pose: BodyPose) -> (Vec<[f64; 2]>, Option<f64>) {
    let lowest = planted
        .feet
        .iter()
        .map(|foot| foot[2])
        .fold(f64::INFINITY, f64::min);
    let carrying: Vec<[f64; 2]> = planted
        .feet
        .iter()
        .filter(|foot| foot[2] <= lowest + LIFTED_MM)
        .map(|foot| [foot[0], foot[1]])
        .collect();
    let body = state.work.robot().body;
    let [x, y, _] = pose.to_ground(body.map_or([0.0; 3], |it| it.centre_of_mass_mm));
    let polygon = SupportPolygon::of(&carrying);
    let margin = polygon.edge_line_margin([x, y]);
    (polygon.corners().to_vec(), margin)
}

/// Why the robot would tip over in the end of a motion, on the ground; `None` when it would not, and on the stand.
pub fn tips(state: &State, plan: &Plan) -> Option<String> {
    if state.stands != Stands::Ground {
        return None;
    }
    let rooms = rooms(state, &plan.robot).ok()?;
    let stands = planted(state, &plan.robot, &rooms);
    let (_, Some(goal)) = plan.stream.goal(&plan.robot) else {
        return None;
    };
    let margin = stability(state, &stands, goal).1?;
    (margin < 0.0).then(|| {
        format!(
            "it would tip, its centre {:.0} mm outside the feet",
            -margin
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pose_is_read_as_it_was_written() {
        let written = [1.0, -2.0, 3.0, 4.0, -5.0, 6.0];
        for (got, due) in values(&pose_of(written)).iter().zip(written) {
            assert!((got - due).abs() < 1e-12);
        }
    }
}
