//! One hobby servo: a pulse in, a shaft that turns at finite speed, a current, heat.
//!
//! A direct-current motor behind a proportional drive with a dead band. Time is an argument; it
//! knows neither pins nor what hangs on its shaft but for two hard ends.
//! Without pulses the shaft stays where it is: the gears of hobby servos usually hold a light leg (common practice),
//! so no limp leg falls here. One that does fall at a bench is not practised.

/// How far from its target a servo drives at full power, in degrees. Common practice: cheap
/// servos slow down over the last few degrees.
const FULL_DRIVE_DEG: f64 = 10.0;
/// Outside its dead band it pushes with at least this part of its force, so that a pulse a few
/// microseconds beyond an end makes it hum and draw already. From memory of such drives.
const LEAST_PUSH: f64 = 0.3;
/// Time constant of motor and gear, in seconds.
const SPIN_UP_S: f64 = 0.008;
/// Volts at which the data sheet's speed and stall current hold.
const RATED_V: f64 = 5.0;
/// Current of the electronics alone.
const IDLE_A: f64 = 0.008;
/// What friction takes while the shaft turns.
const FRICTION_A: f64 = 0.09;
/// Slower than this it stands, in degrees a second.
const STANDS_DEG_S: f64 = 0.5;
/// A rattling servo's target jumps by this much to either side, in degrees,
const RATTLE_DEG: f64 = 0.8;
/// and back after so many milliseconds.
const RATTLE_MS: u32 = 45;
/// What a servo that gets hot without a load draws beside the rest.
const LEAK_A: f64 = 0.35;
/// Kelvin a second for each ampere squared in the motor: a stalled servo burns in ten seconds or
/// so. From memory; common practice says never to let one stall for longer than a few seconds.
const HEATS_K_S: f64 = 5.0;
/// The same for one that gets hot without a load.
const LEAK_HEATS_K_S: f64 = 0.8;
/// How fast a case cools.
const COOLS_S: f64 = 60.0;
/// Above the room: hot to a finger.
const HOT_K: f64 = 25.0;
/// Above the room: the winding is gone.
const BURNS_K: f64 = 90.0;
/// One step of time, in seconds.
const STEP_S: f64 = 0.001;

/// How sound one unit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Health {
    Good,
    /// It never moves.
    Dead,
    /// It jitters at rest.
    Noisy,
    /// It gets hot without a load.
    Hot,
}

/// What one unit is like.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Servo {
    /// On its sticker.
    pub number: u8,
    /// At 1500 us; always positive.
    pub us_per_deg: f64,
    /// 1, or -1 if it turns the other way than its kind.
    pub turns: f64,
    /// Where 1500 us sends it, from the middle of its own travel.
    pub centre_deg: f64,
    /// Degrees more for each degree squared from 1500 us: no response is quite straight.
    pub bend_per_deg: f64,
    /// Pulses nearer than this to where it stands do nothing.
    pub dead_band_us: f64,
    /// Its own travel to either side, in degrees.
    pub reach_deg: f64,
    /// Top speed without load at the rated volts.
    pub speed_deg_s: f64,
    /// At the rated volts.
    pub stall_a: f64,
    /// Of gears and horn, to either side.
    pub half_play_deg: f64,
    /// Teeth of the spline.
    pub teeth: u32,
    /// Arms of its horn.
    pub arms: u32,
    pub health: Health,
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
    /// It drives against something and gets nowhere.
    pub presses: bool,
    /// Kelvin above the room.
    pub heat_k: f64,
    /// The pulse it got last.
    pulse_us: Option<f64>,
    /// Nothing changes while the pulse stays.
    rests: bool,
    /// Counts for the rattle.
    ticks: u32,
}

impl Shaft {
    /// A shaft that stands there and was never driven.
    pub(super) fn at(deg: f64) -> Shaft {
        Shaft {
            deg,
            ..Shaft::default()
        }
    }

    /// Nothing would change in another moment with this pulse.
    pub(super) fn rests_at(&self, pulse_us: Option<f64>) -> bool {
        self.rests && self.pulse_us == pulse_us
    }

    /// Something in its way took it back to where it was: it stalls.
    pub(super) fn block(&mut self, was_deg: f64, servo: &Servo, volts: f64) {
        self.deg = was_deg;
        self.speed = 0.0;
        self.presses = true;
        let error = self
            .pulse_us
            .map_or(0.0, |us| servo.target_deg(us) - was_deg);
        self.amps = servo.pressing_a(error / FULL_DRIVE_DEG, volts);
    }

