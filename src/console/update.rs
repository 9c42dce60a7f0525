//! The only writer of the state: keys, the link's events and the time come in, effects go out.
//!
//! Pure: no I/O, no clock. Space is looked for before anything else, whatever lies on top.

use std::time::Duration;

use crate::board::{PinState, Stop};
use crate::units::Pin;

use super::actions;
use super::command::{intent_of, reason_against};
use super::effect::{Effect, FileSaid, Input, Now};
use super::guided;
use super::intent::{Intent, Side};
use super::keys::{Code, Key};
use super::layers::end::End;
use super::layers::ground::Ground;
use super::layers::help::Help;
use super::layers::limp::LetGo;
use super::layers::mark::Mark;
use super::layers::pages::Pages;
use super::layers::save::{Overwrite, SaveAs};
use super::layers::value::{Value, degrees_known};
use super::layers::wake::Wake;
use super::layers::widen::Widen;
use super::layers::{Flow, Layer, Table};
use super::link;
use super::measure::{path_shown, widened};
use super::notice::{self, Trouble, seconds_left};
use super::recording;
use super::sit::Then;
use super::state::{Asked, Front, Stands, State, Unit};
use super::view;

/// Without a key for so long while pins are awake, the console asks whether anybody is there.
pub const NOBODY_AFTER: Duration = Duration::from_secs(180);
/// How long it waits for an answer before the rest pose.
pub const NOBODY_ASKS: Duration = Duration::from_secs(30);

/// Takes one input and says what is to be done.
pub fn update(state: &mut State, input: Input, now: &Now) -> Vec<Effect> {
    let mut effects = match input {
        Input::Key(key) => on_key(state, key, now),
        Input::Size(columns, rows) => {
            state.size = (columns, rows);
            Vec::new()
        }
        Input::Board(event) => link::event(state, event, now),
        Input::Asked(id, fate) => link::asked(state, id, fate, now),
        Input::Ports(ports) => {
            state.first.ports_seen(ports, now.at);
            Vec::new()
        }
        Input::Recorded(result) => recording::recorded(state, result, now),
        Input::ByHand(Ok(seen)) => {
            if let (Some(seen), Some(guided)) = (seen, &mut state.guided) {
                guided.hint = Some(seen);
            }
            guided::offer_spare(state);
            Vec::new()
        }
        Input::ByHand(Err(why)) => {
            let (what, mut remedy) = recording::two_lines(&format!("By hand: {why}"));
            if remedy.is_empty() {
                remedy = "Enter puts this away: the question stands behind it. Space stops.".into();
            }
            vec![actions::trouble(state, Trouble::Told { what, remedy })]
        }
        Input::File(said) => file_said(state, said, now),
        Input::Sight(sight) => {
            state.bench.look(sight, now.at);
            Vec::new()
        }
        Input::Tick => Vec::new(),
    };
    effects.extend(tick(state, now));
    state.page().look(state);
    state.interrupted &= !state.layers.is_empty();
    effects
}

/// When [`update`] wants to be called again although nothing happened: a number on the screen changes, or something is due.
pub fn due(state: &State, now: Duration) -> Option<Duration> {
    let mut due: Vec<Duration> = Vec::new();
    let next_second = Duration::from_secs(now.as_secs() + 1);
    due.extend(state.layers.iter().filter_map(|layer| layer.due(now)));
    due.extend(state.sitting.map(|s| s.until));
    due.extend(state.bench.noticed.iter().map(|(_, until)| *until));
    due.extend(super::motion::due(state));
    due.extend(guided::due(state, now));
    due.extend(
        state
            .queue
            .as_ref()
            .map(|q| q.not_before.max(now + Duration::from_millis(20))),
    );
    if state.bench.awake() > 0 {
        // Seconds awake, and the nobody-there timer behind it.
        due.push(next_second);
    }
    if !state.pending.is_empty() {
        // After 300 ms the line says what is waited for.
        due.push(now + Duration::from_millis(100));
    }
    let counts = matches!(state.bench.link, super::bench::LinkState::Lost(_))
        || state
            .troubles
            .iter()
            .any(|t| matches!(t, Trouble::Nobody { .. } | Trouble::Frozen { .. }))
        || state.page == super::pages::PageId::First;
    if counts {
        due.push(next_second);
    }
    due.into_iter().min()
}

