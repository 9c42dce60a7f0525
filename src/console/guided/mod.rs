//! Guided work in the console: one driver for every step machine of `procedure`.
//!
//! It performs what a machine wants done, one thing after the other, and feeds back what was heard: requests to the board,
//! entries for the logbook, bells, countdowns. The builder's keys become answers in [`keys`], what is worked on is chosen in [`task`].
//! It never decides what comes next and never moves a pin by itself: it does what the machine says, or drops it when something stops.

mod ask;
pub mod hands;
pub mod keys;
pub mod task;

use std::collections::{BTreeSet, VecDeque};
use std::time::Duration;

use crate::board::{PinState, Sight};
use crate::calibration::JointRef;
use crate::calibration::logbook::What;
use crate::procedure::{Answer, Detail, Do, Heard, Procedure, Reaction, Scope, Step};
use crate::units::{Pin, Pulse};

use self::keys::Desk;
use self::task::Task;
use super::actions;
use super::effect::{Effect, Now};
use super::layers::hands::Hands;
use super::pages::PageId;
use super::recording;
use super::state::State;

pub use self::ask::answered;

/// How long a servo is given to come to rest after its last pulse has changed.
const REST: Duration = Duration::from_millis(300);
/// The same after a wake: it may have come all the way round.
const WAKE_REST: Duration = Duration::from_millis(500);
/// A peck needs a frame to begin and one to go back, beside its stay.
const PECK_FRAMES: Duration = Duration::from_millis(80);

/// Guided work under way.
#[derive(Debug)]
pub struct Guided {
    /// What kind of work.
    pub task: Task,
    machine: Box<dyn Procedure>,
    /// The joint that was chosen before.
    came_from: JointRef,
    /// The page that it is left for.
    back_to: PageId,
    /// What is typed and lit on the present step.
    pub desk: Desk,
    /// What the machine wants done and was not begun yet.
    queue: VecDeque<Do>,
    held: Held,
    motion: Option<Motion>,
    /// What was to be seen when the last motion outward had ended; practice robot only.
    pub seen: Option<Sight>,
    /// When that motion began, in the robot's own seconds: what moved before is none of it.
    pub seen_from: f64,
    /// The same of the motion under way.
    pub motion_from: f64,
    /// What hands and eyes found at the joint: teeth and arms of its horn, the spare servos; practice robot only.
    pub hint: Option<String>,
    by_hand: hands::Pending,
    /// Counts up whenever what was under way is off: answers to requests of an earlier run are nobody's.
    run: u64,
    /// Every pin that the machine set a guard or a speed for: they get the file's when it is left.
    touched: BTreeSet<Pin>,
}

/// What the queue waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Held {
    No,
    /// A countdown.
    Count,
    /// So many entries on their way into the logbook.
    Record(u64),
}

/// A motion that has begun.
#[derive(Debug, Clone, PartialEq)]
enum Motion {
    /// Until the board says that it is awake.
    Wake(Pin),
    /// Until this moment, and until these pins are where they were sent.
    Until(Duration, Vec<(Pin, Pulse)>),
    /// A peck, until this moment.
    Peck(Duration),
}

impl Guided {
    /// What stands on the screen.
    pub fn step(&self) -> Step {
        self.machine.step()
    }
}

/// Begins guided work and opens its page.
pub fn open(state: &mut State, task: Task, scope: Scope, now: &Now) -> Vec<Effect> {
    let left = leave(state, now);
    let machine = task.machine(state, scope, now);
    [left, start(state, task, machine, now)].concat()
}

/// Begins the work of this machine.
pub fn start(state: &mut State, task: Task, machine: Box<dyn Procedure>, now: &Now) -> Vec<Effect> {
    super::motion::end(state);
    state.guided = Some(Guided {
        task,
        machine,
        came_from: state.chosen,
        back_to: match state.page {
            // What was woken is wanted where it was asked for.
            page @ (PageId::Jog | PageId::Foot | PageId::Body) if task == Task::Waking => page,
            _ => PageId::Home,
        },
        desk: Desk::default(),
        queue: VecDeque::new(),
        held: Held::No,
        motion: None,
        seen: None,
        seen_from: 0.0,
        motion_from: 0.0,
        hint: None,
        by_hand: hands::Pending::default(),
        run: 0,
        touched: BTreeSet::new(),
    });
    state.page = PageId::Work(task);
    with_machine(state, now, |machine, ms| machine.begin(ms))
}

/// Leaves guided work, if there is any: what it woke goes limp, what it recorded stays.
pub fn leave(state: &mut State, now: &Now) -> Vec<Effect> {
    // A countdown under way must not hold the leaving up.
    drop_rest(state);
    let effects = answer(state, &Answer::Leave, now);
    // A machine that was over already has nothing to say any more.
    [effects, close(state, now)].concat()
}

/// The builder answered.
pub fn answer(state: &mut State, answer: &Answer, now: &Now) -> Vec<Effect> {
    let hands = hands::before(state, answer);
    let effects = with_machine(state, now, |machine, ms| machine.answer(answer, ms));
    [hands, effects].concat()
}