    /// Time passes for the case.
    pub(super) fn warm(&mut self, servo: &mut Servo, seconds: f64) {
        let leaks = servo.health == Health::Hot && self.pulse_us.is_some();
        let gains = HEATS_K_S * self.amps * self.amps + if leaks { LEAK_HEATS_K_S } else { 0.0 };
        self.heat_k += (gains - self.heat_k / COOLS_S) * seconds;
        if self.heat_k > BURNS_K && servo.health != Health::Dead {
            servo.health = Health::Dead;
            self.rests = false;
        }
    }

    /// Hot to a finger.
    pub(super) fn is_hot(&self) -> bool {
        self.heat_k > HOT_K
    }

    /// A pulse comes, and the electronics take it.
    pub(super) fn is_driven(&self, servo: &Servo) -> bool {
        self.pulse_us.is_some() && servo.health != Health::Dead
    }

    /// It jitters now.
    pub(super) fn rattles(&self, servo: &Servo) -> bool {
        servo.health == Health::Noisy && self.pulse_us.is_some()
    }
}

impl Servo {
    /// Where a pulse sends the shaft, from the middle of its own travel.
    pub(super) fn target_deg(&self, pulse_us: f64) -> f64 {
        let straight = (pulse_us - 1500.0) / self.us_per_deg;
        let bent = straight + self.bend_per_deg * straight * straight;
        (self.centre_deg + self.turns * bent).clamp(-self.reach_deg, self.reach_deg)
    }

    /// What it draws while it pushes at something that does not give.
    fn pressing_a(&self, drive: f64, volts: f64) -> f64 {
        let push = LEAST_PUSH + (1.0 - LEAST_PUSH) * drive.abs().min(1.0);
        IDLE_A + self.stall_a * push * (volts / RATED_V).clamp(0.0, 1.5)
    }

