/* The core on a Cortex-M3 under qemu: script.bin and frames.bin in the folder it is started in.
 *
 * It reaches them by semihosting: the processor stops at a breakpoint and the host does the rest.
 * ("Semihosting for AArch32 and AArch64", Arm.) qemu loads all of RAM, so nothing is copied first.
 */
#include <stdint.h>

#include "driver.h"

enum { OPEN = 0x01, CLOSE = 0x02, WRITE = 0x05, READ = 0x06, EXIT = 0x18 };
enum { READ_BINARY = 1, WRITE_BINARY = 5, ENDED_WELL = 0x20026, ENDED_BADLY = 0x20023 };

static uint32_t call(uint32_t what, const void *block) {
    register uint32_t r0 __asm__("r0") = what;
    register const void *r1 __asm__("r1") = block;
    __asm__ volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

static uint32_t open_file(const char *name, uint32_t length, uint32_t mode) {
    uint32_t block[3] = {(uint32_t)name, mode, length};
    return call(OPEN, block);
}

static uint32_t script, frames;
static uint8_t buffer[512];
static uint32_t left, at;

int next_byte(void) {
    if (at == left) {
        uint32_t block[3] = {script, (uint32_t)buffer, sizeof buffer};
        left = sizeof buffer - call(READ, block); /* it returns what it did not read */
        at = 0;
        if (!left)
            return -1;
    }
    return buffer[at++];
}

void emit(const uint8_t *bytes, uint16_t length) {
    uint32_t block[3] = {frames, (uint32_t)bytes, length};
    if (length)
        call(WRITE, block);
}

/* What gcc may call on its own, even without a library. */
void *memset(void *to, int value, unsigned length) {
    for (volatile uint8_t *byte = to; length; length--)
        *byte++ = (uint8_t)value;
    return to;
}

void *memcpy(void *to, const void *from, unsigned length) {
    const uint8_t *read = from;
    for (volatile uint8_t *byte = to; length; length--)
        *byte++ = *read++;
    return to;
}

void start(void);
void start(void) {
    script = open_file("script.bin", 10, READ_BINARY);
    frames = open_file("frames.bin", 10, WRITE_BINARY);
    int code = drive();
    call(CLOSE, &frames);
    call(EXIT, (const void *)(code ? ENDED_BADLY : ENDED_WELL));
    for (;;) {
    }
}

extern uint32_t top_of_stack;
__attribute__((section(".vectors"), used)) static const void *const vectors[2] = {&top_of_stack, start};
