//! The exchanges of `protocol/vectors`, read by the rules of `protocol/vectors/README.md`.
//!
//! Only reads and compares text: who answers is the caller's business.

#![allow(dead_code)] // every test file uses its own part of this

use std::path::Path;

/// What a statement does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act {
    /// Sends these bytes: one step.
    Send(Vec<u8>),
    /// Lets milliseconds pass.
    Wait(u64),
    /// A byte with a framing error goes ahead of the next bytes.
    LineError,
    /// Sets an analog input.
    Input(u8, u32),
    /// Resets the board.
    Reset(String),
}

impl Act {
    /// Whether lines from the board can follow.
    pub fn takes_time(&self) -> bool {
        matches!(self, Act::Send(_) | Act::Wait(_) | Act::Reset(_))
    }
}

/// A statement and the lines that must follow it, each a body without its check.
#[derive(Debug, Clone)]
pub struct Statement {
    /// Line in the file, counted from 1.
    pub line: usize,
    pub act: Act,
    pub expected: Vec<(usize, String)>,
}

/// One exchange, from a reset on.
#[derive(Debug, Clone)]
pub struct Exchange {
    pub file: String,
    pub line: usize,
    pub name: String,
    pub emulated_only: bool,
    pub statements: Vec<Statement>,
}

/// The line that must come first in every exchange.
pub const READY: &str = "event ready proto=1 fw=* board=atmega2560 id=* pins=2-69 most=24 tick_ns=500 frame_us=20000 boot=1 cause=power up_ms=* last=0 frozen=0 by=none";

/// CRC-16/IBM-3740, bit by bit, apart from the program's own.
pub fn crc(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0xFFFF, |crc, byte| {
        (0..8).fold(crc ^ (u16::from(*byte) << 8), |crc, _| {
            if crc & 0x8000 == 0 {
                crc << 1
            } else {
                (crc << 1) ^ 0x1021
            }
        })
    })
}

/// The line of a body: with its right check and LF.
pub fn with_check(body: &str) -> Vec<u8> {
    format!("{body};{:04X}\n", crc(body.as_bytes())).into_bytes()
}

fn escaped(text: &str) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte != b'\\' {
            bytes.push(byte);
            continue;
        }
        bytes.push(match rest.next() {
            Some(b'r') => b'\r',
            Some(b'n') => b'\n',
            Some(b'\\') => b'\\',
            Some(b'x') => {
                let digits: Vec<u8> = rest.by_ref().take(2).collect();
                std::str::from_utf8(&digits)
                    .ok()
                    .filter(|digits| digits.len() == 2)
                    .and_then(|digits| u8::from_str_radix(digits, 16).ok())
                    .ok_or("\\x without two hex digits")?
            }
            _ => return Err("an unknown escape".into()),
        });
    }
    Ok(bytes)
}

fn statement(text: &str) -> Result<Act, String> {
    if let Some(body) = text.strip_prefix("> ") {
        return Ok(Act::Send(with_check(body)));
    }
    if text == ">=" {
        return Ok(Act::Send(b"\n".to_vec()));
    }
    if let Some(line) = text.strip_prefix(">= ") {
        return Ok(Act::Send(format!("{line}\n").into_bytes()));
    }
    if let Some(bytes) = text.strip_prefix(">b ") {
        return Ok(Act::Send(escaped(bytes)?));
    }
    let words: Vec<&str> = text.split(' ').collect();
    match words[..] {
        ["wait", ms] => match ms.parse() {
            Ok(ms) if ms > 0 && ms % 20 == 0 => Ok(Act::Wait(ms)),
            _ => Err("wait takes a multiple of 20".into()),
        },
        ["line", "error"] => Ok(Act::LineError),
        ["input", name, millivolts] => {
            match (name.strip_prefix('a').map(str::parse), millivolts.parse()) {
                (Some(Ok(number @ 0..=7)), Ok(millivolts)) => Ok(Act::Input(number, millivolts)),
                _ => Err("input takes a0 to a7 and millivolts".into()),
            }
        }
        [
            "reset",
            cause @ ("power" | "brownout" | "watchdog" | "external"),
        ] => Ok(Act::Reset(cause.into())),
        _ => Err("not a statement".into()),
    }
}

