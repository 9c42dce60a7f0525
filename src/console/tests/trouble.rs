//! What went wrong: texts, what stays, what Enter does; resets; nobody there; waiting.

use std::time::Duration;

use super::{Desk, hello, pin};
use crate::board::{By, Event, LostWhy, Reason, ResetCause};
use crate::console::effect::Effect;
use crate::console::view::{Link, Whole};

impl Desk {
    fn reset(&mut self, cause: ResetCause, boot: u16) {
        self.pulses.clear();
        self.event(Event::Reset {
            cause,
            hello: hello(boot),
        });
    }

    fn bells(&self) -> Vec<u8> {
        let bell = |e: &Effect| match e {
            Effect::Bell(n) => Some(*n),
            _ => None,
        };
        self.log.iter().filter_map(bell).collect()
    }
}

#[test]
fn the_texts_of_the_screens_page() {
    let mut desk = Desk::awake();
    desk.freezes = 4;
    desk.frozen = true;
    desk.event(Event::Frozen {
        n: 4,
        by: By::Silence,
    });
    desk.says("The board heard nothing for 500 ms and froze. Enter thaws.");
    assert!(desk.row(2).starts_with("Limp in 9 s if nothing is done."));
    desk.wait(Duration::from_secs(3));
    assert!(desk.row(2).starts_with("Limp in 6 s"), "{}", desk.row(2));
    desk.event(Event::Frozen {
        n: 5,
        by: By::Noisy,
    });
    desk.says("Eight damaged lines in a second: the board froze.");
    desk.event(Event::WentLimp { by: By::Silence });
    desk.says("The board heard nothing for 10 s and went limp.");
    assert!(desk.screen().notice.alarm);
}

#[test]
fn the_boards_own_silence_times_are_counted_and_a_reset_ends_them() {
    let mut desk = Desk::awake();
    let silence = |freeze_ms, limp_ms| Event::Silence { freeze_ms, limp_ms };
    desk.event(silence(1250, 60_000));
    desk.freezes = 4;
    desk.frozen = true;
    let by = By::Silence;
    desk.event(Event::Frozen { n: 4, by });
    desk.says("The board heard nothing for 1.25 s and froze. Enter thaws.");
    assert!(desk.row(2).starts_with("Limp in 58 s"), "{}", desk.row(2));
    desk.wait(Duration::from_secs(3));
    assert!(desk.row(2).starts_with("Limp in 55 s"), "{}", desk.row(2));
    desk.event(silence(100, 100));
    desk.event(Event::Frozen { n: 5, by });
    desk.says("The board heard nothing for 100 ms and froze. Enter thaws.");
    assert!(desk.row(2).starts_with("Limp in 0 s"), "{}", desk.row(2));
    desk.event(silence(200, 3000));
    desk.event(Event::WentLimp { by });
    desk.says("The board heard nothing for 3 s and went limp.");
    let lost = || Event::Lost {
        why: LostWhy::Quiet,
    };
    let mut desk = Desk::awake();
    desk.event(silence(200, 3000));
    desk.event(lost());
    desk.says("Link lost. The board freezes by itself and goes limp after 3 s.");
    let mut desk = Desk::awake();
    desk.event(silence(200, 3000));
    desk.reset(ResetCause::External, 2);
    desk.keys("<Esc>");
    desk.event(lost());
    desk.says("Link lost. The board freezes by itself and goes limp after 10 s.");
}

#[test]
fn a_brown_out_is_said_and_enter_wakes_what_was_awake() {
    let mut desk = Desk::awake();
    desk.keys("= 1 5 5 0 <Enter>");
    desk.log.clear();
    desk.reset(ResetCause::Brownout, 412);
    assert_eq!(desk.bells(), [2]);
    assert_eq!(desk.screen().head.state, Whole::Reset);
    desk.says("The board reset: its supply dipped (brown-out, boot 412).");
    let second = |desk: &Desk| desk.screen().notice.second;
    assert_eq!(second(&desk), "All limp. Guards are being set again.");
    desk.keys("<Enter>");
    assert!(desk.screen().notice.alarm, "guards first");
    desk.event(Event::Restored {
        guards: vec![pin(23)],
    });
    assert!(
        second(&desk).ends_with("Enter: wake one by one."),
        "{}",
        second(&desk)
    );
    desk.keys("<Enter>");
    desk.says("Hands away. What was awake wakes in 3 s");
    desk.log.clear();
    desk.wait(Duration::from_millis(3100));
    assert_eq!(desk.asked(), ["wake 23 1550"]);
    assert_eq!(desk.screen().head.state, Whole::Awake(1));
}