    /// A millisecond passes. `pulse_us`: none when the pin is limp. `ends_deg`: where what hangs on
    /// the shaft stops it, in shaft degrees.
    pub(super) fn step(
        &self,
        shaft: &mut Shaft,
        pulse_us: Option<f64>,
        ends_deg: (f64, f64),
        volts: f64,
    ) {
        shaft.pulse_us = pulse_us;
        let (Some(pulse_us), true) = (pulse_us, self.health != Health::Dead) else {
            // The gear's friction holds it.
            shaft.speed = 0.0;
            shaft.presses = false;
            shaft.amps = IDLE_A;
            shaft.rests = true;
            return;
        };
        let mut error = self.target_deg(pulse_us) - shaft.deg;
        if self.health == Health::Noisy {
            shaft.ticks += 1;
            let odd = (shaft.ticks / RATTLE_MS) % 2 == 1;
            error += if odd { RATTLE_DEG } else { -RATTLE_DEG };
        }
        let drive = if error.abs() * self.us_per_deg <= self.dead_band_us {
            0.0
        } else {
            (error / FULL_DRIVE_DEG).clamp(-1.0, 1.0)
        };
        let power = drive * (volts / RATED_V).clamp(0.0, 1.5);
        shaft.speed += (power * self.speed_deg_s - shaft.speed) * (STEP_S / SPIN_UP_S);
        if drive == 0.0 && shaft.speed.abs() < STANDS_DEG_S {
            shaft.speed = 0.0;
        }
        let free = shaft.deg + shaft.speed * STEP_S;
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
        let leak = if self.health == Health::Hot {
            LEAK_A
        } else {
            0.0
        };
        shaft.amps = if shaft.presses {
            leak + self.pressing_a(drive, volts)
        } else {
            IDLE_A + leak + moves + self.stall_a * slip
        };
        shaft.rests = drive == 0.0 && shaft.speed == 0.0 && self.health != Health::Noisy;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn servo() -> Servo {
        Servo {
            number: 1,
            us_per_deg: 10.0,
            turns: 1.0,
            centre_deg: 0.0,
            bend_per_deg: 0.0,
            dead_band_us: 4.0,
            reach_deg: 90.0,
            speed_deg_s: 400.0,
            stall_a: 1.4,
            half_play_deg: 0.0,
            teeth: 25,
            arms: 4,
            health: Health::Good,
        }
    }

    fn run(servo: &Servo, shaft: &mut Shaft, us: Option<f64>, ms: u32) -> f64 {
        let mut most: f64 = 0.0;
        for _ in 0..ms {
            servo.step(shaft, us, (-60.0, 60.0), 5.0);
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
        assert!(shaft.rests_at(Some(1900.0)), "{shaft:?}");
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
    fn it_stops_on_the_side_from_which_it_came() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        run(&servo, &mut shaft, Some(1300.0), 1000);
        run(&servo, &mut shaft, Some(1500.0), 1000);
        assert!(shaft.deg < -0.1, "{shaft:?}");
        run(&servo, &mut shaft, Some(1700.0), 1000);
        run(&servo, &mut shaft, Some(1500.0), 1000);
        assert!(shaft.deg > 0.1, "{shaft:?}");
    }

    #[test]
    fn a_bent_and_a_reversed_response() {
        // Two degrees more at sixty, as ESTIMATION's populations have at most.
        let bent = Servo {
            bend_per_deg: 2.0 / 3600.0,
            ..servo()
        };
        assert!((bent.target_deg(2100.0) - 62.0).abs() < 1e-9);
        assert!((bent.target_deg(900.0) + 58.0).abs() < 1e-9);
        let reversed = Servo {
            turns: -1.0,
            ..servo()
        };
        assert_eq!(reversed.target_deg(1600.0), -10.0);
    }

    #[test]
    fn against_an_end_it_stalls_gets_hot_and_burns() {
        let (mut servo, mut shaft) = (servo(), Shaft::default());
        run(&servo, &mut shaft, Some(2300.0), 1000);
        assert_eq!(shaft.deg, 60.0);
        assert!(shaft.presses);
        assert!((shaft.amps - 1.4).abs() < 0.05, "{shaft:?}");
        let mut seconds = 0;
        while servo.health == Health::Good {
            run(&servo, &mut shaft, Some(2300.0), 1000);
            shaft.warm(&mut servo, 1.0);
            seconds += 1;
            assert!(shaft.is_hot() || seconds < 4, "{seconds} s {shaft:?}");
        }
        assert!((6..20).contains(&seconds), "{seconds}");
        run(&servo, &mut shaft, Some(1500.0), 1000);
        assert_eq!(shaft.deg, 60.0);
        assert!(!shaft.presses && shaft.amps < 0.02);
    }

    #[test]
    fn pecks_of_a_quarter_of_a_second_do_not_burn_it() {
        let (mut servo, mut shaft) = (servo(), Shaft::default());
        for _ in 0..40 {
            // Pressed for 250 ms, then two seconds until the builder has answered.
            run(&servo, &mut shaft, Some(2300.0), 1000);
            shaft.warm(&mut servo, 0.25);
            run(&servo, &mut shaft, Some(2000.0), 1000);
            shaft.warm(&mut servo, 2.0);
        }
        assert_eq!(servo.health, Health::Good);
    }

    #[test]
    fn its_own_travel_ends_without_a_stall() {
        let (servo, mut shaft) = (servo(), Shaft::default());
        for _ in 0..2000 {
            servo.step(&mut shaft, Some(2490.0), (-170.0, 170.0), 5.0);
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

    #[test]
    fn a_noisy_one_never_rests_and_a_hot_one_warms_a_finger_in_a_minute() {
        let (mut noisy, mut shaft) = (servo(), Shaft::default());
        noisy.health = Health::Noisy;
        let mut seen = Vec::new();
        for _ in 0..40 {
            run(&noisy, &mut shaft, Some(1500.0), 25);
            seen.push(shaft.deg);
        }
        let most = seen.iter().copied().fold(f64::MIN, f64::max);
        let least = seen.iter().copied().fold(f64::MAX, f64::min);
        assert!(most - least > 0.3 && most - least < 2.0, "{most} {least}");
        for (health, hot) in [(Health::Hot, true), (Health::Good, false)] {
            let (mut servo, mut shaft) = (servo(), Shaft::default());
            servo.health = health;
            for _ in 0..60 {
                run(&servo, &mut shaft, Some(1500.0), 1000);
                shaft.warm(&mut servo, 1.0);
            }
            assert_eq!(shaft.is_hot(), hot, "{health:?} {shaft:?}");
        }
    }
}
