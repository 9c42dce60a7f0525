//! What a person at the bench would see of a robot, as plain data.
//!
//! The practice robot paints it, the console draws it, clearly marked as simulated. It holds no
//! calibration truth: a joint's angle is what a gauge would read, with the gauge's own errors.
//! A real board has no sight.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::hands::HandsHandle;
use crate::units::Pin;

/// What can be seen, heard and read off at one moment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sight {
    /// Who shows this: `simulated, seed 7`. Always drawn beside the picture.
    pub label: String,
    /// How many times faster than a clock the robot's time runs; every picture says so if it is
    /// not 1.
    pub speed: u32,
    /// Seconds of the robot's own time since it was switched on.
    pub seconds: f64,
    /// Whether gauges are placed and read with errors, as real ones are.
    pub gauges_err: bool,
    /// The joints, in the robot's own order. A joint is named by where it *is*, not by its pin:
    /// with two plugs exchanged the wrong joint moves, and that is what one sees.
    pub joints: Vec<SeenJoint>,
    /// The servo on the test pin, if there is one.
    pub on_test_pin: Option<SeenServo>,
    /// Where feet touch the printed sheet; no more than those that do.
    pub touches: Vec<SeenTouch>,
    /// Volts on the supply's display.
    pub supply_v: f64,
    /// Amperes on the supply's display.
    pub supply_a: f64,
    /// The current limit the supply is set to, in amperes.
    pub limit_a: f64,
    /// Anything else worth a sentence, newest last: `the regulator clicked, the lights went out`.
    pub notes: Vec<String>,
}

/// One joint as it looks.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeenJoint {
    /// Leg, from the robot's own view: `LF`.
    pub leg: String,
    /// Joint: `coxa`, `femur`, `tibia`.
    pub joint: String,
    /// What a gauge held against it reads, in degrees: the one that is placed on it if there is
    /// one, otherwise one placed anew each time the joint has come to rest. With both errors, that
    /// of the placing and that of the reading.
    pub gauge_deg: f64,
    /// Whether a gauge is placed on it.
    pub gauge: bool,
    /// Whether its leg is unscrewed: what turns is the bare arm of its horn, and a gauge shows where that points.
    pub bare: bool,
    /// How its servo looks and sounds.
    pub servo: SeenMotion,
    /// What it is seen to lean against, while it is driven against it.
    pub against: Option<Against>,
    /// What it was last seen to lean against, and when, in the robot's seconds: a peck is over before
    /// anybody is asked.
    pub leaned: Option<(Against, f64)>,
}

/// The servo on the test pin, with nothing on its horn.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenServo {
    /// The number on its sticker.
    pub number: String,
    /// The pin.
    pub pin: Pin,
    /// Where its horn points, by eye, degrees from its middle, positive as the pulse grows for
    /// most servos.
    pub horn_deg: f64,
    /// How it looks and sounds.
    pub servo: SeenMotion,
}

/// A foot on the printed sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenTouch {
    /// Whose foot: `LF`.
    pub leg: String,
    /// Where on the grid, by the numbers that are printed there: read anew each time that it comes to touch, with the
    /// error of that reading.
    pub at_mm: [f64; 2],
}

/// How a servo and what hangs on it looks and sounds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SeenMotion {
    /// Whether it is in motion now.
    pub moving: bool,
    /// Degrees from where it last stood still; positive the joint's positive way; 0 at rest.
    pub moved_deg: f64,
    /// The farthest that it went in its last motion, from where that began, with its sign: a short
    /// peck out and back leaves this behind.
    pub swung_deg: f64,
    /// When its last motion began, in the robot's seconds.
    pub swung_at: Option<f64>,
    /// Whether it hums: it drives against something and gets nowhere.
    pub hums: bool,
    /// When it was last heard to hum, in the robot's seconds.
    pub hummed_at: Option<f64>,
    /// Whether it hangs without force: no pulse, or a dead servo.
    pub slack: bool,
    /// Whether it jitters and rattles while it should rest.
    pub rattles: bool,
    /// Whether it is hot to the finger.
    pub hot: bool,
}

/// What ends a joint's motion, as a person sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Against {
    /// The linkage or printed parts.
    Linkage,
    /// The body.
    Body,
    /// A cable that came taut.
    Cable,
    /// A neighbour leg, by its name.
    Neighbour(String),
    /// The printed sheet, below the foot.
    Sheet,
}

/// A handle on the present [`Sight`]; clones look at the same robot.
#[derive(Debug, Clone)]
pub struct SightHandle {
    shared: Arc<Shared>,
    hands: Option<HandsHandle>,
}

#[derive(Debug)]
struct Shared {
    sight: Mutex<Sight>,
    clock_ms: AtomicU64,
}

impl SightHandle {
    /// What there is to see now.
    pub fn look(&self) -> Sight {
        self.shared
            .sight
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// The robot's own time since it was switched on: what timers follow when it runs fast.
    pub fn clock(&self) -> Duration {
        Duration::from_millis(self.shared.clock_ms.load(Ordering::Relaxed))
    }

    /// How many times faster than a clock the robot's time runs.
    pub fn speed(&self) -> u32 {
        self.shared
            .sight
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .speed
    }

    /// What can be done by hand to what is seen.
    pub fn hands(&self) -> Option<&HandsHandle> {
        self.hands.as_ref()
    }

    /// The same sight, with hands.
    pub fn with_hands(self, hands: HandsHandle) -> SightHandle {
        SightHandle {
            hands: Some(hands),
            ..self
        }
    }
}

/// The other end: the one place that paints what the handles show.
#[derive(Debug)]
pub struct SightPainter(Arc<Shared>);

impl SightPainter {
    /// A painter that shows `first` until it paints again.
    pub fn new(first: Sight) -> SightPainter {
        SightPainter(Arc::new(Shared {
            sight: Mutex::new(first),
            clock_ms: AtomicU64::new(0),
        }))
    }

    /// A handle for those who look.
    pub fn handle(&self) -> SightHandle {
        SightHandle {
            shared: Arc::clone(&self.0),
            hands: None,
        }
    }

    /// Changes what there is to see.
    pub fn paint(&self, change: impl FnOnce(&mut Sight)) {
        change(&mut self.0.sight.lock().unwrap_or_else(PoisonError::into_inner));
    }

    /// Sets the robot's own time.
    pub fn tick(&self, ms: u64) {
        self.0.clock_ms.store(ms, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_handle_sees_what_was_painted_last() {
        let painter = SightPainter::new(Sight::default());
        let handle = painter.handle();
        let other = handle.clone();
        painter.paint(|sight| sight.supply_v = 5.02);
        painter.tick(20);
        assert_eq!(handle.look().supply_v, 5.02);
        assert_eq!(handle.look(), other.look());
        assert_eq!(other.clock(), Duration::from_millis(20));
    }
}
