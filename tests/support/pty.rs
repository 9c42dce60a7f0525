//! The real program in a terminal of its own: keys in, a screen out, always by waiting for what is to be seen.
//!
//! Not every test file uses all of it.
#![allow(dead_code)]

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize, native_pty_system};

/// How long anything may take before the test says that it did not happen.
const PATIENCE: Duration = Duration::from_secs(60);

/// The end of one synchronized update: what stands there then is a whole picture.
const WHOLE: &[u8] = b"\x1b[?2026l";

/// What the child wrote, as bytes and as a screen.
struct Shown {
    parser: vt100::Parser,
    bytes: Vec<u8>,
    /// How many whole pictures there were, and the last one.
    pictures: usize,
    picture: String,
    /// What some picture is to show, until one did.
    awaited: Option<String>,
}

impl Shown {
    /// Takes in what came, up to each end of a picture and then the rest.
    fn take(&mut self, new: &[u8]) {
        // The end may have come in two pieces.
        let from = self.bytes.len();
        let look = from.saturating_sub(WHOLE.len() - 1);
        self.bytes.extend_from_slice(new);
        let mut done = from;
        let ends: Vec<usize> = self.bytes[look..]
            .windows(WHOLE.len())
            .enumerate()
            .filter(|(_, it)| *it == WHOLE)
            .map(|(at, _)| look + at + WHOLE.len())
            .collect();
        for end in ends {
            self.parser.process(&self.bytes[done..end]);
            done = end;
            self.pictures += 1;
            self.picture = self.parser.screen().contents();
            self.awaited
                .take_if(|text| self.picture.contains(text.as_str()));
        }
        self.parser.process(&self.bytes[done..]);
    }
}

/// The program, running in a pseudo-terminal.
pub struct Console {
    child: Option<Box<dyn Child + Send + Sync>>,
    master: Option<Box<dyn MasterPty + Send>>,
    keyboard: Arc<Mutex<Box<dyn Write + Send>>>,
    shown: Arc<(Mutex<Shown>, Condvar)>,
    closing: Arc<AtomicBool>,
    reader: Option<JoinHandle<()>>,
}

impl Console {
    /// Starts `hornset` with these arguments in `folder`, in a terminal of 80 columns and 24 rows.
    pub fn start(args: &[&str], folder: &Path) -> Console {
        Console::start_sized(args, folder, 80, 24)
    }

    /// The same in a terminal of another size.
    pub fn start_sized(args: &[&str], folder: &Path, columns: u16, rows: u16) -> Console {
        let size = PtySize {
            rows,
            cols: columns,
            pixel_width: 0,
            pixel_height: 0,
        };
        Console::start_command(
            &[&[env!("CARGO_BIN_EXE_hornset")], args].concat(),
            folder,
            size,
        )
    }

    /// The same with more in its surroundings, each `NAME=value`.
    pub fn start_in(
        variables: &[String],
        args: &[&str],
        folder: &Path,
        columns: u16,
        rows: u16,
    ) -> Console {
        let size = PtySize {
            rows,
            cols: columns,
            pixel_width: 0,
            pixel_height: 0,
        };
        let mut line = vec!["env"];
        line.extend(variables.iter().map(String::as_str));
        line.push(env!("CARGO_BIN_EXE_hornset"));
        Console::start_command(&[&line, args].concat(), folder, size)
    }

    /// The same, and permissions bind it even where the tests run as root.
    pub fn start_bound_by_permissions(args: &[&str], folder: &Path) -> Console {
        let size = PtySize {
            rows: 24,
            cols: 80,
            pixel_width: 0,
            pixel_height: 0,
        };
        let hornset = [&[env!("CARGO_BIN_EXE_hornset")], args].concat();
        if !rustix::process::geteuid().is_root() {
            return Console::start_command(&hornset, folder, size);
        }
        // Root without any capability is an ordinary owner of files (capabilities(7); setpriv is part of util-linux).
        let plain = ["setpriv", "--inh-caps=-all", "--bounding-set=-all"];
        Console::start_command(&[&plain[..], &hornset].concat(), folder, size)
    }

