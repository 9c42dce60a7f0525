//! What the builder's hands do between two steps, done to the practice robot: it has no other hands.
//!
//! On a real board nothing here happens. What is done follows from what was recorded or answered; nothing here decides.

use crate::board;
use crate::calibration::logbook::{JointName, Tool, What};
use crate::console::effect::{ByHand, Effect};
use crate::console::state::State;
use crate::procedure::Answer;

use super::Guided;
use super::task::Task;

/// What is to be done by hand.
#[derive(Debug, Default)]
pub struct Pending {
    /// As soon as it is recorded.
    now: Vec<ByHand>,
    /// With the Enter that says that it is done.
    at_enter: Vec<ByHand>,
    /// The number that was typed last.
    number: Option<String>,
    /// The numbers that were plugged in already.
    tried: Vec<String>,
    /// What was looked at last.
    looked: Option<ByHand>,
}

/// These entries are about to be recorded.
pub(super) fn decided(state: &mut State, whats: &[What]) {
    let practice = state.practice();
    let Some(guided) = state.guided.as_mut().filter(|_| practice) else {
        return;
    };
    guided.by_hand.now.clear();
    for what in whats {
        match what {
            What::Placing { joints, tool, .. } => {
                guided
                    .by_hand
                    .now
                    .extend(joints.first().map(|it| gauge(it, *tool)));
            }
            What::PlugsExchanged { pins } => {
                let act = ByHand::SwapPlugs(pins.0.0, pins.1.0);
                guided.by_hand.now.push(act);
            }
            What::ServoReplaced { joint, servo } => {
                guided.by_hand.now.push(ByHand::ExchangeServo {
                    leg: joint.leg.clone(),
                    joint: joint.kind.word(),
                    servo: servo.clone(),
                });
            }
            What::Horn {
                joint,
                turn_teeth,
                arm,
                ..
            } if (*turn_teeth, *arm) != (0, 0) => {
                guided.by_hand.at_enter.push(ByHand::TurnHorn {
                    leg: joint.leg.clone(),
                    joint: joint.kind.word(),
                    teeth: *turn_teeth,
                    arm: *arm,
                });
            }
            // It is unplugged once it is limp.
            What::ServoTested { .. } => guided.by_hand.at_enter.push(ByHand::ClearTestPin),
            _ => {}
        }
    }
}

fn gauge(joint: &JointName, tool: Tool) -> ByHand {
    ByHand::PlaceGauge {
        leg: joint.leg.clone(),
        joint: joint.kind.word(),
        tool: match tool {
            Tool::Edge => board::Tool::Edge,
            Tool::Card => board::Tool::Card,
            Tool::Gauge => board::Tool::Gauge,
            Tool::Inclinometer => board::Tool::Inclinometer,
        },
    }
}

/// They are recorded.
pub(super) fn recorded(state: &mut State) -> Vec<Effect> {
    let Some(guided) = &mut state.guided else {
        return Vec::new();
    };
    let acts = guided.by_hand.now.drain(..);
    acts.map(Effect::ByHand).collect()
}

/// The builder answers: an Enter says that the hands have done their part.
pub(super) fn before(state: &mut State, answer: &Answer) -> Vec<Effect> {
    let practice = state.practice();
    let Some(guided) = state.guided.as_mut().filter(|_| practice) else {
        return Vec::new();
    };
    let pin = guided.step().picture.pin;
    let hands = &mut guided.by_hand;
    match answer {
        Answer::Text(number) => hands.number = Some(number.clone()),
        Answer::Undo => hands.at_enter.clear(),
        Answer::Enter | Answer::None => {
            let mut acts: Vec<ByHand> = hands.at_enter.drain(..).collect();
            if let (Task::Servo, Some(pin), Some(servo)) = (guided.task, pin, hands.number.take()) {
                hands.tried.push(servo.clone());
                acts.push(ByHand::PutOnTestPin { servo, pin });
            }
            return acts.into_iter().map(Effect::ByHand).collect();
        }
        _ => {}
    }
    Vec::new()
}

/// The spare servos of the practice robot, where a number is asked for and they were looked at.
pub(super) fn spares(guided: &Guided) -> Option<Vec<&str>> {
    let hint = guided.hint.as_deref()?;
    let is_asked = matches!(guided.task, Task::Servo | Task::Replace);
    let listed = hint.strip_prefix("spares: ").filter(|_| is_asked)?;
    Some(listed.split_whitespace().collect())
}

/// Offers a spare that was not tried in place of a number that no servo of the practice robot has.
pub(super) fn offer_spare(guided: &mut Guided) {
    let Some(spares) = spares(guided) else { return };
    let tried = &guided.by_hand.tried;
    let untried = spares
        .iter()
        .find(|it| !tried.iter().any(|tried| tried == *it));
    let offer = untried.or(spares.first()).map(|it| (*it).to_owned());
    if let Some(number) = offer {
        guided.desk.offer(number);
    }
}

/// What the builder would look at before he answers the present step.
pub(super) fn look(state: &mut State) -> Vec<Effect> {
    let at = state.chosen;
    let practice = state.practice();
    let name = state.work.name_of(at);
    let Some(guided) = state.guided.as_mut().filter(|_| practice) else {
        return Vec::new();
    };
    let wanted = match guided.task {
        Task::Horns if guided.step().picture.joint.is_some() => ByHand::LookAtHorn {
            leg: name.leg,
            joint: name.kind.word(),
        },
        Task::Servo | Task::Replace => ByHand::LookAtSpares,
        _ => return Vec::new(),
    };
    if guided.by_hand.looked.as_ref() == Some(&wanted) {
        return Vec::new();
    }
    guided.by_hand.looked = Some(wanted.clone());
    guided.hint = None;
    vec![Effect::ByHand(wanted)]
}