/// Tells the machine something, and does what it wants then.
fn hear(state: &mut State, heard: &Heard, now: &Now) -> Vec<Effect> {
    with_machine(state, now, |machine, ms| machine.heard(heard, ms))
}

fn with_machine(
    state: &mut State,
    now: &Now,
    act: impl FnOnce(&mut dyn Procedure, u64) -> Vec<Do>,
) -> Vec<Effect> {
    let Some(guided) = &mut state.guided else {
        return Vec::new();
    };
    let wanted = act(guided.machine.as_mut(), now.at.as_millis() as u64);
    guided.queue.extend(wanted);
    let mut effects = perform(state, now);
    settle_desk(state);
    effects.extend(hands::look(state));
    effects
}

/// What was typed and lit belongs to one step alone; the joint that the step is about is the chosen one.
fn settle_desk(state: &mut State) {
    let Some(guided) = &mut state.guided else {
        return;
    };
    let step = guided.machine.step();
    guided.desk.settle(&step);
    hands::offer_spare(guided);
    // On Plugs the chosen joint is the one that the builder's keys are about to name.
    if let (Some(at), true) = (step.picture.joint, guided.task != Task::Plugs) {
        state.chosen = at;
    }
}

/// What is in the box of spare servos was looked at: one of them is offered where a number is asked for.
pub fn offer_spare(state: &mut State) {
    if let Some(guided) = &mut state.guided {
        hands::offer_spare(guided);
    }
}

/// Does what is wanted, in order, until something has to be waited for.
fn perform(state: &mut State, now: &Now) -> Vec<Effect> {
    let mut effects = Vec::new();
    while let Some(guided) = &mut state.guided {
        if guided.held != Held::No {
            break;
        }
        match guided.queue.pop_front() {
            None => break,
            Some(Do::Ask(ask)) => effects.extend(ask::send(state, &ask, now)),
            Some(Do::Bell) => effects.push(Effect::Bell(1)),
            Some(Do::Count(seconds)) => {
                guided.held = Held::Count;
                let layer = Hands::new(seconds, guided.queue.iter(), now.at);
                state.open(layer);
            }
            Some(Do::Record(what)) => {
                let mut whats = vec![what];
                while matches!(guided.queue.front(), Some(Do::Record(_))) {
                    if let Some(Do::Record(what)) = guided.queue.pop_front() {
                        whats.push(what);
                    }
                }
                effects.extend(record(state, whats, now));
            }
            Some(Do::Undo) => {
                // One turn's entries were recorded together and are taken back together.
                while guided.queue.front() == Some(&Do::Undo) {
                    guided.queue.pop_front();
                }
                guided.held = Held::Record(0);
                guided.by_hand.takes_back(state.work.last_whats());
                effects.extend(recording::undo_guided(state, now));
            }
            Some(Do::Left) => {
                effects.extend(close(state, now));
                break;
            }
        }
    }
    effects
}

fn record(state: &mut State, whats: Vec<What>, now: &Now) -> Vec<Effect> {
    let at = match &mut state.guided {
        Some(guided) => {
            guided.held = Held::Record(whats.len() as u64);
            guided.step().picture.joint.unwrap_or(state.chosen)
        }
        None => state.chosen,
    };
    hands::decided(state, &whats);
    recording::record_guided(state, at, whats, now)
}

/// The logbook has it, or why not.
pub fn recorded(state: &mut State, result: Result<(), String>, now: &Now) -> Vec<Effect> {
    let last = state.work.entries().last().map_or(0, |entry| entry.n);
    let Some(guided) = &mut state.guided else {
        return Vec::new();
    };
    let Held::Record(count) = guided.held else {
        return Vec::new();
    };
    if let Err(why) = result {
        guided.held = Held::No;
        guided.queue.clear();
        guided.by_hand.takes_back(Vec::new());
        let (what, _) = recording::two_lines(&why);
        return hear(state, &Heard::NotRecorded(what), now);
    }
    // Still held: what the machine wants now comes after the rest of the batch.
    let mut effects = Vec::new();
    for k in (0..count).rev() {
        effects.extend(hear(state, &Heard::Recorded(last.saturating_sub(k)), now));
    }
    if let Some(guided) = &mut state.guided {
        guided.held = Held::No;
    }
    hands::taken_back(state);
    effects.extend(hands::recorded(state));
    effects.extend(perform(state, now));
    settle_desk(state);
    effects
}

/// Whether a motion is under way: what there is to see at its end is what the builder is asked about.
pub fn moves(state: &State) -> bool {
    state.guided.as_ref().is_some_and(|it| it.motion.is_some())
}

