#include "pins.h"

#include <stddef.h>

#include "report.h"

/* Printed pin of each port bit, made from tests/data/mega_pins.csv by the Makefile:
 * `static const unsigned char pin_of[11][8]`, ports A to L without I, 255 where nothing is printed. */
#include "pin_map.h"

enum { PORTS = 11, NONE = 255 };

typedef struct port {
  uint16_t pin_reg;   /* address of PINx in the data space; DDRx and PORTx follow it */
  uint8_t level;      /* driven high, as last reported */
  uint8_t output;     /* direction, as last reported */
  uint8_t pulled;     /* pull-up, as last reported */
  avr_io_write_t chained[3];
  void *chained_param[3];
} port;

/* Data sheet 2549, register summary: A to G from 0x20, H to L from 0x100. */
static port ports[PORTS] = {
    {.pin_reg = 0x20},  {.pin_reg = 0x23},  {.pin_reg = 0x26},  {.pin_reg = 0x29},
    {.pin_reg = 0x2C},  {.pin_reg = 0x2F},  {.pin_reg = 0x32},  {.pin_reg = 0x100},
    {.pin_reg = 0x103}, {.pin_reg = 0x106}, {.pin_reg = 0x109},
};

static void look(avr_t *avr, unsigned index) {
  port *p = &ports[index];
  uint8_t output = avr->data[p->pin_reg + 1];
  uint8_t latch = avr->data[p->pin_reg + 2];
  uint8_t level = output & latch;
  uint8_t pulled = (uint8_t)~output & latch;
  uint8_t moded = (uint8_t)((output ^ p->output) | (pulled ^ p->pulled));
  uint8_t edged = level ^ p->level;
  if (!(moded | edged)) return;
  for (unsigned bit = 0; bit < 8; bit++) {
    uint8_t mask = (uint8_t)(1u << bit);
    unsigned pin = pin_of[index][bit];
    if (pin == NONE || pin < EM_PIN_FIRST) continue;
    if (moded & mask)
      em_report_text("mode", avr->cycle, "%u %s", pin,
                     output & mask ? "output" : pulled & mask ? "pullup" : "input");
    if (edged & mask) em_report_edge(avr->cycle, pin, (level & mask) != 0);
  }
  p->level = level;
  p->output = output;
  p->pulled = pulled;
}

static void stored(avr_t *avr, avr_io_addr_t address, uint8_t value, void *param) {
  unsigned index = (unsigned)((port *)param - ports);
  unsigned which = address - ports[index].pin_reg;
  if (ports[index].chained[which] != NULL)
    ports[index].chained[which](avr, address, value, ports[index].chained_param[which]);
  else
    avr->data[address] = value;
  look(avr, index);
}

void em_pins_attach(avr_t *avr) {
  for (unsigned i = 0; i < PORTS; i++)
    for (unsigned which = 0; which < 3; which++) {
      /* Put in place of simavr's own callback rather than registered: its list of shared
       * registers has four places only. */
      unsigned slot = AVR_DATA_TO_IO(ports[i].pin_reg + which);
      ports[i].chained[which] = avr->io[slot].w.c;
      ports[i].chained_param[which] = avr->io[slot].w.param;
      avr->io[slot].w.c = stored;
      avr->io[slot].w.param = &ports[i];
    }
}

void em_pins_refresh(avr_t *avr) {
  for (unsigned i = 0; i < PORTS; i++) look(avr, i);
}