/// Reads one file's text.
pub fn read(file: &str, text: &str) -> Result<Vec<Exchange>, String> {
    let mut exchanges: Vec<Exchange> = Vec::new();
    for (index, row) in text.lines().enumerate() {
        let line = index + 1;
        let fault = |what: &str| format!("{file}:{line}: {what}: {row}");
        if row.is_empty() || row.starts_with('#') {
            continue;
        }
        if !row.is_ascii() || row.len() > 400 {
            return Err(fault("not ASCII, or more than 400 bytes"));
        }
        if let Some(name) = row.strip_prefix("exchange ") {
            let bare = name.strip_suffix(" (emulated only)");
            let emulated_only = bare.is_some();
            let name = bare.unwrap_or(name).to_string();
            exchanges.push(Exchange {
                file: file.into(),
                line,
                name,
                emulated_only,
                statements: Vec::new(),
            });
            continue;
        }
        let exchange = exchanges
            .last_mut()
            .ok_or_else(|| fault("a statement before the first exchange"))?;
        if let Some(body) = row.strip_prefix("< ") {
            let last = exchange
                .statements
                .last_mut()
                .filter(|last| last.act.takes_time());
            let last =
                last.ok_or_else(|| fault("a line from the board after nothing that takes time"))?;
            last.expected.push((line, body.into()));
            continue;
        }
        let act = statement(row).map_err(|what| fault(&what))?;
        if !exchange.emulated_only && matches!(act, Act::LineError | Act::Input(..) | Act::Reset(_))
        {
            return Err(fault(
                "only an exchange marked (emulated only) may have this",
            ));
        }
        exchange.statements.push(Statement {
            line,
            act,
            expected: Vec::new(),
        });
    }
    Ok(exchanges)
}

/// Reads all files of the folder, by name; names must be unique and every exchange must expect something.
pub fn read_all(folder: &Path) -> Result<Vec<Exchange>, String> {
    let list =
        std::fs::read_dir(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    let mut paths: Vec<_> = list
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "txt"));
    paths.sort();
    let mut all: Vec<Exchange> = Vec::new();
    for path in paths {
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(&path).map_err(|error| format!("{name}: {error}"))?;
        for exchange in read(&name, &text)? {
            if exchange
                .statements
                .iter()
                .all(|statement| statement.expected.is_empty())
            {
                return Err(format!(
                    "{name}:{}: `{}` expects nothing",
                    exchange.line, exchange.name
                ));
            }
            if let Some(twin) = all.iter().find(|other| other.name == exchange.name) {
                return Err(format!(
                    "{name}:{}: the name `{}` stands in {} already",
                    exchange.line, exchange.name, twin.file
                ));
            }
            all.push(exchange);
        }
    }
    Ok(all)
}

/// Whether a body is the expected one, wild-cards at their keys allowed.
pub fn fits(expected: &str, body: &str) -> bool {
    let (expected, body): (Vec<&str>, Vec<&str>) =
        (expected.split(' ').collect(), body.split(' ').collect());
    expected.len() == body.len()
        && expected
            .iter()
            .zip(&body)
            .all(|(expected, word)| word_fits(expected, word))
}

fn word_fits(expected: &str, word: &str) -> bool {
    let Some(key) = expected.strip_suffix("=*") else {
        return expected == word;
    };
    let Some((seen, value)) = word.split_once('=') else {
        return false;
    };
    let digits = |value: &str| !value.is_empty() && value.bytes().all(|byte| byte.is_ascii_digit());
    key == seen
        && match key {
            "fw" => !value.is_empty() && !value.contains([' ', ';']),
            "id" => {
                value.len() == 8
                    && value
                        .bytes()
                        .all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
            }
            "up_ms" | "vcc_mv" | "stack" | "a0" | "a1" | "a2" | "a3" | "a4" | "a5" | "a6"
            | "a7" => digits(value),
            _ => false,
        }
}
