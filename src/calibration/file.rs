//! A calibration file on the disk: opened, locked, changed, saved whole or not at all.
//!
//! What is saved is the builder's own text with the changes in it.
//! It never overwrites a file that changed on the disk since it was loaded, nor another file unasked.
//! It reads no clock: times come with the values.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use thiserror::Error;

pub use super::disk::{create, replace, shown};
use super::disk::{folder_of, keep_beside, target_of};
use super::edit::{self, Change};
use super::finding::Finding;
use super::lock::Hold;
use super::model::{JointRef, Robot};
use super::read::{self, Reading};
use super::reader::nearest;

/// A calibration in hand: what it says, its text, and the file it came from.
#[derive(Debug)]
pub struct Loaded {
    robot: Robot,
    warnings: Vec<Finding>,
    /// The builder's text with all changes.
    text: String,
    /// The text as it stands on the disk, or stood in the template.
    saved: String,
    home: Option<Home>,
    /// What stood before each change, and what the change was.
    history: Vec<(String, String)>,
}

/// Where the file lives.
#[derive(Debug)]
struct Home {
    /// As the builder named it.
    path: PathBuf,
    /// The bytes that a save expects to find there.
    bytes: Vec<u8>,
    /// A file of an older format, kept beside the new one at the first save.
    older: Option<i64>,
    /// Held while this console has the file.
    hold: Hold,
}

/// What went wrong with a file as a whole.
#[derive(Debug, Error)]
pub enum FileError {
    /// It could not be read.
    #[error(
        "cannot read {}: {why}. Check the name and that you may read it",
        shown(path)
    )]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        why: io::Error,
    },
    /// It is not there.
    #[error(
        "found no file {}, expected a calibration file. {}",
        shown(path),
        instead(path, like.as_deref())
    )]
    Missing {
        /// The file.
        path: PathBuf,
        /// One that is there and may be meant.
        like: Option<PathBuf>,
    },
    /// It is no good calibration file.
    #[error("{} is refused:\n{}", shown(path), list(findings))]
    Refused {
        /// The file.
        path: PathBuf,
        /// Everything that is wrong.
        findings: Vec<Finding>,
    },
    /// A change that would make the file a bad one.
    #[error("not recorded, the file would be refused:\n{}", list(.0))]
    BadChange(Vec<Finding>),
    /// A change about a joint that the file does not have.
    #[error(
        "not recorded: the file has no {0}; it was expected to have one to eight legs of three joints"
    )]
    NoJoint(String),
    /// A number that cannot be written.
    #[error("not recorded: {0} is not a finite number; measure it again")]
    NotFinite(&'static str),
    /// Another console has it.
    #[error("{} is open in another hornset: this one only reads it. Close the other one, or save under another name", shown(.0))]
    ReadOnly(PathBuf),
    /// It has no name yet, or it is a template.
    #[error("{what} has no file of its own yet: save it under a name", what = .0)]
    NoName(String),
    /// It was changed since it was loaded.
    #[error("{} was changed by somebody else since it was loaded, and was not overwritten. Save under another name, then compare the two", shown(.0))]
    ChangedOnDisk(PathBuf),
    /// A file of that name is there.
    #[error("{} exists and was not overwritten. Choose another name", shown(.0))]
    Exists(PathBuf),
    /// The folder that it would be in is not there.
    #[error(
        "cannot save {}: found no folder {}, expected one that is there. Make it first, or choose another name; nothing was written",
        shown(path),
        shown(folder)
    )]
    NoFolder {
        /// The file.
        path: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// It could not be written.
    #[error(
        "cannot save {}: {why}. The file is as it was; the work is not lost: save it elsewhere",
        shown(path)
    )]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        why: io::Error,
    },
}

/// The lock of a file that is there and is to be replaced: nothing of it is moved or replaced without.
#[derive(Debug)]
pub struct Claim {
    path: PathBuf,
    hold: Hold,
}

impl Claim {
    /// Takes the lock; a file that a console has open, this one included, is not to be had.
    pub fn take(path: &Path) -> Result<Claim, FileError> {
        let path = path.to_owned();
        match Hold::take(&path) {
            Hold::Elsewhere => Err(FileError::ReadOnly(path)),
            hold => Ok(Claim { path, hold }),
        }
    }
}

/// The bytes of a file, as they are.
pub fn bytes(path: &Path) -> Result<Vec<u8>, FileError> {
    read_all(path)
}

fn list(findings: &[Finding]) -> String {
    let lines: Vec<String> = findings.iter().map(|it| format!("  {it}")).collect();
    lines.join("\n")
}

/// Reads a file, without a lock and without the means to save it.
pub fn inspect(path: &Path) -> Result<Reading, FileError> {
    Ok(read::read_bytes(&read_all(path)?))
}

