/* analog.c: one conversion takes 13 cycles of 125 kHz, 104 us. */
#include "analog.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "../core/hs_core.h"

/* Reference AVCC; the channel that is the band-gap itself. */
#define REFERENCE _BV(REFS0)
#define BANDGAP_CHANNEL 0x1Eu
#define BANDGAP_MV 1100u
/* One step of the round: what the converter is pointed at, and what it read last. The band-gap is a weak source:
 * it gets eight conversions in a row, and the last four count. */
#define STEPS 16u
#define BANDGAP_FIRST 12u
#define BANDGAP_COUNT 4u
typedef struct step {
  uint8_t mux;
  volatile uint16_t raw;
} step;
static step steps[STEPS];
static step *at = steps;

#define CONVERT (_BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0))

ISR(ADC_vect) {
  step *here = at;
  here->raw = ADC;
  if (++here == steps + STEPS) here = steps;
  at = here;
  ADMUX = here->mux;
  ADCSRA = CONVERT | _BV(ADIE);
}

uint16_t hs_analog_wait(uint8_t channel) {
  ADCSRB = 0;
  ADMUX = (uint8_t)(REFERENCE | channel);
  ADCSRA = CONVERT;
  while (ADCSRA & _BV(ADSC)) {
  }
  return ADC;
}

void hs_analog_start(void) {
  for (uint8_t index = 0; index < STEPS; index++) {
    uint8_t channel = index < HS_INPUTS ? index : BANDGAP_CHANNEL;
    steps[index].mux = (uint8_t)(REFERENCE | channel);
    steps[index].raw = hs_analog_wait(channel);
  }
  ADMUX = steps[0].mux;
  /* The flag is cleared by writing it, so that no old conversion counts as the first. */
  ADCSRA = CONVERT | _BV(ADIF) | _BV(ADIE);
}

static uint16_t read_step(uint8_t index) {
  uint16_t raw;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { raw = steps[index].raw; }
  return raw;
}

uint16_t hs_analog_vcc_mv(void) {
  static uint16_t known_sum;
  static uint16_t known_mv;
  uint16_t sum = 0;
  for (uint8_t index = 0; index < BANDGAP_COUNT; index++) sum = (uint16_t)(sum + read_step((uint8_t)(BANDGAP_FIRST + index)));
  /* Divide only when there is something new: a division of 32 bits is long. */
  if (sum != known_sum && sum != 0) {
    uint32_t mv = (uint32_t)BANDGAP_MV * 1024u * BANDGAP_COUNT / sum;
    known_mv = mv > 0xFFFFu ? 0xFFFFu : (uint16_t)mv;
    known_sum = sum;
  }
  return known_mv;
}

uint16_t hs_analog_mv(uint8_t input) {
  if (input >= HS_INPUTS) return 0;
  /* Half a step added, so that the mean error is none. */
  return (uint16_t)(((uint32_t)read_step(input) * hs_analog_vcc_mv() + 512u) >> 10);
}
