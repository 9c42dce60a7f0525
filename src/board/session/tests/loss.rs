//! The link lost and found again, and damage on it.

use super::*;

#[test]
fn a_quiet_board_is_lost_within_a_second_and_found_again_by_itself() {
    let mut world = World::found();
    world.ask("guard 22 1000 2000");
    world.run(50);
    world.events.clear();
    let ticket = world.ask("slew 22 300");
    world.cut = true;
    world.run(1000);
    let fate = format!("{} no answer", ticket.0);
    assert_eq!(told(&world), [fate.as_str(), "lost Quiet"]);
    world.ask("slew 22 400");
    world.run(3000);
    world.cut = false;
    world.run(1000);
    assert_eq!(told(&world)[2..], ["3 dropped Lost", "back at 250000"]);
    assert_eq!(world.board.guards.len(), 1);
}

/// A `hello` that was lost in a reset, while other lines still came, once hid the loss for seconds.
#[test]
fn a_hello_lost_in_a_reset_does_not_hide_that_the_link_is_lost_afterwards() {
    let mut world = World::found();
    while !world.written.last().is_some_and(|l| l.2.contains("hello")) {
        world.run(1); // Until the next hello is on its way.
    }
    world.reset(8, 5, "power");
    world.run(20);
    world.cut = true;
    world.run(1000);
    assert!(
        told(&world).contains(&"lost Quiet".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn a_board_that_comes_back_at_another_rate_is_found_there() {
    let mut world = World::found();
    world.cut = true;
    world.run(1000);
    world.board.rate = 115_200;
    world.cut = false;
    world.run(6000);
    assert!(
        told(&world).contains(&"back at 115200".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn unplugged_and_plugged_in_again_after_a_reset_the_guards_are_set_again() {
    let mut world = World::found();
    world.ask("guard 22 1000 2000");
    world.run(50);
    world.events.clear();
    world.session.unplugged("the plug".into());
    world.run(5000);
    world.open();
    world.reset(8, 1500, "external");
    world.run(3000);
    assert_eq!(
        told(&world),
        [
            "lost Unplugged(\"the plug\")",
            "back at 250000",
            "reset external",
            "restored 1"
        ]
    );
    assert!(matches!(
        world
            .events
            .iter()
            .find(|e| matches!(e, Event::Reset { .. })),
        Some(Event::Reset {
            cause: ResetCause::External,
            ..
        })
    ));
}

#[test]
fn a_host_that_slept_reads_what_waits_and_loses_nothing() {
    let mut world = World::found();
    world.run(295);
    // The answer to a hello lies in the buffer while the host does not run for ten seconds.
    world.run(20);
    world.now += ms(10_000);
    world.run(1000);
    assert!(told(&world).is_empty(), "{:?}", told(&world));
}

#[test]
fn damage_is_told_once_a_second_with_a_count_and_escaped() {
    let mut world = World::found();
    for _ in 0..30 {
        world.session.receive(b"\x1b[2J rubbish\n", world.now);
        world.run(50);
    }
    let texts: Vec<String> = world
        .events
        .iter()
        .filter_map(|e| match e {
            Event::Trouble(Trouble::Damaged { line, count }) => Some(format!("{count} {line}")),
            _ => None,
        })
        .collect();
    assert_eq!(texts.len(), 2);
    assert!(
        texts[1].starts_with("21 ") && texts[1].contains("\\x1b[2J"),
        "{texts:?}"
    );
    assert_eq!(By::Noisy.to_string(), "noisy");
}
