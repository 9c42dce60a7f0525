/* vectors.c: runs the exchanges of protocol/vectors against the firmware core, in virtual time.
 *
 *   vectors FILE…              every exchange must be as written
 *   vectors --must-fail FILE…  every exchange must fail: shows that this program can see a difference
 *
 * The rules are those of protocol/vectors/README.md. Exit code 0 when all is as it must be. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "board.h"
#include "check16.h"

#define LINE_MOST 400u
#define NAMES_MOST 4096u
#define PHASE_MS 5u
#define EMULATED " (emulated only)"

static const char READY[] =
    "event ready proto=1 fw=* board=atmega2560 id=* pins=2-69 most=24 tick_ns=500 frame_us=20000 boot=1 cause=power up_ms=* "
    "last=0 frozen=0 by=none";

typedef struct runner {
  board board;
  const char *file;
  unsigned line;
  /* The exchange now running; empty before the first. */
  char name[LINE_MOST + 1];
  bool is_emulated;
  /* It has failed, it had a line to expect, and where in what was sent the next line to compare begins. */
  bool has_failed;
  bool has_expected;
  size_t seen;
  /* Whether a line may be expected here: not after `input` and `line error`. */
  bool may_expect;
  bool must_fail;
  unsigned exchanges;
  unsigned failures;
  unsigned steps;
  char *names[NAMES_MOST];
} runner;

static runner run;

static void fail(const char *format, ...) {
  if (!run.must_fail) {
    va_list arguments;
    va_start(arguments, format);
    fprintf(stderr, "%s:%u: exchange \"%s\": ", run.file, run.line, run.name);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
  }
  run.has_failed = true;
}

/* The next line the board sent, without its LF; its length, or -1 when there is none. */
static long next_line(const uint8_t **line) {
  const uint8_t *start = run.board.out + run.seen;
  size_t left = run.board.out_count - run.seen;
  const uint8_t *end = memchr(start, '\n', left);
  if (end == NULL) return left == 0 ? -1 : (*line = start, (long)left);
  *line = start;
  run.seen += (size_t)(end - start) + 1u;
  return end - start;
}

static bool is_digits(const char *text, size_t count) {
  if (count == 0 || (text[0] == '0' && count > 1)) return false;
  for (size_t i = 0; i < count; i++)
    if (text[i] < '0' || text[i] > '9') return false;
  return true;
}

/* May a star stand for this value of this key? Counts are lengths. */
static bool star_fits(const char *key, size_t key_count, const char *value, size_t count) {
  static const char *const numbers[] = {"up_ms", "vcc_mv", "stack", "a0", "a1", "a2", "a3", "a4", "a5", "a6", "a7"};
  if (key_count == 2 && memcmp(key, "fw", 2) == 0) return count > 0;
  if (key_count == 2 && memcmp(key, "id", 2) == 0) {
    for (size_t i = 0; i < count; i++)
      if (strchr("0123456789abcdef", value[i]) == NULL) return false;
    return count == 8;
  }
  for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
    if (key_count == strlen(numbers[i]) && memcmp(key, numbers[i], key_count) == 0) return is_digits(value, count);
  return false;
}

static bool body_matches(const char *expected, const char *body, size_t count) {
  const char *end = body + count;
  while (*expected != '\0') {
    size_t want = strcspn(expected, " ");
    const char *space = memchr(body, ' ', (size_t)(end - body));
    size_t have = (size_t)((space != NULL ? space : end) - body);
    if (want >= 2 && expected[want - 1] == '*' && expected[want - 2] == '=') {
      if (have < want - 1 || memcmp(expected, body, want - 1) != 0) return false;
      if (!star_fits(expected, want - 2, body + want - 1, have - (want - 1))) return false;
    } else if (want != have || memcmp(expected, body, want) != 0) {
      return false;
    }
    expected += want;
    body += have;
    if (*expected == '\0') break;
    expected++;
    if (body == end) return false;
    body++;
  }
  return body == end;
}

