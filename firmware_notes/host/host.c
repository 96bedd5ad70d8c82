/* The core on this machine: scripts from standard input, frames to standard output.
 *
 * Each script comes with its length in front, uint32, and so does what the core sends for it. So one
 * process tries any number of scripts.
 */
#include <stdio.h>

#include "driver.h"

static uint8_t sent[1 << 20];
static uint32_t script_left, sent_length;

int next_byte(void) {
    if (!script_left)
        return -1;
    script_left--;
    return getchar();
}

void emit(const uint8_t *bytes, uint16_t length) {
    for (uint16_t k = 0; k < length && sent_length < sizeof sent; k++)
        sent[sent_length++] = bytes[k];
}

/* What the compiler calls at every branch of the core. */
void __sanitizer_cov_trace_pc(void);
void __sanitizer_cov_trace_pc(void) { interrupts_may_run(); }

int main(void) {
    while (fread(&script_left, sizeof script_left, 1, stdin) == 1) {
        sent_length = 0;
        if (drive())
            return 1;
        fwrite(&sent_length, sizeof sent_length, 1, stdout);
        fwrite(sent, 1, sent_length, stdout);
        fflush(stdout);
    }
    return 0;
}
