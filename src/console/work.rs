//! The work on one robot in this session: what was recorded, how to take it back, whether it is saved.
//!
//! It changes the text in hand and remembers what the joint was before; each change is checked as a file would be.
//! It never writes a file and never moves a pin.

use std::path::{Path, PathBuf};

use crate::calibration::{
    Change, FileError, Joint, JointRef, Loaded, Method, Recorded, Robot, Span,
};
use crate::units::Pulse;

use super::intent::Side;
use super::measure::{
    FACTORY_GUARD, GUARD_INSIDE_END_US, LIMIT_INSIDE_END_US, Mark, SAME_ANGLE_DEG, fit, inside,
    number, ordered,
};

/// The robot under work.
#[derive(Debug)]
pub struct Work {
    file: Loaded,
    /// Where a first save is offered: `calibrations` when there is such a folder, else here.
    folder: PathBuf,
    /// When it was last saved in this session, as the wall clock showed it: `10:41`.
    pub saved_at: Option<String>,
    marks: Vec<Mark>,
    undo: Vec<Before>,
    unsaved: u32,
}

#[derive(Debug, Clone)]
struct Before {
    what: String,
    at: JointRef,
    joint: Joint,
    marks: Vec<Mark>,
}

/// What recording a mark led to.
#[derive(Debug, Clone, PartialEq)]
pub enum Marked {
    /// The zero alone was computed.
    Zero {
        /// µs; it may lie outside 500-2500.
        zero_us: f64,
    },
    /// Zero and µs/degree were fitted through this many marks.
    Fit {
        /// µs.
        zero_us: f64,
        /// µs for each degree, signed.
        us_per_deg: f64,
        /// How many marks.
        marks: usize,
    },
    /// The mark is kept; a second one at another angle is needed before anything follows from it.
    Kept,
}

impl Work {
    /// Fresh work on this file, with the folder in which a first save is offered.
    pub fn new(file: Loaded, folder: PathBuf) -> Work {
        Work {
            file,
            folder,
            saved_at: None,
            marks: Vec::new(),
            undo: Vec::new(),
            unsaved: 0,
        }
    }

    /// A plan to begin with when no file was named: the example robot's geometry and plugs, nothing measured.
    pub fn plan(folder: PathBuf) -> Result<Work, FileError> {
        let measured = [
            "servo",
            "zero_us",
            "us_per_degree",
            "near_end_us",
            "far_end_us",
            "limits_us",
            "guard_us",
            "play_deg",
        ];
        let key = |line: &str| line.split('=').next().unwrap_or_default().trim().to_owned();
        let text: String = crate::calibration::MARRAM
            .split_inclusive('\n')
            // Its heading speaks of the example.
            .skip_while(|line| line.starts_with('#') || line.trim().is_empty())
            .filter(|line| !measured.contains(&key(line).as_str()))
            .collect();
        let file = crate::calibration::file::from_text(&text)?;
        Ok(Work::new(file, folder))
    }

    /// What is known now.
    pub fn robot(&self) -> &Robot {
        self.file.robot()
    }

    /// The file in hand; the runner alone saves it.
    pub fn file_mut(&mut self) -> &mut Loaded {
        &mut self.file
    }

    /// The file's path; `None` until the first save has asked for a name.
    pub fn path(&self) -> Option<&Path> {
        self.file.path()
    }

    /// Another console holds the file: it can only be saved under another name.
    pub fn read_only(&self) -> bool {
        self.file.is_read_only()
    }

    /// How many things in the file its builder should look at again.
    pub fn warnings(&self) -> usize {
        self.file.warnings().len()
    }

