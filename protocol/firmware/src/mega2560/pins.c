/* pins.c: the printed pins of an ATmega2560 board. The numbers are facts from the Debian package
 * arduino-core-avr 1.8.7 (its variant `mega`); tests/emulated_pins.rs holds every one of them. */
#include "pins.h"

#include <avr/io.h>
#include <avr/pgmspace.h>
#include <util/atomic.h>

/* Ports in the order in which `place` numbers them. */
enum { A, B, C, D, E, F, G, H, J, K, L };
#define PLACE(port, bit) (uint8_t)((port) << 3 | (bit))

/* PORT registers, as data addresses: low bytes would do for none of them, since H to L lie above 0x100. */
static const uint16_t port_address[] PROGMEM = {
    _SFR_MEM_ADDR(PORTA), _SFR_MEM_ADDR(PORTB), _SFR_MEM_ADDR(PORTC), _SFR_MEM_ADDR(PORTD),
    _SFR_MEM_ADDR(PORTE), _SFR_MEM_ADDR(PORTF), _SFR_MEM_ADDR(PORTG), _SFR_MEM_ADDR(PORTH),
    _SFR_MEM_ADDR(PORTJ), _SFR_MEM_ADDR(PORTK), _SFR_MEM_ADDR(PORTL),
};

#define FIRST_PIN 2u
static const uint8_t place[] PROGMEM = {
    PLACE(E, 4), PLACE(E, 5), PLACE(G, 5), PLACE(E, 3), PLACE(H, 3), PLACE(H, 4), PLACE(H, 5), PLACE(H, 6), /* 2-9 */
    PLACE(B, 4), PLACE(B, 5), PLACE(B, 6), PLACE(B, 7), PLACE(J, 1), PLACE(J, 0), PLACE(H, 1), PLACE(H, 0), /* 10-17 */
    PLACE(D, 3), PLACE(D, 2), PLACE(D, 1), PLACE(D, 0), PLACE(A, 0), PLACE(A, 1), PLACE(A, 2), PLACE(A, 3), /* 18-25 */
    PLACE(A, 4), PLACE(A, 5), PLACE(A, 6), PLACE(A, 7), PLACE(C, 7), PLACE(C, 6), PLACE(C, 5), PLACE(C, 4), /* 26-33 */
    PLACE(C, 3), PLACE(C, 2), PLACE(C, 1), PLACE(C, 0), PLACE(D, 7), PLACE(G, 2), PLACE(G, 1), PLACE(G, 0), /* 34-41 */
    PLACE(L, 7), PLACE(L, 6), PLACE(L, 5), PLACE(L, 4), PLACE(L, 3), PLACE(L, 2), PLACE(L, 1), PLACE(L, 0), /* 42-49 */
    PLACE(B, 3), PLACE(B, 2), PLACE(B, 1), PLACE(B, 0), PLACE(F, 0), PLACE(F, 1), PLACE(F, 2), PLACE(F, 3), /* 50-57 */
    PLACE(F, 4), PLACE(F, 5), PLACE(F, 6), PLACE(F, 7), PLACE(K, 0), PLACE(K, 1), PLACE(K, 2), PLACE(K, 3), /* 58-65 */
    PLACE(K, 4), PLACE(K, 5), PLACE(K, 6), PLACE(K, 7),                                                     /* 66-69 */
};

/* DDR stands one byte below PORT. */
static volatile uint8_t *ddr_of(hs_pin_place at) { return at.port - 1; }

hs_pin_place hs_pins_place(uint8_t pin) {
  hs_pin_place at = {&GPIOR0, 0};
  uint8_t index = (uint8_t)(pin - FIRST_PIN);
  if (index < sizeof place) {
    uint8_t packed = pgm_read_byte(&place[index]);
    at.port = (volatile uint8_t *)pgm_read_word(&port_address[packed >> 3]);
    at.mask = (uint8_t)(1u << (packed & 7u));
  }
  return at;
}

void hs_pins_rest(void) {
  for (uint8_t pin = FIRST_PIN; pin < FIRST_PIN + sizeof place; pin++) {
    hs_pin_place at = hs_pins_place(pin);
    *ddr_of(at) &= (uint8_t)~at.mask;
    *at.port &= (uint8_t)~at.mask;
  }
  /* Pins PF4 to PF7 belong to the debugging port unless it is told off, twice within four cycles. Most boards'
   * fuses have told it already. */
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    uint8_t off = (uint8_t)(MCUCR | _BV(JTD));
    MCUCR = off;
    MCUCR = off;
  }
}

void hs_pins_low(uint8_t pin) {
  hs_pin_place at = hs_pins_place(pin);
  if (at.mask == 0) return;
  /* The edge interrupt writes whole port bytes too, so neither write may be torn. */
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { *at.port &= (uint8_t)~at.mask; }
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { *ddr_of(at) |= at.mask; }
}

void hs_pins_listen(uint8_t inputs) {
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    DDRF &= (uint8_t)~inputs;
    PORTF &= (uint8_t)~inputs;
  }
}
