//! Leg keys are places: which letter chooses the leg drawn where.
//!
//! All letters are under the left hand. Turning the picture moves the legs, never the letters:
//! the key at the upper left always chooses the leg drawn at the upper left.
//! Pure; it knows mounts and a turn, and no screen.

use super::intent::Way;
use crate::calibration::Mount;

/// Every letter that can choose a leg, as the picture is read: the upper left one first.
pub const LETTERS: [char; 10] = ['e', 'r', 't', 'd', 'f', 'g', 'c', 'v', 'x', 'b'];

const LEFT: [char; 4] = ['e', 'd', 'c', 'x'];
const RIGHT: [char; 4] = ['r', 'f', 'v', 'b'];
const TOP: [char; 3] = ['e', 'r', 't'];
const BOTTOM: [char; 3] = ['d', 'f', 'g'];

/// How many quarters one press of T adds: with seven or eight legs the picture turns by halves only.
pub fn turn_step(legs: usize) -> u8 {
    if legs > 6 { 2 } else { 1 }
}

/// Where a mount stands on the turned picture: right and up, mm. Front is up at turn 0, each turn is a quarter counter-clockwise.
pub fn on_picture(mount: &Mount, quarters: u8) -> (f64, f64) {
    let (mut right, mut up) = (-mount.y_mm, mount.x_mm);
    for _ in 0..quarters % 4 {
        (right, up) = (-up, right);
    }
    (right, up)
}

/// Where a foot goes on the turned picture, right and up, when its coxa turns counter-clockwise seen from above.
pub fn swing(mount: &Mount, quarters: u8) -> (f64, f64) {
    let (sin, cos) = mount.yaw_deg.to_radians().sin_cos();
    let forward_left = Mount {
        x_mm: -sin,
        y_mm: cos,
        ..*mount
    };
    on_picture(&forward_left, quarters)
}

/// Whether a foot that went this way on the turned picture says that its coxa turned counter-clockwise;
/// `None` when that way lies across its swing.
pub fn turns_left(mount: &Mount, quarters: u8, way: Way) -> Option<bool> {
    let (right, up) = swing(mount, quarters);
    let along = match way {
        Way::Left => -right,
        Way::Right => right,
        Way::Up => up,
        Way::Down => -up,
    };
    (along.abs() > 0.3).then_some(along > 0.0)
}

/// The letter of each leg, in the order of `mounts`.
pub fn letters(mounts: &[Mount], quarters: u8) -> Vec<char> {
    let spots: Vec<(f64, f64)> = mounts.iter().map(|m| on_picture(m, quarters)).collect();
    // A quarter turned, up to six legs lie in two rows; else they stand in two columns.
    let rows = quarters % 2 == 1 && mounts.len() <= 6;
    let (across, along): (Vec<f64>, Vec<f64>) = if rows {
        spots.iter().map(|(right, up)| (-up, *right)).unzip()
    } else {
        spots.iter().map(|(right, up)| (*right, -up)).unzip()
    };
    let (first, second): (&[char], &[char]) = if rows {
        (&TOP, &BOTTOM)
    } else {
        (&LEFT, &RIGHT)
    };
    let mut order: Vec<usize> = (0..mounts.len()).collect();
    order.sort_by(|a, b| across[*a].total_cmp(&across[*b]));
    let mut firsts: Vec<usize> = order.iter().copied().filter(|i| across[*i] < 0.0).collect();
    let mut seconds: Vec<usize> = order.iter().copied().filter(|i| across[*i] > 0.0).collect();
    for middle in order.iter().copied().filter(|i| across[*i] == 0.0) {
        if firsts.len() <= seconds.len() {
            firsts.push(middle);
        } else {
            seconds.push(middle);
        }
    }
    // More legs on one side than letters: the innermost ones go to the other side's letters.
    while firsts.len() > first.len() {
        let innermost = firsts.pop().unwrap_or_default();
        seconds.insert(0, innermost);
    }
    while seconds.len() > second.len() {
        let innermost = seconds.remove(0);
        firsts.push(innermost);
    }
    let mut letters = vec!['e'; mounts.len()];
    for (side, keys) in [(&mut firsts, first), (&mut seconds, second)] {
        side.sort_by(|a, b| along[*a].total_cmp(&along[*b]));
        for (leg, key) in side.iter().zip(keys) {
            letters[*leg] = *key;
        }
    }
    letters
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mount(x_mm: f64, y_mm: f64) -> Mount {
        Mount {
            x_mm,
            y_mm,
            ..Mount::default()
        }
    }

    /// LF LM LR RF RM RR.
    fn six() -> Vec<Mount> {
        vec![
            mount(85.0, 55.0),
            mount(0.0, 75.0),
            mount(-85.0, 55.0),
            mount(85.0, -55.0),
            mount(0.0, -75.0),
            mount(-85.0, -55.0),
        ]
    }

    #[test]
    fn six_legs_with_front_up_are_two_columns() {
        assert_eq!(letters(&six(), 0), ['e', 'd', 'c', 'r', 'f', 'v']);
    }

    #[test]
    fn upside_down_the_letters_stay_and_the_legs_move() {
        // As on the wireframe of the Plugs page, front down: RR at e, RM at d, RF at c, LR at r, LM at f, LF at v.
        assert_eq!(letters(&six(), 2), ['v', 'f', 'r', 'c', 'd', 'e']);
    }

    #[test]
    fn a_quarter_turned_six_legs_are_two_rows() {
        // Counter-clockwise by a quarter: the front is to the left, the right legs are above.
        assert_eq!(letters(&six(), 1), ['d', 'f', 'g', 'e', 'r', 't']);
    }

    #[test]
    fn every_number_of_legs_has_letters_of_its_own_at_every_turn() {
        for count in 1..=8 {
            for quarters in 0..4 {
                for round in [true, false] {
                    let mounts: Vec<Mount> = (0..count)
                        .map(|i| {
                            let angle = f64::from(i) * std::f64::consts::TAU / f64::from(count);
                            if round {
                                mount(80.0 * angle.cos(), 60.0 * angle.sin())
                            } else {
                                mount(f64::from(i), 0.0)
                            }
                        })
                        .collect();
                    let mut found = letters(&mounts, quarters);
                    found.sort_unstable();
                    found.dedup();
                    assert_eq!(found.len(), count as usize, "{count} legs, turn {quarters}");
                }
            }
        }
    }
}
