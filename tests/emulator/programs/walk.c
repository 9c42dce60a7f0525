/* Raises each bit of each port in turn, A to L, bit 0 first, as an output; then pulls bit 0 of
 * port A up as an input. The serial line's two bits are left out. */
#include <avr/io.h>

static volatile uint8_t *const pin_registers[] = {&PINA, &PINB, &PINC, &PIND, &PINE, &PINF,
                                                  &PING, &PINH, &PINJ, &PINK, &PINL};

int main(void) {
  for (uint8_t port = 0; port < 11; port++)
    for (uint8_t bit = 0; bit < 8; bit++) {
      if (port == 4 && bit < 2) continue;
      volatile uint8_t *r = pin_registers[port];
      r[1] |= (uint8_t)(1 << bit);
      r[0] = (uint8_t)(1 << bit); /* writing PINx toggles PORTx */
      r[2] &= (uint8_t)~(1 << bit);
    }
  DDRA &= (uint8_t)~1;
  PORTA |= 1;
  for (;;) {
  }
}
