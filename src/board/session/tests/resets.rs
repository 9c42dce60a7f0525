//! After a reset the guards stand again before anything else, and nothing wakes.

use super::*;

#[test]
fn after_a_reset_guards_stand_again_before_anything_else_and_nothing_wakes() {
    let mut world = World::found();
    for line in [
        "guard 22 1000 2000",
        "guard 23 1100 1900",
        "slew all 400",
        "wake 22 1500",
    ] {
        world.ask(line);
    }
    world.run(100);
    world.board.done.clear();
    world.events.clear();
    world.ask("go 20 22:1600");
    world.reset(8, 5, "brownout");
    world.ask("wake 23 1800");
    world.run(2000);
    assert_eq!(told(&world)[..2], ["5 dropped Reset", "6 dropped Reset"]);
    assert_eq!(told(&world)[2..], ["reset brownout", "restored 2"]);
    assert_eq!(
        world.done(),
        ["guard 22 1000 2000", "guard 23 1100 1900", "slew all 400"]
    );
    assert!(world.board.awake.is_empty());
    world.ask("wake 22 1500");
    world.run(100);
    assert_eq!(world.done()[3], "wake 22 1500");
}

#[test]
fn a_reset_that_nobody_told_of_is_seen_by_up_ms_under_the_same_boot() {
    let mut world = World::found();
    world.board.says_ready = false;
    world.ask("guard 22 1000 2000");
    world.run(50);
    world.reset(7, 5, "watchdog");
    world.run(600);
    assert!(
        told(&world).contains(&"reset watchdog".into()),
        "{:?}",
        told(&world)
    );
    assert_eq!(world.board.guards.len(), 1);
}

#[test]
fn a_wake_asked_for_just_after_an_unseen_reset_waits_for_the_guards() {
    let mut world = World::found();
    world.board.says_ready = false;
    world.ask("guard 22 1000 2000");
    world.run(100);
    world.board.done.clear();
    world.reset(8, 0, "brownout");
    world.ask("wake 22 1500");
    world.run(1000);
    assert_eq!(
        world.done(),
        ["guard 22 1000 2000"],
        "the wake was meant for the board before"
    );
    assert!(
        told(&world).contains(&"2 dropped Reset".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn a_change_whose_answer_was_lost_in_a_reset_is_not_done_by_the_board_that_comes_back() {
    let mut world = World::found();
    world.board.says_ready = false;
    world.ask("wake 22 1500");
    world.run(3);
    assert_eq!(world.words(), ["wake 22 1500"]);
    world.reset(8, 50, "brownout"); // The line is lost with the board that should have had it.
    world.run(2000);
    assert!(world.done().is_empty(), "{:?}", world.done());
    assert!(
        told(&world).contains(&"1 dropped Reset".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn a_stop_does_not_keep_the_guards_from_being_set_again() {
    let mut world = World::found();
    world.ask("guard 22 1000 2000");
    world.run(50);
    world.reset(8, 5, "power");
    world.run(9);
    world.session.stop(Stop::Limp, world.now);
    world.run(500);
    assert_eq!(world.board.guards.len(), 1);
    assert!(
        told(&world).contains(&"restored 1".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn a_guard_that_cannot_be_set_again_is_told_and_not_counted_as_standing() {
    let mut world = World::found();
    world.ask("guard 22 1000 2000");
    world.ask("guard 23 1100 1900");
    world.run(50);
    world.events.clear();
    world.board.refuses = Some("guard 22 1000 2000");
    world.reset(8, 5, "power");
    world.run(500);
    assert_eq!(
        told(&world),
        [
            "reset power",
            "not restored guard 22 1000 2000",
            "restored 1"
        ]
    );
    assert!(matches!(
        world.events.iter().find(|e| matches!(e, Event::Restored { .. })),
        Some(Event::Restored { guards }) if *guards == [pin(23)]
    ));
}

#[test]
fn a_link_lost_while_guards_are_set_again_sets_them_again_from_the_start() {
    let mut world = World::found();
    for n in 22..30 {
        world.ask(&format!("guard {n} 1000 2000"));
    }
    world.run(100);
    world.reset(8, 5, "power");
    world.run(15);
    assert!(
        (1..8).contains(&world.board.guards.len()),
        "{}",
        world.board.guards.len()
    );
    world.cut = true;
    world.run(2000);
    world.events.retain(|e| !matches!(e, Event::Trouble(_)));
    world.cut = false;
    world.run(2000);
    assert_eq!(world.board.guards.len(), 8);
    let told = told(&world);
    assert_eq!(
        told[told.len() - 3..],
        ["lost Quiet", "back at 250000", "restored 8"]
    );
}