fn on_key(state: &mut State, key: Key, now: &Now) -> Vec<Effect> {
    state.last_key = now.at;
    match key.code {
        Code::Char(' ') => {
            drop_nobody(state);
            return actions::stop(state, "Space", key.repeat);
        }
        Code::Ctrl('c') => return actions::interrupt(state),
        Code::Ctrl('z') => return actions::suspend(state),
        Code::Ctrl(_) => return Vec::new(),
        _ => {}
    }
    // What cannot be seen is not answered: a terminal that is too small takes no key but q and what stops.
    let (columns, rows) = state.size;
    let is_blind = columns < view::frame::SMALLEST.0 || rows < view::frame::SMALLEST.1;
    if is_blind && key.code != Code::Char('q') {
        return Vec::new();
    }
    // Any key answers "still there?", and does nothing else.
    if drop_nobody(state) {
        return Vec::new();
    }
    // What was said and names no Enter is only put away by it: Enter does exactly what the line says.
    let put_away = state
        .said
        .take()
        .is_some_and(|(first, second)| ![first, second].iter().any(|line| line.contains("Enter")));
    let front = state.front();
    let table = table_on_top(state);
    // A field takes its characters before any command: digits type only there.
    if let (Code::Char(c), Some(top)) = (key.code, state.layers.last())
        && top.takes(c)
    {
        return on_top(state, Intent::Put(c), now);
    }
    if let Code::Char(c) = key.code
        && state.layers.is_empty()
        && state.troubles.is_empty()
        && state.page().takes(state, c)
    {
        return state.page().act(Intent::Put(c), state, now);
    }
    // Help and quit work everywhere but where the character is typed.
    let everywhere = match key.code {
        Code::Char('?') => Some(Intent::Help),
        Code::Char('q') => Some(Intent::Quit),
        _ => None,
    };
    let Some(intent) = intent_of(table, key.code).or(everywhere) else {
        return Vec::new();
    };
    // While it sits down, or joints jump one after the other, the line names no Enter.
    let by_itself = state.sitting.is_some() || state.still_wake().next().is_some();
    if intent == Intent::GoOn && by_itself && front == Front::Page {
        return Vec::new();
    }
    if put_away && (intent == Intent::GoOn || (intent == Intent::Back && front == Front::Trouble)) {
        return Vec::new();
    }
    // What went wrong is answered first: it is what the next line says.
    if front == Front::Trouble
        && let Some(effects) = answer_trouble(state, intent, now)
    {
        return effects;
    }
    if let Some(why) = reason_against(table, intent, state) {
        actions::say(state, format!("Not now: {why}."), "");
        return Vec::new();
    }
    match intent {
        Intent::Help if !is_help(state) => {
            let help = Help::about(state);
            state.open(help);
            Vec::new()
        }
        Intent::Quit => {
            // Help and lists close; what was being typed or asked is left.
            state.layers.clear();
            state.quitting = false;
            actions::quit_next(state)
        }
        _ if !state.layers.is_empty() => on_top(state, intent, now),
        _ => on_page(state, intent, now),
    }
}

/// The table that the keys are looked up in now.
pub fn table_on_top(state: &State) -> Table {
    match state.top() {
        Some(layer) => layer.table(),
        None => state.page().table_now(state),
    }
}

fn is_help(state: &State) -> bool {
    state.top().is_some_and(|layer| layer.big_words() == "HELP")
}

fn drop_nobody(state: &mut State) -> bool {
    let before = state.troubles.len();
    state
        .troubles
        .retain(|t| !matches!(t, Trouble::Nobody { .. }));
    state.troubles.len() < before
}