/// Opens a file to work on it. It is locked; if another console has it, it is opened read-only.
pub fn load(path: &Path) -> Result<Loaded, FileError> {
    let bytes = read_all(path)?;
    let reading = read::read_bytes(&bytes);
    let format = reading.format;
    let Some(robot) = reading.robot else {
        return Err(FileError::Refused {
            path: path.to_owned(),
            findings: reading.findings,
        });
    };
    let saved = String::from_utf8(bytes.clone()).unwrap_or_default();
    let older = format.filter(|&it| it < read::FORMAT);
    let text = match older {
        Some(_) => edit::modernise(&saved, &robot).unwrap_or_else(|| saved.clone()),
        None => saved.clone(),
    };
    let hold = Hold::take(path);
    Ok(Loaded {
        robot,
        warnings: reading.findings,
        text,
        saved,
        home: Some(Home {
            path: path.to_owned(),
            bytes,
            older,
            hold,
        }),
        history: Vec::new(),
    })
}

/// Takes a text that has no file yet: a shipped example, or a new robot.
pub fn from_text(text: &str) -> Result<Loaded, FileError> {
    let reading = read::read(text);
    let Some(robot) = reading.robot else {
        return Err(FileError::Refused {
            path: PathBuf::from("the text"),
            findings: reading.findings,
        });
    };
    Ok(Loaded {
        robot,
        warnings: reading.findings,
        text: text.to_owned(),
        saved: text.to_owned(),
        home: None,
        history: Vec::new(),
    })
}

/// Saves to where it came from. See [`Loaded::save`].
pub fn save(loaded: &mut Loaded) -> Result<(), FileError> {
    loaded.save()
}

impl Loaded {
    /// What the file says, with all changes.
    pub fn robot(&self) -> &Robot {
        &self.robot
    }

    /// What its builder should look at again.
    pub fn warnings(&self) -> &[Finding] {
        &self.warnings
    }

