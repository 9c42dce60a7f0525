//! One joint as it was built: a servo, its horn, play, and a link that gravity pulls at and that
//! ends somewhere.
//!
//! It knows nothing of pins' pulses but the one it is given, and nothing of other legs.

use super::servo::{Servo, Shaft};
use crate::board::sight::Against;
use crate::units::Pin;

/// How fast a link falls through the play, in degrees a step.
const FALLS_DEG: f64 = 0.05;

/// Nothing ends a bare horn's motion.
pub(super) const FREE_DEG: (f64, f64) = (-720.0, 720.0);

/// What holds a joint up that is no end of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Met {
    /// Another leg, by its name.
    Leg(&'static str),
    /// The printed sheet below the foot.
    Sheet,
}

impl Met {
    /// As a person sees it.
    fn seen(self) -> Against {
        match self {
            Met::Leg(name) => Against::Neighbour(name.to_owned()),
            Met::Sheet => Against::Sheet,
        }
    }
}

/// One joint with its servo.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Joint {
    pub leg: &'static str,
    pub joint: &'static str,
    /// The pin that its plug sits on.
    pub pin: Pin,
    pub servo: Servo,
    pub shaft: Shaft,
    /// The joint's angle when the shaft stands in its middle: what tooth and arm of the horn left.
    pub horn_deg: f64,
    /// 1, or -1 where the servo is mounted against the joint.
    pub sign: f64,
    /// The near or lower end first: where motion ends, in degrees of the joint.
    pub ends_deg: (f64, f64),
    /// What is met there.
    pub ends: (Against, Against),
    /// How hard gravity must pull before the link falls through its play, of its greatest pull.
    pub friction: f64,
    /// How far the link gives at gravity's greatest pull.
    pub droop_deg: f64,
    /// Gravity's pull, -1 to 1, positive the joint's positive way; 0 for an upright axis.
    pub pull: f64,
    /// What the joint is driven against now, if it is no end of its own.
    pub met: Option<Met>,
    /// The leg is unscrewed from the horn: its bare arm turns freely, and the joint's angle is where that points.
    pub bare: bool,
    /// Where the link is, without its droop.
    link_deg: f64,
    /// The link did not move in the last moment.
    link_rests: bool,
}

impl Joint {
    /// A joint whose link hangs at this angle, nothing driven.
    pub(super) fn hanging(mut self, deg: f64) -> Joint {
        self.refit(self.horn_deg, deg);
        self
    }

    /// A joint from its parts; it hangs nowhere yet.
    #[allow(clippy::too_many_arguments)] // Each is one fact of the build; a struct would only repeat `Joint`.
    pub(super) fn new(
        leg: &'static str,
        joint: &'static str,
        pin: Pin,
        servo: Servo,
        horn_deg: f64,
        sign: f64,
        ends: ((f64, Against), (f64, Against)),
        (friction, droop_deg): (f64, f64),
    ) -> Joint {
        Joint {
            leg,
            joint,
            pin,
            servo,
            shaft: Shaft::default(),
            horn_deg,
            sign,
            ends_deg: (ends.0.0, ends.1.0),
            ends: (ends.0.1, ends.1.1),
            friction,
            droop_deg,
            pull: 0.0,
            met: None,
            bare: false,
            link_deg: 0.0,
            link_rests: true,
        }
    }

    /// The joint's angle, as a perfect gauge would show it.
    pub(super) fn deg(&self) -> f64 {
        self.deg_with(self.link_deg)
    }

    /// Where a pulse would put the joint if nothing were in its way: on the middle of the play and
    /// of the dead band, without any load.
    pub(super) fn sent_deg(&self, pulse_us: f64) -> f64 {
        self.horn_deg + self.sign * self.servo.target_deg(pulse_us)
    }

