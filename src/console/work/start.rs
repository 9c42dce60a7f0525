//! What work begins with when no file was named: the practice robot's plan on it, a blank robot on a real board.
//!
//! Nobody's geometry and plugs are ever taken for the builder's, and nothing that was recorded is dropped.

use std::path::PathBuf;

use super::{Work, WorkError};
use crate::calibration::blank::{Blank, START_LINKS_MM};

/// What work without a file was begun with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Start {
    /// A file.
    File,
    /// The practice robot's geometry and plugs.
    Practice,
    /// A blank robot: the builder's own is not known yet.
    Blank,
}

impl Work {
    /// A plan to begin with when no file was named: the practice robot's geometry and plugs, nothing measured.
    pub fn plan(folder: PathBuf, stamp: &str) -> Result<Work, WorkError> {
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
        Work::begun(Start::Practice, &text, folder, stamp)
    }

    /// A robot of which nothing is known: what work on a real board begins with when no file was named.
    /// Its lengths are examples, and its text says so.
    fn blank(folder: PathBuf, stamp: &str) -> Result<Work, WorkError> {
        let blank = Blank {
            name: "Robot".into(),
            legs: 6,
            links_mm: START_LINKS_MM,
        };
        Work::begun(
            Start::Blank,
            &blank.text().unwrap_or_default(),
            folder,
            stamp,
        )
    }

    fn begun(start: Start, text: &str, folder: PathBuf, stamp: &str) -> Result<Work, WorkError> {
        let file = crate::calibration::file::from_text(text)?;
        let mut work = Work::new(file, folder, stamp)?;
        work.start = start;
        Ok(work)
    }

    /// A board was opened, a real one or the practice robot: work without a file begins with what fits it.
    ///
    /// The practice robot's geometry and plugs are nobody else's. What was recorded is never dropped for it.
    /// Returns what the builder should know, and what to do.
    pub fn fit(
        &mut self,
        real: bool,
        stamp: &str,
    ) -> Result<Option<(&'static str, &'static str)>, WorkError> {
        if self.path().is_some() || self.start == Start::File {
            return Ok(None);
        }
        let fits = real == (self.start == Start::Blank);
        if !fits && (!self.undo.is_empty() || self.unsaved > 0) {
            return Ok(Some((
                "What was recorded so far belongs to another robot than this one.",
                "S saves it. For this one leave with q, then hornset --file FILE.",
            )));
        }
        if !fits {
            let folder = self.folder.clone();
            *self = match real {
                true => Work::blank(folder, stamp)?,
                false => Work::plan(folder, stamp)?,
            };
        }
        Ok(real.then_some((
            "No file: six legs are taken, and their lengths and mounts are examples.",
            "Write yours into the saved file, or leave with q and use hornset new NAME.",
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::logbook::What;
    use crate::calibration::{Joint, JointKind, JointRef};
    use crate::units::Pulse;

    const STAMP: &str = "2026-03-14T10:22:05Z";

    fn work() -> Work {
        Work::plan(PathBuf::new(), STAMP).expect("the example reads")
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
    fn work_without_a_file_begins_with_what_fits_the_board() {
        let mut work = work();
        assert_eq!(work.fit(false, STAMP).expect("it reads"), None);
        assert_eq!(work.robot().name, "Marram");
        // A real board: nobody's plugs, needed travel or outline, and lengths that are called examples.
        let (what, _) = work.fit(true, STAMP).expect("it reads").expect("a word");
        assert!(what.contains("examples"), "{what}");
        assert_eq!(
            (work.robot().name.as_str(), work.robot().body),
            ("Robot", None)
        );
        assert!(work.robot().joints().all(|(_, it)| *it == Joint::default()));
        assert!(work.file.text().contains("these are only a start"));
        assert!(work.why_name().expect("it has none").contains("examples"));
        // Back to practice as long as nothing is recorded; then never silently.
        work.fit(false, STAMP).expect("it reads");
        assert_eq!(work.robot().name, "Marram");
        let pulse = Pulse::from_us(1487.5).expect("in range");
        let at = JointRef {
            leg: 0,
            kind: JointKind::Femur,
        };
        let proposal = work.mark(at, pulse, 0.0, None, STAMP).expect("a good one");
        work.book.append(&proposal.whats, STAMP).expect("kept");
        work.recorded(&proposal).expect("it counts");
        let (what, _) = work.fit(true, STAMP).expect("it reads").expect("a word");
        assert!(what.contains("another robot"), "{what}");
        assert_eq!((work.robot().name.as_str(), work.unsaved()), ("Marram", 1));
    }

    #[test]
    fn what_never_was_a_file_was_never_saved() {
        let saved = |work: &Work| {
            let entries = work.entries().iter();
            entries
                .filter(|it| matches!(it.what, What::Saved { .. }))
                .count()
        };
        let mut work = work();
        assert_eq!(saved(&work), 0);
        work.fit(true, STAMP).expect("it reads");
        assert_eq!(saved(&work), 0);
        assert!(!work.entries().is_empty());
    }
}
