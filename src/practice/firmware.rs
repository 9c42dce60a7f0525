//! The board of the practice robot: the firmware core with a clock of frames, a memory that
//! survives resets, and a serial line. Its time is virtual: it passes by [`Firmware::step`] alone.
//!
//! It knows nothing of servos, and it is the same for tests that run the protocol's vectors.

use std::ffi::CString;

pub use super::ffi::SlotPulse;
use super::ffi::{Core, CoreIdentity, INPUTS, Port, SLOTS};
use crate::board::ResetCause;

/// Milliseconds of a frame.
const FRAME_MS: u32 = 20;
/// A start is counted once the board has run this long, as on the chip.
const COUNTED_AFTER_MS: u32 = 2000;
/// What the transmitter holds: as much as the ATmega2560 port's ring.
const TX_SIZE: u16 = 1023;

/// Who the board says it is. Kept over resets.
#[derive(Debug, Clone)]
pub struct Identity {
    /// Version of the firmware: printable, without space or `;`, at most 24 bytes.
    pub fw: String,
    /// Name of the chip, the same.
    pub board: String,
    /// The board's own number.
    pub id: u32,
}

/// A board that runs the firmware core, in virtual time.
pub struct Firmware {
    identity: Identity,
    /// What the EEPROM holds: starts counted.
    boots: u16,
    core: Core,
    since_frame: u32,
    pulses: [SlotPulse; SLOTS],
    /// The pulses may be others than when this was asked last.
    changed: bool,
}

impl Firmware {
    /// A board that was just switched on for the first time.
    pub fn new(identity: Identity) -> Firmware {
        Firmware {
            core: start(&identity, 0, ResetCause::Power, Port::default()),
            identity,
            boots: 0,
            since_frame: 0,
            pulses: [SlotPulse::default(); SLOTS],
            changed: true,
        }
    }

    /// Resets the board. Inputs keep their millivolts, and bytes already sent are lost.
    pub fn reset(&mut self, cause: ResetCause) {
        let port = Port {
            inputs_mv: self.core.port().inputs_mv,
            ..Port::default()
        };
        self.core = start(&self.identity, self.boots, cause, port);
        self.since_frame = 0;
        self.pulses = [SlotPulse::default(); SLOTS];
        self.changed = true;
    }

    /// One millisecond passes. True: a frame was built.
    pub fn step(&mut self) -> bool {
        let port = self.core.port();
        port.now_ms = port.now_ms.wrapping_add(1);
        if port.now_ms == COUNTED_AFTER_MS {
            self.boots = self.boots.wrapping_add(1);
        }
        self.since_frame += 1;
        let built = self.since_frame == FRAME_MS;
        if built {
            self.since_frame = 0;
            self.pulses = self.core.frame();
            self.changed = true;
        }
        self.core.poll();
        self.drop_limp();
        built
    }

    /// Bytes from the host, all at this moment.
    pub fn receive(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.core.receive(*byte);
        }
        self.core.poll();
        self.drop_limp();
    }

    /// A byte with a framing error.
    pub fn receive_error(&mut self) {
        self.core.receive_error();
    }

    /// Whether the board has sent bytes that nobody took.
    pub fn has_sent(&mut self) -> bool {
        !self.core.port().sent.is_empty()
    }

    /// Takes at most `most` bytes that the board has sent.
    pub fn take_sent(&mut self, most: usize) -> Vec<u8> {
        let sent = &mut self.core.port().sent;
        let count = sent.len().min(most);
        sent.drain(..count).collect()
    }

    /// The pulses of the last frame built, without those that went limp since.
    pub fn pulses(&self) -> &[SlotPulse; SLOTS] {
        &self.pulses
    }

    /// Whether the pulses may have changed since this was asked last.
    pub fn take_changed(&mut self) -> bool {
        std::mem::take(&mut self.changed)
    }

    /// Milliseconds since the reset.
    pub fn up_ms(&mut self) -> u32 {
        self.core.port().now_ms
    }

    /// Sets what an input measures; other inputs than 0-7 do not exist.
    pub fn set_input(&mut self, input: u8, mv: u16) {
        if let Some(place) = self.core.port().inputs_mv.get_mut(usize::from(input)) {
            *place = mv;
        }
    }

    /// Sets what the logic supply measures.
    pub fn set_vcc(&mut self, mv: u16) {
        self.core.port().vcc_mv = mv;
    }

    fn drop_limp(&mut self) {
        if self.core.port().limp_slots.is_empty() {
            return;
        }
        for slot in self.core.port().limp_slots.drain(..) {
            if let Some(pulse) = self.pulses.get_mut(usize::from(slot)) {
                *pulse = SlotPulse::default();
                self.changed = true;
            }
        }
    }
}

impl std::fmt::Debug for Firmware {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Firmware")
            .field("identity", &self.identity)
            .field("pulses", &self.pulses)
            .finish_non_exhaustive()
    }
}

fn start(identity: &Identity, boots: u16, cause: ResetCause, port: Port) -> Core {
    // A zero byte inside would end the name in C; then it ends here already.
    let name =
        |text: &str| CString::new(text.split('\0').next().unwrap_or_default()).unwrap_or_default();
    Core::new(
        CoreIdentity {
            fw: name(&identity.fw),
            board: name(&identity.board),
            id: identity.id,
            boot: boots.wrapping_add(1),
            cause: match cause {
                ResetCause::Unknown => 0,
                ResetCause::Power => 1,
                ResetCause::Brownout => 2,
                ResetCause::Watchdog => 3,
                ResetCause::External => 4,
            },
        },
        Port {
            tx_size: TX_SIZE,
            vcc_mv: 5000,
            ..port
        },
    )
}

const _: () = assert!(INPUTS == 8);
