//! One joint, folded from its own entries.
//!
//! Values that a person gave (taken over, typed) are the ground; marks and finds that came later replace them.

use std::collections::BTreeSet;

use super::ends;
use super::knowledge::{CheckKnown, EndFind, JointKnown, MarkKnown, Source};
use super::marks::Settings;
use super::turning::{Ground, Turned, Turning, expected};
use crate::calibration::edit::span_inside;
use crate::calibration::logbook::{End, Part, Taken, Way, What};
use crate::calibration::model::{Joint, Method, Recorded, Span};
use crate::units::Pin;

/// When an entry was made.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stamp<'a> {
    /// Its number.
    pub(super) n: u64,
    /// Its time.
    pub(super) at: &'a str,
}

/// A joint in the making.
pub(super) struct Building {
    /// What is known of it so far.
    pub(super) known: JointKnown,
    /// Its plug, settled at the end.
    pub(super) pin: Option<Pin>,
    /// The travel that it needs, degrees.
    pub(super) needed_deg: Option<(f64, f64)>,
    ground: Ground,
    /// When the last mark was made.
    marked_at: String,
    /// Ends that were taken over.
    taken_ends: [Option<Recorded>; 2],
    /// When each end was last found.
    found_at: [String; 2],
    limits: Option<Span>,
    guard: Option<Span>,
    /// What was known when the servo was replaced.
    had: BTreeSet<Part>,
}

impl Building {
    pub(super) fn new(known: JointKnown, needed_deg: Option<(f64, f64)>) -> Building {
        Building {
            known,
            pin: None,
            needed_deg,
            ground: Ground::default(),
            marked_at: String::new(),
            taken_ends: [None, None],
            found_at: Default::default(),
            limits: None,
            guard: None,
            had: BTreeSet::new(),
        }
    }

    pub(super) fn observe(&mut self, what: &What, stamp: Stamp) {
        let n = stamp.n;
        match what {
            &What::Bounds {
                low_us, high_us, ..
            } => {
                self.known.bounds = span_inside(low_us, high_us);
                // They are drawn in from what was called free on the way: the last of it may have touched.
                self.known
                    .ends
                    .iter_mut()
                    .for_each(|end| end.free_to = None);
                // The board guards the rough bounds from here on.
                self.guard = self.known.bounds;
            }
            &What::Mark {
                pulse_us,
                from,
                angle_deg,
                placing,
                by,
                ..
            } => {
                self.marked_at = stamp.at.to_owned();
                self.known.checks.clear();
                self.known.marks.push(MarkKnown {
                    n,
                    pulse_us,
                    from,
                    angle_deg,
                    placing,
                    by,
                });
            }
            &What::Free {
                toward, pulse_us, ..
            } => {
                let free_to = &mut self.known.ends[toward.index()].free_to;
                *free_to = Some(match (*free_to, toward) {
                    (None, _) => pulse_us,
                    (Some(so_far), End::Near) => so_far.min(pulse_us),
                    (Some(so_far), End::Far) => so_far.max(pulse_us),
                });
            }
            What::End {
                toward,
                pulse_us,
                by,
                why,
                others,
                ..
            } => {
                self.found_at[toward.index()] = stamp.at.to_owned();
                self.known.ends[toward.index()].finds.push(EndFind {
                    n,
                    pulse_us: *pulse_us,
                    by: *by,
                    why: *why,
                    others: others.clone(),
                });
            }
            &What::Limits {
                margin_us,
                low_us,
                high_us,
                ..
            } => {
                self.known.margin_us = Some(margin_us);
                self.limits = span_inside(low_us, high_us);
            }
            &What::Guard {
                low_us, high_us, ..
            } => self.guard = span_inside(low_us, high_us),
            &What::Typed {
                zero_us,
                us_per_degree,
                play_deg,
                ..
            } => {
                let typed = |value: Option<f64>| {
                    // As the file will have it, so that file and logbook agree to the last digit.
                    value.map(|value| Recorded {
                        value: tidy(value),
                        spread: None,
                        at: stamp.at.to_owned(),
                        by: Method::Typed,
                    })
                };
                self.lay(
                    typed(zero_us),
                    typed(us_per_degree),
                    typed(play_deg),
                    Source::Typed,
                );
            }
            &What::Checked {
                pulse_us,
                from,
                angle_deg,
                ..
            } => self.known.checks.push(CheckKnown {
                n,
                at: stamp.at.to_owned(),
                pulse_us,
                from,
                angle_deg,
            }),
            _ => {}
        }
    }