    /// Its text as the next save would write it.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the text as it stands on the disk, in hex.
    pub fn saved_sha256(&self) -> String {
        let digest = Sha256::digest(self.saved.as_bytes());
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// Where it lives; `None` until it was saved for the first time.
    pub fn path(&self) -> Option<&Path> {
        self.home.as_ref().map(|home| home.path.as_path())
    }

    /// Whether there is anything to save. A file of an older format is not, until something changes.
    pub fn is_dirty(&self) -> bool {
        match &self.home {
            Some(home) if home.older.is_some() => !self.history.is_empty(),
            _ => self.text != self.saved,
        }
    }

    /// Whether another console has the file, so that this one cannot save under its name.
    pub fn is_read_only(&self) -> bool {
        self.home
            .as_ref()
            .is_some_and(|home| matches!(home.hold, Hold::Elsewhere))
    }

    /// Whether its lock could not be had although no other console has it: the folder cannot be written to,
    /// or its file system knows no locks. Nothing is then kept beside it; a save is tried all the same.
    pub fn is_without_lock(&self) -> bool {
        self.home
            .as_ref()
            .is_some_and(|home| matches!(home.hold, Hold::Without))
    }

    /// Whether a save must ask for a name first: a template, or nothing saved yet.
    pub fn needs_name(&self) -> bool {
        self.home.is_none() || self.robot.template
    }

    /// Writes things down about one joint: all of them or none. Only their keys change in the text.
    pub fn record(&mut self, at: JointRef, changes: &[Change]) -> Result<(), FileError> {
        let all: Vec<(JointRef, Change)> = changes.iter().map(|it| (at, it.clone())).collect();
        self.record_all(&all)
    }

    /// Writes things down about several joints: all of them or none. One undo takes all back.
    pub fn record_all(&mut self, changes: &[(JointRef, Change)]) -> Result<(), FileError> {
        let (text, what) = self.changed(changes)?;
        self.take_text(text, what)
    }

    /// The text with these changes, and what they are about.
    fn changed(&self, changes: &[(JointRef, Change)]) -> Result<(String, String), FileError> {
        let mut text = self.text.clone();
        let mut words = Vec::new();
        for (at, change) in changes {
            if !change.is_finite() {
                return Err(FileError::NotFinite(change.key()));
            }
            let title = self.robot.title(*at);
            text = edit::change(&text, *at, change).ok_or(FileError::NoJoint(title.clone()))?;
            words.push(format!("{title} {}", change.key()));
        }
        Ok((text, words.join(", ")))
    }

    /// Whether [`Loaded::record_all`] would take these, without taking them.
    pub fn would_take(&self, changes: &[(JointRef, Change)]) -> Result<(), FileError> {
        let (text, _) = self.changed(changes)?;
        let reading = read::read(&text);
        if reading.is_refused() {
            let errors = reading.findings.into_iter().filter(Finding::is_error);
            return Err(FileError::BadChange(errors.collect()));
        }
        Ok(())
    }

    fn take_text(&mut self, text: String, what: String) -> Result<(), FileError> {
        let reading = read::read(&text);
        let Some(robot) = reading.robot else {
            let errors = reading.findings.into_iter().filter(Finding::is_error);
            return Err(FileError::BadChange(errors.collect()));
        };
        if text == self.text {
            return Ok(());
        }
        let before = std::mem::replace(&mut self.text, text);
        self.history.push((before, what));
        self.robot = robot;
        self.warnings = reading.findings;
        Ok(())
    }

    /// Takes the last change back and says what it was about: `LF femur zero_us`.
    pub fn undo(&mut self) -> Option<String> {
        let (text, what) = self.history.pop()?;
        let reading = read::read(&text);
        self.robot = reading.robot?;
        self.warnings = reading.findings;
        self.text = text;
        Some(what)
    }

    /// Saves to where it came from: whole or not at all, and durably.
    ///
    /// Of a file in an older format a copy is kept beside it, `NAME.format0.toml`.
    pub fn save(&mut self) -> Result<(), FileError> {
        if self.needs_name() {
            return Err(FileError::NoName(self.robot.name.clone()));
        }
        let Some(home) = &mut self.home else {
            return Err(FileError::NoName(self.robot.name.clone()));
        };
        let path = home.path.clone();
        if matches!(home.hold, Hold::Elsewhere) {
            return Err(FileError::ReadOnly(path));
        }
        if read_all(&path).ok().as_deref() != Some(home.bytes.as_slice()) {
            return Err(FileError::ChangedOnDisk(path));
        }
        let write = |why| FileError::Write {
            path: path.clone(),
            why,
        };
        if let Some(format) = home.older {
            keep_beside(&path, format, &home.bytes).map_err(write)?;
        }
        replace(&path, self.text.as_bytes()).map_err(write)?;
        home.bytes = self.text.clone().into_bytes();
        home.older = None;
        self.saved = self.text.clone();
        Ok(())
    }

    /// Saves under a new name and goes on working there. An existing file is never overwritten.
    ///
    /// A template becomes a robot of its own, named `name`.
    pub fn save_as(&mut self, path: &Path, name: Option<&str>) -> Result<(), FileError> {
        let (text, reading) = self.renamed(name)?;
        create(path, text.as_bytes())?;
        let hold = Hold::take(path);
        self.move_to(path, text, reading, hold)
    }

    /// The same over a file that is there: only after the builder was asked, and with its lock in hand.
    pub fn save_over(&mut self, claim: Claim, name: Option<&str>) -> Result<(), FileError> {
        let Claim { path, hold } = claim;
        if self.is_at(&path) {
            // One's own file has its own rules: a change by somebody else is never lost.
            return self.save();
        }
        let (text, reading) = self.renamed(name)?;
        replace(&path, text.as_bytes()).map_err(|why| FileError::Write {
            path: path.clone(),
            why,
        })?;
        self.move_to(&path, text, reading, hold)
    }

    /// Whether this is its own file, however the path is spelled, and even if the file was taken away.
    pub fn is_at(&self, path: &Path) -> bool {
        let own = self.path().map(target_of);
        own.is_some_and(|own| own == target_of(path))
    }

    fn renamed(&self, name: Option<&str>) -> Result<(String, Reading), FileError> {
        let mut text = self.text.clone();
        if self.robot.template || name.is_some() {
            let name = name.unwrap_or(&self.robot.name);
            text = edit::rename(&text, name).unwrap_or(text);
        }
        let reading = read::read(&text);
        if reading.is_refused() {
            return Err(FileError::BadChange(reading.findings));
        }
        Ok((text, reading))
    }

    fn move_to(
        &mut self,
        path: &Path,
        text: String,
        reading: Reading,
        hold: Hold,
    ) -> Result<(), FileError> {
        if let Some(robot) = reading.robot {
            self.robot = robot;
        }
        self.warnings = reading.findings;
        self.home = Some(Home {
            path: path.to_owned(),
            bytes: text.clone().into_bytes(),
            older: None,
            hold,
        });
        self.saved = text.clone();
        self.text = text;
        self.history.clear();
        Ok(())
    }
}

fn read_all(path: &Path) -> Result<Vec<u8>, FileError> {
    fs::read(path).map_err(|why| {
        let path = path.to_owned();
        match why.kind() {
            io::ErrorKind::NotFound => FileError::Missing {
                like: like(&path),
                path,
            },
            _ => FileError::Read { path, why },
        }
    })
}

/// The calibration file in the same folder whose name is nearly this one.
fn like(path: &Path) -> Option<PathBuf> {
    let stem = |path: &Path| {
        path.file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into()
    };
    let wanted: String = stem(path);
    let there = fs::read_dir(folder_of(path)).ok()?;
    let names = there
        .filter_map(|entry| Some(PathBuf::from(entry.ok()?.file_name())))
        .filter(|name| name.extension().is_some_and(|end| end == "toml"));
    let name = nearest(&wanted, names, |name| stem(name))?;
    Some(path.with_file_name(name))
}

/// What to do where a file is missing.
fn instead(path: &Path, like: Option<&Path>) -> String {
    let new = shown(&path.with_extension("toml"));
    match like {
        Some(like) => format!(
            "Did you mean {}? If not, check the name and the folder",
            shown(like)
        ),
        None => format!(
            "Check the name and the folder; `hornset new {new}` writes the file of a new robot"
        ),
    }
}
