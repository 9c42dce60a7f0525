//! Twenty-four pins, both directions of the line full, a minute each at three rates: every pulse exact to the
//! cycle, every frame made of one executed line.
//!
//! At 250000 a frame of 20 ms is exactly 500 bytes and the receiver's interrupts lock to the rises, which
//! flatters; 249300 and 252000 drift across. A firmware with too short a lead must fail the same checks.
#![cfg(feature = "emulated")]

#[path = "support/bench.rs"]
mod bench;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pulses.rs"]
mod pulses;
#[path = "support/vector_file.rs"]
mod vector_file;

use bench::{Bench, PINS, width_text};
use emulator::{CYCLES_PER_FRAME, CYCLES_PER_US};
use pulses::Pulse;
use rand::{Rng, RngExt, SeedableRng};
use std::collections::BTreeMap;
use std::path::Path;
use vector_file::with_check;

/// A `pose` that was sent: tag, widths in ticks of half a microsecond.
struct Sent {
    tag: u16,
    ticks: [u64; 24],
}

/// New widths: mostly random, now and then the mixes that are hardest on the edges.
fn widths(random: &mut impl Rng) -> [u64; 24] {
    let base = random.random_range(1000..=5000 - 23);
    match random.random_range(0..16) {
        0 => [1000; 24],
        1 => [5000; 24],
        2 => [base; 24],
        3 => std::array::from_fn(|place| base + place as u64),
        _ => std::array::from_fn(|_| random.random_range(1000..=5000)),
    }
}

/// The host: keeps the line full, remembers what it sent.
struct Host {
    random: rand_chacha::ChaCha8Rng,
    poses: Vec<Sent>,
    lines: u64,
    bytes: u64,
}

impl Host {
    fn new(seed: u64) -> Host {
        Host {
            random: rand_chacha::ChaCha8Rng::seed_from_u64(seed),
            poses: Vec::new(),
            lines: 0,
            bytes: 0,
        }
    }

    /// Sends lines until this many bytes wait on the host's side.
    fn fill(&mut self, bench: &mut Bench, received: u64, wanted: u64) {
        let mut burst = Vec::new();
        while self.bytes + burst.len() as u64 - received < wanted {
            let ticks = widths(&mut self.random);
            let tag = bench.next_tag();
            let values: Vec<String> = ticks.iter().map(|ticks| width_text(*ticks)).collect();
            burst.extend(with_check(&format!("{tag} pose 0 {}", values.join(" "))));
            self.poses.push(Sent { tag, ticks });
            self.lines += 1;
            // Reads with long answers and short questions, until the transmitter cannot rest.
            let reads: &[&[u8]] = match self.random.random_range(0..3) {
                0 => &[b"where\n", b"sense\n"],
                1 => &[b"help\n", b"sense a0 a1 a2 a3 a4 a5 a6 a7\n"],
                _ => &[b"where from 20\n", b"hello\n"],
            };
            for read in reads {
                burst.extend_from_slice(read);
                self.lines += 1;
            }
        }
        self.bytes += burst.len() as u64;
        bench.chip.send(&burst);
    }
}

/// What a run found.
#[derive(Debug, Default)]
struct Found {
    frames: u64,
    pulses: u64,
    poses_sent: u64,
    poses_done: u64,
    dropped: u64,
    missing: u64,
    late: u64,
    overruns: u64,
    line_overruns: u64,
    idle_cycles: u64,
    worst_wait: u64,
    oldest_line_ms: u64,
    shortest: u64,
    longest: u64,
    faults: Vec<String>,
}

impl Found {
    fn fault(&mut self, what: String) {
        if self.faults.len() < 20 {
            self.faults.push(what);
        }
    }
}

/// Pulses, sorted by rise, in groups of one frame: 24 rises in a row, each pin once.
fn frames<'a>(pulses: &'a [Pulse], found: &mut Found) -> Vec<BTreeMap<u8, &'a Pulse>> {
    let mut frames = Vec::new();
    for (index, group) in pulses.chunks_exact(24).enumerate() {
        let frame: BTreeMap<u8, &Pulse> = group.iter().map(|pulse| (pulse.pin, pulse)).collect();
        if frame.len() != 24 {
            found.fault(format!(
                "frame {index} at cycle {} has a pin twice",
                group[0].rise
            ));
        }
        if index > 0 {
            let before = pulses[(index - 1) * 24].rise;
            if group[0].rise - before != CYCLES_PER_FRAME {
                found.fault(format!(
                    "frame {index} begins {} cycles after the one before",
                    group[0].rise - before
                ));
            }
        }
        frames.push(frame);
    }
    frames
}

