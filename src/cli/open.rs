//! The one place that opens links for the console: a serial port that was chosen by name, or the practice robot.

use std::fs::File;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;

use crate::board::ports::{self, PortInfo};
use crate::board::serial;
use crate::board::traced::Traced;
use crate::board::transport::{Transport, TransportError};
use crate::board::{Event, Link, LinkSettings};
use crate::console::bench::Place;
use crate::console::runner::Opener;

/// The worker feeds the board's silence clock only while the loop comes round at least this often.
const ALIVE_WITHIN: Duration = Duration::from_millis(1500);

/// Where a link's lines are written down.
type Trace = Option<Arc<File>>;

/// The console's way to a link: the lines that pass are written to `trace`, if there is one.
pub fn opener(trace: Option<&Path>) -> anyhow::Result<Opener> {
    let trace = trace
        .map(|path| {
            File::create(path)
                .map(Arc::new)
                .with_context(|| format!("the trace {} cannot be written", path.display()))
        })
        .transpose()?;
    Ok(Box::new(move |place, events| start(place, &trace, events)))
}

/// Starts the worker on a place; it opens the link there.
fn start(place: &Place, trace: &Trace, events: Box<dyn Fn(Event) + Send>) -> Link {
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
            let open = practice(*seed, *clean);
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
fn practice(seed: u64, _clean: bool) -> impl FnMut() -> Opened + Send + 'static {
    move || {
        Err(TransportError::Open {
            name: format!("practice, seed {seed}"),
            reason: "this hornset was built without the practice robot".into(),
        })
    }
}

/// Switches a new practice robot on each time: what was awake in a lost one is gone, as on a bench.
#[cfg(feature = "practice")]
fn practice(seed: u64, clean: bool) -> impl FnMut() -> Opened + Send + 'static {
    use crate::practice::{PracticeTransport, Settings};
    move || {
        let robot = PracticeTransport::open(Settings { seed, clean });
        Ok(Box::new(robot) as Box<dyn Transport>)
    }
}
