//! What guided work there is, on what, and which step machine does it.

use crate::board::PinState;
use crate::calibration::JointRef;
use crate::console::effect::Now;
use crate::console::state::State;
use crate::estimate::check;
use crate::procedure::{
    self, Bench, Bounds, Check, Ends, Horns, Marks, Plugs, Procedure, Replace, Scope, Servo,
    Supply, Waking, Work,
};
use crate::units::{Pin, Pulse};

/// One kind of guided work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// The servo supply.
    Supply,
    /// Each servo alone, before it is built in.
    Servo,
    /// Tooth and arm of each horn.
    Horns,
    /// Which plug drives which joint.
    Plugs,
    /// How far a joint may go, by eye.
    Bounds,
    /// This pulse is this angle.
    Marks,
    /// Where the mechanism ends.
    Ends,
    /// Does the file still hold?
    Check,
    /// Another servo for a joint.
    Replace,
    /// Many servos awake at once.
    Waking,
}

/// Servos are tried alone on the first pin from here on that no joint is planned on.
const TEST_PIN: u8 = 2;

impl Task {
    /// Its page's name.
    pub fn name(self) -> &'static str {
        match self {
            Task::Supply => "Supply",
            Task::Servo => "One servo",
            Task::Horns => "Horns",
            Task::Plugs => "Plugs",
            Task::Bounds => "Rough bounds",
            Task::Marks => "Marks",
            Task::Ends => "Ends",
            Task::Check => "Check",
            Task::Replace => "Replace",
            Task::Waking => "Waking",
        }
    }

    /// What it is for.
    pub fn purpose(self) -> &'static str {
        match self {
            Task::Supply => "volts, current limit, ground, how the plugs sit",
            Task::Servo => "each servo alone on a test pin, before it is built in",
            Task::Horns => "which tooth and arm leaves the widest margin",
            Task::Plugs => "which plug drives which joint, and which way",
            Task::Bounds => "how far a joint may go, by eye: room for marks",
            Task::Marks => "zero and µs/degree, from angles that are read",
            Task::Ends => "where the mechanism ends, and limits inside",
            Task::Check => "does the file still hold? one mark a joint",
            Task::Replace => "another servo in a joint, and what to do again",
            Task::Waking => "a leg or the robot awake, the sum shown first",
        }
    }

    /// What it can be done on; the first is offered first.
    pub fn widths(self) -> &'static [Width] {
        match self {
            Task::Supply | Task::Servo => &[Width::Robot],
            Task::Plugs => &[Width::Robot, Width::Leg],
            Task::Horns | Task::Bounds | Task::Marks | Task::Ends | Task::Check => {
                &[Width::Joint, Width::Leg, Width::Robot]
            }
            Task::Replace => &[Width::Joint],
            Task::Waking => &[Width::Leg, Width::Robot],
        }
    }

    /// The task for what `procedure` says comes next.
    pub fn of(work: Work) -> Task {
        match work {
            Work::Supply => Task::Supply,
            Work::Servo => Task::Servo,
            Work::Horns => Task::Horns,
            Work::Plugs => Task::Plugs,
            Work::Bounds => Task::Bounds,
            Work::Marks => Task::Marks,
            Work::Ends => Task::Ends,
        }
    }

    /// The machine that does it, from what is known now.
    pub fn machine(self, state: &State, scope: Scope, now: &Now) -> Box<dyn Procedure> {
        let known = state.work.known();
        let bench = Bench {
            today: now.stamp.get(..10).unwrap_or_default().to_owned(),
            ..bench(state)
        };
        match self {
            Task::Supply => Box::new(Supply::new(known)),
            Task::Servo => Box::new(Servo::new(known, test_pin(state), bench)),
            Task::Horns => Box::new(Horns::new(known, scope, bench)),
            Task::Plugs => Box::new(Plugs::new(known, scope, &state.pins_left, bench)),
            Task::Bounds => Box::new(Bounds::new(known, scope, bench)),
            Task::Marks => Box::new(Marks::new(known, scope, bench)),
            Task::Ends => Box::new(Ends::new(known, scope, bench)),
            Task::Check => Box::new(Check::new(known, scope, bench)),
            Task::Replace => {
                let joint = match scope {
                    Scope::Joint(at) => at,
                    _ => state.chosen,
                };
                Box::new(Replace::new(known, joint, bench))
            }
            Task::Waking => {
                let last = last_pulses(state, scope);
                let eased = state.bench.browned_out;
                Box::new(Waking::new(known, scope, &last, eased, bench))
            }
        }
    }
}

/// How wide a scope is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Width {
    /// The chosen joint.
    Joint,
    /// The chosen leg.
    Leg,
    /// All legs.
    Robot,
}

impl Width {
    /// With what is chosen now.
    pub fn scope(self, chosen: JointRef) -> Scope {
        match self {
            Width::Joint => Scope::Joint(chosen),
            Width::Leg => Scope::Leg(chosen.leg),
            Width::Robot => Scope::Robot,
        }
    }
}

/// What a machine is to know beside the logbook.
pub fn bench(state: &State) -> Bench {
    let awake = state.bench.pins.iter();
    Bench {
        awake: awake
            .filter(|(_, plug)| plug.state == PinState::Awake)
            .filter_map(|(pin, plug)| Some((*pin, plug.pulse?)))
            .collect(),
        sensor: state.sensor,
        ..Bench::default()
    }
}

/// The pulses at which the joints of a scope would be woken one by one.
fn last_pulses(state: &State, scope: Scope) -> Vec<(Pin, Pulse)> {
    let robot = state.work.robot();
    let pulse = |at| Some((robot.joint(at)?.pin?, state.offered_pulse(at)));
    scope.joints(robot).into_iter().filter_map(pulse).collect()
}

fn test_pin(state: &State) -> Pin {
    let free = |pin: &Pin| state.work.robot().joint_of_pin(*pin).is_none();
    let mut pins = (TEST_PIN..).map_while(|number| Pin::new(number).ok());
    pins.find(free).unwrap_or(Pin::FIRST)
}

/// How far off the last check found a joint, if more than the gauge errs by.
pub fn found_off(state: &State, at: JointRef) -> Option<f64> {
    let known = state.work.known();
    check::found_off(known.joint(at)?, known.robot.joint(at)?)
}

/// What the chosen joint lacks next; `None` when it is marked and bounded.
pub fn next(state: &State) -> Option<(Task, Scope)> {
    if found_off(state, state.chosen).is_some() {
        return Some((Task::Check, Scope::Joint(state.chosen)));
    }
    let known = state.work.known();
    if known.supply.is_none() {
        return Some((Task::Supply, Scope::Robot));
    }
    if procedure::plugs_left(known) > 0 {
        return Some((Task::Plugs, Scope::Robot));
    }
    match procedure::lacks(known, state.chosen)? {
        // Plugs cannot be told joint by joint: eighteen connectors are alike.
        Work::Plugs => Some((Task::Plugs, Scope::Robot)),
        work => Some((Task::of(work), Scope::Joint(state.chosen))),
    }
}