/// Every frame against the executed lines, in order.
fn compare(frames: &[BTreeMap<u8, &Pulse>], done: &[(&Sent, u64)], found: &mut Found) {
    let mut place = 0;
    for (index, frame) in frames.iter().enumerate() {
        let begins = frame.values().map(|pulse| pulse.rise).min().unwrap_or(0);
        let ticks: Vec<Option<u64>> = PINS
            .iter()
            .map(|pin| frame.get(pin).and_then(|pulse| pulse.ticks()))
            .collect();
        if ticks.iter().any(Option::is_none) {
            found.fault(format!(
                "frame {index} at cycle {begins}: a width that is no whole number of ticks"
            ));
            continue;
        }
        let same = |sent: &Sent| {
            sent.ticks
                .iter()
                .zip(&ticks)
                .all(|(sent, seen)| Some(*sent) == *seen)
        };
        match done[place..].iter().position(|(sent, _)| same(sent)) {
            Some(ahead) => {
                place += ahead;
                let (sent, ended) = done[place];
                if ended > begins {
                    found.fault(format!(
                        "frame {index}: tag {} was still on the wire",
                        sent.tag
                    ));
                }
                // Lines of 24 equal widths come again and again, so which of them it was cannot be told.
                if sent.ticks[0] != sent.ticks[1] {
                    let age = begins.saturating_sub(ended) / (1000 * CYCLES_PER_US);
                    found.oldest_line_ms = found.oldest_line_ms.max(age);
                }
            }
            None => found.fault(format!(
                "frame {index} at cycle {begins} is no line that was executed, or out of order"
            )),
        }
    }
}

/// Wakes all pins and sets everything that makes the board's work hardest.
fn load(bench: &mut Bench) {
    for pin in PINS {
        bench.change(&format!("guard {pin} 500 2500"));
    }
    bench.change("slew all 100000");
    bench.change("silence 2000 60000"); // 24 wakes take 1.4 s
    for pin in PINS {
        bench.change(&format!("wake {pin} 1500"));
    }
    bench.until(3_000_000, |bench| {
        bench
            .lines
            .iter()
            .filter(|line| line.body.starts_with("event awake "))
            .count()
            == 24
    });
    let roster: Vec<String> = PINS.iter().map(u8::to_string).collect();
    bench.change(&format!("roster {}", roster.join(" ")));
    bench.change("watch 50 a0 a1 a2 a3 a4 a5 a6 a7");
    for input in 0..8 {
        bench
            .chip
            .command(&format!("input a{input} {}", 600 * input + 77));
    }
}

/// The minute: 24 pins, the line full both ways.
fn saturate(elf: &Path, baud: u32, seconds: u64) -> Found {
    let mut found = Found::default();
    let mut bench = Bench::power_with(elf, &["--baud", &baud.to_string()]);
    bench.until(500_000, |bench| !bench.lines.is_empty());
    load(&mut bench);

    // Full from here on.
    let seed = u64::from(baud);
    let mut host = Host {
        random: rand_chacha::ChaCha8Rng::seed_from_u64(seed),
        poses: Vec::new(),
        lines: 0,
        bytes: 0,
    };
    let already = bench.counts(false).0.received;
    let (first_line, first_end) = (bench.lines.len(), bench.line_ends.len());
    let mut received = 0;
    let mut started = 0;
    for step in 0..=seconds * 10 {
        host.fill(&mut bench, received, 6000);
        bench.run_us(100_000);
        if step == 0 {
            bench.counts(true); // the idle time counts once the transmitter is under way
            started = bench.chip.cycle;
        }
        received = bench.counts(false).0.received - already;
    }
    let (counts, interrupts) = bench.counts(false);
    found.idle_cycles = counts.idle;
    found.worst_wait = counts.worst_wait;
    let ended = bench.chip.cycle;
    // What is queued still goes out; then the line rests, so that the last answers and counts can be had.
    bench.run_us(600_000);
    let answered: Vec<String> = bench.lines[first_line..]
        .iter()
        .filter(|line| !line.body.starts_with("event "))
        .map(|line| line.body.clone())
        .collect();
    found.missing = host.lines - answered.len() as u64;
    found.dropped = bench.sense("dropped");
    found.late = bench.sense("late");
    found.overruns = bench.sense("overruns");
    found.line_overruns = bench.counts(false).0.overruns;
    let bad = bench.sense("badchecks");
    if bad != 0 {
        found.fault(format!("{bad} damaged lines, and none was sent damaged"));
    }

    // Which poses were executed, and when each had arrived. (Line ends at the receiver, one a line sent.)
    let ends = &bench.line_ends[first_end..];
    found.poses_sent = host.poses.len() as u64;
    let by_tag: BTreeMap<&str, &str> = answered
        .iter()
        .filter_map(|body| body.split_once(' '))
        .filter(|(tag, _)| tag.parse::<u16>().is_ok())
        .collect();
    let mut done: Vec<(&Sent, u64)> = Vec::new();
    for (index, sent) in host.poses.iter().enumerate() {
        match by_tag.get(sent.tag.to_string().as_str()) {
            Some(&"done ms=20") => done.push((sent, ends[3 * index])),
            Some(other) => found.fault(format!("tag {} was answered `{other}`", sent.tag)),
            None => {}
        }
    }
    found.poses_done = done.len() as u64;
    let mut within: Vec<Pulse> = bench
        .pulses
        .finished
        .iter()
        .filter(|pulse| pulse.rise > started && pulse.rise < ended)
        .copied()
        .collect();
    within.sort_by_key(|pulse| pulse.rise);
    let frames = frames(&within[first_of_frame(&within)..], &mut found);
    found.frames = frames.len() as u64;
    found.pulses = within.len() as u64;
    found.shortest = within.iter().map(|pulse| pulse.width).min().unwrap_or(0);
    found.longest = within.iter().map(|pulse| pulse.width).max().unwrap_or(0);
    compare(&frames, &done, &mut found);
    eprintln!("{baud}: {found:?}\nlongest interrupts, vector and cycles: {interrupts:?}");
    found
}

