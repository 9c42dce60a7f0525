//! The text of a new robot's file: geometry to be measured, and joints of which nothing is known yet.
//!
//! Pure text; the lengths and places in it are a start to be replaced, and say so.

use std::fmt::Write;

use super::model::Robot;
use super::read;

/// What a new robot starts with.
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    /// Its name.
    pub name: String,
    /// How many legs, 1-8.
    pub legs: usize,
    /// Coxa, femur, tibia, mm.
    pub links_mm: [f64; 3],
}

/// What a new file says of its lengths, until the builder has put his own there.
const ONLY_A_START: &str = "these are only a start";

/// Whether lengths and mounts are still those that a new file starts with: they are all as they were, and so is its remark.
pub fn is_still_blank(text: &str, robot: &Robot) -> bool {
    let start = |links_mm| {
        let blank = Blank {
            name: robot.name.clone(),
            legs: robot.legs.len(),
            links_mm,
        };
        read(&blank.text()?).robot
    };
    let same = |start: Robot| {
        let mut legs = start.legs.iter().zip(&robot.legs);
        legs.all(|(start, leg)| start.mount == leg.mount && start.links == leg.links)
    };
    text.contains(ONLY_A_START) && start(START_LINKS_MM).is_some_and(same)
}

/// The numbers of the lines that begin with this word: where a length is to be written in.
pub fn lines_with(text: &str, key: &str) -> Vec<usize> {
    let is = |line: &str| line.split('=').next().is_some_and(|it| it.trim() == key);
    let lines = text.lines().zip(1..);
    lines.filter(|(line, _)| is(line)).map(|(_, n)| n).collect()
}

/// Lengths to start from: the example robot's own.
pub const START_LINKS_MM: [f64; 3] = [31.0, 67.0, 104.0];

/// A leg's name and where it would usually stand: x, y, yaw.
struct Place {
    name: String,
    x_mm: f64,
    y_mm: f64,
    yaw_deg: f64,
}

impl Blank {
    /// The file's text; `None` for a number of legs that no robot has here.
    pub fn text(&self) -> Option<String> {
        let places = places(self.legs)?;
        let name = toml_edit::Value::from(self.name.as_str());
        let [coxa, femur, tibia] = self.links_mm;
        let mut out = format!(
            "# {}: one robot, one file. The keys are explained in FORMAT.md beside hornset's examples.\n\
             # Your own remarks, after a #, stay when hornset saves.\n\n\
             format = 1\nname = {name}\n",
            self.name.replace(char::is_control, " ")
        );
        for (index, place) in places.iter().enumerate() {
            out.push_str("\n[[leg]]\n");
            if index == 0 {
                out.push_str("# From the robot's own view, L is its left.\n");
                let _ = writeln!(
                    out,
                    "# Measure the mounts and lengths on your robot: {ONLY_A_START}."
                );
            }
            let _ = write!(
                out,
                "name = \"{}\"\n\
                 mount = {{ x_mm = {:.1}, y_mm = {:.1}, yaw_deg = {:.1} }}\n\
                 links = {{ coxa_mm = {coxa:?}, femur_mm = {femur:?}, tibia_mm = {tibia:?} }}\n\n\
                 [leg.coxa]\n\n[leg.femur]\n\n[leg.tibia]\n",
                place.name, place.x_mm, place.y_mm, place.yaw_deg
            );
        }
        Some(out)
    }
}

/// Where the legs would usually stand: pairs from front to rear, an odd one at the front.
/// A single leg is on the bench, and its own frame is the body's.
fn places(legs: usize) -> Option<Vec<Place>> {
    let place = |name: &str, x_mm: f64, y_mm: f64, yaw_deg: f64| Place {
        name: name.to_owned(),
        x_mm,
        y_mm,
        yaw_deg,
    };
    if legs == 0 || legs > Robot::MOST_LEGS {
        return None;
    }
    if legs == 1 {
        return Some(vec![place("LF", 0.0, 0.0, 0.0)]);
    }
    let rows: &[&str] = match legs / 2 {
        1 => &[""],
        2 => &["F", "R"],
        3 => &["F", "M", "R"],
        _ => &["F", "MF", "MR", "R"],
    };
    let mut out = Vec::new();
    if legs % 2 == 1 {
        out.push(place("F", 100.0, 0.0, 0.0));
    }
    for (side, sign) in [("L", 1.0), ("R", -1.0)] {
        for (row, suffix) in rows.iter().enumerate() {
            let along = match rows.len() {
                1 => 0.5,
                many => row as f64 / (many - 1) as f64,
            };
            let y = if row == 0 || row + 1 == rows.len() {
                55.0
            } else {
                75.0
            };
            out.push(place(
                &format!("{side}{suffix}"),
                85.0 - 170.0 * along,
                sign * y,
                sign * (45.0 + 90.0 * along),
            ));
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_robot_of_any_size_reads_without_a_word() {
        for legs in 1..=8 {
            let blank = Blank {
                name: "Dune \"7\"".into(),
                legs,
                links_mm: START_LINKS_MM,
            };
            let reading = read(&blank.text().expect("1 to 8"));
            assert_eq!(reading.findings, [], "{legs}");
            let robot = reading.robot.expect("good");
            assert_eq!(
                (robot.legs.len(), robot.name.as_str()),
                (legs, "Dune \"7\"")
            );
            assert!(
                robot
                    .joints()
                    .all(|(_, joint)| *joint == Default::default())
            );
        }
        let blank = Blank {
            name: "Dune".into(),
            legs: 6,
            links_mm: START_LINKS_MM,
        };
        let text = blank.text().expect("six");
        let still = |text: &str| is_still_blank(text, &read(text).robot.expect("good"));
        assert!(still(&text));
        assert!(!still(&text.replacen(
            "femur_mm = 67.0",
            "femur_mm = 66.0",
            1
        )));
        // Whoever takes the remark out has measured the same.
        assert!(!still(&text.replace(ONLY_A_START, "mine")));
        for n in lines_with(&text, "links") {
            assert!(
                text.lines()
                    .nth(n - 1)
                    .expect("a line")
                    .starts_with("links = ")
            );
        }
        assert_eq!(lines_with(&text, "mount").len(), 6);
        for legs in [0, 9] {
            let blank = Blank {
                name: "x".into(),
                legs,
                links_mm: START_LINKS_MM,
            };
            assert_eq!(blank.text(), None);
        }
    }
}
