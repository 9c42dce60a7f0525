//! Finding the board: rates, echoes, a board of another protocol.

use super::*;

#[test]
fn the_board_is_found_at_either_rate_without_a_reopening() {
    for rate in [250_000, 115_200] {
        let mut world = World::new(LinkSettings::default());
        world.board.rate = rate;
        world.open();
        world.run(1000);
        assert_eq!(told(&world)[0], format!("found at {rate}"));
    }
}

#[test]
fn a_board_that_resets_when_the_port_is_opened_is_waited_for() {
    let mut world = World::new(LinkSettings::default());
    world.open();
    world.reset(8, 1900, "external");
    world.run(3000);
    assert_eq!(told(&world), ["found at 250000"]);
}

#[test]
fn the_rate_at_which_the_board_announces_itself_is_kept() {
    let mut world = World::new(LinkSettings::default());
    world.open();
    world.reset(8, 1100, "external"); // Its `ready` comes while 115200 has its turn.
    world.board.rate = 115_200;
    world.run(3000);
    assert_eq!(told(&world), ["found at 115200"]);
    let hellos: Vec<u32> = world
        .written
        .iter()
        .filter(|w| w.2.contains("hello"))
        .map(|w| w.1)
        .collect();
    assert_eq!(hellos[..5], [250_000, 115_200, 250_000, 115_200, 115_200]);
}

#[test]
fn hello_goes_out_at_both_rates_in_turn_every_300_ms_for_4_s() {
    let mut world = World::new(LinkSettings::default());
    world.board.deaf_until = Duration::MAX;
    world.open();
    let start = world.now;
    world.run(5000);
    assert_eq!(told(&world), ["no board [250000, 115200]"]);
    assert!(world.session.ended());
    let hellos: Vec<(u128, u32)> = world
        .written
        .iter()
        .filter(|w| w.2.contains("hello"))
        .map(|w| ((w.0 - start).as_millis(), w.1))
        .collect();
    let wanted: Vec<(u128, u32)> = (0..14)
        .map(|k| (300 * k, if k % 2 == 0 { 250_000 } else { 115_200 }))
        .collect();
    assert_eq!(hellos, wanted);
}

#[test]
fn a_cable_that_only_echoes_is_no_board() {
    let mut world = World::new(LinkSettings::default());
    world.loopback = true;
    world.open();
    world.run(5000);
    assert_eq!(told(&world), ["no board [250000, 115200]"]);
}

#[test]
fn another_proto_is_read_and_stopped_and_nothing_else() {
    let mut world = World::new(LinkSettings::default());
    world.board.proto = 2;
    world.ask("wake 22 1500");
    world.open();
    world.run(500);
    world.ask("guard 22 1000 2000");
    world.session.jog(pin(22), us(1500), world.now);
    world.ask("sense");
    world.session.stop(Stop::Limp, world.now);
    world.run(3000);
    assert_eq!(world.words(), ["limp"]);
    let told = told(&world);
    assert_eq!(told[0], "proto 2");
    assert!(told.contains(&"1 dropped OtherProto".into()), "{told:?}");
    assert!(told.contains(&"2 dropped OtherProto".into()), "{told:?}");
    assert!(told.contains(&"stopped Limp None".into()), "{told:?}");
    assert!(!told.iter().any(|t| t.starts_with("reset")), "{told:?}");
}
