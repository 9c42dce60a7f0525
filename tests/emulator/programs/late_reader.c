/* Waits two milliseconds, then reads what the receiver still holds and sends each byte's status
 * and value. */
#include <util/delay.h>

#include "line.h"

int main(void) {
  line_start();
  for (;;) {
    _delay_ms(2);
    while (UCSR0A & _BV(RXC0)) {
      uint8_t status = UCSR0A & (_BV(FE0) | _BV(DOR0));
      uint8_t byte = UDR0;
      line_put(status);
      line_put(byte);
    }
  }
}
