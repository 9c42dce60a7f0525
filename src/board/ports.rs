//! The list of serial ports, with what USB says of them.
//!
//! It never opens a port: opening one may reset a machine that is not ours.

use std::fmt;

use serialport::{SerialPortInfo, SerialPortType};
use thiserror::Error;

use super::escape::shown;

/// One port of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortInfo {
    /// What to open: `/dev/ttyUSB0`, `COM3`.
    pub path: String,
    /// What the USB device says of itself; `None`: not a USB port.
    pub usb: Option<UsbIdentity>,
}

/// A USB device as it names itself: by this a board is known again after it was unplugged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UsbIdentity {
    /// USB vendor number.
    pub vendor: u16,
    /// USB product number.
    pub product: u16,
    /// Serial number; cheap bridges have none.
    pub serial: Option<String>,
    /// The maker's name for itself.
    pub maker: Option<String>,
    /// The product's name.
    pub name: Option<String>,
}

impl PortInfo {
    /// The path, fit for a terminal.
    pub fn path_shown(&self) -> String {
        shown(self.path.as_bytes())
    }

    /// The path without its folder: `ttyUSB0`, fit for a terminal.
    pub fn short(&self) -> String {
        let name = self.path.rsplit('/').next().unwrap_or(&self.path);
        shown(name.as_bytes())
    }
}

impl fmt::Display for UsbIdentity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04x}:{:04x}", self.vendor, self.product)?;
        for text in [&self.maker, &self.name].into_iter().flatten() {
            write!(f, " {}", shown(text.as_bytes()))?;
        }
        if let Some(serial) = &self.serial {
            write!(f, ", serial {}", shown(serial.as_bytes()))?;
        }
        Ok(())
    }
}

/// The system would not list its ports.
#[derive(Debug, Error)]
#[error("the serial ports could not be listed ({0}): name one with --port")]
pub struct ListError(String);

/// All USB serial ports, by path; if there is none, every serial port there is.
///
/// On macOS each device has two names; the `tty.*` one waits for a carrier and is left out.
pub fn list() -> Result<Vec<PortInfo>, ListError> {
    let found =
        serialport::available_ports().map_err(|e| ListError(shown(e.description.as_bytes())))?;
    Ok(usb_first(found, cfg!(target_os = "macos")))
}

fn usb_first(found: Vec<SerialPortInfo>, macos: bool) -> Vec<PortInfo> {
    let mut all: Vec<PortInfo> = found
        .into_iter()
        .filter(|p| !macos || !p.port_name.contains("/tty."))
        .map(|p| PortInfo {
            path: p.port_name,
            usb: match p.port_type {
                SerialPortType::UsbPort(usb) => Some(UsbIdentity {
                    vendor: usb.vid,
                    product: usb.pid,
                    serial: usb.serial_number,
                    maker: usb.manufacturer,
                    name: usb.product,
                }),
                _ => None,
            },
        })
        .collect();
    all.sort_by(|a, b| a.path.cmp(&b.path));
    all.dedup();
    if all.iter().any(|p| p.usb.is_some()) {
        all.retain(|p| p.usb.is_some());
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use serialport::UsbPortInfo;

    fn port(name: &str, usb: bool) -> SerialPortInfo {
        SerialPortInfo {
            port_name: name.into(),
            port_type: if usb {
                SerialPortType::UsbPort(UsbPortInfo {
                    vid: 1,
                    pid: 2,
                    serial_number: Some("77".into()),
                    manufacturer: None,
                    product: None,
                })
            } else {
                SerialPortType::Unknown
            },
        }
    }

    fn paths(list: &[PortInfo]) -> Vec<&str> {
        list.iter().map(|p| p.path.as_str()).collect()
    }

    #[test]
    fn usb_ports_push_the_others_out_and_without_any_all_are_listed() {
        let mixed = vec![
            port("/dev/ttyS0", false),
            port("/dev/ttyUSB1", true),
            port("/dev/ttyACM0", true),
        ];
        assert_eq!(
            paths(&usb_first(mixed, false)),
            ["/dev/ttyACM0", "/dev/ttyUSB1"]
        );
        let plain = vec![port("/dev/ttyS1", false), port("/dev/ttyS0", false)];
        assert_eq!(
            paths(&usb_first(plain, false)),
            ["/dev/ttyS0", "/dev/ttyS1"]
        );
    }

    #[test]
    fn macos_shows_each_device_once() {
        let both = vec![
            port("/dev/tty.usbserial-1", true),
            port("/dev/cu.usbserial-1", true),
        ];
        assert_eq!(paths(&usb_first(both, true)), ["/dev/cu.usbserial-1"]);
    }

    #[test]
    fn a_name_from_usb_cannot_reach_the_terminal_raw() {
        let usb = UsbIdentity {
            vendor: 0x1234,
            product: 0x7523,
            serial: None,
            maker: Some("\x1b[31m".into()),
            name: Some("bridge".into()),
        };
        assert_eq!(usb.to_string(), "1234:7523 \\x1b[31m bridge");
    }
}
