//! What is known of the board that answers, and whether it is still the same start of it.
//!
//! No clock: the caller says when a `hello` was sent and when its answer came.

use std::time::Duration;

use crate::board::answer::Hello;

/// How much the board's clock may lag behind ours: a fixed part, and one part in fifty.
///
/// Resonators are within half a percent, but a simulated or emulated board on a busy machine can
/// stand still for longer; a real reset through a boot loader costs about a second besides what
/// the board had counted before it.
const LAG: Duration = Duration::from_millis(1000);

/// The last `hello`, and when it came.
#[derive(Debug, Clone)]
pub struct Known {
    /// The board's own words.
    pub hello: Hello,
    /// When they came.
    at: Duration,
    /// It has taken a tag since it started.
    took_tag: bool,
}

impl Known {
    /// A board that has just said this.
    pub fn new(hello: Hello, now: Duration) -> Known {
        Known {
            took_tag: hello.last != 0,
            hello,
            at: now,
        }
    }

    /// It has answered a change: from now on its `last` is not 0.
    pub fn took_tag(&mut self) {
        self.took_tag = true;
    }

    /// Whether `newer`, an answer to a `hello` that was sent at `sent_at`, comes from another
    /// start of the board (or from another board).
    ///
    /// `boot` alone does not tell: it is stored two seconds after the start only. So `up_ms` has
    /// to have grown by what went by between the former answer and the new question, and what a
    /// start keeps for its whole life has to be the same.
    pub fn was_reset(&self, newer: &Hello, sent_at: Duration) -> bool {
        let same = newer.id == self.hello.id
            && newer.boot == self.hello.boot
            && newer.cause == self.hello.cause;
        if !same || (self.took_tag && newer.last == 0) {
            return true;
        }
        let passed = sent_at.saturating_sub(self.at);
        let least = passed.saturating_sub(LAG + passed / 50).as_millis();
        let grown = newer.up_ms.wrapping_sub(self.hello.up_ms);
        // `up_ms` wraps after 49.7 days; a difference of more than half of that went backwards.
        grown > u32::MAX / 2 || u128::from(grown) < least
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::answer::ResetCause;

    fn hello(boot: u16, up_ms: u32) -> Hello {
        Hello {
            proto: 1,
            fw: "0.1.0".into(),
            board: "atmega2560".into(),
            id: 1,
            most: 24,
            boot,
            cause: ResetCause::Power,
            up_ms,
            last: 0,
            frozen: 0,
            by: None,
        }
    }

    const MS: Duration = Duration::from_millis(1);

    #[test]
    fn the_same_start_is_the_same_and_another_boot_is_another() {
        let known = Known::new(hello(7, 3000), 1000 * MS);
        assert!(!known.was_reset(&hello(7, 3000), 1000 * MS));
        assert!(!known.was_reset(&hello(7, 5000), 3000 * MS));
        assert!(known.was_reset(&hello(8, 5000), 3000 * MS));
        assert!(known.was_reset(
            &Hello {
                id: 2,
                ..hello(7, 5000)
            },
            3000 * MS
        ));
    }

    #[test]
    fn a_smaller_up_ms_under_the_same_boot_is_a_reset() {
        let known = Known::new(hello(7, 1500), 1000 * MS);
        assert!(known.was_reset(&hello(7, 100), 1100 * MS));
    }

    #[test]
    fn an_up_ms_that_grew_too_little_is_a_reset_although_it_is_larger() {
        let known = Known::new(hello(7, 100), 1000 * MS);
        assert!(known.was_reset(&hello(7, 900), 3000 * MS));
        assert!(
            !known.was_reset(&hello(7, 1100), 3000 * MS),
            "within the lag"
        );
    }

    #[test]
    fn another_cause_or_a_forgotten_tag_is_a_reset_whatever_the_clocks_say() {
        let mut known = Known::new(hello(1, 100), 1000 * MS);
        let newer = hello(1, 500);
        assert!(!known.was_reset(&newer, 1500 * MS));
        let external = Hello {
            cause: ResetCause::External,
            ..newer.clone()
        };
        assert!(known.was_reset(&external, 1500 * MS));
        known.took_tag();
        assert!(known.was_reset(&newer, 1500 * MS));
        assert!(!known.was_reset(&Hello { last: 3, ..newer }, 1500 * MS));
    }

    #[test]
    fn up_ms_may_wrap() {
        let known = Known::new(hello(7, u32::MAX - 100), 1000 * MS);
        assert!(!known.was_reset(&hello(7, 400), 1500 * MS));
    }

    #[test]
    fn an_answer_that_lay_unread_while_the_host_slept_is_no_reset() {
        // Asked at 1.3 s, read ten seconds later: what counts is when it was asked.
        let known = Known::new(hello(7, 3000), 1000 * MS);
        assert!(!known.was_reset(&hello(7, 3310), 1300 * MS));
    }
}
