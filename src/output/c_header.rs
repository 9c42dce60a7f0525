//! A C99 header for the gait sketch on the robot itself: the calibration as constants in flash, and small functions.
//!
//! Single precision, no allocation, no state; on an AVR the table stays in flash.
//! The functions follow `kinematics::leg` and `kinematics::robot` line by line, with the same reasons in the same order.

use std::fmt::Write;

use super::{Incomplete, Source, VERSION, nominal_note, plain_name};
use crate::calibration::{Joint, JointKind, Leg, Robot};

/// The text of the header, or what is not calibrated yet.
pub fn write(source: &Source<'_>) -> Result<String, Incomplete> {
    let robot = source.robot.robot();
    complete(robot)?;
    let small = plain_name(&robot.name);
    let capital = small.to_uppercase();
    let mut constants = String::new();
    for (index, leg) in robot.legs.iter().enumerate() {
        let _ = writeln!(constants, "#define {capital}_LEG_{} {index}", leg.name);
    }
    constants.push('\n');
    for (at, joint) in robot.joints() {
        let place = format!(
            "{}_{}",
            robot.legs[at.leg].name,
            at.kind.word().to_uppercase()
        );
        if let Some(pin) = joint.pin {
            let _ = writeln!(constants, "#define {capital}_PIN_{place} {}", pin.number());
        }
    }
    let table: Vec<String> = robot.legs.iter().map(row).collect();
    let nominal = nominal_note(robot).map_or_else(String::new, |note| {
        format!(" * {note}\n * Angles and feet of these joints may be far off.\n")
    });
    // A name cannot end the comment that it stands in.
    let name = robot.name.replace("*/", "* /").replace("/*", "/ *");
    Ok(TEMPLATE
        .replace("@NAME@", &name)
        .replace("@FILE_DIGEST@", source.digest)
        .replace("@WHEN@", source.at)
        .replace("@VERSION@", VERSION)
        .replace("@NOMINAL@", &nominal)
        .replace("@LEGS@", &robot.legs.len().to_string())
        .replace("@CONSTANTS@", constants.trim_end())
        .replace("@TABLE@", &table.join(",\n"))
        .replace("@P@", &capital)
        .replace("@p@", &small))
}

fn complete(robot: &Robot) -> Result<(), Incomplete> {
    let lacks = |joint: &Joint| match (&joint.zero, &joint.scale) {
        (None, None) => Some(""),
        (None, Some(_)) => Some(" zero_us"),
        (Some(_), None) => Some(" us_per_degree"),
        (Some(_), Some(_)) => None,
    };
    let of_leg = |leg: &Leg| {
        let joints = JointKind::ALL.into_iter();
        let names: Vec<String> = joints
            .filter_map(|kind| Some(format!("{}{}", kind.word(), lacks(leg.joint(kind))?)))
            .collect();
        (!names.is_empty()).then(|| format!("{}: {}", leg.name, names.join(", ")))
    };
    let lacking: Vec<String> = robot.legs.iter().filter_map(of_leg).collect();
    if lacking.is_empty() {
        Ok(())
    } else {
        Err(Incomplete { lacking })
    }
}

/// One leg's numbers, in the order of the header's own list.
fn row(leg: &Leg) -> String {
    let yaw = leg.mount.yaw_deg.to_radians();
    let mut numbers = vec![
        leg.mount.x_mm,
        leg.mount.y_mm,
        leg.mount.z_mm,
        yaw.cos(),
        yaw.sin(),
        leg.links.coxa_mm,
        leg.links.femur_mm,
        leg.links.tibia_mm,
        leg.links.coxa_height_mm,
        leg.links.tibia_bend_deg,
    ];
    for kind in JointKind::ALL {
        let joint = leg.joint(kind);
        let (low, high) = joint.allowed_us();
        let value = |it: &Option<crate::calibration::Recorded>| {
            it.as_ref().map_or(0.0, |recorded| recorded.value)
        };
        numbers.extend([value(&joint.zero), value(&joint.scale), low, high]);
    }
    let words: Vec<String> = numbers
        .iter()
        .map(|&number| format!("{:?}f", number as f32))
        .collect();
    let lines: Vec<String> = [
        &words[..5],
        &words[5..10],
        &words[10..14],
        &words[14..18],
        &words[18..],
    ]
    .iter()
    .map(|part| format!("    {}", part.join(", ")))
    .collect();
    format!("  {{ /* {} */\n{}\n  }}", leg.name, lines.join(",\n"))
}