#[test]
fn esc_after_a_reset_wakes_nothing() {
    let mut desk = Desk::awake();
    desk.reset(ResetCause::Watchdog, 3);
    desk.event(Event::Restored { guards: Vec::new() });
    desk.log.clear();
    desk.keys("<Esc>");
    desk.wait(Duration::from_secs(6));
    assert!(!desk.moved());
    assert_eq!(desk.screen().head.state, Whole::Limp);
}

#[test]
fn a_stop_forgets_what_was_awake() {
    let mut desk = Desk::awake();
    desk.reset(ResetCause::Brownout, 9);
    desk.event(Event::Restored { guards: Vec::new() });
    desk.keys("<Space> <Enter>");
    desk.log.clear();
    desk.wait(Duration::from_secs(6));
    assert!(!desk.moved());
}

#[test]
fn a_lost_link_counts_up_and_comes_back() {
    let mut desk = Desk::awake();
    desk.mute = true;
    desk.event(Event::Lost {
        why: LostWhy::Quiet,
    });
    desk.wait(Duration::from_secs(3));
    desk.says("Link lost. The board freezes by itself and goes limp after 10 s.");
    assert_eq!(desk.screen().head.link, Link::Lost { seconds: 3 });
    assert_eq!(desk.screen().big_words, "LINK LOST");
    desk.event(Event::Back {
        hello: hello(2),
        rate: 250_000,
    });
    desk.reset(ResetCause::External, 2);
    desk.event(Event::Restored { guards: Vec::new() });
    desk.says("The board is back. All 18 pins are limp, guards are set again.");
    assert!(
        desk.row(2)
            .starts_with("Enter wakes what was awake, one at a time")
    );
}

#[test]
fn of_two_the_one_that_lets_something_fall_is_shown_and_the_other_counted() {
    let mut desk = Desk::awake();
    desk.refuse = Some(super::refusal(Reason::Noisy, ""));
    desk.keys("l");
    desk.event(Event::Frozen {
        n: 1,
        by: By::Noisy,
    });
    desk.says("Eight damaged lines");
    assert_eq!(desk.screen().notice.more, 1);
    desk.keys("<Esc>");
    desk.says("Refused: noisy");
}

#[test]
fn nobody_there_asks_rings_and_then_lets_go() {
    let mut desk = Desk::awake();
    desk.log.clear();
    desk.wait(Duration::from_secs(179));
    assert!(desk.bells().is_empty());
    desk.wait(Duration::from_secs(2));
    desk.says("Still there? Any key. Rest pose in 29 s, then limp.");
    assert_eq!(desk.bells(), [1]);
    // Any key answers it and does nothing else.
    desk.keys("l");
    assert!(!desk.moved());
    desk.says("Bring the edge");
    desk.wait(Duration::from_secs(181));
    desk.log.clear();
    desk.wait(Duration::from_secs(30));
    assert_eq!(desk.bells(), [1, 1], "at 10 and at 5 s");
    assert_eq!(
        desk.asked(),
        ["STOP limp"],
        "nothing is calibrated: no rest pose"
    );
    desk.says("No key was pressed for three and a half minutes: all goes limp.");
    assert!(desk.pulses.is_empty());
}

#[test]
fn nobody_there_takes_the_rest_pose_first_where_it_can() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> = 1 5 4 0 <Enter> m 4 <Enter> = 1 4 5 0 <Enter>");
    desk.log.clear();
    desk.wait(Duration::from_secs(211));
    assert_eq!(desk.asked(), ["go 4000 23:1600"]);
    desk.wait(Duration::from_secs(5));
    assert_eq!(desk.asked(), ["go 4000 23:1600", "STOP limp"]);
}

