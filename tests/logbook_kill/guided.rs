//! The real console, killed while the builder answers on guided pages and each answer is recorded when it is given.
//!
//! An answer is shown as recorded when the next question is on the screen. What it has to be on the disk is read
//! from the question and the keys alone. Killed consoles are taken up again on the same robot, so that its logbook grows.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use hornset::calibration::logbook::{End, Entry, SupplyQuestion, Verdict, What};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::eyes::{FromTheScreen, fresh};
use crate::person::{Act, Person};
use crate::pty::{Console, folder};
use crate::screen::{Screen, joint_in, number};
use crate::{Left, Shown, look, own};

const KILLS: usize = 460;
/// As many consoles at a time: they wait most of their time.
const CONSOLES: usize = 8;
/// How often one robot's console is killed, at most.
const KILLS_OF_ONE: usize = 6;
/// How long nothing may happen before the test says so: for machines that do much else.
const PATIENCE: Duration = Duration::from_secs(120);

/// The pages, and how many keys down each stands from Home in the list of pages.
const PAGES: [(&str, usize); 6] = [
    ("Supply", 4),
    ("One servo", 5),
    ("Horns", 6),
    ("Plugs", 7),
    ("Rough bounds", 8),
    ("Marks", 9),
];

/// What many kills came to.
#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    kills: usize,
    /// Entries that were shown.
    shown: usize,
    /// Kills with an answer that was given and not shown as recorded yet, and how many of these were on the disk.
    in_flight: usize,
    written: usize,
    torn: usize,
}

impl Tally {
    fn add(&mut self, other: Tally) {
        self.kills += other.kills;
        self.shown += other.shown;
        self.in_flight += other.in_flight;
        self.written += other.written;
        self.torn += other.torn;
    }
}

/// Kills consoles; none may lose anything.
pub fn killed() {
    let (robots, kills) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let mut tallies = [Tally::default(); PAGES.len()];
    std::thread::scope(|scope| {
        let work = || {
            let mut tallies = [Tally::default(); PAGES.len()];
            loop {
                let robot = robots.fetch_add(1, Ordering::Relaxed);
                let page = robot % PAGES.len();
                let more = || kills.fetch_add(1, Ordering::Relaxed) < KILLS;
                let Some(tally) = one_robot(robot, PAGES[page], more) else {
                    return tallies;
                };
                tallies[page].add(tally);
            }
        };
        let workers: Vec<_> = (0..CONSOLES).map(|_| scope.spawn(work)).collect();
        for worker in workers {
            let done = worker.join().expect("none lost anything");
            tallies.iter_mut().zip(done).for_each(|(a, b)| a.add(b));
        }
    });
    let mut all = Tally::default();
    for ((page, _), tally) in PAGES.iter().zip(tallies) {
        println!("{page}: {tally:?}");
        assert!(tally.shown > 0, "nothing was shown as recorded on {page}");
        all.add(tally);
    }
    assert_eq!(all.kills, KILLS);
    // Two kills of three wait for entries to be shown, so this holds on any machine.
    assert!(all.shown >= KILLS / 2, "too little: {all:?}");
    // About every fifth falls between an answer and the picture after it: were there none, the kills would prove little.
    assert!(all.in_flight > 0 && all.written > 0, "{all:?}");
    println!("guided pages: {all:?}");
}

