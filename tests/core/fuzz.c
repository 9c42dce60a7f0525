/* fuzz.c: ten million bytes and more that no sane host would send, into the firmware core under sanitizers, every
 * frame and every answer looked at by the judge.
 *
 *   fuzz [SEED] [BYTES]   deterministic: the same seed gives the same run
 *   fuzz --controls       builds in one fault after the other; each must be found
 *
 * Exit code 0 when no promise was broken and everything that can happen did happen. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "board.h"
#include "check16.h"
#include "judge.h"
#include "lines.h"
#include "random.h"

#define SEED 20240607u
#define BYTES 24000000u
#define EPISODE_BYTES 20000u

/* What an episode sends. */
typedef enum mix { MIX_CLEAN, MIX_SPOILT, MIX_NOISY, MIX_ALPHABET, MIX_RAW, MIX_COUNT } mix;

/* How the transmitter behaves in an episode. */
typedef enum flow { FLOW_FREE, FLOW_SLOW, FLOW_RANDOM, FLOW_BROKEN, FLOW_COUNT } flow;

typedef struct fuzz {
  random_source random;
  board board;
  judge judge;
  line_maker lines;
  mix mix;
  flow flow;
  /* FLOW_SLOW: bytes a millisecond, and the ring's size. */
  uint32_t rate;
  uint32_t ring;
  uint64_t episode;
  /* The last line sent with a right check, to be sent again. */
  char last[LINES_MOST];
  size_t last_count;
} fuzz;

static void tick(fuzz *f) {
  uint32_t room = f->board.room;
  switch (f->flow) {
    case FLOW_SLOW: f->board.room = (uint16_t)(room + f->rate > f->ring ? f->ring : room + f->rate); break;
    case FLOW_RANDOM:
      if (random_percent(&f->random, 20)) f->board.room = (uint16_t)random_below(&f->random, 600);
      break;
    default: break;
  }
  if (random_below(&f->random, 400) == 0) {
    uint32_t input = random_below(&f->random, 8);
    f->board.inputs[input] = (uint16_t)random_below(&f->random, 5200);
  }
  judge_tick(&f->judge);
}

static void pause_between(fuzz *f) {
  uint32_t kind = random_below(&f->random, 1000);
  /* Mostly none, often about a frame, rarely a silence. */
  uint32_t most = kind < 500 ? 1 : kind < 975 ? 24 : kind < 998 ? 300 : 4000;
  uint32_t ms = random_below(&f->random, most);
  while (ms-- > 0) tick(f);
}

static void put(fuzz *f, const char *bytes, size_t count) {
  for (size_t i = 0; i < count; i++) {
    judge_byte(&f->judge, (uint8_t)bytes[i]);
    if (random_below(&f->random, 100) == 0) tick(f);
  }
}

static void put_end(fuzz *f) {
  static const char *const ends[] = {"\n", "\n", "\n", "\n", "\r", "\r\n", "\n\r"};
  const char *end = ends[random_below(&f->random, sizeof ends / sizeof *ends)];
  put(f, end, strlen(end));
}

/* A line with a right check, its words spoilt or not. */
static void send_checked(fuzz *f, bool is_spoilt) {
  char text[LINES_MOST];
  f->lines.freeze = f->judge.heard_freeze;
  f->lines.is_frozen = f->judge.seems_frozen;
  f->lines.tag = f->judge.last_tag;
  size_t count = lines_body(&f->lines, text);
  if (is_spoilt) count = lines_spoil(&f->lines, text, count);
  text[count] = ';';
  check16_text(check16((const uint8_t *)text, count), text + count + 1);
  memcpy(f->last, text, count + 5);
  f->last_count = count + 5;
  put(f, text, f->last_count);
  put_end(f);
}

static void send_damaged(fuzz *f) {
  char text[LINES_MOST];
  size_t count = lines_body(&f->lines, text);
  switch (random_below(&f->random, 6)) {
    case 0: break;
    case 1: count = (size_t)snprintf(text + count, 8, ";%04X", random_below(&f->random, 65536)) + count; break;
    case 2:
      for (size_t i = 0; i < 250; i++) text[i] = (char)random_from(&f->random, 32, 126);
      count = 250;
      put(f, text, count);
      break;
    case 3: text[random_below(&f->random, (uint32_t)count)] = (char)random_below(&f->random, 256); break;
    case 4: judge_line_error(&f->judge); break;
    default:
      put(f, text, count / 2);
      judge_line_error(&f->judge);
      break;
  }
  put(f, text, count);
  put_end(f);
}

