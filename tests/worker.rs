//! The worker thread in real time, on the firmware core: directly, and over a pseudo-terminal
//! through the serial transport.
#![cfg(feature = "practice")]

#[path = "support/live.rs"]
mod live;
#[path = "support/told.rs"]
mod told;

use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

use hornset::board::{
    Dropped, Event, LinkSettings, LostWhy, Request, ResetCause, Stop, Transport, TransportError,
    Trouble,
};
use hornset::units::{Pin, Pulse};
use live::{Live, Plug};
use std::sync::Arc;
use told::Told;

fn pin(n: u8) -> Pin {
    Pin::new(n).expect("a pin")
}

/// A link on this board.
fn on(live: &Arc<Live>) -> Told {
    let live = Arc::clone(live);
    let open = move || {
        if live.unplugged.load(Ordering::SeqCst) {
            return Err(TransportError::Missing {
                name: "live".into(),
            });
        }
        live.opened.fetch_add(1, Ordering::SeqCst);
        Ok(Box::new(Plug(Arc::clone(&live))) as Box<dyn Transport>)
    };
    Told::start(open, LinkSettings::default())
}

fn found(e: &Event) -> bool {
    matches!(e, Event::Found { .. })
}

#[test]
fn it_opens_finds_answers_and_closes() {
    let live = Live::new();
    let mut told = on(&live);
    told.wait("found", found);
    told.done("guard 22 1000 2000");
    told.done("wake 22 1500");
    told.wait("awake", |e| matches!(e, Event::Awake(p) if *p == pin(22)));
    told.link.jog(pin(22), Pulse::from_halves(3001));
    told.wait("jogged", |e| {
        matches!(e, Event::Jogged { result: Ok(_), .. })
    });
    told.link.stop(Stop::Limp);
    told.wait("stopped", |e| {
        matches!(
            e,
            Event::Stopped {
                stop: Stop::Limp,
                ..
            }
        )
    });
    assert!(live.awake().is_empty());
    let all = told.close();
    assert!(matches!(&all[0], Event::Opened { name, sight: None } if name == "live"));
    assert!(matches!(all.last(), Some(Event::Closed)));
}

#[test]
fn a_link_that_cannot_be_opened_says_why_and_ends() {
    let mut told = Told::start(
        || {
            Err(TransportError::Missing {
                name: "ttyX".into(),
            })
        },
        LinkSettings::default(),
    );
    told.wait("closed", |e| matches!(e, Event::Closed));
    assert!(matches!(
        told.past[0],
        Event::Trouble(Trouble::Open(TransportError::Missing { .. }))
    ));
}

#[test]
fn a_stop_just_before_closing_is_still_carried_out() {
    let live = Live::new();
    let mut told = on(&live);
    told.wait("found", found);
    told.done("wake 22 1500");
    told.wait("awake", |e| matches!(e, Event::Awake(_)));
    told.link.stop(Stop::Limp);
    let all = told.close();
    assert!(all.iter().any(|e| matches!(e, Event::Stopped { .. })));
    assert!(live.awake().is_empty());
}

#[test]
fn unplugged_it_is_lost_and_comes_back_by_itself_with_its_guards() {
    let live = Live::new();
    let mut told = on(&live);
    told.wait("found", found);
    told.done("guard 22 1000 2000");
    live.unplugged.store(true, Ordering::SeqCst);
    told.wait("lost", |e| {
        matches!(
            e,
            Event::Lost {
                why: LostWhy::Unplugged(_)
            }
        )
    });
    let ticket = told.ask("wake 22 1500");
    told.wait(
        "dropped",
        |e| matches!(e, Event::Dropped { ticket: t, why: Dropped::Lost } if *t == ticket),
    );
    live.reset(ResetCause::External);
    live.unplugged.store(false, Ordering::SeqCst);
    told.wait("back", |e| matches!(e, Event::Back { .. }));
    told.wait("reset", |e| matches!(e, Event::Reset { .. }));
    told.wait(
        "restored",
        |e| matches!(e, Event::Restored { guards } if *guards == [pin(22)]),
    );
    assert_eq!(live.opened.load(Ordering::SeqCst), 2);
    assert!(live.awake().is_empty(), "it never wakes a pin by itself");
    told.done("wake 22 1900");
}

