/* Says after each reset: MCUSR, a counter in RAM that is not initialised, a counter in EEPROM.
 * `w` makes it hang under the watchdog; `c` clears MCUSR first. */
#include <avr/eeprom.h>
#include <avr/wdt.h>

#include "line.h"

static uint8_t kept[4] __attribute__((section(".noinit")));

int main(void) {
  uint8_t cause = MCUSR;
  wdt_reset();
  MCUSR &= (uint8_t)~_BV(WDRF); /* as long as it stands the watchdog cannot be switched off */
  wdt_disable();
  MCUSR = cause;
  line_start();
  PORTA = 1;
  DDRA = 1;
  if (kept[0] != 0x5A || kept[1] != 0xC3 || kept[2] != 0x3C) {
    kept[0] = 0x5A, kept[1] = 0xC3, kept[2] = 0x3C, kept[3] = 0;
  }
  kept[3]++;
  uint8_t boots = (uint8_t)(eeprom_read_byte((uint8_t *)7) + 1);
  eeprom_write_byte((uint8_t *)7, boots);
  line_put(cause);
  line_put(kept[3]);
  line_put(boots);
  for (;;) {
    uint8_t byte = line_get();
    if (byte == 'c') MCUSR = 0;
    if (byte == 'w') {
      wdt_enable(WDTO_15MS);
      for (;;) {
      }
    }
  }
}