static void send_nonsense(fuzz *f, bool is_raw) {
  static const char alphabet[] = "0123456789 ;:.-\n\n\rAaefghlmoprstwbcdikuv";
  char text[64];
  size_t count = random_from(&f->random, 1, 64);
  for (size_t i = 0; i < count; i++) {
    uint32_t letter = random_below(&f->random, sizeof alphabet - 1u);
    text[i] = is_raw ? (char)random_below(&f->random, 256) : alphabet[letter];
  }
  put(f, text, count);
  if (random_below(&f->random, 20) == 0) judge_line_error(&f->judge);
}

/* Two pins woken and made limp by turns, faster than frames are built: the row of waiting wakes must not overflow. */
static void send_storm(fuzz *f) {
  char text[64];
  f->lines.tag = f->judge.last_tag;
  for (uint32_t i = 0; i < 600; i++) {
    f->lines.tag = f->lines.tag % 65535u + 1u;
    size_t count = (size_t)snprintf(text, sizeof text, "%u wake %u 1500", f->lines.tag, 2u + i % 2u);
    text[count] = ';';
    check16_text(check16((const uint8_t *)text, count), text + count + 1);
    text[count + 5] = '\n';
    put(f, text, count + 6);
    put(f, i % 2 == 0 ? "limp 3\n" : "limp 2\n", 7);
  }
}

static void send_something(fuzz *f) {
  uint32_t kind = random_below(&f->random, 100);
  if (random_below(&f->random, 4000) == 0) send_storm(f);
  switch (f->mix) {
    case MIX_CLEAN: send_checked(f, false); break;
    case MIX_SPOILT: send_checked(f, kind < 40); break;
    case MIX_NOISY:
      if (kind < 12) send_damaged(f);
      else send_checked(f, kind < 20);
      break;
    default:
      /* A board with nothing awake has nothing to lose: keep it busy between the nonsense. */
      if (kind < 25) put(f, "\n", 1), send_checked(f, false);
      else send_nonsense(f, f->mix == MIX_RAW);
      break;
  }
  if (random_below(&f->random, 25) == 0 && f->last_count > 0) put(f, f->last, f->last_count), put_end(f);
}

static void begin_episode(fuzz *f) {
  f->episode++;
  f->mix = (mix)(f->episode % MIX_COUNT);
  f->flow = (flow)(f->episode / MIX_COUNT % FLOW_COUNT);
  f->rate = random_from(&f->random, 1, 25);
  f->ring = random_from(&f->random, 255, 512);
  /* A stream that fails after 0, 1, 2 ... bytes. */
  f->board.room = f->flow == FLOW_FREE ? 0xFFFFu : f->flow == FLOW_BROKEN
      ? (uint16_t)(f->episode / (MIX_COUNT * FLOW_COUNT)) : 512u;
  f->lines = (line_maker){.random = &f->random, .first_pin = 22, .pin_count = random_percent(&f->random, 50) ? 5 : 30,
      .roster = 1};
  if (random_percent(&f->random, 30)) f->lines.first_pin = 40;
  f->lines.is_calm = random_percent(&f->random, 60);
  f->last_count = 0;
  if (f->board.room < 200) f->board.room = (uint16_t)(f->board.room + 180u);
  board_reset(&f->board, (uint8_t)random_below(&f->random, 5));
  judge_reset(&f->judge);
}

static void end_episode(fuzz *f) {
  /* Long enough for every silence; then nothing may have pulses, and the count of missing answers must be right. */
  if (f->episode % 4 == 0)
    for (uint32_t i = 0; i < 10100; i++) tick(f);
  f->flow = FLOW_FREE;
  f->board.room = 0xFFFFu;
  judge_dropped(&f->judge);
}

