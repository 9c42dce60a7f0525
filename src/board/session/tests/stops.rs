//! Stops overtake what waits, and nothing passes them.

use super::*;

#[test]
fn a_stop_overtakes_a_full_queue_and_empties_it() {
    let mut world = World::found();
    for n in 1..=50 {
        world.ask(&format!("slew 22 {n}"));
    }
    world.session.jog(pin(22), us(1500), world.now);
    world.run(3);
    let before = world.words().len();
    world.session.stop(Stop::Limp, world.now);
    world.run(1);
    assert_eq!(world.words()[before..], ["limp"], "the very next line");
    world.run(300);
    assert_eq!(world.words()[before..], ["limp"]);
    let told = told(&world);
    assert_eq!(
        told.iter()
            .filter(|t| t.ends_with("dropped Stopped"))
            .count(),
        50 - before
    );
    assert!(told.contains(&"stopped Limp None".into()));
}

#[test]
fn a_lost_stop_is_sent_until_it_is_answered_and_nothing_passes_it() {
    let mut world = World::found();
    world.cut = true;
    world.session.stop(Stop::Freeze, world.now);
    world.ask("wake 22 1500");
    world.run(300);
    assert_eq!(world.words(), ["freeze"; 4]);
    assert_eq!(told(&world), ["unanswered Freeze"]);
    world.cut = false;
    world.run(300);
    assert_eq!(world.done()[..2], ["freeze", "wake 22 1500"]);
    assert_eq!(told(&world)[1..], ["stopped Freeze Some(1)", "1 done"]);
}

#[test]
fn what_was_on_the_wire_before_a_stop_is_not_repeated_after_it() {
    let mut world = World::found();
    world.ask("wake 22 1500");
    world.run(4); // The hello before a wake is answered, the wake is on its way.
    assert_eq!(world.words(), ["wake 22 1500"]);
    world.cut = true;
    world.run(2);
    world.session.stop(Stop::Limp, world.now);
    world.run(20);
    world.cut = false;
    world.run(2000);
    let after: Vec<&str> = world.words()[1..].to_vec();
    assert!(after.iter().all(|w| *w == "limp"), "{after:?}");
    assert!(world.board.awake.is_empty());
    assert!(
        told(&world).contains(&"1 no answer".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn a_wake_that_still_waits_for_its_hello_is_dropped_by_a_stop() {
    let mut world = World::found();
    world.ask("wake 22 1500");
    world.session.poll(world.now);
    world.session.stop(Stop::Limp, world.now);
    world.run(500);
    assert_eq!(world.done(), ["limp"]);
    assert!(told(&world).contains(&"1 dropped Stopped".into()));
}

#[test]
fn limp_after_freeze_is_limp_and_a_later_freeze_does_not_weaken_it() {
    let mut world = World::found();
    world.session.stop(Stop::Freeze, world.now);
    world.session.stop(Stop::Limp, world.now);
    world.session.stop(Stop::Freeze, world.now);
    world.run(100);
    assert_eq!(world.words().last(), Some(&"limp"));
    assert_eq!(told(&world), ["stopped Limp None"]);
}

#[test]
fn a_stop_while_the_board_is_looked_for_is_the_first_thing_it_gets() {
    let mut world = World::found();
    world.board.awake = [pin(22)].into();
    world.session.unplugged("gone".into());
    world.session.stop(Stop::Limp, world.now);
    world.run(50);
    assert!(world.words().is_empty(), "there is no link");
    world.open();
    world.run(100);
    // Once while it is looked for, in case it hears already, and once when it is there.
    assert_eq!(world.done(), ["limp", "limp"]);
    assert!(told(&world).contains(&"stopped Limp None".into()));
    assert!(world.board.awake.is_empty());
}
