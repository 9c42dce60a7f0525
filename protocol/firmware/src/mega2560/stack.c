/* stack.c: start.S has painted RAM from the end of the variables on; where the paint ends, the stack has been. */
#include "stack.h"

#include <avr/io.h>

#include "start.h"

#define BYTES_A_POLL 4u

/* Ends of the variables, from the linker. */
extern uint8_t _end;

static uint16_t unused;

uint16_t hs_stack_unused(void) { return unused; }

void hs_stack_poll(void) {
  static const uint8_t *at = &_end;
  for (uint8_t count = 0; count < BYTES_A_POLL; count++) {
    if (at > (const uint8_t *)RAMEND || *at != HS_START_PAINT) {
      unused = (uint16_t)(at - &_end);
      at = &_end;
      return;
    }
    at++;
  }
}
