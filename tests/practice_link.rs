//! The worker on a practice robot in real time: from a request to what a person at the bench sees.
#![cfg(feature = "practice")]

use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use hornset::board::sight::SightHandle;
use hornset::board::{Done, Event, Link, LinkSettings, Request, ResetCause, Stop};
use hornset::practice::{PracticeTransport, Settings};
use hornset::units::{Pin, Pulse};

/// Long enough for a busy machine; nothing here measures time.
const PATIENCE: Duration = Duration::from_secs(20);

struct Bench {
    link: Link,
    events: Receiver<Event>,
    sight: SightHandle,
}

impl Bench {
    fn start(settings: Settings) -> Bench {
        let (send, events) = channel();
        let link = Link::start(
            move || Ok(Box::new(PracticeTransport::open(settings)) as Box<_>),
            LinkSettings::default(),
            move |event| drop(send.send(event)),
        );
        let sight = match events.recv_timeout(PATIENCE) {
            Ok(Event::Opened { name, sight }) => {
                assert_eq!(name, settings.name());
                sight.expect("a practice robot can be seen")
            }
            other => panic!("{other:?} instead of being opened"),
        };
        let bench = Bench {
            link,
            events,
            sight,
        };
        bench.until("found", |event| {
            matches!(event, Event::Found { hello, rate: 250_000 } if hello.board == "practice")
        });
        bench
    }

    fn until(&self, what: &str, mut is_it: impl FnMut(&Event) -> bool) -> Event {
        let start = Instant::now();
        loop {
            let left = PATIENCE.saturating_sub(start.elapsed());
            let event = self
                .events
                .recv_timeout(left)
                .unwrap_or_else(|_| panic!("waited for {what}"));
            if is_it(&event) {
                return event;
            }
            let fails = matches!(event, Event::Trouble(_) | Event::NoAnswer { .. });
            assert!(!fails, "waited for {what}: {event:?}");
        }
    }

    fn done(&self, request: Request) -> Done {
        let ticket = self.link.ask(request.clone());
        let event = self.until(
            "an answer",
            |event| matches!(event, Event::Answer { ticket: of, .. } if *of == ticket),
        );
        match event {
            Event::Answer { result, .. } => {
                result.unwrap_or_else(|refusal| panic!("{request}: {refusal}"))
            }
            other => panic!("{other:?} is no answer"),
        }
    }

    /// Waits until a person sees this.
    fn see(&self, what: &str, is_so: impl Fn(&hornset::board::Sight) -> bool) {
        let start = Instant::now();
        while !is_so(&self.sight.look()) {
            assert!(
                start.elapsed() < PATIENCE,
                "waited to see {what}: {:?}",
                self.sight.look()
            );
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

fn pin(number: u8) -> Pin {
    Pin::new(number).expect("a pin")
}

fn us(us: f64) -> Pulse {
    Pulse::from_us(us).expect("a pulse")
}

#[test]
fn a_jogged_joint_is_seen_to_move_and_a_stop_lets_it_go_slack() {
    let bench = Bench::start(Settings {
        seed: 7,
        clean: true,
    });
    bench.done(Request::Wake {
        pin: pin(22),
        pulse: us(1500.0),
    });
    bench.until("awake", |event| matches!(event, Event::Awake(_)));
    bench.see("LF coxa straight and at rest", |sight| {
        let coxa = &sight.joints[0];
        coxa.leg == "LF" && coxa.gauge_deg == 0.0 && !coxa.moving && !coxa.slack
    });
    bench.link.jog(pin(22), us(1590.0));
    // 90 us at 10.6 us a degree are 8.5 degrees; the servo stops within its dead band of 2 us.
    bench.see("LF coxa at 8.5 degrees", |sight| {
        !sight.joints[0].moving && sight.joints[0].gauge_deg == 8.5
    });
    bench.link.stop(Stop::Limp);
    bench.see("LF coxa slack", |sight| sight.joints[0].slack);
}

#[test]
fn a_brown_out_is_told_as_a_reset_with_its_cause() {
    let bench = Bench::start(Settings::default());
    let pins: Vec<Pin> = (22..40).map(pin).collect();
    bench.done(Request::Slew {
        pin: None,
        us_per_s: 100_000,
    });
    for &pin in &pins {
        bench.done(Request::Guard {
            pin,
            low: us(500.0),
            high: us(2500.0),
        });
        bench.done(Request::Wake {
            pin,
            pulse: us(1500.0),
        });
        bench.until("awake", |event| matches!(event, Event::Awake(_)));
    }
    bench.done(Request::Roster(pins.clone()));
    // Eighteen servos thrown at once draw far more than the supply gives.
    bench.link.ask(Request::Pose {
        ms: 0,
        pulses: vec![Some(us(1900.0)); pins.len()],
    });
    bench.until("the reset", |event| {
        matches!(
            event,
            Event::Reset {
                cause: ResetCause::Brownout,
                ..
            }
        )
    });
    bench.see("everything slack", |sight| {
        sight.joints.iter().all(|joint| joint.slack)
    });
}
