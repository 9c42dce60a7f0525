//! The calibration file and its logbook on the disk: opened at the start, the logbook appended to at once,
//! the file saved on request; neither is ever replaced unasked.

use std::io;
use std::path::{Path, PathBuf};

use crate::calibration::Loaded;
use crate::calibration::file::{self, Claim, FileError};
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

/// The calibration files in `calibrations` under the current folder, the newest first.
pub fn at_hand() -> Vec<PathBuf> {
    let listed = std::fs::read_dir("calibrations").into_iter().flatten();
    let mut files: Vec<_> = listed
        .filter_map(|entry| {
            let entry = entry.ok()?;
            let path = entry.path();
            let is_one = path.extension().is_some_and(|end| end == "toml");
            let changed = entry.metadata().ok()?.modified().ok()?;
            is_one.then_some((std::cmp::Reverse(changed), path))
        })
        .collect();
    files.sort();
    files.into_iter().map(|(_, path)| path).collect()
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
    // A shipped example, another console's file and a folder that takes no lock stay as they are;
    // what is recorded waits in memory.
    let may_write = !file.is_read_only() && !file.is_without_lock() && !file.robot().template;
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
    said(work, result.map_err(WorkError::from))
}

/// Saves under another name, over a file that is there only if the builder said so.
///
/// One's own name asks for no question and gets none: what somebody else did to that file is never lost.
pub fn save_as(work: &mut Work, to: &SaveAs, stamp: &str) -> FileSaid {
    let (book, file) = work.book_and_file_mut();
    if file.is_at(&to.path) {
        return save(work, stamp);
    }
    let result = if to.overwrite {
        save_over(book, file, &to.path)
    } else {
        save_new(book, file, &to.path)
    };
    if result.is_ok() {
        note_saved(book, file, stamp);
    }
    said(work, result)
}

/// The logbook's copy is safely on the disk before anything has a new name, and gets its own last.
fn save_new(book: &mut Logbook, file: &mut Loaded, path: &Path) -> Result<(), WorkError> {
    if path.symlink_metadata().is_ok() {
        return Err(FileError::Exists(path.to_owned()).into());
    }
    let logbook = path_beside(path);
    if logbook.exists() {
        return Err(LogbookError::Exists(logbook).into());
    }
    let copy = book.copy_for(path)?;
    file.save_as(path, None)?;
    Ok(book.go_on_in(copy)?)
}

/// The other file is replaced in one step. Its logbook, the record of another robot, is moved aside before:
/// killed in between, there is one robot's file without a logbook, and never a file with another robot's.
fn save_over(book: &mut Logbook, file: &mut Loaded, path: &Path) -> Result<(), WorkError> {
    let claim = Claim::take(path)?;
    let copy = book.copy_for(path)?;
    let moved = set_aside(&path_beside(path))?;
    if let Err(error) = file.save_over(claim, None) {
        if let Some((logbook, aside)) = moved {
            // If even this fails, it is still there under the other name.
            let _ = std::fs::rename(aside, logbook);
        }
        return Err(error.into());
    }
    Ok(book.go_on_in(copy)?)
}

/// Notes in the logbook which file now holds everything.
fn note_saved(book: &mut Logbook, file: &Loaded, stamp: &str) {
    let sha256 = file.saved_sha256();
    // Without this entry nothing is lost: the file and the logbook are compared value by value at the next start.
    let _: Result<u64, LogbookError> = book.append(&[What::Saved { sha256 }], stamp);
}

/// Moves a logbook that is there to `NAME.replaced.logbook`, or to the first such name with a number that is free.
fn set_aside(logbook: &Path) -> Result<Option<(PathBuf, PathBuf)>, FileError> {
    if !logbook.exists() {
        return Ok(None);
    }
    let failed = |why| FileError::Write {
        path: logbook.to_owned(),
        why,
    };
    let numbers = std::iter::once(String::new()).chain((2..1000).map(|n| format!("-{n}")));
    let aside = numbers
        .map(|number| logbook.with_extension(format!("replaced{number}.logbook")))
        .find(|it| it.symlink_metadata().is_err())
        .ok_or_else(|| failed(io::Error::other("too many replaced logbooks beside it")))?;
    std::fs::rename(logbook, &aside).map_err(failed)?;
    Ok(Some((logbook.to_owned(), aside)))
}