/// Enter and Esc go to what went wrong, if anything did.
fn answer_trouble(state: &mut State, intent: Intent, now: &Now) -> Option<Vec<Effect>> {
    if !matches!(intent, Intent::GoOn | Intent::Back) {
        return None;
    }
    let (index, trouble) = notice::shown(&state.troubles)?;
    let enter = intent == Intent::GoOn;
    match trouble {
        Trouble::Frozen { .. } if enter => {
            state.troubles.remove(index);
            return Some(actions::thaw(state, now));
        }
        Trouble::Reset {
            restored: false, ..
        } if enter => return Some(Vec::new()),
        // It goes limp only after it froze: thawing comes first, and the next Enter wakes.
        Trouble::WentLimp { .. } if enter && state.bench.frozen.is_some() => {
            return Some(actions::thaw(state, now));
        }
        Trouble::Reset { .. } | Trouble::WentLimp { .. } => {
            state.troubles.remove(index);
            state.bench.reset = false;
            if enter && state.bench.frozen.is_none() {
                return Some(actions::wake_again(state, now));
            }
        }
        _ => {
            state.troubles.remove(index);
        }
    }
    Some(Vec::new())
}

/// Gives an intent to the layer on top.
fn on_top(state: &mut State, intent: Intent, now: &Now) -> Vec<Effect> {
    let Some(mut layer) = state.layers.pop() else {
        return Vec::new();
    };
    let index = state.layers.len();
    let flow = layer.act(intent, state, now);
    put_back(state, layer, index, flow)
}

fn put_back(state: &mut State, layer: Box<dyn Layer>, index: usize, flow: Flow) -> Vec<Effect> {
    match flow {
        Flow::Stay(effects) => {
            let index = index.min(state.layers.len());
            state.layers.insert(index, layer);
            effects
        }
        Flow::Close(effects) => effects,
    }
}

/// What all pages have in common; the rest is the page's own.
fn on_page(state: &mut State, intent: Intent, now: &Now) -> Vec<Effect> {
    if let Intent::Type | Intent::Wake | Intent::WakeLeg | Intent::Widen(_) = intent {
        // A refusal is about one attempt: the next attempt ends it, else it would take the field's Enter.
        state
            .troubles
            .retain(|t| !matches!(t, Trouble::Refused { .. }));
    }
    let answers = state.page().answers() && state.bench.frozen.is_none();
    match intent {
        // On the pages of guided work these are answers to a question.
        Intent::Leg(_) | Intent::Joint(_) | Intent::Undo | Intent::End | Intent::GoOn
            if answers =>
        {
            state.page().act(intent, state, now)
        }
        Intent::Pages => push(state, Pages::new),
        Intent::Ground => push(state, Ground::new),
        Intent::Big => {
            state.big = !state.big;
            Vec::new()
        }
        Intent::Turn => {
            let legs = state.work.robot().legs.len();
            state.turn = (state.turn + super::places::turn_step(legs)) % 4;
            Vec::new()
        }
        Intent::Save => recording::save_or_ask(state),
        Intent::SaveAs => push(state, SaveAs::new),
        // Behind its back the machine would go on from what no longer counts.
        Intent::Undo if state.page().answers() => {
            let why = "Not taken back: it is frozen. Enter thaws, which moves nothing.";
            actions::say(state, why, "Then Backspace again. Space stops.");
            Vec::new()
        }
        Intent::Undo => recording::undo(state, now),
        Intent::Freeze => actions::freeze(state),
        Intent::SitDown => actions::sit_down(state, Then::Stay, now),
        Intent::Leg(letter) => {
            let letters = state.letters();
            match letters.iter().position(|l| *l == letter) {
                Some(leg) => state.chosen.leg = leg,
                None => actions::say(
                    state,
                    format!("No leg stands at {letter} in the picture."),
                    "",
                ),
            }
            Vec::new()
        }
        Intent::Joint(kind) => {
            state.chosen.kind = kind;
            Vec::new()
        }
        Intent::GoOn if state.bench.frozen.is_some() => actions::thaw(state, now),
        Intent::Wake => wake(state),
        Intent::WakeLeg => actions::wake_leg(state, now),
        Intent::Limp => {
            let pins = state.pin().into_iter().collect();
            limp(state, state.title(), pins, now)
        }
        Intent::LimpLeg => {
            let leg = state.work.robot().legs.get(state.chosen.leg);
            let whose = leg.map_or_else(String::new, |leg| leg.name.clone());
            let pins = state.pins_of_leg().into_iter().map(|(_, pin)| pin);
            limp(state, whose, pins.collect(), now)
        }
        Intent::Type if state.page().jogs() => push(state, |_| Value::empty()),
        Intent::Mark => with_pulse(state, Mark::new),
        Intent::End => with_pulse(state, End::new),
        Intent::Widen(side) => widen(state, side),
        Intent::Next if state.page().jogs() => or_say(state, |state| {
            degrees_known(state)?;
            state.steps.unit = match state.steps.unit {
                Unit::Us => Unit::Degrees,
                Unit::Degrees => Unit::Us,
            };
            Ok(())
        }),
        _ => state.page().act(intent, state, now),
    }
}

