//! Space on every page, on every kind of step of guided work, in every layer and beside every trouble.
//!
//! What there is comes from the registries themselves ([`PAGES`], [`Task`], the folder of the layers,
//! the step machines' sources, [`Trouble`]): a new one that no test leads to fails here.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::stop::EVERYWHERE;
use super::{Desk, body, foot, hello, refusal};
use crate::board::{self, By, Event, LostWhy, Reason, ResetCause, Stop};
use crate::console::effect::{Effect, FileSaid, Input};
use crate::console::guided::task::Task;
use crate::console::notice::{self, Trouble};
use crate::console::pages::{PAGES, PageId};
use crate::console::view::Whole;
use crate::procedure::Wants;

const SECOND: Duration = Duration::from_secs(1);
const MS: Duration = Duration::from_millis(1);

/// A place in the console, and how to get there.
struct Spot {
    name: String,
    desk: Box<dyn Fn() -> Desk>,
}

fn spot(name: &str, desk: impl Fn() -> Desk + 'static) -> Spot {
    Spot {
        name: name.into(),
        desk: Box::new(desk),
    }
}

/// The femur awake, then this happens.
fn told(name: &str, event: impl Fn() -> Event + 'static) -> Spot {
    spot(name, move || {
        let mut desk = Desk::awake();
        desk.event(event());
        desk
    })
}

/// Some desk, then keys.
fn keyed(name: &str, desk: impl Fn() -> Desk + 'static, keys: &'static str) -> Spot {
    spot(name, move || {
        let mut desk = desk();
        desk.keys(keys);
        desk
    })
}

fn reset() -> Event {
    Event::Reset {
        cause: ResetCause::Watchdog,
        hello: hello(2),
    }
}

fn lost() -> Event {
    Event::Lost {
        why: LostWhy::Quiet,
    }
}

/// Keys on the ground, femur awake, to what is only there.
const GROUND: &[&str] = &["z", "Z"];

/// Every place but the steps of guided work, which [`walk`] goes through.
fn spots() -> Vec<Spot> {
    let mut spots: Vec<Spot> = EVERYWHERE
        .iter()
        .map(|keys| keyed(&format!("keys {keys:?}"), Desk::awake, keys))
        .collect();
    // The list of pages, line by line, and what Enter opens there.
    for (index, page) in PAGES.iter().enumerate() {
        let open = move |enter: &'static str| {
            move || {
                let mut desk = Desk::awake();
                desk.keys("<F2>");
                for _ in 0..PAGES.len() {
                    desk.keys("k");
                }
                for _ in 0..index {
                    desk.keys("j");
                }
                desk.keys(enter);
                desk
            }
        };
        let name = page.name();
        spots.push(spot(&format!("{name} in the list"), open("")));
        spots.push(spot(&format!("{name} opened"), open("<Enter>")));
        spots.push(spot(&format!("{name} begun"), open("<Enter> <Enter>")));
    }
    spots.extend([
        spot("nothing opened yet", Desk::new),
        keyed("the guard asked", Desk::awake, "= 1 6 0 0 <Enter> ]"),
        keyed(
            "taking back asked",
            Desk::awake,
            "m <Enter> <Esc> <Esc> <BS>",
        ),
        keyed("the foot on its way", foot::awake, "l"),
        keyed("a point typed", foot::awake, "= 1"),
        keyed("the knee asked", foot::wide_knee, "K"),
        spot("the knee bending", || {
            let mut desk = foot::wide_knee();
            desk.keys("K <Enter>");
            desk.run(100 * MS, MS);
            assert!(desk.state.motion.is_some());
            desk
        }),
        keyed("the body on its way", body::awake, "k"),
        keyed("a pose typed", body::awake, "= 1"),
        spot("the file exists", || {
            let mut desk = Desk::awake();
            desk.keys("s <Enter>");
            let exists = FileSaid::Exists(PathBuf::from("calibrations/my-marram.toml"));
            desk.input(Input::File(exists));
            desk
        }),
        spot("still there?", || {
            let mut desk = Desk::awake();
            desk.wait(181 * SECOND);
            desk.says("Still there?");
            desk
        }),
        spot("sitting down by itself", || {
            let mut desk = foot::awake();
            let mut waited = 0;
            while desk.state.sitting.is_none() {
                assert!(waited < 220, "it never sits down");
                desk.wait(SECOND);
                waited += 1;
            }
            desk
        }),
        keyed("counting down to wake a leg", Desk::on_jog, "W"),
        spot("waking one after another", || {
            let mut desk = Desk::on_jog();
            desk.keys("W");
            desk.wait(Duration::from_millis(3100));
            assert!(desk.state.queue.is_some());
            desk
        }),
        keyed("frozen", Desk::awake, "p"),
        told("the board froze by silence", || Event::Frozen {
            n: 1,
            by: By::Silence,
        }),
        told("it went limp", || Event::WentLimp { by: By::Noisy }),
        told("the link lost", lost),
        spot("the link back", || {
            let mut desk = Desk::awake();
            desk.event(lost());
            desk.event(Event::Back {
                hello: hello(1),
                rate: 250_000,
            });
            desk
        }),
        told("reset", reset),
        spot("a request refused", || {
            let mut desk = Desk::awake();
            desk.refuse = Some(refusal(Reason::Noisy, ""));
            desk.keys("l");
            desk
        }),
        told("something else is wrong", || {
            Event::Trouble(board::Trouble::NotRestored {
                request: "guard 23 1000 2000".into(),
                why: "noisy".into(),
            })
        }),
    ]);
    spots
}

