/* Does the core do what it should, whatever comes when? Runs it by a script, one byte a command:
 *
 *   B boot:u32 period_us:u16 ticks_per_us:u8 hello_every:u16 tells_skipped:u8   once, first
 *   D count:u16                   a sample is due
 *   A reading:u16 x channels      the converter has it
 *   E input:u8 tick:u16 count:u16 an input rose
 *   K                             a state was skipped
 *   N                             the main loop takes frames until there are none
 *   O                             the main loop takes one
 *   L                             the main loop takes one line
 *   R seed:u32 chance:u8          from here on D, A, E and K wait and run, in their order, as
 *                                 interrupts of the N, O and L that follow: at any branch of the
 *                                 core with chance in 256, up to 16 on end; those left over run
 *                                 when it is done
 *
 * The frames go out as they come. The same file runs on the host and on a 32-bit processor.
 */
#include "driver.h"

#include "board.h"

#define WAITING_MAX 4096

static struct sw_board board;
static uint8_t out[SW_FRAME_MAX];

static uint8_t waiting[WAITING_MAX]; /* interrupts that are to come, as they stand in the script */
static uint16_t waiting_end, waiting_at;
static uint32_t dice;
static uint8_t chance;
static bool interrupting, running;

static uint8_t byte(void) {
    int got = next_byte();
    return got < 0 ? 0 : (uint8_t)got;
}

static uint16_t word(void) {
    uint16_t low = byte();
    return (uint16_t)(low | byte() << 8);
}

static uint32_t twice(void) {
    uint32_t low = word();
    return low | (uint32_t)word() << 16;
}

static uint8_t arguments(int command) {
    switch (command) {
    case 'D': return 2;
    case 'A': return 2 * SW_CHANNELS;
    case 'E': return 5;
    default: return 0;
    }
}

static uint16_t at16(const uint8_t *bytes) { return (uint16_t)(bytes[0] | bytes[1] << 8); }

static void interrupt(const uint8_t *said) {
    struct sw_latches *l = &board.latches;
    switch (said[0]) {
    case 'D': sw_sample_due(l, at16(said + 1)); break;
    case 'A': {
        struct sw_sample *place = sw_sample_place(l);
        for (uint8_t channel = 0; channel < SW_CHANNELS; channel++)
            place->adc[channel] = at16(said + 1 + 2 * channel);
        sw_sample_done(l);
        break;
    }
    case 'E': sw_edge_rose(l, said[1], at16(said + 2), at16(said + 4)); break;
    case 'K': l->skips++; break;
    }
}

static bool one_interrupt(void) {
    if (waiting_at == waiting_end)
        return false;
    interrupt(waiting + waiting_at);
    waiting_at = (uint16_t)(waiting_at + 1 + arguments(waiting[waiting_at]));
    return true;
}

void interrupts_may_run(void) {
    if (!running || interrupting)
        return;
    dice = dice * 1664525u + 1013904223u; /* Numerical Recipes' quick generator */
    if ((uint8_t)(dice >> 24) >= chance)
        return;
    interrupting = true;
    for (uint8_t burst = dice >> 16 & 15; one_interrupt() && burst; burst--) {
    }
    interrupting = false;
}

static bool take(uint16_t (*next)(struct sw_board *, uint8_t *)) {
    running = chance != 0;
    uint16_t length = next(&board, out);
    running = false;
    emit(out, length);
    return length;
}

static void take_all(void) {
    while (take(sw_next_frame)) {
    }
}

static void rest_of_interrupts(void) {
    while (one_interrupt()) {
    }
    waiting_at = waiting_end = 0;
}

static void begin(void) {
    static const char hello[] = "{\"format\":1,\"device\":\"core\",\"counts_per_rev\":2400,"
                                "\"adc_bits\":16,\"adc\":[]";
    for (unsigned k = 0; k < sizeof board; k++) /* as the start of a program does */
        ((uint8_t *)&board)[k] = 0;
    chance = 0;
    waiting_at = waiting_end = 0;
    uint32_t boot = twice();
    struct sw_setup setup;
    setup.hello = hello;
    setup.period_us = word();
    setup.ticks_per_us = byte();
    setup.hello_every = word();
    setup.tells_skipped = byte();
    sw_begin(&board, &setup, boot);
}

int drive(void) {
    uint8_t said[1 + 2 * SW_CHANNELS + 5];
    for (int command; (command = next_byte()) >= 0;) {
        switch (command) {
        case 'B': begin(); break;
        case 'R': dice = twice(), chance = byte(); break;
        case 'N': take_all(), rest_of_interrupts(); break;
        case 'O': take(sw_next_frame), rest_of_interrupts(); break;
        case 'L': take(sw_next_line), rest_of_interrupts(); break;
        case 'D':
        case 'A':
        case 'E':
        case 'K':
            said[0] = (uint8_t)command;
            for (uint8_t k = 0; k < arguments(command); k++)
                said[1 + k] = byte();
            if (!chance) {
                interrupt(said);
                break;
            }
            if (waiting_end + sizeof said > WAITING_MAX)
                return 1;
            for (uint8_t k = 0; k <= arguments(command); k++)
                waiting[waiting_end++] = said[k];
            break;
        default: return 1;
        }
    }
    return 0;
}
