//! Every exchange of `protocol/vectors`: the Rust codec on the host's side, the C core on the
//! board's, in virtual time.
//!
//! Three things are held for each exchange: the board's lines are those written; each request that
//! the codec can say is encoded by it to the very bytes of the file; each line from the board is
//! read by it to a value and back to the very bytes. And the session has each exchange that a host
//! can have: its caller gets the answers and the events that the file writes.
#![cfg(feature = "practice")]

#[path = "support/vector_file.rs"]
mod vector_file;

use std::path::Path;
use std::time::Duration;

use hornset::board::answer::Told;
use hornset::board::codec::{Message, emit};
use hornset::board::session::{Output, Session};
use hornset::board::{By, Done, Event, Kind, LinkSettings, Refusal, Request, ResetCause, Ticket};
use hornset::practice::{Firmware, Identity};
use vector_file::{Act, Exchange, READY, fits};

/// A grid point stands this long after a frame is built.
const AFTER_BUILD_MS: u32 = 5;
const STEP_MS: u64 = 20;

fn exchanges() -> Vec<Exchange> {
    vector_file::read_all(&Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/vectors"))
        .expect("the vectors keep their own rules")
}

/// A line of the file, taken apart as far as the codec can say it.
struct Said {
    tag: Option<u16>,
    request: Request,
}

/// The typed request of these bytes, if they are exactly one line that the codec could have made.
fn said(bytes: &[u8]) -> Option<Said> {
    let line = std::str::from_utf8(bytes).ok()?.strip_suffix('\n')?;
    let (body, check) = line.rsplit_once(';')?;
    if check != format!("{:04X}", vector_file::crc(body.as_bytes())) {
        return None;
    }
    let (tag, words) = match body.split_once(' ') {
        Some((tag, words)) if tag.starts_with(|c: char| c.is_ascii_digit()) => {
            let number = tag.parse().ok().filter(|n: &u16| n.to_string() == tag)?;
            (Some(number), words)
        }
        _ => (None, body),
    };
    let request: Request = words.parse().ok()?;
    // A pin spelled as printed is the same request in other words; the codec sends numbers.
    (request.to_string() == words).then_some(Said { tag, request })
}

/// One board and the checks on every line between it and the codec.
struct Runner {
    firmware: Firmware,
    since_build: u32,
    /// Lines that came and were not compared yet, with their ends.
    lines: Vec<Vec<u8>>,
    partial: Vec<u8>,
}

impl Runner {
    fn new() -> Runner {
        Runner {
            firmware: Firmware::new(Identity {
                fw: "0.1.0".into(),
                board: "atmega2560".into(),
                id: 0x5e1f_0c2a,
            }),
            since_build: 0,
            lines: Vec::new(),
            partial: Vec::new(),
        }
    }

    fn take(&mut self) {
        for byte in self.firmware.take_sent(usize::MAX) {
            self.partial.push(byte);
            if byte == b'\n' {
                self.lines.push(std::mem::take(&mut self.partial));
            }
        }
    }

    fn step(&mut self) {
        self.since_build += 1;
        if self.firmware.step() {
            self.since_build = 0;
        }
        self.take();
    }

    fn pass(&mut self, ms: u64) {
        for _ in 0..ms {
            self.step();
        }
    }

    /// On to the first grid point that has a build between `event ready` and itself.
    fn settle(&mut self) {
        self.pass(STEP_MS);
        while self.since_build != AFTER_BUILD_MS {
            self.step();
        }
    }
}

/// A line's body, once the codec has read it and written the same bytes again.
fn body(line: &[u8], asked: Option<&Request>) -> Result<String, String> {
    let shown = String::from_utf8_lossy(line).into_owned();
    let message = Message::parse(&line[..line.len() - 1])
        .map_err(|error| format!("the codec does not read {shown:?}: {error}"))?;
    let again = message
        .to_line()
        .map_err(|error| format!("the codec does not write {shown:?}: {error}"))?;
    if again != line {
        return Err(format!(
            "the codec writes {:?} for {shown:?}",
            String::from_utf8_lossy(&again)
        ));
    }
    match (&message, asked) {
        (Message::Event { word, fields }, _) => {
            match Told::read(word, fields).map_err(|error| format!("{shown:?}: {error}"))? {
                Some(_) => {}
                None => return Err(format!("the codec knows no event {word}")),
            }
        }
        (Message::Done { fields, .. }, Some(request)) => {
            Done::read(request, fields).map_err(|error| format!("{shown:?}: {error}"))?;
        }
        (Message::Refused { reason, fields, .. }, _) => {
            let refusal = Refusal {
                reason: *reason,
                fields: fields.clone(),
            };
            if refusal.remedy().is_empty() {
                return Err(format!("no remedy for {shown:?}"));
            }
        }
        (Message::Done { .. }, None) => {}
    }
    let text = shown.trim_end();
    Ok(text[..text.len() - 5].to_string())
}

fn compare(
    came: &[Vec<u8>],
    expected: &[(usize, String)],
    asked: Option<&Request>,
) -> Result<(), String> {
    let bodies: Vec<String> = came
        .iter()
        .map(|line| body(line, asked))
        .collect::<Result<_, _>>()?;
    for at in 0..bodies.len().max(expected.len()) {
        match (expected.get(at), bodies.get(at)) {
            (Some((_, wanted)), Some(came)) if fits(wanted, came) => {}
            (Some((line, wanted)), came) => {
                return Err(format!(
                    "line {line}: expected\n    {wanted}\n  and got\n    {}",
                    came.map_or("nothing", String::as_str)
                ));
            }
            (None, Some(came)) => return Err(format!("one line too many:\n    {came}")),
            (None, None) => {}
        }
    }
    Ok(())
}

/// How much of the file the codec could say.
#[derive(Default)]
struct Tally {
    sent: usize,
    said: usize,
}

fn run(exchange: &Exchange, tally: &mut Tally) -> Result<(), String> {
    let mut runner = Runner::new();
    runner.settle();
    let ready = std::mem::take(&mut runner.lines);
    compare(&ready, &[(0, READY.to_string())], None)?;
    for statement in &exchange.statements {
        let at = |what: String| format!("statement in line {}: {what}", statement.line);
        let mut asked = None;
        match &statement.act {
            Act::Send(bytes) => {
                tally.sent += 1;
                if let Some(said) = said(bytes) {
                    let made = emit(said.tag, &said.request.to_string())
                        .map_err(|error| at(error.to_string()))?;
                    if made != *bytes {
                        return Err(at(format!(
                            "the codec says {:?}",
                            String::from_utf8_lossy(&made)
                        )));
                    }
                    tally.said += 1;
                    asked = Some(said.request);
                }
                runner.firmware.receive(bytes);
                runner.take();
                runner.pass(STEP_MS);
            }
            Act::Wait(ms) => runner.pass(*ms),
            Act::LineError => runner.firmware.receive_error(),
            Act::Input(input, mv) => runner
                .firmware
                .set_input(*input, u16::try_from(*mv).map_err(|e| at(e.to_string()))?),
            Act::Reset(cause) => {
                runner.firmware.reset(match cause.as_str() {
                    "power" => ResetCause::Power,
                    "brownout" => ResetCause::Brownout,
                    "watchdog" => ResetCause::Watchdog,
                    "external" => ResetCause::External,
                    other => return Err(at(format!("no cause {other}"))),
                });
                runner.since_build = 0;
                runner.settle();
            }
        }
        let came = std::mem::take(&mut runner.lines);
        compare(&came, &statement.expected, asked.as_ref()).map_err(at)?;
        if !runner.partial.is_empty() {
            return Err(at("half a line at the end of a step".into()));
        }
    }
    Ok(())
}

#[test]
fn every_exchange_is_answered_by_the_core_and_understood_by_the_codec() {
    let exchanges = exchanges();
    // The issue asks for 150; a loss of half the files must not pass unseen.
    assert!(exchanges.len() >= 500, "only {} exchanges", exchanges.len());
    let mut tally = Tally::default();
    let failures: Vec<String> = exchanges
        .iter()
        .filter_map(|exchange| {
            run(exchange, &mut tally)
                .err()
                .map(|why| format!("{} `{}`: {why}", exchange.file, exchange.name))
        })
        .collect();
    assert!(
        failures.is_empty(),
        "{} of {} exchanges fail\n{}",
        failures.len(),
        exchanges.len(),
        failures.join("\n")
    );
    // Most lines of the file are requests that the host can say; the rest is what it never would.
    assert!(
        tally.said * 2 > tally.sent,
        "the codec said only {} of {} lines",
        tally.said,
        tally.sent
    );
}

/// The session at the host's end of the wire, in the same virtual time.
struct Host {
    runner: Runner,
    session: Session,
    now: Duration,
    events: Vec<Event>,
}

impl Host {
    fn found() -> Result<Host, String> {
        let mut host = Host {
            runner: Runner::new(),
            session: Session::new(LinkSettings::default()),
            now: Duration::ZERO,
            events: Vec::new(),
        };
        host.session.opened(host.now);
        host.pass(STEP_MS)?;
        while host.runner.since_build != AFTER_BUILD_MS {
            host.pass(1)?;
        }
        let first = std::mem::take(&mut host.events).into_iter().next();
        match first {
            Some(Event::Found { hello, .. }) if hello.boot == 1 => Ok(host),
            other => Err(format!("the session found no board: {other:?}")),
        }
    }

    /// Everything that the two have to say to each other at this moment.
    fn talk(&mut self) -> Result<(), String> {
        for _ in 0..100 {
            self.session.poll(self.now);
            let mut quiet = true;
            while let Some(output) = self.session.next_output() {
                quiet = false;
                if let Output::Line(line) = output {
                    self.runner.firmware.receive(&line);
                }
            }
            self.runner.take();
            for line in std::mem::take(&mut self.runner.lines) {
                quiet = false;
                self.session.receive(&line, self.now);
            }
            while let Some(event) = self.session.next_event() {
                if let Event::Trouble(trouble) = event {
                    return Err(format!("the session is in trouble: {trouble:?}"));
                }
                self.events.push(event);
            }
            if quiet {
                return Ok(());
            }
        }
        Err("the session and the board talk without end".into())
    }

    fn pass(&mut self, ms: u64) -> Result<(), String> {
        for _ in 0..ms {
            self.now += Duration::from_millis(1);
            self.runner.step();
            self.session.alive(self.now);
            self.talk()?;
        }
        Ok(())
    }
}

/// What a board's line tells a session's caller, in words that both sides of the comparison share;
/// `None`: nothing that is compared.
fn told(told: &Told) -> Option<String> {
    match told {
        // The caller's own freeze is told as its answer.
        Told::Frozen { by: By::Asked, .. } => None,
        Told::Frozen { n, by } => Some(format!("frozen {n} {by}")),
        Told::Limp { by } => Some(format!("limp {by}")),
        Told::Awake(pin) => Some(format!("awake {pin}")),
        Told::Where(pins) => Some(format!("{pins:?}")),
        // Measured, or counts of the session's own lines among others: that it came must do.
        Told::Sense(_) => Some("sense".into()),
        Told::Ready(_) => Some("ready".into()),
    }
}

fn heard(event: &Event) -> Option<String> {
    match event {
        Event::Frozen { n, by } => Some(format!("frozen {n} {by}")),
        Event::WentLimp { by } => Some(format!("limp {by}")),
        Event::Awake(pin) => Some(format!("awake {pin}")),
        // Without a frame it is the answer to a question of the session's own.
        Event::Where(pins) => pins.frame.map(|_| format!("{pins:?}")),
        Event::Sense(_) => Some("sense".into()),
        Event::Reset { .. } | Event::Lost { .. } | Event::NoAnswer { .. } => {
            Some(format!("{event:?}"))
        }
        _ => None,
    }
}

/// Whether a session can have this exchange, and every request in it. It cannot send damage, old
/// tags or untagged changes, it feeds the board so that no silence comes, and after a reset it sets
/// things again that the exchange does not know of.
fn requests(exchange: &Exchange) -> Option<Vec<Option<Request>>> {
    let mut last = 0;
    let mut requests = Vec::new();
    for statement in &exchange.statements {
        if statement
            .expected
            .iter()
            .any(|(_, line)| line.contains("by=silence") || line.contains("refused stale"))
        {
            return None;
        }
        requests.push(match &statement.act {
            Act::Send(bytes) => {
                let said = said(bytes)?;
                if said.request.kind() == Kind::Change {
                    if said.tag? <= last {
                        return None;
                    }
                    last = said.tag?;
                }
                Some(said.request)
            }
            Act::Wait(_) | Act::Input(..) => None,
            Act::LineError | Act::Reset(_) => return None,
        });
    }
    Some(requests)
}

/// The answer that the file writes for a request, as the session's caller gets it.
fn written(request: &Request, line: &str) -> Result<Result<Done, Refusal>, String> {
    let bytes = vector_file::with_check(line);
    match Message::parse(&bytes[..bytes.len() - 1]).map_err(|error| error.to_string())? {
        Message::Done { fields, .. } => Done::read(request, &fields)
            .map(Ok)
            .map_err(|error| error.to_string()),
        Message::Refused { reason, fields, .. } => Ok(Err(Refusal { reason, fields })),
        Message::Event { .. } => Err(format!("{line} is no answer")),
    }
}

fn converse(exchange: &Exchange, requests: &[Option<Request>]) -> Result<(), String> {
    let mut host = Host::found()?;
    for (number, (statement, request)) in exchange.statements.iter().zip(requests).enumerate() {
        let at = |what: String| format!("statement in line {}: {what}", statement.line);
        let mut lines: Vec<&str> = statement.expected.iter().map(|(_, l)| l.as_str()).collect();
        let ticket = Ticket(number as u64);
        match (&statement.act, request) {
            (Act::Wait(ms), _) => host.pass(*ms).map_err(at)?,
            (Act::Input(input, mv), _) => host
                .runner
                .firmware
                .set_input(*input, u16::try_from(*mv).map_err(|e| at(e.to_string()))?),
            (_, Some(request)) => {
                host.session.ask(ticket, request.clone(), host.now);
                host.talk().map_err(at)?;
                host.pass(STEP_MS).map_err(at)?;
            }
            _ => return Err(at("not a statement for a session".into())),
        }
        let events = std::mem::take(&mut host.events);
        let mut answers = events.iter().filter_map(|event| match event {
            Event::Answer { ticket: of, result } if *of == ticket => Some(result),
            _ => None,
        });
        if let Some(request) = request {
            let place = lines
                .iter()
                .position(|line| !line.starts_with("event "))
                .ok_or_else(|| at("the file has no answer".into()))?;
            let line = lines.remove(place);
            let came = answers
                .next()
                .ok_or_else(|| at("the session had no answer".into()))?;
            // Measured values have no value to compare, and `last=` counts the session's own lines.
            if line.contains('*') || line.contains(" last=") {
                if came.is_err() {
                    return Err(at(format!("{came:?} for {line}")));
                }
            } else if *came != written(request, line).map_err(at)? {
                return Err(at(format!("{came:?} for {line}")));
            }
        }
        if let Some(more) = answers.next() {
            return Err(at(format!("a second answer: {more:?}")));
        }
        let wanted: Vec<String> = lines
            .iter()
            .map(|line| {
                let bytes = vector_file::with_check(&line.replace("=*", "=0"));
                match Message::parse(&bytes[..bytes.len() - 1]) {
                    Ok(Message::Event { word, fields }) => {
                        Told::read(&word, &fields).map_err(|error| at(error.to_string()))
                    }
                    other => Err(at(format!("{line} is no event: {other:?}"))),
                }
            })
            .collect::<Result<Vec<_>, _>>()?
            .iter()
            .filter_map(|event| event.as_ref().and_then(told))
            .collect();
        let came: Vec<String> = events.iter().filter_map(heard).collect();
        if wanted != came {
            return Err(at(format!("told {came:?} where {wanted:?} was due")));
        }
    }
    Ok(())
}

#[test]
fn the_session_has_every_exchange_that_a_host_can_have() {
    let exchanges = exchanges();
    let mut had = 0;
    let failures: Vec<String> = exchanges
        .iter()
        .filter_map(|exchange| {
            let requests = requests(exchange)?;
            had += 1;
            converse(exchange, &requests)
                .err()
                .map(|why| format!("{} `{}`: {why}", exchange.file, exchange.name))
        })
        .collect();
    assert!(
        failures.is_empty(),
        "{} of {had} exchanges fail\n{}",
        failures.len(),
        failures.join("\n")
    );
    assert!(had >= 150, "only {had} exchanges are such");
}