fn push<L: Layer + 'static>(state: &mut State, make: impl FnOnce(&State) -> L) -> Vec<Effect> {
    let layer = make(state);
    state.open(layer);
    Vec::new()
}

fn or_say(state: &mut State, act: impl FnOnce(&mut State) -> Result<(), String>) -> Vec<Effect> {
    if let Err(why) = act(state) {
        actions::say(state, format!("Not now: {why}."), "");
    }
    Vec::new()
}

/// Opens the question before the chosen joint wakes.
pub fn wake(state: &mut State) -> Vec<Effect> {
    or_say(state, |state| {
        let pin = state.pin_or_why()?;
        state.may_move()?;
        if state.bench.plug(pin).state != PinState::Limp {
            return Err(format!("pin {pin} is awake already"));
        }
        let layer = Wake::new(state, pin);
        state.open(layer);
        Ok(())
    })
}

/// Lets pins go; on the ground it asks first where one of them may carry.
fn limp(state: &mut State, whose: String, pins: Vec<Pin>, now: &Now) -> Vec<Effect> {
    let holds = |pin: &Pin| state.bench.plug(*pin).state != PinState::Limp;
    if state.stands == Stands::Ground && pins.iter().any(holds) {
        return push(state, |_| LetGo::new(whose, pins));
    }
    if pins.is_empty() {
        return Vec::new();
    }
    actions::limp(state, pins, now)
}

fn with_pulse<L: Layer + 'static>(
    state: &mut State,
    make: impl FnOnce(&State, crate::units::Pulse) -> L,
) -> Vec<Effect> {
    or_say(state, |state| {
        let pin = state.pin_or_why()?;
        let plug = state.bench.plug(pin);
        let pulse = plug.pulse.ok_or("it is limp: w wakes it")?;
        if plug.target.is_some_and(|target| target != pulse) {
            return Err("it still moves: wait until it has arrived".into());
        }
        let layer = make(state, pulse);
        state.open(layer);
        Ok(())
    })
}

fn widen(state: &mut State, side: Side) -> Vec<Effect> {
    or_say(state, |state| {
        let pin = state.may_jog()?;
        let pulse = state
            .bench
            .plug(pin)
            .pulse
            .ok_or("it is limp: w wakes it")?;
        let joint = state.joint().ok_or("there is no such joint")?;
        let guard = widened(joint, side, pulse)?;
        let layer = Widen::new(state, side, guard);
        state.open(layer);
        Ok(())
    })
}

fn file_said(state: &mut State, said: FileSaid, now: &Now) -> Vec<Effect> {
    let name = path_shown;
    match said {
        FileSaid::Saved(path) => {
            state.work.was_saved(now.clock.clone());
            actions::say(state, format!("Saved: {}.", name(&path)), "");
            if state.quitting && state.layers.is_empty() {
                state.quitting = false;
                return actions::quit_next(state);
            }
            Vec::new()
        }
        FileSaid::Exists(path) => push(state, |_| Overwrite::new(path)),
        FileSaid::ChangedOnDisk(path) => {
            let why = format!(
                "{} was changed by somebody else and is left alone.",
                name(&path)
            );
            push(state, |state| SaveAs::because(state, why));
            vec![Effect::Bell(2)]
        }
        FileSaid::Held(path) => {
            let why = format!("Another console holds {}.", name(&path));
            push(state, |state| SaveAs::because(state, why));
            vec![Effect::Bell(2)]
        }
        FileSaid::Example => {
            push(state, SaveAs::new);
            vec![Effect::Bell(2)]
        }
        FileSaid::Failed(text) => {
            state.quitting = false;
            let mut lines = text.lines();
            let first = lines.next().unwrap_or_default().to_owned();
            let (what, remedy) = match first.split_once(". ") {
                Some((what, remedy)) => (format!("{what}."), remedy.to_owned()),
                None => (
                    first.clone(),
                    lines.next().unwrap_or_default().trim().to_owned(),
                ),
            };
            vec![actions::trouble(state, Trouble::Told { what, remedy })]
        }
    }
}

