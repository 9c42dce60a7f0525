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

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn json(text: &str) -> Value {
        serde_json::from_str(text).expect("the file is JSON")
    }

    fn number(text: &Value) -> f64 {
        match text.as_str() {
            Some(text) => text.parse().expect("a number"),
            None => text.as_f64().expect("a number"),
        }
    }

    fn numbers(list: &Value) -> Vec<f64> {
        list.as_array()
            .expect("a list")
            .iter()
            .map(number)
            .collect()
    }

    /// Digits in which ours and theirs agree.
    fn digits(ours: f64, theirs: f64) -> f64 {
        -((ours - theirs).abs() / theirs.abs()).max(1e-17).log10()
    }

    fn points(csv: &str) -> (Vec<f64>, Vec<f64>) {
        let pair = |line: &str| -> (f64, f64) {
            let (x, y) = line.split_once(',').expect("two columns");
            (x.parse().expect("x"), y.parse().expect("y"))
        };
        csv.lines().skip(1).map(pair).unzip()
    }

    fn linear() -> Value {
        json(include_str!("../../tests/data/nist/linear_certified.json"))
    }

    fn worked() -> Value {
        json(include_str!(
            "../../tests/data/linefit/linefit_worked_examples.json"
        ))
    }

    #[test]
    fn nist_certified_values_to_nine_digits() {
        // Source: NIST StRD, linear regression; see tests/data/nist/PROVENANCE.md.
        let certified = linear();
        let sets = [
            ("Norris", include_str!("../../tests/data/nist/Norris.csv")),
            ("NoInt1", include_str!("../../tests/data/nist/NoInt1.csv")),
            ("NoInt2", include_str!("../../tests/data/nist/NoInt2.csv")),
            ("Pontius", include_str!("../../tests/data/nist/Pontius.csv")),
        ];
        for (name, csv) in sets {
            let (x, y) = points(csv);
            let truth = &certified[name];
            let powers = numbers(&truth["powers"]);
            let design = DMatrix::from_fn(x.len(), powers.len(), |i, j| x[i].powf(powers[j]));
            let solved = solve(&design, &DVector::from_vec(y)).expect("a solution");
            assert_eq!(solved.dof as u64, truth["dof"].as_u64().expect("a count"));
            let errors = solved.standard_errors().expect("degrees of freedom");
            let sd = solved.residual_sd().expect("degrees of freedom");
            let mut worst = digits(sd, number(&truth["residual_sd"]));
            worst = worst.min(digits(solved.rss, number(&truth["rss"])));
            for (i, theirs) in numbers(&truth["estimate"]).iter().enumerate() {
                worst = worst.min(digits(solved.estimate[i], *theirs));
            }
            for (i, theirs) in numbers(&truth["stderr"]).iter().enumerate() {
                worst = worst.min(digits(errors[i], *theirs));
            }
            println!("{name}: {worst:.1} digits");
            assert!(worst >= 9.0, "{name}: {worst:.1} digits");
        }
    }

    #[test]
    fn norris_predicts_as_recomputed() {
        // Source: 60-digit arithmetic on NIST's Norris, not certified.
        let (x, y) = points(include_str!("../../tests/data/nist/Norris.csv"));
        let line = Line::fit(&x, &y, Spread::Unknown).expect("a line");
        let truth = linear();
        for it in truth["Norris"]["predictions_ours"]
            .as_array()
            .expect("a list")
        {
            let (y, u) = line.at(number(&it["x"]));
            let new = u.hypot(line.residual_sd);
            assert!(digits(y, number(&it["y"])) >= 9.0);
            assert!(digits(u, number(&it["se_mean"])) >= 9.0);
            assert!(digits(new, number(&it["se_new_obs"])) >= 9.0);
        }
    }

    #[test]
    fn the_thermometer_of_gum_h3() {
        // Source: JCGM 100:2008 Annex H.3, table H.6: calibrated against t − 20 °C, used at 30 °C.
        let it = &worked()["gum_h3"];
        let line = Line::fit(
            &numbers(&it["x_t_minus_20"]),
            &numbers(&it["y_b"]),
            Spread::Unknown,
        )
        .expect("a line");
        let c = line.covariance;
        let (b30, u_b30) = line.at(30.0 - number(&it["t0"]));
        let ours = [
            ("y1", line.intercept),
            ("s_y1", c[0][0].sqrt()),
            ("y2", line.slope),
            ("s_y2", c[1][1].sqrt()),
            ("r", c[0][1] / (c[0][0] * c[1][1]).sqrt()),
            ("s", line.residual_sd),
            ("b_at_30", b30),
            ("u_b_at_30", u_b30),
        ];
        compare(it, &ours);
        assert_eq!(line.dof, 9);
    }

    #[test]
    fn iso_ts_28037_page_13_and_its_inverse() {
        // Source: ISO/TS 28037:2010 page 13.
        let it = &worked()["iso_ts_28037_p13"];
        let spread = numbers(&it["u_y"]);
        let line = Line::fit(
            &numbers(&it["x"]),
            &numbers(&it["y"]),
            Spread::Stated(&spread),
        )
        .expect("a line");
        let (x0, u_x0) = line.inverse(number(&it["inverse_at_y0"]), number(&it["u_y0"]));
        let c = line.covariance;
        let ours = [
            ("a", line.intercept),
            ("b", line.slope),
            ("u_a", c[0][0].sqrt()),
            ("u_b", c[1][1].sqrt()),
            ("cov", c[0][1]),
            ("chi2", line.chi2),
            ("x0", x0),
            ("u_x0", u_x0),
        ];
        compare(it, &ours);
    }

    /// Ours against the printed value in its last digit, and against the recomputed one to nine digits.
    fn compare(example: &Value, ours: &[(&str, f64)]) {
        for (key, ours) in ours {
            let printed = example["printed"][key].as_str().expect("a printed value");
            let decimals = printed.split_once('.').map_or(0, |(_, d)| d.len());
            let half = 0.5 * 10f64.powi(-(decimals as i32)) * (1.0 + 1e-9);
            let theirs: f64 = printed.parse().expect("a number");
            assert!(
                (ours - theirs).abs() <= half,
                "{key}: {ours}, printed {printed}"
            );
            let computed = number(&example["computed"][key]);
            assert!(
                digits(*ours, computed) >= 9.0,
                "{key}: {ours}, recomputed {computed}"
            );
        }
    }

    #[test]
    fn student_t_meets_scipy_to_twelve_digits() {
        // Source: scipy, the two-sided 95 % factors.
        let it = worked();
        let table = it["student_t_0975"].as_object().expect("a table");
        assert_eq!(table.len(), 18);
        for (dof, theirs) in table {
            let ours = student_t(0.95, dof.parse().expect("a number"));
            assert!(
                digits(ours, number(theirs)) >= 12.0,
                "{dof}: {ours} {theirs}"
            );
        }
    }

    #[test]
    fn student_t_meets_gum_table_g2() {
        // Source: JCGM 100:2008 table G.2, these rows from memory.
        // The columns 68.27, 95.45 and 99.73 % are what 1, 2 and 3 sigma hold (note to the table).
        let shares = [0.682689492, 0.90, 0.95, 0.954499736, 0.99, 0.997300204];
        let rows = [
            (1.0, [1.84, 6.31, 12.71, 13.97, 63.66, 235.80]),
            (10.0, [1.05, 1.81, 2.23, 2.28, 3.17, 3.96]),
            (f64::INFINITY, [1.0, 1.645, 1.960, 2.0, 2.576, 3.0]),
        ];
        for (dof, row) in rows {
            for (share, theirs) in shares.iter().zip(row) {
                let ours = student_t(*share, dof);
                assert!(
                    (ours - theirs).abs() <= 0.0051,
                    "{dof} {share}: {ours} {theirs}"
                );
            }
        }
    }

    #[test]
    fn student_t_without_sense_is_no_number_and_grows_smoothly_into_the_normal() {
        assert!(student_t(0.95, 0.0).is_nan() && student_t(1.0, 5.0).is_nan());
        assert!(student_t(f64::NAN, 5.0).is_nan() && student_t(0.95, f64::NAN).is_nan());
        let (below, above) = (student_t(0.95, 0.99e6), student_t(0.95, 1.01e6));
        assert!((below - above).abs() < 1e-5, "{below} {above}");
        // Closed forms: one and two degrees of freedom.
        assert!((student_t(0.5, 1.0) - 1.0).abs() < 1e-12);
        assert!((student_t(0.5, 2.0) - (2.0f64 / 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_fitted_is_refused() {
        let unknown = Spread::Unknown;
        let few = LineError::TooFew {
            rows: 2,
            unknowns: 3,
        };
        assert_eq!(Line::fit(&[1.0, 2.0], &[1.0, 2.0], unknown), Err(few));
        let one_place = Line::fit(&[2.0, 2.0, 2.0], &[1.0, 2.0, 3.0], unknown);
        assert_eq!(one_place, Err(LineError::Open(1)));
        let no_number = Line::fit(&[1.0, 2.0, 3.0], &[1.0, f64::NAN, 3.0], unknown);
        assert_eq!(no_number, Err(LineError::NotUsable(1)));
        let no_spread = Line::fit(&[1.0, 2.0], &[1.0, 2.0], Spread::Stated(&[1.0, 0.0]));
        assert_eq!(no_spread, Err(LineError::NotUsable(1)));
        let uneven = Line::fit(&[1.0, 2.0, 3.0], &[1.0, 2.0], Spread::Stated(&[1.0; 3]));
        assert!(matches!(uneven, Err(LineError::TooFew { .. })));
    }
}
