//! What the worker's events and answers change in the state.
//!
//! A part of `update`: pure, the time is an argument. It never sends anything by itself but set-ups and the next wake.

use std::time::Duration;

use crate::board::{
    By, Done, Event, Hello, PinState, Reason, Refusal, ResetCause, Stop, Trouble as LinkTrouble,
    Where,
};
use crate::procedure::{Ask, Heard};
use crate::units::{Pin, Pulse};

use super::actions;
use super::bench::{LinkState, Place, Silence};
use super::effect::{AskId, Effect, Fate, Now};
use super::guided;
use super::motion;
use super::notice::{self, FrozenBy, Trouble};
use super::pages::PageId;
use super::state::{Asked, Stands, State};

/// Something happened on the link.
pub fn event(state: &mut State, event: Event, now: &Now) -> Vec<Effect> {
    match event {
        Event::Opened { name, .. } => {
            state.bench.name = name;
            Vec::new()
        }
        Event::Found { hello, rate } => found(state, hello, rate, now),
        // The runner knows whose answer it is and brings it as `Input::Asked`.
        Event::Answer { .. } | Event::NoAnswer { .. } | Event::Dropped { .. } => Vec::new(),
        Event::Jogged { moves, result } => jogged(state, &moves, result),
        Event::Stopped { stop, n } => stopped(state, stop, n, now),
        Event::Where(at) => {
            where_event(state, &at, now);
            follow_up(state, now)
        }
        Event::Sense(sense) => {
            let mv = sense.counters.map(|c| c.vcc_mv).or(sense.vcc_mv);
            if let Some(mv) = mv {
                state.bench.take_supply(f64::from(mv) / 1000.0, now.at);
            }
            Vec::new()
        }
        Event::Frozen { n, by } => frozen(state, n, by, now),
        // A machine waits for the trip: it is the end that was looked for.
        Event::WentLimp { by: By::Trip } if state.guided.is_some() => {
            let mut effects = actions::look(state, now);
            effects.extend(guided::tripped(state, now));
            // Outside a peck it answers no question: the builder is told what it was.
            if state.guided.as_ref().is_some_and(|it| it.step().wrong) {
                actions::say(
                    state,
                    "The board's trip acted outside a peck: the pin is limp. Enter goes on.",
                    "Is the threshold too near what a moving servo draws? Space stops.",
                );
                effects.push(Effect::Bell(2));
            }
            effects
        }
        Event::WentLimp { by } => {
            state.bench.remember_awake();
            forget_guided(state);
            state.space_again = false;
            let mut effects = Vec::new();
            if by == By::Trip {
                // A trip may have named some pins only: the board says which are left.
                effects.extend(actions::look(state, now));
            } else {
                state.bench.all_limp();
            }
            effects.push(actions::trouble(state, Trouble::WentLimp { by }));
            effects
        }
        Event::Awake(pin) => {
            let pulse = state
                .bench
                .plug(pin)
                .last
                .or_else(|| asked_pulse(state, pin));
            state.bench.take(pin, PinState::Awake, pulse, now.at);
            let mut effects = follow_up(state, now);
            if state.queue.is_none() && !guided::wakes(state, pin) {
                effects.push(Effect::Bell(1));
            }
            effects
        }
        Event::Reset { cause, hello } => {
            state.bench.remember_awake();
            forget_guided(state);
            state.bench.all_limp();
            state.bench.forget_frames();
            state.bench.frozen = None;
            state.bench.silence = Silence::default();
            state.bench.reset = true;
            state.bench.browned_out |= cause == ResetCause::Brownout;
            state.space_again = false;
            let boot = hello.boot;
            state.bench.hello = Some(hello);
            state.bench.link = LinkState::Up;
            let after_loss = state
                .troubles
                .iter()
                .any(|t| matches!(t, Trouble::Lost | Trouble::Back));
            state
                .troubles
                .retain(|t| !matches!(t, Trouble::Lost | Trouble::Back | Trouble::Frozen { .. }));
            vec![actions::trouble(
                state,
                Trouble::Reset {
                    cause,
                    boot,
                    restored: false,
                    after_loss,
                },
            )]
        }
        Event::Silence { freeze_ms, limp_ms } => {
            state.bench.silence = Silence {
                freeze: Duration::from_millis(freeze_ms.into()),
                limp: Duration::from_millis(limp_ms.into()),
            };
            Vec::new()
        }
        Event::Restored { .. } => {
            for trouble in &mut state.troubles {
                if let Trouble::Reset { restored, .. } = trouble {
                    *restored = true;
                }
            }
            actions::look(state, now)
        }
        Event::Lost { .. } => {
            state.bench.link = LinkState::Lost(now.at);
            state.bench.remember_awake();
            forget_guided(state);
            state.pending.clear();
            vec![actions::trouble(state, Trouble::Lost)]
        }
        Event::Back { hello, rate } => back(state, hello, rate, now),
        Event::Trouble(trouble) => link_trouble(state, trouble, now),
        Event::Closed => {
            state.bench.link = LinkState::None;
            Vec::new()
        }
    }
}

