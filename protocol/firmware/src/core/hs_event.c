/* hs_event.c: what the board says unasked. Each event waits until its whole line fits, and none is worth waiting for. */
#include "hs_board.h"

/* The words of HS_BY_*, and after them what stands for nobody. */
#define BY "asked silence trip noisy none"
#define BY_NONE 4u
/* The words of HS_CAUSE_*. */
#define CAUSES "unknown power brownout watchdog external"

bool hs_has_room(const hs_core *core, uint8_t bytes) { return core->hal->tx_room(core->hal->user) >= bytes; }

void hs_send(hs_core *core) {
  hs_out_close(&core->out);
  core->hal->tx_write(core->hal->user, core->out.bytes, core->out.count);
}

void hs_out_by(hs_out *out, uint8_t by) {
  hs_out_text(out, HS_TEXT(" by="));
  hs_out_word(out, HS_TEXT(BY), by);
}

void hs_out_frozen(hs_core *core, hs_out *out) {
  hs_out_field(out, HS_TEXT(" frozen="), core->is_frozen ? core->freezes : 0u);
}

void hs_out_hello(hs_core *core) {
  hs_out *out = &core->out;
  const hs_identity *identity = core->identity;
  hs_out_text(out, HS_TEXT(" proto=1 fw="));
  hs_out_ram(out, identity->fw);
  hs_out_text(out, HS_TEXT(" board="));
  hs_out_ram(out, identity->board);
  hs_out_text(out, HS_TEXT(" id="));
  hs_out_id(out, identity->id);
  hs_out_field(out, HS_TEXT(" pins=2-69 most="), HS_MOST);
  hs_out_field(out, HS_TEXT(" tick_ns=500 frame_us=20000 boot="), identity->boot);
  hs_out_text(out, HS_TEXT(" cause="));
  hs_out_word(out, HS_TEXT(CAUSES), identity->cause <= HS_CAUSE_EXTERNAL ? identity->cause : HS_CAUSE_UNKNOWN);
  hs_out_field(out, HS_TEXT(" up_ms="), hs_now(core));
  hs_out_field(out, HS_TEXT(" last="), core->last);
  hs_out_frozen(core, out);
  hs_out_by(out, core->is_frozen ? core->frozen_by : BY_NONE);
}

void hs_out_pin(hs_core *core, hs_out *out, uint8_t pin) {
  uint8_t slot = core->slot_of[pin];
  hs_out_byte(out, ' ');
  hs_out_small(out, pin);
  hs_out_byte(out, ':');
  if (slot == HS_NONE) {
    hs_out_byte(out, '-');
    return;
  }
  hs_out_ticks(out, core->slots[slot].now);
  if (core->slots[slot].state == HS_WAKING) {
    hs_out_text(out, HS_TEXT(":waking"));
  }
}

uint8_t hs_out_pins(hs_core *core, hs_out *out, uint8_t from, uint8_t most) {
  uint8_t count = 0;
  uint8_t pin;
  for (pin = from; pin < HS_PINS; pin++) {
    if (core->slot_of[pin] != HS_NONE) {
      if (count == most) {
        return pin;
      }
      hs_out_pin(core, out, pin);
      count++;
    }
  }
  return HS_NONE;
}

void hs_out_input(hs_core *core, uint8_t input) {
  hs_out_text(&core->out, HS_TEXT(" a"));
  hs_out_small(&core->out, input);
  hs_out_byte(&core->out, '=');
  hs_out_whole(&core->out, core->hal->input_mv(core->hal->user, input));
}

void hs_out_counts(hs_core *core) {
  const hs_hal *hal = core->hal;
  hs_out *out = &core->out;
  hs_out_field(out, HS_TEXT(" vcc_mv="), hal->vcc_mv(hal->user));
  hs_out_field(out, HS_TEXT(" late="), hal->late(hal->user));
  hs_out_field(out, HS_TEXT(" overruns="), hal->overruns(hal->user));
  hs_out_field(out, HS_TEXT(" dropped="), core->dropped);
  hs_out_field(out, HS_TEXT(" badchecks="), core->bad_checks);
  hs_out_field(out, HS_TEXT(" stack="), hal->stack(hal->user));
}

void hs_event_awake(hs_core *core, uint8_t pin) {
  if (core->awake_count < HS_MOST) {
    core->tell_awake[core->awake_count] = pin;
    core->awake_count++;
  }
}