    /// Takes the values of a file over.
    pub(super) fn take_over(&mut self, what: &What) {
        let What::TakenOver {
            zero_us,
            us_per_degree,
            near_end_us,
            far_end_us,
            limits_us,
            guard_us,
            play_deg,
            ..
        } = what
        else {
            return;
        };
        let recorded = |it: &Option<Taken>| it.clone().map(Recorded::from);
        self.lay(
            recorded(zero_us),
            recorded(us_per_degree),
            recorded(play_deg),
            Source::TakenOver,
        );
        for (index, end) in [near_end_us, far_end_us].into_iter().enumerate() {
            if let Some(end) = recorded(end) {
                self.known.ends[index] = Default::default();
                self.taken_ends[index] = Some(end);
            }
        }
        let pair = |it: &Option<(f64, f64)>| it.and_then(|(low, high)| span_inside(low, high));
        if let Some(limits) = pair(limits_us) {
            self.limits = Some(limits);
            self.known.margin_us = None;
        }
        if let Some(guard) = pair(guard_us) {
            self.guard = Some(guard);
        }
    }

    /// Lays new ground for zero, µs/degree and play: what was observed before counts through its result alone.
    fn lay(
        &mut self,
        zero: Option<Recorded>,
        scale: Option<Recorded>,
        play: Option<Recorded>,
        source: Source,
    ) {
        if zero.is_none() && scale.is_none() && play.is_none() {
            return;
        }
        let before = self.turning();
        self.ground = Ground {
            zero: zero.or(before.zero),
            scale: scale.or(before.scale),
            play: play.or(before.play),
            source,
        };
        self.known.marks.clear();
        self.known.checks.clear();
    }

    fn turning(&self) -> Turning {
        Turning::of(
            &self.ground,
            &self.known.marks,
            &self.marked_at,
            &self.expected(),
        )
    }

    fn expected(&self) -> Settings {
        expected(&self.ground, self.needed_deg, self.known.way)
    }

    /// Begins a part anew; says whether what its plug was seen to do is to be forgotten too.
    pub(super) fn start_over(&mut self, part: Part) -> bool {
        match part {
            Part::Plug => return true,
            Part::Horn => {
                self.known.horn = None;
                self.known.horn_anew = true;
                self.known.horn_angles.clear();
                self.known.horn_ends = [None; 2];
            }
            Part::Bounds => {
                if self.guard == self.known.bounds {
                    self.guard = None;
                }
                self.known.bounds = None;
            }
            Part::Marks => {
                self.ground = Ground::default();
                self.known.marks.clear();
                self.known.checks.clear();
            }
            Part::Ends => {
                self.known.ends = Default::default();
                self.taken_ends = [None, None];
                self.limits = None;
                self.known.margin_us = None;
                // Rough bounds are the widest that is still known to be safe.
                self.guard = self.known.bounds;
            }
        }
        false
    }

    /// Another servo: what depended on the old one no longer counts; its plug and what the joint needs stay.
    pub(super) fn replace_servo(&mut self, n: u64) {
        let turning = self.turning();
        let mut had = std::mem::take(&mut self.had);
        if turning.zero.is_some() || turning.scale.is_some() || !self.known.marks.is_empty() {
            had.insert(Part::Marks);
        }
        let has_end = |index: usize| {
            self.taken_ends[index].is_some() || !self.known.ends[index].finds.is_empty()
        };
        if has_end(0) || has_end(1) || self.limits.is_some() {
            had.insert(Part::Ends);
        }
        if self.known.bounds.is_some() {
            had.insert(Part::Bounds);
        }
        if self.known.horn.is_some() {
            had.insert(Part::Horn);
        }
        for part in [Part::Marks, Part::Ends, Part::Bounds, Part::Horn] {
            self.start_over(part);
        }
        self.guard = None;
        self.had = had;
        self.known.replaced = Some(n);
    }

