//! Everything that ends motion, measured on the emulated chip's pins: a silent host, a host that dies in the
//! middle of a peck, `limp` behind a full line, and guards under hostile lines.
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
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use vector_file::with_check;

const MS: u64 = 1000 * CYCLES_PER_US;

fn random(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// A ramp over the whole travel, then silence: when did the pulses stop changing, when did they end?
fn falls_silent(freeze_ms: u64, limp_ms: u64, phase_us: u64) {
    let what = format!("silence {freeze_ms} {limp_ms}, {phase_us} us after the frame");
    let mut bench = Bench::ready(&[]);
    bench.wake(22, "500");
    bench.wake(23, "2500");
    bench.change("slew all 100000");
    bench.change(&format!("silence {freeze_ms} {limp_ms}"));
    // The last line comes at this phase of the frame.
    bench.run_us(20_000);
    let rise = bench.pulses.finished.last().expect("there are pulses").rise;
    let begin = rise + 2 * CYCLES_PER_FRAME + phase_us * CYCLES_PER_US;
    bench.run_to(begin);
    bench.pulses.finished.clear();
    bench.change("go 60000 22:2500 23:500");
    let fed = *bench.line_ends.last().expect("it has arrived");
    bench.run_us((limp_ms + 200) * 1000);

    for (pin, sign) in [(22, 1i64), (23, -1)] {
        let pulses: Vec<&Pulse> = bench
            .pulses
            .finished
            .iter()
            .filter(|pulse| pulse.pin == pin)
            .collect();
        for pair in pulses.windows(2) {
            let step = (pair[1].width as i64 - pair[0].width as i64) * sign;
            assert!(
                step % 8 == 0 && (0..=16).contains(&step),
                "{what}: pin {pin} went {step} cycles in a frame, cut?"
            );
        }
        // Two half microseconds at most in three frames: the ramp of a minute moves 4000 in 3000 frames.
        let moved = pulses
            .windows(2)
            .filter(|pair| pair[0].width != pair[1].width)
            .map(|pair| pair[1].rise)
            .next_back();
        let moved = moved.expect("it moved at all") - fed;
        assert!(
            moved <= freeze_ms * MS + 2 * CYCLES_PER_FRAME,
            "{what}: moved {} us after the last line",
            moved / 16
        );
        assert!(
            moved + 2 * CYCLES_PER_FRAME >= freeze_ms * MS,
            "{what}: frozen early, {} us",
            moved / 16
        );
        let ended = pulses.last().expect("there are pulses").fall() - fed;
        assert!(
            ended <= limp_ms * MS + 2 * CYCLES_PER_FRAME,
            "{what}: a pulse {} us after the last line",
            ended / 16
        );
        assert!(
            ended + 2 * CYCLES_PER_FRAME >= limp_ms * MS,
            "{what}: limp early, {} us",
            ended / 16
        );
        // Frozen, they stay what they were, and the very last one is whole, too.
        let last = pulses.last().expect("there are pulses").width;
        let held = ((limp_ms - freeze_ms) / 20).saturating_sub(3) as usize;
        assert!(
            pulses
                .iter()
                .rev()
                .take(held)
                .all(|pulse| pulse.width == last),
            "{what}: a frozen pin moved"
        );
    }
    assert!(bench.pulses.high().is_empty());
    let events: Vec<&str> = bench
        .lines
        .iter()
        .map(|line| line.body.as_str())
        .filter(|body| body.contains("by=silence"))
        .collect();
    assert_eq!(
        events,
        ["event frozen n=1 by=silence", "event limp by=silence"],
        "{what}"
    );
    // Low outputs, not floating.
    for pin in [22, 23] {
        let mode = bench
            .modes
            .iter()
            .rev()
            .find(|(_, of, _)| *of == pin)
            .map(|(_, _, mode)| *mode);
        assert_eq!(mode, Some(emulator::Mode::Output), "{what}: pin {pin}");
    }
}

#[test]
fn a_silent_host_freezes_in_time_and_goes_limp_in_time_at_every_phase() {
    for step in 0..20 {
        falls_silent(100, 400, step * 1000 + 137);
    }
}

#[test]
fn the_untouched_and_the_longest_silence_hold() {
    falls_silent(500, 10_000, 3_000);
    falls_silent(2_000, 60_000, 17_000);
    falls_silent(100, 100, 9_000);
}

/// How long a pin was pressed: from the first outer pulse to the first that is back, or to the end.
fn pressed(pulses: &[Pulse], rest: u64) -> u64 {
    let first = pulses
        .iter()
        .position(|pulse| pulse.width != rest)
        .expect("it was pressed");
    let back = pulses[first..]
        .iter()
        .find(|pulse| pulse.width == rest)
        .map(|pulse| pulse.rise);
    back.unwrap_or_else(|| pulses.last().expect("there are pulses").fall()) - pulses[first].rise
}

/// The host's last line is a peck; whatever the silence time, the pin does not stay pressed.
#[test]
fn a_host_killed_in_mid_peck_leaves_nothing_pressed() {
    let rest = 1500 * CYCLES_PER_US;
    let mut random = random(11);
    let mut longest = 0;
    for trial in 0..60u64 {
        let mut bench = Bench::ready(&[]);
        bench.wake(22, "1500");
        let freeze_ms = [100, 120, 250, 500, 2000][trial as usize % 5];
        bench.change(&format!("silence {freeze_ms} 3000"));
        bench.run_us(random.random_range(20_000..40_000));
        let hold = [250, 0, 249, 199, 100, 250][trial as usize % 6];
        let outer = [1520u64, 1480][trial as usize % 2];
        bench.pulses.finished.clear();
        bench.change(&format!("peck 22 {outer} {hold}"));
        if trial % 3 == 0 {
            // Dead in the middle of the next line.
            bench.chip.send(b"65000 pec");
        }
        let fed = *bench.line_ends.last().expect("it has arrived");
        bench.run_us(4_000_000);
        let pulses = &bench.pulses.finished;
        assert!(
            pulses
                .iter()
                .all(|pulse| [rest, outer * CYCLES_PER_US].contains(&pulse.width)),
            "a pulse was cut"
        );
        let took = pressed(pulses, rest);
        longest = longest.max(took);
        assert!(
            took <= 300 * MS,
            "pressed for {} us: hold {hold}, silence {freeze_ms}",
            took / 16
        );
        // A freeze in the middle of the peck makes the pin limp, and not a frame later.
        let frames = u64::max(1, hold / 20);
        if freeze_ms < 20 * frames {
            let ended = pulses.last().expect("there are pulses").fall() - fed;
            assert!(
                ended <= freeze_ms * MS + 2 * CYCLES_PER_FRAME,
                "pressed until {} us after the line",
                ended / 16
            );
        }
    }
    eprintln!("pressed for at most {} us", longest / 16);
}

/// One `limp` behind poses that are sent back to back.
struct Trial {
    from_end_us: u64,
    from_first_us: u64,
}

/// What the poses do.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Poses {
    /// Every pin jumps to its new width in one frame.
    Jump,
    /// Every pin runs a ramp of its own slew, begun anew by each line.
    Ramp,
}

