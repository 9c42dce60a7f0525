//! The firmware core behind a safe face, and the only `unsafe` of the crate.
//!
//! What Rust sees of the core are opaque pointers, u8, u16, u32 and callbacks; its size and
//! alignment are asked of the core itself. The hardware that the callbacks see is [`Port`], plain
//! data. This file decides nothing: no rule of the protocol, no physics.

use std::alloc::{Layout, alloc_zeroed, dealloc, handle_alloc_error};
use std::cell::UnsafeCell;
use std::ffi::{CString, c_char, c_void};
use std::ptr::NonNull;

/// Slots of the core: `HS_MOST`.
pub(super) const SLOTS: usize = 24;
/// Analog inputs: `HS_INPUTS`.
pub(super) const INPUTS: usize = 8;

/// The hardware as the core's callbacks find it.
#[derive(Debug, Clone, Default)]
pub(super) struct Port {
    /// Milliseconds since the reset.
    pub now_ms: u32,
    /// Bytes the core sent that nobody took yet.
    pub sent: Vec<u8>,
    /// How many bytes the transmitter takes before it is full.
    pub tx_size: u16,
    /// Millivolts at `a0`-`a7`.
    pub inputs_mv: [u16; INPUTS],
    /// Millivolts of the logic supply.
    pub vcc_mv: u16,
    /// Bytes the receiver lost.
    pub overruns: u32,
    /// Slots that were told to end their pulses since this was emptied.
    pub limp_slots: Vec<u8>,
}

/// `hs_hal`, member for member.
#[repr(C)]
struct Hal {
    user: *mut c_void,
    now_ms: extern "C" fn(*mut c_void) -> u32,
    tx_room: extern "C" fn(*mut c_void) -> u16,
    tx_write: extern "C" fn(*mut c_void, *const u8, u8),
    pin_wake: extern "C" fn(*mut c_void, u8, u8),
    pin_limp: extern "C" fn(*mut c_void, u8, u8),
    input_mv: extern "C" fn(*mut c_void, u8) -> u16,
    vcc_mv: extern "C" fn(*mut c_void) -> u16,
    late: extern "C" fn(*mut c_void) -> u32,
    overruns: extern "C" fn(*mut c_void) -> u32,
    stack: extern "C" fn(*mut c_void) -> u16,
    inputs_used: extern "C" fn(*mut c_void, u8),
}

/// `hs_identity`, member for member.
#[repr(C)]
struct RawIdentity {
    fw: *const c_char,
    board: *const c_char,
    id: u32,
    boot: u16,
    cause: u8,
}

/// `hs_slot_pulse`, member for member.
#[repr(C)]
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct SlotPulse {
    /// The slot's pin; 0: it has none.
    pub pin: u8,
    /// Pulse in half microseconds; 0: none in this frame.
    pub ticks: u16,
}

#[repr(C)]
struct RawCore {
    _opaque: [u8; 0],
}

unsafe extern "C" {
    fn hs_core_size() -> usize;
    fn hs_core_align() -> usize;
    fn hs_core_init(
        memory: *mut c_void,
        hal: *const Hal,
        identity: *const RawIdentity,
    ) -> *mut RawCore;
    fn hs_core_receive(core: *mut RawCore, byte: u8);
    fn hs_core_receive_error(core: *mut RawCore);
    fn hs_core_poll(core: *mut RawCore);
    fn hs_core_frame(core: *mut RawCore, out: *mut SlotPulse);
}

/// What the core is told about the board it runs on.
#[derive(Debug, Clone)]
pub(super) struct CoreIdentity {
    pub fw: CString,
    pub board: CString,
    pub id: u32,
    pub boot: u16,
    pub cause: u8,
}

/// Everything the core points to; boxed once and never moved.
struct Rest {
    port: UnsafeCell<Port>,
    hal: Hal,
    raw: RawIdentity,
    // What `raw` points into.
    _names: (CString, CString),
}

