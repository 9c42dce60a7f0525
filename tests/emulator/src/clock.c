#define _GNU_SOURCE
#include "clock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

/* Of the clock on the wall. */
enum { PATIENCE_US = 2000000, STEP_US = 500 };

static em_clock *page;
static uint64_t free_until_us;
static uint64_t waits_since_us; /* 0: it does not wait for its host */

void em_clock_make(const char *path) {
  int file = open(path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  void *at = MAP_FAILED;
  if (file >= 0 && ftruncate(file, sizeof *page) == 0)
    at = mmap(NULL, sizeof *page, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
  if (at == MAP_FAILED) {
    fprintf(stderr, "%s: %s\n", path, strerror(errno));
    exit(2);
  }
  close(file);
  page = at;
  for (int i = 0; i < EM_CLOCK_THREADS; i++) atomic_store(&page->until_us[i], UINT64_MAX);
}

void em_clock_reached(uint64_t passed_us) {
  if (page != NULL) atomic_store(&page->now_us, passed_us);
}

uint64_t em_clock_may_reach(uint64_t passed_us, uint64_t due_us, uint64_t wall_us) {
  if (page == NULL || due_us < passed_us + STEP_US) return due_us;
  uint64_t limit = due_us;
  for (int i = 0; i < EM_CLOCK_THREADS; i++) {
    uint64_t until = atomic_load(&page->until_us[i]);
    if (until < limit) limit = until;
  }
  if (limit < free_until_us) limit = free_until_us < due_us ? free_until_us : due_us;
  if (limit >= passed_us + STEP_US) {
    waits_since_us = 0;
    return limit;
  }
  if (waits_since_us == 0) waits_since_us = wall_us;
  if (wall_us - waits_since_us < PATIENCE_US) return passed_us;
  waits_since_us += STEP_US;
  return passed_us + STEP_US;
}

void em_clock_ahead(uint64_t us) {
  if (page != NULL) free_until_us = atomic_load(&page->now_us) + us;
}