/// What the time alone brings: the end of a motion, a minute that has gone by.
pub fn tick(state: &mut State, now: &Now) -> Vec<Effect> {
    let Some(guided) = &mut state.guided else {
        return Vec::new();
    };
    if let Some(Motion::Wake(pin)) = guided.motion
        && state.bench.plug(pin).state == PinState::Awake
    {
        guided.motion = Some(Motion::Until(now.at + WAKE_REST, Vec::new()));
    }
    let there = |(pin, pulse): &(Pin, Pulse)| state.bench.plug(*pin).pulse == Some(*pulse);
    let (over, outward) = match &guided.motion {
        Some(Motion::Until(until, moves)) => (
            now.at >= *until && moves.iter().all(there),
            // A nudge comes back to the centre: what is to be seen is the way out. What was seen of a peck
            // is asked about after the joint has gone back inward.
            guided.task == Task::Plugs && moves.iter().any(|(_, pulse)| *pulse != Pulse::CENTRE),
        ),
        Some(Motion::Peck(until)) => (now.at >= *until, true),
        _ => (false, false),
    };
    if over {
        guided.motion = None;
        if outward {
            guided.seen = state.bench.sight.clone();
            guided.seen_from = guided.motion_from;
        }
        return hear(state, &Heard::Settled, now);
    }
    if guided.held != Held::No {
        return Vec::new();
    }
    with_machine(state, now, |machine, ms| machine.poll(ms))
}

/// When [`tick`] wants to be called next.
pub fn due(state: &State, now: Duration) -> Option<Duration> {
    let guided = state.guided.as_ref()?;
    Some(match &guided.motion {
        Some(Motion::Until(until, _) | Motion::Peck(until)) if *until > now => *until,
        Some(_) => now + Duration::from_millis(20),
        None => now + Duration::from_millis(250),
    })
}

/// Hands had their time: the rest of the batch goes on.
pub fn counted(state: &mut State, now: &Now) -> Vec<Effect> {
    if let Some(guided) = &mut state.guided
        && guided.held == Held::Count
    {
        guided.held = Held::No;
    }
    let effects = perform(state, now);
    settle_desk(state);
    effects
}

/// Drops what was not begun: Esc ended a countdown, or something else ended all motion. The machine is told if there was anything.
pub fn drop_rest(state: &mut State) {
    if let Some(guided) = &mut state.guided
        && (guided.held == Held::Count || !guided.queue.is_empty())
    {
        tell(state, &Heard::CalledOff);
    }
}

/// Everything stopped: the machine is told at once, and what it had asked for is nobody's any more.
pub fn stopped(state: &mut State, heard: &Heard) {
    if let Some(guided) = &mut state.guided {
        guided.motion = None;
        guided.run += 1;
    }
    tell(state, heard);
}

/// The board takes requests again: the machine's line is no longer about a freeze.
pub fn thawed(state: &mut State) {
    tell(state, &Heard::Thawed);
}

fn tell(state: &mut State, heard: &Heard) {
    let Some(guided) = &mut state.guided else {
        return;
    };
    guided.queue.clear();
    if guided.held == Held::Count {
        guided.held = Held::No;
    }
    // A machine that was stopped waits for the builder; what it may still want is done at the next tick.
    let wanted = guided.machine.heard(heard, 0);
    guided.queue.extend(wanted);
    settle_desk(state);
}

/// The board's own trip made pins limp: that may be the answer that was looked for.
pub fn tripped(state: &mut State, now: &Now) -> Vec<Effect> {
    if let Some(guided) = &mut state.guided {
        guided.queue.clear();
        guided.motion = None;
        guided.run += 1;
    }
    hear(state, &Heard::Tripped, now)
}

/// Whether a wake of this pin is under way for a machine, which rings by itself.
pub fn wakes(state: &State, pin: Pin) -> bool {
    let guided = state.guided.as_ref();
    guided.is_some_and(|it| it.motion == Some(Motion::Wake(pin)))
}

/// The machine is left: its page closes, and the board gets the guards of the file again.
fn close(state: &mut State, now: &Now) -> Vec<Effect> {
    let Some(guided) = state.guided.take() else {
        return Vec::new();
    };
    state.layers.retain(|layer| !layer.leads_to_motion());
    if let PageId::Work(_) = state.page {
        state.page = guided.back_to;
    }
    if guided.task == Task::Plugs {
        state.chosen = guided.came_from;
    }
    if let Detail::Plugs { rows, .. } = guided.step().picture.detail {
        let left = rows.iter().filter(|row| row.found == Reaction::Unknown);
        state.pins_left = left.map(|row| row.pin).collect();
    }
    let robot = state.work.robot();
    let of_pin = |pin: &Pin| robot.joint_of_pin(*pin);
    let joints: Vec<JointRef> = guided.touched.iter().filter_map(of_pin).collect();
    let mut effects = Vec::new();
    for at in joints {
        // What stays awake may stand outside the file's guard: then it waits until it is inside.
        state.guards_due.push(at);
        effects.extend(actions::slew_of(state, at, now));
    }
    effects.extend(actions::guards_due(state, now));
    effects.extend(actions::trip_due(state, now));
    effects
}
