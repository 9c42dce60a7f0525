//! What the marks leave open, in words that a builder understands.

use nalgebra::{Matrix4, SymmetricEigen, Vector4};

use super::{Priors, Unknown};

/// A direction that the marks tell less than this, in units of the priors, is not told.
pub(super) const NOT_TOLD: f64 = 0.3;

/// A combination of unknowns that the marks do not tell; what is said of it comes from the priors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Untold {
    /// Its largest members, largest first.
    pub what: Vec<Unknown>,
}

/// Directions of the information whose singular value, in units of the usual priors, is below `least`; the worst first.
pub(super) fn untold(information: &Matrix4<f64>, least: f64) -> Vec<Untold> {
    let unit = Vector4::from_row_slice(&Priors::default().all().map(|p| p.sd));
    let scale = Matrix4::from_diagonal(&unit);
    let eigen = SymmetricEigen::new(scale * information * scale);
    let mut weak: Vec<(f64, Vector4<f64>)> = eigen
        .eigenvalues
        .iter()
        .copied()
        .zip(eigen.eigenvectors.column_iter().map(|c| c.into_owned()))
        .filter(|(value, _)| value.max(0.0).sqrt() < least)
        .collect();
    weak.sort_by(|a, b| a.0.total_cmp(&b.0));
    weak.into_iter()
        .map(|(_, direction)| {
            let size = direction.abs();
            let mut what: Vec<Unknown> = Unknown::ALL
                .into_iter()
                .filter(|u| size[u.index()] > 0.5 * size.max())
                .collect();
            what.sort_by(|a, b| size[b.index()].total_cmp(&size[a.index()]));
            Untold { what }
        })
        .collect()
}

impl Untold {
    /// What is not told and what would tell it.
    pub fn text(&self) -> String {
        let names: Vec<&str> = self.what.iter().map(|u| u.words()).collect();
        let remedy = match self.what.first() {
            Some(Unknown::Middle) => "read a gauge, or bring an edge onto both screw heads",
            Some(Unknown::Scale) => "mark two angles at least 40° apart",
            Some(Unknown::Bend) => "mark three angles, at least 40° from each other",
            Some(Unknown::Play) => "mark one angle from both sides",
            None => "record more marks",
        };
        match names.as_slice() {
            [one] => format!("these marks do not tell {one}: {remedy}"),
            _ => format!(
                "these marks do not tell {} apart: {remedy}",
                names.join(" and ")
            ),
        }
    }
}
