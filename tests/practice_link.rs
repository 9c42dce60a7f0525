//! The worker on a practice robot in real time: from a request to what a person at the bench sees.
#![cfg(feature = "practice")]

use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use hornset::board::Tool;
use hornset::board::sight::SightHandle;
use hornset::board::{Done, Event, Link, LinkSettings, Request, ResetCause, Stop};
use hornset::practice::{PracticeTransport, Settings, World};
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
    let bench = Bench::start(Settings::clean(7));
    let truth = World::new(Settings::clean(7)).truth();
    let coxa = truth.joint("LF", "coxa").expect("the robot has it");
    // The servo stops within its dead band, at most 3 us; a clean robot's gauge reads to 0.1 degrees.
    let near = |gauge_deg: f64, pulse_us: f64| {
        (gauge_deg - coxa.deg_at(pulse_us)).abs() < 3.0 / coxa.us_per_deg + 0.1
    };
    bench.done(Request::Wake {
        pin: pin(22),
        pulse: us(1500.0),
    });
    bench.until("awake", |event| matches!(event, Event::Awake(_)));
    bench.see("LF coxa at its centre and at rest", |sight| {
        let coxa = &sight.joints[0];
        let rests = !coxa.servo.moving && !coxa.servo.slack;
        coxa.leg == "LF" && near(coxa.gauge_deg, 1500.0) && rests
    });
    bench.link.jog(pin(22), us(1590.0));
    bench.see("LF coxa farther on", |sight| {
        !sight.joints[0].servo.moving && near(sight.joints[0].gauge_deg, 1590.0)
    });
    bench.link.stop(Stop::Limp);
    bench.see("LF coxa slack", |sight| sight.joints[0].servo.slack);
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
        sight.joints.iter().all(|joint| joint.servo.slack)
    });
}

#[test]
fn a_robot_whose_time_runs_fast_is_fed_in_its_own_time() {
    let bench = Bench::start(Settings {
        speed: 40,
        ..Settings::clean(7)
    });
    assert_eq!(bench.sight.speed(), 40);
    bench.done(Request::Wake {
        pin: pin(22),
        pulse: us(1500.0),
    });
    bench.until("awake", |event| matches!(event, Event::Awake(_)));
    // A minute of the robot's time: with the clock's own timers the board would have frozen after
    // half a second of it.
    let until = bench.sight.clock() + Duration::from_secs(60);
    let start = Instant::now();
    while bench.sight.clock() < until {
        assert!(start.elapsed() < PATIENCE);
        std::thread::sleep(Duration::from_millis(5));
    }
    assert!(
        start.elapsed() < Duration::from_secs(60),
        "no faster than the clock"
    );
    match bench.done(Request::Where {
        pins: vec![pin(22)],
    }) {
        Done::Where(at) => assert_eq!(at.frozen, 0),
        other => panic!("{other:?}"),
    }
    assert!(!bench.sight.look().joints[0].servo.slack);
}

#[test]
fn hands_act_on_the_robot_that_the_link_talks_to() {
    let bench = Bench::start(Settings::clean(7));
    let hands = bench.sight.hands().expect("a practice robot has hands");
    let seen = bench.sight.look().joints[1].gauge_deg;
    let read = hands.with(|hands| {
        hands.place_gauge("LF", "femur", Tool::Gauge)?;
        hands.read_gauge()
    });
    // A clean robot's gauge errs by its last digit alone.
    assert_eq!(read, Ok(seen));
    assert!(bench.sight.look().joints[1].gauge);
    hands
        .with(|hands| hands.swap_plugs(pin(22), pin(23)))
        .expect("both are limp");
    bench.done(Request::Wake {
        pin: pin(22),
        pulse: us(1500.0),
    });
    bench.see("LF femur move by the coxa's pin", |sight| {
        sight.joints[1].servo.swung_at.is_some() && sight.joints[0].servo.swung_at.is_none()
    });
}