/// Kills the console of one robot again and again; `None` if there was no kill left for it.
fn one_robot(robot: usize, page: (&str, usize), more: impl Fn() -> bool) -> Option<Tally> {
    let mut random = ChaCha8Rng::seed_from_u64(robot as u64);
    let folder = folder();
    let path = match page.0 {
        // Marks need room that is known to be free.
        "Marks" => own(folder.path()),
        _ => {
            fresh(folder.path());
            folder.path().join("bench.toml")
        }
    };
    let mut before: Vec<Entry> = Vec::new();
    let mut tally = Tally::default();
    // He takes the round of marks as often as there is time.
    let mut person = Person::new(robot as u64, usize::MAX);
    for _ in 0..KILLS_OF_ONE {
        if !more() {
            break;
        }
        let args = ["--practice", "--clean", "--speed", "20"];
        let args = [&args[..], &["--file", "bench.toml"]].concat();
        let console = Console::start_sized(&args, folder.path(), 120, 36);
        // The servos that were tried before the kill are still in the box.
        if page.0 == "One servo" {
            person = Person::new(robot as u64, 0);
        }
        let mut it = Builder::new(console, &mut person);
        it.open(page);
        let is_done = it.work_until(&mut random);
        let (shown, in_flight) = it.killed();
        let Left {
            entries,
            lost,
            written,
            torn,
        } = look(&path, &before, &shown, in_flight.as_ref());
        let new: Vec<&What> = entries[before.len().min(entries.len())..]
            .iter()
            .map(|it| &it.what)
            .filter(|it| !matches!(it, What::Plan(_) | What::TakenOver { .. }))
            .collect();
        assert_eq!(lost, None, "robot {robot} on {}: {new:?}", page.0);
        tally.add(Tally {
            kills: 1,
            shown: shown.len(),
            in_flight: usize::from(in_flight.is_some()),
            written: usize::from(written),
            torn: usize::from(torn),
        });
        before = entries;
        if is_done {
            break;
        }
    }
    (tally.kills > 0).then_some(tally)
}

/// The builder at one console, until it is killed.
struct Builder<'a> {
    console: Console,
    person: &'a mut Person,
    pictures: usize,
    screen: Screen,
    /// What he answered last: the question, and what it is on the disk, if it is recorded.
    answered: Option<([String; 4], Option<Shown>)>,
    shown: Vec<Shown>,
}

