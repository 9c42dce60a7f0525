//! Linear least squares by QR, the straight line, and Student's t.
//!
//! The line is the textbook one: errors in y alone, either of one unknown size or of stated
//! sizes. Nothing here knows what x and y are.

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};
use thiserror::Error;

/// What a least-squares solve gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// One value for each column of the design.
    pub estimate: DVector<f64>,
    /// The inverse of XᵀX: times the variance of an observation it is the covariance.
    pub unit_covariance: DMatrix<f64>,
    /// Observed less fitted, one for each row.
    pub residuals: DVector<f64>,
    /// The sum of their squares.
    pub rss: f64,
    /// Rows less columns.
    pub dof: usize,
}

impl Solution {
    /// The standard deviation of an observation as the residuals show it; `None` without degrees of freedom.
    pub fn residual_sd(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.rss / self.dof as f64).sqrt())
    }

    /// Standard errors when the size of the errors is known from the residuals alone.
    pub fn standard_errors(&self) -> Option<Vec<f64>> {
        let sd = self.residual_sd()?;
        let diagonal = self.unit_covariance.diagonal();
        Some(diagonal.iter().map(|v| sd * v.sqrt()).collect())
    }
}

/// Why there is no fit.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LineError {
    /// Fewer observations than unknowns, or x and y of different lengths.
    #[error("{rows} observations for {unknowns} unknowns: at least {unknowns} are needed")]
    TooFew {
        /// How many there are.
        rows: usize,
        /// How many there must be.
        unknowns: usize,
    },
    /// The observations leave an unknown open.
    #[error("the observations do not tell unknown {0} from the others: they must differ more")]
    Open(usize),
    /// Not a finite number, or a standard deviation that is not above zero.
    #[error("observation {0} is not usable: its numbers must be finite, its spread above zero")]
    NotUsable(usize),
}

/// Least squares by Householder QR: never forms XᵀX, whose condition is the square of X's.
///
/// # Errors
/// Too few rows, a number that is not finite, or columns that depend on each other.
pub fn solve(design: &DMatrix<f64>, observed: &DVector<f64>) -> Result<Solution, LineError> {
    let (rows, unknowns) = design.shape();
    if rows < unknowns || observed.len() != rows || unknowns == 0 {
        return Err(LineError::TooFew {
            rows: rows.min(observed.len()),
            unknowns: unknowns.max(1),
        });
    }
    for row in 0..rows {
        if !observed[row].is_finite() || design.row(row).iter().any(|v| !v.is_finite()) {
            return Err(LineError::NotUsable(row));
        }
    }
    // Columns of one length each, so that their units do not decide what counts as dependent.
    let norms: Vec<f64> = design.column_iter().map(|c| c.norm()).collect();
    if let Some(empty) = norms.iter().position(|n| *n == 0.0) {
        return Err(LineError::Open(empty));
    }
    let mut scaled = design.clone();
    for (mut column, norm) in scaled.column_iter_mut().zip(&norms) {
        column /= *norm;
    }
    let qr = scaled.clone().qr();
    let r = qr.r();
    if let Some(open) = (0..unknowns).find(|&i| r[(i, i)].abs() < 1e-11) {
        return Err(LineError::Open(open));
    }
    let mut rotated = observed.clone();
    qr.q_tr_mul(&mut rotated);
    let open = LineError::Open(unknowns - 1);
    let solved = r
        .solve_upper_triangular(&rotated.rows(0, unknowns).into_owned())
        .ok_or(open.clone())?;
    let inverse = r
        .solve_upper_triangular(&DMatrix::identity(unknowns, unknowns))
        .ok_or(open)?;
    let mut unit_covariance = &inverse * inverse.transpose();
    let mut estimate = solved.clone();
    for i in 0..unknowns {
        estimate[i] /= norms[i];
        for j in 0..unknowns {
            unit_covariance[(i, j)] /= norms[i] * norms[j];
        }
    }
    let residuals = observed - scaled * solved;
    let rss = residuals.norm_squared();
    Ok(Solution {
        estimate,
        unit_covariance,
        residuals,
        rss,
        dof: rows - unknowns,
    })
}

