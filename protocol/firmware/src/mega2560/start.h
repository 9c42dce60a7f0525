/* start.h: what start.S found before the variables were cleared. */
#ifndef HS_MEGA_START_H
#define HS_MEGA_START_H

#include <stdint.h>

/* The reset flags (MCUSR). */
extern uint8_t hs_start_flags;

/* What free RAM held, folded to four bytes: noise after power-on, for drawing the id. */
extern uint32_t hs_start_ram;

/* start.S paints free RAM with this byte, up to the end of RAM. */
#define HS_START_PAINT 0xC5u

#endif
