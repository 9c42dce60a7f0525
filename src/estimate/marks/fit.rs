//! The fit: from marks and settings to what is known of the joint.

use nalgebra::{DVector, Matrix4, SymmetricEigen, Vector4};

use super::solve::{Group, JOINT, Problem, Solved, coefficients};
use super::untold::{NOT_TOLD, untold};
use super::{
    Ended, Estimate, Mark, MarksError, Placing, Priors, Refuted, Residual, Settings, Unknown,
    Untold,
};
use crate::estimate::line::student_t;

/// A stated expectation this many standard deviations off is refuted by the marks.
const REFUTED: f64 = 3.5;
/// The chance that a fit of sound marks doubts one of them.
const FALSE_ALARM: f64 = 0.01;

/// What the marks of one joint say.
#[derive(Debug, Clone)]
pub struct Fit {
    /// The angle at the mid-travel pulse, on the mid-line of the play, degrees.
    pub middle_deg: Estimate,
    /// The same less the planned angle: the angle error at mid-travel, degrees.
    pub error_deg: Estimate,
    /// The best straight line over ±45° about mid-travel: µs for each degree, with its sign.
    pub us_per_deg: Estimate,
    /// The pulse at which that line, laid through the angle at mid-travel, reads 0°, µs.
    pub zero_us: Estimate,
    /// Half the play, degrees.
    pub half_play_deg: Estimate,
    /// By how much the response leaves the straight line at ±60° from mid-travel, degrees.
    pub bend_deg: Estimate,
    /// The marks call for the bend: it is not 0 by more than its ±, and they tell it.
    pub bent: bool,
    /// Of middle (°), stretch (relative), bend (°), half play (°); see [`Unknown::ALL`].
    pub covariance: [[f64; 4]; 4],
    /// The same four from the marks alone, the priors left out; `None` when they do not tell it.
    pub alone: [Option<Estimate>; 4],
    /// What is stated of them, for comparison; a refuted one is infinite.
    pub priors: Priors,
    /// What the stated noise of the readings was multiplied by.
    pub noise_factor: f64,
    /// The offsets of the placings.
    pub placings: Vec<Placing>,
    /// One for each mark, in their order.
    pub residuals: Vec<Residual>,
    /// What these marks do not tell, worst first.
    pub untold: Vec<Untold>,
    /// What was stated and is not so.
    pub refuted: Vec<Refuted>,
    /// The joint turns the other way than expected.
    pub other_way: bool,
    /// How the solve ended.
    pub ended: Ended,
    pub(super) settings: Settings,
    pub(super) solved: Solved,
    pub(super) groups: Vec<Group>,
}

/// Fits the marks of one joint.
///
/// Everything in [`Fit`] is said of the unloaded joint. No mark is dropped: one that does not fit
/// is named in the residuals and stays in until the builder undoes it.
///
/// # Errors
/// No mark, a number that is no number, a setting out of range, or an unknown that neither marks
/// nor priors tell.
pub fn fit(marks: &[Mark], settings: &Settings) -> Result<Fit, MarksError> {
    check(marks, settings)?;
    let mut settings = *settings;
    let mut problem = Problem::new(marks, &settings, |_| true);
    let first = problem.information(1.0);
    let other_way = alone(&first.matrix, &first.vector)[Unknown::Scale.index()]
        .is_some_and(|e| 1.0 + e.value < -3.0 * e.sd);
    if other_way {
        settings.us_per_deg = -settings.us_per_deg;
        problem = Problem::new(marks, &settings, |_| true);
    }
    let mut refuted: Vec<Refuted> = Vec::new();
    let (solved, doubted) = loop {
        let solved = problem.solve()?;
        let doubted = doubted(marks, &settings, &problem, &solved)?;
        // Doubted marks have no say in this, for a blunder is no reason to give an expectation up;
        // unless so many are doubted that the rest say nothing: then the expectation is what is odd.
        let sound = Problem::new(marks, &settings, |i| !doubted.contains(&i));
        let more = refute(&sound, &problem, solved.noise_factor);
        if more.is_empty() {
            break (solved, doubted);
        }
        // What is given up is infinite and cannot be refuted again, so this ends.
        for it in &more {
            settings.priors.get_mut(it.what).sd = f64::INFINITY;
        }
        refuted.extend(more);
        problem = Problem::new(marks, &settings, |_| true);
    };
    Ok(finish(
        settings, problem, solved, &doubted, refuted, other_way,
    ))
}

