/* board.h: a board made of the firmware core and nothing else, in virtual time.
 *
 * It hands the core a clock, inputs and a transmitter, keeps what the core sends, and builds a frame every 20 ms.
 * It judges nothing. */
#ifndef BOARD_H
#define BOARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "hs_core.h"

/* Bytes kept until board_take; more is a failure of the test. */
#define BOARD_OUT 65536u

typedef struct board {
  hs_hal hal;
  hs_identity identity;
  hs_core *core;
  void *memory;
  /* Milliseconds since the last reset. */
  uint32_t now;
  /* Frames built since the last reset, and the pulses of the newest. */
  uint32_t frames;
  hs_slot_pulse pulses[HS_MOST];
  /* The EEPROM: starts counted. */
  uint16_t stored;
  /* Millivolts at a0 to a7; they survive a reset. */
  uint16_t inputs[8];
  /* What the transmitter says it has room for; 0xFFFF: always enough. */
  uint16_t room;
  /* What was sent and not yet taken. */
  uint8_t out[BOARD_OUT];
  size_t out_count;
  /* The transmitter was given more than it had room for, or the core called a callback with a bad argument. */
  bool misused;
  /* By slot: the pin that pin_wake claimed for it, 0 when free. */
  uint8_t claimed[HS_MOST];
  /* Called with `watcher` when a frame was built, before the poll that follows; may be null. */
  void (*on_frame)(void *watcher);
  void *watcher;
} board;

/* A board with a blank EEPROM, all inputs at 0 mV. False when memory is short. */
bool board_new(board *b);
void board_free(board *b);

/* A reset. cause is one of HS_CAUSE_*. What was sent before is forgotten. */
void board_reset(board *b, uint8_t cause);

/* Lets one millisecond pass: a frame every twentieth, then a poll. */
void board_tick(board *b);

/* A whole frame period or more; ms of them. */
void board_wait(board *b, uint32_t ms);

/* Bytes from the host, all at once, then a poll. */
void board_send(board *b, const uint8_t *bytes, size_t count);

#endif
