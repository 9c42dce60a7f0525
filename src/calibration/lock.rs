//! One console a file: who may save it, for as long as it is open.
//!
//! It guards against a second hornset, not against an editor; for that the bytes are compared before each save.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

use super::disk::folder_of;

/// Whether this console may save the file.
#[derive(Debug)]
pub(super) enum Hold {
    /// It holds the lock until it is dropped.
    Held(#[allow(dead_code, reason = "held, never read")] Lock),
    /// Another console holds it: read-only.
    Elsewhere,
    /// No lock can be had here (a folder that cannot be written to, a file system without locks).
    /// A save says what is in its way; nothing else is written beside the file.
    Without,
}

/// One console a file: a lock on a small file beside it, `.NAME.toml.lock`, taken away again at the end.
///
/// The calibration file itself cannot carry the lock, since each save puts a new file in its place.
#[derive(Debug)]
pub(super) struct Lock {
    path: PathBuf,
    file: Option<File>,
}

impl Hold {
    pub(super) fn take(path: &Path) -> Hold {
        let Ok(target) = fs::canonicalize(path) else {
            return Hold::Without;
        };
        let name = target.file_name().unwrap_or_default().to_string_lossy();
        let path = folder_of(&target).join(format!(".{name}.lock"));
        // A holder that just left may have taken the lock file away between open and lock: look again.
        for _ in 0..10 {
            let options = OpenOptions::new()
                .create(true)
                .truncate(false)
                .write(true)
                .open(&path);
            let Ok(file) = options else {
                return Hold::Without;
            };
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => return Hold::Elsewhere,
                Err(TryLockError::Error(_)) => {
                    // Nobody can hold it here, so it is of no use to anybody.
                    let _ = fs::remove_file(&path);
                    return Hold::Without;
                }
            }
            if is_still_there(&file, &path) {
                return Hold::Held(Lock {
                    path,
                    file: Some(file),
                });
            }
        }
        Hold::Elsewhere
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Away first, then unlocked: whoever opened it meanwhile sees that it is gone.
        let _ = fs::remove_file(&self.path);
        self.file.take();
    }
}

#[cfg(unix)]
fn is_still_there(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), fs::metadata(path)) {
        (Ok(held), Ok(there)) => held.ino() == there.ino() && held.dev() == there.dev(),
        _ => false,
    }
}

#[cfg(not(unix))]
fn is_still_there(_file: &File, path: &Path) -> bool {
    path.exists()
}