fn check(marks: &[Mark], settings: &Settings) -> Result<(), MarksError> {
    if marks.is_empty() {
        return Err(MarksError::NoMarks);
    }
    for (index, mark) in marks.iter().enumerate() {
        if !(mark.pulse_us.is_finite() && mark.angle_deg.is_finite()) {
            return Err(MarksError::NotANumber {
                index,
                pulse_us: mark.pulse_us,
                angle_deg: mark.angle_deg,
            });
        }
    }
    let finite = "a finite number";
    let above_zero = "a number above 0";
    let not_below_zero = "0 or more";
    let readings = &settings.readings;
    let mut asked = vec![
        (
            "mid-travel pulse",
            settings.mid_pulse_us,
            settings.mid_pulse_us.is_finite(),
            finite,
        ),
        (
            "planned angle",
            settings.mid_deg,
            settings.mid_deg.is_finite(),
            finite,
        ),
        (
            "expected µs/degree",
            settings.us_per_deg,
            settings.us_per_deg.is_normal(),
            "a finite number, not 0",
        ),
        (
            "worth of the stated noise",
            readings.worth,
            readings.worth >= 0.0,
            not_below_zero,
        ),
    ];
    for it in [readings.null, readings.absolute, readings.difference] {
        let noise = it.noise_deg;
        asked.push((
            "noise of a reading",
            noise,
            noise > 0.0 && noise.is_finite(),
            above_zero,
        ));
        asked.push((
            "spread of a placing",
            it.placing_deg,
            it.placing_deg >= 0.0,
            not_below_zero,
        ));
    }
    for it in settings.priors.all() {
        asked.push(("expected value", it.value, it.value.is_finite(), finite));
        asked.push(("spread of an expectation", it.sd, it.sd > 0.0, above_zero));
    }
    match asked.into_iter().find(|(_, _, fine, _)| !fine) {
        Some((name, value, _, expected)) => Err(MarksError::Setting {
            name,
            value,
            expected,
        }),
        None => Ok(()),
    }
}

/// What these equations say of each unknown; `None` where they say nothing.
fn alone(matrix: &Matrix4<f64>, vector: &Vector4<f64>) -> [Option<Estimate>; JOINT] {
    let unit = Vector4::from_row_slice(&Priors::default().all().map(|p| p.sd));
    let scale = Matrix4::from_diagonal(&unit);
    let eigen = SymmetricEigen::new(scale * matrix * scale);
    let seen = |v: f64| v > 1e-9 * eigen.eigenvalues.max().max(1.0);
    let mut inverse = Matrix4::zeros();
    let mut blind = Vector4::zeros();
    for (value, direction) in eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter())
    {
        if seen(*value) {
            inverse += direction * direction.transpose() / *value;
        } else {
            blind += direction.component_mul(&direction);
        }
    }
    let covariance = scale * inverse * scale;
    let estimate = covariance * vector;
    std::array::from_fn(|i| {
        (blind[i] < 1e-9).then(|| Estimate {
            value: estimate[i],
            sd: covariance[(i, i)].max(0.0).sqrt(),
            dof: f64::INFINITY,
        })
    })
}

