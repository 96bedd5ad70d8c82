/* What does the board send next? The core of every port, free of any hardware.
 *
 * The port calls the functions of latch.h from its interrupts and sw_next_frame (or sw_next_line)
 * from its main loop, and sends what it gets. The bytes are those of wire-format.md.
 */
#ifndef SW_BOARD_H
#define SW_BOARD_H

#include "latch.h"

#ifndef SW_BLOCK
#define SW_BLOCK 16 /* samples of a full block, 1 to 64 */
#endif
#ifndef SW_HELLO_MAX
#define SW_HELLO_MAX 240 /* characters of a hello, all told */
#endif
#ifndef SW_TEXT
#define SW_TEXT const /* how fixed text is kept: an 8-bit port says const __flash */
#endif

_Static_assert(SW_BLOCK >= 1 && SW_BLOCK <= 64, "a block holds 1 to 64 samples");
_Static_assert(SW_BLOCK < SW_SAMPLES, "a block must be able to fill while another one fills");

#define SW_BLOCK_BYTES (14 + SW_BLOCK * (2 + 2 * SW_CHANNELS))
#define SW_PAYLOAD_MAX (SW_BLOCK_BYTES > SW_HELLO_MAX + 2 ? SW_BLOCK_BYTES : SW_HELLO_MAX + 2)
/* Zero in front of the first, checksum, one stuffing byte for each 254, and the zero behind. */
#define SW_FRAME_MAX (1 + SW_PAYLOAD_MAX + 2 + (SW_PAYLOAD_MAX + 2) / 254 + 1 + 1)

struct sw_setup {
    SW_TEXT char *hello;   /* the JSON object, without its boot and its closing brace */
    uint16_t period_us;    /* from sample to sample */
    uint8_t ticks_per_us;  /* of the clock that latches edges: 1, 2, 4 or 8 */
    uint16_t hello_every;  /* samples from one hello to the next */
    bool tells_skipped;    /* whether the port sees skipped states */
};

struct sw_board {
    struct sw_latches latches;
    struct sw_setup setup;
    uint32_t boot;
    uint32_t number;  /* of the last sample taken from the queue */
    uint32_t count;   /* at that sample, as the int32 of the wire */
    uint32_t hello_at;
    uint32_t skipped; /* states skipped since the start */
    uint8_t skips_told, edges_lost_told, sequence;
    uint8_t hole; /* frames left out since the last one sent */
    bool greeted, spoke, news;
};

/* Call once, before the interrupts. The struct must be zero, as static storage is. */
void sw_begin(struct sw_board *board, const struct sw_setup *setup, uint32_t boot);

/* Fill out (SW_FRAME_MAX bytes) with the next frame, if any; returns its length, 0 for none yet. */
uint16_t sw_next_frame(struct sw_board *board, uint8_t *out);

/* The same as plain lines with a checksum, one sample each, for the simplest host. */
uint16_t sw_next_line(struct sw_board *board, uint8_t *out);

/* The parts that both share. */
struct sw_event {
    uint32_t t_us, count;
    uint8_t input;
};

bool sw_hello_due(struct sw_board *board);
bool sw_take_edge(struct sw_board *board, struct sw_event *event);
uint8_t sw_samples_waiting(const struct sw_board *board);
const struct sw_sample *sw_waiting(const struct sw_board *board, uint8_t place);
uint32_t sw_near(uint32_t known, uint16_t low);
void sw_samples_taken(struct sw_board *board, uint8_t taken);

#endif
