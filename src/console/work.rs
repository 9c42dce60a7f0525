//! The work on one robot in this session: what the logbook knows, how to take it back, whether it is saved.
//!
//! Whatever is recorded is proposed first, and checked as a file would be; the runner writes it into the logbook,
//! and only then it counts. The calibration in hand is what the logbook makes of it. Nothing here moves a pin.

mod start;

use std::path::{Path, PathBuf};

use crate::calibration::logbook::{self, Entry, JointName, Logbook, LogbookError, MarkKind, What};
use crate::calibration::{FileError, Joint, JointRef, Loaded, Method, Robot, Span, edit};
use crate::estimate::knowledge::MarkKnown;
use crate::estimate::{Knowledge, knowledge, knowledge_after, taken_over};
use crate::units::Pulse;

use self::start::Start;
use super::intent::Side;
use super::measure::{
    FACTORY_GUARD, GUARD_INSIDE_END_US, LIMIT_INSIDE_END_US, SAME_ANGLE_DEG, inside, number,
    ordered,
};

/// The robot under work.
#[derive(Debug)]
pub struct Work {
    file: Loaded,
    book: Logbook,
    known: Knowledge,
    /// Where a first save is offered: `calibrations` when there is such a folder, else here.
    folder: PathBuf,
    /// When it was last saved in this session, as the wall clock showed it: `10:41`.
    pub saved_at: Option<String>,
    undo: Vec<Group>,
    unsaved: u32,
    /// What the builder should know of the logbook that was opened: what was found, what to do.
    notices: Vec<(String, String)>,
    /// What was begun with, as long as there is no file.
    start: Start,
}

/// Entries that were recorded by one act of the builder, and are taken back by one.
#[derive(Debug, Clone)]
struct Group {
    what: String,
    at: JointRef,
    entries: Vec<u64>,
    counts: bool,
    guided: bool,
}

/// Something on its way into the logbook.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The entries to be.
    pub whats: Vec<What>,
    /// When it was decided, RFC 3339.
    pub stamp: String,
    /// What it is, as Backspace would call it: `the mark 0° of LF femur`.
    pub words: String,
    /// The joint that it is about.
    pub at: JointRef,
    /// It takes the last thing back.
    pub takes_back: bool,
    /// A machine of guided work found it.
    pub guided: bool,
}