static void expect(const char *expected) {
  const uint8_t *line;
  run.has_expected = true;
  long count = next_line(&line);
  if (count < 0) {
    fail("expected \"%s\", and the board sent nothing more", expected);
    return;
  }
  char check[5];
  if (count < 5 || line[count - 5] != ';') {
    fail("expected \"%s\", got a line without a check: \"%.*s\"", expected, (int)count, (const char *)line);
    return;
  }
  size_t body = (size_t)count - 5u;
  check16_text(check16(line, body), check);
  if (memcmp(check, line + body + 1, 4) != 0)
    fail("expected \"%s\", got a wrong check: \"%.*s\"", expected, (int)count, (const char *)line);
  else if (count + 1 > 255)
    fail("a line of %ld bytes with its end: \"%.*s\"", count + 1, (int)count, (const char *)line);
  else if (!body_matches(expected, (const char *)line, body))
    fail("expected \"%s\", got \"%.*s\"", expected, (int)body, (const char *)line);
}

/* Called where a statement ends what the one before it may have caused. */
static void nothing_more(void) {
  const uint8_t *line;
  while (run.seen < run.board.out_count) {
    long count = next_line(&line);
    if (count >= 0) fail("nothing more expected, got \"%.*s\"", (int)count, (const char *)line);
    if (line + count == run.board.out + run.board.out_count) break;
  }
  run.board.out_count = 0;
  run.seen = 0;
  run.may_expect = true;
}

static void to_grid(void) {
  while (run.board.frames == 0 || run.board.now % HS_FRAME_MS != PHASE_MS) board_tick(&run.board);
}

static void end_exchange(void) {
  if (run.name[0] == '\0') return;
  nothing_more();
  if (!run.has_expected) fail("it expects no line at all");
  if (run.board.misused) fail("the core called a callback with something it may not");
  if (run.must_fail && !run.has_failed)
    fprintf(stderr, "%s: exchange \"%s\" passes, and was written to fail\n", run.file, run.name);
  if (run.has_failed != run.must_fail) run.failures++;
  board_free(&run.board);
}

static void begin_exchange(const char *text) {
  end_exchange();
  size_t count = strlen(text);
  run.is_emulated = count > strlen(EMULATED) && strcmp(text + count - strlen(EMULATED), EMULATED) == 0;
  if (run.is_emulated) count -= strlen(EMULATED);
  memcpy(run.name, text, count);
  run.name[count] = '\0';
  run.has_failed = false;
  run.has_expected = false;
  if (run.exchanges == NAMES_MOST || !board_new(&run.board)) {
    fprintf(stderr, "out of memory\n");
    exit(2);
  }
  for (unsigned i = 0; i < run.exchanges; i++)
    if (strcmp(run.names[i], run.name) == 0) fail("the name is used twice");
  run.names[run.exchanges] = malloc(count + 1);
  if (run.names[run.exchanges] != NULL) memcpy(run.names[run.exchanges++], run.name, count + 1);
  board_reset(&run.board, HS_CAUSE_POWER);
  run.seen = 0;
  run.may_expect = true;
  expect(READY);
  run.has_expected = false;
  to_grid();
}

static void send(const uint8_t *bytes, size_t count) {
  nothing_more();
  board_send(&run.board, bytes, count);
  board_wait(&run.board, HS_FRAME_MS);
  run.steps++;
}

/* Escapes to bytes; -1 for an unknown one. */
static long unescape(const char *text, uint8_t *bytes) {
  long count = 0;
  for (; *text != '\0'; text++) {
    if (*text != '\\') {
      bytes[count++] = (uint8_t)*text;
      continue;
    }
    text++;
    unsigned value;
    char digits[3] = {0};
    switch (*text) {
      case 'r': bytes[count++] = '\r'; break;
      case 'n': bytes[count++] = '\n'; break;
      case '\\': bytes[count++] = '\\'; break;
      case 'x':
        digits[0] = text[1];
        if (digits[0] != '\0') digits[1] = text[2];
        if (strspn(digits, "0123456789ABCDEFabcdef") != 2 || sscanf(digits, "%x", &value) != 1) return -1;
        bytes[count++] = (uint8_t)value;
        text += 2;
        break;
      default: return -1;
    }
  }
  return count;
}

