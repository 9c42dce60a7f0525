//! Of a jog only the newest set-point goes out.

use super::*;

#[test]
fn only_the_newest_set_point_of_a_pin_is_sent() {
    let mut world = World::found();
    world.ask("wake 22 1500");
    world.ask("wake 23 1500");
    world.run(50);
    world.events.clear();
    for step in 0..40 {
        world.session.jog(pin(22), us(1500 + step), world.now);
        if step > 0 {
            world.session.jog(pin(23), us(1400), world.now);
        }
        world.run(if step % 10 == 9 { 20 } else { 0 });
    }
    let jogged = told(&world);
    assert_eq!(jogged[..2], ["jogged 22:1500", "jogged 22:1509 23:1400"]);
    assert_eq!(
        jogged.last().map(String::as_str),
        Some("jogged 22:1539 23:1400")
    );
    assert!(jogged.len() <= 8, "{jogged:?}");
}
