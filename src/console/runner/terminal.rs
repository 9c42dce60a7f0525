//! The terminal: taken over at the start, handed back clean at the end, whatever the end is.
//!
//! Raw mode and the other screen, nothing else: no mouse, no keyboard flags, so there is little to leave behind.

use std::io::{self, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, bail};
use crossterm::cursor::{Hide, Show};
use crossterm::style::ResetColor;
use crossterm::terminal::{
    self, BeginSynchronizedUpdate, EndSynchronizedUpdate, EnterAlternateScreen,
    LeaveAlternateScreen,
};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;

use crate::console::theme::Look;
use crate::console::view::{self, Screen};

/// Whether the terminal is ours now.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// The terminal while it is ours.
pub struct Display {
    terminal: Terminal<CrosstermBackend<io::Stdout>>,
    look: Look,
    drawn: Option<(Screen, (u16, u16))>,
}

impl Display {
    /// Takes the terminal over.
    pub fn take(look: Look) -> anyhow::Result<Display> {
        if !io::stdout().is_terminal() || !io::stdin().is_terminal() {
            bail!("the console needs a terminal for keys and pictures: start it in one");
        }
        take_over()?;
        let terminal = Terminal::new(CrosstermBackend::new(io::stdout()))
            .context("the terminal does not say how large it is")?;
        Ok(Display {
            terminal,
            look,
            drawn: None,
        })
    }

    /// Columns and rows.
    pub fn size(&self) -> (u16, u16) {
        self.terminal
            .size()
            .map_or((80, 24), |size| (size.width, size.height))
    }

    /// Draws, if anything differs from what stands there: one synchronized update, never cleared first.
    pub fn draw(&mut self, screen: Screen, size: (u16, u16)) -> anyhow::Result<()> {
        let next = (screen, size);
        if self.drawn.as_ref() == Some(&next) {
            return Ok(());
        }
        let mut out = io::stdout();
        crossterm::queue!(out, BeginSynchronizedUpdate)?;
        self.terminal.draw(|frame| {
            let area = frame.area();
            view::draw(&next.0, self.look, area, frame.buffer_mut());
        })?;
        crossterm::execute!(out, EndSynchronizedUpdate)?;
        self.drawn = Some(next);
        Ok(())
    }

    /// Rings once.
    pub fn bell(&self) {
        let mut out = io::stdout();
        let _ = out.write_all(b"\x07").and_then(|()| out.flush());
    }

    /// Hands the terminal back, waits in `away`, and takes it over again with everything drawn anew.
    #[cfg(unix)]
    pub fn leave_for(&mut self, away: impl FnOnce()) -> anyhow::Result<()> {
        restore();
        away();
        take_over()?;
        // Not `clear`: that asks the terminal where its cursor is, and the thread that reads keys would take the answer.
        let size = self.terminal.size()?;
        self.terminal
            .resize(ratatui::layout::Rect::new(0, 0, size.width, size.height))?;
        self.drawn = None;
        Ok(())
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        restore();
    }
}

fn take_over() -> anyhow::Result<()> {
    terminal::enable_raw_mode().context("the terminal cannot be switched to single keys")?;
    TAKEN.store(true, Ordering::SeqCst);
    crossterm::execute!(io::stdout(), EnterAlternateScreen, Hide)
        .context("the terminal cannot be written to")
}

/// Hands the terminal back, once; harmless at any moment, on a dead terminal too.
pub fn restore() {
    if TAKEN.swap(false, Ordering::SeqCst) {
        let mut out = io::stdout();
        // Written by hand, error by error: the printing macros panic when the terminal is gone.
        let _ = crossterm::execute!(
            out,
            EndSynchronizedUpdate,
            ResetColor,
            LeaveAlternateScreen,
            Show
        );
        let _ = terminal::disable_raw_mode();
    }
}
