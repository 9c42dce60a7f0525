/* judge.h: watches a board from outside and says when it breaks a promise of PROTOCOL.md.
 *
 * It knows the bytes that went in, the bytes that came out, the pulses of each frame and the time; it never looks
 * into the core. Guards, silence times and freezes are what the answers say. It reads lines with code of its own. */
#ifndef JUDGE_H
#define JUDGE_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"

/* Faults that can be built into judge or board on purpose, to show that they are found. */
typedef enum fault {
  FAULT_NONE,
  FAULT_GUARD_MISSED,    /* the judge overlooks every guard that was set */
  FAULT_PULSE_BIT,       /* a bit of a pulse turns over now and then */
  FAULT_PULSE_LONG,      /* a pulse of 2500.5 us now and then */
  FAULT_PULSE_UNASKED,   /* a pulse on a pin that nobody woke */
  FAULT_ANSWER_BIT,      /* a bit of an answer turns over now and then */
  FAULT_SILENCE_SHORT,   /* the judge expects the freeze 40 ms early */
  FAULT_LIMP_SHORT,      /* the judge expects limp by silence at the freeze time */
  FAULT_THAW_UNSEEN,     /* the judge overlooks thaws, so that pulses move while frozen */
  FAULT_LIMP_UNDONE,     /* the board forgets that a pin went limp */
  FAULT_WAKE_CLOSE,      /* the judge wants four frames between first pulses */
  FAULT_ANSWER_LOST,     /* an answer is swallowed now and then, and not counted */
  FAULT_PECK_SHORT,      /* the judge wants a peck back a frame early */
  FAULT_COUNT
} fault;

/* What a peck owes: `left` frames with the outer pulse, then one with the starting pulse; owed: it still owes. */
typedef struct peck_debt {
  bool is_owed;
  unsigned left;
  uint16_t outer;
  uint16_t start;
} peck_debt;

typedef struct judge {
  board *board;
  fault fault;
  /* The first promise that was broken, as text; empty when none was. */
  char broken[512];

  /* The line going in, as far as it came. */
  uint8_t line[300];
  size_t line_count;
  bool line_is_damaged;
  /* Where in board->out the next line to read begins. */
  size_t seen;

  /* By pin, in half us: the guard in force; the pulse of the last frame, 0 when it had none. */
  uint16_t low[70];
  uint16_t high[70];
  uint16_t pulse[70];
  peck_debt pecks[70];
  uint8_t roster[160];
  /* The frame with the latest first pulse; whether there was one. */
  uint32_t first_pulse_frame;
  bool had_first_pulse;

  /* The last change taken, and when one last fed the silence clock. */
  uint32_t last_tag;
  uint16_t last_check;
  uint32_t fed_at;
  uint32_t freeze_ms;
  uint32_t limp_ms;
  /* A `freeze` was carried out and no `thaw` was done since. */
  bool is_frozen;

  /* Lines that deserved an answer and got none, since the reset. */
  uint32_t missing;

  /* What was seen, over all resets. */
  uint64_t bytes;
  uint64_t lines;
  uint64_t pulses;
  uint64_t done;
  uint64_t refused[20];
  uint64_t events[6];
  uint64_t frozen_by[4];
  uint64_t limp_by[2];
  uint64_t silence_holds;
  uint64_t pecks_paid;
  uint64_t unanswered;
  unsigned most_awake;
  uint32_t longest_wake;
  /* The number of the newest freeze heard of, and whether a thaw was done since. Lost events make this wrong: it
   * is for making lines, not for judging. */
  uint32_t heard_freeze;
  bool seems_frozen;
} judge;

/* The closed lists, in PROTOCOL.md's order. */
extern const char *const judge_reasons[20];
extern const char *const judge_events[6];

/* After board_reset: forgets what a reset forgets, reads what the board sends first. */
void judge_reset(judge *j);

/* Hands one byte, or an error on the line, to the board and looks at the answer. */
void judge_byte(judge *j, uint8_t byte);
void judge_line_error(judge *j);

/* Lets a millisecond pass and looks at the frame and the events. */
void judge_tick(judge *j);

/* Compares `dropped` of a `sense` with the answers that are missing; the transmitter must have room. */
void judge_dropped(judge *j);

#endif
