/* A servo pulse of 1500 us on pin 22 every 20 ms. On `g` the pulse stops after its own end, on `b`
 * it stops at once, which cuts it: known wrong. */
#include <avr/interrupt.h>
#include <avr/io.h>

#include "line.h"

static volatile uint8_t stopped;

ISR(TIMER1_COMPA_vect) { PORTA &= (uint8_t)~1; }

ISR(TIMER1_OVF_vect) {
  if (!stopped) PORTA |= 1;
}

int main(void) {
  DDRA = 1;
  line_start();
  ICR1 = 39999;
  OCR1A = 3000;
  TCCR1A = _BV(WGM11);
  TCCR1B = _BV(WGM13) | _BV(WGM12) | _BV(CS11);
  TIMSK1 = _BV(OCIE1A) | _BV(TOIE1);
  sei();
  for (;;) {
    uint8_t byte = line_get();
    stopped = 1;
    if (byte == 'b') PORTA &= (uint8_t)~1;
  }
}
