//! What the board is to the host: lines, requests and answers as values, a session that matches
//! them, transports that carry them, and a worker thread that owns the link.
//!
//! `codec`, `request`, `answer` and `session` are pure: bytes and the time are arguments, they do
//! no I/O, read no clock and start no thread. `serial` and `ports` alone name the serial library.
//! Nothing here knows a calibration, a screen or the practice robot.
//!
//! Everything that comes from a board or from USB passes [`escape::shown`] before it may reach a
//! terminal; every `Display` in this module does so.

pub mod answer;
pub mod codec;
pub mod crc;
pub mod escape;
pub mod event;
pub mod faulty;
pub mod fields;
pub mod hands;
pub mod ports;
pub mod refusal;
pub mod request;
pub mod serial;
pub mod session;
pub mod sight;
pub mod traced;
pub mod transport;
pub mod worker;

pub use answer::{By, Done, Hello, PinAt, PinState, ResetCause, Sense, Where};
pub use event::{Dropped, Event, LostWhy, Ticket, Trouble};
pub use hands::{Hands, HandsError, HandsHandle, SheetPlace, Tool};
pub use refusal::{Reason, Refusal};
pub use request::{Input, Kind, Reflex, Request};
pub use sight::{Against, SeenJoint, SeenMotion, SeenServo, SeenTouch, Sight, SightHandle};
pub use transport::{Transport, TransportError};
pub use worker::{Link, LinkSettings, Stop};
