#include "lines.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

typedef struct text {
  char *at;
  size_t count;
} text;

static void add(text *t, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  int n = vsnprintf(t->at + t->count, LINES_MOST - 8u - t->count, format, arguments);
  va_end(arguments);
  t->count += (size_t)n;
  if (t->count > LINES_MOST - 9u) t->count = LINES_MOST - 9u;
}

static void add_pin(line_maker *m, text *t) {
  uint32_t pin = random_percent(m->random, 95) ? m->first_pin + random_below(m->random, m->pin_count)
      : random_below(m->random, 72);
  if (pin >= 54 && random_percent(m->random, 50)) add(t, "A%u", pin - 54u);
  else add(t, "%u", pin);
}

static void add_pulse(line_maker *m, text *t) {
  static const char *const edges[] = {"499.5", "500", "500.5", "2499.5", "2500", "2500.5", "1399.5", "1400", "1600",
      "1600.5", "0", "65536", "4294968796"};
  uint32_t kind = random_below(m->random, 100);
  if (kind < 4) add(t, "%s", edges[random_below(m->random, sizeof edges / sizeof *edges)]);
  else if (kind < 25) add(t, "%u", random_from(m->random, 500, 2500));
  else add(t, random_percent(m->random, 30) ? "%u.5" : "%u", random_from(m->random, 1400, 1599));
}

/* One of the values around a limit, or one in between. */
static void add_number(line_maker *m, text *t, uint32_t least, uint32_t most) {
  switch (random_below(m->random, 24)) {
    case 0: add(t, "%u", least == 0 ? 0u : least - 1u); break;
    case 1: add(t, "%u", least); break;
    case 2: add(t, "%u", most); break;
    case 3: add(t, "%u", most + 1u); break;
    default: add(t, "%u", random_from(m->random, least, most)); break;
  }
}

static void add_input(line_maker *m, text *t) { add(t, "a%u", random_below(m->random, random_percent(m->random, 97)
    ? 8 : 10)); }

static void add_tag(line_maker *m, text *t) {
  uint32_t kind = random_below(m->random, 100);
  if (kind < 94) m->tag = m->tag >= 65535u ? 1u : m->tag + 1u;
  else if (kind < 96) m->tag = (m->tag + random_below(m->random, 32000)) % 65535u + 1u;
  if (kind < 97) add(t, "%u ", m->tag);
  else if (kind < 98) add(t, "%u ", random_below(m->random, 70000));
  else if (kind < 99) add(t, "%u ", m->tag == 0 ? 7u : m->tag - 1u);
}

static void add_pins(line_maker *m, text *t, uint32_t count) {
  while (count-- > 0) {
    add(t, " ");
    add_pin(m, t);
  }
}

static void add_read(line_maker *m, text *t) {
  if (random_percent(m->random, 20)) add(t, "%u ", random_below(m->random, 65537));
  switch (random_below(m->random, 8)) {
    case 0: add(t, "hello"); break;
    case 1: add(t, "help"); break;
    case 2: add(t, "where"); break;
    case 3: add(t, "where"); add_pins(m, t, random_below(m->random, 16)); break;
    case 4: add(t, "where from "); add_pin(m, t); break;
    case 5:
      add(t, "sense");
      for (uint32_t n = random_below(m->random, 5); n > 0; n--) add(t, " "), add_input(m, t);
      break;
    case 6: add(t, random_percent(m->random, 50) ? "guard" : "slew"); add_pins(m, t, 1); break;
    default: add(t, "silence"); break;
  }
}

static void add_stop(line_maker *m, text *t) {
  if (random_percent(m->random, 20)) add(t, "%u ", random_below(m->random, 65537));
  if (random_percent(m->random, 30)) {
    add(t, "freeze");
    return;
  }
  add(t, "limp");
  if (random_percent(m->random, 85)) add_pins(m, t, random_from(m->random, 1, 3));
}

static void add_watch(line_maker *m, text *t) {
  add(t, "watch ");
  if (random_percent(m->random, 30)) {
    add(t, "0");
    return;
  }
  add_number(m, t, 50, random_percent(m->random, 80) ? 300 : 60000);
  for (uint32_t n = random_below(m->random, 4); n > 0; n--) add(t, " "), add_input(m, t);
}

static void add_trip(line_maker *m, text *t) {
  add(t, "trip ");
  add_input(m, t);
  if (random_percent(m->random, 40)) {
    add(t, " 0 0");
    return;
  }
  add(t, " ");
  add_number(m, t, 1, 5500);
  add(t, " ");
  add_number(m, t, 1, 1000);
  if (random_percent(m->random, 40)) {
    add(t, " freeze");
  } else {
    add(t, " limp");
    add_pins(m, t, random_below(m->random, 4));
  }
}

