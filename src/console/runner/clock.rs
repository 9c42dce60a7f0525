//! The console's time: the clock's, or the practice robot's own when that runs fast, so that
//! countdowns and timers mean the same there.

use std::time::{Duration, Instant};

use crate::board::SightHandle;

/// Time that never jumps and never goes back.
pub struct Clock {
    /// The time at the moments below.
    base: Duration,
    since: Instant,
    /// A robot that runs fast, its speed, and its time then.
    fast: Option<(SightHandle, u32, Duration)>,
}

impl Clock {
    /// Begins at nought, with the clock.
    pub fn new() -> Clock {
        Clock {
            base: Duration::ZERO,
            since: Instant::now(),
            fast: None,
        }
    }

    /// Time since it began.
    pub fn now(&self) -> Duration {
        let passed = match &self.fast {
            Some((robot, _, then)) => robot.clock().saturating_sub(*then),
            None => self.since.elapsed(),
        };
        self.base + passed
    }

    /// From now on it follows this robot, if its time runs fast, and the clock otherwise.
    pub fn follow(&mut self, robot: Option<&SightHandle>) {
        self.base = self.now();
        self.since = Instant::now();
        self.fast = robot
            .map(|robot| (robot.clone(), robot.speed(), robot.clock()))
            .filter(|(_, speed, _)| *speed > 1);
    }

    /// How long a wait of this time takes by the clock on the wall.
    pub fn by_the_wall(&self, wait: Duration) -> Duration {
        match &self.fast {
            Some((_, speed, _)) => wait / *speed,
            None => wait,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::Sight;
    use crate::board::sight::SightPainter;

    #[test]
    fn it_goes_on_without_a_jump_when_it_follows_a_robot_and_when_it_leaves_it() {
        let painter = SightPainter::new(Sight {
            speed: 20,
            ..Sight::default()
        });
        painter.tick(90_000);
        let robot = painter.handle();
        let mut clock = Clock::new();
        clock.follow(Some(&robot));
        let begun = clock.now();
        assert!(begun < Duration::from_secs(60), "{begun:?}");
        painter.tick(93_000);
        assert_eq!(clock.now(), begun + Duration::from_secs(3));
        assert_eq!(
            clock.by_the_wall(Duration::from_secs(1)),
            Duration::from_millis(50)
        );
        clock.follow(None);
        assert!(clock.now() >= begun + Duration::from_secs(3));
        assert!(clock.now() < begun + Duration::from_secs(60));
        assert_eq!(
            clock.by_the_wall(Duration::from_secs(1)),
            Duration::from_secs(1)
        );
    }

    #[test]
    fn a_robot_that_keeps_the_clocks_time_changes_nothing() {
        let painter = SightPainter::new(Sight {
            speed: 1,
            ..Sight::default()
        });
        let mut clock = Clock::new();
        clock.follow(Some(&painter.handle()));
        painter.tick(500_000);
        assert!(clock.now() < Duration::from_secs(60));
    }
}
