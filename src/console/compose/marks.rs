//! The marks of one joint over their line, as the view draws them.

use std::time::Duration;

use super::guided::{field, scale_of};
use super::{family, sight};
use crate::calibration::logbook::Side;
use crate::calibration::{JointKind, JointRef};
use crate::console::guided::Guided;
use crate::console::state::State;
use crate::console::view::text::{signed, us};
use crate::console::view::{Dot, MarkLine, Marks};
use crate::procedure::{MarkRow, Step, Wants};

/// The page.
pub fn page(state: &State, guided: &Guided, step: &Step, rows: &[MarkRow], now: Duration) -> Marks {
    let at = step.picture.joint.unwrap_or(state.chosen);
    let said = Said::of(&step.lines);
    let doubted = said.doubt.as_deref().map(mark_numbers).unwrap_or_default();
    let dots: Vec<Dot> = rows
        .iter()
        .enumerate()
        .filter_map(|(index, row)| {
            let (angle_deg, off_deg) = row.angle_deg.zip(row.off_deg)?;
            Some(Dot {
                at_deg: angle_deg - off_deg,
                off_deg,
                from_below: row.from.map(|side| side == Side::Below),
                doubted: doubted.contains(&(index + 1)),
            })
        })
        .collect();
    let asks = matches!(step.wants, Wants::Value { .. });
    Marks {
        joint: state.work.robot().title(at),
        sd_deg: sd(&dots),
        rows: (1..)
            .zip(rows)
            .map(|(number, row)| line(number, row))
            .collect(),
        field: field(guided, step).filter(|_| asks),
        fit: said.fit(state, at),
        doubt: said.doubt.map(|it| match mark_numbers(&it)[..] {
            [] => (it.clone(), it),
            _ => (it.clone(), format!("{it} Or a slip?")),
        }),
        family: family::likes(state, at),
        waiting: [
            "no line yet: it needs two marks",
            "at two angles; six of them from",
            "both sides give zero, µs/° and play.",
        ]
        .map(String::from)
        .into(),
        sight: sight::gauge(state),
        scale: scale_of(state, step, now),
        dots,
    }
}

/// The machine's lines, told apart.
struct Said {
    zero: Option<String>,
    scale: Option<String>,
    play: Option<String>,
    bent: Option<String>,
    doubt: Option<String>,
}

impl Said {
    fn of(lines: &[String]) -> Said {
        let after = |start: &str| {
            let line = lines.iter().find_map(|line| line.strip_prefix(start));
            line.map(str::to_owned)
        };
        Said {
            zero: after("zero "),
            scale: lines.iter().find(|line| line.ends_with("µs/°")).cloned(),
            play: after("play "),
            bent: after("bent by "),
            doubt: after("! "),
        }
    }

    fn fit(&self, state: &State, at: JointRef) -> Vec<(String, String)> {
        let (Some(zero), Some(scale)) = (&self.zero, &self.scale) else {
            return Vec::new();
        };
        let sense = match state
            .work
            .robot()
            .joint(at)
            .and_then(|joint| joint.scale.as_ref())
        {
            None => "",
            Some(it) if at.kind == JointKind::Coxa && it.value > 0.0 => "    → turns left",
            Some(_) if at.kind == JointKind::Coxa => "    → turns right",
            Some(it) if it.value > 0.0 => "    + lifts",
            Some(_) => "    + lifts, ← way",
        };
        let mut fit = vec![
            ("zero".to_owned(), zero.clone()),
            ("scale".to_owned(), format!("{scale}{sense}")),
        ];
        let bent = self.bent.as_deref().and_then(|it| it.split(" at ").next());
        let bent = bent.map_or_else(String::new, |it| format!("   bent {it}"));
        let play = self.play.as_ref().map(|play| format!("{play}{bent}"));
        fit.extend(play.map(|play| ("play".to_owned(), play)));
        fit
    }
}

/// `mark 6 is …`: 6; `marks 4, 7 are …`: 4 and 7.
fn mark_numbers(doubt: &str) -> Vec<usize> {
    let Some(rest) = doubt.strip_prefix("mark") else {
        return Vec::new();
    };
    let words = rest.trim_start_matches('s').split([' ', ',']);
    words
        .filter(|word| !word.is_empty())
        .map_while(|word| word.parse().ok())
        .collect()
}

/// One standard deviation of the readings about the line.
fn sd(dots: &[Dot]) -> Option<f64> {
    let n = dots.len();
    if n < 4 {
        return None;
    }
    // Zero, scale and play were taken from the same readings.
    let free = n.saturating_sub(3).max(1) as f64;
    let sum: f64 = dots.iter().map(|dot| dot.off_deg * dot.off_deg).sum();
    Some((sum / free).sqrt())
}

fn line(number: usize, row: &MarkRow) -> MarkLine {
    MarkLine {
        number: number.to_string(),
        pulse: us(row.pulse.us()),
        from: match row.from {
            Some(Side::Below) => "below".into(),
            Some(Side::Above) => "above".into(),
            None => "?".into(),
        },
        gauge: row.angle_deg.map(|deg| signed(deg, 1)).unwrap_or_default(),
        off: match (row.angle_deg, row.off_deg) {
            (None, _) => "?".into(),
            (_, Some(off)) => signed(off, 1),
            (_, None) => String::new(),
        },
        awaited: row.angle_deg.is_none(),
    }
}
