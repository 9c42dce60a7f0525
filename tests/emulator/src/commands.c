#include "commands.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "chip.h"
#include "clock.h"
#include "report.h"
#include "uart.h"

static _Noreturn void misunderstood(const char *what, const char *expected) {
  fprintf(stderr, "command not understood: found `%s`, expected %s\n", what, expected);
  em_report_flush();
  exit(2);
}

static uint64_t number(const char *text, uint64_t most, const char *expected) {
  char *end = NULL;
  errno = 0;
  unsigned long long value = text != NULL && *text >= '0' && *text <= '9' ? strtoull(text, &end, 10) : 0;
  if (end == NULL || *end != '\0' || errno != 0 || value > most) misunderstood(text ? text : "", expected);
  return value;
}

static int digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

static void send_hex(const char *hex, bool damaged) {
  if (hex == NULL || strlen(hex) % 2 != 0) misunderstood(hex ? hex : "", "pairs of hex digits");
  for (; *hex; hex += 2) {
    int high = digit(hex[0]), low = digit(hex[1]);
    if (high < 0 || low < 0) misunderstood(hex, "pairs of hex digits");
    em_uart_send((uint8_t)(high * 16 + low), damaged);
  }
}

/* reset CAUSE [cleared] [HOLD_US] */
static void reset(char **rest) {
  char *name = strtok_r(NULL, " ", rest);
  em_cause cause = EM_POWER;
  while (em_cause_name(cause) != NULL && strcmp(name ? name : "", em_cause_name(cause)) != 0) cause++;
  if (em_cause_name(cause) == NULL) misunderstood(name ? name : "", "power, brownout, watchdog or external");
  char *option = strtok_r(NULL, " ", rest);
  bool cleared = option != NULL && strcmp(option, "cleared") == 0;
  if (cleared) option = strtok_r(NULL, " ", rest);
  em_chip_reset(cause, cleared, option ? (uint32_t)number(option, 60000000, "microseconds up to 60000000") : 0);
}

/* stats [restart] */
static void stats(avr_t *avr, char **rest) {
  char *option = strtok_r(NULL, " ", rest);
  bool restart = option != NULL && strcmp(option, "restart") == 0;
  em_uart_counts counts = em_uart_read_counts(restart);
  em_times times = em_chip_read_times(restart);
  em_report_text("stats", avr->cycle,
                 "received=%llu sent=%llu overruns=%llu worst_wait=%llu idle=%llu queued=%u longest_off=%llu",
                 (unsigned long long)counts.received, (unsigned long long)counts.sent,
                 (unsigned long long)counts.overruns, (unsigned long long)counts.worst_wait,
                 (unsigned long long)counts.idle, (unsigned)em_uart_queued(),
                 (unsigned long long)times.longest_off);
  for (unsigned i = 0; i < EM_VECTORS; i++)
    if (times.longest[i] > 0)
      em_report_text("interrupt", avr->cycle, "%u %llu", i, (unsigned long long)times.longest[i]);
}

static em_next run(avr_t *avr, char **rest, bool stepping) {
  /* Kept apart from the cycle counter, so that the few cycles by which an instruction overshoots
   * do not add up. */
  static uint64_t until;
  if (!stepping) misunderstood("run", "no `run` with --pty, where time runs by itself");
  if (until == 0) until = avr->cycle;
  until += number(strtok_r(NULL, " ", rest), 86400000000ull, "microseconds up to a day") * (EM_FREQUENCY / 1000000u);
  bool alive = em_chip_run_until(until);
  em_report_plain("now", avr->cycle);
  em_report_flush();
  return alive ? EM_GO_ON : EM_CRASHED;
}

em_next em_command(avr_t *avr, char *line, bool stepping) {
  char *rest = NULL;
  char *word = strtok_r(line, " ", &rest);
  if (word == NULL) return EM_GO_ON;
  if (strcmp(word, "run") == 0) return run(avr, &rest, stepping);
  if (strcmp(word, "quit") == 0) return EM_QUIT;
  if (strcmp(word, "send") == 0) {
    send_hex(strtok_r(NULL, " ", &rest), false);
  } else if (strcmp(word, "error") == 0) {
    send_hex(strtok_r(NULL, " ", &rest), true);
  } else if (strcmp(word, "baud") == 0) {
    em_uart_set_baud((uint32_t)number(strtok_r(NULL, " ", &rest), 4000000, "bits a second") | 0u);
  } else if (strcmp(word, "input") == 0) {
    char *name = strtok_r(NULL, " ", &rest);
    if (name == NULL || name[0] != 'a' || name[1] < '0' || name[1] > '7' || name[2] != '\0')
      misunderstood(name ? name : "", "an input, a0 to a7 (this emulator has no others)");
    em_chip_input((unsigned)(name[1] - '0'), (uint32_t)number(strtok_r(NULL, " ", &rest), 5500, "millivolts up to 5500"));
  } else if (strcmp(word, "vcc") == 0) {
    em_chip_supply((uint32_t)number(strtok_r(NULL, " ", &rest), 5500, "millivolts up to 5500"));
  } else if (strcmp(word, "reset") == 0) {
    reset(&rest);
  } else if (strcmp(word, "hang") == 0) {
    char *option = strtok_r(NULL, " ", &rest);
    if (option != NULL && strcmp(option, "cleared") != 0) misunderstood(option, "cleared, or nothing");
    em_chip_hang(option != NULL);
  } else if (strcmp(word, "ahead") == 0) {
    em_clock_ahead(number(strtok_r(NULL, " ", &rest), 60000000, "microseconds up to a minute"));
  } else if (strcmp(word, "stats") == 0) {
    stats(avr, &rest);
  } else if (strcmp(word, "eeprom") == 0) {
    char *path = strtok_r(NULL, "", &rest);
    if (path == NULL || !em_chip_save_eeprom(path)) misunderstood(path ? path : "", "a file that can be written");
  } else {
    misunderstood(word, "run send error baud input vcc reset hang ahead stats eeprom or quit");
  }
  return EM_GO_ON;
}