impl<'a> Builder<'a> {
    fn new(console: Console, person: &'a mut Person) -> Builder<'a> {
        Builder {
            console,
            person,
            pictures: 0,
            screen: Screen::default(),
            answered: None,
            shown: Vec::new(),
        }
    }

    #[track_caller]
    fn until(&mut self, what: &str, true_now: impl Fn(&Screen) -> bool) {
        let until = Instant::now() + PATIENCE;
        while !true_now(&self.screen) {
            let left = until.saturating_duration_since(Instant::now());
            assert!(
                self.look(left),
                "waited in vain for {what}; the screen:\n{}",
                self.screen.text()
            );
        }
    }

    /// Waits for the next whole picture; whether it came.
    fn look(&mut self, patience: Duration) -> bool {
        let (pictures, text) = self.console.picture_after(self.pictures, patience);
        let came = pictures > self.pictures;
        self.pictures = pictures;
        self.see(Screen::of(&text));
        came
    }

    /// A question that is gone is answered, and what was answered is shown as recorded.
    fn see(&mut self, screen: Screen) {
        self.screen = screen;
        if let Some((question, _)) = &self.answered
            && *question != self.screen.question()
        {
            self.shown
                .extend(self.answered.take().and_then(|(_, shown)| shown));
        }
    }

    fn open(&mut self, (page, down): (&str, usize)) {
        let asks = |it: &Screen| it.next().starts_with("Enter: say whether");
        let tells = |it: &Screen| it.text().contains("Enter put it away");
        // That it was not saved, and what a kill left of a line.
        loop {
            self.until("Home", |it| asks(it) || tells(it));
            if !tells(&self.screen) {
                break;
            }
            let told = self.screen.next().to_owned();
            self.console.keys("<Enter>");
            self.until("what is next", |it| it.next() != told);
        }
        self.until("the robot", |it| it.display().is_some());
        self.console.keys("<Enter>");
        self.until("the question", |it| {
            it.text().contains("Where is the robot?")
        });
        self.console.keys("<Enter>");
        self.until("the stand", |it| {
            it.head().contains(&"on the stand  Space=limp")
        });
        self.console.keys("<F2>");
        self.console.keys(&"<Down>".repeat(down));
        let offered = format!("Enter opens {page}.");
        self.until("the page in the list", |it| it.next() == offered);
        self.console.keys("<Enter>");
        self.until("the page", |it| it.next() != offered);
        let asked = format!("Enter opens {page} for");
        if self.screen.next().starts_with(&asked) {
            self.console.keys("<Enter>");
            self.until("its first question", |it| !it.next().starts_with(&asked));
        }
        assert_eq!(self.screen.page(), page);
    }

    /// Works up to the moment of the kill; true if the work was over before.
    fn work_until(&mut self, random: &mut ChaCha8Rng) -> bool {
        let in_flight = random.random_range(0..3) > 0;
        let count = random.random_range(0..5);
        let mut until = Instant::now() + PATIENCE;
        loop {
            if self.screen.page() == "Home" {
                return true;
            }
            if self.shown.len() >= count && !in_flight {
                // Wherever the work is by then, mostly in a motion.
                self.work_for(
                    Duration::from_micros(random.random_range(0..500_000)),
                    random,
                );
                return false;
            }
            if self.act(random) {
                until = Instant::now() + PATIENCE;
                if self.shown.len() >= count && self.is_recorded() {
                    // A key takes up to some frames until its answer is on the screen; it is written soon after the key.
                    let late: f64 = random.random();
                    std::thread::sleep(Duration::from_secs_f64(0.04 * late.powi(3)));
                    return false;
                }
                continue;
            }
            let left = until.saturating_duration_since(Instant::now());
            assert!(
                self.look(left),
                "no question that the builder knows:\n{}",
                self.screen.text()
            );
        }
    }

    /// Whether what was just answered is recorded.
    fn is_recorded(&self) -> bool {
        matches!(self.answered, Some((_, Some(_))))
    }

    /// Answers what comes, for so long.
    fn work_for(&mut self, time: Duration, random: &mut ChaCha8Rng) {
        let until = Instant::now() + time;
        while Instant::now() < until && self.screen.page() != "Home" {
            if !self.act(random) {
                self.look(until.saturating_duration_since(Instant::now()));
            }
        }
    }

    /// Answers the question on the screen, if it is not answered yet; whether he pressed keys.
    fn act(&mut self, random: &mut ChaCha8Rng) -> bool {
        if self.answered.is_some() {
            return false;
        }
        let (Act::Press(keys) | Act::PressLate(keys)) =
            self.person.acts(&self.screen, &mut FromTheScreen)
        else {
            return false;
        };
        std::thread::sleep(Duration::from_micros(random.random_range(0..30_000)));
        let verdict = self.person.verdicts.last().map(|(_, it)| it.as_str());
        let shown = recorded(&self.screen, &keys, verdict);
        self.answered = Some((self.screen.question(), shown));
        self.console.keys(&keys);
        true
    }

    /// Kills it: what it had shown as recorded by then, and what was answered and not shown yet.
    fn killed(self) -> (Vec<Shown>, Option<Shown>) {
        let last = Screen::of(&self.console.killed());
        let mut shown = self.shown;
        match self.answered {
            Some((question, answered)) if question != last.question() => {
                shown.extend(answered);
                (shown, None)
            }
            answered => (shown, answered.and_then(|(_, it)| it)),
        }
    }
}

/// What these keys at this question are on the disk, for the questions whose every answer is one entry.
fn recorded(screen: &Screen, keys: &str, verdict: Option<&str>) -> Option<Shown> {
    let [title, next, second, _] = screen.question();
    let says = |words: &str| screen.next().starts_with(words);
    let typed = number(keys);
    let joint = joint_in(&title).or_else(|| joint_in(&next));
    let words = format!("{keys} at {next} / {title}");
    let shown = move |is: Box<dyn Fn(&What) -> bool + Send>| Some(Shown { words, is });
    match screen.page() {
        "Supply" if says("Enter writes it down") => {
            shown(Box::new(|it| matches!(it, What::Supply { .. })))
        }
        "Supply" => {
            let about = SUPPLY.iter().find(|(words, _)| says(words))?.1;
            // A number that is offered is taken with Enter alone.
            let is = move |value: &Option<f64>| typed.is_none() || *value == typed;
            shown(Box::new(
                move |it| matches!(it, What::SupplyAnswer { to, value, .. } if *to == about && is(value)),
            ))
        }
        "One servo" if says("Choose what servo") => {
            let number = screen.next().split([' ', ',']).nth(3)?.to_owned();
            let found = match verdict? {
                "good" => Verdict::Good,
                "noisy" => Verdict::Noisy,
                "hot" => Verdict::Hot,
                _ => Verdict::Dead,
            };
            shown(Box::new(move |it| {
                matches!(it, What::ServoTested { servo, verdict, .. }
                    if *servo == number && *verdict == found)
            }))
        }
        "Horns" if says("Choose the teeth") => shown(Box::new(|it| {
            matches!(it, What::ServoKind { teeth: Some(_), .. })
        })),
        "Horns" if says("Choose whether the horns") => {
            shown(Box::new(|it| *it == What::HornsOn { stay: false }))
        }
        "Horns" if says("Type the number on the sticker") => {
            let number = keys.strip_suffix("<Enter>")?.to_owned();
            shown(Box::new(move |it| {
                matches!(it, What::ServoPlaced { joint: at, servo }
                    if Some(at.to_string()) == joint && *servo == number)
            }))
        }
        "Horns" if says("Choose how far a servo turns") && keys.contains("<Down>") => {
            shown(Box::new(|it| {
                matches!(it, What::ServoKind { measured: true, .. })
            }))
        }
        "Horns" if says("Type the angle that the bare arm") => shown(Box::new(move |it| {
            matches!(it, What::HornEnd { joint: at, angle_deg, .. }
                if Some(at.to_string()) == joint && Some(*angle_deg) == typed)
        })),
        "Horns" if says("Type the angle") || says("Place the gauge") || says("They differ") => {
            shown(Box::new(move |it| {
                matches!(it, What::HornRead { joint: at, angle_deg }
                    if Some(at.to_string()) == joint && Some(*angle_deg) == typed)
            }))
        }
        "Plugs" if says("Enter if it is so: ") => {
            let number = number(title.split("pin ").nth(1)?)?;
            let moved = joint_in(&next);
            shown(Box::new(move |it| {
                matches!(it, What::Plug { pin, joint: Some(at), .. }
                    if f64::from(pin.0.number()) == number && Some(at.to_string()) == moved)
            }))
        }
        "Rough bounds" if keys == "n" => {
            let peck = screen.peck()?;
            let side = match peck.search.ends_with("far") {
                true => End::Far,
                false => End::Near,
            };
            shown(Box::new(move |it| {
                matches!(it, What::Free { joint: at, toward, pulse_us }
                    if Some(at.to_string()) == joint && *toward == side && *pulse_us == peck.to_us)
            }))
        }
        "Marks" if says("Type the gauge's angle") => {
            let pulse = number(second.trim().strip_prefix("At ")?)?;
            shown(Box::new(move |it| {
                matches!(it, What::Mark { joint: at, pulse_us, angle_deg, .. }
                    if Some(at.to_string()) == joint && *pulse_us == pulse && Some(*angle_deg) == typed)
            }))
        }
        _ => None,
    }
}

/// What asks for what of the supply.
const SUPPLY: [(&str, SupplyQuestion); 8] = [
    ("Choose where the servos get", SupplyQuestion::OwnSource),
    ("Is the supply's minus", SupplyQuestion::CommonGround),
    ("Does each plug sit", SupplyQuestion::PlugsChecked),
    ("Type what the servo supply", SupplyQuestion::Volts),
    ("Type its current limit", SupplyQuestion::LimitAmps),
    ("Type one servo's stall", SupplyQuestion::StallAmps),
    ("Type the volts on", SupplyQuestion::DisplayVolts),
    ("Type the amps on", SupplyQuestion::DisplayAmps),
];