/// Space here: the first thing asked, everything limp, and nothing moves by itself afterwards.
#[track_caller]
fn stops(desk: &mut Desk, name: &str) {
    pressed(desk, Stop::Limp, name);
    assert!(desk.pulses.is_empty(), "at {name}: {:?}", desk.pulses);
    if desk.state.linked().is_ok() {
        // A reset is still to be answered, limp or not.
        let due = match desk.state.bench.reset {
            true => Whole::Reset,
            false => Whole::Limp,
        };
        assert_eq!(desk.screen().head.state, due, "at {name}");
    }
    desk.run(4 * SECOND, 50 * MS);
    assert!(!desk.moved(), "at {name}: {:?}", desk.asked());
    assert!(desk.pulses.is_empty(), "at {name}");
}

/// On the ground: held where it stands, and nothing moves by itself afterwards.
#[track_caller]
fn freezes(desk: &mut Desk, name: &str) {
    let before = desk.pulses.clone();
    pressed(desk, Stop::Freeze, name);
    assert_eq!(desk.screen().head.state, Whole::Frozen, "at {name}");
    desk.run(4 * SECOND, 50 * MS);
    assert!(!desk.moved(), "at {name}: {:?}", desk.asked());
    assert_eq!(desk.pulses, before, "at {name}");
}

#[track_caller]
fn pressed(desk: &mut Desk, stop: Stop, name: &str) {
    desk.log.clear();
    desk.keys("<Space>");
    assert_eq!(desk.log.first(), Some(&Effect::Stop(stop)), "at {name}");
}

fn wants(wants: &Wants) -> &'static str {
    match wants {
        Wants::Wait => "Wait",
        Wants::Enter => "Enter",
        Wants::Value { .. } => "Value",
        Wants::Text { .. } => "Text",
        Wants::Pick { .. } => "Pick",
        Wants::YesNo => "YesNo",
        Wants::Nudge => "Nudge",
        Wants::FreeOrEnd { .. } => "FreeOrEnd",
        Wants::JointAndWay => "JointAndWay",
        Wants::Over => "Over",
    }
}

/// One of each kind that [`trouble`] knows.
const TROUBLES: &[&str] = &[
    "Frozen", "WentLimp", "Lost", "Back", "Reset", "Refused", "Told", "Nobody",
];

fn trouble(trouble: &Trouble) -> &'static str {
    // A new kind goes into TROUBLES too.
    match trouble {
        Trouble::Frozen { .. } => "Frozen",
        Trouble::WentLimp { .. } => "WentLimp",
        Trouble::Lost => "Lost",
        Trouble::Back => "Back",
        Trouble::Reset { .. } => "Reset",
        Trouble::Refused { .. } => "Refused",
        Trouble::Told { .. } => "Told",
        Trouble::Nobody { .. } => "Nobody",
    }
}

/// Where a desk is, as the names that the registries are held against.
fn whereabouts(desk: &Desk) -> Vec<String> {
    let mut names = vec![format!("page {}", desk.state.page().name())];
    if let Some(layer) = desk.state.top() {
        names.push(format!("layer {}", word(&format!("{layer:?}"))));
    }
    if let Some((_, it)) = notice::shown(&desk.state.troubles) {
        names.push(format!("trouble {}", trouble(it)));
    }
    if let (PageId::Work(task), Some(guided)) = (desk.state.page, &desk.state.guided) {
        let step = guided.step();
        // What every machine says after a stop is not the step itself.
        let stopped = match step.second.starts_with("A joint that this step needs") {
            true => ", stopped",
            false => "",
        };
        names.push(format!("{} {}{stopped}", task.name(), wants(&step.wants)));
    }
    names
}

