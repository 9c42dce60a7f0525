//! Stopping from outside the loop: from the signal thread and from a panic.
//!
//! It knows the link and what Space means now, and nothing else.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

use super::terminal;
use crate::board::{Link, Stop};

/// How long a stop's answer is waited for; the worker goes on sending it meanwhile.
const ANSWER: Duration = Duration::from_millis(600);

/// The link, shared with those who must be able to stop it.
#[derive(Default)]
pub struct Emergency {
    link: Mutex<Option<Arc<Link>>>,
    limp: AtomicBool,
    stops: Mutex<u64>,
    stopped: Condvar,
}

impl Emergency {
    /// The link that is open now.
    pub fn set_link(&self, link: Option<Arc<Link>>) {
        *self.link.lock().unwrap_or_else(PoisonError::into_inner) = link;
    }

    /// What Space means now.
    pub fn set_means(&self, stop: Stop) {
        self.limp.store(stop == Stop::Limp, Ordering::SeqCst);
    }

    /// The board has done a stop.
    pub fn was_stopped(&self) {
        *self.stops.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.stopped.notify_all();
    }

    /// Stops as Space would, and waits a little for the board's answer.
    pub fn stop(&self) {
        // Never wait for a lock that the failing thread itself may hold.
        let link = match self.link.try_lock() {
            Ok(link) => link.clone(),
            Err(_) => return,
        };
        let Some(link) = link else { return };
        let means = if self.limp.load(Ordering::SeqCst) {
            Stop::Limp
        } else {
            Stop::Freeze
        };
        let before = self.count();
        link.stop(means);
        self.wait_beyond(before);
    }

    /// How many stops were answered so far.
    pub fn count(&self) -> u64 {
        *self.stops.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until one more than `before` stops are answered, or for long enough.
    pub fn wait_beyond(&self, before: u64) {
        let deadline = Instant::now() + ANSWER;
        let mut stops = self.stops.lock().unwrap_or_else(PoisonError::into_inner);
        while *stops <= before {
            let left = deadline.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return;
            }
            stops = self
                .stopped
                .wait_timeout(stops, left)
                .unwrap_or_else(PoisonError::into_inner)
                .0;
        }
    }
}

/// A panic anywhere stops the servos and hands the terminal back before its message is printed.
pub fn catch_panics(emergency: &Arc<Emergency>) {
    let emergency = Arc::clone(emergency);
    let print = std::panic::take_hook();
    let main = std::thread::current().id();
    std::panic::set_hook(Box::new(move |info| {
        emergency.stop();
        terminal::restore();
        print(info);
        if std::thread::current().id() != main {
            // Without that thread the console cannot be trusted to stop anything.
            std::process::exit(101);
        }
    }));
}

/// Signals that end the program stop the servos first, then the loop is told; a loop that hangs is not waited for.
#[cfg(unix)]
pub fn catch_signals(
    emergency: &Arc<Emergency>,
    tell: impl Fn(i32) + Send + 'static,
) -> anyhow::Result<()> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGTSTP};
    let emergency = Arc::clone(emergency);
    let mut signals =
        signal_hook::iterator::Signals::new([SIGTERM, SIGHUP, SIGINT, SIGQUIT, SIGTSTP])?;
    std::thread::spawn(move || {
        for signal in signals.forever() {
            if signal == SIGTSTP {
                // As Ctrl-Z: the loop stops motion, then suspends.
                tell(signal);
                continue;
            }
            emergency.stop();
            tell(signal);
            std::thread::sleep(Duration::from_millis(1000));
            terminal::restore();
            let _ = signal_hook::low_level::emulate_default_handler(signal);
        }
    });
    Ok(())
}

/// Elsewhere the closed window's own message ends the program; the board's silence clock protects the robot.
#[cfg(not(unix))]
pub fn catch_signals(
    _emergency: &Arc<Emergency>,
    _tell: impl Fn(i32) + Send + 'static,
) -> anyhow::Result<()> {
    Ok(())
}
