/* On `0`-`7` sends that analog input, on `b` the 1.1 V reference, as two bytes, against AVCC. */
#include "line.h"

int main(void) {
  line_start();
  ADCSRA = _BV(ADEN) | 7;
  for (;;) {
    uint8_t byte = line_get();
    ADMUX = (uint8_t)(_BV(REFS0) | (byte == 'b' ? 0x1E : (byte & 7)));
    ADCSRA |= _BV(ADSC);
    while (ADCSRA & _BV(ADSC)) {
    }
    uint16_t value = ADC;
    line_put((uint8_t)(value >> 8));
    line_put((uint8_t)value);
  }
}
