//! A serial port as a transport.
//!
//! One handle, one thread: reads wait a short time only, so a write is never kept waiting by one.
//! The port is held exclusively. Nothing is ever flushed: draining a dead port can hang for ever.
//! It never opens a port that nobody named.

use std::io::{self, ErrorKind, Read, Write};
use std::time::{Duration, Instant};

use serialport::{DataBits, FlowControl, Parity, SerialPort, StopBits};

use super::escape::shown;
use super::ports::{self, PortInfo};
use super::transport::{Transport, TransportError};

/// What one line may take to be handed to the system; 255 bytes take 22 ms at 115200 baud.
const WRITE_WITHIN: Duration = Duration::from_millis(250);

/// An open serial port.
pub struct SerialTransport {
    port: Box<dyn SerialPort>,
    name: String,
    timeout: Duration,
}

impl SerialTransport {
    /// Opens the port, which resets most boards.
    pub fn open(path: &str, baud: u32) -> Result<SerialTransport, TransportError> {
        let info = PortInfo {
            path: path.to_owned(),
            usb: None,
        };
        let port = serialport::new(path, baud)
            .data_bits(DataBits::Eight)
            .parity(Parity::None)
            .stop_bits(StopBits::One)
            .flow_control(FlowControl::None)
            .timeout(WRITE_WITHIN)
            .open()
            .map_err(|error| open_error(path, &error))?;
        Ok(SerialTransport {
            port,
            name: brief(&info.short()),
            timeout: WRITE_WITHIN,
        })
    }

    fn wait_at_most(&mut self, timeout: Duration) -> Result<(), TransportError> {
        if timeout != self.timeout {
            self.port
                .set_timeout(timeout)
                .map_err(|e| self.unplugged(e.into()))?;
            self.timeout = timeout;
        }
        Ok(())
    }

    fn unplugged(&self, source: io::Error) -> TransportError {
        TransportError::Unplugged {
            name: self.name.clone(),
            source,
        }
    }
}

fn is_only_late(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        ErrorKind::TimedOut | ErrorKind::Interrupted | ErrorKind::WouldBlock
    )
}

impl Transport for SerialTransport {
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        self.wait_at_most(timeout)?;
        match self.port.read(buf) {
            // A port that is readable and has nothing was hung up.
            Ok(0) => Err(self.unplugged(ErrorKind::UnexpectedEof.into())),
            Ok(count) => Ok(count),
            Err(error) if is_only_late(&error) => Ok(0),
            Err(error) => Err(self.unplugged(error)),
        }
    }

    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        self.wait_at_most(WRITE_WITHIN)?;
        let until = Instant::now() + WRITE_WITHIN;
        let mut rest = line;
        // A line that does not get out in time is a lost line, and those are asked for again.
        while !rest.is_empty() && Instant::now() < until {
            match self.port.write(rest) {
                Ok(count) => rest = &rest[count..],
                Err(error) if is_only_late(&error) => {}
                Err(error) => return Err(self.unplugged(error)),
            }
        }
        Ok(())
    }

    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError> {
        self.port
            .set_baud_rate(baud)
            .map_err(|_| TransportError::Rate {
                name: self.name.clone(),
                baud,
            })
    }

    fn name(&self) -> &str {
        &self.name
    }
}

fn open_error(path: &str, error: &serialport::Error) -> TransportError {
    let name = brief(&shown(path.as_bytes()));
    match error.kind {
        serialport::ErrorKind::Io(ErrorKind::PermissionDenied) => TransportError::Denied {
            name,
            remedy: denied_remedy(path),
        },
        serialport::ErrorKind::Io(ErrorKind::NotFound) => TransportError::Missing { name },
        serialport::ErrorKind::NoDevice if is_listed(path) => TransportError::Busy { name },
        serialport::ErrorKind::NoDevice => TransportError::Missing { name },
        _ => TransportError::Open {
            name,
            reason: format!(
                "{}. See `hornset ports`",
                shown(error.description.as_bytes())
                    .chars()
                    .take(MOST_OF_DESCRIPTION)
                    .collect::<String>()
            ),
        },
    }
}

