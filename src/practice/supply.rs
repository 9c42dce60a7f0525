//! The bench supply and the wires: a set voltage, a resistance, a current limit, and what the
//! board makes of it if it is fed from there.

/// Below this the chip is held in reset. ATmega2560 data sheet: brown-out level 4.3 V typical.
const BROWNOUT_V: f64 = 4.3;
/// The chip's reset delay after the supply is sound again. Data sheet: 65 ms.
const START_UP_MS: u32 = 65;
/// The capacitors on the board.
const SMOOTH_S: f64 = 0.003;
/// What a board on USB gets. USB 2.0: 5 V nominal.
const USB_V: f64 = 5.0;
/// How fast the display follows.
const DISPLAY_S: f64 = 0.15;

/// The supply as it is set and wired.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Supply {
    /// What it is set to.
    pub set_v: f64,
    /// Of the leads and plugs.
    pub ohms: f64,
    /// Where it begins to hold the current and let go of the volts.
    pub limit_a: f64,
    /// It feeds the board too; else USB does, and only grounds are joined.
    pub feeds_board: bool,
}

/// Its state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rail {
    /// At the servos and the board.
    pub volts: f64,
    /// What the display shows.
    pub shown_v: f64,
    /// What the display shows.
    pub shown_a: f64,
    /// Milliseconds until the chip starts again; 0: it runs.
    pub held_ms: u32,
}

impl Supply {
    /// Switched on, nothing moves.
    pub(super) fn rail(&self) -> Rail {
        Rail {
            volts: self.set_v,
            shown_v: self.set_v,
            shown_a: 0.0,
            held_ms: 0,
        }
    }

    /// A millisecond with this load. True: the volts fell so far that the chip was reset.
    pub(super) fn step(&self, rail: &mut Rail, amps: f64) -> bool {
        const MS: f64 = 0.001;
        let limited = if amps > self.limit_a {
            self.set_v * self.limit_a / amps
        } else {
            self.set_v
        };
        let now = limited - self.ohms * amps.min(self.limit_a);
        rail.volts += (now - rail.volts) * (MS / SMOOTH_S);
        rail.shown_v += (rail.volts - rail.shown_v) * (MS / DISPLAY_S);
        rail.shown_a += (amps.min(self.limit_a) - rail.shown_a) * (MS / DISPLAY_S);
        if self.feeds_board && rail.volts < BROWNOUT_V {
            let falls = rail.held_ms == 0;
            rail.held_ms = START_UP_MS;
            return falls;
        }
        rail.held_ms = rail.held_ms.saturating_sub(1);
        false
    }

    /// What the chip measures of its own supply: it never sees more than its regulator gives.
    pub(super) fn logic_mv(&self, rail: &Rail) -> u16 {
        let volts = match self.feeds_board {
            true => rail.volts.clamp(0.0, 5.0),
            false => USB_V,
        };
        (volts * 1000.0) as u16
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SUPPLY: Supply = Supply {
        set_v: 5.2,
        ohms: 0.04,
        limit_a: 8.0,
        feeds_board: true,
    };

    #[test]
    fn it_sags_with_the_load_and_recovers() {
        let mut rail = SUPPLY.rail();
        for _ in 0..100 {
            assert!(!SUPPLY.step(&mut rail, 5.0));
        }
        assert!((rail.volts - 5.0).abs() < 0.01, "{rail:?}");
        for _ in 0..100 {
            SUPPLY.step(&mut rail, 0.0);
        }
        assert!((rail.volts - 5.2).abs() < 0.01);
    }

    #[test]
    fn a_board_on_usb_stays_while_the_servos_volts_collapse() {
        let supply = Supply {
            feeds_board: false,
            ..SUPPLY
        };
        let mut rail = supply.rail();
        let resets = (0..50).filter(|_| supply.step(&mut rail, 20.0)).count();
        assert_eq!((resets, rail.held_ms), (0, 0));
        assert!(rail.volts < 3.0, "{rail:?}");
        assert_eq!(supply.logic_mv(&rail), 5000);
    }

    #[test]
    fn past_its_limit_the_volts_collapse_and_the_chip_is_reset_once_and_held() {
        let mut rail = SUPPLY.rail();
        let resets = (0..50).filter(|_| SUPPLY.step(&mut rail, 20.0)).count();
        assert_eq!(resets, 1);
        assert_eq!(rail.held_ms, START_UP_MS);
        let mut held = 0;
        while rail.held_ms > 0 {
            SUPPLY.step(&mut rail, 0.1);
            held += 1;
        }
        assert!(held >= START_UP_MS);
    }
}