/// A transport that stands still in a write until the test lets it go on.
struct Stuck {
    entered: Sender<()>,
    go_on: Receiver<()>,
    written: Sender<Vec<u8>>,
}

impl Transport for Stuck {
    fn read(&mut self, _: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        std::thread::sleep(timeout);
        Ok(0)
    }
    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        // The test may be over: then nobody listens and nothing is left to wait for.
        let _ = self.entered.send(());
        let _ = self.go_on.recv();
        let _ = self.written.send(line.to_vec());
        Ok(())
    }
    fn set_rate(&mut self, _: u32) -> Result<(), TransportError> {
        Ok(())
    }
    fn name(&self) -> &str {
        "stuck"
    }
}

/// No clock is needed to show it: every call returns while the worker stands in a write.
#[test]
fn no_call_waits_for_the_link_and_the_stop_is_next_on_the_wire() {
    let (entered, is_in) = channel();
    let (go, go_on) = channel();
    let (written, lines) = channel();
    let mut once = Some(Stuck {
        entered,
        go_on,
        written,
    });
    let mut told = Told::start(
        move || match once.take() {
            Some(stuck) => Ok(Box::new(stuck) as Box<dyn Transport>),
            None => Err(TransportError::Missing {
                name: "stuck".into(),
            }),
        },
        LinkSettings::default(),
    );
    is_in.recv().expect("the worker writes");
    let tickets: Vec<_> = (0..10_000).map(|_| told.link.ask(Request::Beat)).collect();
    for step in 0..10_000 {
        told.link.jog(pin(22), Pulse::from_halves(3000 + step));
    }
    told.link.alive();
    told.link.stop(Stop::Limp);
    drop(go); // From now on every write returns at once.
    let last = *tickets.last().expect("many");
    told.wait(
        "the last one dropped",
        |e| matches!(e, Event::Dropped { ticket, why: Dropped::Stopped } if *ticket == last),
    );
    told.close();
    let lines: Vec<String> = lines
        .iter()
        .map(|l| String::from_utf8_lossy(&l).trim_end().to_owned())
        .filter(|l| !l.is_empty() && !l.contains("hello"))
        .collect();
    assert!(lines[0].contains(" limp;"), "{lines:?}");
    assert!(lines.iter().all(|l| l.contains(" limp;")), "{lines:?}");
}

#[cfg(unix)]
mod over_a_pty {
    use super::*;
    use hornset::board::ports::PortInfo;
    use hornset::board::serial;
    use hornset::board::traced::Traced;
    use rustix::event::{PollFd, PollFlags, poll};
    use rustix::fs::Timespec;
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use std::fs::File;
    use std::io::{Read, Write};
    use std::sync::Mutex;
    use std::sync::atomic::AtomicBool;
    use std::thread::JoinHandle;

    /// Serves the core on a pseudo-terminal until it is dropped, which hangs it up.
    struct Served {
        path: String,
        end: Arc<AtomicBool>,
        thread: Option<JoinHandle<()>>,
    }

    impl Served {
        fn new(live: Arc<Live>) -> Served {
            let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pty");
            grantpt(&master).expect("grant");
            unlockpt(&master).expect("unlock");
            let path = ptsname(&master, Vec::new()).expect("a name");
            let path = path.into_string().expect("ASCII");
            // Held open until the host has opened it too: a pty nobody holds reads as hung up.
            let keep = File::open(&path).expect("the other end");
            let end = Arc::new(AtomicBool::new(false));
            let ended = Arc::clone(&end);
            let mut master = File::from(master);
            let thread = std::thread::spawn(move || {
                let _keep = keep;
                let mut buf = [0; 512];
                while !ended.load(Ordering::SeqCst) {
                    let readable = {
                        let mut fds = [PollFd::new(&master, PollFlags::IN)];
                        let wait = Timespec {
                            tv_sec: 0,
                            tv_nsec: 1_000_000,
                        };
                        poll(&mut fds, Some(&wait)).is_ok_and(|n| n > 0)
                    };
                    if readable {
                        let count = master.read(&mut buf).unwrap_or(0);
                        live.with(|f| f.receive(&buf[..count]));
                    }
                    let bytes = live.with(|f| f.take_sent(512));
                    master.write_all(&bytes).expect("the pty takes it");
                }
            });
            Served {
                path,
                end,
                thread: Some(thread),
            }
        }

