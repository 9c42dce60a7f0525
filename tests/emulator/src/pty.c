#define _GNU_SOURCE
#include "pty.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "chip.h"
#include "clock.h"
#include "commands.h"
#include "report.h"
#include "uart.h"

/* Half a millisecond of simulated time at once: shorter than anything a host can tell apart. */
enum { SLICE_US = 500, SLICES = 4, MOST_LAG_US = 50000, MOST_DEBT_US = 500000, MOST_QUEUED = 64 };

volatile bool em_pty_stop;

static uint8_t outgoing[4096];
static size_t outgoing_used;

static void keep(uint8_t byte) {
  if (outgoing_used < sizeof outgoing) outgoing[outgoing_used++] = byte;
}

static uint64_t now_us(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (uint64_t)t.tv_sec * 1000000u + (uint64_t)t.tv_nsec / 1000u;
}

static void failed(const char *what) {
  fprintf(stderr, "pseudo-terminal: %s: %s\n", what, strerror(errno));
  exit(3);
}

static int open_master(void) {
  int master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (master < 0 || grantpt(master) != 0 || unlockpt(master) != 0) failed("cannot make one");
  /* Opened once and closed: from then on poll tells by its hang-up whether anybody has it open. */
  int slave = open(ptsname(master), O_RDWR | O_NOCTTY | O_CLOEXEC);
  struct termios raw;
  if (slave < 0 || tcgetattr(slave, &raw) != 0) failed("cannot open the other end");
  cfmakeraw(&raw);
  if (tcsetattr(slave, TCSANOW, &raw) != 0) failed("cannot make it raw");
  close(slave);
  printf("tty %s\n", ptsname(master));
  fflush(stdout);
  return master;
}

static void from_host(int master) {
  uint8_t bytes[MOST_QUEUED];
  if (em_uart_queued() >= MOST_QUEUED) return; /* the wire is busy; the tty's own buffer holds the rest */
  ssize_t n = read(master, bytes, MOST_QUEUED - em_uart_queued());
  for (ssize_t i = 0; i < n; i++) em_uart_send(bytes[i], false);
}

static void to_host(int master, bool opened) {
  size_t done = 0;
  while (opened && done < outgoing_used) {
    ssize_t n = write(master, outgoing + done, outgoing_used - done);
    if (n <= 0) break; /* a host that does not read loses bytes, as with a real adapter */
    done += (size_t)n;
  }
  outgoing_used = 0;
}

/* Obeys the complete lines that wait on standard input; false at its end or at `quit`. */
static bool obey(avr_t *avr) {
  static char line[65536];
  static size_t used;
  ssize_t n = read(STDIN_FILENO, line + used, sizeof line - 1 - used);
  if (n <= 0) return false;
  used += (size_t)n;
  char *end;
  while ((end = memchr(line, '\n', used)) != NULL) {
    size_t length = (size_t)(end - line) + 1;
    *end = '\0';
    if (em_command(avr, line, false) != EM_GO_ON) return false;
    memmove(line, line + length, used - length);
    used -= length;
  }
  return true;
}

int em_pty_run(avr_t *avr, em_pty_options options) {
  int master = open_master();
  em_uart_on_sent(keep);
  bool opened = false;
  uint32_t rate = 0;
  uint64_t begun = now_us(), passed = 0; /* simulated microseconds since begun */
  uint64_t first = avr->cycle;
  while (!em_pty_stop) {
    uint64_t wall = now_us(), due = (wall - begun) * options.pace;
    /* A host that shares the clock is never late by it: what the machine held up for a moment is made up for. */
    if (due > passed + (options.shares_clock ? MOST_DEBT_US : MOST_LAG_US)) { /* the machine was busy, or the host was waited for: go on from here, never in a rush */
      if (!options.shares_clock) em_report_text("lag", avr->cycle, "%llu", (unsigned long long)(due - passed));
      begun += (due - passed) / options.pace;
      due = passed;
    }
    if (opened) due = em_clock_may_reach(passed, due, wall);
    /* A few at once, then the host's bytes have their turn. */
    for (int i = 0; i < SLICES && passed + SLICE_US <= due; i++) {
      passed += SLICE_US;
      if (!em_chip_run_until(first + passed * (EM_FREQUENCY / 1000000u))) {
        em_report_flush();
        return 3;
      }
      em_clock_reached(passed);
    }
    struct pollfd waits[2] = {{.fd = master, .events = POLLIN}, {.fd = STDIN_FILENO, .events = POLLIN}};
    poll(waits, 2, 0);
    bool open_now = !(waits[0].revents & POLLHUP);
    if (open_now && !opened && options.reset_on_open) em_chip_reset(EM_EXTERNAL, false, options.loader_us);
    opened = open_now;
    if (opened && options.follow_rate) {
      uint32_t set = em_tty_rate(master);
      if (set != 0 && set != rate) em_uart_set_baud(rate = set);
    }
    if (waits[0].revents & POLLIN) from_host(master);
    to_host(master, opened);
    em_report_flush();
    if ((waits[1].revents & (POLLIN | POLLHUP)) && !obey(avr)) break;
    uint64_t next = begun + (passed + SLICE_US) / options.pace, at = now_us();
    if (next > at) usleep((useconds_t)(next - at));
    else if (passed + SLICE_US > due) usleep(SLICE_US / 10); /* its host has its turn */
  }
  em_report_flush();
  return 0;
}
