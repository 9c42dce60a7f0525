//! What an entry says, in one short line for a person.

use std::fmt;

use super::entry::What;
use super::words::Way;

impl fmt::Display for What {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            What::Plan(plan) => write!(f, "plan of {}, {} legs", plan.name, plan.legs.len()),
            What::TakenOver { joint, .. } => write!(f, "{joint}: taken over by hand"),
            What::Undo { entry } => write!(f, "entry {entry} taken back"),
            What::StartOver { joint, part } => write!(f, "{joint}: {} anew", part.word()),
            What::SupplyAnswer { to, yes, value } => {
                write!(f, "supply, {}: ", to.words())?;
                match (yes, value) {
                    (Some(true), _) => f.write_str("yes"),
                    (Some(false), _) => f.write_str("no"),
                    (None, Some(value)) => write!(f, "{value}"),
                    (None, None) => f.write_str("not known"),
                }
            }
            What::Supply {
                volts, limit_amps, ..
            } => write!(f, "supply {volts} V, limit {limit_amps} A"),
            What::ServoTested { servo, verdict, .. } => {
                write!(f, "servo {servo}: {}", verdict.word())
            }
            What::ServoPlaced { joint, servo } => write!(f, "{joint}: servo {servo} built in"),
            What::ServoReplaced { joint, servo } => {
                write!(f, "{joint}: servo {servo} in place of the old one")
            }
            What::ServoKind {
                teeth,
                arms,
                travel_deg,
                measured,
            } => {
                let mut said = Vec::new();
                said.extend(teeth.map(|it| format!("{it} teeth")));
                said.extend(
                    arms.map(|it| format!("{it} {}", if it == 1 { "arm" } else { "arms" })),
                );
                said.extend(travel_deg.map(|it| format!("{it}° to each side")));
                said.extend(measured.then(|| "each one's travel measured".to_string()));
                write!(f, "kind of servo: {}", said.join(", "))
            }
            What::HornsOn { stay: true } => f.write_str("the horns are on and stay as they are"),
            What::HornsOn { stay: false } => f.write_str("the horns are still to go on"),
            What::Needed {
                joint,
                low_deg,
                high_deg,
            } => write!(f, "{joint}: needs {low_deg}° to {high_deg}°"),
            What::HornRead { joint, angle_deg } => {
                write!(f, "{joint}: horn came out at {angle_deg}°")
            }
            What::Leg { joint, on: true } => write!(f, "{joint}: leg on its horn again"),
            What::Leg { joint, on: false } => write!(f, "{joint}: leg off its horn"),
            What::HornEnd {
                joint,
                toward,
                angle_deg,
            } => write!(
                f,
                "{joint}: bare arm at {angle_deg}° at the servo's {} end",
                toward.word()
            ),
            What::Horn {
                joint,
                turn_teeth,
                arm,
                ..
            } => write!(f, "{joint}: horn by {turn_teeth} teeth, arm {arm}"),
            What::Plug {
                pin,
                joint,
                way,
                why,
                ..
            } => match joint {
                None => {
                    let why = why.map_or_else(String::new, |why| format!(", {}", why.words()));
                    write!(f, "pin {}: nothing moved{why}", pin.0)
                }
                Some(joint) => {
                    let way = match way {
                        Some(Way::Positive) => ", the positive way",
                        Some(Way::Negative) => ", the negative way",
                        None => "",
                    };
                    write!(f, "pin {}: {joint} moved{way}", pin.0)
                }
            },
            What::PlugsExchanged { pins } => {
                write!(f, "plugs {} and {} exchanged", pins.0.0, pins.1.0)
            }
            What::MapAccepted { wires } => {
                write!(f, "wiring accepted as it is, {} plugs", wires.len())
            }
            What::Bounds {
                joint,
                low_us,
                high_us,
            } => write!(f, "{joint}: rough bounds {low_us} to {high_us} µs"),
            What::Placing { id, joints, .. } => {
                let names: Vec<String> = joints.iter().map(ToString::to_string).collect();
                write!(f, "gauge placing {id}: {}", names.join(", "))
            }
            What::Mark {
                joint,
                pulse_us,
                angle_deg,
                ..
            } => write!(f, "{joint}: {pulse_us} µs is {angle_deg}°"),
            What::Free {
                joint,
                toward,
                pulse_us,
            } => write!(f, "{joint}: free to {pulse_us} µs, {} side", toward.word()),
            What::End {
                joint,
                toward,
                pulse_us,
                why,
                ..
            } => {
                let why = why.map_or_else(String::new, |why| format!(", {}", why.word()));
                write!(f, "{joint}: {} end {pulse_us} µs{why}", toward.word())
            }
            What::Limits {
                joint,
                low_us,
                high_us,
                ..
            } => write!(f, "{joint}: limits {low_us} to {high_us} µs"),
            What::Guard {
                joint,
                low_us,
                high_us,
            } => write!(f, "{joint}: guard {low_us} to {high_us} µs"),
            What::Typed { joint, .. } => write!(f, "{joint}: typed"),
            What::Checked {
                joint,
                pulse_us,
                angle_deg,
                ..
            } => write!(f, "{joint}: checked, {pulse_us} µs is {angle_deg}°"),
            What::Saved { .. } => f.write_str("file saved"),
            What::Note { text } => f.write_str(text),
        }
    }
}