    fn start_command(line: &[&str], folder: &Path, size: PtySize) -> Console {
        let (rows, columns) = (size.rows, size.cols);
        let pair = native_pty_system()
            .openpty(size)
            .expect("a pseudo-terminal");
        let mut command = CommandBuilder::new(line[0]);
        command.args(&line[1..]);
        command.cwd(folder);
        for (name, value) in [("TERM", "xterm-256color"), ("LC_ALL", "C.UTF-8")] {
            command.env(name, value);
        }
        for name in ["NO_COLOR", "RUST_BACKTRACE"] {
            command.env_remove(name);
        }
        let child = pair.slave.spawn_command(command).expect("hornset starts");
        drop(pair.slave);
        let mut output = pair.master.try_clone_reader().expect("the pty's output");
        let keyboard = Arc::new(Mutex::new(pair.master.take_writer().expect("its input")));
        let first = Shown {
            parser: vt100::Parser::new(cells(rows), cells(columns), 0),
            bytes: Vec::new(),
            pictures: 0,
            picture: String::new(),
            awaited: None,
        };
        let shown = Arc::new((Mutex::new(first), Condvar::new()));
        let (screen, answers) = (Arc::clone(&shown), Arc::clone(&keyboard));
        let closing = Arc::new(AtomicBool::new(false));
        let close = Arc::clone(&closing);
        let reader = std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(count) = output.read(&mut bytes) {
                if count == 0 {
                    return;
                }
                let mut shown = screen.0.lock().unwrap_or_else(PoisonError::into_inner);
                shown.take(&bytes[..count]);
                drop(shown);
                screen.1.notify_all();
                answer_queries(&bytes[..count], &answers);
                if close.load(Ordering::SeqCst) {
                    return;
                }
            }
        });
        Console {
            child: Some(child),
            master: Some(pair.master),
            keyboard,
            shown,
            closing,
            reader: Some(reader),
        }
    }

    /// Presses keys: characters as themselves, blanks dropped, `<Enter> <Esc> <Space> <Tab> <BS> <Left> <C-c> <F2> …`.
    pub fn keys(&self, text: &str) {
        let mut rest = text;
        while let Some(c) = rest.chars().next() {
            let bytes: Vec<u8> = if c == '<' {
                let end = rest.find('>').expect("a name in angle brackets ends");
                let name = &rest[1..end];
                rest = &rest[end + 1..];
                named(name)
            } else {
                rest = &rest[c.len_utf8()..];
                if c == ' ' {
                    continue;
                }
                c.to_string().into_bytes()
            };
            self.send(&bytes);
        }
    }

    /// Sends bytes as the keyboard would.
    pub fn send(&self, bytes: &[u8]) {
        let mut keyboard = self.keyboard.lock().unwrap_or_else(PoisonError::into_inner);
        keyboard.write_all(bytes).expect("the pty takes keys");
        keyboard.flush().expect("the pty takes keys");
    }

    fn shown(&self) -> MutexGuard<'_, Shown> {
        self.shown.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits for a whole picture that comes after this many, at most for `patience`: how many there were, and the last one.
    ///
    /// [`Console::screen`] may catch a picture half drawn; whoever compares its parts needs a whole one.
    pub fn picture_after(&self, seen: usize, patience: Duration) -> (usize, String) {
        let shown = self.shown();
        let newer = |shown: &mut Shown| shown.pictures <= seen;
        let (shown, _) = self
            .shown
            .1
            .wait_timeout_while(shown, patience, newer)
            .unwrap_or_else(PoisonError::into_inner);
        (shown.pictures, shown.picture.clone())
    }

    /// The screen as text, one line a row.
    pub fn screen(&self) -> String {
        let shown = self.shown();
        shown.parser.screen().contents()
    }

    /// One row of the screen.
    pub fn row(&self, index: usize) -> String {
        self.screen()
            .lines()
            .nth(index)
            .unwrap_or_default()
            .to_owned()
    }

    /// All bytes written so far.
    pub fn bytes(&self) -> Vec<u8> {
        let shown = self.shown();
        shown.bytes.clone()
    }

    /// Whether the other screen is shown, as programs do that take the whole terminal.
    pub fn on_other_screen(&self) -> bool {
        let shown = self.shown();
        shown.parser.screen().alternate_screen()
    }

    /// Whether the cursor is hidden.
    pub fn cursor_hidden(&self) -> bool {
        let shown = self.shown();
        shown.parser.screen().hide_cursor()
    }

    /// Waits until the screen shows `text`.
    #[track_caller]
    pub fn see(&self, text: &str) {
        self.until(&format!("the screen shows {text:?}"), |screen| {
            screen.contains(text)
        });
    }

    /// Waits until the screen does not show `text` any more.
    #[track_caller]
    pub fn gone(&self, text: &str) {
        self.until(&format!("{text:?} is gone"), |screen| {
            !screen.contains(text)
        });
    }

    /// Waits until something is true of the screen.
    #[track_caller]
    pub fn until(&self, what: &str, true_now: impl Fn(&str) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let screen = self.screen();
            if true_now(&screen) {
                return;
            }
            assert!(
                Instant::now() < deadline,
                "waited in vain until {what}; the screen:\n{screen}"
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Presses keys and waits for what they bring.
    #[track_caller]
    pub fn press(&self, keys: &str, see: &str) {
        self.keys(keys);
        self.see(see);
    }

    /// Presses keys and waits for what they bring, even if it does not stay: no picture is missed, however late this looks.
    #[track_caller]
    pub fn press_and_pass(&self, keys: &str, see: &str) {
        let mut shown = self.shown();
        let screen = shown.parser.screen().contents();
        assert!(!screen.contains(see), "{see:?} stands there:\n{screen}");
        shown.awaited = Some(see.to_owned());
        drop(shown);
        self.keys(keys);
        let (shown, _) = self
            .shown
            .1
            .wait_timeout_while(self.shown(), PATIENCE, |shown| shown.awaited.is_some())
            .unwrap_or_else(PoisonError::into_inner);
        assert!(
            shown.awaited.is_none(),
            "no picture showed {see:?}; the screen:\n{}",
            shown.parser.screen().contents()
        );
    }

    /// Changes the terminal's size.
    pub fn resize(&self, columns: u16, rows: u16) {
        {
            let mut shown = self.shown();
            shown
                .parser
                .screen_mut()
                .set_size(cells(rows), cells(columns));
        }
        self.master()
            .resize(PtySize {
                rows,
                cols: columns,
                pixel_width: 0,
                pixel_height: 0,
            })
            .expect("the pty changes its size");
    }

    /// The process.
    pub fn pid(&self) -> u32 {
        let child = self.child.as_ref().expect("it was started");
        child.process_id().expect("it runs")
    }

    fn master(&self) -> &(dyn MasterPty + Send) {
        &**self.master.as_ref().expect("the terminal is there")
    }

    /// Takes the terminal away, as a window that is closed; the process goes on its own way.
    pub fn hang_up(mut self) -> Box<dyn Child + Send + Sync> {
        let child = self.child.take().expect("it was started");
        // The reading thread lets go at the next byte: a key makes the program write one.
        self.closing.store(true, Ordering::SeqCst);
        self.send(b"?");
        if let Some(reader) = self.reader.take() {
            reader.join().expect("the reading thread ends");
        }
        self.master = None;
        self.keyboard = Arc::new(Mutex::new(Box::new(std::io::sink())));
        child
    }

    /// Kills it, and waits for all that it had written to the terminal by then: the last whole picture.
    pub fn killed(mut self) -> String {
        let mut child = self.child.take().expect("it was started");
        child.kill().expect("it runs");
        child.wait().expect("it has ended");
        // Without its process the terminal gives what was written, and then its end.
        if let Some(reader) = self.reader.take() {
            reader.join().expect("the reading thread ends");
        }
        self.shown().picture.clone()
    }

    /// Waits until the process is stopped by job control.
    #[track_caller]
    pub fn until_suspended(&self) {
        let path = format!("/proc/{}/stat", self.pid());
        let deadline = Instant::now() + PATIENCE;
        loop {
            let stat = std::fs::read_to_string(&path).unwrap_or_default();
            // The state is the word behind the name in brackets (proc_pid_stat(5)).
            let state = stat.rsplit_once(") ").map(|(_, rest)| &rest[..1]);
            if state == Some("T") {
                return;
            }
            assert!(Instant::now() < deadline, "it is not suspended: {stat}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Sends the process a signal.
    pub fn signal(&self, signal: rustix::process::Signal) {
        let pid = rustix::process::Pid::from_raw(self.pid() as i32).expect("a process");
        rustix::process::kill_process(pid, signal).expect("the signal is sent");
    }

    /// Whether the terminal is in its ordinary mode: it echoes and waits for whole lines.
    pub fn is_cooked(&self) -> bool {
        let tty = self.master().tty_name().expect("a name");
        let tty = std::fs::File::open(tty).expect("the terminal opens");
        let modes = rustix::termios::tcgetattr(&tty)
            .expect("its modes")
            .local_modes;
        use rustix::termios::LocalModes;
        modes.contains(LocalModes::ECHO | LocalModes::ICANON)
    }

    /// Waits for the program's end, and for the last that it wrote.
    #[track_caller]
    pub fn ended(&mut self) -> ExitStatus {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let child = self.child.as_mut().expect("it was started");
            let read = self.reader.as_ref().is_none_or(JoinHandle::is_finished);
            if let (Some(status), true) = (child.try_wait().expect("its state"), read) {
                return status;
            }
            assert!(
                Instant::now() < deadline,
                "it does not end; the screen:\n{}",
                self.screen()
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Console {
    fn drop(&mut self) {
        if let Some(child) = &mut self.child {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

fn cells(count: u16) -> std::num::NonZero<u16> {
    std::num::NonZero::new(count).expect("a terminal has a cell")
}

/// Answers what a terminal is asked: its kind, and where the cursor stands.
fn answer_queries(bytes: &[u8], keyboard: &Mutex<Box<dyn Write + Send>>) {
    let asks = |query: &[u8]| bytes.windows(query.len()).any(|w| w == query);
    let mut answer = Vec::new();
    if asks(b"\x1b[c") || asks(b"\x1b[0c") {
        answer.extend_from_slice(b"\x1b[?62;c");
    }
    if asks(b"\x1b[6n") {
        answer.extend_from_slice(b"\x1b[1;1R");
    }
    if !answer.is_empty() {
        let mut keyboard = keyboard.lock().unwrap_or_else(PoisonError::into_inner);
        let _ = keyboard.write_all(&answer);
    }
}

fn named(name: &str) -> Vec<u8> {
    let text: &[u8] = match name {
        "Enter" => b"\r",
        "Esc" => b"\x1b",
        "Space" => b" ",
        "Tab" => b"\t",
        "BS" => b"\x7f",
        "Left" => b"\x1b[D",
        "Right" => b"\x1b[C",
        "Up" => b"\x1b[A",
        "Down" => b"\x1b[B",
        "F1" => b"\x1bOP",
        "F2" => b"\x1bOQ",
        "F12" => b"\x1b[24~",
        "C-c" => b"\x03",
        "C-z" => b"\x1a",
        _ => panic!("no key is called {name}"),
    };
    text.to_vec()
}

/// A folder of its own for one test.
pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}

/// A file's text.
pub fn text_of(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The lines of a link's trace that went to the board, without time and sign.
pub fn sent(trace: &Path) -> Vec<String> {
    let text = std::fs::read_to_string(trace).unwrap_or_default();
    text.lines()
        .filter_map(|line| line.split_once(" > ").map(|(_, sent)| sent.to_owned()))
        .collect()
}

/// Waits until something is true of the file at `path`.
#[track_caller]
pub fn until_file(path: &Path, what: &str, true_now: impl Fn(&str) -> bool) {
    let deadline = Instant::now() + PATIENCE;
    loop {
        let text = std::fs::read_to_string(path).unwrap_or_default();
        if true_now(&text) {
            return;
        }
        assert!(
            Instant::now() < deadline,
            "waited in vain until {what}; {}:\n{text}",
            path.display()
        );
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// The project's example robot, copied to `folder`, no template any more.
pub fn marram_in(folder: &Path) -> PathBuf {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/marram.toml");
    let path = folder.join("bench.toml");
    let text = text_of(&source).replace("template = true\n", "");
    std::fs::write(&path, text).expect("written");
    path
}

/// The plan of the example robot, copied to `folder`: its geometry and plugs, nothing measured. It asks for
/// a name when it is saved.
pub fn plan_in(folder: &Path) -> String {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/marram.toml");
    let planned = |line: &&str| {
        ["pin", "needed_deg"].iter().any(|it| line.starts_with(it)) || !line.contains("_us")
    };
    let of_joint = |line: &&str| {
        !["servo", "play_deg", "us_per"]
            .iter()
            .any(|it| line.starts_with(it))
    };
    let text = text_of(&source);
    let lines: Vec<&str> = text.lines().filter(planned).filter(of_joint).collect();
    std::fs::write(folder.join("plan.toml"), lines.join("\n") + "\n").expect("written");
    "plan.toml".into()
}
