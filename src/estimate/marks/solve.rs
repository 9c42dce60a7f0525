//! The solve behind a fit of marks: rows, rounds for the size of the noise, and the information
//! that the marks alone hold.

use nalgebra::{DMatrix, DVector, Matrix4, Vector4};

use super::untold::{NOT_TOLD, untold};
use super::{Ended, Mark, MarksError, Priors, Reading, Settings, Stated, Unknown};
use crate::calibration::logbook::MarkKind;
use crate::estimate::line;

/// The four unknowns of a joint come first, the offsets of its placings after them.
pub(super) const JOINT: usize = 4;
/// The bend is stated at this distance from mid-travel, expected degrees.
const BEND_AT_DEG: f64 = 60.0;
/// Solves until the size of the noise is given up on.
const MOST_ROUNDS: u32 = 60;

/// Marks that were read without moving the gauge.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    /// Its number; `None` for a mark that stands alone.
    pub id: Option<u64>,
    /// What its readings are good for.
    pub kind: MarkKind,
    /// How its readings are.
    pub reading: Reading,
    /// Its column, when it has an offset.
    pub column: Option<usize>,
}

/// The problem in numbers: one row a mark, not yet weighted.
#[derive(Debug, Clone)]
pub(super) struct Problem {
    /// The marks' rows over all unknowns.
    pub rows: Vec<DVector<f64>>,
    /// Read less planned, degrees.
    pub observed: Vec<f64>,
    /// Stated noise of each mark, degrees.
    pub noise: Vec<f64>,
    /// To which group each mark belongs.
    pub group_of: Vec<usize>,
    /// The placings.
    pub groups: Vec<Group>,
    /// What is stated of each of the four.
    pub priors: [Stated; JOINT],
    /// How many unknowns there are.
    pub unknowns: usize,
    worth: f64,
}

/// One solved problem.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    /// All unknowns.
    pub estimate: DVector<f64>,
    /// Their covariance, priors included.
    pub covariance: DMatrix<f64>,
    /// The part of it that comes from the noise of the readings.
    pub from_noise: DMatrix<f64>,
    /// Read less fitted, degrees.
    pub residuals: Vec<f64>,
    /// How far each mark pulls the fit to itself, 0 to 1.
    pub leverage: Vec<f64>,
    /// What the stated noise is to be multiplied by.
    pub noise_factor: f64,
    /// Degrees of freedom behind that factor.
    pub dof: f64,
    /// Sum of squared residuals, each over its stated noise.
    pub misfit: f64,
    /// How it ended.
    pub ended: Ended,
}

/// What the marks say of the four unknowns without the priors, the placings' offsets eliminated.
#[derive(Debug, Clone)]
pub(super) struct Information {
    /// One over variance.
    pub matrix: Matrix4<f64>,
    /// Information times estimate.
    pub vector: Vector4<f64>,
}

/// The four coefficients of a mark: middle, stretch, bend, half play.
pub(super) fn coefficients(settings: &Settings, pulse_us: f64, side: f64) -> [f64; JOINT] {
    let u = (pulse_us - settings.mid_pulse_us) / settings.us_per_deg;
    let bend = (u / BEND_AT_DEG).powi(2);
    [1.0, u, bend, -side * settings.us_per_deg.signum()]
}

impl Group {
    /// A mark with the same number and of the same kind; those without a number stand alone.
    fn holds(&self, mark: &Mark) -> bool {
        mark.placing.is_some() && self.id == mark.placing && self.kind == mark.kind
    }
}

impl Problem {
    /// `keep` says which marks take part.
    pub(super) fn new(
        marks: &[Mark],
        settings: &Settings,
        keep: impl Fn(usize) -> bool,
    ) -> Problem {
        let mut groups: Vec<Group> = Vec::new();
        let mut group_of = Vec::new();
        let kept = || {
            marks
                .iter()
                .enumerate()
                .filter(|(i, _)| keep(*i))
                .map(|(_, m)| m)
        };
        let mut unknowns = JOINT;
        for mark in kept() {
            let known = groups.iter().position(|g| g.holds(mark));
            group_of.push(known.unwrap_or(groups.len()));
            if known.is_none() {
                let reading = settings.readings.of(mark.kind);
                let has_offset = reading.placing_deg > 0.0;
                groups.push(Group {
                    id: mark.placing,
                    kind: mark.kind,
                    reading,
                    column: has_offset.then_some(unknowns),
                });
                unknowns += usize::from(has_offset);
            }
        }
        let play = Priors::default().half_play_deg;
        let mut problem = Problem {
            rows: Vec::new(),
            observed: Vec::new(),
            noise: Vec::new(),
            group_of,
            groups,
            priors: settings.priors.all(),
            unknowns,
            worth: settings.readings.worth,
        };
        for (i, mark) in kept().enumerate() {
            let group = &problem.groups[problem.group_of[i]];
            let side = mark.from.map_or(0.0, |side| side.sign());
            let own = coefficients(settings, mark.pulse_us, side);
            let mut row = DVector::zeros(unknowns);
            row.rows_mut(0, JOINT).copy_from_slice(&own);
            if let Some(column) = group.column {
                row[column] = 1.0;
            }
            // A joint that came from nobody knows where stands anywhere in its play.
            let loose = if mark.from.is_some() {
                0.0
            } else {
                play.value.hypot(play.sd)
            };
            problem.noise.push(group.reading.noise_deg.hypot(loose));
            problem
                .observed
                .push(mark.angle_deg - settings.mid_deg - own[1]);
            problem.rows.push(row);
        }
        problem
    }

