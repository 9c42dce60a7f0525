//! The plan: what no observation can tell, the robot's geometry, its legs' names and the wiring that was meant.

use serde::{Deserialize, Serialize};

use super::words::Copper;
use crate::calibration::model::{Body, Joint, JointKind, JointRef, Leg, Links, Mount, Robot};

/// One robot as it was planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// The robot's name.
    pub name: String,
    /// The body's outline and balance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body: Option<PlannedBody>,
    /// Its legs, in the order of the file.
    pub legs: Vec<PlannedLeg>,
}

/// The body's outline and balance, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedBody {
    /// Along x.
    pub length_mm: f64,
    /// Along y.
    pub width_mm: f64,
    /// Centre of mass.
    pub centre_of_mass_mm: [f64; 3],
}

/// One leg as it was planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedLeg {
    /// From the robot's own view.
    pub name: String,
    /// Forward, mm.
    pub x_mm: f64,
    /// Left, mm.
    pub y_mm: f64,
    /// Up, mm.
    pub z_mm: f64,
    /// Which way it points at coxa 0°, degrees.
    pub yaw_deg: f64,
    /// See [`Links`].
    pub coxa_mm: f64,
    /// See [`Links`].
    pub femur_mm: f64,
    /// See [`Links`].
    pub tibia_mm: f64,
    /// See [`Links`].
    pub coxa_height_mm: f64,
    /// See [`Links`].
    pub tibia_bend_deg: f64,
    /// See [`Links`].
    pub ball_radius_mm: f64,
    /// Its first joint.
    pub coxa: PlannedJoint,
    /// Its second joint.
    pub femur: PlannedJoint,
    /// Its third joint.
    pub tibia: PlannedJoint,
}

/// One joint as it was planned.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedJoint {
    /// The plug that is meant to drive it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pin: Option<Copper>,
    /// The angles that the robot needs, degrees, the smaller first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needed_deg: Option<(f64, f64)>,
}

impl Plan {
    /// What of this robot is plan and not observation.
    pub fn of(robot: &Robot) -> Plan {
        Plan {
            name: robot.name.clone(),
            body: robot.body.map(|body| PlannedBody {
                length_mm: body.length_mm,
                width_mm: body.width_mm,
                centre_of_mass_mm: body.centre_of_mass_mm,
            }),
            legs: robot.legs.iter().map(PlannedLeg::of).collect(),
        }
    }

    /// One of its joints, to change it. The place must be one of its own.
    pub fn joint_mut(&mut self, at: JointRef) -> &mut PlannedJoint {
        let leg = &mut self.legs[at.leg];
        match at.kind {
            JointKind::Coxa => &mut leg.coxa,
            JointKind::Femur => &mut leg.femur,
            JointKind::Tibia => &mut leg.tibia,
        }
    }

    /// The robot of this plan: its pins are the planned ones, nothing else is known of its joints.
    pub fn robot(&self) -> Robot {
        Robot {
            name: self.name.clone(),
            template: false,
            body: self.body.map(|body| Body {
                length_mm: body.length_mm,
                width_mm: body.width_mm,
                centre_of_mass_mm: body.centre_of_mass_mm,
            }),
            legs: self.legs.iter().map(PlannedLeg::leg).collect(),
        }
    }
}

impl PlannedLeg {
    fn of(leg: &Leg) -> PlannedLeg {
        let joint = |kind| {
            let joint = leg.joint(kind);
            PlannedJoint {
                pin: joint.pin.map(Copper),
                needed_deg: joint.needed_deg,
            }
        };
        PlannedLeg {
            name: leg.name.clone(),
            x_mm: leg.mount.x_mm,
            y_mm: leg.mount.y_mm,
            z_mm: leg.mount.z_mm,
            yaw_deg: leg.mount.yaw_deg,
            coxa_mm: leg.links.coxa_mm,
            femur_mm: leg.links.femur_mm,
            tibia_mm: leg.links.tibia_mm,
            coxa_height_mm: leg.links.coxa_height_mm,
            tibia_bend_deg: leg.links.tibia_bend_deg,
            ball_radius_mm: leg.links.ball_radius_mm,
            coxa: joint(JointKind::Coxa),
            femur: joint(JointKind::Femur),
            tibia: joint(JointKind::Tibia),
        }
    }

    fn leg(&self) -> Leg {
        let joint = |planned: &PlannedJoint| Joint {
            pin: planned.pin.map(|it| it.0),
            needed_deg: planned.needed_deg,
            ..Joint::default()
        };
        Leg {
            name: self.name.clone(),
            mount: Mount {
                x_mm: self.x_mm,
                y_mm: self.y_mm,
                z_mm: self.z_mm,
                yaw_deg: self.yaw_deg,
            },
            links: Links {
                coxa_mm: self.coxa_mm,
                femur_mm: self.femur_mm,
                tibia_mm: self.tibia_mm,
                coxa_height_mm: self.coxa_height_mm,
                tibia_bend_deg: self.tibia_bend_deg,
                ball_radius_mm: self.ball_radius_mm,
            },
            joints: [joint(&self.coxa), joint(&self.femur), joint(&self.tibia)],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{MARRAM, read};

    #[test]
    fn a_plan_goes_to_text_and_back_to_the_same_geometry() {
        let robot = read(MARRAM).robot.expect("a good file");
        let plan = Plan::of(&robot);
        let text = serde_json::to_string(&plan).expect("it can be");
        let back: Plan = serde_json::from_str(&text).expect("it reads");
        assert_eq!(back, plan);
        let planned = back.robot();
        assert_eq!(planned.body, robot.body);
        for (a, b) in planned.legs.iter().zip(&robot.legs) {
            assert_eq!((&a.name, a.mount, a.links), (&b.name, b.mount, b.links));
        }
        let femur = |it: &Robot| it.legs[0].joint(JointKind::Femur).clone();
        assert_eq!(femur(&planned).pin, femur(&robot).pin);
        assert_eq!(femur(&planned).needed_deg, femur(&robot).needed_deg);
        assert_eq!(femur(&planned).zero, None);
    }
}
