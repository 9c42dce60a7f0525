//! The one place that opens links for the console: a serial port that was chosen by name, or the practice robot.

use std::fs::File;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;

use crate::board::ports::{self, PortInfo};
use crate::board::serial;
use crate::board::traced::Traced;
use crate::board::transport::{Transport, TransportError};
use crate::board::{Event, Link, LinkSettings};
use crate::calibration::file::{self, FileError};
use crate::console::bench::Place;
use crate::console::runner::Opener;

/// The worker feeds the board's silence clock only while the loop comes round at least this often.
const ALIVE_WITHIN: Duration = Duration::from_millis(1500);

/// Which practice robot.
#[derive(Debug, Clone, clap::Args)]
pub struct RobotArgs {
    /// Seed of the practice robot: the same seed gives the same robot
    #[arg(long, value_name = "N", default_value_t = 7)]
    pub seed: u64,
    /// The practice robot has no fault at all; its servos still differ in zero and scale (the
    /// console opens it at once)
    #[arg(long, conflicts_with = "fault")]
    pub clean: bool,
    /// The practice robot has this fault and no other but those named so; without it and without
    /// --clean it has what a real bench has (the console opens it at once)
    #[cfg(feature = "practice")]
    #[arg(long, value_name = "NAME", value_parser = fault_names())]
    pub fault: Vec<crate::practice::Fault>,
    /// The practice robot has a current sensor on a0 (500 mV, and 250 mV more for each ampere) and
    /// a battery divider on a1 (half the supply)
    #[cfg(feature = "practice")]
    #[arg(long)]
    pub sensor: bool,
    /// The practice robot's time runs N times as fast as the clock, if the computer can
    #[cfg(feature = "practice")]
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=200))]
    pub speed: u32,
    /// A printed sheet lies on a board under the practice robot's feet, meant to be MM from the coxas' height: -140 is
    /// just below the feet as they hang, -155 about as far as they reach. Where a foot touches it is told with what you
    /// would see, on the pages where joints and feet are jogged; only the first touch counts, since pressing on bends
    /// the leg and shifts the place. It ends a joint's motion too: look for ends without it
    #[cfg(feature = "practice")]
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = clap::value_parser!(i32).range(-155..=-140))]
    pub sheet: Option<i32>,
}

/// The faults' names, with what each is for the help.
#[cfg(feature = "practice")]
fn fault_names() -> impl clap::builder::TypedValueParser<Value = crate::practice::Fault> {
    use crate::practice::{Fault, NoSuchFault};
    use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};

    let value = |fault: Fault| PossibleValue::new(fault.name()).help(fault.meaning());
    PossibleValuesParser::new(Fault::ALL.map(value))
        .try_map(|name| -> Result<Fault, NoSuchFault> { name.parse() })
}

#[cfg(feature = "practice")]
impl RobotArgs {
    /// The robot that is meant.
    pub fn settings(&self) -> crate::practice::Settings {
        use crate::practice::{Faults, Settings};
        Settings {
            seed: self.seed,
            faults: if self.clean {
                Faults::NONE
            } else if self.fault.is_empty() {
                Faults::of_a_bench()
            } else {
                self.fault.iter().copied().collect()
            },
            sensor: self.sensor,
            speed: self.speed,
            sheet_mm: self.sheet,
        }
    }

    /// How many times as fast as the clock its time runs.
    pub fn speed(&self) -> u32 {
        self.speed
    }

    /// Whether a certain robot was asked for, and not whichever stands on the first screen.
    pub fn is_chosen(&self) -> bool {
        self.clean || !self.fault.is_empty()
    }
}

#[cfg(not(feature = "practice"))]
impl RobotArgs {
    /// There is no robot whose time could run fast.
    pub fn speed(&self) -> u32 {
        1
    }

    /// Whether a certain robot was asked for.
    pub fn is_chosen(&self) -> bool {
        self.clean
    }
}

/// Where a link's lines are written down.
type Trace = Option<Arc<File>>;

/// The console's way to a link: the lines that pass are written to `trace`, if there is one.
///
/// A file that is there is somebody's work, perhaps the calibration itself, and is never written over.
pub fn opener(trace: Option<&Path>, robot: RobotArgs) -> anyhow::Result<Opener> {
    let trace = trace
        .map(|path| match File::create_new(path) {
            Ok(file) => Ok(Arc::new(file)),
            Err(why) if why.kind() == ErrorKind::AlreadyExists => {
                Err(FileError::Exists(path.to_owned()).into())
            }
            Err(why) => Err(why)
                .with_context(|| format!("the trace {} cannot be written", file::shown(path))),
        })
        .transpose()?;
    Ok(Box::new(move |place, events| {
        start(place, &robot, &trace, events)
    }))
}

/// Starts the worker on a place; it opens the link there.
fn start(
    place: &Place,
    robot: &RobotArgs,
    trace: &Trace,
    events: Box<dyn Fn(Event) + Send>,
) -> Link {
    let settings = LinkSettings {
        alive_within: Some(ALIVE_WITHIN),
        ..LinkSettings::default()
    };
    match place {
        Place::Port(path) => {
            let open = serial::opener(named(path), settings.rates[0]);
            Link::start(traced(open, trace.clone()), settings, events)
        }
        Place::Practice { seed, clean } => {
            // What was chosen on the screen decides; the rest was said on the command line.
            let robot = RobotArgs {
                seed: *seed,
                clean: *clean,
                ..robot.clone()
            };
            let settings = LinkSettings {
                // Counted in the robot's own time.
                alive_within: Some(ALIVE_WITHIN * robot.speed()),
                ..settings
            };
            let open = practice(robot);
            Link::start(traced(open, trace.clone()), settings, events)
        }
    }
}

type Opened = Result<Box<dyn Transport>, TransportError>;

fn traced(
    mut open: impl FnMut() -> Opened + Send + 'static,
    trace: Trace,
) -> impl FnMut() -> Opened + Send + 'static {
    move || {
        let transport = open()?;
        Ok(match &trace {
            Some(file) => Box::new(Traced::new(transport, Arc::clone(file))),
            None => transport,
        })
    }
}

/// The port of that path or short name, with its USB identity, so that it is known again.
fn named(name: &str) -> PortInfo {
    ports::list()
        .unwrap_or_default()
        .into_iter()
        .find(|port| port.path == name || port.short() == name)
        .unwrap_or_else(|| PortInfo {
            path: name.to_owned(),
            usb: None,
        })
}

#[cfg(not(feature = "practice"))]
fn practice(robot: RobotArgs) -> impl FnMut() -> Opened + Send + 'static {
    move || {
        Err(TransportError::Open {
            name: format!("practice, seed {}", robot.seed),
            reason: "this hornset was built without the practice robot".into(),
        })
    }
}

/// Switches a new practice robot on each time: what was awake in a lost one is gone, as on a bench.
#[cfg(feature = "practice")]
fn practice(robot: RobotArgs) -> impl FnMut() -> Opened + Send + 'static {
    use crate::practice::PracticeTransport;
    move || Ok(Box::new(PracticeTransport::open(robot.settings())) as Box<dyn Transport>)
}