    /// What is met, while the servo drives against it.
    pub(super) fn against(&self) -> Option<Against> {
        if !self.shaft.presses {
            return None;
        }
        if let Some(met) = self.met {
            return Some(met.seen());
        }
        let (low, high) = self.ends_deg;
        if self.link_deg - low < high - self.link_deg {
            Some(self.ends.0.clone())
        } else {
            Some(self.ends.1.clone())
        }
    }

    /// Nothing would change in another moment with this pulse.
    pub(super) fn rests_at(&self, pulse_us: Option<f64>) -> bool {
        self.link_rests && self.shaft.rests_at(pulse_us)
    }

    /// A millisecond passes. Gravity's pull has been set for where the leg is. True: the link moved.
    pub(super) fn step(&mut self, pulse_us: Option<f64>, volts: f64) -> bool {
        self.met = None;
        if !self.shaft.rests_at(pulse_us) {
            let ends = match self.bare {
                true => FREE_DEG,
                false => self.shaft_within(self.ends_deg),
            };
            self.servo.step(&mut self.shaft, pulse_us, ends, volts);
        }
        let before = self.link_deg;
        self.follow();
        self.link_rests = self.link_deg == before;
        !self.link_rests
    }

    /// The same with the link elsewhere, pulled at as it is now.
    pub(super) fn deg_with(&self, link_deg: f64) -> f64 {
        link_deg + self.droop_deg * self.pull
    }

    /// Where it is, to be put back there.
    pub(super) fn place(&self) -> (f64, f64) {
        (self.shaft.deg, self.link_deg)
    }

    /// Something was in the way: back to where it was.
    pub(super) fn put_back(&mut self, place: (f64, f64), met: Met, volts: f64) {
        let driven = self.shaft.deg != place.0;
        self.link_deg = place.1;
        if driven {
            self.shaft.block(place.0, &self.servo, volts);
            self.met = Some(met);
        }
    }

    /// Something stops the link there: the shaft goes on as far as the play lets it, and presses then.
    pub(super) fn stop(&mut self, link_deg: f64, met: Met, volts: f64) {
        /// Less is rounding.
        const LEAST_DEG: f64 = 1e-9;
        self.link_deg = link_deg;
        let (low, high) = self.shaft_within((link_deg, link_deg));
        let stopped = self.shaft.deg.clamp(low, high);
        if (self.shaft.deg - stopped).abs() > LEAST_DEG {
            self.shaft.block(stopped, &self.servo, volts);
            self.met = Some(met);
        }
    }

    /// The horn sits otherwise, and the shaft stays.
    pub(super) fn turn_horn(&mut self, horn_deg: f64) {
        self.link_deg += horn_deg - self.horn_deg;
        self.horn_deg = horn_deg;
        self.link_rests = false;
    }

    /// The leg is screwed to the horn's arm where it stands, or taken off it.
    pub(super) fn unscrew(&mut self, bare: bool) {
        self.bare = bare;
        self.link_rests = false;
    }

    /// Another servo was built in, its shaft in its middle, while the link stood at `deg`: the
    /// servo's shaft was turned by hand until the horn went on.
    pub(super) fn refit(&mut self, horn_deg: f64, deg: f64) {
        let (low, high) = self.ends_deg;
        self.bare = false;
        self.horn_deg = horn_deg;
        self.link_deg = deg.clamp(low, high);
        self.link_rests = false;
        self.shaft.deg = self.sign * (self.link_deg - horn_deg);
    }

    /// The link follows the horn through the play, and falls through it where gravity is stronger
    /// than friction: gravity chooses the side, and what was driven last where it does not.
    fn follow(&mut self) {
        let horn = self.horn_deg + self.sign * self.shaft.deg;
        let half = self.servo.half_play_deg;
        if self.pull.abs() > self.friction {
            self.link_deg += FALLS_DEG * self.pull.signum();
        }
        self.link_deg = self.link_deg.clamp(horn - half, horn + half);
        if !self.bare {
            self.link_deg = self.link_deg.clamp(self.ends_deg.0, self.ends_deg.1);
        }
    }

