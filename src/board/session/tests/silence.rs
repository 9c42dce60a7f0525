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

#[test]
fn silence_times_that_another_program_left_are_told_and_a_reset_ends_them() {
    let silent = |world: &World| -> Vec<(u32, u32)> {
        let events = world.events.iter();
        events
            .filter_map(|event| match event {
                Event::Silence { freeze_ms, limp_ms } => Some((*freeze_ms, *limp_ms)),
                _ => None,
            })
            .collect()
    };
    let mut world = World::found();
    world.run(500);
    assert_eq!(silent(&world), [], "nothing to say of the untouched ones");
    let mut world = World::new(LinkSettings::default());
    world.board.silence = (200, 3000);
    world.open();
    world.run(500);
    assert_eq!(silent(&world), [(200, 3000)]);
    world.ask("silence 400 4000");
    world.run(100);
    assert_eq!(silent(&world), [(200, 3000), (400, 4000)]);
    // After a reset the host's own are set again, and told after the reset.
    world.events.clear();
    world.reset(2, 0, "external");
    world.run(3000);
    let told = told(&world);
    let at = |text: &str| told.iter().position(|it| it.starts_with(text));
    assert!(
        at("reset") < at("Silence") && at("reset").is_some(),
        "{told:?}"
    );
    assert_eq!(silent(&world), [(400, 4000)]);
}