/// The board let go while a machine was at work: the machine is told, and it alone wakes its joints again.
fn forget_guided(state: &mut State) {
    if state.guided.is_some() {
        state.bench.was_awake.clear();
        guided::stopped(state, &Heard::WentLimp);
    }
}

fn found(state: &mut State, hello: Hello, rate: u32, now: &Now) -> Vec<Effect> {
    state.bench.browned_out = false;
    state.bench.trip = None;
    state.bench.link = LinkState::Up;
    state.bench.rate = rate;
    state.bench.forget_frames();
    state.bench.frozen = Some(hello.frozen).filter(|n| *n != 0);
    state.bench.hello = Some(hello);
    if state.page == PageId::First {
        state.page = PageId::Home;
    }
    let real = matches!(state.bench.place, Some(Place::Port(_)));
    match state.work.fit(real, &now.stamp) {
        Ok(Some((what, remedy))) => actions::say(state, what, remedy),
        Ok(None) => {}
        Err(error) => {
            let what = "There is no robot to begin with: name a file.".into();
            let remedy = error.to_string().lines().next().unwrap_or_default().into();
            notice::add(&mut state.troubles, Trouble::Told { what, remedy });
        }
    }
    if !real && guided::hands::by_hand_before(state) {
        state.troubles.push(Trouble::Told {
            what: "The practice robot is as new: what hands did before is not done to it.".into(),
            remedy: "Where horns, plugs or servos are not as the logbook says, find them anew."
                .into(),
        });
    }
    actions::set_up_board(state, now)
}

fn back(state: &mut State, hello: Hello, rate: u32, now: &Now) -> Vec<Effect> {
    state.bench.link = LinkState::Up;
    state.bench.rate = rate;
    state.bench.frozen = Some(hello.frozen).filter(|n| *n != 0);
    state.bench.hello = Some(hello);
    state.bench.forget_frames();
    let was_lost = state.troubles.iter().any(|t| matches!(t, Trouble::Lost));
    state.troubles.retain(|t| !matches!(t, Trouble::Lost));
    let mut effects = actions::look(state, now);
    if was_lost {
        notice::add(&mut state.troubles, Trouble::Back);
        effects.push(Effect::Bell(2));
    }
    effects
}

fn link_trouble(state: &mut State, trouble: LinkTrouble, _now: &Now) -> Vec<Effect> {
    let told = |what: String, remedy: &str| Trouble::Told {
        what,
        remedy: remedy.into(),
    };
    let trouble = match trouble {
        LinkTrouble::Open(error) => {
            not_opened(state);
            // The error's own text: what was found, then what to do.
            let text = error.to_string();
            let (what, remedy) = match text.split_once(": ") {
                Some((what, remedy)) => (what.to_owned(), capital(remedy)),
                None => (text, String::new()),
            };
            Trouble::Told {
                what: format!("{}.", capital(&what)),
                remedy,
            }
        }
        LinkTrouble::NoBoard { rates } => {
            not_opened(state);
            let rates: Vec<String> = rates.iter().map(u32::to_string).collect();
            told(
                format!(
                    "Nobody answered on {} ({} baud).",
                    state.bench.name,
                    rates.join(", ")
                ),
                "Is it hornset's firmware, and does the board have power? Choose again.",
            )
        }
        LinkTrouble::OtherProto { proto, fw } => told(
            format!(
                "The board speaks protocol {proto} (firmware {}); this is 1.",
                clipped(&fw, 16)
            ),
            "It is only read and stopped. Load the firmware that comes with this hornset.",
        ),
        // The session asks again by itself; the board freezes if it becomes too much.
        LinkTrouble::Damaged { .. } => return Vec::new(),
        LinkTrouble::StopUnanswered(_) => told(
            "The board did not answer the stop. It is sent again and again.".into(),
            "Use the switch in the servo supply now.",
        ),
        LinkTrouble::NotRestored { request, why } => {
            // Of a long request the verb and the first pin tell enough.
            let request: Vec<&str> = request.split(' ').take(2).collect();
            told(
                format!(
                    "After the reset the board refused {}: {}.",
                    request.join(" "),
                    clipped(&why, 24)
                ),
                "Its own guard of 1400 to 1600 µs stands there until it is set again.",
            )
        }
    };
    vec![actions::trouble(state, trouble)]
}

