//! What the builder sees, hears and feels of the practice robot: the box of what one would see tells it.

use std::path::Path;

use crate::person::{Felt, Senses};
use crate::pty;
use crate::screen::{Screen, number};

/// What the box of what one would see says.
pub struct FromTheScreen;

impl Senses for FromTheScreen {
    fn swung(&mut self, screen: &Screen) -> Option<String> {
        let sight = screen.sight();
        let joint = sight.first()?.strip_suffix(": it swung")?;
        let way = sight.get(1)?.split(',').next()?;
        Some(format!("{joint} {way}"))
    }

    fn gauge_deg(&mut self, screen: &Screen) -> f64 {
        let stands = || {
            number(
                screen
                    .sight()
                    .iter()
                    .find_map(|it| it.split(" stands at ").nth(1))?,
            )
        };
        let bare = || number(&rests(screen)?);
        let read = screen.gauge_deg().or_else(stands).or_else(bare);
        read.unwrap_or_else(|| panic!("no gauge:\n{}", screen.text()))
    }

    fn felt(&mut self, screen: &Screen) -> Felt {
        let peck = screen.seen("in the last peck:");
        let peck = peck.unwrap_or_else(|| panic!("no peck was seen:\n{}", screen.text()));
        Felt {
            hummed: peck.ends_with("a faint hum"),
            moved_deg: peck.strip_prefix("moved ").and_then(number).unwrap_or(0.0),
            against: screen.seen("it leaned against "),
        }
    }

    fn display(&mut self, screen: &Screen) -> (f64, f64) {
        screen
            .display()
            .unwrap_or_else(|| panic!("no display:\n{}", screen.text()))
    }

    fn horn(&mut self, screen: &Screen) -> (u32, u32) {
        let words = screen
            .seen("horn:")
            .unwrap_or_else(|| panic!("no horn:\n{}", screen.text()));
        let mut numbers = words.split([' ', ',']).filter_map(|it| it.parse().ok());
        (
            numbers.next().expect("teeth"),
            numbers.next().expect("arms"),
        )
    }

    fn unscrews(&self) -> bool {
        true
    }

    fn arm_rests(&mut self, screen: &Screen) -> bool {
        rests(screen).is_some()
    }

    fn on_test_pin(&mut self, screen: &Screen) -> String {
        screen
            .seen("servo ")
            .unwrap_or_else(|| panic!("no servo:\n{}", screen.text()))
    }

    fn spares(&mut self, screen: &Screen) -> Vec<String> {
        let words = screen
            .seen("spares:")
            .unwrap_or_else(|| panic!("no spares:\n{}", screen.text()));
        words.split(' ').map(str::to_owned).collect()
    }
}

/// Where the bare arm of the question's joint rests, if it does.
fn rests(screen: &Screen) -> Option<String> {
    let sight = screen.sight();
    let mut lines = sight.iter();
    let angle = lines.find_map(|it| it.split(", leg off: rests, ").nth(1))?;
    Some(angle.to_owned())
}

/// The example robot as it is planned: geometry, pins and needed travel; nothing else is known.
pub fn fresh(folder: &Path) {
    let keep = |line: &&str| {
        let key = line.split(" = ").next().unwrap_or_default();
        let found = [
            "template",
            "servo",
            "zero_us",
            "us_per_degree",
            "near_end_us",
            "far_end_us",
        ];
        let rest = ["limits_us", "guard_us", "play_deg"];
        !found.iter().chain(&rest).any(|it| *it == key)
    };
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/marram.toml");
    let text: Vec<String> = pty::text_of(&source)
        .lines()
        .filter(keep)
        .map(str::to_owned)
        .collect();
    std::fs::write(folder.join("bench.toml"), text.join("\n") + "\n").expect("written");
}
