//! The logbook on the disk: read with care, appended to durably, never rewritten.
//!
//! A line is on the disk before [`Logbook::append`] returns.
//! What a crash left of a last line is noticed and cut off at the next append, not before.
//! It takes no lock of its own: whoever opens it to write holds the calibration file's.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::entry::{Entry, What};
use super::line::{self, LineFault};
use crate::calibration::disk::{self, Staged};
use crate::calibration::file::{FileError, shown};

/// The entries of one robot, in memory and, once it has a name, on the disk.
#[derive(Debug, Default)]
pub struct Logbook {
    entries: Vec<Entry>,
    torn: Option<Torn>,
    missing: Vec<u64>,
    /// So many of the last entries wait in memory for the next append.
    waiting: usize,
    home: Option<Home>,
}

/// All entries of a logbook, safely on the disk beside another calibration file and not yet in place.
#[derive(Debug)]
pub struct Copy {
    staged: Staged,
    home: Home,
}

#[derive(Debug)]
struct Home {
    path: PathBuf,
    /// Bytes up to the end of the last good line; what the file is expected to begin with.
    good: u64,
    /// Bytes of the whole file as it was last seen.
    size: u64,
    /// The last good line lacks its end.
    end_missing: bool,
    /// The last good line as it stands there, to know the file again.
    last: Vec<u8>,
}

/// What a crash left of a last line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Torn {
    /// Which line, from 1.
    pub line: usize,
    /// How many bytes of it.
    pub bytes: usize,
}

/// What the bytes of a logbook say.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Contents {
    /// Its entries.
    pub entries: Vec<Entry>,
    /// A last line that is not whole.
    pub torn: Option<Torn>,
    /// Numbers of entries that are not there: somebody took their lines out.
    pub missing: Vec<u64>,
    good: usize,
    end_missing: bool,
}

/// What went wrong with a logbook.
#[derive(Debug, Error)]
pub enum LogbookError {
    /// It could not be read.
    #[error("cannot read {}: {why}. Check that you may read it", shown(path))]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        why: io::Error,
    },
    /// A line is no entry.
    #[error(
        "{} line {line}: {why}. Nothing was changed. Put back a good copy of the file; or take that one line out, and its entry alone is lost",
        shown(path)
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// What is wrong with it.
        why: LineFault,
    },
    /// A newer hornset wrote in it.
    #[error(
        "{} line {line}: {why}. Use that hornset. Nothing was changed",
        shown(path)
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// What was found.
        why: LineFault,
    },
    /// An entry comes after one of the same or a larger number.
    #[error(
        "{} line {line}: found entry {found} after entry {before}, expected a larger number: lines were moved or doubled. Nothing was changed. Put back a good copy of the file",
        shown(path)
    )]
    Order {
        /// The file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// Its number.
        found: u64,
        /// The number before it.
        before: u64,
    },
    /// It is not as it was when it was last read or written here.
    #[error("{} was changed by somebody else and nothing was recorded. Save under another name, then compare the two", shown(.0))]
    Changed(PathBuf),
    /// An entry that cannot be.
    #[error("not recorded: {0}")]
    Unsound(String),
    /// It could not be written.
    #[error(
        "not recorded, cannot write {}: {why}. Make room or mend the folder's permissions, then record it again",
        shown(path)
    )]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        why: io::Error,
    },
    /// A logbook of that name is there.
    #[error("{} exists and was not overwritten: it is the record of another robot. Choose another name", shown(.0))]
    Exists(PathBuf),
    /// The new file itself could not be made.
    #[error(transparent)]
    File(#[from] FileError),
}

/// Where the logbook of a calibration file stands: beside it, `NAME.toml` and `NAME.logbook`.
pub fn path_beside(calibration: &Path) -> PathBuf {
    let target = fs::canonicalize(calibration).unwrap_or_else(|_| calibration.to_owned());
    target.with_extension("logbook")
}

