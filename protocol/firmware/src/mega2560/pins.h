/* pins.h: from the number printed on the board to the chip's port and bit, and what a pin is at rest.
 *
 * Each port is three bytes in a row: PIN, DDR, PORT. Ports A to G lie where `out` reaches, H to L do not; all of
 * them are reached through a pointer here, so that an edge costs the same on every pin. */
#ifndef HS_MEGA_PINS_H
#define HS_MEGA_PINS_H

#include <stdint.h>

/* Where a pin's copper is: its PORT register and its bit in it. */
typedef struct hs_pin_place {
  volatile uint8_t *port;
  uint8_t mask;
} hs_pin_place;

/* Every printed pin but the serial link's becomes an input without pull-up, whatever a boot loader left. */
void hs_pins_rest(void);

/* The copper of pin 2 to 69. Any other number gives a mask of 0, which moves nothing. */
hs_pin_place hs_pins_place(uint8_t pin);

/* Makes the pin an output, low. */
void hs_pins_low(uint8_t pin);

/* Makes the analog inputs of the mask (bit n is a<n>) inputs without pull-up. */
void hs_pins_listen(uint8_t inputs);

#endif
