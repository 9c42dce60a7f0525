//! One open link to a board, as bytes: what a serial port, the practice robot and the wrappers
//! for traces and faults have in common.
//!
//! A transport knows nothing of lines, tags or requests, and it never reconnects by itself.

use std::io;
use std::time::Duration;

use thiserror::Error;

use super::sight::SightHandle;

/// One open link. The worker owns it; dropping it closes it.
pub trait Transport: Send {
    /// Reads what has come, waiting at most `timeout` for the first byte. `Ok(0)`: nothing came.
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError>;

    /// Writes one whole line.
    fn write(&mut self, line: &[u8]) -> Result<(), TransportError>;

    /// Changes the rate without reopening the link, in bits a second.
    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError>;

    /// What to call the link on a screen: `ttyUSB0`, `practice, seed 7`.
    fn name(&self) -> &str;

    /// The link's own time since it was opened, if it does not run with the clock: everything that
    /// waits for this link counts in it, the time-out of [`Transport::read`] too.
    fn clock(&mut self) -> Option<Duration> {
        None
    }

    /// What a person at the bench would see; the practice robot alone has it.
    fn sight(&self) -> Option<SightHandle> {
        None
    }
}

impl<T: Transport + ?Sized> Transport for Box<T> {
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        (**self).read(buf, timeout)
    }
    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        (**self).write(line)
    }
    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError> {
        (**self).set_rate(baud)
    }
    fn name(&self) -> &str {
        (**self).name()
    }
    fn clock(&mut self) -> Option<Duration> {
        (**self).clock()
    }
    fn sight(&self) -> Option<SightHandle> {
        (**self).sight()
    }
}

/// Why a link cannot be opened or goes no further. Each text ends with what to do.
#[derive(Debug, Error)]
pub enum TransportError {
    /// The port is not there.
    #[error("{name} is not there: plug the board in; `hornset ports` lists what is")]
    Missing {
        /// The port, fit to be shown.
        name: String,
    },
    /// The system does not let this user open the port.
    #[error("permission denied on {name}: {remedy}")]
    Denied {
        /// The port, fit to be shown.
        name: String,
        /// Which group to join, or whom to ask.
        remedy: String,
    },
    /// Another program holds the port.
    #[error("{name} is in use: another program holds it; close that program and try again")]
    Busy {
        /// The port, fit to be shown.
        name: String,
    },
    /// The port does not do this rate.
    #[error("{name} does not take {baud} baud: try another USB port or another serial bridge")]
    Rate {
        /// The port, fit to be shown.
        name: String,
        /// The rate asked for.
        baud: u32,
    },
    /// The link failed while open: nearly always the plug.
    #[error("{name} is gone ({source}): plug it in again")]
    Unplugged {
        /// The port, fit to be shown.
        name: String,
        /// What the system said.
        source: io::Error,
    },
    /// The link could not be opened for a reason of its own.
    #[error("{name} could not be opened: {reason}")]
    Open {
        /// The link, fit to be shown.
        name: String,
        /// What was wrong and what to do about it.
        reason: String,
    },
}
