//! The last step with `--ascii`, and on a terminal without UTF-8: each sign becomes one ASCII sign of the same width.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Replaces every sign of this part of the buffer.
pub fn substitute(buf: &mut Buffer, area: Rect) {
    let area = area.intersection(buf.area);
    for y in area.top()..area.bottom() {
        for x in area.left()..area.right() {
            if let Some(cell) = buf.cell_mut((x, y))
                && !cell.symbol().is_ascii()
            {
                let sign = cell.symbol().chars().next().map_or(' ', plain);
                cell.set_char(sign);
            }
        }
    }
}

/// The ASCII sign for one of ours; `?` for a letter of the builder's own.
pub fn plain(sign: char) -> char {
    match sign {
        ascii if ascii.is_ascii() => ascii,
        '─' | '−' | '–' => '-',
        '═' => '=',
        '│' => '|',
        '┌' | '┐' | '└' | '┘' | '┼' | '╪' | '├' | '┤' | '┬' | '┴' => '+',
        '║' => 'H',
        '▼' | '↓' => 'v',
        '▲' | '↑' => '^',
        '►' | '→' => '>',
        '◄' | '←' => '<',
        '±' | '…' => '~',
        '°' => 'd',
        'µ' | 'μ' => 'u',
        '○' => 'o',
        '◊' => 'w',
        '●' => '@',
        '■' => '#',
        '×' => 'x',
        '·' => '.',
        '•' => '*',
        '∙' => ':',
        _ => '?',
    }
}
