//! What the builder's hands do between two steps, done to the practice robot: it has no other hands.
//!
//! On a real board nothing here happens. What is done follows from what was recorded or answered; nothing here decides.

use std::collections::BTreeMap;

use crate::board;
use crate::calibration::logbook::{JointName, Tool, What};
use crate::console::actions;
use crate::console::effect::{ByHand, Effect};
use crate::console::state::State;
use crate::estimate::Knowledge;
use crate::procedure::{Answer, Detail};

use super::Guided;
use super::task::Task;

/// What is to be done by hand.
#[derive(Debug, Default)]
pub struct Pending {
    /// As soon as it is recorded.
    now: Vec<ByHand>,
    /// With the Enter that says that it is done.
    at_enter: Vec<ByHand>,
    /// The servo that they built in last, by leg and joint: taken back and decided again, it sits there already.
    sits: BTreeMap<(String, &'static str), String>,
    /// What is being taken back in the logbook.
    taken: Vec<What>,
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
    let joints = state.work.known().joints.iter();
    let off: Vec<JointName> = joints
        .filter(|it| it.leg_off)
        .map(|it| it.name.clone())
        .collect();
    let Some(guided) = state.guided.as_mut().filter(|_| practice) else {
        return;
    };
    guided.by_hand.now.clear();
    for what in whats {
        if let Some(act) = exchange(what) {
            let hands = &mut guided.by_hand;
            if let ByHand::ExchangeServo { leg, joint, servo } = &act {
                let before = hands.sits.insert((leg.clone(), joint), servo.clone());
                if before.as_ref() == Some(servo) {
                    continue;
                }
            }
            hands.now.push(act);
        }
        match what {
            What::Placing { joints, tool, .. } => {
                guided
                    .by_hand
                    .now
                    .extend(joints.first().map(|it| gauge(it, *tool)));
            }
            What::Horn { joint, .. } => {
                guided.by_hand.at_enter.extend(horn(what));
                if off.contains(joint) {
                    guided.by_hand.at_enter.push(ByHand::ScrewLegOn {
                        leg: joint.leg.clone(),
                        joint: joint.kind.word(),
                    });
                }
            }
            // It is unplugged once it is limp.
            What::ServoTested { .. } => guided.by_hand.at_enter.push(ByHand::ClearTestPin),
            _ => {}
        }
    }
}

/// What is exchanged as soon as it is recorded.
fn exchange(what: &What) -> Option<ByHand> {
    match what {
        What::PlugsExchanged { pins } => Some(ByHand::SwapPlugs(pins.0.0, pins.1.0)),
        What::ServoReplaced { joint, servo } => Some(ByHand::ExchangeServo {
            leg: joint.leg.clone(),
            joint: joint.kind.word(),
            servo: servo.clone(),
        }),
        _ => None,
    }
}

/// How a horn is turned, if it is.
fn horn(what: &What) -> Option<ByHand> {
    match what {
        What::Horn {
            joint,
            turn_teeth,
            arm,
            ..
        } if (*turn_teeth, *arm) != (0, 0) => Some(ByHand::TurnHorn {
            leg: joint.leg.clone(),
            joint: joint.kind.word(),
            teeth: *turn_teeth,
            arm: *arm,
        }),
        _ => None,
    }
}

/// The logbook tells of work by hand that counts: a practice robot that was just switched on has nothing of it.
pub fn by_hand_before(state: &State) -> bool {
    let counting = crate::estimate::counting(state.work.entries());
    let mut whats = counting.into_iter().map(|it| &it.what);
    whats.any(|what| exchange(what).or_else(|| horn(what)).is_some())
}

impl Pending {
    /// These entries are about to be taken back.
    pub(super) fn takes_back(&mut self, whats: Vec<What>) {
        self.now.clear();
        self.taken = whats;
    }
}

/// They are taken back in the logbook; what hands did only hands can undo, and this says so.
pub(super) fn taken_back(state: &mut State) {
    let Some(guided) = state.guided.as_mut() else {
        return;
    };
    let whats = std::mem::take(&mut guided.by_hand.taken);
    let (words, acts) = put_back(state, &whats);
    let Some(guided) = state.guided.as_mut() else {
        return;
    };
    let hands = &mut guided.by_hand;
    for act in &acts {
        if let ByHand::ExchangeServo { leg, joint, servo } = act {
            hands.sits.insert((leg.clone(), joint), servo.clone());
        }
    }
    hands.now.extend(acts);
    if let Some(words) = words {
        let second = guided.step().second;
        actions::say(state, format!("Taken back. First {words}."), second);
    }
}

/// What hands must put back where this is taken back: `put servo 07 back in`.
pub fn to_put_back(what: &What, after: &Knowledge) -> Option<String> {
    match what {
        What::PlugsExchanged { pins } => Some(format!(
            "put plugs {} and {} back as they were",
            pins.0.0, pins.1.0
        )),
        What::ServoReplaced { joint, .. } => {
            let former = servo_of(after, joint);
            let former = former.map_or("the servo before".to_owned(), |it| format!("servo {it}"));
            Some(format!("put {former} back in: its marks count again"))
        }
        _ => horn(what).map(|_| "turn the horn back, if it was turned already".into()),
    }
}

fn servo_of<'a>(known: &'a Knowledge, joint: &JointName) -> Option<&'a str> {
    let known = known.joints.iter().find(|it| it.name == *joint);
    known.and_then(|it| it.servo.as_deref())
}

