/* Where does the script come from, and where do the frames go? Differs from machine to machine. */
#ifndef SW_DRIVER_H
#define SW_DRIVER_H

#include <stdint.h>

int next_byte(void); /* of the script, or -1 at its end */
void emit(const uint8_t *bytes, uint16_t length);

int drive(void); /* the script, from its first byte to its last; 0 when all of it made sense */

/* Called at every branch of the core where the compiler was told to; see the Makefile. */
void interrupts_may_run(void);

#endif
