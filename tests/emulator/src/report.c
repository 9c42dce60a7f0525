#include "report.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A minute of saturated line makes about three million lines, so lines are put together by hand:
 * printf would cost more than the emulation. */
enum { ROOM = 1 << 16, LONGEST = 512 };

static char buffer[ROOM];
static size_t used;
static int out = 1;

void em_report_open(int fd) { out = fd; }

void em_report_flush(void) {
  size_t done = 0;
  while (done < used) {
    ssize_t n = write(out, buffer + done, used - done);
    if (n < 0) {
      if (errno == EINTR) continue;
      exit(4);
    }
    done += (size_t)n;
  }
  used = 0;
}

static void make_room(void) {
  if (used + LONGEST > ROOM) em_report_flush();
}

static void put_word(const char *word) {
  size_t n = strlen(word);
  memcpy(buffer + used, word, n);
  used += n;
  buffer[used++] = ' ';
}

static void put_number(uint64_t value) {
  char digits[20];
  int n = 0;
  do {
    digits[n++] = (char)('0' + value % 10);
    value /= 10;
  } while (value != 0);
  while (n > 0) buffer[used++] = digits[--n];
}

void em_report_plain(const char *word, uint64_t cycle) {
  make_room();
  put_word(word);
  put_number(cycle);
  buffer[used++] = '\n';
}

void em_report_byte(const char *word, uint64_t cycle, uint8_t byte) {
  static const char hex[] = "0123456789ABCDEF";
  make_room();
  put_word(word);
  put_number(cycle);
  buffer[used++] = ' ';
  buffer[used++] = hex[byte >> 4];
  buffer[used++] = hex[byte & 15];
  buffer[used++] = '\n';
}

void em_report_edge(uint64_t cycle, unsigned pin, unsigned level) {
  make_room();
  put_word("edge");
  put_number(cycle);
  buffer[used++] = ' ';
  put_number(pin);
  buffer[used++] = ' ';
  buffer[used++] = level ? '1' : '0';
  buffer[used++] = '\n';
}

void em_report_text(const char *word, uint64_t cycle, const char *format, ...) {
  make_room();
  put_word(word);
  put_number(cycle);
  buffer[used++] = ' ';
  va_list arguments;
  va_start(arguments, format);
  int n = vsnprintf(buffer + used, LONGEST - 64, format, arguments);
  va_end(arguments);
  if (n > 0) used += (size_t)n < LONGEST - 64 ? (size_t)n : (size_t)LONGEST - 65;
  buffer[used++] = '\n';
}
