//! A machine's requests on their way to the board, and their answers on the way back.
//!
//! Values become requests here and answers become what was heard; whether and when is decided elsewhere.

use std::time::Duration;

use super::{Motion, PECK_FRAMES, REST, hear};
use crate::board::{Done, Input, PinState, Reflex, Refusal, Request};
use crate::console::actions;
use crate::console::effect::{Effect, Fate, Now};
use crate::console::notice::{self, Trouble};
use crate::console::state::{Asked, State};
use crate::procedure::{Ask, Heard};

pub(super) fn send(state: &mut State, ask: &Ask, now: &Now) -> Vec<Effect> {
    let Some(guided) = &mut state.guided else {
        return Vec::new();
    };
    if let Ask::Guard { pin, .. } | Ask::Slew { pin, .. } = ask {
        guided.touched.insert(*pin);
    }
    if let Ask::Trip { input, mv: 1.., .. } = ask {
        state.bench.trip = Input::new(*input);
    }
    if let Ask::Go { .. } | Ask::Peck { .. } = ask {
        guided.motion_from = state.bench.seconds(now.at);
    }
    let asked = Asked::Guided(ask.clone(), guided.run);
    let Some(request) = request(ask) else {
        // Only a machine that asks for an input beyond a7 comes here.
        let reason = "There is no such input: a0 to a7.".into();
        let ask = ask.clone();
        return hear(state, &Heard::Refused { ask, reason }, now);
    };
    if let Ask::Go { moves, .. } = ask {
        for (pin, pulse) in moves {
            state.bench.plug_mut(*pin).target = Some(*pulse);
        }
    }
    vec![actions::ask(state, request, asked, now)]
}

/// A machine's request as the board's.
fn request(ask: &Ask) -> Option<Request> {
    Some(match ask.clone() {
        Ask::Wake { pin, pulse } => Request::Wake { pin, pulse },
        Ask::Go { ms, moves } => Request::Go { ms, moves },
        Ask::Peck {
            pin,
            pulse,
            hold_ms,
        } => Request::Peck {
            pin,
            pulse,
            hold_ms,
        },
        Ask::Limp { pins } => Request::Limp { pins },
        Ask::Silence { freeze_ms, limp_ms } => Request::Silence { freeze_ms, limp_ms },
        Ask::Guard { pin, low, high } => Request::Guard { pin, low, high },
        Ask::Slew { pin, us_per_s } => Request::Slew {
            pin: Some(pin),
            us_per_s,
        },
        Ask::Sense { inputs } => Request::Sense {
            inputs: inputs
                .into_iter()
                .map(Input::new)
                .collect::<Option<Vec<Input>>>()?,
        },
        Ask::Trip { input, mv: 0, .. } => Request::NoTrip(Input::new(input)?),
        Ask::Trip {
            input,
            mv,
            ms,
            pins,
        } => Request::Trip {
            input: Input::new(input)?,
            mv,
            ms,
            act: Reflex::Limp(pins),
        },
    })
}

/// The fate of a machine's request.
pub fn answered(state: &mut State, ask: &Ask, run: u64, fate: Fate, now: &Now) -> Vec<Effect> {
    let is_current = state.guided.as_ref().is_some_and(|it| it.run == run);
    match fate {
        // A stop overtook it: the machine was told of the stop.
        Fate::Dropped => Vec::new(),
        Fate::NoAnswer if !is_current => Vec::new(),
        Fate::NoAnswer => {
            let reason = "The board did not answer: it may be done or not.".into();
            let ask = ask.clone();
            hear(state, &Heard::Refused { ask, reason }, now)
        }
        Fate::Answered(Ok(done)) => {
            took_effect(state, ask, now);
            if is_current {
                was_done(state, ask, &done, now)
            } else {
                Vec::new()
            }
        }
        Fate::Answered(Err(refusal)) => {
            if let Some(n) = refusal.freeze() {
                state.bench.frozen = Some(n);
            }
            state.bench.no_targets();
            if is_current {
                was_refused(state, ask, &refusal, now)
            } else {
                Vec::new()
            }
        }
    }
}

/// What the answer says of the pins, whoever asked.
fn took_effect(state: &mut State, ask: &Ask, now: &Now) {
    match ask {
        Ask::Wake { pin, pulse } if state.bench.plug(*pin).state == PinState::Limp => {
            state.bench.take(*pin, PinState::Waking, None, now.at);
            state.bench.plug_mut(*pin).last = Some(*pulse);
        }
        Ask::Trip { mv: 0, .. } => state.bench.trip = None,
        Ask::Limp { pins } if pins.is_empty() => state.bench.all_limp(),
        Ask::Limp { pins } => {
            for pin in pins {
                state.bench.take(*pin, PinState::Limp, None, now.at);
            }
        }
        _ => {}
    }
}

fn was_done(state: &mut State, ask: &Ask, done: &Done, now: &Now) -> Vec<Effect> {
    let ms = |ms: u32| Duration::from_millis(u64::from(ms));
    let motion = match (ask, done) {
        (Ask::Wake { pin, .. }, _) => Some(Motion::Wake(*pin)),
        (Ask::Go { moves, .. }, Done::Move { ms: takes }) => {
            Some(Motion::Until(now.at + ms(*takes) + REST, moves.clone()))
        }
        (Ask::Peck { hold_ms, .. }, _) => {
            let until = now.at + ms(*hold_ms) + PECK_FRAMES + REST;
            Some(Motion::Peck(until))
        }
        _ => None,
    };
    if let (Some(motion), Some(guided)) = (motion, &mut state.guided) {
        guided.motion = Some(motion);
    }
    let mut effects = hear(state, &Heard::Done(ask.clone()), now);
    if let Done::Sense(sense) = done {
        let mv = |mv: u32| u16::try_from(mv).unwrap_or(u16::MAX);
        let inputs = sense.inputs.iter();
        let inputs = inputs
            .map(|(input, it)| (input.number(), mv(*it)))
            .collect();
        effects.extend(hear(state, &Heard::Sense(inputs), now));
    }
    effects
}

fn was_refused(state: &mut State, ask: &Ask, refusal: &Refusal, now: &Now) -> Vec<Effect> {
    let wished = match ask {
        Ask::Wake { pin, pulse } | Ask::Peck { pin, pulse, .. } => Some((*pin, *pulse)),
        Ask::Go { moves, .. } => moves.first().copied(),
        _ => None,
    };
    let reason = match notice::refused(state, refusal, wished) {
        Trouble::Refused { what, .. } => format!("Refused: {what}"),
        _ => format!("Refused: {refusal}."),
    };
    let ask = ask.clone();
    let mut effects = hear(state, &Heard::Refused { ask, reason }, now);
    effects.push(Effect::Bell(2));
    effects
}