const TEMPLATE: &str = r#"/*
 * @NAME@: its calibration, for the gait sketch on the robot itself.
 *
 * Exported by hornset @VERSION@ at @WHEN@.
 * SHA-256 of the calibration file: @FILE_DIGEST@
 * Do not edit: export it again.
@NOMINAL@ *
 * Lengths in mm, angles in degrees, pulses in microseconds, single precision.
 * Leg frame: x outward along the leg's mount, z up, the coxa axis at the origin.
 * Body frame: x forward, y left, z up. The foot is the centre of its ball.
 * The coxa turns counter-clockwise seen from above; femur and tibia: positive lifts, a bent knee is negative.
 * Figures hold for an unloaded leg. No function hands out a pulse beyond the limits and ends of the calibration.
 * Servos move with force: keep fingers out of the legs, and a switch in the servo supply within reach.
 *
 * This header may be used by anybody for anything (Zero-Clause BSD, SPDX: 0BSD):
 *
 * Permission to use, copy, modify, and/or distribute this software for any
 * purpose with or without fee is hereby granted.
 *
 * THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR DISCLAIMS ALL WARRANTIES WITH
 * REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF MERCHANTABILITY
 * AND FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR ANY SPECIAL, DIRECT,
 * INDIRECT, OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES WHATSOEVER RESULTING FROM
 * LOSS OF USE, DATA OR PROFITS, WHETHER IN AN ACTION OF CONTRACT, NEGLIGENCE OR
 * OTHER TORTIOUS ACTION, ARISING OUT OF OR IN CONNECTION WITH THE USE OR
 * PERFORMANCE OF THIS SOFTWARE.
 */
#ifndef HORNSET_@P@_H
#define HORNSET_@P@_H

#include <math.h>
#include <stdint.h>

#ifdef __AVR__
#include <avr/pgmspace.h>
#define @P@_FLASH PROGMEM
#define @P@_READ(address) pgm_read_float(address)
#else
#define @P@_FLASH
#define @P@_READ(address) (*(address))
#endif

#define @P@_LEGS @LEGS@
@CONSTANTS@

/* Joints, from the body to the foot. */
#define @P@_COXA 0
#define @P@_FEMUR 1
#define @P@_TIBIA 2

/* What the functions answer. */
#define @P@_DONE 0        /* the pulses are there */
#define @P@_TOO_FAR 1     /* farther than the straight leg */
#define @P@_TOO_NEAR 2    /* nearer than the folded leg */
#define @P@_ON_AXIS 3     /* on the coxa axis, where it has no direction */
#define @P@_LIMIT_COXA 4  /* the coxa would be beyond its limits */
#define @P@_LIMIT_FEMUR 5 /* the femur would be */
#define @P@_LIMIT_TIBIA 6 /* the tibia would be */
#define @P@_NO_NUMBER 7   /* a coordinate or angle is no finite number */
#define @P@_NO_LEG 8      /* there is no such leg or joint */

/* A leg's numbers: mount x, y, z, cosine and sine of its yaw; coxa, femur, tibia, height of the femur axis,
 * bend of the tibia; and for each joint zero, microseconds a degree, lowest and highest pulse. */
#define @P@_NUMBERS 22
static const float @p@_table[@P@_LEGS][@P@_NUMBERS] @P@_FLASH = {
@TABLE@
};

static inline float @p@_number(uint8_t leg, uint8_t place) {
  return @P@_READ(&@p@_table[leg][place]);
}

/* The first of a joint's four numbers. */
static inline uint8_t @p@_of(uint8_t joint) {
  return (uint8_t)(10u + 4u * joint);
}

/* An angle within half a turn. */
static inline float @p@_wrap(float degrees) {
  if (degrees > 180.0f) {
    degrees -= 360.0f;
  }
  if (degrees <= -180.0f) {
    degrees += 360.0f;
  }
  return degrees;
}