/// One core with its memory and its hardware.
pub(super) struct Core {
    raw: NonNull<RawCore>,
    memory: NonNull<u8>,
    layout: Layout,
    rest: NonNull<Rest>,
}

// SAFETY: the core keeps nothing outside its memory, and `Core` owns that memory and all it points
// to; so it may move to another thread as a whole. It is not `Sync`.
unsafe impl Send for Core {}

impl Core {
    /// A core just after a reset.
    pub(super) fn new(identity: CoreIdentity, port: Port) -> Core {
        // SAFETY: both only return a constant.
        let (size, align) = unsafe { (hs_core_size(), hs_core_align()) };
        let layout = Layout::from_size_align(size.max(1), align)
            .expect("the core asks for an alignment that is a power of two");
        // SAFETY: the layout's size is not zero.
        let Some(memory) = NonNull::new(unsafe { alloc_zeroed(layout) }) else {
            handle_alloc_error(layout)
        };
        let rest = Box::new(Rest {
            port: UnsafeCell::new(port),
            hal: Hal {
                user: std::ptr::null_mut(),
                now_ms,
                tx_room,
                tx_write,
                pin_wake,
                pin_limp,
                input_mv,
                vcc_mv,
                late,
                overruns,
                stack,
                inputs_used,
            },
            raw: RawIdentity {
                fw: identity.fw.as_ptr(),
                board: identity.board.as_ptr(),
                id: identity.id,
                boot: identity.boot,
                cause: identity.cause,
            },
            _names: (identity.fw, identity.board),
        });
        let rest = NonNull::from(Box::leak(rest));
        // SAFETY: `rest` was just leaked: it lives, and nobody else points to it. The callbacks get
        // the address of the port inside it, which stays where it is until `drop`. The core's
        // memory has the size and alignment the core asked for, and lives as long.
        let raw = unsafe {
            (*rest.as_ptr()).hal.user = (*rest.as_ptr()).port.get().cast();
            hs_core_init(
                memory.as_ptr().cast(),
                &raw const (*rest.as_ptr()).hal,
                &raw const (*rest.as_ptr()).raw,
            )
        };
        let raw = NonNull::new(raw).expect("the core returns the memory it was given");
        Core {
            raw,
            memory,
            layout,
            rest,
        }
    }

    /// The hardware.
    pub(super) fn port(&mut self) -> &mut Port {
        // SAFETY: `rest` lives until `drop`. The callbacks touch the port only inside the core's
        // functions, which need `&mut self` too: while this borrow lives none of them runs.
        unsafe { &mut *self.rest.as_ref().port.get() }
    }

    /// One byte from the host.
    pub(super) fn receive(&mut self, byte: u8) {
        // SAFETY: `raw` is the core made in `new`; no borrow of the port lives across this call.
        unsafe { hs_core_receive(self.raw.as_ptr(), byte) }
    }

    /// A byte that the receiver could not read.
    pub(super) fn receive_error(&mut self) {
        // SAFETY: as in `receive`.
        unsafe { hs_core_receive_error(self.raw.as_ptr()) }
    }

    /// Clocks, reflexes, events.
    pub(super) fn poll(&mut self) {
        // SAFETY: as in `receive`.
        unsafe { hs_core_poll(self.raw.as_ptr()) }
    }

    /// The pulses of the next frame.
    pub(super) fn frame(&mut self) -> [SlotPulse; SLOTS] {
        let mut out = [SlotPulse::default(); SLOTS];
        // SAFETY: as in `receive`; the core writes `HS_MOST` elements, which is `SLOTS`.
        unsafe { hs_core_frame(self.raw.as_ptr(), out.as_mut_ptr()) }
        out
    }
}

impl Drop for Core {
    fn drop(&mut self) {
        // SAFETY: `memory` came from `alloc_zeroed` with this layout, `rest` from `Box::leak`, and
        // nothing uses either after this.
        unsafe {
            dealloc(self.memory.as_ptr(), self.layout);
            drop(Box::from_raw(self.rest.as_ptr()));
        }
    }
}

