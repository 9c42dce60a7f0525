/* The printed pins: who drives them, and a stamp for every edge.
 *
 * A pin is high when its direction bit and its port bit are both set; everything else is low here,
 * since nothing outside pulls. A stamp is the cycle at which the storing instruction starts, so
 * edges that are to be compared must be made by the same kind of store. */
#ifndef EM_PINS_H
#define EM_PINS_H

#include <simavr/sim_avr.h>

/* Hooks the port, direction and toggle registers of all eleven ports. */
void em_pins_attach(avr_t *avr);

/* After a reset: every pin became an input, without a store that a hook could see. */
void em_pins_refresh(avr_t *avr);

/* Pins 0 and 1 carry the serial line; they are never reported. */
#define EM_PIN_FIRST 2u
#define EM_PIN_LAST 69u

#endif
