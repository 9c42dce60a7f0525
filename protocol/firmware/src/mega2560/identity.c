/* identity.c: drawing the id, and how good it is.
 *
 * Two boards must not share an id, since the host tells robots apart by it; nobody needs it to be secret. It is
 * drawn from three things: what RAM held at start (after power-on, a pattern of the single chip's own), the
 * lowest bits of the converter on open inputs, and the jitter of the watchdog's own oscillator against the
 * crystal over 16 periods of 16 ms. On a chip the last alone should give tens of bits (from general knowledge,
 * not measured here). On an emulator none of the three is noise, and every board draws the same id. */
#include "identity.h"

#include <avr/io.h>

#include "analog.h"
#include "cause.h"
#include "eeprom.h"
#include "start.h"
#include "version.h"
#include "watchdog.h"

#define PERIODS 16u

static char firmware_name[] = HS_FIRMWARE_VERSION;
static char board_name[] = "atmega2560";
static hs_identity identity;

/* One step of FNV-1a in 32 bits (IETF draft-eastlake-fnv). */
static uint32_t fold(uint32_t hash, uint16_t value) {
  hash = (hash ^ (value & 0xFFu)) * 16777619u;
  return (hash ^ (value >> 8)) * 16777619u;
}

static uint32_t draw_id(void) {
  uint32_t hash = 2166136261u;
  TCCR1A = 0;
  TCCR1B = _BV(CS10);
  hash = fold(hash, (uint16_t)hs_start_ram);
  hash = fold(hash, (uint16_t)(hs_start_ram >> 16));
  do {
    for (uint8_t count = 0; count < 64; count++) hash = fold(hash, hs_analog_wait(count & 7u));
    for (uint8_t period = 0; period < PERIODS; period++) hash = fold(hash, hs_watchdog_stamp());
  } while (hash == 0 || hash == 0xFFFFFFFFu);
  return hash;
}

const hs_identity *hs_identity_start(void) {
  hs_eeprom_start();
  identity.fw = firmware_name;
  identity.board = board_name;
  identity.boot = hs_eeprom_boot();
  identity.cause = hs_cause_take();
  identity.id = hs_eeprom_id();
  if (identity.id == 0) {
    identity.id = draw_id();
    hs_eeprom_keep_id(identity.id);
  }
  return &identity;
}