/// Deletion residual of a mark, in degrees and in units of what was to be expected of it.
fn deletion(problem: &Problem, solved: &Solved, i: usize) -> (f64, f64, f64) {
    let left = (1.0 - solved.leverage[i]).max(1e-9);
    let raw = solved.residuals[i] / problem.noise[i];
    let dof = solved.dof - left;
    let factor = if solved.dof.is_finite() {
        // The noise as the others show it: a blunder must not excuse itself.
        let whole = solved.noise_factor.powi(2) * solved.dof;
        ((whole - raw * raw / left).max(0.05 * whole) / dof).sqrt()
    } else {
        solved.noise_factor
    };
    (
        solved.residuals[i] / left,
        raw / (factor * left.sqrt()),
        dof,
    )
}

/// Marks that do not fit: the worst first, then the worst of the rest.
fn doubted(
    marks: &[Mark],
    settings: &Settings,
    problem: &Problem,
    solved: &Solved,
) -> Result<Vec<usize>, MarksError> {
    let mut named: Vec<usize> = Vec::new();
    let (mut problem, mut solved) = (problem.clone(), solved.clone());
    loop {
        let kept: Vec<usize> = (0..marks.len()).filter(|i| !named.contains(i)).collect();
        let limit = |dof: f64| student_t(1.0 - FALSE_ALARM / kept.len() as f64, dof.max(1.0));
        let worst = (0..kept.len())
            .map(|i| (i, deletion(&problem, &solved, i)))
            .max_by(|a, b| a.1.1.abs().total_cmp(&b.1.1.abs()));
        match worst {
            Some((i, (_, t, dof))) if t.abs() > limit(dof) && kept.len() > 2 => named.push(kept[i]),
            _ => return Ok(named),
        }
        problem = Problem::new(marks, settings, |i| !named.contains(&i));
        solved = problem.solve()?;
    }
}

/// Expectations of middle and scale that the marks refute: assembly gets these two wrong, so no prior may hold them.
fn refute(sound: &Problem, whole: &Problem, noise_factor: f64) -> Vec<Refuted> {
    let told = [sound, whole].map(|problem| {
        let information = problem.information(noise_factor);
        alone(&information.matrix, &information.vector)
    });
    let check = |what: Unknown| {
        let i = what.index();
        let (estimate, prior) = (told[0][i].or(told[1][i])?, whole.priors[i]);
        let by = (estimate.value - prior.value) / estimate.sd.hypot(prior.sd);
        (by.abs() > REFUTED).then_some(Refuted { what, by })
    };
    let assembled = [Unknown::Middle, Unknown::Scale];
    assembled.into_iter().filter_map(check).collect()
}

fn finish(
    settings: Settings,
    problem: Problem,
    solved: Solved,
    doubted: &[usize],
    refuted: Vec<Refuted>,
    other_way: bool,
) -> Fit {
    let information = problem.information(solved.noise_factor);
    let untold = untold(&information.matrix, NOT_TOLD);
    let mut alone = alone(&information.matrix, &information.vector);
    alone.iter_mut().flatten().for_each(|e| e.dof = solved.dof);
    let at = |i: usize, value: f64| {
        let mut direction = DVector::zeros(problem.unknowns);
        direction[i] = 1.0;
        solved.judge(value, &direction)
    };
    let x = &solved.estimate;
    let error_deg = at(0, x[0]);
    let middle = settings.mid_deg + x[0];
    let us_per_deg = settings.us_per_deg / (1.0 + x[1]);
    let mut along = DVector::zeros(problem.unknowns);
    along[1] = -us_per_deg / (1.0 + x[1]);
    let scale = solved.judge(us_per_deg, &along);
    along[0] = -us_per_deg;
    along[1] *= -middle;
    let zero_us = solved.judge(settings.mid_pulse_us - middle * us_per_deg, &along);
    let bend_deg = at(2, x[2]);
    let bent = !untold.iter().any(|it| it.what.contains(&Unknown::Bend))
        && x[2].abs() > bend_deg.half_width();
    let residuals = (0..problem.rows.len()).map(|i| {
        let (off_by_deg, t, _) = deletion(&problem, &solved, i);
        let weight = off_by_deg / (problem.noise[i] * solved.noise_factor).powi(2);
        let moves = &solved.covariance * &problem.rows[i] * -weight;
        Residual {
            deg: solved.residuals[i],
            t,
            off_by_deg,
            doubted: doubted.contains(&i),
            moves_middle_deg: moves[0],
            moves_us_per_deg: settings.us_per_deg / (1.0 + x[1] + moves[1]) - us_per_deg,
        }
    });
    let placings = problem.groups.iter().enumerate().map(|(g, group)| Placing {
        id: group.id,
        offset_deg: group.column.map(|column| at(column, x[column])),
        marks: problem.group_of.iter().filter(|it| **it == g).count(),
    });
    Fit {
        middle_deg: Estimate {
            value: middle,
            ..error_deg
        },
        error_deg,
        us_per_deg: scale,
        zero_us,
        half_play_deg: at(3, x[3]),
        bend_deg,
        bent,
        covariance: std::array::from_fn(|i| std::array::from_fn(|j| solved.covariance[(i, j)])),
        alone,
        priors: settings.priors,
        noise_factor: solved.noise_factor,
        placings: placings.collect(),
        residuals: residuals.collect(),
        untold,
        refuted,
        other_way,
        ended: solved.ended,
        settings,
        groups: problem.groups,
        solved,
    }
}

