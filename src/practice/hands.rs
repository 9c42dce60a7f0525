//! What a person does to the practice robot by hand.
//!
//! Each act happens at once, between two moments of the robot's time. What hands draw by luck has a
//! stream of its own, so that reading a gauge never changes what a horn does later.

use rand::RngExt;

use super::body::Loose;
use super::joint::Joint;
use super::looks;
use super::marram::{JOINT_DESIGNS, JOINTS, LEGS};
use super::servo::Shaft;
use super::world::World;
use crate::board::hands::{Hands, HandsError, Horn, SheetPlace, Tool};
use crate::units::Pin;

impl World {
    fn find(&self, leg: &str, joint: &str) -> Result<usize, HandsError> {
        let none = || HandsError::NoSuchJoint {
            leg: leg.to_owned(),
            joint: joint.to_owned(),
        };
        let at = LEGS.iter().position(|it| it.name == leg).ok_or_else(none)?;
        let index = JOINTS.iter().position(|it| *it == joint).ok_or_else(none)?;
        Ok(at * 3 + index)
    }

    fn find_spare(&self, number: &str) -> Result<usize, HandsError> {
        let mut spares = self.body.spares.iter();
        spares
            .position(|spare| looks::name(spare) == number)
            .ok_or_else(|| HandsError::NoSuchSpare {
                number: number.to_owned(),
                spares: self.spares().join(", "),
            })
    }

    /// Hands stay away from what gets pulses.
    pub(super) fn asleep(&self, pin: Pin) -> Result<(), HandsError> {
        if self.pulse_on(pin) {
            Err(HandsError::Awake { pin })
        } else {
            Ok(())
        }
    }

    /// The horn goes on so that the joint would stand at `deg` with the shaft in its middle.
    fn put_horn(&mut self, place: usize, horn_deg: f64) {
        self.body.joints[place].turn_horn(horn_deg);
        self.body.refresh(place / 3);
    }
}

impl Hands for World {
    fn place_gauge(&mut self, leg: &str, joint: &str, tool: Tool) -> Result<(), HandsError> {
        let place = self.find(leg, joint)?;
        if tool == Tool::Inclinometer && !JOINT_DESIGNS[place % 3].is_level {
            return Err(HandsError::WrongTool {
                why: "an inclinometer feels no turn about an upright axis",
            });
        }
        self.eyes.place(place, tool);
        self.look_again();
        Ok(())
    }

    fn read_gauge(&mut self) -> Result<f64, HandsError> {
        let read = self.eyes.read(&self.body.joints);
        self.look_again();
        read.ok_or(HandsError::NoGauge)
    }

    fn take_gauge_away(&mut self) {
        self.eyes.take_away();
        self.look_again();
    }

    fn swap_plugs(&mut self, one: Pin, other: Pin) -> Result<(), HandsError> {
        self.asleep(one)?;
        self.asleep(other)?;
        let loose = self.body.loose.iter_mut().map(|loose| &mut loose.pin);
        let plugs = self.body.joints.iter_mut().map(|joint| &mut joint.pin);
        let mut found = false;
        for pin in plugs.chain(loose) {
            if *pin == one {
                (*pin, found) = (other, true);
            } else if *pin == other {
                (*pin, found) = (one, true);
            }
        }
        if found {
            self.body.touched();
            Ok(())
        } else {
            Err(HandsError::NoPlug { one, other })
        }
    }

    fn horn(&self, leg: &str, joint: &str) -> Result<Horn, HandsError> {
        let servo = &self.body.joints[self.find(leg, joint)?].servo;
        Ok(Horn {
            teeth: servo.teeth,
            arms: servo.arms,
        })
    }

    fn turn_horn(
        &mut self,
        leg: &str,
        joint: &str,
        teeth: i32,
        arm: u32,
    ) -> Result<(), HandsError> {
        let place = self.find(leg, joint)?;
        let it = &self.body.joints[place];
        let by = f64::from(teeth) * 360.0 / f64::from(it.servo.teeth)
            + f64::from(arm) * 360.0 / f64::from(it.servo.arms);
        let horn_deg = half_turn(it.horn_deg + by);
        if !it.bare {
            let deg = it.deg() + horn_deg - it.horn_deg;
            fits(it, deg)?;
            self.clears_sheet(place, deg)?;
        }
        self.put_horn(place, horn_deg);
        Ok(())
    }