/// At most so many characters.
fn clipped(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let start = text.chars().take(most - 1);
    start.chain(std::iter::once('…')).collect()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}

fn not_opened(state: &mut State) {
    state.bench.link = LinkState::None;
    state.bench.place = None;
    state.guided = None;
    state.page = PageId::First;
    state.layers.clear();
}

fn jogged(state: &mut State, moves: &[(Pin, Pulse)], result: Result<Done, Refusal>) -> Vec<Effect> {
    match result {
        Ok(_) => Vec::new(),
        Err(refusal) => {
            for (pin, _) in moves {
                state.bench.plug_mut(*pin).target = None;
            }
            let wished = refusal
                .pin()
                .and_then(|pin| moves.iter().find(|(p, _)| *p == pin))
                .copied();
            let trouble = notice::refused(state, &refusal, wished);
            vec![actions::trouble(state, trouble)]
        }
    }
}

fn stopped(state: &mut State, stop: Stop, n: Option<u32>, now: &Now) -> Vec<Effect> {
    state
        .troubles
        .retain(|t| !matches!(t, Trouble::Told { what, .. } if what.starts_with("The board did not answer the stop")));
    match stop {
        Stop::Limp => state.bench.all_limp(),
        Stop::Freeze => {
            state.bench.no_targets();
            if let Some(n) = n {
                return frozen(state, n, By::Asked, now);
            }
        }
    }
    go_on_quitting(state)
}

fn frozen(state: &mut State, n: u32, by: By, now: &Now) -> Vec<Effect> {
    let newer = state.bench.frozen.is_none_or(|old| n > old);
    if !newer && by == By::Asked {
        return Vec::new();
    }
    state.bench.frozen = Some(n);
    guided::stopped(state, &Heard::Frozen);
    let by = match FrozenBy::from(by) {
        FrozenBy::Asked if state.stands == Stands::Ground && state.space_again => FrozenBy::Space,
        by => by,
    };
    let behind = state.behind;
    let effect = actions::trouble(state, Trouble::Frozen { by, at: now.at });
    // Ctrl-C froze it and asks about unsaved work: the question stays in front.
    state.behind = behind && state.interrupted;
    vec![effect]
}

fn asked_pulse(state: &State, pin: Pin) -> Option<Pulse> {
    state.pending.values().find_map(|(asked, _)| match asked {
        Asked::Wake(p, pulse) if *p == pin => Some(*pulse),
        Asked::Guided(Ask::Wake { pin: p, pulse }, _) if *p == pin => Some(*pulse),
        _ => None,
    })
}

fn where_event(state: &mut State, at: &Where, now: &Now) {
    state.bench.begin_frame(at.frame);
    take_where(state, at, now.at);
}

fn take_where(state: &mut State, at: &Where, now: Duration) {
    for pin in &at.pins {
        state.bench.take(pin.pin, pin.state, pin.pulse, now);
    }
    if at.frozen == 0 {
        thawed(state);
    } else if state.bench.frozen.is_none() {
        state.bench.frozen = Some(at.frozen);
        no_motion(state);
    }
}

/// A motion of feet ends where it is; the order of pins is told anew before the next.
fn no_motion(state: &mut State) {
    if motion::end(state) {
        state.bench.roster = None;
    }
}

fn thawed(state: &mut State) {
    if state.bench.frozen.take().is_some() {
        state.space_again = false;
        state
            .troubles
            .retain(|t| !matches!(t, Trouble::Frozen { .. }));
        guided::thawed(state);
    }
}

/// What waited for a pin to be awake, or inside its guard, or limp.
fn follow_up(state: &mut State, now: &Now) -> Vec<Effect> {
    let mut effects = actions::next_wake(state, now);
    if let Some(pin) = state.bell_for
        && state.bench.plug(pin).target.is_none()
    {
        state.bell_for = None;
        effects.push(Effect::Bell(1));
    }
    effects.extend(actions::guards_due(state, now));
    effects.extend(go_on_quitting(state));
    effects
}

/// The builder wants to leave, and everything is limp now.
pub fn go_on_quitting(state: &mut State) -> Vec<Effect> {
    let awake = state.bench.awake() + state.bench.waking() > 0;
    if !state.quitting || awake || !state.layers.is_empty() || state.sitting.is_some() {
        return Vec::new();
    }
    state.quitting = false;
    actions::quit_next(state)
}

