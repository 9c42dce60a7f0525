//! The silence clock is fed while a pin is awake, and a hanging caller is not covered up.

use super::*;

fn beats(world: &World) -> usize {
    world.words().iter().filter(|w| **w == "beat").count()
}

#[test]
fn the_board_is_fed_while_a_pin_is_awake_and_only_then() {
    let mut world = World::found();
    world.run(2000);
    assert_eq!(beats(&world), 0);
    world.ask("wake 22 1500");
    world.run(2000);
    let fed: Vec<Duration> = world.board.done.iter().map(|d| d.0).collect();
    assert!(fed.windows(2).all(|w| w[1] - w[0] <= ms(150)), "{fed:?}");
    assert!((12..=18).contains(&beats(&world)), "{}", beats(&world));
    world.ask("limp 22");
    world.run(50);
    let before = beats(&world);
    world.run(2000);
    assert_eq!(beats(&world), before);
}

#[test]
fn a_caller_that_hangs_is_not_covered_up() {
    let mut world = World::new(LinkSettings {
        alive_within: Some(ms(1000)),
        ..LinkSettings::default()
    });
    world.open();
    world.run(100);
    world.ask("wake 22 1500");
    world.run(900);
    assert!(beats(&world) > 4);
    world.run(300);
    let before = beats(&world);
    world.run(2000);
    assert_eq!(
        beats(&world),
        before,
        "nobody said that the caller still runs"
    );
    world.session.alive(world.now);
    world.run(200);
    assert!(beats(&world) > before);
}

#[test]
fn frozen_for_silence_it_is_left_to_go_limp_until_somebody_asks_for_something() {
    let mut world = World::found();
    world.ask("wake 22 1500");
    world.run(300);
    world.board.frozen = 1;
    world.board.by = "silence";
    world.say("event frozen n=1 by=silence");
    world.run(20);
    let before = beats(&world);
    world.run(2000);
    assert_eq!(beats(&world), before);
    world.ask("thaw 1");
    world.run(500);
    assert!(beats(&world) > before);
    assert!(told(&world).contains(&"frozen 1 by silence".into()));
}

#[test]
fn a_freeze_whose_event_was_lost_is_noticed_within_half_a_second() {
    let mut world = World::found();
    world.ask("wake 22 1500");
    world.run(100);
    world.board.frozen = 3;
    world.board.by = "trip";
    world.run(500);
    assert!(
        told(&world).contains(&"frozen 3 by trip".into()),
        "{:?}",
        told(&world)
    );
    world.say("event frozen n=4 by=noisy");
    world.say("event limp by=trip");
    world.run(20);
    let told = told(&world);
    assert!(told.contains(&"frozen 4 by noisy".into()) && told.contains(&"limp by trip".into()));
}
