/* hornset-emulator: runs the firmware's ELF on an emulated ATmega2560. See README.md. */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "chip.h"
#include "clock.h"
#include "commands.h"
#include "pins.h"
#include "pty.h"
#include "report.h"
#include "uart.h"

static _Noreturn void usage(const char *found) {
  fprintf(stderr,
          "found %s; expected:\n"
          "hornset-emulator ELF --step [--eeprom FILE] [--baud N] [--seed N] [--measure-off] [--log FILE]\n"
          "hornset-emulator ELF --pty  [--eeprom FILE] [--baud N] [--seed N] [--measure-off] [--log FILE] [--reset-on-open] [--loader-ms N] [--clock FILE [--pace N]]\n",
          found);
  exit(2);
}

typedef struct options {
  const char *elf, *eeprom, *log, *clock;
  bool step, pty, measure_off;
  uint32_t baud, seed;
  em_pty_options tty;
} options;

static uint32_t number(const char *name, const char *text, uint32_t most) {
  char *end = NULL;
  unsigned long value = text != NULL ? strtoul(text, &end, 10) : 0;
  if (end == NULL || end == text || *end != '\0' || value == 0 || value > most) {
    fprintf(stderr, "%s: found `%s`, expected a number from 1 to %u\n", name, text ? text : "", (unsigned)most);
    exit(2);
  }
  return (uint32_t)value;
}

static options read_options(char **arguments) {
  options o = {.tty.follow_rate = true, .tty.pace = 1};
  for (char **a = arguments + 1; *a != NULL; a++) {
    if (strcmp(*a, "--step") == 0) o.step = true;
    else if (strcmp(*a, "--pty") == 0) o.pty = true;
    else if (strcmp(*a, "--measure-off") == 0) o.measure_off = true;
    else if (strcmp(*a, "--reset-on-open") == 0) o.tty.reset_on_open = true;
    else if (**a != '-' && o.elf == NULL) o.elf = *a;
    else if (a[1] == NULL) usage(*a);
    else if (strcmp(*a, "--eeprom") == 0) o.eeprom = *++a;
    else if (strcmp(*a, "--log") == 0) o.log = *++a;
    else if (strcmp(*a, "--baud") == 0) o.baud = number("--baud", *++a, 4000000), o.tty.follow_rate = false;
    else if (strcmp(*a, "--seed") == 0) o.seed = number("--seed", *++a, 4294967295u);
    else if (strcmp(*a, "--clock") == 0) o.clock = *++a, o.tty.shares_clock = true;
    else if (strcmp(*a, "--pace") == 0) o.tty.pace = number("--pace", *++a, 100);
    else if (strcmp(*a, "--loader-ms") == 0) o.tty.loader_us = 1000 * number("--loader-ms", *++a, 60000);
    else usage(*a);
  }
  if (o.tty.pace > 1 && o.clock == NULL) usage("--pace without the --clock that the host needs then");
  if (o.elf == NULL || o.step == o.pty) usage(o.elf == NULL ? "no ELF" : "not one of --step and --pty");
  return o;
}

static void on_signal(int number) {
  (void)number;
  em_pty_stop = true;
}

static int step(avr_t *avr) {
  char *line = NULL;
  size_t room = 0;
  ssize_t n;
  int status = 0;
  while ((n = getline(&line, &room, stdin)) >= 0) {
    if (n > 0 && line[n - 1] == '\n') line[n - 1] = '\0';
    em_next next = em_command(avr, line, true);
    if (next == EM_CRASHED) status = 3;
    if (next != EM_GO_ON) break;
  }
  free(line);
  em_report_flush();
  return status;
}

int main(int count, char **arguments) {
  (void)count;
  options o = read_options(arguments);
  int reports = STDOUT_FILENO;
  if (o.log != NULL || o.pty) {
    reports = open(o.log ? o.log : "/dev/null", O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
    if (reports < 0) {
      fprintf(stderr, "%s: %s\n", o.log, strerror(errno));
      return 2;
    }
  }
  em_report_open(reports);
  struct sigaction end = {.sa_handler = on_signal};
  if (o.pty) {
    sigaction(SIGTERM, &end, NULL);
    sigaction(SIGINT, &end, NULL);
  }
  if (o.clock != NULL) em_clock_make(o.clock);
  avr_t *avr = em_chip_start(o.elf, o.seed, o.measure_off);
  if (o.eeprom != NULL && !em_chip_load_eeprom(o.eeprom) && errno != ENOENT) {
    fprintf(stderr, "%s: not an EEPROM image of %u bytes that can be read\n", o.eeprom, EM_EEPROM);
    return 2;
  }
  em_uart_attach(avr, o.baud ? o.baud : 250000);
  em_pins_attach(avr);
  em_chip_reset(EM_POWER, false, 0);
  int status = o.pty ? em_pty_run(avr, o.tty) : step(avr);
  if (o.eeprom != NULL && !em_chip_save_eeprom(o.eeprom)) {
    fprintf(stderr, "%s: %s\n", o.eeprom, strerror(errno));
    return 2;
  }
  return status;
}
