/* Loaded into a host before libc (LD_PRELOAD): its monotonic clock is the emulated chip's, and the chip waits for its
 * turn. The host's program itself is the one that is shipped, to the byte. See ../README.md.
 *
 * It knows what Rust's standard library and the serial port wait with: futex, ppoll and nanosleep. A wait ends when its
 * time has passed on the chip. Waits without an end, and the clock of days, are the system's own. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/futex.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include "clock.h"

/* The chip starts at this moment of the host's clock, so that the host may reckon backward. */
enum { EPOCH_S = 1000000, TURN_US = 4000, LOOK_NS = 100000 };

static em_clock *chip;
static long (*system_call)(long, ...);
static int (*system_ppoll)(struct pollfd *, nfds_t, const struct timespec *, const sigset_t *);
static pthread_once_t once = PTHREAD_ONCE_INIT;
static pthread_key_t leaving;
static atomic_int threads;
static _Atomic uintptr_t waits_on[EM_CLOCK_THREADS]; /* by slot, the word on which it waits for another thread */
static _Thread_local int slot; /* 1 more than its place; 0: it never waited */

static void left(void *at) { atomic_store((_Atomic uint64_t *)at, UINT64_MAX); }

static void begin(void) {
  const char *path = getenv("HORNSET_CHIP_CLOCK");
  int file = path != NULL ? open(path, O_RDWR | O_CLOEXEC) : -1;
  void *at = file >= 0 ? mmap(NULL, sizeof *chip, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0) : MAP_FAILED;
  system_call = (long (*)(long, ...))dlsym(RTLD_NEXT, "syscall");
  system_ppoll = (int (*)(struct pollfd *, nfds_t, const struct timespec *, const sigset_t *))dlsym(RTLD_NEXT, "ppoll");
  if (at == MAP_FAILED || system_call == NULL || system_ppoll == NULL || pthread_key_create(&leaving, left) != 0) {
    fprintf(stderr, "the chip's clock: HORNSET_CHIP_CLOCK names no page of a running emulator\n");
    _exit(127);
  }
  close(file);
  chip = at;
  for (int i = 0; i < EM_CLOCK_THREADS; i++) atomic_store(&chip->until_us[i], UINT64_MAX);
}

static uint64_t now_us(void) {
  pthread_once(&once, begin);
  return atomic_load(&chip->now_us);
}

/* This thread lets the chip go so far. */
static void lets_go_to(uint64_t us) {
  if (slot == 0) {
    slot = 1 + atomic_fetch_add(&threads, 1) % EM_CLOCK_THREADS;
    pthread_setspecific(leaving, &chip->until_us[slot - 1]);
  }
  atomic_store(&chip->until_us[slot - 1], us);
}

static uint64_t us_of(const struct timespec *t) { return (uint64_t)t->tv_sec * 1000000u + (uint64_t)t->tv_nsec / 1000u; }

/* Microseconds of the host's clock, which began before the chip. */
static uint64_t chip_us_of(const struct timespec *t) {
  uint64_t us = us_of(t), epoch = (uint64_t)EPOCH_S * 1000000u;
  return us > epoch ? us - epoch : 0;
}

static const struct timespec look = {.tv_nsec = LOOK_NS};

int clock_gettime(clockid_t id, struct timespec *t) {
  if (id != CLOCK_MONOTONIC) {
    pthread_once(&once, begin);
    return (int)system_call(SYS_clock_gettime, id, t);
  }
  uint64_t us = now_us();
  t->tv_sec = (time_t)(EPOCH_S + us / 1000000u);
  t->tv_nsec = (long)(us % 1000000u) * 1000;
  return 0;
}

int ppoll(struct pollfd *fds, nfds_t count, const struct timespec *timeout, const sigset_t *mask) {
  uint64_t until = now_us();
  if (timeout == NULL) return system_ppoll(fds, count, NULL, mask);
  until += us_of(timeout);
  lets_go_to(until + TURN_US);
  int ready;
  do ready = system_ppoll(fds, count, now_us() < until ? &look : &(struct timespec){0}, mask);
  while (ready == 0 && now_us() < until);
  int error = errno;
  lets_go_to(now_us() + TURN_US);
  errno = error;
  return ready;
}

static void sleep_until(uint64_t until) {
  lets_go_to(until + TURN_US);
  while (now_us() < until) system_call(SYS_nanosleep, &look, NULL);
  lets_go_to(now_us() + TURN_US);
}

int nanosleep(const struct timespec *wait, struct timespec *left_over) {
  (void)left_over; /* it is never cut short */
  sleep_until(now_us() + us_of(wait));
  return 0;
}

int clock_nanosleep(clockid_t id, int flags, const struct timespec *wait, struct timespec *left_over) {
  uint64_t now = now_us();
  if (id != CLOCK_MONOTONIC) return system_call(SYS_clock_nanosleep, id, flags, wait, left_over) == 0 ? 0 : errno;
  sleep_until((flags & TIMER_ABSTIME) != 0 ? chip_us_of(wait) : now + us_of(wait));
  return 0;
}

/* A wait for another thread, until a moment of the monotonic clock. */
static long wait_until(uint32_t *word, int op, uint32_t value, uint64_t until, uint32_t bits) {
  if (slot == 0) lets_go_to(until + TURN_US);
  atomic_store(&waits_on[slot - 1], (uintptr_t)word);
  long result;
  int error;
  do {
    lets_go_to(until + TURN_US); /* again: it may have been another that was woken */
    struct timespec end;
    system_call(SYS_clock_gettime, CLOCK_MONOTONIC, &end);
    end.tv_nsec += LOOK_NS;
    if (end.tv_nsec >= 1000000000) end.tv_nsec -= 1000000000, end.tv_sec++;
    result = system_call(SYS_futex, word, op, value, &end, NULL, bits);
    error = errno;
  } while (result == -1 && error == ETIMEDOUT && now_us() < until);
  atomic_store(&waits_on[slot - 1], 0);
  lets_go_to(now_us() + TURN_US);
  errno = error;
  return result;
}

/* Who waits on this word is about to be woken, and the chip waits for its turn from now on. */
static void wakes(uintptr_t word) {
  uint64_t until = now_us() + TURN_US;
  for (int i = 0; i < EM_CLOCK_THREADS; i++)
    if (atomic_load(&waits_on[i]) == word) atomic_store(&chip->until_us[i], until);
}

long syscall(long number, ...) {
  va_list list;
  va_start(list, number);
  long a[6];
  for (int i = 0; i < 6; i++) a[i] = va_arg(list, long);
  va_end(list);
  pthread_once(&once, begin);
  int op = number == SYS_futex ? (int)a[1] & ~FUTEX_PRIVATE_FLAG : -1;
  bool waits = op == FUTEX_WAIT_BITSET;
  if (op == FUTEX_WAKE) wakes((uintptr_t)a[0]);
  if (!waits) return system_call(number, a[0], a[1], a[2], a[3], a[4], a[5]);
  if (a[3] != 0)
    return wait_until((uint32_t *)a[0], (int)a[1], (uint32_t)a[2], chip_us_of((const struct timespec *)a[3]), (uint32_t)a[5]);
  /* Until another thread wakes it: it asks for no turn. */
  if (slot != 0) lets_go_to(UINT64_MAX);
  long result = system_call(number, a[0], a[1], a[2], a[3], a[4], a[5]);
  int error = errno;
  if (slot != 0) lets_go_to(now_us() + TURN_US);
  errno = error;
  return result;
}