    fn unscrew_leg(&mut self, leg: &str, joint: &str) -> Result<(), HandsError> {
        let place = self.find(leg, joint)?;
        self.asleep(self.body.joints[place].pin)?;
        self.body.joints[place].unscrew(true);
        self.body.refresh(place / 3);
        self.look_again();
        Ok(())
    }

    fn screw_leg_on(&mut self, leg: &str, joint: &str) -> Result<(), HandsError> {
        let place = self.find(leg, joint)?;
        let it = &self.body.joints[place];
        if !it.bare {
            return Ok(());
        }
        self.asleep(it.pin)?;
        let deg = it.deg();
        fits(it, deg)?;
        self.clears_sheet(place, deg)?;
        self.body.joints[place].unscrew(false);
        self.body.refresh(place / 3);
        self.look_again();
        Ok(())
    }

    fn spares(&self) -> Vec<String> {
        self.body.spares.iter().map(looks::name).collect()
    }

    fn exchange_servo(&mut self, leg: &str, joint: &str, spare: &str) -> Result<(), HandsError> {
        let place = self.find(leg, joint)?;
        self.asleep(self.body.joints[place].pin)?;
        let index = self.find_spare(spare)?;
        // By eye at mid-travel: the tooth that is nearest, which is up to half a tooth off.
        let half_tooth = 180.0 / f64::from(self.body.spares[index].teeth);
        let off = self.luck.random_range(-half_tooth..half_tooth);
        let it = &mut self.body.joints[place];
        // The link, not what its droop makes of it: that would be counted twice.
        let deg = it.place().1;
        std::mem::swap(&mut it.servo, &mut self.body.spares[index]);
        it.shaft = Shaft::default();
        let horn_deg = JOINT_DESIGNS[place % 3].middle_deg + off;
        it.refit(horn_deg, deg);
        self.body.refresh(place / 3);
        Ok(())
    }

    fn put_on_test_pin(&mut self, spare: &str, pin: Pin) -> Result<(), HandsError> {
        // Plugged in once more: it is taken off first.
        let loose = self.body.loose.as_ref().map(|it| looks::name(&it.servo));
        if loose.as_deref() == Some(spare) {
            self.asleep(pin)?;
            self.clear_test_pin();
        }
        let index = self.find_spare(spare)?;
        if self.body.joints.iter().any(|joint| joint.pin == pin) {
            return Err(HandsError::PinTaken { pin });
        }
        self.asleep(pin)?;
        let servo = self.body.spares.remove(index);
        self.clear_test_pin();
        self.body.loose = Some(Loose {
            servo,
            // Somebody turned it while it lay in the box.
            shaft: Shaft::at(self.luck.random_range(-60.0..60.0)),
            pin,
        });
        self.body.touched();
        self.look_again();
        Ok(())
    }

    fn clear_test_pin(&mut self) {
        if let Some(loose) = self.body.loose.take() {
            self.body.spares.push(loose.servo);
            self.body.spares.sort_by_key(|servo| servo.number);
            self.body.touched();
        }
        self.look_again();
    }

    fn lay_sheet(&mut self, legs: &[&str], meant: SheetPlace) -> Result<(), HandsError> {
        self.lay(legs, meant)
    }

    fn take_sheet_away(&mut self) -> Result<(), HandsError> {
        self.take_away()
    }
}

/// To more than -180 and at most 180 degrees.
fn half_turn(deg: f64) -> f64 {
    let mut deg = deg % 360.0;
    if deg <= -180.0 {
        deg += 360.0;
    } else if deg > 180.0 {
        deg -= 360.0;
    }
    deg
}

/// The joint can stand there with its leg on.
fn fits(joint: &Joint, deg: f64) -> Result<(), HandsError> {
    let (low, high) = joint.ends_deg;
    match (low..=high).contains(&deg) {
        true => Ok(()),
        false => Err(HandsError::BeyondLinkage {
            deg: deg.round() as i32,
        }),
    }
}
