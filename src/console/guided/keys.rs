//! The builder's keys as answers to a step: what is typed, what is lit, which key means what there.
//!
//! Which keys there are is the page's command table; here they become values. Nothing here performs anything.

use super::hands;
use crate::calibration::{JointKind, logbook};
use crate::console::actions;
use crate::console::field::{Field, Takes};
use crate::console::intent::{Intent, Way};
use crate::console::measure::number;
use crate::console::places;
use crate::console::state::State;
use crate::procedure::{Answer, Detail, Step, Wants};

/// What is typed and lit on the present step.
#[derive(Debug, Clone)]
pub struct Desk {
    /// The step that it belongs to.
    wants: Wants,
    /// The field, where a step wants a value or a text.
    pub field: Option<Field>,
    /// Which option is lit.
    pub pick: usize,
    /// Esc put the field back as it was offered: Backspace may go to the former step now.
    put_back: bool,
}

impl Default for Desk {
    fn default() -> Desk {
        Desk {
            wants: Wants::Wait,
            field: None,
            pick: 0,
            put_back: false,
        }
    }
}

impl Desk {
    /// Makes itself ready for a step; what was typed for the same one stays.
    pub fn settle(&mut self, step: &Step) {
        if self.wants == step.wants {
            return;
        }
        self.wants = step.wants.clone();
        self.pick = 0;
        self.field = None;
        match &step.wants {
            Wants::Value { start, .. } => {
                let text = start.map(|it| number(it).replace('−', "-"));
                let field = Field::offering(Takes::Number, text.unwrap_or_default());
                self.field = Some(field);
            }
            Wants::Text { start } => {
                self.field = Some(Field::offering(Takes::Path, start.clone()));
            }
            Wants::Pick { start, .. } => self.pick = *start,
            _ => {}
        }
    }

    /// Offers another text than the step does, as long as nothing was typed.
    pub fn offer(&mut self, text: String) {
        if let (Wants::Text { .. }, Some(field)) = (&self.wants, &mut self.field)
            && field.is_offered()
        {
            *field = Field::offering(Takes::Path, text);
        }
    }

    /// The step was answered: the next one begins anew, even if it asks for the same.
    fn answered(&mut self) {
        *self = Desk::default();
    }

    /// Whether a character is typed into the field.
    pub fn takes(&self, c: char) -> bool {
        self.field.as_ref().is_some_and(|field| field.takes(c))
    }

    /// Whether the field is no longer as it was offered: then Esc goes to it alone.
    fn is_touched(&self) -> bool {
        self.field.as_ref().is_some_and(|field| !field.is_offered())
    }

    /// Whether Backspace goes to the field alone: who rubs out one character too many,
    /// or what was offered, does not go back to a step that wakes something.
    fn rubs_out(&self) -> bool {
        let offers = |field: &Field| !field.text().is_empty() && !self.put_back;
        self.is_touched() || self.field.as_ref().is_some_and(offers)
    }

    /// Whether something was typed that Backspace and Esc would rub out.
    pub fn is_typed(&self) -> bool {
        let typed = |field: &Field| !field.is_offered() && !field.text().is_empty();
        self.field.as_ref().is_some_and(typed)
    }
}

/// What an intent means on the present step; `None`: it was for the field or the list alone, or means nothing here.
pub fn answer(state: &mut State, intent: Intent) -> Option<Answer> {
    let step = state.guided.as_ref()?.step();
    let answer = match &step.wants {
        Wants::Value { .. } | Wants::Text { .. } => in_field(state, &step, intent),
        Wants::Pick { options, .. } => in_list(state, options.len(), intent),
        Wants::FreeOrEnd { enough: false } if intent == Intent::GoOn => {
            // A habit must not walk a joint past its end, and a key that does nothing says so.
            actions::say(
                state,
                "Enter is no answer here: n it was free, E it touched or hummed.",
                step.second.clone(),
            );
            None
        }
        Wants::FreeOrEnd { enough } => of_peck(*enough, intent),
        Wants::Nudge => of_nudge(intent),
        Wants::JointAndWay => of_plug(state, &step, intent),
        Wants::Wait | Wants::Enter | Wants::YesNo | Wants::Over => None,
    };
    let answer = answer.or(match (&step.wants, intent) {
        // In a field both go to what was typed.
        (Wants::Value { .. } | Wants::Text { .. }, _) => None,
        // Enter never means that a peck was free.
        (Wants::FreeOrEnd { .. } | Wants::Pick { .. }, Intent::GoOn | Intent::No) => None,
        (_, Intent::GoOn) => Some(Answer::Enter),
        (_, Intent::Again) => Some(Answer::Again),
        (_, Intent::No) => Some(Answer::None),
        (_, Intent::Undo) => Some(Answer::Undo),
        (_, Intent::Back) => Some(Answer::Leave),
        _ => None,
    })?;
    state.guided.as_mut()?.desk.answered();
    Some(answer)
}

