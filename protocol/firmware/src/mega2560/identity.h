/* identity.h: who this board is, as `hello` tells it. */
#ifndef HS_MEGA_IDENTITY_H
#define HS_MEGA_IDENTITY_H

#include "../core/hs_core.h"

/* Gathers it: the kept id (drawn and kept when there is none), this start's number and its cause. Interrupts are
 * still off, and TIMER1 is not yet the pulse engine's. */
const hs_identity *hs_identity_start(void);

#endif
