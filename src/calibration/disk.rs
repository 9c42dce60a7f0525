//! Puts bytes on the disk whole or not at all, and durably.
//!
//! A new file is written beside, synced, renamed into place, and the folder is synced too.
//! What the bytes say is none of its business.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::file::FileError;

/// The folder that a file is in.
pub(super) fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Writes a file that is not there yet, whole or not at all, and durably.
pub fn create(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    if path.symlink_metadata().is_ok() {
        return Err(FileError::Exists(path.to_owned()));
    }
    Staged::write(path, bytes)?.put()
}

/// A new file that is safely on the disk beside its place, and only lacks its name.
///
/// Dropped without being put there, it leaves nothing.
#[derive(Debug)]
pub(super) struct Staged {
    path: PathBuf,
    file: tempfile::NamedTempFile,
}

impl Staged {
    /// Writes it.
    pub(super) fn write(path: &Path, bytes: &[u8]) -> Result<Staged, FileError> {
        let write = |why| FileError::Write {
            path: path.to_owned(),
            why,
        };
        let folder = folder_of(path);
        if !folder.is_dir() {
            let path = path.to_owned();
            return Err(FileError::NoFolder { path, folder });
        }
        let mut file = temporary(&folder, None).map_err(write)?;
        file.write_all(bytes).map_err(write)?;
        file.as_file().sync_all().map_err(write)?;
        Ok(Staged {
            path: path.to_owned(),
            file,
        })
    }

    /// Gives it its name; what has that name already stays.
    pub(super) fn put(self) -> Result<(), FileError> {
        let path = self.path;
        let write = |why| FileError::Write {
            path: path.clone(),
            why,
        };
        self.file.persist_noclobber(&path).map_err(|error| {
            if error.error.kind() == io::ErrorKind::AlreadyExists {
                FileError::Exists(path.clone())
            } else {
                write(error.error)
            }
        })?;
        sync_folder(&folder_of(&path)).map_err(write)
    }
}

/// The one name of a file, however it is spelled; also of a file that is not there.
pub(super) fn target_of(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| {
        let folder = folder_of(path);
        let folder = fs::canonicalize(&folder).unwrap_or(folder);
        folder.join(path.file_name().unwrap_or_default())
    })
}

/// A path fit for a message: what would move a terminal's cursor is escaped.
pub fn shown(path: &Path) -> String {
    let text = path.display().to_string();
    text.chars()
        .flat_map(|c| {
            let escaped = c.is_control().then(|| c.escape_debug());
            let plain = escaped.is_none().then_some(c);
            escaped.into_iter().flatten().chain(plain)
        })
        .collect()
}

/// Puts new bytes in the place of a file, whole or not at all, and durably.
///
/// A symbolic link stays one: the file it points to is replaced. Permissions stay.
pub fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let path = fs::canonicalize(path)?;
    let permissions = fs::metadata(&path)?.permissions();
    if permissions.readonly() {
        return Err(io::Error::new(
            io::ErrorKind::PermissionDenied,
            "the file is write-protected",
        ));
    }
    let folder = folder_of(&path);
    let mut file = temporary(&folder, Some(permissions.clone()))?;
    file.write_all(bytes)?;
    file.as_file().set_permissions(permissions)?;
    file.as_file().sync_all()?;
    file.persist(&path).map_err(|error| error.error)?;
    sync_folder(&folder)
}

/// A file beside the one to be written; it is removed again if anything fails.
fn temporary(
    folder: &Path,
    permissions: Option<fs::Permissions>,
) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".hornset-").suffix(".tmp");
    let permissions = permissions.or_else(ordinary_permissions);
    if let Some(permissions) = permissions {
        builder.permissions(permissions);
    }
    builder.tempfile_in(folder).map_err(without_its_name)
}

/// The builder never sees the file beside: what is said of it is about the folder.
fn without_its_name(error: io::Error) -> io::Error {
    let inner = error.get_ref().and_then(|it| it.source());
    let code = inner
        .and_then(|it| it.downcast_ref::<io::Error>())
        .and_then(io::Error::raw_os_error);
    code.map_or(error, io::Error::from_raw_os_error)
}

/// What any new file gets; a temporary file would be for its owner only.
#[cfg(unix)]
fn ordinary_permissions() -> Option<fs::Permissions> {
    use std::os::unix::fs::PermissionsExt;
    Some(fs::Permissions::from_mode(0o666))
}

#[cfg(not(unix))]
fn ordinary_permissions() -> Option<fs::Permissions> {
    None
}

/// Makes a rename last through a power cut.
#[cfg(unix)]
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    fs::File::open(folder)?.sync_all()
}

/// Windows has no such call; a rename there is written through by the file system's own log.
#[cfg(not(unix))]
pub(super) fn sync_folder(_folder: &Path) -> io::Result<()> {
    Ok(())
}

/// Keeps a file of an older format as `NAME.format0.toml`, under the first such name that is free.
pub(super) fn keep_beside(path: &Path, format: i64, bytes: &[u8]) -> io::Result<()> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let folder = folder_of(path);
    for number in 1..1000 {
        let more = if number == 1 {
            String::new()
        } else {
            format!("-{number}")
        };
        let beside = folder.join(format!("{stem}.format{format}{more}.toml"));
        match create(&beside, bytes) {
            Ok(()) => return Ok(()),
            Err(FileError::Exists(_)) if fs::read(&beside).ok().as_deref() == Some(bytes) => {
                return Ok(());
            }
            Err(FileError::Exists(_)) => continue,
            Err(FileError::Write { why, .. }) => return Err(why),
            Err(other) => return Err(io::Error::other(other.to_string())),
        }
    }
    Err(io::Error::other("too many kept copies beside it"))
}