    /// The joint as the calibration file says it.
    pub(super) fn finish(&mut self) -> Joint {
        let turned = Turned::of(
            self.known.turned.as_ref(),
            &self.ground,
            &self.known.marks,
            &self.marked_at,
            &self.expected(),
        );
        let turning = turned.turning.clone();
        self.known.turned = Some(turned);
        self.known.expected = self.expected();
        self.known.source = turning.source;
        self.known.fit = turning.fit.clone();
        self.known.doubts.extend(turning.doubts.iter().cloned());
        if self.known.way.is_none() {
            self.known.way = turning.scale.as_ref().map(|it| Way::of(it.value));
        }
        let [near_end, far_end] = self.ends();
        let limits = self.limits_inside(near_end.as_ref(), far_end.as_ref());
        self.known.stale = self.stale(&turning, near_end.is_some() && far_end.is_some());
        Joint {
            pin: self.pin,
            servo: self.known.servo.clone(),
            zero: turning.zero,
            scale: turning.scale,
            near_end,
            far_end,
            limits,
            guard: self.guard,
            needed_deg: self.needed_deg,
            play_deg: turning.play,
        }
    }

    fn stale(&self, turning: &Turning, both_ends: bool) -> Vec<Part> {
        let known_again = |part: &Part| match part {
            Part::Marks => turning.zero.is_some() && turning.scale.is_some(),
            Part::Ends => both_ends,
            // A guard may be typed, or widened by hand; who has limits needs no rough bounds.
            Part::Bounds => self.known.bounds.is_some() || self.limits.is_some(),
            Part::Horn => self.known.horn.is_some(),
            Part::Plug => true,
        };
        let had = self.had.iter().copied();
        had.filter(|part| !known_again(part)).collect()
    }

    fn ends(&mut self) -> [Option<Recorded>; 2] {
        for end in End::BOTH {
            let index = end.index();
            let known = &mut self.known.ends[index];
            let value = ends::value(&known.finds, &self.found_at[index]);
            known.taken_us = match value {
                Some(_) => None,
                None => self.taken_ends[index].as_ref().map(|it| it.value),
            };
            let value = value.or_else(|| self.taken_ends[index].clone());
            known.at_us = value.as_ref().map(|it| it.value);
            known.spread_us = value.as_ref().and_then(|it| it.spread);
            self.taken_ends[index] = value;
        }
        let [near, far] = self.taken_ends.clone();
        if let (Some(a), Some(b)) = (&near, &far)
            && a.value >= b.value
        {
            let last = |end: End| self.known.ends[end.index()].finds.last().map(|it| it.n);
            self.known.doubts.push(format!(
                "the near end at {} µs does not lie below the far end at {} µs: the older one is left out",
                a.value, b.value
            ));
            return if last(End::Near) > last(End::Far) {
                [near, None]
            } else {
                [None, far]
            };
        }
        [near, far]
    }

    /// Limits never reach beyond an end that was found after they were set.
    fn limits_inside(&mut self, near: Option<&Recorded>, far: Option<&Recorded>) -> Option<Span> {
        let (low, high) = self.limits?;
        let margin = self.known.margin_us.unwrap_or(0.0);
        let inner = |us: f64, end: Option<&Recorded>, sign: f64| match end {
            Some(end) if (us - end.value) * sign < 0.0 => end.value + sign * margin,
            _ => us,
        };
        let pair = (inner(low.us(), near, 1.0), inner(high.us(), far, -1.0));
        if pair == (low.us(), high.us()) {
            return Some((low, high));
        }
        let limits = span_inside(pair.0, pair.1);
        self.known.doubts.push(match limits {
            Some((low, high)) => format!(
                "its limits reached beyond an end that was found later: they are {low} to {high} µs until they are set again"
            ),
            None => "its limits lay beyond an end that was found later: they are left out".into(),
        });
        limits
    }
}

/// Four decimals are far below what any bench measures; the calibration file keeps as many.
pub(super) fn tidy(number: f64) -> f64 {
    let rounded = (number * 1e4).round() / 1e4;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// Whether a file would take this as the pulse at 0°.
pub(super) fn zero_can_be(us: f64) -> bool {
    (-2000.0..=5000.0).contains(&us)
}
