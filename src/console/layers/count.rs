//! The countdown 3 2 1 before several joints wake. Enter does not shorten it; Esc or Space ends it.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::console::actions;
use crate::console::command::{Command, ESC, Foot, HELP_F1, SPACE_SHOWN, TURN_GROUND_BIG, always};
use crate::console::effect::{Effect, Now};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::notice::seconds_left;
use crate::console::state::State;
use crate::console::view;
use crate::procedure::{counted, sum_when_awake};
use crate::units::{Pin, Pulse};

/// How long hands have to leave the robot.
pub const COUNT: Duration = Duration::from_secs(3);

/// Seconds until something moves, as every countdown shows them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Countdown {
    until: Duration,
}

impl Countdown {
    pub(super) fn new(time: Duration, now: Duration) -> Countdown {
        Countdown { until: now + time }
    }

    pub(super) fn left(self, now: Duration) -> u64 {
        seconds_left(self.until, now)
    }

    pub(super) fn is_over(self, now: Duration) -> bool {
        now >= self.until
    }

    /// Once a second, when the number changes.
    pub(super) fn due(self, now: Duration) -> Duration {
        let left = self.left(now).saturating_sub(1);
        self.until.saturating_sub(Duration::from_secs(left))
    }

    pub(super) fn line(self, now: Duration) -> String {
        format!(
            "{} until it moves",
            counted(self.left(now) as usize, "second")
        )
    }

    pub(super) fn big_number(self, now: Duration) -> view::BigBlock {
        view::BigBlock {
            text: self.left(now).to_string(),
            beside: vec!["seconds until it moves".into()],
        }
    }
}

/// Counts down, then wakes pins one at a time.
#[derive(Debug)]
pub struct Count {
    count: Countdown,
    whose: String,
    wakes: Vec<(Pin, Pulse)>,
}

pub(super) const NOT_NOW: Command = Command {
    foot: &[Foot::new("Esc", "not now")],
    help: "end the count; nothing wakes",
    ..ESC
};
pub(super) const NO_SHORTCUT: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "does not shorten the count",
    foot: &[],
    works: always,
};
pub(super) const PICTURES: Command = Command {
    binds: &[(Code::Char('B'), Intent::Big)],
    keys: "B",
    foot: &[Foot::new("B", "pictures")],
    help: "big view, pictures",
    ..TURN_GROUND_BIG
};
const TABLE: Table = &[&SPACE_SHOWN, &NOT_NOW, &NO_SHORTCUT, &PICTURES, &HELP_F1];

/// What so many more servos may draw with those that are awake, if that is more than a few.
pub(super) fn sum(state: &State, more: usize) -> Vec<String> {
    let before = state.bench.awake() + state.bench.waking();
    sum_when_awake(state.work.known(), before + more)
}

impl Count {
    /// Counts down before these pins of `whose` wake.
    pub fn new(whose: String, wakes: Vec<(Pin, Pulse)>, now: Duration) -> Count {
        Count {
            count: Countdown::new(COUNT, now),
            whose,
            wakes,
        }
    }
}

impl Layer for Count {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, _state: &State, now: Duration) -> (String, String) {
        (
            format!(
                "Hands away. {} wakes in {} s, one joint at a time.",
                self.whose,
                self.count.left(now)
            ),
            "Each jumps to its pulse at full speed. Space stops. Esc stops the count.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::Back => Flow::Close(Vec::new()),
            Intent::Big => {
                state.big = !state.big;
                Flow::Stay(Vec::new())
            }
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn tick(&mut self, state: &mut State, now: &Now) -> Flow {
        if !self.count.is_over(now.at) {
            return Flow::Stay(Vec::new());
        }
        let effects: Vec<Effect> = actions::wake_all(state, std::mem::take(&mut self.wakes), now);
        Flow::Close(effects)
    }

    fn due(&self, now: Duration) -> Option<Duration> {
        Some(self.count.due(now))
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, state: &State, now: Duration) -> Option<view::Overlay> {
        if state.big {
            return None;
        }
        let mut lines = vec![self.count.line(now)];
        lines.extend(self.wakes.iter().map(|(pin, pulse)| {
            let whose = match state.work.robot().joint_of_pin(*pin) {
                Some(at) => state.work.robot().title(at),
                None => "no joint".into(),
            };
            format!("{whose}, pin {pin}: {pulse} µs")
        }));
        let sum = sum(state, self.wakes.len());
        // More than a box holds: a robot of eighteen joints.
        let room = 10 - sum.len().min(6);
        if lines.len() > room {
            let rest = lines.len() + 1 - room;
            lines.truncate(room - 1);
            lines.push(format!("and {rest} more"));
        }
        lines.extend(sum);
        Some(view::Overlay::Dialog(question(
            &format!("Wake {}", self.whose),
            lines,
            &[("Space", "stop"), ("Esc", "not now")],
        )))
    }

    fn big_words(&self) -> &'static str {
        "HANDS AWAY"
    }

    fn big_number(&self, _state: &State, now: Duration) -> Option<view::BigBlock> {
        Some(self.count.big_number(now))
    }
}