impl Solved {
    /// An estimate that changes along `direction` with the unknowns; degrees of freedom by GUM
    /// (JCGM 100:2008) G.4: only the part that comes from the noise has few of them.
    pub(super) fn judge(&self, value: f64, direction: &DVector<f64>) -> Estimate {
        let variance = (direction.transpose() * &self.covariance * direction)[(0, 0)].max(0.0);
        let noise = (direction.transpose() * &self.from_noise * direction)[(0, 0)].max(0.0);
        let dof = if noise > 0.0 {
            self.dof * (variance / noise).powi(2)
        } else {
            f64::INFINITY
        };
        Estimate {
            value,
            sd: variance.sqrt(),
            dof,
        }
    }
}

impl Fit {
    /// The angle at which this pulse puts the joint, on the mid-line of the play, by the whole fit: bend included as far as it is known.
    pub fn angle_deg(&self, pulse_us: f64) -> Estimate {
        let own = coefficients(&self.settings, pulse_us, 0.0);
        let mut direction = DVector::zeros(self.solved.estimate.len());
        direction.rows_mut(0, JOINT).copy_from_slice(&own);
        let value = self.settings.mid_deg + own[1] + direction.dot(&self.solved.estimate);
        self.solved.judge(value, &direction)
    }

    /// The same by the straight line that a calibration file holds, degrees.
    pub fn line_deg(&self, pulse_us: f64) -> f64 {
        (pulse_us - self.zero_us.value) / self.us_per_deg.value
    }

    /// Marks that do not fit the others, by their places in the input.
    pub fn doubted(&self) -> impl Iterator<Item = usize> {
        self.residuals
            .iter()
            .enumerate()
            .filter(|(_, r)| r.doubted)
            .map(|(i, _)| i)
    }