fn said(work: &Work, result: Result<(), WorkError>) -> FileSaid {
    let error = match result {
        Ok(()) => return FileSaid::Saved(work.path().map(Path::to_owned).unwrap_or_default()),
        Err(WorkError::File(error)) => error,
        Err(WorkError::Logbook(error)) => return FileSaid::Failed(error.to_string()),
    };
    match error {
        FileError::Exists(path) => FileSaid::Exists(path),
        FileError::ChangedOnDisk(path) => FileSaid::ChangedOnDisk(path),
        FileError::ReadOnly(path) => FileSaid::Held(path),
        FileError::NoName(_) if work.path().is_some() => FileSaid::Example,
        other => FileSaid::Failed(other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::calibration::logbook::read_bytes;
    use crate::calibration::{JointKind, JointRef, MARRAM};
    use crate::estimate::knowledge;
    use crate::units::Pulse;

    const STAMP: &str = "2026-03-14T10:22:05Z";

    fn mark(work: &mut Work, at: JointRef, us: f64) {
        let pulse = Pulse::from_us(us).expect("in range");
        let proposal = work.mark(at, pulse, 0.0, None, STAMP).expect("it can be");
        record(work, &proposal.whats, STAMP).expect("recorded");
        work.recorded(&proposal).expect("it counts");
    }

    /// A robot of that name in `NAME.toml`, as its own console would open it.
    fn robot(folder: &Path, name: &str) -> Work {
        let path = folder.join(format!("{name}.toml"));
        let text = MARRAM
            .replace("template = true\n", "")
            .replace("name = \"Marram\"", &format!("name = \"{name}\""));
        std::fs::write(&path, text).expect("written");
        begin(Some(&path), STAMP).expect("opened")
    }

    fn over(path: &Path) -> SaveAs {
        SaveAs {
            path: path.to_owned(),
            overwrite: true,
        }
    }

    fn name_in(file: &Path) -> String {
        let reading = file::inspect(file).expect("always there");
        reading.robot.expect("whole at any moment").name
    }

    const FEMUR: JointRef = JointRef {
        leg: 0,
        kind: JointKind::Femur,
    };

    #[test]
    fn a_name_that_is_taken_is_replaced_only_when_the_builder_said_so() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("bench.toml");
        std::fs::write(&path, "somebody else's").expect("written");
        let mut work = Work::plan(PathBuf::new(), STAMP).expect("the plan");
        mark(&mut work, FEMUR, 1500.0);
        let saved = |work: &Work| -> Vec<String> {
            let entries = work.entries().iter();
            entries
                .filter_map(|it| match &it.what {
                    What::Saved { sha256 } => Some(sha256.clone()),
                    _ => None,
                })
                .collect()
        };
        assert_eq!(saved(&work), [""; 0], "nothing was saved yet");
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
        let bytes = std::fs::read(&path).expect("saved");
        assert_eq!(saved(&work), [crate::output::digest(&bytes)]);
        let again = file::inspect(&path).expect("read").robot.expect("good");
        let zero = again
            .joint(FEMUR)
            .and_then(|j| j.zero.clone())
            .expect("there");
        assert_eq!((zero.value, again.template), (1500.0, false));
        let mut names: Vec<_> = std::fs::read_dir(folder.path())
            .expect("listed")
            .filter_map(|e| e.ok()?.file_name().into_string().ok())
            .filter(|name| !name.starts_with('.'))
            .collect();
        names.sort();
        assert_eq!(names, ["bench.logbook", "bench.toml"]);
    }
    #[test]
    fn a_replaced_robots_logbook_is_kept_each_time_and_never_replaced_itself() {
        let folder = tempfile::tempdir().expect("a folder");
        let folder = folder.path();
        let taken = folder.join("taken.toml");
        let left_over = folder.join("taken.toml.replaced");
        std::fs::write(&left_over, "of an earlier hornset").expect("written");
        for round in 0..3 {
            let name = format!("robot-{round}");
            let mut work = robot(folder, &name);
            mark(&mut work, FEMUR, 1500.0);
            let said = match round {
                0 => save_as(
                    &mut work,
                    &SaveAs {
                        path: taken.clone(),
                        overwrite: false,
                    },
                    STAMP,
                ),
                _ => save_as(&mut work, &over(&taken), STAMP),
            };
            assert_eq!(said, FileSaid::Saved(taken.clone()));
            assert_eq!(name_in(&taken), name);
        }
        for (logbook, name) in [
            ("taken.replaced.logbook", "robot-0"),
            ("taken.replaced-2.logbook", "robot-1"),
            ("taken.logbook", "robot-2"),
        ] {
            let bytes = std::fs::read(folder.join(logbook)).expect(logbook);
            let entries = read_bytes(&bytes, &taken).expect("sound").entries;
            assert_eq!(knowledge(&entries).robot.name, name);
        }
        assert_eq!(
            std::fs::read(&left_over).expect("untouched"),
            b"of an earlier hornset"
        );
    }

    /// Run again as another process by the test below; by itself it does it once.
    #[test]
    fn saving_over_again_and_again() {
        let own = tempfile::tempdir().expect("a folder");
        let given = std::env::var_os("HORNSET_TEST_SAVING_OVER").map(PathBuf::from);
        let folder = given.as_deref().unwrap_or(own.path());
        let shared = folder.join("shared.toml");
        let [mut one, mut other] = ["one", "other"].map(|name| robot(folder, name));
        if !shared.exists() {
            // Whole at once: the parent may kill as soon as it is there.
            let made = folder.join("made.toml");
            std::fs::write(&made, text_of(&one)).expect("written");
            std::fs::rename(&made, &shared).expect("renamed");
        }
        loop {
            for work in [&mut one, &mut other] {
                let home = work.path().expect("a file").to_owned();
                let name = work.robot().name.clone();
                assert_eq!(
                    save_as(work, &over(&shared), STAMP),
                    FileSaid::Saved(shared.clone())
                );
                assert_eq!(name_in(&shared), name);
                // Back again, so that the other one may have it.
                assert_eq!(save_as(work, &over(&home), STAMP), FileSaid::Saved(home));
                for logbook in ["shared", "one", "other"] {
                    let aside = folder.join(format!("{logbook}.replaced.logbook"));
                    let _ = std::fs::remove_file(aside);
                }
            }
            if given.is_none() {
                return;
            }
        }
    }

    fn text_of(work: &Work) -> String {
        std::fs::read_to_string(work.path().expect("a file")).expect("there")
    }

    #[test]
    fn killed_while_it_saves_over_a_file_the_old_one_or_the_new_one_is_there_with_its_own_logbook()
    {
        let folder = tempfile::tempdir().expect("a folder");
        let shared = folder.path().join("shared.toml");
        let mut with_logbook = 0;
        for round in 0..30u64 {
            let mut child = std::process::Command::new(std::env::current_exe().expect("this one"))
                .args([
                    "--exact",
                    "console::runner::files::tests::saving_over_again_and_again",
                ])
                .env("HORNSET_TEST_SAVING_OVER", folder.path())
                .stdout(std::process::Stdio::null())
                .spawn()
                .expect("it runs");
            // Until it is at work, then a different moment each time.
            let before = std::fs::read(&shared).ok();
            let deadline = std::time::Instant::now() + Duration::from_secs(30);
            while before.is_none() && !shared.exists()
                || before.is_some() && std::fs::read(&shared).ok() == before
            {
                assert!(std::time::Instant::now() < deadline, "it never saved");
                std::thread::sleep(Duration::from_millis(1));
            }
            std::thread::sleep(Duration::from_micros(round * 1373 % 20_000));
            child.kill().expect("it was running");
            child.wait().expect("it has ended");
            for name in ["one", "other"] {
                assert_eq!(name_in(&folder.path().join(format!("{name}.toml"))), name);
            }
            let name = name_in(&shared);
            assert!(["one", "other"].contains(&name.as_str()), "{name}");
            let Ok(bytes) = std::fs::read(shared.with_extension("logbook")) else {
                continue;
            };
            let entries = read_bytes(&bytes, &shared).expect("sound").entries;
            assert_eq!(knowledge(&entries).robot.name, name);
            with_logbook += 1;
        }
        assert!(with_logbook > 0, "a logbook was there to look at");
    }
}
