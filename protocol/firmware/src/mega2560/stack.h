/* stack.h: how much stack was never used: RAM is painted before anything runs, and looked at afterwards. */
#ifndef HS_MEGA_STACK_H
#define HS_MEGA_STACK_H

#include <stdint.h>

/* Bytes between the variables and the deepest use of the stack so far; 0 until the first look is complete. */
uint16_t hs_stack_unused(void);

/* Looks at a few bytes more. Call it in the main loop; a whole look takes a thousand calls or so. */
void hs_stack_poll(void);

#endif