/// Where the first whole frame begins: after the longest silence between rises.
fn first_of_frame(sorted: &[Pulse]) -> usize {
    (1..sorted.len().min(49))
        .max_by_key(|place| sorted[*place].rise - sorted[*place - 1].rise)
        .unwrap_or(0)
}

fn holds(baud: u32) {
    let found = saturate(&emulator::firmware(), baud, 60);
    assert_eq!(found.faults, Vec::<String>::new());
    assert!(found.frames >= 2998, "{} frames in a minute", found.frames);
    assert_eq!(
        (found.late, found.overruns, found.line_overruns),
        (0, 0, 0),
        "late edges, overruns"
    );
    assert_eq!(
        found.dropped, found.missing,
        "lines dropped for room are the answers that are missing"
    );
    // Lines end about 7 ms apart, and a frame is built at most one frame before it begins: what it shows is fresh.
    assert!(
        found.oldest_line_ms <= 20,
        "a frame showed a line that had arrived {} ms before",
        found.oldest_line_ms
    );
    // An interrupt that waits its turn may leave the transmitter idle for some cycles; a ring that runs dry
    // leaves it idle for thousands.
    assert!(
        found.idle_cycles < 640,
        "the transmitter rested for {} cycles, more than a byte's time",
        found.idle_cycles
    );
    assert!(
        found.poses_done > found.frames,
        "{} lines for {} frames",
        found.poses_done,
        found.frames
    );
}

#[test]
fn a_minute_full_both_ways_at_249300() {
    holds(249_300);
}

#[test]
fn a_minute_full_both_ways_at_250000() {
    holds(250_000);
}

#[test]
fn a_minute_full_both_ways_at_252000() {
    holds(252_000);
}

/// The same checks on a firmware whose interrupt comes too late to be exact: they must find it.
#[test]
fn a_lead_that_is_too_short_is_found() {
    let found = saturate(&emulator::firmware_with_short_lead(), 252_000, 5);
    assert!(found.late > 100, "{} late edges", found.late);
    assert!(
        found.faults.len() >= 20,
        "pulses that are not exact to the cycle: {:?}",
        found.faults
    );
}

/// An edge whose interrupt came too near to it was once stored early, which made the next one seem due and
/// that one the next: a whole table in a burst. Late edges must stay a matter of some cycles.
#[test]
fn an_edge_that_is_late_does_not_drag_the_next_ones_along() {
    let found = saturate(&emulator::firmware_with_short_lead(), 249_300, 5);
    assert!(found.late > 100, "{} late edges", found.late);
    assert_eq!(
        (found.poses_done, found.line_overruns),
        (found.poses_sent, 0),
        "the line does not suffer"
    );
    assert!(
        (247..=250).contains(&found.frames),
        "{} frames in 5 s",
        found.frames
    );
    assert!(
        found.shortest >= 8_000 - 80 && found.longest <= 40_000 + 80,
        "{} to {} cycles",
        found.shortest,
        found.longest
    );
}

/// The budget that the engine's lead rests on: every other interrupt routine at most 90 cycles, interrupts
/// off outside of them for at most 60, which add up (one instruction runs after RETI, and it may be `cli`).
#[test]
fn interrupts_keep_their_budget() {
    let mut bench = Bench::ready(&["--measure-off"]);
    load(&mut bench);
    let mut host = Host::new(7);
    let already = bench.counts(true).0.received;
    for _ in 0..30 {
        let received = bench.counts(false).0.received - already;
        host.fill(&mut bench, received, 6000);
        bench.run_us(100_000);
    }
    let (counts, interrupts) = bench.counts(false);
    eprintln!(
        "longest interrupts, vector and cycles: {interrupts:?}; off for {}",
        counts.longest_off
    );
    let engine = 17; // timer 1, compare A
    for (vector, cycles) in interrupts {
        assert!(
            vector == engine || cycles <= 90,
            "interrupt vector {vector} took {cycles} cycles"
        );
    }
    assert!(
        (1..=60).contains(&counts.longest_off),
        "interrupts off for {} cycles",
        counts.longest_off
    );
}