        fn port(&self) -> PortInfo {
            PortInfo {
                path: self.path.clone(),
                usb: None,
            }
        }
    }

    impl Drop for Served {
        fn drop(&mut self) {
            self.end.store(true, Ordering::SeqCst);
            if let Some(thread) = self.thread.take() {
                thread.join().expect("the server ended well");
            }
        }
    }

    #[derive(Clone, Default)]
    struct Trace(Arc<Mutex<Vec<u8>>>);

    impl Write for Trace {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().expect("unpoisoned").extend_from_slice(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn the_serial_transport_carries_a_whole_jog_and_a_hang_up_is_seen() {
        let live = Live::new();
        let served = Served::new(Arc::clone(&live));
        let trace = Trace::default();
        let seen = trace.clone();
        let mut open = serial::opener(served.port(), 250_000);
        let mut told = Told::start(
            move || {
                let traced = Traced::new(open()?, trace.clone());
                Ok(Box::new(traced) as Box<dyn Transport>)
            },
            LinkSettings::default(),
        );
        told.wait("found", found);
        told.done("guard 22 1000 2000");
        told.done("slew 22 100000");
        told.done("wake 22 1500");
        told.wait("awake", |e| matches!(e, Event::Awake(_)));
        for step in 0..=20u16 {
            told.link.jog(pin(22), Pulse::from_halves(3000 + step));
        }
        let to = Pulse::from_halves(3020);
        told.wait(
            "the last set-point",
            |e| matches!(e, Event::Jogged { moves, result: Ok(_) } if moves[..] == [(pin(22), to)]),
        );
        told.link.stop(Stop::Limp);
        told.wait("stopped", |e| matches!(e, Event::Stopped { .. }));
        assert!(live.awake().is_empty());
        drop(served);
        told.wait("lost", |e| {
            matches!(
                e,
                Event::Lost {
                    why: LostWhy::Unplugged(_)
                }
            )
        });
        told.close();
        let text = String::from_utf8(seen.0.lock().expect("unpoisoned").clone()).expect("ASCII");
        assert!(
            text.contains(" wake 22 1500;") && text.contains("< event awake pin=22;"),
            "{text}"
        );
    }

    /// The program's own server of the practice robot, as any other program would use it.
    #[test]
    fn the_practice_robot_on_a_tty_is_a_board_like_any_other() {
        use std::io::{BufRead, BufReader};
        use std::process::{Command, Stdio};
        let mut child = Command::new(env!("CARGO_BIN_EXE_hornset"))
            .args(["practice", "--tty", "--seed", "7"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut first = String::new();
        BufReader::new(child.stdout.take().expect("stdout is piped"))
            .read_line(&mut first)
            .expect("a first line");
        let path = first.trim_end().strip_prefix("tty ").expect("tty PATH");
        let port = PortInfo {
            path: path.to_owned(),
            usb: None,
        };
        let mut told = Told::start(serial::opener(port, 250_000), LinkSettings::default());
        told.wait("found", found);
        told.done("guard 22 1300 1700");
        told.done("wake 22 1500");
        told.wait("awake", |e| matches!(e, Event::Awake(_)));
        told.done("go 100 22:1610.5");
        told.link.stop(Stop::Limp);
        told.wait("stopped", |e| matches!(e, Event::Stopped { .. }));
        child.kill().expect("our own child");
        child.wait().expect("it ends");
        told.wait("lost", |e| matches!(e, Event::Lost { .. }));
    }
}