/* Begins an event when it fits. */
static bool begin(hs_core *core, uint8_t room, const hs_text *word) {
  if (!hs_has_room(core, room)) {
    return false;
  }
  hs_out_clear(&core->out);
  hs_out_text(&core->out, HS_TEXT("event "));
  hs_out_text(&core->out, word);
  return true;
}

/* What the watch wants sensed. */
static void out_watched(hs_core *core) {
  uint8_t i;
  if (core->watch_count == 0) {
    hs_out_counts(core);
  }
  for (i = 0; i < core->watch_count; i++) {
    hs_out_input(core, core->watch_inputs[i]);
  }
}

static bool send_first_awake(hs_core *core) {
  uint8_t i;
  if (!begin(core, HS_SHORT_MAX, HS_TEXT("awake"))) {
    return false;
  }
  hs_out_field(&core->out, HS_TEXT(" pin="), core->tell_awake[0]);
  hs_send(core);
  core->awake_count--;
  for (i = 0; i < core->awake_count; i++) {
    core->tell_awake[i] = core->tell_awake[i + 1u];
  }
  return true;
}

/* One piece of the event `where`: some pins of a line, and its end when it is full or no pin is left. */
static bool go_on_where(hs_core *core) {
  hs_out *out = &core->where;
  if (core->where_frame != core->frame) {
    /* It tells of one frame alone, and that one is over. */
    core->where_next = HS_NONE;
    return true;
  }
  if (!hs_has_room(core, HS_LINE_MAX)) {
    return false;
  }
  if (core->where_count == HS_NONE) {
    hs_out_clear(out);
    hs_out_text(out, HS_TEXT("event where"));
    hs_out_field(out, HS_TEXT(" frame="), (uint16_t)(core->frame - core->watch_frame));
    core->where_count = 0;
  }
  if (core->where_count < HS_WHERE_PINS && core->where_next < HS_PINS) {
    core->where_next = hs_out_pins(core, out, core->where_next, HS_WHERE_PIECE);
    core->where_count = (uint8_t)(core->where_count + HS_WHERE_PIECE);
    if (core->where_next == HS_NONE) {
      /* No pin is left, and the line is still to be sent. */
      core->where_next = HS_PINS;
    }
    if (core->where_count > HS_WHERE_PIECE || core->where_next < HS_PINS) {
      /* The end of a long line is a piece of its own. */
      return true;
    }
  }
  hs_out_frozen(core, out);
  hs_out_close(out);
  core->hal->tx_write(core->hal->user, out->bytes, out->count);
  core->where_count = HS_NONE;
  if (core->where_next == HS_PINS) {
    core->where_next = HS_NONE;
  }
  return true;
}

void hs_watch_poll(hs_core *core, uint32_t now) {
  uint32_t since;
  if (core->watch_ms == 0) {
    return;
  }
  since = hs_since(now, core->watch_at);
  if (since < core->watch_ms) {
    return;
  }
  core->watch_at += since - since % core->watch_ms;
  core->where_next = 0;
  core->where_count = HS_NONE;
  core->where_frame = core->frame;
  core->tell_sense = true;
}

/* Sends the first event that waits. False: none waits, or it does not fit. */
static bool send_next(hs_core *core) {
  if (core->tell_ready) {
    if (!begin(core, HS_LINE_MAX, HS_TEXT("ready"))) {
      return false;
    }
    hs_out_hello(core);
    core->tell_ready = false;
  } else if (core->tell_frozen) {
    if (!begin(core, HS_SHORT_MAX, HS_TEXT("frozen"))) {
      return false;
    }
    hs_out_field(&core->out, HS_TEXT(" n="), core->freezes);
    hs_out_by(&core->out, core->frozen_by);
    core->tell_frozen = false;
  } else if (core->tell_limp) {
    if (!begin(core, HS_SHORT_MAX, HS_TEXT("limp"))) {
      return false;
    }
    hs_out_by(&core->out, core->limp_by);
    core->tell_limp = false;
  } else if (core->awake_count > 0) {
    return send_first_awake(core);
  } else if (core->where_next != HS_NONE) {
    return go_on_where(core);
  } else if (core->tell_sense) {
    if (!begin(core, HS_SENSE_MAX, HS_TEXT("sense"))) {
      return false;
    }
    out_watched(core);
    core->tell_sense = false;
  } else {
    return false;
  }
  hs_send(core);
  return true;
}

void hs_event_poll(hs_core *core) {
  /* One line a poll, or a piece of one: more would keep the port from its receiver for too long. */
  (void)send_next(core);
}