/// What is known of the size of the errors in y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread<'a> {
    /// The same for all, its size shown by the residuals.
    Unknown,
    /// A standard deviation for each.
    Stated(&'a [f64]),
}

/// A straight line `y = intercept + slope · x` with what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// y at x = 0.
    pub intercept: f64,
    /// y for each x.
    pub slope: f64,
    /// Of intercept and slope, in this order.
    pub covariance: [[f64; 2]; 2],
    /// Observed less fitted, in units of y.
    pub residuals: Vec<f64>,
    /// Of one observation: from the residuals, or 1 in units of the stated spreads.
    pub residual_sd: f64,
    /// The sum of squared residuals, each over its stated spread where there is one.
    pub chi2: f64,
    /// Observations less two.
    pub dof: usize,
}

impl Line {
    /// The line through these observations.
    ///
    /// # Errors
    /// Fewer than two of them (three when the spread is unknown), a number that cannot be used, or all at one x.
    pub fn fit(x: &[f64], y: &[f64], spread: Spread) -> Result<Line, LineError> {
        let rows = x.len().min(y.len());
        let unknown = spread == Spread::Unknown;
        let needed = if unknown { 3 } else { 2 };
        if rows < needed || x.len() != y.len() {
            return Err(LineError::TooFew {
                rows,
                unknowns: needed,
            });
        }
        let mut weights = vec![1.0; rows];
        if let Spread::Stated(sds) = spread {
            for (row, weight) in weights.iter_mut().enumerate() {
                let sd = sds.get(row).copied().unwrap_or(f64::NAN);
                if !(sd > 0.0 && sd.is_finite()) {
                    return Err(LineError::NotUsable(row));
                }
                *weight = 1.0 / sd;
            }
        }
        let design = DMatrix::from_fn(rows, 2, |i, j| weights[i] * if j == 0 { 1.0 } else { x[i] });
        let observed = DVector::from_fn(rows, |i, _| weights[i] * y[i]);
        let solved = solve(&design, &observed)?;
        let residual_sd = match solved.residual_sd() {
            Some(sd) if unknown => sd,
            _ => 1.0,
        };
        let c = &solved.unit_covariance * (residual_sd * residual_sd);
        let residuals = solved.residuals.iter().zip(&weights);
        Ok(Line {
            intercept: solved.estimate[0],
            slope: solved.estimate[1],
            covariance: [[c[(0, 0)], c[(0, 1)]], [c[(1, 0)], c[(1, 1)]]],
            residuals: residuals.map(|(r, w)| r / w).collect(),
            residual_sd,
            chi2: solved.rss,
            dof: solved.dof,
        })
    }

    /// The line at x, and its standard uncertainty there.
    pub fn at(&self, x: f64) -> (f64, f64) {
        let c = &self.covariance;
        let variance = c[0][0] + 2.0 * x * c[0][1] + x * x * c[1][1];
        (self.intercept + self.slope * x, variance.max(0.0).sqrt())
    }

    /// The x that belongs to a reading `y` of standard uncertainty `u_y`, and its own; to first order.
    pub fn inverse(&self, y: f64, u_y: f64) -> (f64, f64) {
        let x = (y - self.intercept) / self.slope;
        let (_, u_line) = self.at(x);
        (x, u_y.hypot(u_line) / self.slope.abs())
    }
}

/// The factor t by which a standard uncertainty with `dof` degrees of freedom becomes the half
/// width of an interval that holds the share `within` (0.95 for 95 %); not whole degrees are legal.
///
/// # Panics
/// Never: a share or degrees of freedom without sense give NaN.
pub fn student_t(within: f64, dof: f64) -> f64 {
    if !(within > 0.0 && within < 1.0) {
        return f64::NAN;
    }
    let p = 0.5 + within / 2.0;
    if dof > 1e6 {
        // Beyond this the two differ by less than the last digit that is shown anywhere.
        return Normal::standard().inverse_cdf(p);
    }
    let Ok(distribution) = StudentsT::new(0.0, 1.0, dof) else {
        return f64::NAN;
    };
    let mut t = distribution.inverse_cdf(p);
    // The library's inverse is good to some eight digits; Newton brings the rest.
    for _ in 0..3 {
        t -= (distribution.cdf(t) - p) / distribution.pdf(t);
    }
    t
}
