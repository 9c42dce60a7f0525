//! Key presses as plain values, apart from any terminal library's event type.
//!
//! Only press and repeat become a [`Key`]; a release is not reported by terminals in general and never counts.
//! Keys can be written as text (`e i w <Enter> <C-c>`), so that a test reads as *before, keys, after*.
//! Nothing here knows what a key means: that is the command table's part.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// Which key, as the terminal names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Code {
    /// A character, the space among them.
    Char(char),
    /// Held with Ctrl; the letter is lower case.
    Ctrl(char),
    /// A function key.
    F(u8),
    /// Enter, or Return.
    Enter,
    /// Escape.
    Esc,
    /// Tab; with Shift too.
    Tab,
    /// Rubs out to the left.
    Backspace,
    /// Arrow to the left.
    Left,
    /// Arrow to the right.
    Right,
    /// Arrow up.
    Up,
    /// Arrow down.
    Down,
}

/// One press of a key, or one repeat of a key held down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Which key.
    pub code: Code,
    /// The terminal said that this is a repeat; most terminals report a repeat as another press.
    pub repeat: bool,
}

impl Key {
    /// A first press.
    pub const fn press(code: Code) -> Key {
        Key {
            code,
            repeat: false,
        }
    }

    /// What the terminal reported, or nothing for a release and for keys that hornset has no use for.
    pub fn from_terminal(event: KeyEvent) -> Option<Key> {
        let repeat = match event.kind {
            KeyEventKind::Press => false,
            KeyEventKind::Repeat => true,
            KeyEventKind::Release => return None,
        };
        let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
        let code = match event.code {
            KeyCode::Char(' ') => Code::Char(' '),
            KeyCode::Char(c) if ctrl => Code::Ctrl(c.to_ascii_lowercase()),
            KeyCode::Char(_) if event.modifiers.contains(KeyModifiers::ALT) => return None,
            KeyCode::Char(c) => Code::Char(c),
            KeyCode::Enter => Code::Enter,
            KeyCode::Esc => Code::Esc,
            KeyCode::Tab | KeyCode::BackTab => Code::Tab,
            KeyCode::Backspace | KeyCode::Delete => Code::Backspace,
            KeyCode::Left => Code::Left,
            KeyCode::Right => Code::Right,
            KeyCode::Up => Code::Up,
            KeyCode::Down => Code::Down,
            KeyCode::F(n) => Code::F(n),
            _ => return None,
        };
        Some(Key { code, repeat })
    }

    /// Reads keys written as text: characters as themselves, blanks between them dropped,
    /// and `<Enter> <Esc> <Space> <Tab> <BS> <Left> <Right> <Up> <Down> <F1> <C-c>` by name.
    ///
    /// `None` when a name in angle brackets is not one of these.
    pub fn parse_all(text: &str) -> Option<Vec<Key>> {
        let mut keys = Vec::new();
        let mut rest = text.chars().peekable();
        while let Some(c) = rest.next() {
            let code = match c {
                ' ' => continue,
                '<' => {
                    let name: String = rest.by_ref().take_while(|c| *c != '>').collect();
                    Code::named(&name)?
                }
                c => Code::Char(c),
            };
            keys.push(Key::press(code));
        }
        Some(keys)
    }
}

impl Code {
    fn named(name: &str) -> Option<Code> {
        Some(match name {
            "Enter" => Code::Enter,
            "Esc" => Code::Esc,
            "Space" => Code::Char(' '),
            "Tab" => Code::Tab,
            "BS" => Code::Backspace,
            "Left" => Code::Left,
            "Right" => Code::Right,
            "Up" => Code::Up,
            "Down" => Code::Down,
            _ => {
                if let Some(letter) = name.strip_prefix("C-") {
                    let mut letters = letter.chars();
                    return letters
                        .next()
                        .filter(|_| letters.next().is_none())
                        .map(Code::Ctrl);
                }
                return name.strip_prefix('F')?.parse().ok().map(Code::F);
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_read_from_text() {
        let keys = Key::parse_all("e = <BS> <Space> <C-c> <F2>").expect("all names are known");
        let codes: Vec<Code> = keys.iter().map(|k| k.code).collect();
        assert_eq!(
            codes,
            [
                Code::Char('e'),
                Code::Char('='),
                Code::Backspace,
                Code::Char(' '),
                Code::Ctrl('c'),
                Code::F(2)
            ]
        );
        assert_eq!(Key::parse_all("<Nonsense>"), None);
    }

    #[test]
    fn a_release_is_no_key_and_a_repeat_says_so() {
        let event = |kind| KeyEvent::new_with_kind(KeyCode::Char(' '), KeyModifiers::NONE, kind);
        assert_eq!(Key::from_terminal(event(KeyEventKind::Release)), None);
        let held = Key::from_terminal(event(KeyEventKind::Repeat)).expect("a repeat counts");
        assert!(held.repeat && held.code == Code::Char(' '));
    }

    #[test]
    fn shift_with_space_is_still_space() {
        let event = KeyEvent::new(KeyCode::Char(' '), KeyModifiers::SHIFT);
        let key = Key::from_terminal(event).expect("a key");
        assert_eq!(key.code, Code::Char(' '));
    }
}
