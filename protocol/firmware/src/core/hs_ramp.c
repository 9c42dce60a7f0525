/* hs_ramp.c: how a pulse goes from one place to another, frame by frame.
 *
 * After k of n frames a ramp over d ticks stands at d * k / n, rounded toward zero. The quotient and the remainder of
 * d / n are taken once; each frame then only adds, which gives the same numbers without a division a frame. */
#include "hs_board.h"

void hs_ramp_stop(hs_slot *slot) {
  slot->to = slot->now;
  slot->left = 0;
  slot->peck = 0;
}

void hs_ramp_start(hs_slot *slot, uint16_t to, uint32_t frames) {
  uint16_t distance;
  slot->peck = 0;
  slot->to = to;
  slot->left = frames;
  if (frames == 1u) {
    /* The last frame of a ramp asks for nothing but its end. */
    return;
  }
  distance = hs_gap(slot->now, to);
  slot->frames = frames;
  slot->parts = 0;
  if (frames > distance) {
    slot->step = 0;
    slot->rest = distance;
  } else {
    slot->step = (uint16_t)(distance / (uint16_t)frames);
    slot->rest = (uint16_t)(distance % (uint16_t)frames);
  }
}

uint16_t hs_ramp_peck_start(const hs_slot *slot) { return slot->peck > 0 ? slot->to : slot->now; }

void hs_ramp_peck(hs_slot *slot, uint16_t out, uint8_t frames) {
  slot->to = hs_ramp_peck_start(slot);
  slot->left = 0;
  slot->step = out;
  slot->peck = (uint8_t)(frames + 1u);
}

uint32_t hs_ramp_frames(uint16_t ticks, uint32_t us_per_s, uint32_t frames) {
  /* The product settles nearly every move without a division. It may lose bits above the 32nd, when both factors are
   * near 100000; the division then decides. */
  uint32_t need = hs_mul(ticks, 25);
  uint32_t least;
  if (frames * us_per_s >= need) {
    return frames;
  }
  least = hs_div_up(need, us_per_s);
  return least > frames ? least : frames;
}

/* One frame of a running ramp; the last one is at the end, exactly. */
static void advance(hs_slot *slot) {
  uint16_t move = slot->step;
  slot->left--;
  if (slot->left == 0) {
    slot->now = slot->to;
    return;
  }
  slot->parts += slot->rest;
  if (slot->parts >= slot->frames) {
    slot->parts -= slot->frames;
    move++;
  }
  slot->now = (uint16_t)(slot->to > slot->now ? slot->now + move : slot->now - move);
}

void hs_core_frame(hs_core *core, hs_slot_pulse out[HS_MOST]) {
  uint8_t index;
  core->frame++;
  if (core->wake_gap > 0) {
    core->wake_gap--;
  }
  for (index = 0; index < HS_MOST; index++) {
    hs_slot *slot = &core->slots[index];
    out[index].pin = slot->state == HS_FREE ? 0 : slot->pin;
    out[index].ticks = 0;
    if (slot->state == HS_FREE) {
      continue;
    }
    if (slot->state == HS_WAKING) {
      if (slot->wait > 0) {
        slot->wait--;
        continue;
      }
      slot->state = HS_AWAKE;
      core->wake_gap = HS_WAKE_FRAMES - 1u;
      hs_event_awake(core, slot->pin);
    } else if (slot->peck > 0) {
      slot->peck--;
      slot->now = slot->peck > 0 ? slot->step : slot->to;
    } else if (slot->left > 0) {
      advance(slot);
    }
    out[index].ticks = slot->now;
  }
}