    /// The full play, degrees.
    pub fn play_deg(&self) -> Estimate {
        let half = self.half_play_deg;
        Estimate {
            value: 2.0 * half.value,
            sd: 2.0 * half.sd,
            dof: half.dof,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::logbook::{MarkKind, Side};

    /// Marks of a joint with 0.6° half play, without noise.
    fn exact(middle: f64, us_per_deg: f64, at: &[(f64, Side)]) -> Vec<Mark> {
        let mark = |&(deg, from): &(f64, Side)| Mark {
            pulse_us: 1500.0 + deg * 10.0,
            from: Some(from),
            angle_deg: middle + deg * 10.0 / us_per_deg - 0.6 * from.sign() * us_per_deg.signum(),
            placing: Some(1),
            kind: MarkKind::Absolute,
        };
        at.iter().map(mark).collect()
    }

    fn both_sides(angles: &[f64]) -> Vec<(f64, Side)> {
        angles
            .iter()
            .flat_map(|a| [(*a, Side::Below), (*a, Side::Above)])
            .collect()
    }

    #[test]
    fn exact_marks_without_priors_give_the_truth() {
        let marks = exact(3.0, 10.5, &both_sides(&[-45.0, 0.0, 45.0]));
        let mut settings = Settings::new(1500.0, 0.0, 10.0);
        settings.priors = Priors::NONE;
        let fit = fit(&marks, &settings).expect("a fit");
        assert!(
            (fit.middle_deg.value - 3.0).abs() < 1e-9,
            "{:?}",
            fit.middle_deg
        );
        assert!(
            (fit.us_per_deg.value - 10.5).abs() < 1e-9,
            "{:?}",
            fit.us_per_deg
        );
        assert!(
            (fit.zero_us.value - (1500.0 - 31.5)).abs() < 1e-6,
            "{:?}",
            fit.zero_us
        );
        assert!((fit.half_play_deg.value - 0.6).abs() < 1e-9);
        assert!((fit.angle_deg(1700.0).value - (3.0 + 200.0 / 10.5)).abs() < 1e-9);
        assert!((fit.line_deg(fit.zero_us.value)).abs() < 1e-9);
        assert!(!fit.bent && !fit.other_way && fit.untold.is_empty() && fit.refuted.is_empty());
    }

    #[test]
    fn senseless_input_is_refused_with_what_to_do() {
        let settings = Settings::new(1500.0, 0.0, 10.0);
        let good = exact(0.0, 10.0, &[(0.0, Side::Below)]);
        assert_eq!(fit(&[], &settings).err(), Some(MarksError::NoMarks));
        for (pulse_us, angle_deg) in [(f64::NAN, 0.0), (1500.0, f64::INFINITY)] {
            let mark = Mark {
                pulse_us,
                angle_deg,
                ..good[0]
            };
            let error = fit(&[good[0], mark], &settings)
                .expect_err("refused")
                .to_string();
            assert!(
                error.starts_with("mark 2:") && error.contains("read again"),
                "{error}"
            );
        }
        let wrong = |change: fn(&mut Settings)| {
            let mut settings = settings;
            change(&mut settings);
            fit(&good, &settings).expect_err("refused").to_string()
        };
        for error in [
            wrong(|s| s.us_per_deg = 0.0),
            wrong(|s| s.mid_pulse_us = f64::NAN),
            wrong(|s| s.readings.null.noise_deg = 0.0),
            wrong(|s| s.readings.absolute.placing_deg = -1.0),
            wrong(|s| s.readings.worth = f64::NAN),
            wrong(|s| s.priors.stretch.sd = 0.0),
        ] {
            assert!(error.contains("expected"), "{error}");
        }
    }

    #[test]
    fn one_mark_is_told_with_the_doubt_it_deserves() {
        let fit = fit(
            &exact(0.0, 10.0, &[(0.0, Side::Below)]),
            &Settings::new(1500.0, 0.0, 10.0),
        )
        .expect("a fit");
        assert_eq!(fit.placings.len(), 1);
        // Noise and placing of 1° each, a quarter degree of play, and the prior's 10°.
        assert!(
            (1.3..1.6).contains(&fit.middle_deg.sd),
            "{:?}",
            fit.middle_deg
        );
        assert!(
            (fit.us_per_deg.sd - 0.6).abs() < 0.01,
            "the prior's 6 %: {:?}",
            fit.us_per_deg
        );
        assert!(!fit.bent && fit.doubted().next().is_none());
    }

    #[test]
    fn the_same_marks_again_give_the_same_fit() {
        let marks = exact(3.0, 10.5, &both_sides(&[-45.0, 0.0, 45.0]));
        let settings = Settings::new(1500.0, 0.0, 10.0);
        let (a, b) = (fit(&marks, &settings), fit(&marks, &settings));
        let (a, b) = (a.expect("a fit"), b.expect("a fit"));
        assert_eq!(a.zero_us, b.zero_us);
        assert_eq!(a.covariance, b.covariance);
    }
}