/// A port's name that leaves room for what is said of it; names that are long differ at their ends.
pub(crate) fn brief(name: &str) -> String {
    let count = name.chars().count();
    if count <= LONGEST_NAME {
        return name.to_owned();
    }
    let end = name.chars().skip(count + 1 - LONGEST_NAME);
    std::iter::once('…').chain(end).collect()
}

/// Whether the port is there, as a file or in the system's list.
fn is_listed(path: &str) -> bool {
    std::path::Path::new(path).exists()
        || ports::list().is_ok_and(|list| list.iter().any(|p| p.path == path))
}

/// So much of a port's name, and of what the system says is wrong with it, has room in a line.
const LONGEST_NAME: usize = 24;
const MOST_OF_DESCRIPTION: usize = 50;
/// Who may not look at the port must ask.
pub(crate) const NO_RIGHT: &str = "ask whoever runs this machine for the right to open it";
/// No group to join.
#[cfg(unix)]
pub(crate) const NO_GROUP: &str = "its group may not open it either; ask whoever runs this machine";
/// Where a port that is held looks like one that is forbidden.
#[cfg(any(not(unix), test))]
pub(crate) const HELD_OR_FORBIDDEN: &str =
    "close the program that holds it, or run this one as a user who may";
/// A longer name leaves no room for the command that joins it.
#[cfg(unix)]
const LONGEST_GROUP: usize = 16;

#[cfg(unix)]
fn denied_remedy(path: &str) -> String {
    use std::os::unix::fs::MetadataExt;
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    match std::fs::metadata(path) {
        Ok(file) => group_remedy(file.mode(), file.gid(), &groups),
        Err(_) => NO_RIGHT.into(),
    }
}

#[cfg(not(unix))]
fn denied_remedy(_path: &str) -> String {
    HELD_OR_FORBIDDEN.into()
}

/// Which group to join, from the device file's mode and group and the text of the group file.
#[cfg(unix)]
pub(crate) fn group_remedy(mode: u32, gid: u32, groups: &str) -> String {
    if mode & 0o060 != 0o060 {
        return NO_GROUP.into();
    }
    let name = groups
        .lines()
        .find(|line| line.split(':').nth(2) == Some(&gid.to_string()))
        .and_then(|line| line.split(':').next())
        .map_or_else(|| gid.to_string(), |name| shown(name.as_bytes()));
    if name.chars().count() > LONGEST_GROUP {
        return format!("join the group {name}, then log out and in again");
    }
    format!("join its group: sudo usermod -aG {name} $USER, then log in again")
}

/// Opens `port` now, and later, after it was unplugged, whatever port shows the same USB identity.
pub fn opener(
    port: PortInfo,
    baud: u32,
) -> impl FnMut() -> Result<Box<dyn Transport>, TransportError> + Send + 'static {
    let mut opened = false;
    move || {
        let path = if opened {
            same_again(&port, &ports::list().unwrap_or_default())
                .ok_or_else(|| TransportError::Missing { name: port.short() })?
        } else {
            port.path.clone()
        };
        let transport = SerialTransport::open(&path, baud)?;
        opened = true;
        Ok(Box::new(transport) as Box<dyn Transport>)
    }
}

