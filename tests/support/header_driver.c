/* Runs the exported header over random points and sends what it answers as raw bytes; the same on host and chip.
 * Every coordinate is exact in single precision, so that the test knows the very same points.
 * Built with -DROBOT=… -DUPPER=… -DPOINTS=…; needs robot.h and a function put(). */
#include "robot.h"

#define JOIN2(a, b) a##_##b
#define JOIN(a, b) JOIN2(a, b)
#define FN(name) JOIN(ROBOT, name)
#define CONSTANT(name) JOIN(UPPER, name)

#ifdef __AVR__
#include <avr/io.h>
#include <avr/sleep.h>
static void put(uint8_t byte) {
  while (!(UCSR0A & _BV(UDRE0))) {
  }
  UDR0 = byte;
}
static void begin(void) {
  UBRR0 = 0; /* 1000000 baud */
  UCSR0B = _BV(TXEN0);
}
static void end(void) {
  for (;;) {
  }
}
#else
#include <stdio.h>
static void put(uint8_t byte) { putchar(byte); }
static void begin(void) {}
static void end(void) {}
#endif

/* Numerical Recipes' linear congruential generator; the upper 12 bits. */
static uint32_t state = 20260314u;
static float draw(void) {
  state = state * 1664525u + 1013904223u;
  return (float)(uint16_t)(state >> 20);
}

static void put_float(float value) {
  union {
    float number;
    uint8_t bytes[4];
  } it;
  uint8_t i;
  it.number = value;
  for (i = 0; i < 4; i++) {
    put(it.bytes[i]);
  }
}

static void one(uint8_t leg, float x, float y, float z) {
  float pulses[3] = {-1.0f, -1.0f, -1.0f}, pulse = -1.0f, angle;
  uint8_t joint;
  put(FN(foot_to_pulses)(leg, x, y, z, pulses));
  for (joint = 0; joint < 3; joint++) {
    put_float(pulses[joint]);
    put_float(FN(pulse_to_angle)(leg, joint, pulses[joint]));
  }
  joint = (uint8_t)((state >> 8) % 3u);
  angle = draw() * 0.0625f - 128.0f;
  put(FN(angle_to_pulse)(leg, joint, angle, &pulse));
  put_float(pulse);
}

int main(void) {
  uint8_t leg;
  uint16_t i;
  begin();
  for (leg = 0; leg < CONSTANT(LEGS); leg++) {
    for (i = 0; i < POINTS; i++) {
      float body[3], point[3], x, y, z;
      if (i % 2 == 0) { /* where most points can be had */
        x = draw() * 0.03125f + 40.0f;
        y = draw() * 0.03125f - 64.0f;
        z = draw() * 0.03125f - 120.0f;
      } else { /* all around, and beyond */
        x = draw() * 0.0703125f - 64.0f;
        y = draw() * 0.0703125f - 144.0f;
        z = draw() * 0.0703125f - 192.0f;
      }
      one(leg, x, y, z);
      body[0] = x;
      body[1] = y;
      body[2] = z;
      FN(body_to_leg)(leg, body, point);
      put_float(point[0]);
      put_float(point[1]);
      put_float(point[2]);
    }
  }
  /* No number, no leg, huge, tiny. */
  one(0, NAN, 0.0f, -80.0f);
  one(0, 100.0f, INFINITY, -80.0f);
  one(0, 100.0f, 0.0f, -INFINITY);
  one(CONSTANT(LEGS), 100.0f, 0.0f, -80.0f);
  one(0, 1e30f, -1e30f, 1e30f);
  one(0, 0.0f, 0.0f, -80.0f);
  one(0, 1e-30f, -1e-30f, -80.0f);
  end();
  return 0;
}
