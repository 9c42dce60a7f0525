//! The practice robot and the host's session, one millisecond after the other: no thread, no clock.

use std::time::Duration;

use hornset::board::session::{Output, Session};
use hornset::board::{By, Done, Event, LinkSettings, Refusal, Request, Sight, SightHandle, Ticket};
use hornset::practice::{Settings, World};
use hornset::units::Pin;

use crate::watch::Watch;

/// How often the host has its turn, ms.
const HOST_MS: u64 = 4;

/// Robot, wire and session.
pub struct Bench {
    pub world: World,
    session: Session,
    sight: SightHandle,
    tickets: u64,
    /// Looks at every pulse.
    pub watch: Watch,
    answers: Vec<(Ticket, Result<Done, Refusal>)>,
    woken: Vec<Pin>,
    /// What happened that nobody asked for: resets, freezes, silence, a lost link.
    pub mishaps: Vec<String>,
    tripped: bool,
}

impl Bench {
    /// A robot that was just switched on, and whose board was found.
    pub fn new(settings: Settings) -> Bench {
        let world = World::new(settings);
        let mut bench = Bench {
            sight: world.sight(),
            watch: Watch::new(&world.truth()),
            world,
            session: Session::new(LinkSettings::default()),
            tickets: 0,
            answers: Vec::new(),
            woken: Vec::new(),
            mishaps: Vec::new(),
            tripped: false,
        };
        bench.session.opened(bench.now());
        bench.run(2500);
        bench
    }

    pub fn now(&self) -> Duration {
        Duration::from_millis(self.world.ms())
    }

    /// What a person sees.
    pub fn look(&self) -> Sight {
        self.sight.look()
    }

    /// Asks the board and waits for its answer.
    pub fn ask(&mut self, request: Request) -> Result<Done, Refusal> {
        let words = request.to_string();
        let ticket = self.send(request);
        for _ in 0..2000 {
            self.step();
            if let Some(at) = self.answers.iter().position(|(it, _)| *it == ticket) {
                return self.answers.swap_remove(at).1;
            }
        }
        panic!("no answer to {words}: {:?}", self.mishaps);
    }

    /// Asks, and does not wait.
    pub fn send(&mut self, request: Request) -> Ticket {
        self.tickets += 1;
        let ticket = Ticket(self.tickets);
        self.session.ask(ticket, request, self.now());
        ticket
    }

    /// The pulse on this pin now.
    pub fn pulse_us(&self, pin: Pin) -> Option<f64> {
        let mut slots = self.world.pulses().iter();
        let slot = slots.find(|it| it.ticks > 0 && it.pin == pin.number())?;
        Some(f64::from(slot.ticks) / 2.0)
    }

    /// Whether the board was reset because its supply dipped.
    pub fn browned_out(&self) -> bool {
        let mut mishaps = self.mishaps.iter();
        mishaps.any(|it| it.contains("Reset") && it.contains("Brownout"))
    }

    /// Waits for a pin's first pulse.
    pub fn until_awake(&mut self, pin: Pin) {
        for _ in 0..5000 {
            if self.woken.contains(&pin) {
                self.woken.retain(|it| *it != pin);
                return;
            }
            self.step();
        }
        panic!("pin {pin} never woke: {:?}", self.mishaps);
    }

    /// Whether a trip has acted since this was asked last.
    pub fn take_tripped(&mut self) -> bool {
        std::mem::take(&mut self.tripped)
    }

    /// Time passes, and the session feeds the board as it does in the console.
    pub fn run(&mut self, ms: u32) {
        for _ in 0..ms {
            self.step();
        }
    }

    /// Time passes, and nobody is there: the host was killed.
    pub fn run_without_host(&mut self, ms: u32) {
        for _ in 0..ms {
            self.world.step();
            self.watch.step(&self.world);
        }
    }

    fn step(&mut self) {
        if self.world.ms().is_multiple_of(HOST_MS) {
            self.host();
        }
        self.world.step();
        self.watch.step(&self.world);
    }

    /// The host's turn: what has come, what is due.
    fn host(&mut self) {
        let now = self.now();
        if self.world.has_bytes() {
            let bytes = self.world.take(usize::MAX);
            self.session.receive(&bytes, now);
        }
        if self.session.poll_at().is_some_and(|at| at <= now) {
            self.session.poll(now);
        }
        while let Some(output) = self.session.next_output() {
            match output {
                Output::Rate(rate) => self.world.set_rate(rate),
                Output::Line(line) => self.world.send(&line),
            }
        }
        while let Some(event) = self.session.next_event() {
            self.took(event);
        }
    }

    fn took(&mut self, event: Event) {
        match event {
            Event::Answer { ticket, result } => self.answers.push((ticket, result)),
            Event::Awake(pin) => self.woken.push(pin),
            Event::WentLimp { by: By::Trip } => self.tripped = true,
            Event::Opened { .. }
            | Event::Found { .. }
            | Event::Where(_)
            | Event::Silence { .. }
            | Event::Sense(_) => {}
            other => self.mishaps.push(format!("{other:?}")),
        }
    }
}
