//! Looks at every pulse that the board makes, and keeps the worst of it.
//!
//! It knows the truth: it judges, and tells nobody at the bench.

use hornset::practice::{Truth, World};

/// How often it looks at the pulses, ms.
const LOOK_MS: u32 = 5;

/// How often it asks what presses, ms.
const PRESS_MS: u32 = 20;

/// What is known of the joint on one pin, for the watch.
#[derive(Debug, Clone, Copy, Default)]
struct Guarded {
    place: usize,
    /// The pulses between which the builder has said that it moves freely; nothing is judged before there are.
    confirmed: Option<(f64, f64)>,
    /// The pulses at which the mechanism or the servo's own travel ends, by the truth.
    ends: (f64, f64),
    /// Its leg is off: nothing was confirmed, and nothing needs to be.
    bare: bool,
    out_ms: u32,
    press_ms: u32,
}

/// The worst that was seen.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Worst {
    /// The longest time at a pulse outward of what was confirmed, ms.
    pub outward_ms: u32,
    /// The longest time for which a servo pressed against something, ms.
    pub pressing_ms: u32,
    /// The farthest that a pulse went beyond an end, µs.
    pub beyond_us: f64,
}

/// The watch.
#[derive(Debug)]
pub struct Watch {
    pins: [Option<Guarded>; 70],
    /// The worst of all joints.
    pub worst: Worst,
    /// What is done now; and what was done when something pressed the longest, and when it went the farthest.
    pub doing: String,
    pub worst_doing: [String; 2],
    /// By place: how far beyond its ends each joint was sent, for the report.
    pub beyond_us: [f64; 18],
}

impl Watch {
    pub fn new(truth: &Truth) -> Watch {
        let mut watch = Watch {
            pins: [None; 70],
            worst: Worst::default(),
            doing: String::new(),
            worst_doing: Default::default(),
            beyond_us: [f64::NEG_INFINITY; 18],
        };
        watch.hands_were_in(truth);
        watch
    }

    /// Plugs or horns sit otherwise: learns the truth anew.
    pub fn hands_were_in(&mut self, truth: &Truth) {
        let mut confirmed = [None; 18];
        for it in self.pins.iter().flatten() {
            confirmed[it.place] = it.confirmed;
        }
        self.pins = [None; 70];
        for (place, joint) in truth.joints.iter().enumerate() {
            // The servo's own travel is an end like any other; whichever comes first.
            let (mut low, mut high) = joint.reach_deg;
            if !joint.bare {
                (low, high) = (low.max(joint.ends_deg.0), high.min(joint.ends_deg.1));
            }
            let a = edge_us(joint, low);
            let b = edge_us(joint, high);
            self.pins[usize::from(joint.pin.number())] = Some(Guarded {
                place,
                confirmed: confirmed[place],
                ends: (a.min(b), a.max(b)),
                bare: joint.bare,
                ..Guarded::default()
            });
        }
    }

    /// Plugs are nudged once more: nothing is judged until they are found.
    pub fn nothing_is_confirmed(&mut self) {
        for it in self.pins.iter_mut().flatten() {
            it.confirmed = None;
        }
    }

    /// From now on pulses of this joint are judged against what the builder confirmed.
    pub fn confirm(&mut self, place: usize, span: (f64, f64)) {
        for it in self.pins.iter_mut().flatten() {
            if it.place == place {
                it.confirmed = Some(span);
            }
        }
    }

    /// The builder said that this joint was free at this pulse.
    pub fn freed(&mut self, place: usize, us: f64) {
        for it in self.pins.iter_mut().flatten() {
            if it.place == place {
                let (low, high) = it.confirmed.unwrap_or((1500.0, 1500.0));
                it.confirmed = Some((low.min(us), high.max(us)));
            }
        }
    }

    /// A millisecond has passed; a frame lasts twenty, so that a look in every fifth misses no pulse.
    pub fn step(&mut self, world: &World) {
        if !world.ms().is_multiple_of(LOOK_MS.into()) {
            return;
        }
        let before = self.worst;
        let mut truth = None;
        for slot in world.pulses() {
            let Some(it) = &mut self.pins[usize::from(slot.pin)] else {
                continue;
            };
            if slot.ticks == 0 {
                it.out_ms = 0;
                it.press_ms = 0;
                continue;
            }
            let us = f64::from(slot.ticks) / 2.0;
            let beyond = (it.ends.0 - us).max(us - it.ends.1);
            let most = &mut self.beyond_us[it.place];
            *most = most.max(beyond);
            self.worst.beyond_us = self.worst.beyond_us.max(beyond);
            let beyond_confirmed = |(low, high)| us < low || us > high;
            let outward = !it.bare && it.confirmed.is_some_and(beyond_confirmed);
            it.out_ms = if outward { it.out_ms + LOOK_MS } else { 0 };
            self.worst.outward_ms = self.worst.outward_ms.max(it.out_ms);
            // Near an end or outside what is known, looks whether it presses; once in a frame is enough.
            if world.ms().is_multiple_of(PRESS_MS.into()) {
                let looks = beyond > -10.0 || outward || it.press_ms > 0;
                let presses = looks && {
                    let truth = truth.get_or_insert_with(|| world.truth());
                    let joint = &truth.joints[it.place];
                    if joint.presses {
                        // Against a neighbour it ends where it stands.
                        let beyond = joint.us_at(joint.deg).map_or(0.0, |at| (us - at).abs());
                        *most = most.max(beyond);
                        self.worst.beyond_us = self.worst.beyond_us.max(beyond);
                    }
                    joint.presses
                };
                it.press_ms = if presses { it.press_ms + PRESS_MS } else { 0 };
                self.worst.pressing_ms = self.worst.pressing_ms.max(it.press_ms);
            }
        }
        if self.worst.pressing_ms > before.pressing_ms {
            self.worst_doing[0].clone_from(&self.doing);
        }
        if self.worst.beyond_us > before.beyond_us {
            self.worst_doing[1].clone_from(&self.doing);
        }
    }
}

/// The pulse that puts a joint there; where no pulse does: as far away as that side goes.
fn edge_us(joint: &hornset::practice::TrueJoint, deg: f64) -> f64 {
    // A servo that has come to its own travel is at `deg` for every pulse beyond: a hair inside of it.
    let middle = joint.deg_at(1500.0);
    let inside = deg + (middle - deg).signum() * 1e-6;
    joint
        .us_at(inside)
        .unwrap_or(if (deg > middle) == joint.positive {
            f64::INFINITY
        } else {
            f64::NEG_INFINITY
        })
}
