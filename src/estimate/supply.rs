//! Sums for the servo supply: what servos draw, what the regulator takes in, what a lead drops.
//!
//! Plain arithmetic on stated currents. It says what may be asked of a supply, not what will flow.

/// What one servo draws, A.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draw {
    /// Holding still without a load.
    pub idle_a: f64,
    /// Turning without a load.
    pub moving_a: f64,
    /// Held against an end, and for an instant at every start.
    pub stall_a: f64,
}

/// How many servos do what at one time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Doing {
    /// Holding still.
    pub idle: u32,
    /// Turning.
    pub moving: u32,
    /// Stalled or starting.
    pub stalled: u32,
}

/// A regulator between battery and servos.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Regulator {
    /// What it gives, V.
    pub out_v: f64,
    /// The most it gives, A.
    pub limit_a: f64,
    /// Power out over power in, 0 to 1.
    pub efficiency: f64,
}

impl Draw {
    /// Their sum, A.
    pub fn sum_a(&self, doing: Doing) -> f64 {
        f64::from(doing.idle) * self.idle_a
            + f64::from(doing.moving) * self.moving_a
            + f64::from(doing.stalled) * self.stall_a
    }

    /// How many of `servos` may start in the same moment while the others hold still, within `limit_a`.
    pub fn may_start(&self, servos: u32, limit_a: f64) -> u32 {
        let stays_within = |starting: &u32| {
            let doing = Doing {
                idle: servos - starting,
                moving: 0,
                stalled: *starting,
            };
            self.sum_a(doing) <= limit_a
        };
        (0..=servos).rev().find(stays_within).unwrap_or(0)
    }
}

impl Regulator {
    /// What it takes from a battery of `battery_v` while it gives `out_a`, A.
    pub fn input_a(&self, out_a: f64, battery_v: f64) -> f64 {
        out_a * self.out_v / (self.efficiency * battery_v)
    }

    /// What is left below its limit, A; negative: it is asked for too much.
    pub fn margin_a(&self, out_a: f64) -> f64 {
        self.limit_a - out_a
    }
}

/// Conductivity of annealed copper at 20 °C, m/(Ω·mm²) (IEC 60028).
const COPPER: f64 = 58.0;
/// More resistance for each kelvin above 20 °C.
const COPPER_PER_K: f64 = 0.00393;

/// A copper lead of two wires.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// Cross section of one wire, mm².
    pub area_mm2: f64,
    /// From supply to load, m.
    pub length_m: f64,
}

impl Lead {
    /// A lead of this wire gauge (ASTM B258: 0.127 mm · 92^((36 − gauge)/39) across).
    pub fn of_gauge(gauge: u32, length_m: f64) -> Lead {
        let diameter = 0.127 * 92_f64.powf((36.0 - f64::from(gauge)) / 39.0);
        Lead {
            area_mm2: std::f64::consts::PI / 4.0 * diameter * diameter,
            length_m,
        }
    }

    /// Resistance of one of its wires at this temperature, Ω.
    pub fn wire_ohm(&self, celsius: f64) -> f64 {
        self.length_m / (COPPER * self.area_mm2) * (1.0 + COPPER_PER_K * (celsius - 20.0))
    }

    /// What it drops there and back at 20 °C, V.
    pub fn drop_v(&self, amps: f64) -> f64 {
        2.0 * self.wire_ohm(20.0) * amps
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn number(of: &Value, key: &str) -> f64 {
        of[key].as_f64().expect("a number")
    }

    fn count(of: &Value, key: &str) -> u32 {
        u32::try_from(of[key].as_u64().expect("a count")).expect("a small count")
    }

    #[test]
    fn the_power_budget_examples() {
        // Source: tests/data/power/power_budget_examples.json, exact arithmetic on invented numbers.
        let text = include_str!("../../tests/data/power/power_budget_examples.json");
        let all: Value = serde_json::from_str(text).expect("the file is JSON");
        let cases = all["cases"].as_array().expect("cases");
        assert_eq!(cases.len(), 6);
        for case in cases {
            let draw = Draw {
                idle_a: number(case, "idle_A"),
                moving_a: number(case, "moving_A"),
                stall_a: number(case, "stall_A"),
            };
            let (moving, stalled) = (count(case, "n_moving"), count(case, "n_stalled"));
            let idle = count(case, "n") - moving - stalled;
            let regulator = Regulator {
                out_v: number(case, "rail_V"),
                limit_a: number(case, "converter_limit_A"),
                efficiency: number(case, "eta"),
            };
            let out = draw.sum_a(Doing {
                idle,
                moving,
                stalled,
            });
            let close = |ours: f64, key: &str| {
                let theirs = number(case, key);
                assert!(
                    (ours - theirs).abs() < 1e-9 * theirs.abs().max(1.0),
                    "{key}: {ours} {theirs}"
                );
            };
            close(out, "rail_A");
            close(out * regulator.out_v, "rail_W");
            close(
                regulator.input_a(out, number(case, "battery_V")),
                "battery_A",
            );
            close(regulator.margin_a(out), "margin_A");
            assert_eq!(
                regulator.margin_a(out) >= 0.0,
                case["ok"].as_bool().expect("a bool")
            );
        }
    }

    #[test]
    fn copper_leads_by_gauge() {
        // Source: ASTM B258 and IEC 60028, worked in tests/data/power/awg_copper.json.
        let text = include_str!("../../tests/data/power/awg_copper.json");
        let all: Value = serde_json::from_str(text).expect("the file is JSON");
        let rows = all["rows"].as_array().expect("rows");
        assert_eq!(rows.len(), 8);
        for row in rows {
            let lead = Lead::of_gauge(count(row, "awg"), 1.0);
            let close = |ours: f64, key: &str, half_digit: f64| {
                let theirs = number(row, key);
                assert!(
                    (ours - theirs).abs() <= half_digit,
                    "{key}: {ours} {theirs}"
                );
            };
            close(lead.area_mm2, "area_mm2", 0.51e-5);
            close(1000.0 * lead.wire_ohm(20.0), "milliohm_per_m_20C", 0.51e-3);
        }
        // 5 A through half a metre of 20 gauge: 2 · 0.5 m · 33.309 mΩ/m · 5 A.
        assert!((Lead::of_gauge(20, 0.5).drop_v(5.0) - 0.1665).abs() < 1e-4);
        let (cold, warm) = (
            Lead::of_gauge(20, 1.0).wire_ohm(20.0),
            Lead::of_gauge(20, 1.0).wire_ohm(60.0),
        );
        assert!((warm / cold - 1.1572).abs() < 1e-9);
    }

    #[test]
    fn how_many_may_start_together() {
        let draw = Draw {
            idle_a: 0.01,
            moving_a: 0.5,
            stall_a: 2.5,
        };
        // Three starting: 7.5 + 15 · 0.01 = 7.65 A; a fourth makes 10.14 A.
        assert_eq!(draw.may_start(18, 10.0), 3);
        assert_eq!(draw.may_start(18, 45.0), 18);
        assert_eq!(draw.may_start(18, 0.1), 0);
    }
}
