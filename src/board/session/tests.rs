use super::fake::World;
use super::*;
use crate::board::answer::{By, Reason, ResetCause};
use crate::board::event::Trouble;
use crate::board::faulty::Faults;
use proptest::prelude::*;

fn pin(n: u8) -> Pin {
    Pin::new(n).expect("a pin")
}

fn us(us: u16) -> Pulse {
    Pulse::from_halves(2 * us)
}

/// The events in short, pictures and counters left out.
fn told(world: &World) -> Vec<String> {
    world
        .events
        .iter()
        .filter(|e| !matches!(e, Event::Where(_) | Event::Sense(_)))
        .map(|e| match e {
            Event::Found { rate, .. } => format!("found at {rate}"),
            Event::Back { rate, .. } => format!("back at {rate}"),
            Event::Answer {
                ticket,
                result: Ok(_),
            } => format!("{} done", ticket.0),
            Event::Answer {
                ticket,
                result: Err(r),
            } => format!("{} refused {}", ticket.0, r.reason),
            Event::NoAnswer { ticket } => format!("{} no answer", ticket.0),
            Event::Dropped { ticket, why } => format!("{} dropped {why:?}", ticket.0),
            Event::Jogged { moves, result } => {
                let to: Vec<String> = moves.iter().map(|(p, u)| format!("{p}:{u}")).collect();
                let end = if result.is_ok() { "" } else { " refused" };
                format!("jogged {}{end}", to.join(" "))
            }
            Event::Stopped { stop, n } => format!("stopped {stop:?} {n:?}"),
            Event::Frozen { n, by } => format!("frozen {n} by {by}"),
            Event::WentLimp { by } => format!("limp by {by}"),
            Event::Awake(pin) => format!("awake {pin}"),
            Event::Reset { cause, .. } => format!("reset {cause}"),
            Event::Restored { guards } => format!("restored {}", guards.len()),
            Event::Lost { why } => format!("lost {why:?}"),
            Event::Trouble(Trouble::NoBoard { rates }) => format!("no board {rates:?}"),
            Event::Trouble(Trouble::OtherProto { proto, .. }) => format!("proto {proto}"),
            Event::Trouble(Trouble::Damaged { .. }) => "damaged".into(),
            Event::Trouble(Trouble::StopUnanswered(stop)) => format!("unanswered {stop:?}"),
            Event::Trouble(Trouble::NotRestored { request, .. }) => {
                format!("not restored {request}")
            }
            other => format!("{other:?}"),
        })
        .collect()
}

// ---- finding the board ----

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

// ---- requests ----

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

// ---- stops ----

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

// ---- jogging ----

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

// ---- silence ----

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

// ---- resets ----

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

// ---- the link ----

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