    /// Why a name must be asked before it can be saved; `None` when it need not.
    pub fn why_name(&self) -> Option<&'static str> {
        if self.path().is_none() {
            Some("It has no file yet.")
        } else if self.robot().template {
            Some("The shipped example stays as it is.")
        } else if self.read_only() {
            Some("Another console holds the file.")
        } else {
            None
        }
    }

    /// A name to save under that is not the present one.
    pub fn offered_path(&self) -> PathBuf {
        let slug: String = self
            .robot()
            .name
            .chars()
            .map(|c| {
                if c.is_ascii_alphanumeric() {
                    c.to_ascii_lowercase()
                } else {
                    '-'
                }
            })
            .collect();
        let folder = match self.path().and_then(Path::parent) {
            Some(folder) => folder,
            None => &self.folder,
        };
        folder.join(format!("my-{}.toml", slug.trim_matches('-')))
    }

    /// How many recorded things are not in the file yet.
    pub fn unsaved(&self) -> u32 {
        self.unsaved
    }

    /// The file now holds everything.
    pub fn was_saved(&mut self, at: String) {
        self.saved_at = Some(at);
        self.unsaved = 0;
    }

    /// What Backspace would take back.
    pub fn last(&self) -> Option<&str> {
        self.undo.last().map(|b| b.what.as_str())
    }

    /// Which joint Backspace would change, and to what guard.
    pub fn last_guard(&self) -> Option<(JointRef, Option<Span>)> {
        self.undo.last().map(|b| (b.at, b.joint.guard))
    }

    /// Takes the last recorded thing back and says what it was and whose.
    pub fn undo(&mut self) -> Result<Option<(String, JointRef)>, String> {
        let Some(before) = self.undo.last().cloned() else {
            return Ok(None);
        };
        let now = self.robot().joint(before.at).cloned().unwrap_or_default();
        let changes = changes(&now, &before.joint);
        self.file
            .record(before.at, &changes)
            .map_err(|e| e.to_string())?;
        self.undo.pop();
        self.marks = before.marks;
        // Taking back something that is in the file makes the file differ again.
        if !changes.is_empty() {
            self.unsaved = match self.unsaved {
                0 => 1,
                n => n - 1,
            };
        }
        Ok(Some((before.what, before.at)))
    }

    fn change(
        &mut self,
        at: JointRef,
        what: String,
        change: impl FnOnce(&mut Joint),
    ) -> Result<(), String> {
        let before = self
            .robot()
            .joint(at)
            .cloned()
            .ok_or("there is no such joint")?;
        let mut after = before.clone();
        change(&mut after);
        let changes = changes(&before, &after);
        self.file.record(at, &changes).map_err(|e| e.to_string())?;
        self.undo.push(Before {
            what,
            at,
            joint: before,
            marks: self.marks.clone(),
        });
        if !changes.is_empty() {
            self.unsaved += 1;
        }
        Ok(())
    }

    /// Records that at `pulse` the joint stands at `angle_deg`; fits zero and scale when there is enough to fit.
    pub fn mark(
        &mut self,
        at: JointRef,
        pulse: Pulse,
        angle_deg: f64,
        stamp: &str,
    ) -> Result<Marked, String> {
        let what = format!(
            "the mark {}° of {}",
            number(angle_deg),
            self.robot().title(at)
        );
        let joint = self.robot().joint(at).cloned().unwrap_or_default();
        let mark = Mark {
            joint: at,
            pulse_us: pulse.us(),
            angle_deg,
        };
        let mut marks: Vec<Mark> = self.marks_of(at).copied().collect();
        // A zero that a former session recorded by jogging or fitted from marks is an observation too.
        if let Some(zero) = &joint.zero
            && marks.is_empty()
            && matches!(zero.by, Method::Jog | Method::Marks)
        {
            marks.push(Mark {
                joint: at,
                pulse_us: zero.value,
                angle_deg: 0.0,
            });
        }
        marks.retain(|m| (m.angle_deg - angle_deg).abs() > SAME_ANGLE_DEG);
        marks.push(mark);
        let recorded = |value, by| {
            Some(Recorded {
                value,
                spread: None,
                at: stamp.to_owned(),
                by,
            })
        };
        let outcome = match fit(&marks) {
            Some((zero_us, us_per_deg)) => {
                self.change(at, what, |joint| {
                    joint.zero = recorded(zero_us, Method::Marks);
                    joint.scale = recorded(us_per_deg, Method::Marks);
                })?;
                Marked::Fit {
                    zero_us,
                    us_per_deg,
                    marks: marks.len(),
                }
            }
            None => {
                let zero_us = match &joint.scale {
                    Some(scale) => Some(pulse.us() - scale.value * angle_deg),
                    None if angle_deg == 0.0 => Some(pulse.us()),
                    None => None,
                };
                self.change(at, what, |joint| {
                    if let Some(zero_us) = zero_us {
                        joint.zero = recorded(zero_us, Method::Jog);
                    }
                })?;
                zero_us.map_or(Marked::Kept, |zero_us| Marked::Zero { zero_us })
            }
        };
        self.marks
            .retain(|m| m.joint != at || (m.angle_deg - angle_deg).abs() > SAME_ANGLE_DEG);
        self.marks.push(mark);
        Ok(outcome)
    }

    /// This session's marks of one joint.
    pub fn marks_of(&self, at: JointRef) -> impl Iterator<Item = &Mark> {
        self.marks.iter().filter(move |m| m.joint == at)
    }

    /// Records that the mechanism ends at `pulse`; once both ends are known the limits are set inside them.
    ///
    /// The guard is drawn in to stay inside the end, so the joint must leave the end before the board takes it.
    pub fn end(
        &mut self,
        at: JointRef,
        side: Side,
        pulse: Pulse,
        stamp: &str,
    ) -> Result<(), String> {
        let word = match side {
            Side::Near => "near",
            Side::Far => "far",
        };
        let what = format!("the {word} end of {}", self.robot().title(at));
        let end = Some(Recorded {
            value: pulse.us(),
            spread: None,
            at: stamp.to_owned(),
            by: Method::Jog,
        });
        self.change(at, what, |joint| {
            let (low, high) = joint.guard.unwrap_or(FACTORY_GUARD);
            match side {
                Side::Near => {
                    joint.near_end = end;
                    joint.guard = Some(ordered(inside(pulse, GUARD_INSIDE_END_US, side), high));
                }
                Side::Far => {
                    joint.far_end = end;
                    joint.guard = Some(ordered(low, inside(pulse, GUARD_INSIDE_END_US, side)));
                }
            }
            if let (Some(near), Some(far)) = (&joint.near_end, &joint.far_end) {
                let pair = (
                    Pulse::from_us((near.value + LIMIT_INSIDE_END_US).round()),
                    Pulse::from_us((far.value - LIMIT_INSIDE_END_US).round()),
                );
                joint.limits = match pair {
                    (Some(near), Some(far)) if near < far => Some((near, far)),
                    _ => None,
                };
            }
        })
    }

    /// Why this pulse cannot be that end; `None` when it can.
    pub fn why_not_end(&self, at: JointRef, side: Side, pulse: Pulse) -> Option<String> {
        let joint = self.robot().joint(at)?;
        let room = 2.0 * LIMIT_INSIDE_END_US;
        match (side, &joint.near_end, &joint.far_end) {
            (Side::Near, _, Some(far)) if pulse.us() + room >= far.value => Some(format!(
                "the near end must lie at least {room} µs below the far end, {} µs",
                number(far.value)
            )),
            (Side::Far, Some(near), _) if pulse.us() - room <= near.value => Some(format!(
                "the far end must lie at least {room} µs above the near end, {} µs",
                number(near.value)
            )),
            _ => None,
        }
    }

    /// Sets a joint's guard.
    pub fn guard(&mut self, at: JointRef, guard: Span) -> Result<(), String> {
        let what = format!("the guard of {}", self.robot().title(at));
        self.change(at, what, |joint| joint.guard = Some(guard))
    }
}

