//! One hobby servo: a pulse in, a shaft that turns at finite speed, a current.
//!
//! A direct-current motor behind a proportional drive with a dead band. Time is an argument; it
//! knows neither pins nor what hangs on its shaft but for two hard ends.

/// How far from its target a servo drives at full power, in degrees. Common practice: cheap
/// servos slow down over the last few degrees.
const FULL_DRIVE_DEG: f64 = 10.0;
/// Time constant of motor and gear, in seconds.
const SPIN_UP_S: f64 = 0.008;
/// Volts at which the data sheet's speed and stall current hold.
const RATED_V: f64 = 5.0;
/// Current of the electronics alone.
const IDLE_A: f64 = 0.008;
/// What friction takes while the shaft turns.
const FRICTION_A: f64 = 0.09;

/// What one unit is like.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Servo {
    /// The pulse of its own middle.
    pub centre_us: f64,
    /// Near the middle.
    pub us_per_deg: f64,
    /// Degrees more for each degree squared from the middle: no response is quite straight.
    pub bend_per_deg: f64,
    /// Pulses nearer than this to where it stands do nothing.
    pub dead_band_us: f64,
    /// Its own travel to either side, in degrees.
    pub reach_deg: f64,
    /// Top speed without load at the rated volts.
    pub speed_deg_s: f64,
    /// At the rated volts.
    pub stall_a: f64,
}

/// Where the shaft is and what it does.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Shaft {
    /// From the servo's own middle.
    pub deg: f64,
    /// Degrees a second.
    pub speed: f64,
    /// What it draws now.
    pub amps: f64,
    /// It drives against one of the ends.
    pub presses: bool,
}

impl Servo {
    /// Where a pulse sends the shaft.
    pub(super) fn target_deg(&self, pulse_us: f64) -> f64 {
        let straight = (pulse_us - self.centre_us) / self.us_per_deg;
        let bent = straight + self.bend_per_deg * straight * straight;
        bent.clamp(-self.reach_deg, self.reach_deg)
    }

    /// A moment passes. `pulse_us`: none when the pin is limp. `ends_deg`: where what hangs on the
    /// shaft stops it, in shaft degrees.
    pub(super) fn step(
        &self,
        shaft: &mut Shaft,
        pulse_us: Option<f64>,
        ends_deg: (f64, f64),
        volts: f64,
        seconds: f64,
    ) {
        let Some(pulse_us) = pulse_us else {
            // The gear's friction holds it.
            *shaft = Shaft {
                deg: shaft.deg,
                amps: IDLE_A,
                ..Shaft::default()
            };
            return;
        };
        let error = self.target_deg(pulse_us) - shaft.deg;
        let drive = if error.abs() * self.us_per_deg <= self.dead_band_us {
            0.0
        } else {
            (error / FULL_DRIVE_DEG).clamp(-1.0, 1.0)
        };
        let power = drive * (volts / RATED_V).clamp(0.0, 1.5);
        shaft.speed += (power * self.speed_deg_s - shaft.speed) * (seconds / SPIN_UP_S).min(1.0);
        let free = shaft.deg + shaft.speed * seconds;
        shaft.deg = free.clamp(ends_deg.0, ends_deg.1);
        let blocked = shaft.deg != free;
        if blocked {
            shaft.speed = 0.0;
        }
        shaft.presses = blocked && drive != 0.0;
        // A motor draws the stall current less what its own turning takes off.
        let slip = (power - shaft.speed / self.speed_deg_s).abs();
        let moves = if shaft.speed.abs() > 1.0 {
            FRICTION_A
        } else {
            0.0
        };
        shaft.amps = IDLE_A + moves + self.stall_a * slip;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn servo() -> Servo {
        Servo {
            centre_us: 1500.0,
            us_per_deg: 10.0,
            bend_per_deg: 0.0,
            dead_band_us: 4.0,
            reach_deg: 90.0,
            speed_deg_s: 400.0,
            stall_a: 1.4,
        }
    }

    fn run(servo: &Servo, shaft: &mut Shaft, us: Option<f64>, ms: u32) -> f64 {
        let mut most: f64 = 0.0;
        for _ in 0..ms {
            servo.step(shaft, us, (-60.0, 60.0), 5.0, 0.001);
            most = most.max(shaft.amps);
        }
        most
    }

    #[test]
    fn it_goes_where_the_pulse_says_within_its_dead_band_and_not_at_once() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        run(&servo, &mut shaft, Some(1900.0), 50);
        // 400 degrees a second: at most 20 degrees in 50 ms, and it takes time to spin up.
        assert!(shaft.deg > 10.0 && shaft.deg < 20.0, "{shaft:?}");
        run(&servo, &mut shaft, Some(1900.0), 500);
        assert!((shaft.deg - 40.0).abs() <= 0.4, "{shaft:?}");
        assert!(shaft.speed.abs() < 0.5, "{shaft:?}");
    }

    #[test]
    fn a_step_inside_the_dead_band_does_nothing() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        run(&servo, &mut shaft, Some(1503.5), 500);
        assert_eq!(shaft.deg, 0.0);
        run(&servo, &mut shaft, Some(1508.0), 500);
        assert!(shaft.deg > 0.3);
    }

    #[test]
    fn against_an_end_it_stalls_and_says_so() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        run(&servo, &mut shaft, Some(2300.0), 1000);
        assert_eq!(shaft.deg, 60.0);
        assert!(shaft.presses);
        assert!((shaft.amps - 1.4).abs() < 0.05, "{shaft:?}");
    }

    #[test]
    fn its_own_travel_ends_without_a_stall() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        for _ in 0..2000 {
            servo.step(&mut shaft, Some(2490.0), (-170.0, 170.0), 5.0, 0.001);
        }
        assert!((shaft.deg - 90.0).abs() <= 0.4);
        assert!(!shaft.presses && shaft.amps < 0.2, "{shaft:?}");
    }

    #[test]
    fn starting_draws_far_more_than_turning_and_resting_little() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        let start = run(&servo, &mut shaft, Some(1900.0), 5);
        run(&servo, &mut shaft, Some(1900.0), 25);
        let turning = shaft.amps;
        run(&servo, &mut shaft, Some(1900.0), 1000);
        assert!(start > 1.0, "{start}");
        assert!(turning < 0.4 * start, "{turning}");
        assert!(shaft.amps < 0.06, "{shaft:?}");
    }

    #[test]
    fn without_pulses_it_stays_where_it_is() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        run(&servo, &mut shaft, Some(1700.0), 500);
        let before = shaft.deg;
        run(&servo, &mut shaft, None, 500);
        assert_eq!((shaft.deg, shaft.speed), (before, 0.0));
    }
}