/// The port behind a callback's `user`.
///
/// # Safety
///
/// Only for callbacks of the core: `user` is the port that `Core::new` put into `Hal`, it lives,
/// and no other borrow of it does, since the core runs only inside `Core`'s methods.
unsafe fn port<'a>(user: *mut c_void) -> &'a mut Port {
    // SAFETY: as above.
    unsafe { &mut *user.cast() }
}

// The callbacks. Each is one read or one push of plain data, which does not panic; if one did, an
// `extern "C"` function ends the process rather than unwind into C.

extern "C" fn now_ms(user: *mut c_void) -> u32 {
    // SAFETY: called by the core alone, with our `user`.
    unsafe { port(user) }.now_ms
}

extern "C" fn tx_room(user: *mut c_void) -> u16 {
    // SAFETY: called by the core alone, with our `user`.
    let port = unsafe { port(user) };
    port.tx_size
        .saturating_sub(u16::try_from(port.sent.len()).unwrap_or(u16::MAX))
}

extern "C" fn tx_write(user: *mut c_void, bytes: *const u8, count: u8) {
    // SAFETY: called by the core alone, with our `user`.
    let port = unsafe { port(user) };
    // SAFETY: the core passes `count` bytes of its own line buffer, which the port is no part of.
    let bytes = unsafe { std::slice::from_raw_parts(bytes, usize::from(count)) };
    port.sent.extend_from_slice(bytes);
}

extern "C" fn pin_wake(_user: *mut c_void, _slot: u8, _pin: u8) {}

extern "C" fn pin_limp(user: *mut c_void, slot: u8, _pin: u8) {
    // SAFETY: called by the core alone, with our `user`.
    unsafe { port(user) }.limp_slots.push(slot);
}

extern "C" fn input_mv(user: *mut c_void, input: u8) -> u16 {
    // SAFETY: called by the core alone, with our `user`.
    let port = unsafe { port(user) };
    port.inputs_mv.get(usize::from(input)).copied().unwrap_or(0)
}

extern "C" fn vcc_mv(user: *mut c_void) -> u16 {
    // SAFETY: called by the core alone, with our `user`.
    unsafe { port(user) }.vcc_mv
}

extern "C" fn late(_user: *mut c_void) -> u32 {
    0
}

extern "C" fn overruns(user: *mut c_void) -> u32 {
    // SAFETY: called by the core alone, with our `user`.
    unsafe { port(user) }.overruns
}

extern "C" fn stack(_user: *mut c_void) -> u16 {
    // A host has no small stack to measure; a number that a chip could have.
    4096
}

extern "C" fn inputs_used(_user: *mut c_void, _mask: u8) {}

#[cfg(test)]
mod tests {
    use super::*;

    fn core() -> Core {
        Core::new(
            CoreIdentity {
                fw: c"0".into(),
                board: c"b".into(),
                id: 1,
                boot: 1,
                cause: 1,
            },
            Port {
                tx_size: 512,
                vcc_mv: 5000,
                ..Port::default()
            },
        )
    }

    #[test]
    fn two_cores_share_nothing() {
        let (mut one, mut other) = (core(), core());
        one.poll();
        for byte in b"freeze\n" {
            one.receive(*byte);
        }
        other.poll();
        for byte in b"where\n" {
            other.receive(*byte);
        }
        let text = |core: &mut Core| String::from_utf8_lossy(&core.port().sent).into_owned();
        assert!(text(&mut one).contains("done n=1;"));
        assert!(text(&mut other).contains("done frozen=0;"));
    }

    #[test]
    fn a_core_moves_between_threads_as_a_whole() {
        let mut core = core();
        core.poll();
        let sent = std::thread::spawn(move || {
            core.port().sent.clear();
            for byte in b"silence\n" {
                core.receive(*byte);
            }
            core.port().sent.clone()
        })
        .join()
        .expect("it ends");
        assert!(sent.starts_with(b"done freeze_ms=500 limp_ms=10000;"));
    }
}
