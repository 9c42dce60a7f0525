//! The first screen: what is offered, and that nothing is opened before it was chosen by name.

use std::time::Duration;

use super::Desk;
use crate::board::ports::{PortInfo, UsbIdentity};
use crate::console::bench::Place;
use crate::console::effect::{Effect, Input};
use crate::console::pages::first::FirstRun;
use crate::console::view::{First, Page};

fn port(path: &str, usb: bool) -> PortInfo {
    PortInfo {
        path: path.into(),
        usb: usb.then(|| UsbIdentity {
            vendor: 1,
            product: 2,
            serial: Some("77\x1b[2J".into()),
            maker: None,
            name: Some("bridge".into()),
        }),
    }
}

fn shown(desk: &Desk) -> First {
    match desk.screen().page {
        Page::First(first) => first,
        other => panic!("not the first screen: {other:?}"),
    }
}

fn opened(desk: &Desk) -> Vec<Place> {
    let place = |e: &Effect| match e {
        Effect::Open(place) => Some(place.clone()),
        _ => None,
    };
    desk.log.iter().filter_map(place).collect()
}

#[test]
fn without_a_port_the_practice_robot_is_offered_and_opened_only_by_enter() {
    let mut desk = Desk::new();
    desk.input(Input::Ports(Ok(Vec::new())));
    desk.wait(Duration::from_secs(10));
    let first = shown(&desk);
    assert_eq!(first.heading, "No serial port is there.");
    assert_eq!(first.choices[first.chosen].name, "practice robot");
    assert_eq!(opened(&desk), []);
    let looks = desk
        .log
        .iter()
        .filter(|e| **e == Effect::LookForPorts)
        .count();
    assert!((5..=6).contains(&looks), "every two seconds: {looks}");
    desk.keys("<Enter>");
    let practice = Place::Practice {
        seed: 7,
        clean: false,
    };
    assert_eq!(opened(&desk), [practice]);
    assert_eq!(desk.row(0), "Home");
}

#[test]
fn the_clean_robot_is_the_second_line() {
    let mut desk = Desk::new();
    desk.input(Input::Ports(Ok(Vec::new())));
    desk.keys("j <Enter>");
    let clean = Place::Practice {
        seed: 7,
        clean: true,
    };
    assert_eq!(opened(&desk), [clean]);
}

#[test]
fn ports_are_listed_by_name_and_the_chosen_one_is_opened() {
    let mut desk = Desk::new();
    let two = vec![port("/dev/ttyACM1", true), port("/dev/ttyUSB0", true)];
    desk.input(Input::Ports(Ok(two)));
    assert_eq!(shown(&desk).heading, "Two serial ports.");
    desk.says("Enter opens the board on ttyACM1. Connecting resets it: it drops.");
    desk.keys("<Down>");
    desk.says("Enter opens the board on ttyUSB0.");
    assert_eq!(opened(&desk), []);
    desk.keys("<Enter>");
    assert_eq!(opened(&desk), [Place::Port("/dev/ttyUSB0".into())]);
    // Without a file nobody's lengths and plugs are taken for the builder's.
    desk.says("No file: six legs are taken, and their lengths and mounts are examples.");
    assert_eq!(desk.screen().head.robot, "Robot");
    desk.keys("<Enter> <Enter>");
    assert_eq!(desk.state.layers.len(), 1, "it asks where the robot is");
    desk.keys("<Enter> <F2> j <Enter>");
    assert_eq!(desk.row(0), "Jog");
    desk.log.clear();
    desk.keys("w <Enter>");
    assert!(!desk.moved() && desk.log.iter().all(|it| !matches!(it, Effect::Ask(..))));
    desk.keys("S");
    assert_eq!(
        desk.row(2),
        "No file yet. Its lengths and mounts are examples: write yours in."
    );
}

#[test]
fn a_file_that_was_named_is_the_robot_on_any_board() {
    let mut desk = super::foot::desk_of(crate::calibration::MARRAM);
    let place = Place::Port("/dev/ttyUSB0".into());
    desk.state.bench.place = Some(place);
    desk.event(crate::board::Event::Found {
        hello: super::hello(2),
        rate: 250_000,
    });
    assert_eq!(desk.screen().head.robot, "Marram");
}

#[test]
fn a_file_at_hand_is_named_only_as_it_can_be_typed() {
    let said = |files: &[&str]| {
        let mut desk = Desk::new();
        let first = FirstRun::new(7, true);
        desk.state.first = first.with_files(files.iter().map(Into::into).collect());
        shown(&desk).file.map(|(file, _)| file)
    };
    assert_eq!(said(&[]), None);
    assert_eq!(
        said(&["calibrations/crab-2.toml", "calibrations/marram.toml"]).as_deref(),
        Some("none: quit, then hornset --file calibrations/crab-2.toml")
    );
    for odd in [
        "calibrations/my crab.toml",
        "calibrations/a\u{1b}[2J.toml",
        "calibrations/a-name-that-has-no-room-there.toml",
    ] {
        let said = said(&[odd]).expect("a hint");
        assert_eq!(
            said,
            "none: quit, then hornset --file calibrations/NAME.toml"
        );
    }
}

#[test]
fn what_usb_says_of_itself_cannot_move_the_cursor() {
    let mut desk = Desk::new();
    desk.input(Input::Ports(Ok(vec![port("/dev/ttyUSB0\x1b[A", true)])));
    for choice in shown(&desk).choices {
        let all = format!("{}{}{}", choice.name, choice.detail, choice.note);
        assert!(!all.contains(char::is_control), "{all:?}");
    }
}

#[test]
fn a_port_that_appears_above_does_not_change_what_is_chosen() {
    let mut desk = Desk::new();
    desk.input(Input::Ports(Ok(Vec::new())));
    assert_eq!(
        shown(&desk).choices[shown(&desk).chosen].name,
        "practice robot"
    );
    desk.input(Input::Ports(Ok(vec![port("/dev/ttyUSB0", true)])));
    assert_eq!(shown(&desk).choices[0].name, "ttyUSB0");
    assert_eq!(
        shown(&desk).choices[shown(&desk).chosen].name,
        "practice robot"
    );
}

#[test]
fn a_port_that_is_no_usb_port_is_never_offered_first() {
    let mut desk = Desk::new();
    desk.input(Input::Ports(Ok(vec![port("/dev/ttyS0", false)])));
    let first = shown(&desk);
    assert_eq!(first.choices[first.chosen].name, "practice robot");
    assert!(first.choices.iter().any(|c| c.name == "ttyS0"));
}
