/* Apart from pty.c because the kernel's termios2, the only one that knows arbitrary rates, does not
 * go together with the C library's header. */
#include <asm/termbits.h>
#include <stdint.h>
#include <sys/ioctl.h>

uint32_t em_tty_rate(int master);

uint32_t em_tty_rate(int master) {
  struct termios2 settings;
  return ioctl(master, TCGETS2, &settings) == 0 ? settings.c_ospeed : 0;
}
