#include "board.h"

#include <stdlib.h>
#include <string.h>

/* A start is stored when it has lasted this long. */
#define BOOT_STORED_MS 2000u

static uint32_t now_ms(void *user) { return ((board *)user)->now; }

static uint16_t tx_room(void *user) { return ((board *)user)->room; }

static void tx_write(void *user, const uint8_t *bytes, uint8_t count) {
  board *b = user;
  if (count > b->room || b->out_count + count > BOARD_OUT) {
    b->misused = true;
    return;
  }
  memcpy(b->out + b->out_count, bytes, count);
  b->out_count += count;
  if (b->room != 0xFFFFu) b->room = (uint16_t)(b->room - count);
}

static void pin_wake(void *user, uint8_t slot, uint8_t pin) {
  board *b = user;
  if (slot >= HS_MOST || pin < 2 || pin > 69 || b->claimed[slot] != 0) b->misused = true;
  else b->claimed[slot] = pin;
}

static void pin_limp(void *user, uint8_t slot, uint8_t pin) {
  board *b = user;
  if (slot >= HS_MOST || b->claimed[slot] != pin) b->misused = true;
  else b->claimed[slot] = 0;
}

static uint16_t input_mv(void *user, uint8_t input) {
  board *b = user;
  if (input < 8) return b->inputs[input];
  b->misused = true;
  return 0;
}

static uint16_t vcc_mv(void *user) {
  (void)user;
  return 5000;
}

static uint32_t no_count(void *user) {
  (void)user;
  return 0;
}

static uint16_t stack_left(void *user) {
  (void)user;
  return 4000;
}

static void inputs_used(void *user, uint8_t mask) {
  (void)user;
  (void)mask;
}

bool board_new(board *b) {
  memset(b, 0, sizeof *b);
  b->room = 0xFFFFu;
  b->hal = (hs_hal){.user = b,
                    .now_ms = now_ms,
                    .tx_room = tx_room,
                    .tx_write = tx_write,
                    .pin_wake = pin_wake,
                    .pin_limp = pin_limp,
                    .input_mv = input_mv,
                    .vcc_mv = vcc_mv,
                    .late = no_count,
                    .overruns = no_count,
                    .stack = stack_left,
                    .inputs_used = inputs_used};
  /* malloc of exactly the size asked for, so that the sanitizer sees a byte beyond it. */
  b->memory = malloc(hs_core_size());
  return b->memory != NULL;
}

void board_free(board *b) { free(b->memory); }

void board_reset(board *b, uint8_t cause) {
  if (b->core != NULL && b->now >= BOOT_STORED_MS) b->stored++;
  b->identity =
      (hs_identity){.fw = "host", .board = "atmega2560", .id = 0x5e1f0c2au, .boot = (uint16_t)(b->stored + 1u),
          .cause = cause};
  b->now = 0;
  b->frames = 0;
  b->out_count = 0;
  memset(b->pulses, 0, sizeof b->pulses);
  memset(b->claimed, 0, sizeof b->claimed);
  memset(b->memory, 0xA5, hs_core_size());
  b->core = hs_core_init(b->memory, &b->hal, &b->identity);
  hs_core_poll(b->core);
}

void board_tick(board *b) {
  b->now++;
  if (b->now % HS_FRAME_MS == 0) {
    hs_core_frame(b->core, b->pulses);
    b->frames++;
    if (b->on_frame != NULL) b->on_frame(b->watcher);
  }
  hs_core_poll(b->core);
}

void board_wait(board *b, uint32_t ms) {
  while (ms-- > 0) board_tick(b);
}

void board_send(board *b, const uint8_t *bytes, size_t count) {
  for (size_t i = 0; i < count; i++) hs_core_receive(b->core, bytes[i]);
  hs_core_poll(b->core);
}