static void add_change(line_maker *m, text *t) {
  /* Calm: no silence, no trip. */
  uint32_t kind = random_below(m->random, m->is_calm ? 93 : 100);
  if (m->is_calm && kind >= 34 && kind < 37) kind = 57;
  if (m->is_frozen && random_percent(m->random, 30)) kind = 0;
  add_tag(m, t);
  if (kind < 12) {
    add(t, "thaw %u", random_percent(m->random, 95) ? m->freeze : random_below(m->random, 5));
  } else if (kind < 20) {
    add(t, "beat");
  } else if (kind < 28) {
    add(t, "guard ");
    add_pin(m, t);
    uint32_t low = random_from(m->random, 500, 1700), high = random_from(m->random, random_percent(m->random, 95)
        ? low : 500, 2500);
    add(t, random_percent(m->random, 5) ? " 499.5 %u" : " %u", low);
    add(t, random_percent(m->random, 30) ? " %u.5" : " %u", high);
  } else if (kind < 34) {
    add(t, "slew ");
    if (random_percent(m->random, 50)) add(t, "all");
    else add_pin(m, t);
    add(t, " ");
    add_number(m, t, 1, random_percent(m->random, 50) ? 3000 : 100000);
  } else if (kind < 37) {
    add(t, "silence ");
    uint32_t freeze = random_from(m->random, 100, 2000);
    add(t, "%u ", freeze);
    add_number(m, t, freeze, random_percent(m->random, 60) ? 3000 : 60000);
  } else if (kind < 57) {
    add(t, "wake ");
    add_pin(m, t);
    add(t, " ");
    add_pulse(m, t);
  } else if (kind < 74) {
    add(t, "go ");
    add_number(m, t, 0, random_percent(m->random, 90) ? 600 : 60000);
    for (uint32_t n = random_percent(m->random, 80) ? 1 : random_from(m->random, 2, 18); n > 0; n--) {
      add(t, " ");
      add_pin(m, t);
      add(t, ":");
      add_pulse(m, t);
    }
  } else if (kind < 77) {
    m->roster = random_from(m->random, 1, m->pin_count < 24u ? m->pin_count : 24u);
    add(t, "roster");
    for (uint32_t i = 0; i < m->roster; i++) add(t, " %u", m->first_pin + i);
    if (random_percent(m->random, 10)) add_pins(m, t, 1);
  } else if (kind < 84) {
    add(t, "pose ");
    add_number(m, t, 0, 400);
    for (uint32_t n = random_percent(m->random, 95) ? m->roster : random_below(m->random, 27); n > 0; n--) {
      add(t, " ");
      if (random_percent(m->random, 60)) add(t, "-");
      else add_pulse(m, t);
    }
  } else if (kind < 92) {
    add(t, "peck ");
    add_pin(m, t);
    add(t, " ");
    add_pulse(m, t);
    add(t, " ");
    add_number(m, t, 0, 250);
  } else if (kind < 96) {
    add_watch(m, t);
  } else {
    add_trip(m, t);
  }
}

size_t lines_body(line_maker *m, char *out) {
  text t = {out, 0};
  uint32_t kind = random_below(m->random, 100);
  if (kind < 10) add_read(m, &t);
  else if (kind < 13 && !m->is_calm) add_stop(m, &t);
  else add_change(m, &t);
  return t.count;
}

/* Cuts the word at a random place, or writes it twice. */
static size_t spoil_word(line_maker *m, char *out, size_t count) {
  size_t at = random_below(m->random, (uint32_t)count);
  size_t start = at, end = at;
  while (start > 0 && out[start - 1] != ' ') start--;
  while (end < count && out[end] != ' ') end++;
  size_t length = end - start;
  if (random_percent(m->random, 50)) {
    memmove(out + start, out + end, count - end);
    return count - length;
  }
  if (count + length + 1u > LINES_MOST - 8u) return count;
  memmove(out + end + 1, out + start, count - start);
  out[end] = ' ';
  return count + length + 1u;
}

size_t lines_spoil(line_maker *m, char *out, size_t count) {
  static const char alphabet[] = "0123456789 .:;-Aaefhloprstwx";
  for (uint32_t n = random_from(m->random, 1, 3); n > 0 && count > 0; n--) {
    size_t at = random_below(m->random, (uint32_t)count);
    char byte = random_percent(m->random, 97) ? alphabet[random_below(m->random, sizeof alphabet - 1u)]
        : (char)random_below(m->random, 256);
    switch (random_below(m->random, 4)) {
      case 0: out[at] = byte; break;
      case 1:
        memmove(out + at, out + at + 1, count - at - 1u);
        count--;
        break;
      case 2:
        if (count + 1u > LINES_MOST - 8u) break;
        memmove(out + at + 1, out + at, count - at);
        out[at] = byte;
        count++;
        break;
      default: count = spoil_word(m, out, count); break;
    }
  }
  return count;
}