    /// Solves it; the size of the noise is found in rounds, from what was stated and what is left over.
    pub(super) fn solve(&self) -> Result<Solved, MarksError> {
        let mut factor = 1.0;
        let mut round = 1;
        loop {
            let mut solved = self.solve_at(factor)?;
            let free = self.rows.len() as f64 - solved.leverage.iter().sum::<f64>();
            let dof = self.worth + free;
            if self.worth.is_infinite() || dof < 0.1 {
                return Ok(solved);
            }
            solved.dof = dof;
            let next = ((self.worth + solved.misfit) / dof).sqrt();
            if (next / factor - 1.0).abs() < 1e-6 {
                solved.ended = Ended::Settled { rounds: round };
                return Ok(solved);
            }
            if round == MOST_ROUNDS {
                solved.ended = Ended::RoundsSpent;
                return Ok(solved);
            }
            // Marks without any noise still need weights that can be computed with.
            factor = next.max(1e-6);
            round += 1;
        }
    }

    /// One solve with the stated noise multiplied by `factor`.
    fn solve_at(&self, factor: f64) -> Result<Solved, MarksError> {
        let mut stated: Vec<(usize, Stated)> = self.priors.iter().copied().enumerate().collect();
        for group in &self.groups {
            let sd = group.reading.placing_deg;
            stated.extend(
                group
                    .column
                    .map(|column| (column, Stated { value: 0.0, sd })),
            );
        }
        stated.retain(|(_, prior)| prior.sd.is_finite());
        let marks = self.rows.len();
        let mut design = DMatrix::zeros(marks + stated.len(), self.unknowns);
        let mut observed = DVector::zeros(marks + stated.len());
        for (i, row) in self.rows.iter().enumerate() {
            let weight = 1.0 / (self.noise[i] * factor);
            design.row_mut(i).copy_from(&(row.transpose() * weight));
            observed[i] = self.observed[i] * weight;
        }
        for (i, (column, prior)) in stated.iter().enumerate() {
            design[(marks + i, *column)] = 1.0 / prior.sd;
            observed[marks + i] = prior.value / prior.sd;
        }
        let solution =
            line::solve(&design, &observed).map_err(|_| MarksError::Open(self.open()))?;
        let covariance = solution.unit_covariance;
        let data = design.rows(0, marks);
        let spread = &covariance * data.transpose();
        let from_noise = &spread * spread.transpose();
        let leverage = (0..marks).map(|i| (data.row(i) * spread.column(i))[(0, 0)]);
        let residuals = (0..marks).map(|i| solution.residuals[i] * self.noise[i] * factor);
        let misfit = solution.residuals.rows(0, marks).norm_squared() * factor * factor;
        Ok(Solved {
            leverage: leverage.collect(),
            residuals: residuals.collect(),
            estimate: solution.estimate,
            from_noise,
            covariance,
            noise_factor: factor,
            dof: f64::INFINITY,
            misfit,
            ended: Ended::NoiseAsStated,
        })
    }

    /// The unknown that neither marks nor priors tell, when there is no solution.
    fn open(&self) -> Unknown {
        let weak = untold(&self.information(1.0).matrix, NOT_TOLD);
        let mut named = weak.into_iter().flat_map(|it| it.what);
        named
            .find(|it| self.priors[it.index()].sd.is_infinite())
            .unwrap_or(Unknown::Middle)
    }

    /// What the marks alone say of the four unknowns. An offset is seen by its own group only, so
    /// eliminating it is one subtraction a group.
    pub(super) fn information(&self, factor: f64) -> Information {
        let mut matrix = Matrix4::zeros();
        let mut vector = Vector4::zeros();
        for (g, group) in self.groups.iter().enumerate() {
            let (mut weight, mut sum, mut sum_y) = (0.0, Vector4::zeros(), 0.0);
            for i in (0..self.rows.len()).filter(|i| self.group_of[*i] == g) {
                let w = 1.0 / (self.noise[i] * factor).powi(2);
                let a = Vector4::from_iterator(self.rows[i].rows(0, JOINT).iter().copied());
                matrix += a * a.transpose() * w;
                vector += a * (self.observed[i] * w);
                sum += a * w;
                sum_y += self.observed[i] * w;
                weight += w;
            }
            if group.column.is_some() {
                // 1/∞² is 0: an offset of which nothing is stated.
                let total = weight + 1.0 / group.reading.placing_deg.powi(2);
                matrix -= sum * sum.transpose() / total;
                vector -= sum * (sum_y / total);
            }
        }
        Information { matrix, vector }
    }
}
