/* version.h: the firmware's version, as `hello` prints it behind fw=. */
#ifndef HS_MEGA_VERSION_H
#define HS_MEGA_VERSION_H

#define HS_FIRMWARE_VERSION "0.1.0"

#endif
