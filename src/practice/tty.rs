//! Serves the practice robot on a pseudo-terminal, so that any serial program can talk to it as to
//! a real board. For systems that have pseudo-terminals; elsewhere the command says so.

use std::fs::File;
use std::io::{self, Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags};
use rustix::io::{FdFlags, fcntl_setfd};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use super::transport::RealTime;
use super::world::Settings;

/// A pseudo-terminal that nobody else has open yet.
#[derive(Debug)]
pub struct Tty {
    master: File,
    path: PathBuf,
}

impl Tty {
    /// Opens one, raw: bytes pass as they are, and nothing is echoed.
    pub fn open() -> io::Result<Tty> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        // Not a flag of `openpt`: not every system has it there.
        fcntl_setfd(&master, FdFlags::CLOEXEC)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?;
        let path = PathBuf::from(name.to_string_lossy().into_owned());
        make_raw(&path)?;
        rustix::io::ioctl_fionbio(&master, true)?;
        Ok(Tty {
            master: File::from(master),
            path,
        })
    }

    /// What other programs open.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Serves a robot until `stop` is set. Programs may open and close the terminal as they like;
    /// the robot's time goes on meanwhile, and what the board says to nobody is lost.
    pub fn serve(&mut self, settings: Settings, stop: &AtomicBool) -> io::Result<()> {
        let mut bench = RealTime::new(settings);
        let mut buf = [0; 1024];
        while !stop.load(Ordering::Relaxed) {
            let is_open = self.wait()?;
            let world = bench.go_on();
            // Also what a program wrote that has closed it again: `echo limp > tty` must be heard.
            match self.master.read(&mut buf) {
                Ok(count) => world.send(&buf[..count]),
                Err(error) if may_pass(&error) => {}
                Err(error) => return Err(error),
            }
            let bytes = world.take(buf.len());
            if is_open && !bytes.is_empty() {
                match self.master.write(&bytes) {
                    // What does not fit is lost, as on a wire that nobody reads.
                    Ok(_) => {}
                    Err(error) if may_pass(&error) => {}
                    Err(error) => return Err(error),
                }
            }
        }
        Ok(())
    }

    /// Waits for bytes, at most a millisecond. False: no program has the terminal open.
    fn wait(&self) -> io::Result<bool> {
        const MS: Timespec = Timespec {
            tv_sec: 0,
            tv_nsec: 1_000_000,
        };
        let mut fds = [PollFd::new(&self.master, PollFlags::IN)];
        match poll(&mut fds, Some(&MS)) {
            Ok(_) | Err(rustix::io::Errno::INTR) => {}
            Err(error) => return Err(error.into()),
        }
        let is_open = !fds[0].revents().contains(PollFlags::HUP);
        if !is_open {
            // A terminal that nobody has open reports so at once, again and again.
            std::thread::sleep(Duration::from_millis(1));
        }
        Ok(is_open)
    }
}

/// Opens the other side once, makes it raw, and closes it: from then on it counts as closed until a
/// program opens it.
fn make_raw(path: &Path) -> io::Result<()> {
    let slave: OwnedFd = rustix::fs::open(
        path,
        OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC,
        Mode::empty(),
    )?;
    let mut modes = tcgetattr(&slave)?;
    modes.make_raw();
    tcsetattr(&slave, OptionalActions::Now, &modes)?;
    Ok(())
}

/// Nothing to read yet, no room to write, or the other side was closed just now.
fn may_pass(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted
    ) || error.raw_os_error() == Some(rustix::io::Errno::IO.raw_os_error())
}