/// Wakes everything, floods with poses, then `limp`.
fn limp_trial(bench: &mut Bench, random: &mut ChaCha8Rng, poses: Poses) -> Trial {
    for pin in PINS {
        bench.change(&format!("wake {pin} 1500"));
    }
    bench.run_us(1_500_000 + random.random_range(0..20_000)); // first pulses are 60 ms apart
    let start = bench.chip.cycle;
    let (ends_before, answers_before) = (bench.line_ends.len(), bench.lines.len());
    // A flood of random length ends at a random phase of the frame.
    let mut sent: Vec<[u64; 24]> = vec![[3000; 24]];
    let mut flood = Vec::new();
    let lines = random.random_range(20..45);
    for _ in 0..lines {
        let ticks: [u64; 24] = std::array::from_fn(|_| random.random_range(1000..=5000));
        let values: Vec<String> = ticks.iter().map(|ticks| width_text(*ticks)).collect();
        let ms = if poses == Poses::Jump {
            0
        } else {
            random.random_range(0..4000)
        };
        flood.extend(with_check(&format!(
            "{} pose {ms} {}",
            bench.next_tag(),
            values.join(" ")
        )));
        sent.push(ticks);
    }
    flood.extend_from_slice(b"limp\n");
    bench.chip.send(&flood);
    bench.run_us(flood.len() as u64 * 40 + 150_000);
    let ends = &bench.line_ends[ends_before..];
    assert_eq!(ends.len(), lines + 1, "every line has arrived");
    let answers = bench.lines[answers_before..]
        .iter()
        .filter(|line| line.body.contains("done ms="))
        .count();
    assert_eq!(answers, lines, "every pose was executed");
    // The host decides to stop when the pose ahead has just begun: from the end of the line before that.
    let (end, first) = (ends[lines], ends[lines - 2]);

    let pulses: Vec<Pulse> = bench
        .pulses
        .finished
        .iter()
        .filter(|pulse| pulse.rise > start)
        .copied()
        .collect();
    assert!(bench.pulses.high().is_empty());
    match poses {
        Poses::Jump => of_whole_lines(&pulses, &sent),
        Poses::Ramp => in_small_steps(&pulses),
    }
    let last_fall = pulses
        .iter()
        .map(Pulse::fall)
        .max()
        .expect("there were pulses");
    Trial {
        from_end_us: last_fall.saturating_sub(end) / 16,
        from_first_us: last_fall.saturating_sub(first) / 16,
    }
}