    /// How far the shaft gets while its link stays within these, in degrees of the shaft, the lower first: the play is
    /// taken up before it stalls.
    fn shaft_within(&self, link_deg: (f64, f64)) -> (f64, f64) {
        let half = self.servo.half_play_deg;
        let (a, b) = (
            self.sign * (link_deg.0 - half - self.horn_deg),
            self.sign * (link_deg.1 + half - self.horn_deg),
        );
        (a.min(b), a.max(b))
    }
}

#[cfg(test)]
mod tests {
    use super::super::servo::Health;
    use super::*;

    fn joint() -> Joint {
        let servo = Servo {
            number: 1,
            us_per_deg: 10.0,
            turns: 1.0,
            centre_deg: 0.0,
            bend_per_deg: 0.0,
            dead_band_us: 2.0,
            reach_deg: 90.0,
            speed_deg_s: 400.0,
            stall_a: 1.4,
            half_play_deg: 0.5,
            teeth: 25,
            arms: 4,
            health: Health::Good,
        };
        Joint::new(
            "LF",
            "femur",
            Pin::FIRST,
            servo,
            0.0,
            1.0,
            ((-60.0, Against::Linkage), (70.0, Against::Body)),
            (0.5, 0.3),
        )
    }

    fn goes(joint: &mut Joint, us: f64) -> f64 {
        for _ in 0..1000 {
            joint.step(Some(us), 5.0);
        }
        joint.deg()
    }

    #[test]
    fn without_a_pull_the_last_motion_chooses_the_side_of_the_play() {
        let mut joint = joint();
        goes(&mut joint, 1300.0);
        let below = goes(&mut joint, 1500.0);
        goes(&mut joint, 1700.0);
        let above = goes(&mut joint, 1500.0);
        // Half a degree of play and up to 0.2 of dead band to either side.
        assert!((-0.7..=-0.5).contains(&below), "{below}");
        assert!((0.5..=0.7).contains(&above), "{above}");
    }

    #[test]
    fn a_strong_pull_chooses_the_side_and_droops_the_link_a_weak_one_only_droops() {
        for (pull, both) in [(-0.8, true), (-0.4, false)] {
            let mut joint = joint();
            joint.pull = pull;
            goes(&mut joint, 1300.0);
            let below = goes(&mut joint, 1500.0);
            goes(&mut joint, 1700.0);
            let above = goes(&mut joint, 1500.0);
            assert_eq!(below < 0.0 && above < 0.0, both, "{below} {above}");
            let droop = 0.3 * pull;
            assert!((-0.7..=-0.3).contains(&(below - droop)), "{below}");
        }
    }

    #[test]
    fn a_bare_horn_turns_beyond_the_linkage_to_the_servo_s_own_ends() {
        let mut joint = joint();
        joint.unscrew(true);
        let far = goes(&mut joint, 2490.0);
        assert!(
            (far - 90.0).abs() < 0.7 && joint.against().is_none(),
            "{far}"
        );
        let near = goes(&mut joint, 510.0);
        assert!((near + 90.0).abs() < 0.7 && !joint.shaft.presses, "{near}");
        assert!(
            joint.step(None, 5.0) || joint.rests_at(None),
            "limp, it stays where it stopped"
        );
        assert!((joint.deg() - near).abs() < 1e-9);
        goes(&mut joint, 1500.0);
        joint.unscrew(false);
        assert_eq!(goes(&mut joint, 2400.0), 70.0);
    }

    #[test]
    fn pressed_against_an_end_it_stalls_and_a_person_sees_what_is_there() {
        let mut joint = joint();
        let deg = goes(&mut joint, 2400.0);
        assert_eq!(deg, 70.0);
        assert_eq!(joint.against(), Some(Against::Body));
        assert!(joint.shaft.amps > 1.0);
        goes(&mut joint, 700.0);
        assert_eq!(joint.against(), Some(Against::Linkage));
        goes(&mut joint, 1500.0);
        assert_eq!(joint.against(), None);
        assert!(joint.rests_at(Some(1500.0)));
    }
}
