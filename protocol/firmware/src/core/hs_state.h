/* hs_state.h: the body of the context. Only the core's own files look inside; a C program includes it to place
 * the context statically. */
#ifndef HS_STATE_H
#define HS_STATE_H

#include "hs_core.h"

struct hs_core {
  /* The hardware and the board's identity, owned by the caller. */
  const hs_hal *hal;
  const hs_identity *identity;
};

#endif