/// No pulse is cut: in every frame, the last one too, all widths are those of one line.
fn of_whole_lines(pulses: &[Pulse], sent: &[[u64; 24]]) {
    let begins = first_of_frame(pulses);
    let mut frames: BTreeMap<u64, Vec<(usize, u64)>> = BTreeMap::new();
    for pulse in pulses {
        let place = PINS
            .iter()
            .position(|pin| *pin == pulse.pin)
            .expect("one of ours");
        let frame = (pulse.rise + 1000 * CYCLES_PER_FRAME - begins) / CYCLES_PER_FRAME;
        frames.entry(frame).or_default().push((place, pulse.width));
    }
    for (frame, widths) in &frames {
        let of_one = sent.iter().any(|ticks| {
            widths
                .iter()
                .all(|(place, width)| ticks[*place] * 8 == *width)
        });
        assert!(
            of_one,
            "frame {frame}: {widths:?} are not those of one line: a pulse was cut"
        );
    }
}

/// No pulse is cut: from frame to frame no pin goes further than its slew, 2000 us/s at most, allows.
fn in_small_steps(pulses: &[Pulse]) {
    for pin in PINS {
        let widths: Vec<u64> = pulses
            .iter()
            .filter(|pulse| pulse.pin == pin)
            .map(|pulse| pulse.width)
            .collect();
        for pair in widths.windows(2) {
            let step = pair[0].abs_diff(pair[1]);
            assert!(
                step <= 40 * CYCLES_PER_US && step % 8 == 0,
                "pin {pin} went {step} cycles in a frame: cut?"
            );
        }
    }
}

/// The rise that begins a frame: the one after the longest time without a rise.
fn first_of_frame(pulses: &[Pulse]) -> u64 {
    let mut rises: Vec<u64> = pulses.iter().map(|pulse| pulse.rise).take(96).collect();
    rises.sort_unstable();
    rises
        .windows(2)
        .max_by_key(|pair| pair[1] - pair[0])
        .expect("there are pulses")[1]
}

fn limp_in_time(poses: Poses, trials: usize) {
    let mut random = random(poses as u64 + 1);
    let mut bench = Bench::ready(&[]);
    bench.change("slew all 100000");
    for pin in PINS {
        bench.change(&format!("guard {pin} 500 2500"));
        if poses == Poses::Ramp {
            bench.change(&format!("slew {pin} {}", random.random_range(300..=2000)));
        }
    }
    bench.change("silence 2000 60000");
    let roster: Vec<String> = PINS.iter().map(u8::to_string).collect();
    bench.change(&format!("roster {}", roster.join(" ")));
    let found: Vec<Trial> = (0..trials)
        .map(|_| limp_trial(&mut bench, &mut random, poses))
        .collect();
    let worst_end = found.iter().map(|trial| trial.from_end_us).max();
    let worst_first = found.iter().map(|trial| trial.from_first_us).max();
    eprintln!(
        "{poses:?}, {trials} trials: at most {worst_end:?} us from its end, {worst_first:?} us from the first byte"
    );
    assert!(
        worst_end <= Some(5_000),
        "{worst_end:?} us from the end of `limp` to the last fall"
    );
    assert!(
        worst_first <= Some(15_000),
        "{worst_first:?} us from the host's first byte to the last fall"
    );
    assert_eq!(
        (bench.overruns, bench.sense("late"), bench.sense("dropped")),
        (0, 0, 0)
    );
}