/// These entries were taken back: in words what hands must put back, and what the practice robot's hands do.
pub fn put_back(state: &mut State, whats: &[What]) -> (Option<String>, Vec<ByHand>) {
    let practice = state.practice();
    let (mut words, mut acts) = (None, Vec::new());
    for what in whats {
        let act = act_back(state, what).filter(|_| practice);
        // Without practice nobody knows whether a horn was turned already.
        if act.is_none() && practice && horn(what).is_some() {
            continue;
        }
        words = to_put_back(what, state.work.known()).or(words);
        acts.extend(act);
    }
    (words, acts)
}

fn act_back(state: &mut State, what: &What) -> Option<ByHand> {
    match what {
        What::PlugsExchanged { .. } => exchange(what),
        What::ServoReplaced { joint, .. } => {
            let servo = servo_of(state.work.known(), joint)?.to_owned();
            Some(ByHand::ExchangeServo {
                leg: joint.leg.clone(),
                joint: joint.kind.word(),
                servo,
            })
        }
        _ => {
            let act = horn(what)?;
            let turned = state.hands_did.iter().position(|it| *it == act)?;
            state.hands_did.remove(turned);
            back(what)
        }
    }
}

/// A horn back to where it was.
fn back(what: &What) -> Option<ByHand> {
    let What::Horn { arms, .. } = what else {
        return None;
    };
    let mut act = horn(what)?;
    if let ByHand::TurnHorn { teeth, arm, .. } = &mut act {
        *teeth = -*teeth;
        *arm = (arms - *arm % arms) % arms;
    }
    Some(act)
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
    let name = state.work.name_of(state.chosen);
    let Some(guided) = state.guided.as_mut().filter(|_| practice) else {
        return Vec::new();
    };
    let picture = guided.step().picture;
    let pin = picture.pin;
    let unscrews = picture.detail == Detail::LegOff { to_do: true };
    let hands = &mut guided.by_hand;
    match answer {
        Answer::Pick(1) if unscrews => {
            return vec![Effect::ByHand(ByHand::UnscrewLeg {
                leg: name.leg,
                joint: name.kind.word(),
            })];
        }
        Answer::Text(number) => hands.number = Some(number.clone()),
        Answer::Undo => hands.at_enter.clear(),
        // What hands had begun they end before they go.
        Answer::Leave => {
            let acts: Vec<ByHand> = hands.at_enter.drain(..).collect();
            state.hands_did.extend(acts.iter().cloned());
            return acts.into_iter().map(Effect::ByHand).collect();
        }
        Answer::Enter | Answer::None => {
            let mut acts: Vec<ByHand> = hands.at_enter.drain(..).collect();
            state.hands_did.extend(acts.iter().cloned());
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
