//! Leaving: first what is awake, then what is unsaved, never both at once.

use std::time::Duration;

use super::save::SaveAs;
use super::{Flow, Layer, Table, question};
use crate::console::actions;
use crate::console::command::{Command, ESC, Foot, HELP, SPACE, always};
use crate::console::effect::{Effect, Now};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::recording;
use crate::console::sit::{self, Then};
use crate::console::state::{Stands, State};
use crate::console::view;
use crate::procedure::counted;

/// Pins are awake: asks before they go limp.
#[derive(Debug)]
pub struct Awake;

/// Something recorded is not in a file: asks before it is lost.
#[derive(Debug)]
pub struct Unsaved;

const LEAVE: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "sit down if it can, limp, quit",
    foot: &[Foot::new("Enter", "limp and quit")],
    works: always,
};
const STAY: Command = Command {
    foot: &[Foot::new("Esc", "stay").keep()],
    help: "stay",
    ..ESC
};
const AWAKE: Table = &[&LEAVE, &STAY, &SPACE, &HELP];

const SAVE_AND_QUIT: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn), (Code::Char('s'), Intent::Save)],
    keys: "Enter s",
    help: "save, then quit",
    foot: &[Foot::new("Enter", "save and quit")],
    works: always,
};
const LOSE: Command = Command {
    binds: &[(Code::Char('n'), Intent::Discard)],
    keys: "n",
    help: "quit without saving",
    foot: &[Foot::new("n", "quit without saving")],
    works: always,
};
const UNSAVED: Table = &[&SAVE_AND_QUIT, &LOSE, &STAY, &SPACE, &HELP];

impl Awake {
    fn sits(state: &State) -> bool {
        state.stands == Stands::Ground && !sit::moves(state).is_empty()
    }
}

impl Layer for Awake {
    fn table(&self) -> Table {
        AWAKE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let n = state.bench.awake() + state.bench.waking();
        if state.stands == Stands::Ground {
            let how = if Awake::sits(state) {
                "It lifts all femurs slowly until the body rests. Hands away. Space stops."
            } else {
                "It cannot sit down by itself now: limp lets it fall. Hold the body first."
            };
            return (
                format!("{n} awake. Enter: sit down, limp, quit. Esc: stay."),
                how.into(),
            );
        }
        (
            format!("{n} awake. Enter: limp, quit. Esc: stay."),
            "Legs drop when their servos go limp.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::GoOn => {
                state.quitting = true;
                if Awake::sits(state) {
                    Flow::Close(actions::sit_down(state, Then::Limp, now))
                } else {
                    Flow::Close(actions::limp_all(state))
                }
            }
            Intent::Back => {
                state.quitting = false;
                Flow::Close(Vec::new())
            }
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, state: &State, _now: Duration) -> Option<view::Overlay> {
        let n = state.bench.awake() + state.bench.waking();
        let mut dialog = question(
            "Quit",
            vec![format!(
                "{} awake, limp before the console closes.",
                counted(n, "servo")
            )],
            &[("Enter", "limp, quit"), ("Esc", "stay")],
        );
        dialog.alarm = true;
        if Awake::sits(state) {
            dialog.answers[0].1 = "sit down, limp, quit".into();
        }
        Some(view::Overlay::Dialog(dialog))
    }
}

impl Layer for Unsaved {
    fn table(&self) -> Table {
        UNSAVED
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let things = things(state.work.unsaved());
        if state.work.is_durable() {
            return (
                format!("{things} not in the file yet. Enter: save, quit. n: quit. Esc: stay."),
                "The logbook has them: nothing is lost, the next time s saves them.".into(),
            );
        }
        if state.interrupted {
            return (
                format!("{things} not saved. Enter: save, quit. n: quit without. Esc: stay."),
                "Everything was told to stop. Ctrl-C again quits without saving.".into(),
            );
        }
        (
            format!("{things} not saved. Enter: save, quit. n: quit without. Esc: stay."),
            match state.work.last() {
                Some(last) => format!("The last one is {last}."),
                None => "Something was taken back since the last save.".into(),
            },
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::GoOn | Intent::Save => match recording::save(state) {
                // A name is asked first; the quitting goes on once it is saved.
                recording::SaveStep::AskName => {
                    state.quitting = true;
                    let name = SaveAs::new(state);
                    state.open(name);
                    Flow::Close(Vec::new())
                }
                recording::SaveStep::Go(effects) => {
                    state.quitting = true;
                    Flow::Close(effects)
                }
            },
            Intent::Discard => Flow::Close(vec![Effect::Quit]),
            Intent::Back => {
                state.quitting = false;
                Flow::Close(Vec::new())
            }
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn overlay(&self, state: &State, _now: Duration) -> Option<view::Overlay> {
        let mut dialog = question(
            "Unsaved",
            vec![format!(
                "{} {}",
                things(state.work.unsaved()),
                if state.work.is_durable() {
                    "in the logbook and not in the file yet."
                } else {
                    "recorded and in no file yet."
                }
            )],
            &[
                ("Enter", "save, quit"),
                ("n", "quit without saving"),
                ("Esc", "stay"),
            ],
        );
        dialog.alarm = true;
        Some(view::Overlay::Dialog(dialog))
    }
}

fn things(n: u32) -> String {
    match n {
        1 => "1 thing is".into(),
        n => format!("{n} things are"),
    }
}