/* The pulse of an angle. Beyond the limits it answers LIMIT_… and leaves *pulse_us alone. */
static inline uint8_t @p@_angle_to_pulse(uint8_t leg, uint8_t joint, float degrees, float *pulse_us) {
  float pulse, low, high;
  if (leg >= @P@_LEGS || joint > @P@_TIBIA) {
    return @P@_NO_LEG;
  }
  if (!isfinite(degrees)) {
    return @P@_NO_NUMBER;
  }
  pulse = @p@_number(leg, @p@_of(joint)) + @p@_number(leg, (uint8_t)(@p@_of(joint) + 1u)) * degrees;
  low = @p@_number(leg, (uint8_t)(@p@_of(joint) + 2u));
  high = @p@_number(leg, (uint8_t)(@p@_of(joint) + 3u));
  /* A hundredth of a microsecond covers the rounding of single precision; the pulse is cut to the limit. */
  if (pulse < low - 0.01f || pulse > high + 0.01f) {
    return (uint8_t)(@P@_LIMIT_COXA + joint);
  }
  *pulse_us = pulse < low ? low : pulse > high ? high : pulse;
  return @P@_DONE;
}

/* The angle that a pulse commands, degrees; limits do not count here. 0 for a leg or joint that is not there. */
static inline float @p@_pulse_to_angle(uint8_t leg, uint8_t joint, float pulse_us) {
  if (leg >= @P@_LEGS || joint > @P@_TIBIA) {
    return 0.0f;
  }
  return (pulse_us - @p@_number(leg, @p@_of(joint))) / @p@_number(leg, (uint8_t)(@p@_of(joint) + 1u));
}

/* A point of the body frame in a leg's frame. */
static inline void @p@_body_to_leg(uint8_t leg, const float body[3], float out[3]) {
  float dx, dy, c, s;
  if (leg >= @P@_LEGS) {
    out[0] = out[1] = out[2] = NAN;
    return;
  }
  dx = body[0] - @p@_number(leg, 0);
  dy = body[1] - @p@_number(leg, 1);
  c = @p@_number(leg, 3);
  s = @p@_number(leg, 4);
  out[0] = c * dx + s * dy;
  out[1] = c * dy - s * dx;
  out[2] = body[2] - @p@_number(leg, 2);
}

/* The three pulses that put a foot at a point of the leg's frame, the knee up if that is allowed, else down.
 * Anything but DONE says why not, and leaves pulses_us alone. */
static inline uint8_t @p@_foot_to_pulses(uint8_t leg, float x, float y, float z, float pulses_us[3]) {
  const float degree = 57.295779513f;
  float radius, out, up, distance, femur, tibia, longest, shortest, straight, folded, bent, line, found[3];
  uint8_t way, joint, answer, first = @P@_DONE;
  if (leg >= @P@_LEGS) {
    return @P@_NO_LEG;
  }
  if (!isfinite(x) || !isfinite(y) || !isfinite(z)) {
    return @P@_NO_NUMBER;
  }
  femur = @p@_number(leg, 6);
  tibia = @p@_number(leg, 7);
  longest = femur + tibia;
  shortest = femur > tibia ? femur - tibia : tibia - femur;
  radius = hypotf(x, y);
  if (radius < 1e-6f) {
    return @P@_ON_AXIS;
  }
  out = radius - @p@_number(leg, 5);
  up = z - @p@_number(leg, 8);
  distance = hypotf(out, up);
  /* Law of cosines by the half angle of the knee: all digits near the straight and the folded leg. */
  straight = (longest - distance) * (longest + distance);
  folded = (distance - shortest) * (distance + shortest);
  if (!(distance <= longest)) {
    return @P@_TOO_FAR;
  }
  if (distance < shortest) {
    return @P@_TOO_NEAR;
  }
  bent = -2.0f * atan2f(sqrtf(straight), sqrtf(folded));
  line = atan2f(up, out);
  for (way = 0; way < 2; way++) {
    float angles[3];
    angles[0] = atan2f(y, x) * degree;
    angles[1] = @p@_wrap((line - atan2f(tibia * sinf(bent), femur + tibia * cosf(bent))) * degree);
    angles[2] = @p@_wrap(bent * degree - @p@_number(leg, 9));
    for (joint = 0, answer = @P@_DONE; joint < 3 && answer == @P@_DONE; joint++) {
      answer = @p@_angle_to_pulse(leg, joint, angles[joint], &found[joint]);
    }
    if (answer == @P@_DONE) {
      pulses_us[0] = found[0];
      pulses_us[1] = found[1];
      pulses_us[2] = found[2];
      return @P@_DONE;
    }
    if (way == 0) {
      first = answer;
    }
    bent = -bent;
  }
  return first;
}

#endif
"#;
