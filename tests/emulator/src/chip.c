#include "chip.h"

#include <errno.h>
#include <simavr/avr_adc.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_extint.h>
#include <simavr/sim_core.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "pins.h"
#include "report.h"
#include "uart.h"

/* Data sheet 2549, 7.7: an interrupt is entered in five cycles (the program counter has three
 * bytes), and in five more out of sleep. */
enum { ENTRY_CYCLES = 5, WAKE_CYCLES = 5 };
enum { MCUSR = 0x54, RAM_FIRST = 0x200, INPUTS = 8, EXTERNAL_INTERRUPTS = 8 };

static const char *const cause_names[EM_CAUSES] = {"power", "brownout", "watchdog", "external"};
/* MCUSR, data sheet 12.4.1. */
static const uint8_t cause_bits[EM_CAUSES] = {0x01, 0x04, 0x08, 0x02};

static avr_t *chip;
static uint32_t garbage = 1;
static uint64_t held_until;
/* simavr runs instructions in one go up to the next event, which is exact and twice as fast, but
 * hides when interrupts are switched off and on in between. */
static bool every_instruction;
static uint32_t millivolts[INPUTS];

/* ---- what interrupts cost ---- */

static em_times times;
static struct {
  uint8_t vector;
  uint64_t entered;
} nest[64];
static unsigned depth;
static uint64_t off_since;
static bool off;

static void watch_interrupts(uint64_t before) {
  bool enabled = chip->sreg[S_I] != 0;
  while (depth > chip->interrupts.running_ptr) {
    depth--;
    uint64_t took = chip->cycle - nest[depth].entered;
    if (took > times.longest[nest[depth].vector]) times.longest[nest[depth].vector] = took;
  }
  if (!every_instruction) return;
  if (depth == 0 && !enabled && !off) {
    off = true;
    off_since = before;
  } else if (off && (enabled || depth > 0)) {
    off = false;
    if (depth == 0 && chip->cycle - off_since > times.longest_off) times.longest_off = chip->cycle - off_since;
  }
}

static void entered(uint64_t before) {
  if (depth >= sizeof nest / sizeof nest[0]) return;
  nest[depth].vector = chip->interrupts.running[chip->interrupts.running_ptr - 1]->vector;
  nest[depth++].entered = before;
}

/* ---- running ---- */

static void service_interrupts(bool slept) {
  /* simavr drops a request that was withdrawn one instruction late; going on until one is taken
   * or none is left makes that cost nothing. */
  while (chip->interrupt_state != 0) {
    int waiting = chip->interrupt_state;
    uint8_t running = chip->interrupts.running_ptr;
    uint64_t before = chip->cycle;
    avr_service_interrupts(chip);
    if (chip->interrupts.running_ptr > running) {
      unsigned cost = ENTRY_CYCLES + (slept ? WAKE_CYCLES : 0);
      chip->cycle += cost;
      chip->run_cycle_count = chip->run_cycle_count > cost ? chip->run_cycle_count - cost : 1;
      entered(before);
      em_uart_interrupt_taken();
      return;
    }
    if (waiting < 0 || !chip->sreg[S_I]) return;
  }
}

/* The program hangs: outside of interrupts, and with them on, it only turns on the spot, two cycles a turn, until a reset. */
static bool hangs, hang_is_cleared;

static avr_flashaddr_t turn_on_the_spot(avr_t *avr) {
  avr->cycle += 2;
  return avr->pc;
}

/* In place of avr_callback_run_raw: the same order of things, without the host's sleep and with
 * the cost of entering an interrupt. */
static void run_one(avr_t *avr) {
  uint64_t before = avr->cycle;
  bool slept = avr->state == cpu_Sleeping;
  avr_flashaddr_t next = avr->pc;
  bool held = avr->cycle < held_until;
  if (avr->state == cpu_Running && !held) next = hangs && depth == 0 && avr->sreg[S_I] ? turn_on_the_spot(avr) : avr_run_one(avr);
  avr_cycle_count_t idle = avr_cycle_timer_process(avr);
  avr->pc = next;
  if (held) {
    uint64_t left = held_until - avr->cycle;
    avr->cycle += idle < left ? idle : left;
    return;
  }
  watch_interrupts(before);
  if (avr->state == cpu_Sleeping) {
    if (!avr->sreg[S_I]) {
      avr->state = cpu_Crashed; /* asleep for ever */
      return;
    }
    avr->cycle += idle > 0 ? idle : 1;
  }
  if (avr->state == cpu_Running || avr->state == cpu_Sleeping) service_interrupts(slept);
}

static avr_cycle_count_t due(avr_t *avr, avr_cycle_count_t when, void *param) {
  (void)avr, (void)when, (void)param;
  return 0;
}

static void after_reset(em_cause cause, uint8_t flags, bool cleared, uint32_t hold_us) {
  hangs = false;
  chip->data[MCUSR] = cleared ? 0 : flags;
  depth = 0;
  off = false;
  held_until = hold_us ? chip->cycle + hold_us * (uint64_t)(EM_FREQUENCY / 1000000u) : 0;
  chip->run_cycle_limit = every_instruction ? 1 : 1000;
  /* Else simavr looks at each external interrupt's pin after every instruction while it is low: a
   * hundred times slower, as soon as such a pin drives a servo. No one here uses these interrupts. */
  for (uint8_t number = 0; number < EXTERNAL_INTERRUPTS; number++)
    avr_extint_set_strict_lvl_trig(chip, number, 0);
  em_uart_reset();
  em_pins_refresh(chip);
  for (unsigned i = 0; i < INPUTS; i++) em_chip_input(i, millivolts[i]);
  em_report_text("reset", chip->cycle, "%s", cause_names[cause]);
}

