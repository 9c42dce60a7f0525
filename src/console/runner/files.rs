//! The calibration file and its logbook on the disk: opened at the start, the logbook appended to at once,
//! the file saved on request; neither is ever replaced unasked.

use std::path::{Path, PathBuf};

use crate::calibration::file::{self, FileError};
use crate::calibration::logbook::{Logbook, LogbookError, What, path_beside};
use crate::console::effect::{FileSaid, SaveAs};
use crate::console::work::{Work, WorkError};

/// Where a first save is offered: `calibrations` under the current folder when there is one.
pub fn folder() -> PathBuf {
    let folder = PathBuf::from("calibrations");
    if folder.is_dir() {
        folder
    } else {
        PathBuf::new()
    }
}

/// The time, as entries are stamped.
pub fn stamp() -> String {
    let now = jiff::Timestamp::now();
    now.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// The work to begin with.
pub fn begin(path: Option<&Path>, stamp: &str) -> Result<Work, WorkError> {
    let Some(path) = path else {
        return Work::plan(folder(), stamp);
    };
    let file = file::load(path)?;
    // A shipped example and another console's file stay as they are; what is recorded waits in memory.
    let may_write = !file.is_read_only() && !file.robot().template;
    let book = Logbook::open(path, may_write)?;
    Ok(Work::open(file, book, folder(), stamp)?)
}

/// Writes into the logbook.
pub fn record(work: &mut Work, whats: &[What], stamp: &str) -> Result<(), String> {
    let (book, _) = work.book_and_file_mut();
    book.append(whats, stamp)
        .map(|_| ())
        .map_err(|error| error.to_string())
}

/// Saves where the work came from.
pub fn save(work: &mut Work, stamp: &str) -> FileSaid {
    let (book, file) = work.book_and_file_mut();
    let result = file.save();
    if result.is_ok() {
        note_saved(book, file, stamp);
    }
    said(work, result)
}

/// Saves under another name: the logbook first, since the file is only what it makes of it.
pub fn save_as(work: &mut Work, to: &SaveAs, stamp: &str) -> FileSaid {
    let asides = if to.overwrite {
        match set_aside(&to.path) {
            Ok(asides) => asides,
            Err(error) => return said(work, Err(error)),
        }
    } else if to.path.exists() {
        return FileSaid::Exists(to.path.clone());
    } else {
        Vec::new()
    };
    let result = save_both(work, &to.path, stamp);
    for (place, aside) in asides {
        let is_logbook = place != to.path;
        let moved = match &result {
            // The other robot's record is kept; its calibration is what the builder agreed to lose.
            Ok(()) if is_logbook => Ok(()),
            Ok(()) => std::fs::remove_file(&aside),
            Err(_) => std::fs::rename(&aside, &place),
        };
        if let Err(source) = moved {
            let path = aside.clone();
            return said(work, Err(FileError::Write { path, source }));
        }
    }
    match result {
        Ok(()) => said(work, Ok(())),
        Err(WorkError::File(error)) => said(work, Err(error)),
        Err(WorkError::Logbook(error)) => FileSaid::Failed(error.to_string()),
    }
}

fn save_both(work: &mut Work, path: &Path, stamp: &str) -> Result<(), WorkError> {
    let (book, file) = work.book_and_file_mut();
    let copy = book.copy_beside(path)?;
    if let Err(error) = file.save_as(path, None) {
        copy.remove();
        return Err(error.into());
    }
    book.go_on_in(copy);
    note_saved(book, file, stamp);
    Ok(())
}

/// Notes in the logbook which file now holds everything.
fn note_saved(book: &mut Logbook, file: &file::Loaded, stamp: &str) {
    let sha256 = file.saved_sha256();
    // Without this entry nothing is lost: the file and the logbook are compared value by value at the next start.
    let _: Result<u64, LogbookError> = book.append(&[What::Saved { sha256 }], stamp);
}

/// The builder said that the other file may go. It and its logbook are kept aside until the new ones are safely there.
fn set_aside(path: &Path) -> Result<Vec<(PathBuf, PathBuf)>, FileError> {
    let logbook = path_beside(path);
    let mut asides = vec![(path.to_owned(), path.with_extension("toml.replaced"))];
    if logbook.exists() {
        asides.push((logbook.clone(), free_name(&logbook)));
    }
    for (index, (place, aside)) in asides.iter().enumerate() {
        let result = if aside.exists() {
            Err(FileError::Exists(aside.clone()))
        } else {
            std::fs::rename(place, aside).map_err(|source| FileError::Write {
                path: place.clone(),
                source,
            })
        };
        if let Err(error) = result {
            for (place, aside) in &asides[..index] {
                let _ = std::fs::rename(aside, place);
            }
            return Err(error);
        }
    }
    Ok(asides)
}

/// `NAME.replaced.logbook`, or with the first number that is free.
fn free_name(logbook: &Path) -> PathBuf {
    let name = |more: String| logbook.with_extension(format!("replaced{more}.logbook"));
    let first = name(String::new());
    if !first.exists() {
        return first;
    }
    let numbered = (2..1000).map(|number| name(format!("-{number}")));
    let mut free = numbered.filter(|it| !it.exists());
    free.next().unwrap_or(first)
}

fn said(work: &Work, result: Result<(), FileError>) -> FileSaid {
    match result {
        Ok(()) => FileSaid::Saved(work.path().map(Path::to_owned).unwrap_or_default()),
        Err(FileError::Exists(path)) => FileSaid::Exists(path),
        Err(FileError::ChangedOnDisk(path)) => FileSaid::ChangedOnDisk(path),
        Err(FileError::ReadOnly(path)) => FileSaid::Held(path),
        Err(other) => FileSaid::Failed(other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{JointKind, JointRef};
    use crate::units::Pulse;

    const STAMP: &str = "2026-03-14T10:22:05Z";

    fn mark(work: &mut Work, at: JointRef, us: f64) {
        let pulse = Pulse::from_us(us).expect("in range");
        let proposal = work.mark(at, pulse, 0.0, None, STAMP).expect("it can be");
        record(work, &proposal.whats, STAMP).expect("recorded");
        work.recorded(&proposal).expect("it counts");
    }

    #[test]
    fn a_name_that_is_taken_is_replaced_only_when_the_builder_said_so() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bench.toml");
        std::fs::write(&path, "somebody else's").expect("written");
        let mut work = Work::plan(PathBuf::new(), STAMP).expect("the plan");
        let at = JointRef {
            leg: 0,
            kind: JointKind::Femur,
        };
        mark(&mut work, at, 1500.0);
        let mut to = SaveAs {
            path: path.clone(),
            overwrite: false,
        };
        assert_eq!(
            save_as(&mut work, &to, STAMP),
            FileSaid::Exists(path.clone())
        );
        let kept = std::fs::read_to_string(&path).expect("still there");
        assert_eq!(kept, "somebody else's");
        to.overwrite = true;
        assert_eq!(
            save_as(&mut work, &to, STAMP),
            FileSaid::Saved(path.clone())
        );
        let again = file::inspect(&path).expect("read").robot.expect("good");
        let zero = again.joint(at).and_then(|j| j.zero.clone()).expect("there");
        assert_eq!((zero.value, again.template), (1500.0, false));
        let mut names: Vec<_> = std::fs::read_dir(folder.path())
            .expect("listed")
            .filter_map(|e| e.ok()?.file_name().into_string().ok())
            .filter(|name| !name.starts_with('.'))
            .collect();
        names.sort();
        assert_eq!(names, ["bench.logbook", "bench.toml"]);
    }
}