/// The path under which the same device stands now. Without a serial number two devices can look
/// alike: then the one at the old place is taken, or none.
fn same_again(port: &PortInfo, list: &[PortInfo]) -> Option<String> {
    if port.usb.is_none() {
        return Some(port.path.clone());
    }
    let alike: Vec<&PortInfo> = list.iter().filter(|p| p.usb == port.usb).collect();
    match alike.iter().find(|p| p.path == port.path) {
        Some(same) => Some(same.path.clone()),
        None if alike.len() == 1 => Some(alike[0].path.clone()),
        None => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::ports::UsbIdentity;

    fn port(path: &str, serial: Option<&str>) -> PortInfo {
        PortInfo {
            path: path.into(),
            usb: Some(UsbIdentity {
                vendor: 1,
                product: 2,
                serial: serial.map(str::to_owned),
                maker: None,
                name: None,
            }),
        }
    }

    #[test]
    fn a_board_is_known_again_by_its_usb_identity_wherever_it_comes_back() {
        let ours = port("/dev/ttyUSB0", Some("77"));
        let list = [
            port("/dev/ttyUSB0", Some("78")),
            port("/dev/ttyUSB1", Some("77")),
        ];
        assert_eq!(same_again(&ours, &list).as_deref(), Some("/dev/ttyUSB1"));
        assert_eq!(same_again(&ours, &list[..1]), None);
    }

    #[test]
    fn two_that_look_alike_are_not_guessed_at() {
        let ours = port("/dev/ttyUSB0", None);
        let list = [port("/dev/ttyUSB1", None), port("/dev/ttyUSB2", None)];
        assert_eq!(same_again(&ours, &list), None);
        assert_eq!(
            same_again(&ours, &list[..1]).as_deref(),
            Some("/dev/ttyUSB1")
        );
        let list = [port("/dev/ttyUSB0", None), port("/dev/ttyUSB2", None)];
        assert_eq!(same_again(&ours, &list).as_deref(), Some("/dev/ttyUSB0"));
    }

    #[cfg(unix)]
    #[test]
    fn permission_denied_says_which_group_to_join() {
        let groups = "root:x:0:\ndialout:x:20:ann\nplugdev:x:46:\n";
        let text = group_remedy(0o020660, 20, groups);
        assert_eq!(
            text,
            "join its group: sudo usermod -aG dialout $USER, then log in again"
        );
        assert!(group_remedy(0o020660, 99, groups).contains("-aG 99 "));
        assert!(!group_remedy(0o020600, 20, groups).contains("usermod"));
    }

    #[test]
    fn a_long_name_keeps_its_end() {
        assert_eq!(brief("/dev/ttyUSB0"), "/dev/ttyUSB0");
        let long = brief("/dev/serial/by-id/usb-A_Maker_Of_Bridges_0042-if00-port0");
        assert_eq!(long, "…Bridges_0042-if00-port0");
        assert_eq!(long.chars().count(), LONGEST_NAME);
    }

    #[test]
    fn a_port_that_is_not_there_says_so() {
        let error = SerialTransport::open("/dev/hornset-no-such-port", 250_000)
            .err()
            .expect("no such port");
        assert!(matches!(error, TransportError::Missing { .. }), "{error}");
        assert!(error.to_string().contains("hornset ports"), "{error}");
    }

    #[cfg(target_os = "linux")]
    mod over_a_pty {
        use super::*;
        use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
        use std::fs::File;

        fn pty() -> (File, String) {
            let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pty");
            grantpt(&master).expect("grant");
            unlockpt(&master).expect("unlock");
            let path = ptsname(&master, Vec::new()).expect("a name");
            (File::from(master), path.into_string().expect("ASCII"))
        }

        #[test]
        fn lines_go_both_ways_and_nothing_in_time_is_no_error() {
            let (mut master, path) = pty();
            let mut link = SerialTransport::open(&path, 250_000).expect("open");
            let mut buf = [0; 64];
            assert_eq!(
                link.read(&mut buf, Duration::from_millis(2)).expect("late"),
                0
            );
            link.write(b"hello\n").expect("write");
            let count = master.read(&mut buf).expect("read");
            assert_eq!(&buf[..count], b"hello\n");
            link.set_rate(115_200).expect("rate");
            master.write_all(b"done\n").expect("write");
            let count = link.read(&mut buf, Duration::from_secs(5)).expect("read");
            assert_eq!(&buf[..count], b"done\n");
        }

        #[test]
        fn the_port_is_held_exclusively() {
            let (_master, path) = pty();
            let _first = SerialTransport::open(&path, 250_000).expect("open");
            let error = SerialTransport::open(&path, 250_000).err().expect("held");
            assert!(matches!(error, TransportError::Busy { .. }), "{error}");
        }

        #[test]
        fn a_hang_up_is_unplugged() {
            let (master, path) = pty();
            let mut link = SerialTransport::open(&path, 250_000).expect("open");
            drop(master);
            let error = link
                .read(&mut [0; 8], Duration::from_millis(200))
                .expect_err("hung up");
            assert!(matches!(error, TransportError::Unplugged { .. }), "{error}");
        }
    }
}