#[test]
fn nobody_is_asked_while_nothing_is_awake() {
    let mut desk = Desk::on_jog();
    desk.wait(Duration::from_secs(400));
    assert!(!desk.screen().notice.alarm && desk.bells().is_empty());
}

#[test]
fn waiting_for_the_board_is_said_after_300_ms() {
    let mut desk = Desk::on_jog();
    desk.mute = true;
    desk.keys("w <Enter>");
    desk.wait(Duration::from_millis(250));
    desk.says("Enter: wake");
    desk.wait(Duration::from_millis(100));
    desk.says("Waiting for the board: wake of pin 23.");
}

#[test]
fn a_port_that_cannot_be_opened_leads_back_to_the_first_screen_with_the_remedy() {
    let mut desk = Desk::new();
    desk.open();
    desk.event(Event::Trouble(crate::board::Trouble::Open(
        crate::board::TransportError::Denied {
            name: "/dev/ttyUSB0".into(),
            remedy: crate::board::serial::NO_RIGHT.into(),
        },
    )));
    desk.event(Event::Closed);
    assert_eq!(desk.row(0), "hornset 0.1");
    desk.says("Permission denied on /dev/ttyUSB0.");
    assert_eq!(
        desk.row(2),
        "Ask whoever runs this machine for the right to open it"
    );
}

/// Everything that the board's side says, by the same fitter as everything else: [`Desk`] looks at each pair of lines.
#[test]
fn every_remedy_of_the_boards_side_is_read_whole_at_80_columns() {
    use crate::board::serial::{self, brief};
    use crate::board::{TransportError, Trouble};
    let port = || brief("/dev/serial/by-id/usb-A_Maker_Of_Bridges_0042-if00-port0");
    let mut remedies = vec![
        serial::NO_RIGHT.to_owned(),
        serial::HELD_OR_FORBIDDEN.to_owned(),
    ];
    #[cfg(unix)]
    {
        remedies.push(serial::NO_GROUP.to_owned());
        // A name of 32 characters is the longest there is (useradd(8)).
        for name in ["dialout", "sixteen_letters_", &"g".repeat(32)] {
            let groups = format!("{name}:x:20:\n");
            remedies.push(serial::group_remedy(0o020660, 20, &groups));
        }
    }
    let mut open: Vec<TransportError> = remedies
        .into_iter()
        .map(|remedy| TransportError::Denied {
            name: port(),
            remedy,
        })
        .collect();
    open.extend([
        TransportError::Missing { name: port() },
        TransportError::Busy { name: port() },
        TransportError::Rate {
            name: port(),
            baud: 250_000,
        },
        TransportError::Unplugged {
            name: port(),
            source: std::io::Error::from_raw_os_error(5),
        },
        TransportError::Open {
            name: port(),
            reason: "Inappropriate ioctl for device. See `hornset ports`".into(),
        },
    ]);
    for error in open {
        let mut desk = Desk::new();
        desk.open();
        let text = error.to_string();
        let (_, remedy) = text.split_once(": ").expect("what, then what to do");
        let remedy = remedy.to_lowercase();
        desk.event(Event::Trouble(Trouble::Open(error)));
        assert_eq!(desk.row(2).to_lowercase(), remedy, "{text}");
    }
    let long = "roster 22 23 24 25 26 27 28 29 30 31 32 33 34 35 36 37 38 39";
    for trouble in [
        Trouble::NoBoard {
            rates: vec![250_000, 115_200],
        },
        Trouble::OtherProto {
            proto: 4_000_000_000,
            fw: "a-firmware-with-a-long-name-2026.3.14".into(),
        },
        Trouble::StopUnanswered(crate::board::Stop::Limp),
        Trouble::NotRestored {
            request: long.into(),
            why: "guard: pin 23 takes 1400 to 1600 µs".into(),
        },
    ] {
        let mut desk = Desk::awake();
        desk.state.bench.name = port();
        desk.event(Event::Trouble(trouble));
        assert!(!desk.row(2).is_empty());
    }
    for reason in Reason::ALL {
        for fields in [
            "",
            "pin=A15",
            "pin=23 low=1400.5 high=1600.5",
            "last=65535",
            "n=4294967295",
        ] {
            let mut desk = Desk::awake();
            desk.refuse = Some(super::refusal(*reason, fields));
            desk.keys("l");
            assert!(desk.row(1).starts_with("Refused: "), "{}", desk.row(1));
        }
    }
}

