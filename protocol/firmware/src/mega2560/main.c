/* main.c: start-up, the main loop, and the core's hardware callbacks. Everything that is not an interrupt runs
 * here, in turn, and nothing here ever waits. */
#include <avr/interrupt.h>
#include <stdbool.h>

#include "../core/hs_core.h"
#include "../core/hs_state.h"
#include "analog.h"
#include "cause.h"
#include "eeprom.h"
#include "identity.h"
#include "pins.h"
#include "pulse.h"
#include "serial.h"
#include "stack.h"
#include "watchdog.h"

/* Received bytes handled in one go, unless a line ends earlier. */
#define BYTES_A_TURN 32u

/* Ticks of 0.5 us from one look at clocks and events to the next: with nothing received, and at most. An event's line
 * takes as long as a short request, and none shall come between two requests that wait. */
#define IDLE_TICKS 1000u
#define BUSY_TICKS 6000u

static hs_core core;
/* The next frame's pulses, while its table is built. */
static hs_slot_pulse pulses[HS_MOST];
static bool is_building;
/* Inputs that the core uses, and those it used when the last table was built. */
static uint8_t inputs, inputs_before;

static uint32_t now_ms(void *user) {
  (void)user;
  return hs_pulse_now_ms();
}
static uint16_t tx_room(void *user) {
  (void)user;
  return hs_serial_room();
}
static void tx_write(void *user, const uint8_t *bytes, uint8_t count) {
  (void)user;
  hs_serial_write(bytes, count);
}
static void pin_wake(void *user, uint8_t slot, uint8_t pin) {
  (void)user;
  (void)slot;
  hs_pins_low(pin);
}
static void pin_limp(void *user, uint8_t slot, uint8_t pin) {
  (void)user;
  (void)pin;
  hs_pulse_cancel(slot);
  /* And in the table under construction, if its bank is not built yet. */
  pulses[slot].ticks = 0;
}
static uint16_t input_mv(void *user, uint8_t input) {
  (void)user;
  return hs_analog_mv(input);
}
static uint16_t vcc_mv(void *user) {
  (void)user;
  return hs_analog_vcc_mv();
}
static uint32_t late(void *user) {
  (void)user;
  return hs_pulse_late();
}
static uint32_t overruns(void *user) {
  (void)user;
  return hs_serial_overruns();
}
static uint16_t stack(void *user) {
  (void)user;
  return hs_stack_unused();
}
static void inputs_used(void *user, uint8_t mask) {
  (void)user;
  inputs = mask;
}

static const hs_hal hal = {
    .user = 0,
    .now_ms = now_ms,
    .tx_room = tx_room,
    .tx_write = tx_write,
    .pin_wake = pin_wake,
    .pin_limp = pin_limp,
    .input_mv = input_mv,
    .vcc_mv = vcc_mv,
    .late = late,
    .overruns = overruns,
    .stack = stack,
    .inputs_used = inputs_used,
};

/* Once a frame, when its table is complete: what else has to be done now and then. */
static void look_after(void) {
  /* A pin that was a servo's until now may still be in its last pulse, which must not be cut: it becomes an input
   * a frame after it was asked for. */
  hs_pins_listen(inputs & inputs_before);
  inputs_before = inputs;

  uint16_t supply_mv = hs_analog_vcc_mv();
  hs_cause_note_supply(hs_eeprom_supply_sound(supply_mv));
  hs_eeprom_poll(hs_pulse_now_ms(), supply_mv);
}

/* One piece of the next frame's table, or the rest of it when time presses. */
static void build_some(void) {
  if (!is_building) {
    hs_core_frame(&core, pulses);
    hs_pulse_begin();
    is_building = true;
    if (!hs_pulse_is_pressed()) return;
  }
  do {
    is_building = !hs_pulse_build_bank(pulses);
  } while (is_building && hs_pulse_is_pressed());
  if (!is_building) look_after();
}

/* Hands on what was received, a line at most. False when the ring was empty. */
static bool receive(void) {
  uint8_t bytes[BYTES_A_TURN];
  uint8_t count = hs_serial_read(bytes, sizeof bytes);
  for (uint8_t at = 0; at < count; at++) {
    uint8_t byte = bytes[at];
    if (byte <= HS_SERIAL_DAMAGE_END) {
      hs_core_receive_error(&core);
      if (byte == HS_SERIAL_DAMAGE) continue;
      byte = '\n';
    }
    hs_core_receive(&core, byte);
  }
  return count > 0;
}

int main(void) {
  hs_pins_rest();
  const hs_identity *identity = hs_identity_start();
  hs_analog_start();
  hs_serial_start();
  hs_pulse_start();
  hs_core_init(&core, &hal, identity);
  hs_watchdog_start();
  sei();
  uint16_t rested_at = hs_pulse_ticks();
  for (;;) {
    /* Lines first, since one of them may be a stop. The rest takes its turn when none waits, and now and then in any
     * case. */
    bool is_busy = receive();
    if (hs_pulse_due()) build_some();
    if (!hs_pulse_has_passed(rested_at, is_busy ? BUSY_TICKS : IDLE_TICKS)) continue;
    hs_watchdog_feed();
    hs_core_poll(&core);
    hs_stack_poll();
    rested_at = hs_pulse_ticks();
  }
}
