//! The file on the disk: opened at the start, saved on request, never replaced unasked.

use std::path::{Path, PathBuf};

use crate::calibration::file::{self, FileError};
use crate::console::effect::{FileSaid, SaveAs};
use crate::console::work::Work;

/// Where a first save is offered: `calibrations` under the current folder when there is one.
pub fn folder() -> PathBuf {
    let folder = PathBuf::from("calibrations");
    if folder.is_dir() {
        folder
    } else {
        PathBuf::new()
    }
}

/// The work to begin with.
pub fn begin(path: Option<&Path>) -> Result<Work, FileError> {
    match path {
        Some(path) => Ok(Work::new(file::load(path)?, folder())),
        None => Work::plan(folder()),
    }
}

/// Saves where the work came from.
pub fn save(work: &mut Work) -> FileSaid {
    let result = work.file_mut().save();
    said(work, result)
}

/// Saves under another name.
pub fn save_as(work: &mut Work, to: &SaveAs) -> FileSaid {
    if !to.overwrite {
        let result = work.file_mut().save_as(&to.path, None);
        return said(work, result);
    }
    // The builder said that the other file may go. It is kept aside until the new one is safely there.
    let aside = to.path.with_extension("toml.replaced");
    let write = |source| FileError::Write {
        path: to.path.clone(),
        source,
    };
    if aside.exists() {
        return said(work, Err(FileError::Exists(aside)));
    }
    if let Err(error) = std::fs::rename(&to.path, &aside) {
        return said(work, Err(write(error)));
    }
    let result = work.file_mut().save_as(&to.path, None);
    let cleaned = match &result {
        Ok(()) => std::fs::remove_file(&aside),
        Err(_) => std::fs::rename(&aside, &to.path),
    };
    let result = result.and_then(|()| cleaned.map_err(write));
    said(work, result)
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

    #[test]
    fn a_name_that_is_taken_is_replaced_only_when_the_builder_said_so() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bench.toml");
        std::fs::write(&path, "somebody else's").expect("written");
        let mut work = Work::plan(PathBuf::new()).expect("the plan");
        let at = JointRef {
            leg: 0,
            kind: JointKind::Femur,
        };
        work.mark(at, Pulse::CENTRE, 0.0, "2026-03-14T10:22:05Z")
            .expect("recorded");
        let mut to = SaveAs {
            path: path.clone(),
            overwrite: false,
        };
        assert_eq!(save_as(&mut work, &to), FileSaid::Exists(path.clone()));
        let kept = std::fs::read_to_string(&path).expect("still there");
        assert_eq!(kept, "somebody else's");
        to.overwrite = true;
        assert_eq!(save_as(&mut work, &to), FileSaid::Saved(path.clone()));
        let again = file::inspect(&path).expect("read").robot.expect("good");
        let zero = again.joint(at).and_then(|j| j.zero.clone()).expect("there");
        assert_eq!((zero.value, again.template), (1500.0, false));
        let names: Vec<_> = std::fs::read_dir(folder.path())
            .expect("listed")
            .filter_map(|e| e.ok()?.file_name().into_string().ok())
            .filter(|name| !name.starts_with('.'))
            .collect();
        assert_eq!(names, ["bench.toml"]);
    }
}