/// Reads the bytes of a logbook; `path` is only for what is said about it.
pub fn read_bytes(bytes: &[u8], path: &Path) -> Result<Contents, LogbookError> {
    let mut contents = Contents::default();
    let mut last = 0;
    for (index, raw) in bytes.split_inclusive(|&b| b == b'\n').enumerate() {
        let line = index + 1;
        let ended = raw.strip_suffix(b"\n");
        let body = ended.unwrap_or(raw);
        let body = body.strip_suffix(b"\r").unwrap_or(body);
        if ended.is_some() && body.is_empty() {
            contents.good += raw.len();
            continue;
        }
        let entry = match line::read(body) {
            Ok(entry) => entry,
            Err(why @ LineFault::Newer(_)) => {
                let path = path.to_owned();
                return Err(LogbookError::Newer { path, line, why });
            }
            // A line is written with its end last: one without an end is what a crash left.
            Err(_) if ended.is_none() => {
                let bytes = raw.len();
                contents.torn = Some(Torn { line, bytes });
                break;
            }
            Err(why) => {
                let path = path.to_owned();
                return Err(LogbookError::Damaged { path, line, why });
            }
        };
        if entry.n <= last {
            return Err(LogbookError::Order {
                path: path.to_owned(),
                line,
                found: entry.n,
                before: last,
            });
        }
        contents.missing.extend((last + 1..entry.n).take(1000));
        last = entry.n;
        contents.good += raw.len();
        contents.end_missing = ended.is_none();
        contents.entries.push(entry);
    }
    Ok(contents)
}

impl Logbook {
    /// A logbook without a file: its entries wait in memory.
    pub fn in_memory() -> Logbook {
        Logbook::default()
    }

    /// Reads the logbook beside a calibration file; an empty one if there is none yet.
    ///
    /// The file is not touched before the first append. `may_write` is for whoever holds the calibration file's lock;
    /// without it the entries that are added wait in memory.
    pub fn open(calibration: &Path, may_write: bool) -> Result<Logbook, LogbookError> {
        let path = path_beside(calibration);
        let bytes = match fs::read(&path) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(why) => return Err(LogbookError::Read { path, why }),
        };
        let contents = read_bytes(&bytes, &path)?;
        let home = may_write.then(|| Home {
            good: contents.good as u64,
            size: bytes.len() as u64,
            end_missing: contents.end_missing,
            last: last_line(&bytes[..contents.good]).to_vec(),
            path,
        });
        Ok(Logbook {
            entries: contents.entries,
            torn: contents.torn,
            missing: contents.missing,
            waiting: 0,
            home,
        })
    }

    /// All entries, the oldest first.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The number that the next entry gets.
    pub fn next(&self) -> u64 {
        self.entries.last().map_or(1, |it| it.n + 1)
    }

    /// What a crash left of a last line; it stays in the file until the next append.
    pub fn torn(&self) -> Option<&Torn> {
        self.torn.as_ref()
    }

    /// Numbers of entries whose lines somebody took out.
    pub fn missing(&self) -> &[u64] {
        &self.missing
    }

    /// Where it stands; `None` while its entries wait in memory.
    pub fn path(&self) -> Option<&Path> {
        self.home.as_ref().map(|home| home.path.as_path())
    }

    /// The entries that [`Logbook::append`] would add, or why they cannot be.
    pub fn prepare(&self, whats: &[What], at: &str) -> Result<Vec<Entry>, LogbookError> {
        let mut entries = Vec::with_capacity(whats.len());
        for (n, what) in (self.next()..).zip(whats) {
            let entry = Entry {
                n,
                at: at.to_owned(),
                what: what.clone(),
            };
            if let Some(why) = entry.fault() {
                return Err(LogbookError::Unsound(why));
            }
            entries.push(entry);
        }
        Ok(entries)
    }

    /// Adds entries, all or none, and returns the number of the last one.
    ///
    /// When it returns they are on the disk, if there is a file; no crash and no power cut takes them away.
    pub fn append(&mut self, whats: &[What], at: &str) -> Result<u64, LogbookError> {
        let entries = self.prepare(whats, at)?;
        if let Some(home) = &mut self.home {
            let written = self.entries.len() - self.waiting;
            let text = lines(&self.entries[written..])? + &lines(&entries)?;
            home.append(&text)?;
            self.torn = None;
            self.waiting = 0;
        }
        self.entries.extend(entries);
        Ok(self.next() - 1)
    }

    /// Adds entries that reach the disk with the next [`Logbook::append`] and not before.
    ///
    /// For what can be found out again: a console that only looks leaves nothing behind.
    pub fn append_later(&mut self, whats: &[What], at: &str) -> Result<(), LogbookError> {
        let entries = self.prepare(whats, at)?;
        if self.home.is_some() {
            self.waiting += entries.len();
        }
        self.entries.extend(entries);
        Ok(())
    }

    /// Writes all entries for another calibration file: for a first save, or another name.
    ///
    /// They are put in their place by [`Logbook::go_on_in`]; until then no file has changed.
    pub fn copy_for(&self, calibration: &Path) -> Result<Copy, LogbookError> {
        let path = path_beside(calibration);
        let bytes = lines(&self.entries)?.into_bytes();
        Ok(Copy {
            staged: Staged::write(&path, &bytes)?,
            home: Home {
                good: bytes.len() as u64,
                size: bytes.len() as u64,
                end_missing: false,
                last: last_line(&bytes).to_vec(),
                path,
            },
        })
    }

    /// Puts that copy in its place and goes on there; nothing may have been added since it was made.
    ///
    /// A logbook that is there already is kept: it is the record of another robot.
    /// Whatever fails, it does not go on where it was: its entries wait in memory then.
    pub fn go_on_in(&mut self, copy: Copy) -> Result<(), LogbookError> {
        self.home = None;
        self.waiting = 0;
        copy.staged.put().map_err(|error| match error {
            FileError::Exists(path) => LogbookError::Exists(path),
            other => LogbookError::File(other),
        })?;
        self.torn = None;
        self.missing.clear();
        self.home = Some(copy.home);
        Ok(())
    }
}