/// The fate of one of the console's own requests.
pub fn asked(state: &mut State, id: AskId, fate: Fate, now: &Now) -> Vec<Effect> {
    let Some((asked, _)) = state.pending.remove(&id) else {
        return Vec::new();
    };
    if let Asked::Guided(ask, run) = &asked {
        return guided::answered(state, ask, *run, fate, now);
    }
    let answer = match fate {
        Fate::Answered(answer) => answer,
        Fate::Dropped => {
            match asked {
                Asked::Wake(..) => state.queue = None,
                Asked::Pose | Asked::Roster(_) => no_motion(state),
                _ => {}
            }
            return Vec::new();
        }
        Fate::NoAnswer => {
            if matches!(asked, Asked::Quiet | Asked::NoTrip) {
                return Vec::new();
            }
            state.queue = None;
            no_motion(state);
            return vec![actions::trouble(
                state,
                Trouble::Told {
                    what: format!("The board did not answer: {}.", what_was_asked(&asked)),
                    remedy: "It may have been done or not: look at the joints' states.".into(),
                },
            )];
        }
    };
    match (asked.clone(), answer) {
        (Asked::Wake(pin, pulse), Ok(Done::Wake { .. })) => {
            // Between the answer and the first pulse the pin is waking.
            if state.bench.plug(pin).state == PinState::Limp {
                state.bench.take(pin, PinState::Waking, None, now.at);
                state.bench.plug_mut(pin).last = Some(pulse);
            }
            Vec::new()
        }
        (Asked::Limp(pins), Ok(_)) => {
            for pin in pins {
                state.bench.take(pin, PinState::Limp, None, now.at);
            }
            go_on_quitting(state)
        }
        (Asked::Pose | Asked::Roster(_), Ok(_)) => motion::answered(state, id, &asked, now),
        (Asked::NoTrip, Ok(_)) => {
            state.bench.trip = None;
            Vec::new()
        }
        // Asked again once the line is quiet.
        (Asked::NoTrip, Err(refusal)) if refusal.reason == Reason::Noisy => Vec::new(),
        (Asked::Thaw, Ok(_)) => {
            thawed(state);
            Vec::new()
        }
        (_, Ok(Done::Where(at))) => {
            take_where(state, &at, now.at);
            match at.more {
                Some(pin) => {
                    let request = crate::board::Request::WhereFrom(pin);
                    vec![actions::ask(state, request, Asked::Quiet, now)]
                }
                None => follow_up(state, now),
            }
        }
        (_, Ok(_)) => Vec::new(),
        (asked, Err(refusal)) => refused(state, asked, &refusal),
    }
}

fn refused(state: &mut State, asked: Asked, refusal: &Refusal) -> Vec<Effect> {
    if let Some(n) = refusal.freeze() {
        state.bench.frozen = Some(n);
    }
    let wished = match asked {
        Asked::NoTrip => {
            state.bench.trip = None;
            None
        }
        Asked::Wake(pin, pulse) => {
            state.queue = None;
            Some((pin, pulse))
        }
        // A move to sit down that was refused must not be followed by its limp.
        Asked::Pose | Asked::Roster(_) => {
            no_motion(state);
            None
        }
        Asked::Move => {
            state.sitting = None;
            state.quitting = false;
            None
        }
        _ => None,
    };
    if wished.is_none() {
        state.bench.no_targets();
    }
    let trouble = notice::refused(state, refusal, wished);
    vec![actions::trouble(state, trouble)]
}

/// What a request was about, for the line that says what is waited for.
pub fn what_was_asked(asked: &Asked) -> String {
    match asked {
        Asked::Wake(pin, _) => format!("wake of pin {pin}"),
        Asked::Guard(pin) | Asked::FileGuard(pin) => format!("guard of pin {pin}"),
        Asked::Thaw => "thaw".into(),
        Asked::Limp(pins) => match pins.as_slice() {
            [pin] => format!("limp of pin {pin}"),
            _ => "limp".into(),
        },
        Asked::Move | Asked::Pose => "a move".into(),
        Asked::Roster(_) => "the order of pins".into(),
        Asked::Guided(ask, _) => match ask {
            Ask::Wake { pin, .. } => format!("wake of pin {pin}"),
            Ask::Peck { pin, .. } => format!("a peck of pin {pin}"),
            Ask::Guard { pin, .. } => format!("guard of pin {pin}"),
            Ask::Go { .. } => "a move".into(),
            Ask::Limp { .. } => "limp".into(),
            Ask::Slew { .. } | Ask::Sense { .. } | Ask::Trip { .. } | Ask::Silence { .. } => {
                "a setting".into()
            }
        },
        Asked::NoTrip => "a setting".into(),
        Asked::Quiet => "a reading".into(),
    }
}
