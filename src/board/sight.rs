//! What a person at the bench would see of a robot, as plain data.
//!
//! The practice robot paints it, the console draws it, clearly marked as simulated. It holds no
//! calibration truth: a joint's angle is what a gauge would read, with the gauge's own errors.
//! A real board has no sight.

use std::sync::{Arc, Mutex, PoisonError};

/// What can be seen, heard and read off at one moment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sight {
    /// Who shows this: `simulated, seed 7`. Always drawn beside the picture.
    pub label: String,
    /// Seconds of the robot's own time since it was switched on.
    pub seconds: f64,
    /// The joints, in the robot's own order. A joint is named by where it *is*, not by its pin:
    /// with two plugs exchanged the wrong joint moves, and that is what one sees.
    pub joints: Vec<SeenJoint>,
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
    /// What a gauge held against it would read, in degrees, with the gauge's noise.
    pub gauge_deg: f64,
    /// Degrees it moved since it last stood still; positive the joint's positive way; 0 at rest.
    pub moved_deg: f64,
    /// Whether it is in motion now.
    pub moving: bool,
    /// Whether it hums: it presses against an end or carries a load.
    pub hums: bool,
    /// Whether it hangs without force: no pulse, or a dead servo.
    pub slack: bool,
}

/// A read-only handle on the present [`Sight`]; clones look at the same robot.
#[derive(Debug, Clone)]
pub struct SightHandle(Arc<Mutex<Sight>>);

impl SightHandle {
    /// What there is to see now.
    pub fn look(&self) -> Sight {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

/// The other end: the one place that paints what the handles show.
#[derive(Debug)]
pub struct SightPainter(Arc<Mutex<Sight>>);

impl SightPainter {
    /// A painter that shows `first` until it paints again.
    pub fn new(first: Sight) -> SightPainter {
        SightPainter(Arc::new(Mutex::new(first)))
    }

    /// A handle for those who look.
    pub fn handle(&self) -> SightHandle {
        SightHandle(Arc::clone(&self.0))
    }

    /// Replaces what there is to see.
    pub fn paint(&self, sight: Sight) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = sight;
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
        painter.paint(Sight {
            supply_v: 5.02,
            ..Sight::default()
        });
        assert_eq!(handle.look().supply_v, 5.02);
        assert_eq!(handle.look(), other.look());
    }
}
