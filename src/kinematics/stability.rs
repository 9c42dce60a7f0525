//! Whether the robot stands: the support polygon and how far the centre of mass is inside it.
//!
//! All on the level ground plane, x and y in mm; heights and forces do not come in.
//! Two margins are offered and never mixed up: to the edges' *lines* (McGhee and Frank's, simple and signed)
//! and the *true distance* to the polygon. They differ only outside, beyond a corner.
//! Source: McGhee, R. B., Frank, A. A., "On the stability properties of quadruped creeping gaits", Mathematical Biosciences 3 (1968), from memory.

/// A place on the ground, mm.
pub type Ground = [f64; 2];

/// The convex hull of the feet on the ground, counter-clockwise, without points along an edge.
///
/// One foot gives one point, feet in one line give two.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SupportPolygon {
    corners: Vec<Ground>,
}

/// How far it is to tip over along one direction, mm; negative once it tips.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LongitudinalMargin {
    /// Along the direction.
    pub front: f64,
    /// Against it.
    pub rear: f64,
}

impl LongitudinalMargin {
    /// The smaller of the two.
    pub fn least(&self) -> f64 {
        self.front.min(self.rear)
    }
}

/// Twice the area of the triangle, positive when it is counter-clockwise.
fn turn(a: Ground, b: Ground, c: Ground) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn distance(a: Ground, b: Ground) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

impl SupportPolygon {
    /// The hull of the feet, by Andrew's monotone chain (Andrew, A. M., Information Processing Letters 9, 1979). Feet that are no numbers are left out.
    pub fn of(feet: &[Ground]) -> Self {
        let mut points: Vec<Ground> = feet
            .iter()
            .copied()
            .filter(|it| it.iter().all(|c| c.is_finite()))
            .collect();
        points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        points.dedup();
        if points.len() < 3 {
            return SupportPolygon { corners: points };
        }
        let half = |points: &mut dyn Iterator<Item = Ground>| {
            let mut chain: Vec<Ground> = Vec::new();
            for point in points {
                while let [.., a, b] = chain[..]
                    && turn(a, b, point) <= 0.0
                {
                    chain.pop();
                }
                chain.push(point);
            }
            chain.pop();
            chain
        };
        let mut corners = half(&mut points.iter().copied());
        corners.extend(half(&mut points.iter().rev().copied()));
        SupportPolygon { corners }
    }

    /// Its corners, counter-clockwise.
    pub fn corners(&self) -> &[Ground] {
        &self.corners
    }

    /// Its area, mm² (shoelace formula).
    pub fn area(&self) -> f64 {
        let Some(&first) = self.corners.first() else {
            return 0.0;
        };
        self.edges().map(|(a, b)| turn(first, a, b) / 2.0).sum()
    }

    fn edges(&self) -> impl Iterator<Item = (Ground, Ground)> + '_ {
        let count = if self.corners.len() < 2 {
            0
        } else {
            self.corners.len()
        };
        (0..count).map(move |i| (self.corners[i], self.corners[(i + 1) % self.corners.len()]))
    }

    /// The static stability margin to the *edge lines*, mm: the least signed distance from the point to the line of an edge, inside positive.
    ///
    /// `None` without feet. With one foot, or feet in one line, it is never positive.
    pub fn edge_line_margin(&self, centre: Ground) -> Option<f64> {
        match self.corners[..] {
            [] => None,
            [only] => Some(-distance(only, centre)),
            _ => self
                .edges()
                .map(|(a, b)| turn(a, b, centre) / distance(a, b))
                .min_by(f64::total_cmp),
        }
    }

    /// The *true distance* from the point to the polygon's boundary, mm: positive inside, negative outside.
    ///
    /// `None` without feet.
    pub fn distance_margin(&self, centre: Ground) -> Option<f64> {
        if let [only] = self.corners[..] {
            return Some(-distance(only, centre));
        }
        let nearest = self
            .edges()
            .map(|(a, b)| {
                let along = [b[0] - a[0], b[1] - a[1]];
                let length = along[0] * along[0] + along[1] * along[1];
                let to = [centre[0] - a[0], centre[1] - a[1]];
                let part = ((to[0] * along[0] + to[1] * along[1]) / length).clamp(0.0, 1.0);
                distance([a[0] + part * along[0], a[1] + part * along[1]], centre)
            })
            .min_by(f64::total_cmp)?;
        let inside = self.corners.len() > 2 && self.edge_line_margin(centre)? >= 0.0;
        Some(if inside { nearest } else { -nearest })
    }

    /// How far it is to the boundary along a direction and against it, mm.
    ///
    /// `None` when the line through the point in that direction misses the polygon.
    pub fn longitudinal_margin(
        &self,
        centre: Ground,
        direction: Ground,
    ) -> Option<LongitudinalMargin> {
        let length = direction[0].hypot(direction[1]);
        if length == 0.0 || !length.is_finite() {
            return None;
        }
        let ahead = [direction[0] / length, direction[1] / length];
        let (mut front, mut rear) = (f64::NEG_INFINITY, f64::INFINITY);
        for (a, b) in self.edges() {
            // In axes along the direction: where does the edge cross the line through the point?
            let place = |p: Ground| {
                let to = [p[0] - centre[0], p[1] - centre[1]];
                (
                    to[0] * ahead[0] + to[1] * ahead[1],
                    to[1] * ahead[0] - to[0] * ahead[1],
                )
            };
            let ((xa, ya), (xb, yb)) = (place(a), place(b));
            if ya * yb > 0.0 {
                continue;
            }
            let crossings = if ya == yb {
                [xa, xb]
            } else {
                let at = xa + (xb - xa) * (ya / (ya - yb));
                [at, at]
            };
            for at in crossings {
                front = front.max(at);
                rear = rear.min(at);
            }
        }
        (front >= rear).then_some(LongitudinalMargin { front, rear: -rear })
    }
}
