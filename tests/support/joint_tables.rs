//! A calibration file cut at its joints, to see which of them a change touched.

use hornset::calibration::JointKind;

/// The file's text in pieces: each joint's own table, and what stands between them.
pub fn pieces(text: &str) -> (Vec<String>, Vec<String>) {
    let (mut tables, mut between) = (Vec::new(), vec![String::new()]);
    let mut inside = false;
    for line in text.split_inclusive('\n') {
        if line.starts_with('[') {
            inside = JointKind::ALL
                .iter()
                .any(|kind| line.trim_end() == format!("[leg.{}]", kind.word()));
            if inside {
                tables.push(String::new());
                between.push(String::new());
            }
        }
        let piece = match inside {
            true => tables.last_mut(),
            false => between.last_mut(),
        };
        piece.expect("begun").push_str(line);
    }
    (tables, between)
}