fn lines(entries: &[Entry]) -> Result<String, LogbookError> {
    let unsound = |why: LineFault| LogbookError::Unsound(why.to_string());
    let lines: Result<String, LineFault> = entries.iter().map(line::write).collect();
    lines.map_err(unsound)
}

impl Home {
    fn append(&mut self, text: &str) -> Result<(), LogbookError> {
        self.write(text).map_err(|error| match error {
            Trouble::Changed => LogbookError::Changed(self.path.clone()),
            Trouble::Disk(why) => LogbookError::Write {
                path: self.path.clone(),
                why,
            },
        })
    }

    /// Writes after the last good line, and syncs. Whatever fails, the next write begins at the same place.
    fn write(&mut self, text: &str) -> Result<(), Trouble> {
        let is_new = self.size == 0;
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(is_new)
            .truncate(false)
            .open(&self.path)
            .map_err(|error| match error.kind() {
                io::ErrorKind::NotFound => Trouble::Changed,
                _ => Trouble::Disk(error),
            })?;
        self.is_the_same(&mut file)?;
        let mut bytes = Vec::with_capacity(text.len() + 1);
        if self.end_missing {
            bytes.push(b'\n');
        }
        bytes.extend_from_slice(text.as_bytes());
        let written = put(&mut file, self.good, &bytes).and_then(|()| match is_new {
            // A new file lasts only once its folder knows it.
            true => disk::sync_folder(&disk::folder_of(&self.path)),
            false => Ok(()),
        });
        if let Err(error) = written {
            // What was written of it is not recorded; if even this fails, the next write tries again.
            let _ = file.set_len(self.good);
            self.size = file.metadata().map_or(self.good, |it| it.len());
            return Err(Trouble::Disk(error));
        }
        self.good += bytes.len() as u64;
        self.size = self.good;
        self.end_missing = false;
        self.last = last_line(text.as_bytes()).to_vec();
        Ok(())
    }

    /// Whether this is the file that was read, or last written, here.
    fn is_the_same(&self, file: &mut File) -> Result<(), Trouble> {
        if file.metadata().map_err(Trouble::Disk)?.len() != self.size {
            return Err(Trouble::Changed);
        }
        let start = self.good - self.last.len() as u64;
        file.seek(SeekFrom::Start(start)).map_err(Trouble::Disk)?;
        let mut last = vec![0; self.last.len()];
        file.read_exact(&mut last).map_err(Trouble::Disk)?;
        if last == self.last {
            Ok(())
        } else {
            Err(Trouble::Changed)
        }
    }
}

enum Trouble {
    Changed,
    Disk(io::Error),
}

fn put(file: &mut File, at: u64, bytes: &[u8]) -> io::Result<()> {
    file.set_len(at)?;
    file.seek(SeekFrom::Start(at))?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// The last line with its end, if it has one.
fn last_line(bytes: &[u8]) -> &[u8] {
    let body = bytes.strip_suffix(b"\n").unwrap_or(bytes);
    let start = body
        .iter()
        .rposition(|&b| b == b'\n')
        .map_or(0, |at| at + 1);
    &bytes[start..]
}