/// The identifier at the beginning.
fn word(text: &str) -> String {
    text.chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect()
}

/// The sources of a task's step machine, in the folder of the procedures.
fn machine(task: Task) -> &'static [&'static str] {
    match task {
        Task::Supply => &["supply.rs"],
        Task::Servo => &["servo.rs"],
        Task::Horns => &["horns.rs", "horns/words.rs"],
        Task::Plugs => &["plugs.rs", "plugs/words.rs"],
        Task::Bounds => &["bounds.rs"],
        Task::Marks => &["marks/mod.rs", "marks/words.rs"],
        Task::Ends => &["ends/mod.rs", "ends/words.rs"],
        Task::Check => &["check.rs"],
        Task::Replace => &["replace.rs"],
        Task::Waking => &["wakeplan.rs"],
    }
}

fn source(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(path);
    let text = fs::read_to_string(&path).expect("a source");
    // Tests stand at a file's end.
    let code = text.split("mod tests {").next().unwrap_or_default();
    code.to_owned()
}

/// The words behind each `before` in a source.
fn words_after(source: &str, before: &str) -> Vec<String> {
    source
        .match_indices(before)
        .map(|(at, _)| word(&source[at + before.len()..]))
        .collect()
}

/// Everything that Space must stop, from the registries.
fn all_there_is() -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    for page in PAGES {
        all.insert(format!("page {}", page.name()));
        if let PageId::Work(task) = page.id() {
            for file in machine(task) {
                let source = source(&format!("procedure/{file}"));
                for kind in words_after(&source, "Wants::") {
                    all.insert(format!("{} {kind}", task.name()));
                }
            }
        }
    }
    let layers = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/console/layers");
    for entry in fs::read_dir(layers).expect("the folder of the layers") {
        let name = entry.expect("an entry").file_name();
        let source = source(&format!("console/layers/{}", name.to_string_lossy()));
        for layer in words_after(&source, "impl Layer for ") {
            all.insert(format!("layer {layer}"));
        }
    }
    all.extend(TROUBLES.iter().map(|it| format!("trouble {it}")));
    all
}

