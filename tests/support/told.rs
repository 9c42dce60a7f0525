//! A link whose events a test waits for.

use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use hornset::board::{Event, Link, LinkSettings, Request, Ticket, Transport, TransportError};

/// A link and what it told so far.
pub struct Told {
    pub link: Link,
    events: Receiver<Event>,
    pub past: Vec<Event>,
}

impl Told {
    /// A link on what `open` opens.
    pub fn start(
        open: impl FnMut() -> Result<Box<dyn Transport>, TransportError> + Send + 'static,
        settings: LinkSettings,
    ) -> Told {
        let (sender, events) = channel();
        let link = Link::start(open, settings, move |event| {
            // The test may have ended before its link.
            let _ = sender.send(event);
        });
        Told {
            link,
            events,
            past: Vec::new(),
        }
    }

    /// Waits for an event; generous, since the machine may be busy.
    pub fn wait(&mut self, what: &str, wanted: impl Fn(&Event) -> bool) {
        let until = Instant::now() + Duration::from_secs(30);
        loop {
            let left = until.saturating_duration_since(Instant::now());
            let Ok(event) = self.events.recv_timeout(left) else {
                panic!("waited in vain for {what} after {:#?}", self.past);
            };
            let found = wanted(&event);
            self.past.push(event);
            if found {
                return;
            }
        }
    }

    /// Asks and waits for `done`.
    pub fn done(&mut self, line: &str) {
        let ticket = self.ask(line);
        self.wait(
            line,
            |e| matches!(e, Event::Answer { ticket: t, result: Ok(_) } if *t == ticket),
        );
    }

    pub fn ask(&self, line: &str) -> Ticket {
        let request: Request = line.parse().expect(line);
        self.link.ask(request)
    }

    /// Closes the link and returns everything it told.
    pub fn close(mut self) -> Vec<Event> {
        self.link.close();
        self.past.extend(self.events);
        self.past
    }
}
