//! The firmware core in real time behind a plug that can be pulled, and on a pseudo-terminal.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use hornset::board::{ResetCause, Transport, TransportError};
use hornset::practice::{Firmware, Identity};

/// A board with power, whether its plug is in or not.
pub struct Live {
    firmware: Mutex<(Firmware, u64)>,
    start: Instant,
    pub unplugged: AtomicBool,
    /// How often its port was opened.
    pub opened: AtomicU32,
}

impl Live {
    pub fn new() -> Arc<Live> {
        let identity = Identity {
            fw: "0.1.0".into(),
            board: "core".into(),
            id: 7,
        };
        Arc::new(Live {
            firmware: Mutex::new((Firmware::new(identity), 0)),
            start: Instant::now(),
            unplugged: AtomicBool::new(false),
            opened: AtomicU32::new(0),
        })
    }

    /// Works on the board as it is now.
    pub fn with<T>(&self, work: impl FnOnce(&mut Firmware) -> T) -> T {
        let mut guard = self.firmware.lock().expect("no test panicked with it");
        let (firmware, at) = &mut *guard;
        let now = self.start.elapsed().as_millis() as u64;
        while *at < now {
            firmware.step();
            *at += 1;
        }
        work(firmware)
    }

    pub fn reset(&self, cause: ResetCause) {
        self.with(|f| f.reset(cause));
    }

    /// The pins that get pulses.
    pub fn awake(&self) -> Vec<u8> {
        self.with(|f| {
            let pulses = f.pulses().iter().filter(|p| p.ticks != 0);
            pulses.map(|p| p.pin).collect()
        })
    }
}

/// The board's end in the host.
pub struct Plug(pub Arc<Live>);

impl Plug {
    fn check(&self) -> Result<(), TransportError> {
        if self.0.unplugged.load(Ordering::SeqCst) {
            return Err(TransportError::Unplugged {
                name: "live".into(),
                source: std::io::ErrorKind::BrokenPipe.into(),
            });
        }
        Ok(())
    }
}

impl Transport for Plug {
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        let until = Instant::now() + timeout;
        loop {
            self.check()?;
            let bytes = self.0.with(|f| f.take_sent(buf.len()));
            if !bytes.is_empty() || Instant::now() >= until {
                buf[..bytes.len()].copy_from_slice(&bytes);
                return Ok(bytes.len());
            }
            std::thread::sleep(Duration::from_millis(1).min(timeout));
        }
    }

    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        self.check()?;
        self.0.with(|f| f.receive(line));
        Ok(())
    }

    fn set_rate(&mut self, _: u32) -> Result<(), TransportError> {
        self.check()
    }

    fn name(&self) -> &str {
        "live"
    }
}
