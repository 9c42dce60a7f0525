//! The practice robot as a transport, by the clock or faster.
//!
//! It has no thread of its own: whenever it is read or written, the bench is brought up to the
//! present first. So the board's clocks run on while nobody calls.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::world::{Settings, World};
use crate::board::hands::HandsHandle;
use crate::board::sight::SightHandle;
use crate::board::transport::{Transport, TransportError};

/// A longer absence than this is not made up for: the computer slept, and the bench with it. It
/// is far longer than the board's longest silence time, so that nothing else can be missed.
const LONGEST_ABSENCE_MS: u64 = 120_000;
/// The same for a bench whose time runs fast, in its own milliseconds: what a busy computer holds up for a moment
/// is made up for, and what it holds up for longer makes the bench slower.
const LONGEST_DEBT_MS: u64 = 500;
/// How much of a fast bench's time passes at once, before its host has its turn: a small part of half a second.
const LEAP_MS: u64 = 40;

/// A bench whose time is the clock's, or runs ahead of it.
#[derive(Debug)]
pub struct RealTime {
    world: World,
    speed: u32,
    /// The moment to which the bench was brought.
    reached: Instant,
}

impl RealTime {
    /// The bench starts now.
    pub fn new(settings: Settings) -> RealTime {
        RealTime {
            world: World::new(settings),
            speed: settings.speed.max(1),
            reached: Instant::now(),
        }
    }

    /// The bench, brought up to the present; if its time runs fast, as it was left: then its time passes only while
    /// its host listens, so that a host that is kept waiting for a moment never seems silent for half a second.
    pub fn now(&mut self) -> &mut World {
        if self.speed == 1 {
            self.advance(LONGEST_ABSENCE_MS);
        }
        &mut self.world
    }

    /// For who serves it: brought up to the present, or a leap nearer to it if its time runs fast.
    pub fn go_on(&mut self) -> &mut World {
        if self.speed == 1 {
            self.now()
        } else {
            self.advance(LEAP_MS)
        }
    }

    /// Goes on toward the present, by so many of its own milliseconds at the most.
    fn advance(&mut self, most_ms: u64) -> &mut World {
        let nanos = self.reached.elapsed().as_nanos() * u128::from(self.speed);
        let behind = u64::try_from(nanos / 1_000_000).unwrap_or(u64::MAX);
        let (step, debt) = (behind.min(most_ms), behind.saturating_sub(most_ms));
        self.world.run(step as u32);
        let most_debt = if self.speed > 1 { LONGEST_DEBT_MS } else { 0 };
        if debt > most_debt {
            self.reached = Instant::now()
                .checked_sub(Duration::from_millis(most_debt) / self.speed)
                .unwrap_or_else(Instant::now);
        } else {
            self.reached += Duration::from_millis(step) / self.speed;
        }
        &mut self.world
    }
}

/// A bench that the link and the hands share.
#[derive(Debug, Clone)]
pub struct Shared(Arc<Mutex<RealTime>>);

impl Shared {
    /// The bench starts now.
    pub fn new(settings: Settings) -> Shared {
        Shared(Arc::new(Mutex::new(RealTime::new(settings))))
    }

    fn lock(&self) -> MutexGuard<'_, RealTime> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What a person sees and can do.
    pub fn sight(&self) -> SightHandle {
        let bench = self.clone();
        let hands = HandsHandle::new(move |act| act(bench.lock().now()));
        self.lock().world.sight().with_hands(hands)
    }
}

/// An open link to a practice robot of its own.
#[derive(Debug)]
pub struct PracticeTransport {
    bench: Shared,
    name: String,
    speed: u32,
}

impl PracticeTransport {
    /// Switches a practice robot on.
    pub fn open(settings: Settings) -> PracticeTransport {
        PracticeTransport {
            bench: Shared::new(settings),
            name: settings.name(),
            speed: settings.speed.max(1),
        }
    }
}

impl PracticeTransport {
    /// Listens for so long by the bench's own time, and lets hardly more of it pass.
    fn listen_fast(&mut self, buf: &mut [u8], timeout: Duration) -> usize {
        let mut until = None;
        loop {
            {
                let mut bench = self.bench.lock();
                let first = bench.world.ms() + timeout.as_millis() as u64;
                let until = *until.get_or_insert(first);
                let world = bench.go_on();
                if world.has_bytes() {
                    let bytes = world.take(buf.len());
                    buf[..bytes.len()].copy_from_slice(&bytes);
                    return bytes.len();
                }
                if world.ms() >= until {
                    return 0;
                }
            }
            std::thread::sleep(Duration::from_millis(LEAP_MS) / self.speed / 4);
        }
    }
}

impl Transport for PracticeTransport {
    /// The time-out counts in the robot's own time.
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        if self.speed > 1 {
            return Ok(self.listen_fast(buf, timeout));
        }
        let until = Instant::now() + timeout;
        loop {
            {
                let mut bench = self.bench.lock();
                let world = bench.now();
                if world.has_bytes() {
                    let bytes = world.take(buf.len());
                    buf[..bytes.len()].copy_from_slice(&bytes);
                    return Ok(bytes.len());
                }
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(0);
            }
            std::thread::sleep(left.min(Duration::from_millis(1)));
        }
    }

    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        self.bench.lock().now().send(line);
        Ok(())
    }

    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError> {
        self.bench.lock().now().set_rate(baud);
        Ok(())
    }

    fn name(&self) -> &str {
        &self.name
    }

    fn clock(&mut self) -> Option<Duration> {
        (self.speed > 1).then(|| Duration::from_millis(self.bench.lock().now().ms()))
    }

    fn sight(&self) -> Option<SightHandle> {
        Some(self.bench.sight())
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