/// What the time alone brings.
fn tick(state: &mut State, now: &Now) -> Vec<Effect> {
    let mut effects = Vec::new();
    // A layer may close itself; those above and below stay.
    for index in (0..state.layers.len()).rev() {
        if index >= state.layers.len() {
            continue;
        }
        let mut layer = state.layers.remove(index);
        let flow = layer.tick(state, now);
        effects.extend(put_back(state, layer, index, flow));
    }
    state.bench.noticed.take_if(|(_, until)| now.at >= *until);
    if state.queue.is_some() {
        effects.extend(actions::next_wake(state, now));
    }
    effects.extend(super::motion::tick(state, now));
    effects.extend(guided::tick(state, now));
    effects.extend(actions::guards_due(state, now));
    effects.extend(actions::trip_due(state, now));
    if let Some(sitting) = state.sitting
        && now.at >= sitting.until
    {
        state.sitting = None;
        match sitting.then {
            Then::Limp => {
                let quitting = state.quitting;
                effects.extend(actions::limp_all(state));
                state.quitting = quitting;
            }
            Then::Stay => {
                actions::say(
                    state,
                    "It has sat down. The servos still hold the legs where they are.",
                    match state.stands {
                        Stands::Ground => {
                            "Hands away, then Space twice: all limp. p freezes it as it is."
                        }
                        _ => "Space: all limp, the legs drop. p freezes it as it is.",
                    },
                );
                effects.push(Effect::Bell(1));
            }
        }
    }
    effects.extend(nobody_there(state, now));
    if state.page == super::pages::PageId::First && state.first.look_due(now.at) {
        effects.push(Effect::LookForPorts);
    }
    effects
}

fn nobody_there(state: &mut State, now: &Now) -> Vec<Effect> {
    if state.bench.awake() == 0 || state.linked().is_err() {
        drop_nobody(state);
        return Vec::new();
    }
    let mut effects = Vec::new();
    let mut over = false;
    for trouble in &mut state.troubles {
        if let Trouble::Nobody { until, rung } = trouble {
            let left = seconds_left(*until, now.at);
            if let Some(bell) = [10, 5].into_iter().find(|s| left <= *s && *rung > *s) {
                *rung = bell;
                effects.push(Effect::Bell(1));
            }
            over = left == 0;
        }
    }
    if over {
        drop_nobody(state);
        state.last_key = now.at;
        effects.extend(if state.bench.frozen.is_some() {
            vec![Effect::Stop(Stop::Limp)]
        } else {
            actions::sit_down(state, Then::Limp, now)
        });
        actions::say(
            state,
            "No key was pressed for three and a half minutes: all goes limp.",
            "Any key puts this line away. Space stops.",
        );
        return effects;
    }
    let asked = state
        .troubles
        .iter()
        .any(|t| matches!(t, Trouble::Nobody { .. }));
    if !asked && state.sitting.is_none() && now.at >= state.last_key + NOBODY_AFTER {
        let until = now.at + NOBODY_ASKS;
        notice::add(&mut state.troubles, Trouble::Nobody { until, rung: 30 });
        effects.push(Effect::Bell(1));
    }
    effects
}

/// What the board is waited for, once it takes longer than 300 ms.
pub fn waiting_for(state: &State, now: Duration) -> Option<String> {
    state
        .pending
        .values()
        .filter(|(asked, since)| {
            *asked != Asked::Quiet && now.saturating_sub(*since) > Duration::from_millis(300)
        })
        .min_by_key(|(_, since)| *since)
        .map(|(asked, _)| link::what_was_asked(asked))
}