bool em_chip_run_until(uint64_t cycle) {
  if (cycle > chip->cycle) avr_cycle_timer_register(chip, cycle - chip->cycle, due, NULL);
  while (chip->cycle < cycle) {
    if (chip->run != run_one) {
      /* The watchdog has struck: simavr left its own run function to reset the chip. */
      uint8_t flags = chip->data[MCUSR] | cause_bits[EM_WATCHDOG];
      chip->run(chip);
      chip->run = run_one;
      after_reset(EM_WATCHDOG, flags, hangs && hang_is_cleared, 0);
      avr_cycle_timer_register(chip, cycle > chip->cycle ? cycle - chip->cycle : 1, due, NULL);
    }
    chip->run(chip);
    if (chip->state == cpu_Crashed || chip->state == cpu_Done) {
      em_report_text("crash", chip->cycle, "pc=0x%X", (unsigned)chip->pc);
      return false;
    }
  }
  return true;
}

/* ---- resets, supply, inputs ---- */

static void lose_ram(void) {
  for (unsigned i = 0; i <= chip->ramend; i++) {
    if (i >= 32 && i < RAM_FIRST) continue;
    garbage = garbage * 1664525u + 1013904223u;
    chip->data[i] = (uint8_t)(garbage >> 24);
  }
}

void em_chip_reset(em_cause cause, bool cleared, uint32_t hold_us) {
  /* Data sheet 12.4: flags stay until written or until a power-on reset. */
  uint8_t flags = cause == EM_POWER ? 0 : chip->data[MCUSR];
  avr_reset(chip);
  chip->run = run_one;
  if (cause == EM_POWER) lose_ram();
  after_reset(cause, flags | cause_bits[cause], cleared, hold_us);
}

void em_chip_hang(bool cleared) {
  hangs = true;
  hang_is_cleared = cleared;
  /* One instruction at a time from here on, so that it is seen when an interrupt ends. */
  chip->run_cycle_limit = 1;
}

const char *em_cause_name(em_cause cause) { return cause < EM_CAUSES ? cause_names[cause] : NULL; }

void em_chip_input(unsigned input, uint32_t value) {
  millivolts[input] = value;
  avr_raise_irq(avr_io_getirq(chip, AVR_IOCTL_ADC_GETIRQ, (int)(ADC_IRQ_ADC0 + input)), value);
}

void em_chip_supply(uint32_t value) { chip->vcc = chip->avcc = chip->aref = value; }

/* ---- EEPROM ---- */

bool em_chip_load_eeprom(const char *path) {
  uint8_t bytes[EM_EEPROM];
  FILE *file = fopen(path, "rb");
  if (file == NULL) return false;
  size_t n = fread(bytes, 1, sizeof bytes, file);
  fclose(file);
  if (n != sizeof bytes) {
    errno = EINVAL;
    return false;
  }
  avr_eeprom_desc_t all = {.ee = bytes, .offset = 0, .size = sizeof bytes};
  avr_ioctl(chip, AVR_IOCTL_EEPROM_SET, &all);
  return true;
}

bool em_chip_save_eeprom(const char *path) {
  uint8_t bytes[EM_EEPROM];
  avr_eeprom_desc_t all = {.ee = bytes, .offset = 0, .size = sizeof bytes};
  avr_ioctl(chip, AVR_IOCTL_EEPROM_GET, &all);
  FILE *file = fopen(path, "wb");
  if (file == NULL) return false;
  bool written = fwrite(bytes, 1, sizeof bytes, file) == sizeof bytes;
  return (fclose(file) == 0) && written;
}

em_times em_chip_read_times(bool restart) {
  em_times now = times;
  if (restart) memset(&times, 0, sizeof times);
  return now;
}

/* ---- start ---- */

static void log_line(avr_t *avr, const int level, const char *format, va_list arguments) {
  (void)avr;
  if (level <= LOG_ERROR) vfprintf(stderr, format, arguments);
}

avr_t *em_chip_start(const char *elf, uint32_t seed, bool measure_off) {
  static elf_firmware_t program;
  avr_global_logger_set(log_line);
  if (elf_read_firmware(elf, &program) != 0 || program.flashsize == 0) {
    fprintf(stderr, "%s: cannot be read as an AVR program in ELF\n", elf);
    exit(2);
  }
  chip = avr_make_mcu_by_name("atmega2560");
  if (chip == NULL) {
    fputs("this simavr knows no atmega2560\n", stderr);
    exit(3);
  }
  avr_init(chip);
  program.frequency = EM_FREQUENCY;
  avr_load_firmware(chip, &program);
  chip->frequency = EM_FREQUENCY;
  chip->run = run_one;
  garbage = seed ? seed : 1;
  every_instruction = measure_off;
  em_chip_supply(5000);
  return chip;
}