/// What a mark leads to.
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
    /// Work on a file whose entries wait in memory, with the folder in which a first save is offered.
    pub fn new(file: Loaded, folder: PathBuf, stamp: &str) -> Result<Work, LogbookError> {
        Work::open(file, Logbook::in_memory(), folder, stamp)
    }

    /// Work on this file and its logbook.
    ///
    /// What the file says and the logbook does not know is taken over by hand; it is on the disk with the first
    /// thing that is recorded.
    pub fn open(
        file: Loaded,
        mut book: Logbook,
        folder: PathBuf,
        stamp: &str,
    ) -> Result<Work, LogbookError> {
        let mut missing = taken_over(file.robot(), &file.saved_sha256(), book.entries());
        let mut notices = about(&book);
        if !book.entries().is_empty() && !missing.is_empty() {
            notices.push((
                "The file was edited since it was saved: its values are taken over by hand.".into(),
                "The logbook keeps what stood there before. Enter goes on.".into(),
            ));
        }
        if file.is_without_lock() {
            notices.push((
                "Nothing can be written beside the file: a protected folder, or one without locks."
                    .into(),
                "What is recorded waits in memory; S saves it under another name. Enter goes on."
                    .into(),
            ));
        }
        if file.path().is_none() {
            // Nothing is saved of what never was a file.
            missing.retain(|it| !matches!(it, What::Saved { .. }));
        }
        book.append_later(&missing, stamp)?;
        let mut work = Work {
            known: knowledge(book.entries()),
            file,
            book,
            folder,
            saved_at: None,
            undo: Vec::new(),
            unsaved: 0,
            notices,
            start: Start::File,
        };
        match work.settle() {
            Ok(0) => {}
            Ok(newer) => {
                work.unsaved = newer as u32;
                work.notices.push((
                    "The logbook knows more than the file: it was not saved last time.".into(),
                    "Nothing is lost: s saves it. Enter goes on.".into(),
                ));
            }
            Err(error) => work.notices.push((
                "What the logbook says does not go into the file.".into(),
                error.to_string().lines().last().unwrap_or_default().into(),
            )),
        }
        Ok(work)
    }

    /// What is known now.
    pub fn robot(&self) -> &Robot {
        self.file.robot()
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
        if self.path().is_none() && self.start == Start::Blank {
            Some("No file yet. Its lengths and mounts are examples: write yours in.")
        } else if self.path().is_none() {
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
        let slug = slug.trim_matches('-');
        let first = folder.join(format!("my-{slug}.toml"));
        if self.path() == Some(&first) {
            return folder.join(format!("my-{slug}-2.toml"));
        }
        first
    }

    /// How many recorded things are not in the file yet.
    pub fn unsaved(&self) -> u32 {
        self.unsaved
    }

    /// Whether what is recorded is on the disk at once; else it waits in memory for a first save.
    pub fn is_durable(&self) -> bool {
        self.book.path().is_some()
    }

    /// What the logbook knows.
    pub fn known(&self) -> &Knowledge {
        &self.known
    }

    /// All entries, the oldest first.
    pub fn entries(&self) -> &[Entry] {
        self.book.entries()
    }

    /// The logbook and the file; the runner alone writes them.
    pub fn book_and_file_mut(&mut self) -> (&mut Logbook, &mut Loaded) {
        (&mut self.book, &mut self.file)
    }

    /// What the builder should know of the logbook that was opened: what was found, what to do.
    pub fn notices(&self) -> &[(String, String)] {
        &self.notices
    }

    /// The file now holds everything.
    pub fn was_saved(&mut self, at: String) {
        self.saved_at = Some(at);
        self.unsaved = 0;
    }

    /// What Backspace would take back.
    pub fn last(&self) -> Option<&str> {
        self.undo.last().map(|group| group.what.as_str())
    }

    /// The entries that Backspace would take back.
    pub fn last_whats(&self) -> Vec<What> {
        let last = self.undo.last().map_or(&[][..], |group| &group.entries);
        let of_it = self.entries().iter().filter(|it| last.contains(&it.n));
        of_it.map(|it| it.what.clone()).collect()
    }

    /// Whether a machine of guided work found what Backspace would take back.
    pub fn last_is_guided(&self) -> bool {
        self.undo.last().is_some_and(|group| group.guided)
    }

    /// Which joint Backspace would change, and what would be known then.
    pub fn without_last(&self) -> Option<(JointRef, Knowledge)> {
        let group = self.undo.last()?;
        let after = self.with(&undone(group), "1970-01-01T00:00:00Z").ok()?;
        Some((group.at, after))
    }

    /// Proposes to take the last recorded thing back; `None` when there is none.
    pub fn undo(&self, stamp: &str) -> Result<Option<Proposal>, String> {
        let Some(group) = self.undo.last() else {
            return Ok(None);
        };
        let mut proposal = self.propose(group.at, group.what.clone(), undone(group), stamp)?;
        proposal.takes_back = true;
        Ok(Some(proposal))
    }

    /// Proposes entries about a joint, if a file would take what follows from them.
    pub fn propose(
        &self,
        at: JointRef,
        words: String,
        whats: Vec<What>,
        stamp: &str,
    ) -> Result<Proposal, String> {
        let after = self.with(&whats, stamp).map_err(|e| e.to_string())?;
        let changes = edit::changes_of_robot(self.robot(), &after.robot);
        self.file.would_take(&changes).map_err(|e| e.to_string())?;
        Ok(Proposal {
            whats,
            stamp: stamp.to_owned(),
            words,
            at,
            takes_back: false,
            guided: false,
        })
    }

    /// What would be known with these entries too.
    fn with(&self, whats: &[What], stamp: &str) -> Result<Knowledge, LogbookError> {
        let more = self.book.prepare(whats, stamp)?;
        let all: Vec<Entry> = self.entries().iter().cloned().chain(more).collect();
        Ok(knowledge_after(&self.known, &all))
    }

    /// The logbook has taken a proposal, as its last entries: now it counts.
    pub fn recorded(&mut self, proposal: &Proposal) -> Result<(), String> {
        let last = self.book.next();
        let entries = last - proposal.whats.len() as u64..last;
        self.known = knowledge_after(&self.known, self.book.entries());
        let changed = self.settle().map_err(|e| e.to_string())?;
        if proposal.takes_back {
            let counted = self.undo.pop().is_some_and(|group| group.counts);
            // Taking back something that is in the file makes the file differ again.
            if changed > 0 || counted {
                self.unsaved = match self.unsaved {
                    0 => 1,
                    n => n - 1,
                };
            }
            return Ok(());
        }
        let counts = changed > 0 || !self.is_durable();
        self.unsaved += u32::from(counts);
        self.undo.push(Group {
            what: proposal.words.clone(),
            at: proposal.at,
            entries: entries.collect(),
            counts,
            guided: proposal.guided,
        });
        Ok(())
    }

    /// Makes the file in hand say what the logbook makes of it; tells how many joints changed.
    fn settle(&mut self) -> Result<usize, FileError> {
        let changes = edit::changes_of_robot(self.file.robot(), &self.known.robot);
        let mut joints: Vec<JointRef> = changes.iter().map(|(at, _)| *at).collect();
        joints.dedup();
        if !changes.is_empty() {
            self.file.record_all(&changes)?;
        }
        Ok(joints.len())
    }

    /// The joint's name in the logbook.
    pub fn name_of(&self, at: JointRef) -> JointName {
        let leg = self.robot().legs.get(at.leg);
        JointName::new(
            leg.map_or_else(String::new, |leg| leg.name.clone()),
            at.kind,
        )
    }

    /// Proposes: at `pulse` the joint stands at `angle_deg`, and it came there from that side.
    pub fn mark(
        &self,
        at: JointRef,
        pulse: Pulse,
        angle_deg: f64,
        from: Option<logbook::Side>,
        stamp: &str,
    ) -> Result<Proposal, String> {
        let title = self.robot().title(at);
        let words = format!("the mark {}° of {title}", number(angle_deg));
        // Two tries at one mark by hand, from the same side: the later replaces the earlier.
        let earlier = self.marks_of(at).filter(|it| {
            it.placing.is_none()
                && it.from == from
                && (it.angle_deg - angle_deg).abs() <= SAME_ANGLE_DEG
        });
        let mut whats: Vec<What> = earlier.map(|it| What::Undo { entry: it.n }).collect();
        whats.push(What::Mark {
            joint: self.name_of(at),
            pulse_us: pulse.us(),
            from,
            angle_deg,
            placing: None,
            by: MarkKind::Absolute,
        });
        self.propose(at, words, whats, stamp)
    }

    /// What the last mark of a joint led to.
    pub fn marked(&self, at: JointRef) -> Marked {
        let joint = self.robot().joint(at);
        let value = |it: fn(&Joint) -> &Option<crate::calibration::Recorded>| {
            joint
                .and_then(|joint| it(joint).as_ref())
                .map(|it| it.value)
        };
        let by_marks = joint
            .and_then(|joint| joint.scale.as_ref())
            .zip(self.marks_of(at).last())
            .is_some_and(|(scale, last)| {
                scale.by == Method::Marks && self.stamp_of(last.n) == Some(scale.at.as_str())
            });
        match (value(|j| &j.zero), value(|j| &j.scale)) {
            (Some(zero_us), Some(us_per_deg)) if by_marks => Marked::Fit {
                zero_us,
                us_per_deg,
                // A zero from an earlier file counts as one where there is a single new mark.
                marks: self.marks_of(at).count().max(2),
            },
            (Some(zero_us), _) => Marked::Zero { zero_us },
            (None, _) => Marked::Kept,
        }
    }

    /// The zero, µs, that no mark of this logbook told: taken over from a file, or typed. A first mark replaces it.
    pub fn zero_without_marks(&self, at: JointRef) -> Option<f64> {
        let zero = self.robot().joint(at)?.zero.as_ref()?;
        self.marks_of(at).next().is_none().then_some(zero.value)
    }

    fn stamp_of(&self, n: u64) -> Option<&str> {
        let entry = self.entries().iter().rev().find(|it| it.n == n);
        entry.map(|it| it.at.as_str())
    }

    /// The marks of one joint that count.
    pub fn marks_of(&self, at: JointRef) -> impl Iterator<Item = &MarkKnown> {
        self.known.joint(at).into_iter().flat_map(|it| &it.marks)
    }

    /// Proposes: the mechanism ends at `pulse`. Once both ends are known the limits are set inside them.
    ///
    /// The guard is drawn in to stay inside the end, so the joint must leave the end before the board takes it.
    pub fn end(
        &self,
        at: JointRef,
        side: Side,
        pulse: Pulse,
        stamp: &str,
    ) -> Result<Proposal, String> {
        let joint = self.robot().joint(at).ok_or("there is no such joint")?;
        let name = self.name_of(at);
        let (word, toward) = match side {
            Side::Near => ("near", logbook::End::Near),
            Side::Far => ("far", logbook::End::Far),
        };
        let words = format!("the {word} end of {}", self.robot().title(at));
        let (low, high) = joint.guard.unwrap_or(FACTORY_GUARD);
        let bound = inside(pulse, GUARD_INSIDE_END_US, side);
        let (low, high) = match side {
            Side::Near => ordered(bound, high),
            Side::Far => ordered(low, bound),
        };
        let mut whats = vec![
            What::End {
                joint: name.clone(),
                toward,
                pulse_us: pulse.us(),
                by: logbook::EndKind::Jog,
                why: None,
                others: Vec::new(),
            },
            What::Guard {
                joint: name.clone(),
                low_us: low.us(),
                high_us: high.us(),
            },
        ];
        let ends = match side {
            Side::Near => (Some(pulse.us()), joint.far_end.as_ref().map(|it| it.value)),
            Side::Far => (joint.near_end.as_ref().map(|it| it.value), Some(pulse.us())),
        };
        if let (Some(near), Some(far)) = ends {
            let low_us = (near + LIMIT_INSIDE_END_US).round();
            let high_us = (far - LIMIT_INSIDE_END_US).round();
            if low_us < high_us {
                whats.push(What::Limits {
                    joint: name,
                    margin_us: LIMIT_INSIDE_END_US,
                    low_us,
                    high_us,
                });
            }
        }
        self.propose(at, words, whats, stamp)
    }

    /// Why this pulse cannot be that end; `None` when it can.
    pub fn why_not_end(&self, at: JointRef, side: Side, pulse: Pulse) -> Option<String> {
        let joint = self.robot().joint(at)?;
        let room = 2.0 * LIMIT_INSIDE_END_US;
        match (side, &joint.near_end, &joint.far_end) {
            (Side::Near, _, Some(far)) if pulse.us() + room >= far.value => Some(format!(
                "less than {room} µs below the far end, {} µs",
                number(far.value)
            )),
            (Side::Far, Some(near), _) if pulse.us() - room <= near.value => Some(format!(
                "less than {room} µs above the near end, {} µs",
                number(near.value)
            )),
            _ => None,
        }
    }

    /// Proposes a joint's guard.
    pub fn guard(&self, at: JointRef, guard: Span, stamp: &str) -> Result<Proposal, String> {
        let words = format!("the guard of {}", self.robot().title(at));
        let what = What::Guard {
            joint: self.name_of(at),
            low_us: guard.0.us(),
            high_us: guard.1.us(),
        };
        self.propose(at, words, vec![what], stamp)
    }
}