#[test]
fn every_size_is_drawn_in_every_state() {
    use crate::console::theme::Look;
    use crate::console::view;
    use ratatui::{buffer::Buffer, layout::Rect};
    for keys in [
        "", "<Esc>", "?", "G", "W", "q", "s", "=", "m", "B", "<F2>", "B W",
    ] {
        let mut desk = Desk::awake();
        desk.keys("u");
        desk.keys(keys);
        for (columns, rows) in [(0, 0), (1, 1), (20, 5), (80, 24), (120, 36), (200, 60)] {
            desk.input(crate::console::effect::Input::Size(columns, rows));
            let area = Rect::new(0, 0, columns, rows);
            let mut buffer = Buffer::empty(area);
            view::draw(&desk.screen(), Look::default(), area, &mut buffer);
        }
    }
}

#[test]
fn every_sentence_fits_into_80_columns() {
    let mut long: Vec<String> = Vec::new();
    let mut check = |desk: &Desk, after: &str| {
        for row in [desk.row(1), desk.row(2)] {
            // Behind ` ► `.
            if row.chars().count() > 77 {
                long.push(format!("{} after {after}: {row}", row.chars().count()));
            }
        }
    };
    let mut limp = Desk::new();
    check(&limp, "first");
    limp.keys("<Down> <Down>");
    check(&limp, "look again");
    for keys in super::stop::EVERYWHERE {
        let mut desk = Desk::awake();
        desk.keys(keys);
        check(&desk, keys);
        desk.keys("<Enter>");
        check(&desk, &format!("{keys} <Enter>"));
        let mut desk = Desk::on_the_ground();
        desk.keys("r o w <Enter>");
        desk.keys(keys);
        check(&desk, &format!("ground {keys}"));
        let mut desk = Desk::on_jog();
        desk.keys(keys);
        check(&desk, &format!("limp {keys}"));
    }
    for keys in [
        "= 1 3 9 0 <Enter>",
        "= 1 4 0 0 <Enter> E <Enter> E",
        "= 1 4 0 0 <Enter> E <Enter> <BS>",
        "m 4 <Enter>",
        "m <Enter> = 1 5 4 0 <Enter> m 4 <Enter>",
        "m <Enter> = 1 5 4 0 <Enter> m 4 <Enter> h",
        "m <Enter> = 1 5 4 0 <Enter> m 4 <Enter> y",
        "= 1 6 0 0 <Enter> ] <Enter> = 1 6 4 0 <Enter> <BS>",
        "m <Enter> <BS>",
        "]",
        "<Tab>",
        "k",
    ] {
        let mut desk = Desk::awake();
        desk.keys("r o w <Enter>");
        desk.keys(keys);
        check(&desk, keys);
    }
    let mut desk = Desk::awake();
    for by in [By::Asked, By::Silence, By::Trip, By::Noisy] {
        desk.freezes += 1;
        let n = desk.freezes;
        desk.event(Event::Frozen { n, by });
        check(&desk, "frozen");
        desk.keys("<Esc>");
        check(&desk, "frozen <Esc>");
        desk.event(Event::WentLimp { by });
        check(&desk, "went limp");
        desk.keys("<Esc>");
    }
    for cause in [
        ResetCause::Power,
        ResetCause::Brownout,
        ResetCause::Watchdog,
        ResetCause::External,
        ResetCause::Unknown,
    ] {
        let mut desk = Desk::awake();
        desk.reset(cause, 65_535);
        check(&desk, "reset");
        desk.event(Event::Restored { guards: Vec::new() });
        check(&desk, "restored");
    }
    desk.event(Event::Lost {
        why: LostWhy::Quiet,
    });
    check(&desk, "lost");
    desk.event(Event::Back {
        hello: hello(2),
        rate: 250_000,
    });
    check(&desk, "back");
    assert!(long.is_empty(), "{}", long.join("\n"));
}