static void only_emulated(void) {
  if (!run.is_emulated) fail("a real board cannot do this, and the exchange is not marked%s", EMULATED);
}

static void reset(const char *cause) {
  static const char *const causes[] = {"", "power", "brownout", "watchdog", "external"};
  only_emulated();
  for (uint8_t i = HS_CAUSE_POWER; i <= HS_CAUSE_EXTERNAL; i++) {
    if (strcmp(cause, causes[i]) != 0) continue;
    nothing_more();
    board_reset(&run.board, i);
    to_grid();
    return;
  }
  fail("unknown cause \"%s\"", cause);
}

static void statement(const char *text) {
  uint8_t bytes[LINE_MOST + 8];
  unsigned number, value;
  char rest;
  if (strncmp(text, "exchange ", 9) == 0) {
    begin_exchange(text + 9);
  } else if (run.name[0] == '\0') {
    fprintf(stderr, "%s:%u: a statement before the first exchange\n", run.file, run.line);
    exit(2);
  } else if (strncmp(text, "> ", 2) == 0) {
    size_t count = strlen(text + 2);
    memcpy(bytes, text + 2, count);
    bytes[count] = ';';
    check16_text(check16(bytes, count), (char *)bytes + count + 1);
    bytes[count + 5] = '\n';
    send(bytes, count + 6);
  } else if (strcmp(text, ">=") == 0 || strncmp(text, ">= ", 3) == 0) {
    size_t count = text[2] == '\0' ? 0 : strlen(text + 3);
    memcpy(bytes, text + 3 - (count == 0), count);
    bytes[count] = '\n';
    send(bytes, count + 1);
  } else if (strncmp(text, ">b ", 3) == 0) {
    long count = unescape(text + 3, bytes);
    if (count < 0) fail("an escape that is none");
    else send(bytes, (size_t)count);
  } else if (strncmp(text, "< ", 2) == 0) {
    if (run.may_expect) expect(text + 2);
    else fail("no line can be expected here");
  } else if (sscanf(text, "wait %u%c", &number, &rest) == 1 && number % HS_FRAME_MS == 0) {
    nothing_more();
    board_wait(&run.board, number);
  } else if (sscanf(text, "input a%u %u%c", &number, &value, &rest) == 2 && number < 8 && value <= 5500) {
    only_emulated();
    nothing_more();
    run.board.inputs[number] = (uint16_t)value;
    run.may_expect = false;
  } else if (strcmp(text, "line error") == 0) {
    only_emulated();
    nothing_more();
    hs_core_receive_error(run.board.core);
    run.may_expect = false;
  } else if (strncmp(text, "reset ", 6) == 0) {
    reset(text + 6);
  } else {
    fail("not a statement: %s", text);
  }
}

static void run_file(const char *path) {
  char text[LINE_MOST + 2];
  FILE *file = fopen(path, "r");
  if (file == NULL) {
    fprintf(stderr, "cannot read %s\n", path);
    exit(2);
  }
  run.file = path;
  run.line = 0;
  run.name[0] = '\0';
  while (fgets(text, (int)sizeof text, file) != NULL) {
    run.line++;
    size_t count = strlen(text);
    if (count == 0 || text[count - 1] != '\n') {
      fprintf(stderr, "%s:%u: a line longer than %u bytes, or without its end\n", path, run.line, LINE_MOST);
      exit(2);
    }
    text[count - 1] = '\0';
    if (text[0] != '\0' && text[0] != '#') statement(text);
  }
  end_exchange();
  fclose(file);
}

int main(int count, char **arguments) {
  int first = 1;
  if (count > 1 && strcmp(arguments[1], "--must-fail") == 0) {
    run.must_fail = true;
    first = 2;
  }
  if (first >= count) {
    fprintf(stderr, "usage: vectors [--must-fail] FILE...\n");
    return 2;
  }
  for (int i = first; i < count; i++) run_file(arguments[i]);
  for (unsigned i = 0; i < run.exchanges; i++) free(run.names[i]);
  printf("%u exchanges, %u steps, %u not as they must be\n", run.exchanges, run.steps, run.failures);
  return run.failures == 0 && run.exchanges > 0 ? 0 : 1;
}
