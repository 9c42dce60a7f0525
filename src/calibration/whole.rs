//! The text of a calibration file written anew from a robot alone: for a file that was lost, or another place.
//!
//! Pure text. It has none of a builder's remarks; where there is a file, `edit` changes that one instead.

use std::fmt::Write;

use super::edit::changes_of_robot;
use super::file::{self, FileError};
use super::model::{Joint, Leg, Robot};

/// The file's text.
///
/// # Errors
/// A robot that no file may say, with everything that is wrong with it.
pub fn text(robot: &Robot) -> Result<String, FileError> {
    let mut out = format!(
        "# Made by hornset from the logbook alone. Your own remarks, after a #, stay when hornset saves.\n\n\
         format = 1\nname = {}\n",
        toml_edit::Value::from(robot.name.as_str())
    );
    if let Some(body) = &robot.body {
        let [x, y, z] = body.centre_of_mass_mm;
        let _ = write!(
            out,
            "\n[body]\nlength_mm = {:?}\nwidth_mm = {:?}\n",
            body.length_mm, body.width_mm
        );
        if [x, y, z] != [0.0; 3] {
            let _ = writeln!(out, "centre_of_mass_mm = [{x:?}, {y:?}, {z:?}]");
        }
    }
    for leg in &robot.legs {
        leg_text(&mut out, leg);
    }
    let mut loaded = file::from_text(&out)?;
    let blank = Robot {
        legs: robot.legs.iter().map(without_joints).collect(),
        ..robot.clone()
    };
    loaded.record_all(&changes_of_robot(&blank, robot))?;
    Ok(loaded.text().to_owned())
}

fn leg_text(out: &mut String, leg: &Leg) {
    let optional = |key: &str, value: f64| match value {
        0.0 => String::new(),
        value => format!(", {key} = {value:?}"),
    };
    let (mount, links) = (&leg.mount, &leg.links);
    let _ = write!(
        out,
        "\n[[leg]]\nname = {}\n\
         mount = {{ x_mm = {:?}, y_mm = {:?}, yaw_deg = {:?}{} }}\n\
         links = {{ coxa_mm = {:?}, femur_mm = {:?}, tibia_mm = {:?}{}{}{} }}\n\
         \n[leg.coxa]\n\n[leg.femur]\n\n[leg.tibia]\n",
        toml_edit::Value::from(leg.name.as_str()),
        mount.x_mm,
        mount.y_mm,
        mount.yaw_deg,
        optional("z_mm", mount.z_mm),
        links.coxa_mm,
        links.femur_mm,
        links.tibia_mm,
        optional("coxa_height_mm", links.coxa_height_mm),
        optional("tibia_bend_deg", links.tibia_bend_deg),
        optional("ball_radius_mm", links.ball_radius_mm),
    );
}

fn without_joints(leg: &Leg) -> Leg {
    Leg {
        joints: [Joint::default(), Joint::default(), Joint::default()],
        ..leg.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{MARRAM, read};

    #[test]
    fn a_robot_written_anew_reads_as_the_same_robot() {
        for source in [MARRAM, include_str!("../../calibrations/one-leg.toml")] {
            let mut robot = read(source).robot.expect("a good file");
            robot.template = false;
            robot.legs[0].mount.z_mm = -3.5;
            robot.legs[0].links.tibia_bend_deg = 7.25;
            let text = text(&robot).expect("it can be written");
            assert_eq!(read(&text).robot.as_ref(), Some(&robot), "{text}");
        }
    }
}
