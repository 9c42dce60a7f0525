//! The field behind `=` on the foot's and the body's page: a point, or a pose, value by value.

use std::time::Duration;

use super::{Flow, Layer, Table};
use crate::console::axes;
use crate::console::command::{
    Command, DIGITS, Foot, GO_THERE, HELP_F1, LEAVE_FIELD, SPACE, always,
};
use crate::console::compose;
use crate::console::effect::Now;
use crate::console::field::{Field, Takes};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::motion::{self, Moves, Plan};
use crate::console::stance;
use crate::console::state::State;
use crate::console::view;
use crate::kinematics::{CalibratedRobot, Course, Vec3};

/// What is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Foot(usize),
    Body,
}

/// Values being typed.
#[derive(Debug)]
pub struct Point {
    what: What,
    /// Name, unit, the exact value that was offered, and what stands there now.
    values: Vec<(&'static str, &'static str, f64, Field)>,
    at: usize,
}

const NEXT: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "next value",
    foot: &[Foot::new("Tab", "next value")],
    works: always,
};
const TABLE: Table = &[&DIGITS, &GO_THERE, &NEXT, &LEAVE_FIELD, &SPACE, &HELP_F1];

impl Point {
    /// For the chosen leg's foot, in the page's frame.
    pub fn foot(state: &State) -> Result<Point, String> {
        let leg = state.chosen.leg;
        motion::ready(state, leg)?;
        let robot = CalibratedRobot::new(state.work.robot().clone());
        let room = motion::room(state, &robot, leg)?;
        let mount = robot.robot().legs.get(leg).ok_or("no such leg")?.mount;
        let values = axes::shown(&mount, state.foot.frame, room.foot)
            .map(|(name, value)| (name, "mm", value))
            .into();
        Ok(Point::of(What::Foot(leg), values, 0))
    }

    /// For the body's pose, with this value first.
    pub fn body(state: &State, at: usize) -> Result<Point, String> {
        stance::ready(state)?;
        let values = stance::values(&stance::pose(state));
        let values = (0..6).map(|i| (stance::NAMES[i], stance::unit(i), values[i]));
        Ok(Point::of(What::Body, values.collect(), at))
    }

    fn of(what: What, values: Vec<(&'static str, &'static str, f64)>, at: usize) -> Point {
        let field = |value: f64| {
            // Typed as a keyboard can: the minus is a hyphen.
            let text = format!("{:.1}", value);
            let text = text.trim_end_matches(".0");
            Field::offering(Takes::Number, if text == "-0" { "0" } else { text })
        };
        Point {
            what,
            values: values
                .into_iter()
                .map(|(name, unit, value)| (name, unit, value, field(value)))
                .collect(),
            at,
        }
    }

    /// The values as they stand; what was not touched keeps all its digits.
    fn read(&self) -> Result<Vec<f64>, (usize, String)> {
        self.values
            .iter()
            .enumerate()
            .map(|(index, (_, _, exact, field))| match field.is_offered() {
                true => Ok(*exact),
                false => field.number().map_err(|why| (index, why)),
            })
            .collect()
    }

    /// The motion that leads there, if the whole way is free.
    fn plan(&self, state: &State) -> Result<(Moves, Plan), (usize, String)> {
        let values = self.read()?;
        let whole = |why: String| (self.at, why);
        match self.what {
            What::Foot(leg) => {
                let robot = CalibratedRobot::new(state.work.robot().clone());
                let room = motion::room(state, &robot, leg).map_err(whole)?;
                let to = self
                    .foot_point(state, &values)
                    .ok_or_else(|| whole("no such leg".into()))?;
                let course = Course::Line {
                    from: room.foot,
                    to,
                };
                let stream = motion::plan(state, &robot, vec![room], course);
                if let Some(stop) = stream.stop() {
                    let stop = compose::foot::stop_text(state, &stop);
                    return Err(whole(format!(
                        "{} mm, then {stop}",
                        stream.free_mm().floor()
                    )));
                }
                Ok((Moves::Foot(leg), Plan { robot, stream }))
            }
            What::Body => {
                let pose = stance::pose_of(std::array::from_fn(|i| {
                    values.get(i).copied().unwrap_or_default()
                }));
                let plan = stance::plan_to(state, pose).map_err(whole)?;
                if let Some(stop) = plan.stream.stop() {
                    let stop = compose::foot::stop_text_of_leg(state, &stop);
                    return Err(whole(format!("stops on the way: {stop}")));
                }
                stance::tips(state, &plan).map_or(Ok(()), |why| Err(whole(why)))?;
                Ok((Moves::Body, plan))
            }
        }
    }

    fn foot_point(&self, state: &State, values: &[f64]) -> Option<Vec3> {
        let What::Foot(leg) = self.what else {
            return None;
        };
        let mount = state.work.robot().legs.get(leg)?.mount;
        let values = [*values.first()?, *values.get(1)?, *values.get(2)?];
        Some(axes::meant(&mount, state.foot.frame, values))
    }

    /// `150 out, 10.4 fore, −75.6 up`.
    fn written(&self) -> String {
        let one = |(name, _, _, field): &(&str, &str, f64, Field)| {
            format!("{name} {}", field.text().replace('-', "−"))
        };
        let all: Vec<String> = self.values.iter().map(one).collect();
        all.join(", ")
    }
}

impl Layer for Point {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let first = format!("Enter goes to {}.", self.written());
        let second = match self.plan(state) {
            Ok((_, plan)) => {
                let seconds =
                    f64::from(plan.stream.frames_left(&plan.robot)) * motion::FRAME.as_secs_f64();
                format!(
                    "The path is free: {} mm, {seconds:.1} s. Hands off. Space stops.",
                    plan.stream.free_mm().round()
                )
            }
            Err((_, why)) => format!("Not like this: {why}."),
        };
        (first, second)
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        let at = self.at;
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::Put(c) => self.values[at].3.put(c),
            Intent::RubOut => self.values[at].3.rub_out(),
            Intent::Next => self.at = (at + 1) % self.values.len(),
            Intent::GoOn => match self.plan(state) {
                Ok((moves, plan)) => {
                    return Flow::Close(motion::start(state, moves, plan, true, now));
                }
                Err((index, why)) => {
                    self.at = index;
                    self.values[index].3.error = Some(why);
                }
            },
            _ => {}
        }
        Flow::Stay(Vec::new())
    }

    fn takes(&self, c: char) -> bool {
        self.values[self.at].3.takes(c)
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn page_field(&self, _state: &State) -> Option<view::ValueField> {
        let (name, unit, _, field) = &self.values[self.at];
        Some(view::ValueField {
            // The whole sentence stands in the second line.
            error: field.error.as_ref().map(|_| "see below".into()),
            ..field.shown(name, unit, 7)
        })
    }

    fn goal_mm(&self, state: &State) -> Option<Vec3> {
        self.foot_point(state, &self.read().ok()?)
    }

    fn big_words(&self) -> &'static str {
        match self.what {
            What::Foot(_) => "TYPE THE POINT",
            What::Body => "TYPE THE POSE",
        }
    }
}
