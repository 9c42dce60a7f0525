/* hs_state.h: the body of the context. Only the core's own files look inside; a C program includes it to place
 * the context statically. Times are the port's now_ms; pulses are ticks of 0.5 us. */
#ifndef HS_STATE_H
#define HS_STATE_H

#include <stdbool.h>

#include "hs_core.h"
#include "hs_out.h"

/* No slot, no input, no pin in a roster's place. */
#define HS_NONE 0xFFu

/* The longest answer to a line that changes state, its end included. */
#define HS_SHORT_MAX 64u
/* Damaged lines within HS_NOISE_MS that freeze the board. */
#define HS_NOISE_COUNT 8u
#define HS_NOISE_MS 1000u
/* Frames from one pin's first pulse to the next pin's. */
#define HS_WAKE_FRAMES 3u
/* Bytes of a set of pins. */
#define HS_PIN_BYTES 9u

/* hs_slot.state */
#define HS_FREE 0u
#define HS_WAKING 1u
#define HS_AWAKE 2u

/* Who asked for a freeze or made pins limp; the order of the words in hs_event.c. */
#define HS_BY_ASKED 0u
#define HS_BY_SILENCE 1u
#define HS_BY_TRIP 2u
#define HS_BY_NOISY 3u

/* One pin that is awake or waking, and its ramp. */
typedef struct hs_slot {
  /* The pin; means nothing while free. */
  uint8_t pin;
  /* HS_FREE, HS_WAKING or HS_AWAKE. */
  uint8_t state;
  /* Waking: frames to be built before the one with the first pulse; 0: the next one has it. */
  uint8_t wait;
  /* Frames of a peck still to be built, the one back at the start included; 0: no peck. */
  uint8_t peck;
  /* The pulse of the last built frame; waking: of the first. */
  uint16_t now;
  /* Where the ramp ends; equals now when there is none. In a peck: the start it goes back to. */
  uint16_t to;
  /* What each frame adds: step whole ticks, and rest parts of which `frames` make a tick. In a peck: step is the
   * outer pulse. */
  uint16_t step;
  uint16_t rest;
  /* Parts gathered so far, below `frames`. */
  uint32_t parts;
  /* Frames of the whole ramp, and those still to be built; left == 0: no ramp. */
  uint32_t frames;
  uint32_t left;
} hs_slot;

/* A reflex on one input. */
typedef struct hs_trip {
  /* Acts at this many millivolts and more; 0: no trip. */
  uint16_t mv;
  /* For this long without a break, 1 to 1000. */
  uint16_t hold_ms;
  /* Since when it has been so; means something while is_above. */
  uint32_t since;
  bool is_above;
  /* It acted, and the input has not fallen below since, nor was a freeze thawed. */
  bool has_acted;
  /* Limp instead of freeze. */
  bool is_limp;
  /* Limp: the pins, bit n & 7 of byte n >> 3; all of them when no bit is set. */
  uint8_t pins[HS_PIN_BYTES];
} hs_trip;

/* The line being received. Its bytes stand last, so that the chip reaches the rest by short offsets. */
typedef struct hs_line {
  /* How many bytes are stored. */
  uint8_t count;
  /* Place of the last ';'; HS_NONE: none yet. */
  uint8_t semicolon;
  /* CRC of all bytes so far, and of those before the last ';'. */
  uint16_t crc;
  uint16_t body_crc;
  /* How many words so far, and before the last ';'; whether a blank, or nothing, stands before the next byte. Counted as
   * they come, since a line that ended wants its answer soon. */
  uint8_t words;
  uint8_t body_words;
  bool is_gap;
  /* Damage seen so far: too long; a byte that is not printable, or that the receiver could not read. */
  bool is_long;
  bool is_bad;
  /* Its bytes, without the end. */
  uint8_t bytes[HS_LINE_MAX];
} hs_line;

struct hs_core {
  /* The line coming in; first for the same reason as above. */
  hs_line line;
  /* The line going out. */
  hs_out out;
  /* The hardware and the board's identity, owned by the caller. */
  const hs_hal *hal;
  const hs_identity *identity;

  /* Tag and check of the last line that changed state, and its answer, complete; last 0: none since reset. */
  uint16_t last;
  uint16_t last_check;
  uint8_t last_answer[HS_SHORT_MAX];
  uint8_t last_count;

  /* By pin: the guard, low 0 when it has none of its own; top speed in us per second; the slot or HS_NONE. */
  uint16_t low[HS_PINS];
  uint16_t high[HS_PINS];
  uint32_t slew[HS_PINS];
  uint8_t slot_of[HS_PINS];
  hs_slot slots[HS_MOST];
  /* Slots that are not free. */
  uint8_t busy;
  /* Frames to be built before another first pulse may come, 0 to HS_WAKE_FRAMES - 1. */
  uint8_t wake_gap;
  /* Number of the last built frame; wraps. */
  uint16_t frame;

  /* The order of pins for `pose`. */
  uint8_t roster[HS_MOST];
  uint8_t roster_count;

  /* Freezes so far; whether the last one still holds, and who asked. */
  uint32_t freezes;
  bool is_frozen;
  uint8_t frozen_by;

  /* Silence: both times, the last feeding line, and whether it froze the board since. */
  uint16_t silence_freeze_ms;
  uint16_t silence_limp_ms;
  uint32_t fed_at;
  bool silence_froze;

  /* Noise: when the last lines were damaged while a pin was awake or waking, the next place to write and how many
   * count; and the last such moment, which means something while was_noisy. */
  uint32_t noise[HS_NOISE_COUNT];
  uint8_t noise_at;
  uint8_t noise_count;
  uint32_t noisy_at;
  bool was_noisy;

  /* The millisecond of the last poll. */
  uint32_t polled_at;

  /* Counts for `sense`. */
  uint32_t dropped;
  uint32_t bad_checks;

  hs_trip trips[HS_INPUTS];

  /* Watch: its period, 0 when off; when it was due last; its inputs in order; the frame from which it counts. */
  uint16_t watch_ms;
  uint32_t watch_at;
  uint8_t watch_inputs[HS_INPUTS];
  uint8_t watch_count;
  uint16_t watch_frame;

  /* Events that wait for room. */
  bool tell_ready;
  bool tell_frozen;
  bool tell_limp;
  uint8_t limp_by;
  /* Pins whose first pulse was built, in that order. */
  uint8_t tell_awake[HS_MOST];
  uint8_t awake_count;
  /* The next pin of a `where` event, HS_NONE when none waits, and the one frame it tells of. */
  uint8_t where_next;
  uint16_t where_frame;
  /* The line of that event under construction, some pins a poll, so that a request need not wait for all of it; and how
   * many pins it has, HS_NONE when it is not begun. */
  hs_out where;
  uint8_t where_count;
  bool tell_sense;
};

#endif