/// What must be written down to make one joint into the other.
fn changes(from: &Joint, to: &Joint) -> Vec<Change> {
    let mut changes = Vec::new();
    if from.pin != to.pin {
        changes.push(Change::Pin(to.pin));
    }
    if from.zero != to.zero {
        changes.push(Change::Zero(to.zero.clone()));
    }
    if from.scale != to.scale {
        changes.push(Change::Scale(to.scale.clone()));
    }
    if from.near_end != to.near_end {
        changes.push(Change::NearEnd(to.near_end.clone()));
    }
    if from.far_end != to.far_end {
        changes.push(Change::FarEnd(to.far_end.clone()));
    }
    if from.limits != to.limits {
        changes.push(Change::Limits(to.limits));
    }
    if from.guard != to.guard {
        changes.push(Change::Guard(to.guard));
    }
    changes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::JointKind;

    const FEMUR: JointRef = JointRef {
        leg: 0,
        kind: JointKind::Femur,
    };
    const STAMP: &str = "2026-03-14T10:22:05Z";

    fn work() -> Work {
        Work::plan(PathBuf::new()).expect("the example reads")
    }

    fn pulse(us: f64) -> Pulse {
        Pulse::from_us(us).expect("in range")
    }

    fn femur(work: &Work) -> &Joint {
        work.robot().joint(FEMUR).expect("there is one")
    }

    #[test]
    fn the_plan_has_plugs_and_nothing_measured() {
        let work = work();
        for (_, joint) in work.robot().joints() {
            let expected = Joint {
                pin: joint.pin,
                needed_deg: joint.needed_deg,
                ..Joint::default()
            };
            assert_eq!(*joint, expected);
            assert!(joint.pin.is_some() && joint.needed_deg.is_some());
        }
        assert!(work.path().is_none() && work.unsaved() == 0);
    }

    #[test]
    fn a_mark_at_zero_is_the_zero_and_a_second_gives_the_scale() {
        let mut work = work();
        let first = work
            .mark(FEMUR, pulse(1487.5), 0.0, STAMP)
            .expect("recorded");
        assert_eq!(first, Marked::Zero { zero_us: 1487.5 });
        let second = work
            .mark(FEMUR, pulse(1965.5), 45.0, STAMP)
            .expect("recorded");
        assert_eq!(
            second,
            Marked::Fit {
                zero_us: 1487.5,
                us_per_deg: 10.622,
                marks: 2
            }
        );
        assert_eq!(work.unsaved(), 2);
        assert_eq!(
            femur(&work).scale.as_ref().map(|s| s.by),
            Some(Method::Marks)
        );
    }

    #[test]
    fn a_zero_may_be_computed_outside_the_travel() {
        let mut work = work();
        let typed = Recorded {
            value: 10.0,
            spread: None,
            at: STAMP.into(),
            by: Method::Typed,
        };
        work.change(FEMUR, "typed".into(), |joint| joint.scale = Some(typed))
            .expect("recorded");
        let got = work
            .mark(FEMUR, pulse(1500.0), -110.0, STAMP)
            .expect("recorded");
        assert_eq!(got, Marked::Zero { zero_us: 2600.0 });
    }

    #[test]
    fn a_mark_at_an_angle_waits_for_a_second_when_nothing_is_known() {
        let mut work = work();
        assert_eq!(
            work.mark(FEMUR, pulse(1700.0), 20.0, STAMP),
            Ok(Marked::Kept)
        );
        assert_eq!(femur(&work).zero, None);
        let got = work
            .mark(FEMUR, pulse(1300.0), -20.0, STAMP)
            .expect("recorded");
        assert_eq!(
            got,
            Marked::Fit {
                zero_us: 1500.0,
                us_per_deg: 10.0,
                marks: 2
            }
        );
    }

    #[test]
    fn a_second_try_at_the_same_angle_replaces_the_first() {
        let mut work = work();
        work.mark(FEMUR, pulse(1487.5), 0.0, STAMP)
            .expect("recorded");
        let again = work
            .mark(FEMUR, pulse(1490.0), 0.0, STAMP)
            .expect("recorded");
        assert_eq!(again, Marked::Zero { zero_us: 1490.0 });
        assert_eq!(work.marks_of(FEMUR).count(), 1);
    }

    #[test]
    fn undo_takes_back_one_thing_at_a_time_and_says_which() {
        let mut work = work();
        work.mark(FEMUR, pulse(1487.5), 0.0, STAMP)
            .expect("recorded");
        work.end(FEMUR, Side::Near, pulse(868.0), STAMP)
            .expect("recorded");
        assert_eq!(work.last(), Some("the near end of LF femur"));
        work.undo().expect("taken back");
        assert_eq!(femur(&work).near_end, None);
        assert!(femur(&work).zero.is_some());
        let undone = work.undo().expect("taken back").map(|u| u.0);
        assert_eq!(undone.as_deref(), Some("the mark 0° of LF femur"));
        assert_eq!((femur(&work).zero.clone(), work.unsaved()), (None, 0));
        assert_eq!(work.undo(), Ok(None));
        assert_eq!(work.marks_of(FEMUR).count(), 0);
    }

    #[test]
    fn undo_of_saved_work_is_unsaved_work() {
        let mut work = work();
        work.mark(FEMUR, pulse(1487.5), 0.0, STAMP)
            .expect("recorded");
        work.was_saved("10:41".into());
        assert_eq!(work.unsaved(), 0);
        work.undo().expect("taken back");
        assert_eq!(work.unsaved(), 1);
    }

    #[test]
    fn both_ends_give_limits_inside_them_and_a_guard_between() {
        let mut work = work();
        work.end(FEMUR, Side::Near, pulse(868.0), STAMP)
            .expect("recorded");
        work.end(FEMUR, Side::Far, pulse(2268.0), STAMP)
            .expect("recorded");
        let joint = femur(&work);
        assert_eq!(joint.guard, Some((pulse(895.0), pulse(2241.0))));
        assert_eq!(joint.limits, Some((pulse(905.0), pulse(2231.0))));
        assert!(work.why_not_end(FEMUR, Side::Near, pulse(2250.0)).is_some());
        assert!(work.why_not_end(FEMUR, Side::Far, pulse(900.0)).is_some());
        assert!(work.why_not_end(FEMUR, Side::Far, pulse(2200.0)).is_none());
    }
}