/* Runs until so many bytes went in or a promise was broken. */
static bool run(fuzz *f, uint64_t seed, uint64_t bytes, fault fault) {
  memset(f, 0, sizeof *f);
  f->random.state = seed;
  f->judge.board = &f->board;
  f->judge.fault = fault;
  if (!board_new(&f->board)) exit(2);
  while (f->judge.bytes < bytes && f->judge.broken[0] == '\0') {
    uint64_t until = f->judge.bytes + EPISODE_BYTES;
    begin_episode(f);
    while (f->judge.bytes < until && f->judge.broken[0] == '\0') {
      send_something(f);
      pause_between(f);
    }
    end_episode(f);
  }
  board_free(&f->board);
  return f->judge.broken[0] == '\0';
}

static bool must(bool is_true, const char *what) {
  if (!is_true) fprintf(stderr, "the run never saw this: %s\n", what);
  return is_true;
}

/* A run that did not see everything proves little. */
static bool is_thorough(const judge *j) {
  bool is_good = true;
  for (size_t i = 0; i < 20; i++) is_good &= must(j->refused[i] > 0, judge_reasons[i]);
  for (size_t i = 0; i < 6; i++) is_good &= must(j->events[i] > 0, judge_events[i]);
  for (size_t i = 0; i < 4; i++) is_good &= must(j->frozen_by[i] > 0, "frozen by asked, silence, trip and noisy");
  for (size_t i = 0; i < 2; i++) is_good &= must(j->limp_by[i] > 0, "limp by silence and trip");
  is_good &= must(j->most_awake == HS_MOST, "all slots in use");
  is_good &= must(j->pulses > 1000000, "a million pulses");
  is_good &= must(j->silence_holds > 1000, "a thousand frames held by silence");
  is_good &= must(j->pecks_paid > 100, "a hundred pecks, out and back");
  is_good &= must(j->unanswered > 0, "a line dropped for want of room");
  return is_good;
}

static int controls(void) {
  static const char *const names[FAULT_COUNT] = {
      "none",           "guards overlooked", "a bit of a pulse",        "a long pulse",   "a pulse nobody asked for",
      "a bit of an answer", "silence early", "limp early",              "thaws overlooked", "a pin not limp",
      "first pulses too close", "an answer lost", "a peck too long"};
  static fuzz f;
  int missed = 0;
  for (fault i = FAULT_GUARD_MISSED; i < FAULT_COUNT; i++) {
    bool is_clean = run(&f, SEED, 2000000, i);
    printf("control, %s: %s\n", names[i], is_clean ? "NOT FOUND" : f.judge.broken);
    missed += is_clean;
  }
  return missed == 0 ? 0 : 1;
}

static void print_count(uint64_t count, const char *what) { printf("%llu %s\n", (unsigned long long)count, what); }

int main(int count, char **arguments) {
  static fuzz f;
  if (count > 1 && strcmp(arguments[1], "--controls") == 0) return controls();
  uint64_t seed = count > 1 ? strtoull(arguments[1], NULL, 10) : SEED;
  uint64_t bytes = count > 2 ? strtoull(arguments[2], NULL, 10) : BYTES;
  printf("seed %llu\n", (unsigned long long)seed);
  bool is_clean = run(&f, seed, bytes, FAULT_NONE);
  const judge *j = &f.judge;
  print_count(j->bytes, "bytes");
  print_count(j->lines, "lines");
  print_count(j->done, "done");
  print_count(j->unanswered, "unanswered");
  print_count(j->pulses, "pulses");
  print_count(j->most_awake, "awake at most");
  print_count(j->longest_wake, "ms the longest wake");
  print_count(j->pecks_paid, "pecks out and back");
  print_count(j->silence_holds, "frames held by silence");
  printf("refused:");
  for (size_t i = 0; i < 20; i++) printf(" %s %llu", judge_reasons[i], (unsigned long long)j->refused[i]);
  printf("\nevents:");
  for (size_t i = 0; i < 6; i++) printf(" %s %llu", judge_events[i], (unsigned long long)j->events[i]);
  printf("\n");
  if (!is_clean) {
    fprintf(stderr, "broken at byte %llu, episode %llu, seed %llu: %s\n", (unsigned long long)j->bytes,
        (unsigned long long)f.episode, (unsigned long long)seed,
            j->broken);
    return 1;
  }
  return is_thorough(j) ? 0 : 1;
}
