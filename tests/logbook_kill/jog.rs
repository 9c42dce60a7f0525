//! The real console, killed while it records marks on the Jog page, one of three while it also saves.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use hornset::calibration::file;
use hornset::calibration::logbook::What;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::{Shown, look, own, pty};

const KILLS: usize = 40;
/// As many consoles at a time: they wait most of their time.
const CONSOLES: usize = 8;

/// Kills consoles; none may lose anything.
pub fn killed() {
    let next = AtomicUsize::new(0);
    let (mut shown, mut lately) = (0, 0);
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..CONSOLES)
            .map(|_| {
                scope.spawn(|| {
                    let (mut shown, mut lately) = (0, 0);
                    loop {
                        let kill = next.fetch_add(1, Ordering::Relaxed);
                        if kill >= KILLS {
                            return (shown, lately);
                        }
                        let (marks, last) = killed_once(kill);
                        shown += marks;
                        lately += usize::from(last);
                    }
                })
            })
            .collect();
        for worker in workers {
            let (marks, last) = worker.join().expect("none lost anything");
            shown += marks;
            lately += last;
        }
    });
    println!(
        "Jog: {KILLS} kills, none lost anything of {shown} marks shown; \
         {lately} had one on the disk that was not shown yet"
    );
}

/// Kills one console at a random moment; how many marks it had shown as recorded,
/// and whether there was one more on the disk.
fn killed_once(kill: usize) -> (usize, bool) {
    let mut random = ChaCha8Rng::seed_from_u64(1000 + kill as u64);
    let folder = pty::folder();
    let path = own(folder.path());
    let name = path.to_str().expect("a path");
    let console = pty::Console::start(&["--practice", "--file", name], folder.path());
    console.see("practice, seed 7");
    console.see("say whether the robot is on its stand");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.press("i<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    console.press("w", "full speed");
    console.press("<Enter>", "1 awake");
    console.press("=1460<Enter>", "1460 commanded");
    // Steps so large that each mark comes from the same side, and so takes the place of the one before.
    let mut pulses = (1520..).step_by(20);
    let shown: Vec<u32> = pulses.by_ref().take(random.random_range(1..5)).collect();
    for us in &shown {
        console.press(&format!("={us}<Enter>"), &format!("{us} commanded"));
        console.press("m<Enter>", &sentence(*us));
    }
    let last = pulses.next().expect("there is always one more");
    console.press(&format!("={last}<Enter>"), &format!("{last} commanded"));
    // One of three is killed while it also saves.
    console.keys(if kill.is_multiple_of(3) {
        "m<Enter>s"
    } else {
        "m<Enter>"
    });
    // A key takes up to a frame or two until its answer is on the screen.
    std::thread::sleep(Duration::from_micros(random.random_range(0..120_000)));
    let screen = console.killed();
    let mut shown: Vec<Shown> = shown.into_iter().map(mark).collect();
    let is_shown = screen.contains(&sentence(last)) || screen.contains("Saved:");
    let mut in_flight = Some(mark(last));
    if is_shown {
        shown.extend(in_flight.take());
    }
    let left = look(&path, &[], &shown, in_flight.as_ref());
    assert_eq!(left.lost, None, "kill {kill}");
    if screen.contains("Saved:") {
        let loaded = file::load(&path).expect("the calibration file is whole");
        let joint = &loaded.robot().legs[0].joints[1];
        let zero = joint.zero.as_ref().map(|it| it.value);
        assert_eq!(zero, Some(f64::from(last)), "kill {kill}, saved");
    }
    (shown.len(), left.written)
}

fn mark(us: u32) -> Shown {
    Shown {
        words: sentence(us),
        is: Box::new(
            move |it| matches!(it, What::Mark { pulse_us, angle_deg: 0.0, .. } if *pulse_us == f64::from(us)),
        ),
    }
}

fn sentence(us: u32) -> String {
    format!("Recorded: the zero of LF femur is at {us} µs")
}
