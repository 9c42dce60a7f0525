//! The big view of guided work: the big words, and under them what the answer needs.

use super::super::lines::drawn;
use super::Desk;

fn on_supply() -> Desk {
    let mut desk = Desk::new();
    desk.open();
    desk.keys("<Enter> <Enter> <Enter> B");
    desk
}

#[track_caller]
fn shows(desk: &Desk, text: &str) {
    for (columns, rows) in [(80, 24), (120, 36)] {
        let rows = drawn(desk, columns, rows);
        assert!(
            rows.iter().any(|row| row.contains(text)),
            "{text:?} is nowhere on {rows:#?}"
        );
        let big = rows.iter().any(|row| row.contains("█▀"));
        assert!(big, "no big words on {rows:#?}");
    }
}

#[test]
fn the_big_view_does_not_hide_what_the_question_is_about() {
    let mut desk = on_supply();
    // A list to choose from.
    shows(&desk, "► a supply or regulator of their own, with a switch");
    desk.keys("<Enter> <Enter>");
    // The drawing of the plug, down to its last line.
    assert_eq!(desk.step().big, "LOOK AT EACH PLUG");
    shows(&desk, "│ ground │  plus  │ signal │");
    shows(&desk, "harm board or servo. Look twice.");
    desk.keys("n");
    assert_eq!(desk.step().big, "PUT PLUGS RIGHT");
    shows(&desk, "│ ground │  plus  │ signal │");
    shows(&desk, "! a plug turned round drives nothing");
    // A field.
    desk.keys("<Enter> 6 . 1");
    shows(&desk, "[ 6.1     ] V");
    // The sums.
    desk.keys("<Enter> 1 0 <Enter> 2 . 5 <Enter> n n");
    shows(&desk, "all 18 stalled 45.0 A");
}