/// Opens guided work from Home with the first width it offers.
fn opened(mut desk: Desk, task: Task) -> Desk {
    desk.keys("i <F2>");
    for _ in 0..PAGES.len() {
        desk.keys("k");
    }
    let at = PAGES.iter().position(|it| it.id() == PageId::Work(task));
    for _ in 0..at.expect("listed") {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    if task.widths().len() > 1 {
        desk.keys("<Enter>");
    }
    assert_eq!(desk.state.page, PageId::Work(task));
    desk
}

/// The angle of this test's femur at the pulse it is commanded to.
fn angle(desk: &Desk) -> f64 {
    desk.femur_pulse().map_or(25.0, |us| (us - 1487.5) / 10.62)
}

/// What a builder answers; `turn` counts the inputs so far, and an `odd` one has exchanged two plugs and takes every list's last line.
fn answer(desk: &mut Desk, turn: usize, odd: bool) {
    let typed = |desk: &mut Desk, text: &str| {
        for c in text.chars() {
            desk.keys(&c.to_string());
        }
        desk.keys("<Enter>");
    };
    match desk.step().wants {
        Wants::Wait => desk.wait(50 * MS),
        Wants::Value { start: Some(_), .. } => desk.keys("<Enter>"),
        Wants::Value {
            unit: "°",
            low,
            high,
            ..
        } => {
            // The horn of an odd one has slipped since.
            let slipped = odd && desk.state.page == PageId::Work(Task::Check);
            let angle = angle(desk) + if slipped { 9.0 } else { 0.0 };
            // At its servo's own end a bare arm is limp, and far from where the leg stood.
            let fits = (low..=high).contains(&angle);
            let angle = if fits { angle } else { (low + high) / 2.0 };
            typed(desk, &format!("{angle:.1}"));
        }
        Wants::Value { low, high, .. } => typed(desk, &format!("{}", (low + high) / 4.0)),
        Wants::Text { .. } => typed(desk, "21"),
        Wants::FreeOrEnd { .. } => {
            let free = desk
                .femur_pulse()
                .is_none_or(|us| (868.0..=2268.0).contains(&us));
            desk.keys(if free { "n" } else { "E" });
        }
        Wants::JointAndWay => {
            // The pins are 22 to 39 in the order of the joints.
            let place = match desk.step().picture.pin.expect("the nudged one").number() {
                22 if odd => 1,
                23 if odd => 0,
                pin => pin - 22,
            };
            let leg = ["e", "d", "c", "r", "f", "v"][usize::from(place / 3)];
            let joint = ["u k", "i k", "o j"][usize::from(place % 3)];
            desk.keys(&format!("{leg} {joint} <Enter>"));
        }
        Wants::Pick { .. } if odd && desk.state.page == PageId::Work(Task::Horns) => {
            match desk.step().big {
                "HOW FAR DOES IT TURN?" | "UNSCREW THE LEG" => desk.keys("j <Enter>"),
                _ => desk.keys("<Enter>"),
            }
        }
        Wants::Pick { .. } if odd => desk.keys("j j j j <Enter>"),
        // Yes at first; once there was more than enough, no more of it.
        Wants::YesNo if turn > 200 => desk.keys("n"),
        Wants::Enter | Wants::Pick { .. } | Wants::YesNo | Wants::Nudge | Wants::Over => {
            desk.keys("<Enter>");
        }
    }
}

/// Goes through guided work to its end, with Space at the first step of each kind; what follows takes the work up again.
fn walk(mut desk: Desk, odd: bool, seen: &mut BTreeSet<String>) {
    let page = desk.state.page;
    for turn in 0..4000 {
        let names = whereabouts(&desk);
        let fresh = names.iter().any(|it| !seen.contains(it));
        if fresh {
            let name = names.join(", ");
            seen.extend(names);
            stops(&mut desk, &name);
            continue;
        }
        if desk.row(1).starts_with("Enter leaves") {
            return;
        }
        match desk.state.layers.is_empty() {
            true => answer(&mut desk, turn, odd),
            false => desk.wait(50 * MS),
        }
        assert_eq!(
            desk.state.page,
            page,
            "left by itself from {names:?}: {}",
            desk.row(1)
        );
    }
    panic!("it never ends: {:?}", desk.step());
}

#[test]
fn space_stops_wherever_there_is_anything() {
    let mut seen = BTreeSet::new();
    for spot in spots() {
        let mut desk = (spot.desk)();
        seen.extend(whereabouts(&desk));
        stops(&mut desk, &spot.name);
    }
    for keys in GROUND.iter().chain(EVERYWHERE) {
        let mut desk = Desk::on_the_ground();
        desk.keys(keys);
        if desk.pulses.is_empty() {
            // It was let go by these keys.
            continue;
        }
        seen.extend(whereabouts(&desk));
        freezes(&mut desk, &format!("keys {keys:?} on the ground"));
    }
    for page in PAGES {
        let PageId::Work(task) = page.id() else {
            continue;
        };
        let desk = match task {
            Task::Supply => {
                let mut desk = Desk::new();
                desk.open();
                desk.keys("<Enter> <Enter>");
                desk
            }
            Task::Servo | Task::Plugs | Task::Waking => Desk::supplied(),
            Task::Horns | Task::Bounds | Task::Replace => Desk::found_plugs(),
            Task::Marks | Task::Ends => Desk::bounded(),
            Task::Check => super::guided::joints::measured(),
        };
        walk(opened(desk, task), false, &mut seen);
    }
    // Exchanged plugs are accepted; an edge on two screw heads instead of a gauge.
    walk(opened(Desk::supplied(), Task::Plugs), true, &mut seen);
    walk(opened(Desk::bounded(), Task::Marks), true, &mut seen);
    // Each servo is measured, with its leg off.
    walk(opened(Desk::found_plugs(), Task::Horns), true, &mut seen);
    // A joint that the check finds off.
    walk(
        opened(super::guided::joints::measured(), Task::Check),
        true,
        &mut seen,
    );
    // Which pins are to be tried is asked where no plan says it.
    walk(
        opened(Desk::without_a_plan(6), Task::Plugs),
        false,
        &mut seen,
    );
    let all = all_there_is();
    let missed: Vec<&String> = all.difference(&seen).collect();
    assert!(missed.is_empty(), "nothing presses Space at {missed:?}");
}

/// The comparison can fail: the registries are read, not guessed.
#[test]
fn what_there_is_comes_from_the_registries() {
    let all = all_there_is();
    for name in [
        "page Foot jog",
        "page Ends",
        "layer Point",
        "layer Bend",
        "layer Overwrite",
        "layer Count",
        "layer Scope",
        "trouble Nobody",
        "Marks Nudge",
        "Ends FreeOrEnd",
    ] {
        assert!(all.contains(name), "{name} is not in {all:?}");
    }
    assert_eq!(
        words_after("impl Layer for Novel {", "impl Layer for "),
        ["Novel"]
    );
}