#[test]
fn limp_behind_poses_that_jump_ends_every_pulse_in_time() {
    limp_in_time(Poses::Jump, 100);
}

#[test]
fn limp_behind_poses_on_ramps_ends_every_pulse_in_time() {
    limp_in_time(Poses::Ramp, 100);
}

/// Hostile lines, each with a right check, as fast as the line carries them: whatever is answered, no pulse
/// leaves a guard that was in force when its frame was built.
#[test]
fn no_line_gets_a_pulse_past_its_guard() {
    let mut random = random(5);
    let mut bench = Bench::ready(&[]);
    let pins = [22u8, 23, 37, 2, 69];
    // For each pin the guards that were given, from when on.
    let mut guards: BTreeMap<u8, Vec<(u64, u64, u64)>> = pins
        .iter()
        .map(|pin| (*pin, vec![(0, 2800, 3200)]))
        .collect();
    let mut pulses = 0;
    for _ in 0..400 {
        let from = bench.lines.len();
        let mut asked: BTreeMap<u16, (u8, u64, u64)> = BTreeMap::new();
        for _ in 0..20 {
            let tag = bench.next_tag();
            let words = hostile(&mut random, &pins);
            let parts: Vec<&str> = words.split(' ').collect();
            if let ["guard", pin, low, high] = parts[..]
                && let (Ok(pin), Ok(low), Ok(high)) =
                    (pin.parse(), low.parse::<u64>(), high.parse::<u64>())
            {
                asked.insert(tag, (pin, 2 * low, 2 * high));
            }
            bench.chip.send(&with_check(&format!("{tag} {words}")));
        }
        let checked = bench.pulses.finished.len();
        bench.run_us(40_000);
        for line in &bench.lines[from..] {
            let mut words = line.body.split(' ');
            let tag = words.next().and_then(|tag| tag.parse::<u16>().ok());
            if let (Some(tag), Some("done")) = (tag, words.next())
                && let Some((pin, low, high)) = asked.get(&tag)
            {
                guards
                    .get_mut(pin)
                    .expect("one of ours")
                    .push((line.begun, *low, *high));
            }
        }
        for pulse in &bench.pulses.finished[checked..] {
            pulses += 1;
            let ticks = pulse.ticks().unwrap_or_else(|| panic!("cut: {pulse:?}"));
            let given = &guards[&pulse.pin];
            // A pulse shows what its frame was built with, two frames ago at most.
            let since = pulse.rise.saturating_sub(3 * CYCLES_PER_FRAME);
            let first = given
                .iter()
                .rposition(|(from, _, _)| *from <= since)
                .unwrap_or(0);
            let held = given[first..]
                .iter()
                .any(|(_, low, high)| (*low..=*high).contains(&ticks));
            assert!(
                held,
                "{pulse:?} is outside of every guard in force: {:?}",
                &given[first..]
            );
        }
    }
    assert!(
        pulses > 1000,
        "only {pulses} pulses: the lines were not hostile, they were hopeless"
    );
    assert_eq!(bench.sense("late"), 0);
}

/// Words that try to get a pulse out of bounds.
fn hostile(random: &mut impl RngExt, pins: &[u8]) -> String {
    let pin = pins[random.random_range(0..pins.len())];
    let near = random.random_range(1300..=1700u32);
    let wild = [
        0,
        1,
        499,
        500,
        1399,
        1400,
        1600,
        1601,
        2500,
        2501,
        32767,
        65535,
        65536,
        4_294_967_295,
    ][random.random_range(0..14)];
    let us = if random.random_bool(0.5) { near } else { wild };
    match random.random_range(0..12) {
        0 | 1 => format!("wake {pin} {us}"),
        2 => format!("go {} {pin}:{us}", random.random_range(0..200)),
        3 => format!("go 0 {pin}:{near} {}:{us}", pins[0]),
        4 => format!("go 60000 {pin}:{us}.5"),
        5 => "roster 22 23 37 2 69".into(),
        6 => format!("pose 0 {us} {near} - {near} {us}"),
        7 => format!("peck {pin} {us} 40"),
        8 => {
            let low = random.random_range(500..=1500);
            format!("guard {pin} {low} {}", random.random_range(low..=2500))
        }
        9 => format!("guard {pin} {us} {near}"),
        10 => "slew all 100000".into(),
        _ => ["beat", "thaw 1", "silence 2000 60000", "limp 23"][random.random_range(0..4)].into(),
    }
}
