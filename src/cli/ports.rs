//! `hornset ports`: lists the serial ports with what USB says of them; opens none.

use std::io::Write;

use serde_json::json;

use super::say;
use super::{Exit, Outcome};
use crate::board::ports::{self, PortInfo};

/// How to print the list.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Print JSON: an array of objects with the keys `path`, `usb` (null, or an object with
    /// `vendor`, `product`, `serial`, `maker`, `name`)
    #[arg(long)]
    json: bool,
}

/// Prints the list; exit code 1 when it is empty.
pub fn run(args: Args) -> Outcome {
    let list = ports::list().map_err(|e| Exit::System.because(e))?;
    let mut out = std::io::stdout().lock();
    let written = if args.json {
        writeln!(out, "{:#}", as_json(&list))
    } else {
        list.iter()
            .try_for_each(|p| writeln!(out, "{}", as_text(p)))
    };
    written.map_err(|e| Exit::System.because(e))?;
    if list.is_empty() {
        say!("hornset: no serial port found; plug the board in and ask again");
        return Ok(Exit::No);
    }
    Ok(Exit::Fine)
}

fn as_text(port: &PortInfo) -> String {
    match &port.usb {
        None => format!("{}  (not USB)", port.path_shown()),
        Some(usb) => format!("{}  {}", port.path_shown(), usb),
    }
}

fn as_json(list: &[PortInfo]) -> serde_json::Value {
    list.iter()
        .map(|p| {
            json!({
                "path": p.path,
                "usb": p.usb.as_ref().map(|u| json!({
                    "vendor": format!("{:04x}", u.vendor),
                    "product": format!("{:04x}", u.product),
                    "serial": u.serial,
                    "maker": u.maker,
                    "name": u.name,
                })),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::ports::UsbIdentity;

    #[test]
    fn a_port_is_printed_with_its_usb_identity_and_nothing_that_moves_a_cursor() {
        let port = PortInfo {
            path: "/dev/ttyUSB0".into(),
            usb: Some(UsbIdentity {
                vendor: 0x1234,
                product: 0x7523,
                serial: Some("42\x1b[2J".into()),
                maker: None,
                name: Some("serial bridge".into()),
            }),
        };
        assert_eq!(
            as_text(&port),
            "/dev/ttyUSB0  1234:7523 serial bridge, serial 42\\x1b[2J"
        );
        let value = as_json(&[port]);
        assert_eq!(value[0]["usb"]["vendor"], "1234");
        assert_eq!(value[0]["path"], "/dev/ttyUSB0");
    }
}
