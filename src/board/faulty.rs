//! A wrapper that drops, damages, repeats and delays lines, from a seed: a bad cable for tests.
//!
//! Never used on a real board. The same seed and the same traffic give the same faults.

use std::collections::VecDeque;
use std::time::Duration;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::sight::SightHandle;
use super::transport::{Transport, TransportError};

/// How often each fault happens to a line, 0 to 1, the same for both directions.
#[derive(Debug, Clone, Copy, Default)]
pub struct Faults {
    /// The line is lost.
    pub drop: f64,
    /// One byte of it is changed.
    pub damage: f64,
    /// It comes twice.
    pub twice: f64,
    /// It waits for a few of the next reads.
    pub delay: f64,
}

/// What becomes of lines on the way.
#[derive(Debug)]
pub struct Mischief {
    faults: Faults,
    rng: ChaCha8Rng,
}

impl Mischief {
    /// Faults from a seed.
    pub fn new(faults: Faults, seed: u64) -> Mischief {
        Mischief {
            faults,
            rng: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    fn happens(&mut self, chance: f64) -> bool {
        self.rng.random::<f64>() < chance
    }

    /// What arrives of a line.
    pub fn pass(&mut self, line: &[u8]) -> Vec<u8> {
        if self.happens(self.faults.drop) {
            return Vec::new();
        }
        let mut bytes = line.to_vec();
        if !bytes.is_empty() && self.happens(self.faults.damage) {
            let at = self.rng.random_range(0..bytes.len());
            bytes[at] ^= 1 << self.rng.random_range(0..8u32);
        }
        if self.happens(self.faults.twice) {
            bytes.extend_from_within(..);
        }
        bytes
    }

    /// For how many reads a line is held back.
    pub fn delay(&mut self) -> u32 {
        if self.happens(self.faults.delay) {
            self.rng.random_range(1..200u32)
        } else {
            0
        }
    }
}

/// A transport with a bad cable.
pub struct Faulty<T> {
    inner: T,
    mischief: Mischief,
    gathered: Vec<u8>,
    held: VecDeque<(u32, Vec<u8>)>,
}

impl<T: Transport> Faulty<T> {
    /// Faults from a seed between the caller and `inner`.
    pub fn new(inner: T, faults: Faults, seed: u64) -> Faulty<T> {
        Faulty {
            inner,
            mischief: Mischief::new(faults, seed),
            gathered: Vec::new(),
            held: VecDeque::new(),
        }
    }
}

impl<T: Transport> Transport for Faulty<T> {
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        let mut bytes = [0; 256];
        let count = self.inner.read(&mut bytes, timeout)?;
        for &byte in &bytes[..count] {
            self.gathered.push(byte);
            if byte == b'\n' {
                let line = std::mem::take(&mut self.gathered);
                let line = self.mischief.pass(&line);
                self.held.push_back((self.mischief.delay(), line));
            }
        }
        // Lines keep their order: what is held back holds back what follows it.
        let mut filled = 0;
        while let Some((wait, line)) = self.held.front_mut() {
            if *wait > 0 {
                *wait -= 1;
                break;
            }
            let fits = line.len().min(buf.len() - filled);
            buf[filled..filled + fits].copy_from_slice(&line[..fits]);
            filled += fits;
            line.drain(..fits);
            if !line.is_empty() {
                break;
            }
            self.held.pop_front();
        }
        Ok(filled)
    }

    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        let line = self.mischief.pass(line);
        if line.is_empty() {
            return Ok(());
        }
        self.inner.write(&line)
    }

    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError> {
        self.inner.set_rate(baud)
    }

    fn name(&self) -> &str {
        self.inner.name()
    }

    fn clock(&mut self) -> Option<Duration> {
        self.inner.clock()
    }

    fn sight(&self) -> Option<SightHandle> {
        self.inner.sight()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HALF: Faults = Faults {
        drop: 0.3,
        damage: 0.3,
        twice: 0.3,
        delay: 0.3,
    };

    #[test]
    fn the_same_seed_makes_the_same_mischief_and_each_kind_of_it() {
        let run = |seed| -> Vec<Vec<u8>> {
            let mut mischief = Mischief::new(HALF, seed);
            (0..200).map(|_| mischief.pass(b"1 beat;F533\n")).collect()
        };
        let lines = run(3);
        assert_eq!(lines, run(3));
        assert_ne!(lines, run(4));
        assert!(lines.iter().any(|l| l.is_empty()));
        assert!(lines.iter().any(|l| l.len() == 24));
        assert!(lines.iter().any(|l| l.len() == 12 && l != b"1 beat;F533\n"));
        assert!(lines.iter().any(|l| l == b"1 beat;F533\n"));
    }

    #[test]
    fn without_faults_nothing_changes() {
        let mut mischief = Mischief::new(Faults::default(), 1);
        for _ in 0..100 {
            assert_eq!(mischief.pass(b"1 beat;F533\n"), b"1 beat;F533\n");
            assert_eq!(mischief.delay(), 0);
        }
    }
}
