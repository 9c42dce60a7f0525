//! Numbers as they are written on the screen: a real minus, signs on degrees, no `.0` on microseconds.

/// Microseconds to the half, without `.0`: `1487.5`, `868`.
pub fn us(value: f64) -> String {
    let halves = (value * 2.0).round() / 2.0;
    if halves.fract() == 0.0 {
        minus(format!("{halves:.0}"))
    } else {
        minus(format!("{halves:.1}"))
    }
}

/// Degrees with sign and one decimal: `+11.8°`, `−71.0°`, `0.0°`.
pub fn degrees(value: f64) -> String {
    signed(value, 1) + "°"
}

/// Whole degrees with sign: `+60°`, `−50°`, `0°`; a half keeps its decimal.
pub fn whole_degrees(value: f64) -> String {
    let decimals = usize::from((value - value.round()).abs() >= 0.05);
    signed(value, decimals) + "°"
}

/// A whole number: `123`, `−45`.
pub fn whole(value: f64) -> String {
    minus(format!("{value:.0}"))
}

/// A number with its sign, a real minus, and no sign on zero.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    if text.bytes().all(|b| !b.is_ascii_digit() || b == b'0') {
        return text.trim_start_matches(['+', '-']).to_owned();
    }
    minus(text)
}

/// The hyphen of a number as a minus.
fn minus(text: String) -> String {
    if text == "-0" {
        return "0".to_owned();
    }
    text.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_as_on_the_screens() {
        assert_eq!(us(868.0), "868");
        assert_eq!(us(1487.52), "1487.5");
        assert_eq!(us(-0.1), "0");
        assert_eq!(us(-20.0), "−20");
        assert_eq!(degrees(11.77), "+11.8°");
        assert_eq!(degrees(-71.0), "−71.0°");
        assert_eq!(degrees(-0.04), "0.0°");
        assert_eq!(whole_degrees(60.0), "+60°");
        assert_eq!(whole_degrees(-37.5), "−37.5°");
        assert_eq!(whole_degrees(0.0), "0°");
    }
}
