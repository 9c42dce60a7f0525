//! A servo replaced, from the step machine through logbook and fold to the saved file: only its joint's bytes change.

#[path = "support/joint_tables.rs"]
mod joint_tables;

use std::fs;

use hornset::calibration::logbook::Logbook;
use hornset::calibration::{JointRef, MARRAM, edit, file};
use hornset::estimate::{knowledge, taken_over};
use hornset::procedure::{Answer, Ask, Bench, Do, Heard, Procedure, Replace};

use joint_tables::pieces;

const AT: &str = "2026-04-02T08:15:00Z";

/// The machine for a replaced servo, its fold and the saved file: for each of the eighteen joints in turn.
#[test]
fn a_replaced_servo_leaves_every_other_joints_bytes_in_the_saved_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    fs::write(&path, MARRAM.replace("template = true\n", "")).expect("written");
    // Begun as the console begins it.
    let loaded = file::load(&path).expect("a good file");
    let mut book = Logbook::open(&path, true).expect("it opens");
    let whats = taken_over(loaded.robot(), &loaded.saved_sha256(), book.entries());
    book.append(&whats, AT).expect("recorded");
    let joints: Vec<JointRef> = loaded.robot().joints().map(|(at, _)| at).collect();
    drop(loaded);
    assert_eq!(joints.len(), 18);
    for (index, at) in joints.into_iter().enumerate() {
        let (tables, between) = pieces(&fs::read_to_string(&path).expect("text"));
        assert_eq!(tables.len(), 18);
        let number = format!("N{index}");
        let mut replace = Replace::new(&knowledge(book.entries()), at, Bench::default());
        let mut whats = Vec::new();
        let mut todo = replace.begin(0);
        for answer in [Answer::Text(number.clone()), Answer::Enter] {
            todo.extend(replace.answer(&answer, 0));
            while !todo.is_empty() {
                match todo.remove(0) {
                    Do::Record(what) => whats.push(what),
                    Do::Ask(ask @ Ask::Limp { .. }) => {
                        todo.extend(replace.heard(&Heard::Done(ask), 0));
                    }
                    other => panic!("nothing else is asked: {other:?}"),
                }
            }
        }
        assert_eq!(whats.len(), 1, "{whats:?}");
        book.append(&whats, AT).expect("recorded");
        let mut loaded = file::load(&path).expect("a good file");
        let known = knowledge(book.entries());
        loaded
            .record_all(&edit::changes_of_robot(loaded.robot(), &known.robot))
            .expect("a good change");
        loaded.save().expect("saved");
        let (after, between_after) = pieces(&fs::read_to_string(&path).expect("text"));
        assert_eq!(between, between_after, "{at:?}");
        for (other, (before, after)) in tables.iter().zip(&after).enumerate() {
            assert_eq!(before != after, other == index, "{at:?}: table {other}");
        }
        assert!(after[index].contains(&format!("servo = \"{number}\"")));
        assert!(!after[index].contains("zero_us"), "it was the old servo's");
    }
}
