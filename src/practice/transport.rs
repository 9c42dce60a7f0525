//! The practice robot as a transport, in real time.
//!
//! It has no thread of its own: whenever it is read or written, the bench is brought up to the
//! present first. So the board's clocks run on while nobody calls.

use std::time::{Duration, Instant};

use super::world::{Settings, World};
use crate::board::sight::SightHandle;
use crate::board::transport::{Transport, TransportError};

/// A longer absence than this is not made up for: the computer slept, and the bench with it. It
/// is far longer than the board's longest silence time, so that nothing else can be missed.
const LONGEST_ABSENCE: Duration = Duration::from_secs(120);

/// A bench whose time is the clock's.
#[derive(Debug)]
pub struct RealTime {
    world: World,
    /// The moment to which the bench was brought.
    reached: Instant,
}

impl RealTime {
    /// The bench starts now.
    pub fn new(settings: Settings) -> RealTime {
        RealTime {
            world: World::new(settings),
            reached: Instant::now(),
        }
    }

    /// The bench, brought up to the present.
    pub fn now(&mut self) -> &mut World {
        let behind = self.reached.elapsed();
        if behind > LONGEST_ABSENCE {
            self.reached += behind - LONGEST_ABSENCE;
        }
        let steps = behind.min(LONGEST_ABSENCE).as_millis();
        for _ in 0..steps {
            self.world.step();
        }
        self.reached += Duration::from_millis(steps as u64);
        &mut self.world
    }
}

/// An open link to a practice robot of its own.
#[derive(Debug)]
pub struct PracticeTransport {
    bench: RealTime,
    name: String,
}

impl PracticeTransport {
    /// Switches a practice robot on.
    pub fn open(settings: Settings) -> PracticeTransport {
        PracticeTransport {
            bench: RealTime::new(settings),
            name: settings.name(),
        }
    }
}

impl Transport for PracticeTransport {
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        let until = Instant::now() + timeout;
        loop {
            let world = self.bench.now();
            if world.has_bytes() {
                let bytes = world.take(buf.len());
                buf[..bytes.len()].copy_from_slice(&bytes);
                return Ok(bytes.len());
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(0);
            }
            std::thread::sleep(left.min(Duration::from_millis(1)));
        }
    }

    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        self.bench.now().send(line);
        Ok(())
    }

    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError> {
        self.bench.now().set_rate(baud);
        Ok(())
    }

    fn name(&self) -> &str {
        &self.name
    }

    fn sight(&self) -> Option<SightHandle> {
        Some(self.bench.world.sight())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hello_is_answered_in_real_time() {
        let mut link = PracticeTransport::open(Settings::default());
        assert_eq!(link.name(), "practice, seed 7");
        link.write(b"hello\n").expect("it writes");
        let mut heard = String::new();
        let start = Instant::now();
        while !heard.contains("\ndone proto=1 fw=") {
            let mut buf = [0; 64];
            let count = link
                .read(&mut buf, Duration::from_millis(50))
                .expect("it reads");
            heard.push_str(&String::from_utf8_lossy(&buf[..count]));
            assert!(start.elapsed() < Duration::from_secs(10), "{heard}");
        }
        assert!(heard.starts_with("event ready proto=1"), "{heard}");
    }

    #[test]
    fn a_read_without_bytes_waits_as_long_as_it_was_told() {
        let mut link = PracticeTransport::open(Settings::default());
        let mut buf = [0; 255];
        while link
            .read(&mut buf, Duration::from_millis(100))
            .expect("it reads")
            > 0
        {}
        let start = Instant::now();
        let got = link
            .read(&mut buf, Duration::from_millis(30))
            .expect("it reads");
        assert_eq!(got, 0);
        assert!(start.elapsed() >= Duration::from_millis(30));
    }
}