fn in_field(state: &mut State, step: &Step, intent: Intent) -> Option<Answer> {
    let guided = state.guided.as_mut()?;
    let spares = hands::spares(guided).map(|it| it.join(", "));
    let desk = &mut guided.desk;
    match intent {
        Intent::Put(c) => desk.field.as_mut()?.put(c),
        Intent::Undo if desk.rubs_out() => desk.field.as_mut()?.rub_out(),
        Intent::Undo => return Some(Answer::Undo),
        Intent::Back if desk.is_touched() => {
            desk.answered();
            desk.settle(step);
            desk.put_back = true;
        }
        Intent::Back => return Some(Answer::Leave),
        Intent::GoOn => return typed(desk.field.as_mut()?, &step.wants, spares),
        // Not known, none; once more.
        Intent::No if !desk.is_typed() => return Some(Answer::None),
        Intent::Again if !desk.is_typed() => return Some(Answer::Again),
        _ => {}
    }
    None
}

/// What was typed, if it can be meant.
fn typed(field: &mut Field, wants: &Wants, spares: Option<String>) -> Option<Answer> {
    let found = match wants {
        Wants::Value { low, high, .. } => field.number().and_then(|value| {
            if (*low..=*high).contains(&value) {
                Ok(Answer::Value(value))
            } else {
                Err(format!("{} to {}", number(*low), number(*high)))
            }
        }),
        _ if field.text().is_empty() => Err("type something first".into()),
        // The practice robot has no other servos.
        _ if spares
            .as_ref()
            .is_some_and(|all| !all.split(", ").any(|it| it == field.text())) =>
        {
            Err(format!("practice: {}", spares.unwrap_or_default()))
        }
        _ => Ok(Answer::Text(field.text().to_owned())),
    };
    match found {
        Ok(answer) => Some(answer),
        Err(why) => {
            field.error = Some(why);
            None
        }
    }
}

fn in_list(state: &mut State, count: usize, intent: Intent) -> Option<Answer> {
    let desk = &mut state.guided.as_mut()?.desk;
    match intent {
        Intent::Arrow(Way::Up | Way::Left) => desk.pick = desk.pick.saturating_sub(1),
        Intent::Arrow(Way::Down | Way::Right) => {
            desk.pick = (desk.pick + 1).min(count.saturating_sub(1));
        }
        Intent::GoOn => return Some(Answer::Pick(desk.pick)),
        _ => {}
    }
    None
}

fn of_peck(enough: bool, intent: Intent) -> Option<Answer> {
    match intent {
        Intent::No => Some(Answer::Free),
        Intent::End => Some(Answer::End),
        Intent::Finer => Some(Answer::Finer),
        Intent::Coarser => Some(Answer::Coarser),
        Intent::GoOn => enough.then_some(Answer::Enter),
        _ => None,
    }
}

fn of_nudge(intent: Intent) -> Option<Answer> {
    match intent {
        Intent::Arrow(Way::Right | Way::Up) => Some(Answer::Way(logbook::Way::Positive)),
        Intent::Arrow(Way::Left | Way::Down) => Some(Answer::Way(logbook::Way::Negative)),
        Intent::Finer => Some(Answer::Finer),
        Intent::Coarser => Some(Answer::Coarser),
        _ => None,
    }
}

/// A leg key alone says nothing yet: the joint key that follows names the joint.
fn of_plug(state: &mut State, step: &Step, intent: Intent) -> Option<Answer> {
    match intent {
        Intent::Leg(letter) => {
            let letters = state.letters();
            state.chosen.leg = letters.iter().position(|it| *it == letter)?;
            None
        }
        Intent::Joint(kind) => {
            state.chosen.kind = kind;
            Some(Answer::Joint(state.chosen))
        }
        Intent::Arrow(way) => {
            let Detail::Plugs {
                chosen: Some(at), ..
            } = &step.picture.detail
            else {
                return None;
            };
            let mount = state.work.robot().legs.get(at.leg)?.mount;
            let positive = match (at.kind, way) {
                (JointKind::Coxa, way) => places::turns_left(&mount, state.turn, way)?,
                (_, Way::Up) => true,
                (_, Way::Down) => false,
                // Lifted or lowered: the other two say nothing of it.
                _ => return None,
            };
            Some(Answer::Way(if positive {
                logbook::Way::Positive
            } else {
                logbook::Way::Negative
            }))
        }
        Intent::Also => Some(Answer::Also),
        _ => None,
    }
}
