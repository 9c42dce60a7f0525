//! Requests: in order, repeated by the same line, and nothing done twice.

use super::*;

#[test]
fn requests_are_done_in_order_and_tags_go_on_from_last() {
    let mut world = World::new(LinkSettings::default());
    world.board.last = 65_534;
    world.open();
    world.run(100);
    world.events.clear();
    world.written.clear();
    for line in [
        "guard 22 1000 2000",
        "wake 22 1500",
        "go 200 22:1600",
        "where 22",
        "sense a0",
    ] {
        world.ask(line);
    }
    world.run(200);
    let changes: Vec<&str> = world
        .written
        .iter()
        .filter_map(|w| w.2.split_once(';').map(|l| l.0))
        .filter(|l| l.contains(" guard") || l.contains(" wake") || l.contains(" go"))
        .collect();
    assert_eq!(
        changes,
        [
            "65535 guard 22 1000 2000",
            "1 wake 22 1500",
            "2 go 200 22:1600"
        ]
    );
    // The scripted board answers `sense` with a bare `done`, which carries no counters: fine.
    assert_eq!(
        told(&world),
        ["1 done", "2 done", "3 done", "4 done", "5 done"]
    );
}

#[test]
fn a_refusal_comes_with_its_reason_and_fields() {
    let mut world = World::found();
    world.ask("go 20 22:1500");
    world.run(50);
    let [
        Event::Answer {
            result: Err(refusal),
            ..
        },
    ] = &world.events[..]
    else {
        panic!("{:?}", world.events);
    };
    assert_eq!(
        (refusal.reason, refusal.pin()),
        (Reason::Limp, Some(pin(22)))
    );
}

#[test]
fn a_line_too_long_for_the_protocol_is_never_sent() {
    let mut world = World::found();
    world.ask(&format!(
        "limp {}",
        (2..70)
            .chain(2..70)
            .map(|n| n.to_string())
            .collect::<Vec<_>>()
            .join(" ")
    ));
    world.run(50);
    assert_eq!(told(&world), ["1 dropped TooLong"]);
    assert!(world.words().is_empty());
}

#[test]
fn an_answer_longer_than_its_request_allows_is_damage() {
    let mut world = World::found();
    world.cut = true;
    world.ask("beat");
    world.run(5);
    world.cut = false;
    world.say(&format!("x={}", "y".repeat(150)));
    let tag = world.board.last + 1;
    let line = emit(Some(tag), &format!("done x={}", "y".repeat(150))).expect("fits a line");
    world.session.receive(&line, world.now);
    world.run(1);
    assert_eq!(told(&world), ["damaged"]);
    world.run(400);
    assert!(told(&world).contains(&"1 done".into()));
}

#[test]
fn a_lost_answer_is_fetched_by_the_same_line_and_nothing_is_done_twice() {
    let mut world = World::found();
    world.ask("slew 22 300");
    world.run(2);
    world.cut = true; // The board has done it, the answer is lost.
    world.run(20);
    assert_eq!(world.done(), ["slew 22 300"]);
    world.cut = false;
    world.run(400);
    assert_eq!(told(&world), ["1 done"]);
    assert_eq!(world.done(), ["slew 22 300"]);
    let lines: Vec<&String> = world
        .written
        .iter()
        .map(|w| &w.2)
        .filter(|l| l.contains("slew"))
        .collect();
    assert_eq!(lines.len(), 2);
    assert_eq!(lines[0], lines[1]);
}

#[test]
fn a_line_that_the_board_received_damaged_is_repeated_at_once() {
    let mut world = World::found();
    world.faults(
        Faults {
            damage: 1.0,
            ..Faults::default()
        },
        3,
    );
    world.ask("slew 22 300");
    world.settle_once();
    world.faults(Faults::default(), 3);
    world.run(30);
    assert!(
        told(&world).contains(&"1 done".into()),
        "{:?}",
        told(&world)
    );
}

#[test]
fn more_pins_than_one_line_holds_are_all_asked_for() {
    let mut world = World::new(LinkSettings::default());
    world.board.awake = (2..26).map(pin).collect();
    world.open();
    world.run(200);
    let pins: usize = world
        .events
        .iter()
        .filter_map(|e| match e {
            Event::Where(part) => Some(part.pins.len()),
            _ => None,
        })
        .sum();
    assert_eq!(pins, 24);
    assert_eq!(world.session.awake.len(), 24);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    /// Whatever the cable does to lines, a change is never done twice, the order is kept, and
    /// what the caller is told is true.
    #[test]
    fn no_fault_of_the_cable_makes_a_change_happen_twice(
        seed in any::<u64>(),
        drop in 0.0..0.4f64,
        damage in 0.0..0.4f64,
        twice in 0.0..0.4f64,
    ) {
        let mut world = World::found();
        world.faults(Faults { drop, damage, twice, delay: 0.0 }, seed);
        let asked: Vec<Ticket> = (1..=30).map(|n| world.ask(&format!("slew 22 {n}"))).collect();
        world.run(30_000);
        world.faults(Faults::default(), 0);
        world.run(8_000);
        let done: Vec<u64> = world
            .done()
            .iter()
            .filter_map(|l| l.strip_prefix("slew 22 "))
            .map(|n| n.parse().expect("a number"))
            .collect();
        // A lost link makes the session forget what was asked: it never sends it again.
        prop_assert!(done.is_sorted_by(|a, b| a < b), "twice or out of order: {done:?}");
        for ticket in asked {
            let fates: Vec<&Event> = world.events.iter().filter(|e| match e {
                Event::Answer { ticket: t, .. } | Event::NoAnswer { ticket: t }
                | Event::Dropped { ticket: t, .. } => *t == ticket,
                _ => false,
            }).collect();
            prop_assert_eq!(fates.len(), 1, "ticket {:?}: {:?}", ticket, fates);
            match fates[0] {
                Event::Answer { result: Ok(_), .. } => prop_assert!(done.contains(&ticket.0)),
                Event::Answer { result: Err(r), .. } => prop_assert!(false, "refused {}", r),
                Event::Dropped { .. } => prop_assert!(!done.contains(&ticket.0)),
                _ => {}
            }
        }
    }

    /// Nothing that a board, or something that is none, can send makes the session fail.
    #[test]
    fn any_bytes_may_come(chunks in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..80), 0..40)) {
        let mut world = World::found();
        for chunk in chunks {
            world.session.receive(&chunk, world.now);
            world.run(3);
        }
        world.session.receive(b"\n", world.now);
        world.ask("beat");
        world.run(500);
        prop_assert!(told(&world).contains(&"1 done".into()));
    }
}