/// The entries that take these back, the last first.
fn undone(group: &Group) -> Vec<What> {
    let entries = group.entries.iter().rev();
    entries.map(|&entry| What::Undo { entry }).collect()
}

/// What the builder should know of a logbook as it was read.
fn about(book: &Logbook) -> Vec<(String, String)> {
    let mut notices = Vec::new();
    if let Some(torn) = book.torn() {
        notices.push((
            format!(
                "Line {} of the logbook was torn by a crash: {} bytes that were never shown as recorded.",
                torn.line, torn.bytes
            ),
            "Everything before it is there. Enter goes on.".into(),
        ));
    }
    if let Some(first) = book.missing().first() {
        notices.push((
            format!(
                "The logbook lacks {} of its entries, the first is entry {first}.",
                book.missing().len()
            ),
            "Somebody took their lines out; what they said does not count. Enter goes on.".into(),
        ));
    }
    notices
}

/// Why there is no work to begin with.
#[derive(Debug, thiserror::Error)]
pub enum WorkError {
    /// The file.
    #[error(transparent)]
    File(#[from] FileError),
    /// Its logbook.
    #[error(transparent)]
    Logbook(#[from] LogbookError),
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
        Work::plan(PathBuf::new(), STAMP).expect("the example reads")
    }

    fn pulse(us: f64) -> Pulse {
        Pulse::from_us(us).expect("in range")
    }

    /// What the runner does with a proposal.
    fn record(work: &mut Work, proposal: Result<Proposal, String>) {
        let proposal = proposal.expect("a good one");
        work.book
            .append(&proposal.whats, &proposal.stamp)
            .expect("kept");
        work.recorded(&proposal).expect("it counts");
    }

    fn mark(work: &mut Work, us: f64, angle_deg: f64) -> Marked {
        let proposal = work.mark(FEMUR, pulse(us), angle_deg, None, STAMP);
        record(work, proposal);
        work.marked(FEMUR)
    }

    fn end(work: &mut Work, side: Side, us: f64) {
        let proposal = work.end(FEMUR, side, pulse(us), STAMP);
        record(work, proposal);
    }

    fn undo(work: &mut Work) -> Option<String> {
        let proposal = work.undo(STAMP).expect("it can be taken back")?;
        let words = proposal.words.clone();
        record(work, Ok(proposal));
        Some(words)
    }

    fn femur(work: &Work) -> &Joint {
        work.robot().joint(FEMUR).expect("there is one")
    }

    #[test]
    fn a_mark_at_zero_is_the_zero_and_a_second_gives_the_scale() {
        let mut work = work();
        let first = mark(&mut work, 1487.5, 0.0);
        assert_eq!(first, Marked::Zero { zero_us: 1487.5 });
        let second = mark(&mut work, 1965.5, 45.0);
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
        let typed = What::Typed {
            joint: work.name_of(FEMUR),
            zero_us: None,
            us_per_degree: Some(10.0),
            play_deg: None,
        };
        let proposal = work.propose(FEMUR, "typed".into(), vec![typed], STAMP);
        record(&mut work, proposal);
        let got = mark(&mut work, 1500.0, -110.0);
        assert_eq!(got, Marked::Zero { zero_us: 2600.0 });
    }

    #[test]
    fn a_mark_at_an_angle_waits_for_a_second_when_nothing_is_known() {
        let mut work = work();
        assert_eq!(mark(&mut work, 1700.0, 20.0), Marked::Kept);
        assert_eq!(femur(&work).zero, None);
        let got = mark(&mut work, 1300.0, -20.0);
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
        mark(&mut work, 1487.5, 0.0);
        let again = mark(&mut work, 1490.0, 0.0);
        assert_eq!(again, Marked::Zero { zero_us: 1490.0 });
        assert_eq!(work.marks_of(FEMUR).count(), 1);
    }

    #[test]
    fn undo_takes_back_one_thing_at_a_time_and_says_which() {
        let mut work = work();
        mark(&mut work, 1487.5, 0.0);
        end(&mut work, Side::Near, 868.0);
        assert_eq!(work.last(), Some("the near end of LF femur"));
        undo(&mut work).expect("taken back");
        assert_eq!(femur(&work).near_end, None);
        assert!(femur(&work).zero.is_some());
        assert_eq!(undo(&mut work).as_deref(), Some("the mark 0° of LF femur"));
        assert_eq!((femur(&work).zero.clone(), work.unsaved()), (None, 0));
        assert_eq!(undo(&mut work), None);
        assert_eq!(work.marks_of(FEMUR).count(), 0);
    }

    #[test]
    fn undo_of_saved_work_is_unsaved_work() {
        let mut work = work();
        mark(&mut work, 1487.5, 0.0);
        work.was_saved("10:41".into());
        assert_eq!(work.unsaved(), 0);
        undo(&mut work).expect("taken back");
        assert_eq!(work.unsaved(), 1);
    }

    #[test]
    fn both_ends_give_limits_inside_them_and_a_guard_between() {
        let mut work = work();
        end(&mut work, Side::Near, 868.0);
        end(&mut work, Side::Far, 2268.0);
        let joint = femur(&work);
        assert_eq!(joint.guard, Some((pulse(895.0), pulse(2241.0))));
        assert_eq!(joint.limits, Some((pulse(905.0), pulse(2231.0))));
        assert!(work.why_not_end(FEMUR, Side::Near, pulse(2250.0)).is_some());
        assert!(work.why_not_end(FEMUR, Side::Far, pulse(900.0)).is_some());
        assert!(work.why_not_end(FEMUR, Side::Far, pulse(2200.0)).is_none());
    }
}
