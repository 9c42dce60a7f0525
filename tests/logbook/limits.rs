//! The logbook where the disk is full or no file can be opened any more.
//!
//! Limits hold for a whole process, and for root too: a test that sets them runs once more, in one of its own.

use super::*;
use rustix::process::{Resource, getrlimit, setrlimit};

/// Whether this is that process; if not, it has run and the test has passed there.
fn is_alone(test: &str) -> bool {
    const ALONE: &str = "HORNSET_TEST_LIMITS";
    if std::env::var_os(ALONE).is_some() {
        return true;
    }
    let output = Command::new(std::env::current_exe().expect("this program"))
        .args(["--exact", &format!("limits::{test}")])
        .env(ALONE, "1")
        .output()
        .expect("it starts itself");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{said}");
    assert!(said.contains("1 passed"), "{said}");
    false
}

/// Does something while no more than this is allowed.
fn within<T>(resource: Resource, most: u64, act: impl FnOnce() -> T) -> T {
    let before = getrlimit(resource);
    let mut less = before;
    less.current = Some(most);
    setrlimit(resource, less).expect("less may always be set");
    let done = act();
    setrlimit(resource, before).expect("it was allowed before");
    done
}

#[test]
fn a_full_disk_is_said_and_what_was_recorded_stays() {
    if !is_alone("a_full_disk_is_said_and_what_was_recorded_stays") {
        return;
    }
    // Caught, the signal leaves the write with its error, as on a full disk.
    let noticed = Default::default();
    let signal = rustix::process::Signal::XFSZ.as_raw();
    signal_hook::flag::register(signal, noticed).expect("it can be caught");
    let (_folder, path) = own();
    let mut book = begun(&path);
    let (before, entries) = (bytes(&path), book.entries().to_vec());
    // Room for nothing, for a piece of the line, for all of it but its end.
    let line = line::write(&book.prepare(&[mark(1487.5, 0.0)], AT).expect("sound")[0]);
    let line = line.expect("it can be written").len();
    for room in [0, 1, 40, line - 1] {
        let most = (before.len() + room) as u64;
        let result = within(Resource::Fsize, most, || {
            book.append(&[mark(1487.5, 0.0)], AT)
        });
        let error = result.expect_err("no room");
        assert!(error.to_string().contains("not recorded"), "{error}");
        assert_eq!(bytes(&path), before, "with room for {room} bytes");
        assert_eq!(book.entries(), entries);
    }
    book.append(&[mark(1487.5, 0.0)], AT).expect("recorded");
    let again = Logbook::open(&path, true).expect("a good logbook");
    assert_eq!(again.entries(), book.entries());
}

/// Not recorded means not on the disk: the same number comes again with the next entry.
#[test]
fn a_new_logbook_whose_folder_cannot_be_synced_is_not_recorded_and_the_next_try_is_good() {
    if !is_alone(
        "a_new_logbook_whose_folder_cannot_be_synced_is_not_recorded_and_the_next_try_is_good",
    ) {
        return;
    }
    use std::os::fd::AsRawFd;
    let (_folder, path) = own();
    let mut book = Logbook::open(&path, true).expect("it opens");
    // The file can be opened, and nothing beside it: its folder cannot.
    let free = fs::File::open(&path).expect("it opens").as_raw_fd() as u64;
    let result = within(Resource::Nofile, free + 1, || {
        book.append(&[mark(1487.5, 0.0)], AT)
    });
    let error = result.expect_err("the folder was not synced");
    assert!(matches!(error, LogbookError::Write { .. }), "{error}");
    assert!(error.to_string().contains("not recorded"), "{error}");
    assert_eq!(
        (bytes(&path), book.entries()),
        (Vec::new(), &[] as &[Entry])
    );
    let n = book.append(&[mark(1490.0, 0.0)], AT).expect("recorded");
    assert_eq!(n, 1);
    let again = Logbook::open(&path, true).expect("a good logbook");
    assert_eq!(again.entries(), book.entries());
}
