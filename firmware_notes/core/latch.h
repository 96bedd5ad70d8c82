/* What do the interrupts put down, and how does the main loop fetch it?
 *
 * An interrupt only latches: sixteen bits of count, sixteen bits of clock, a reading. It never waits,
 * never loops and never does arithmetic on 32 bits. Whatever it cannot put down it leaves out, in a
 * way that the main loop can tell: a hole in the numbers of the samples, or edges_lost.
 *
 * Interrupts must not interrupt each other. Each queue then has one writer (the interrupts) and one
 * reader (the main loop), and its two places are single bytes that only one side writes, so nothing
 * has to be locked, on any processor with one core.
 */
#ifndef SW_LATCH_H
#define SW_LATCH_H

/* Inside an interrupt a call costs more than it saves. */
#define SW_INLINE static inline __attribute__((always_inline))

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#ifndef SW_CHANNELS
#define SW_CHANNELS 1 /* readings of each sample, 1 to 4 */
#endif
#ifndef SW_SAMPLES
#define SW_SAMPLES 64 /* places for samples: a power of two up to 128 */
#endif
#ifndef SW_EDGES
#define SW_EDGES 16 /* places for edges: a power of two up to 128 */
#endif

_Static_assert(SW_CHANNELS >= 1 && SW_CHANNELS <= 4, "a sample has 1 to 4 readings");
_Static_assert(SW_SAMPLES <= 128 && (SW_SAMPLES & (SW_SAMPLES - 1)) == 0, "a power of two to 128");
_Static_assert(SW_EDGES <= 128 && (SW_EDGES & (SW_EDGES - 1)) == 0, "a power of two to 128");

struct sw_sample {
    uint16_t number; /* of the sample, from 1, low sixteen bits */
    uint16_t count;  /* low sixteen bits */
    uint16_t adc[SW_CHANNELS];
};

struct sw_edge {
    uint16_t number; /* of the newest sample at the time */
    uint16_t tick;   /* of the port's clock */
    uint16_t count;
    uint8_t input; /* 0: the encoder's index; 1, 2, ...: mark inputs */
};

struct sw_latches {
    /* the interrupts' own */
    uint16_t number;
    uint16_t held_number, held_count;
    bool held;
    /* written by the interrupts, read by the main loop */
    volatile uint8_t samples_in, edges_in, edges_lost, skips;
    /* written by the main loop, read by the interrupts */
    volatile uint8_t samples_out, edges_out;
    struct sw_sample samples[SW_SAMPLES];
    struct sw_edge edges[SW_EDGES];
};

/* Keep the order of what stands before and behind: the compiler must not move it across. */
SW_INLINE void sw_in_order(void) { atomic_signal_fence(memory_order_acq_rel); }

/* From the sample timer's interrupt, as the converter starts. */
SW_INLINE void sw_sample_due(struct sw_latches *l, uint16_t count) {
    l->number++;
    if (l->held)
        return; /* the converter is still at the sample before: this one is left out */
    l->held = true;
    l->held_number = l->number;
    l->held_count = count;
}

/* Where the reading of a channel goes, from the converter's interrupt, or a place to lose it. */
SW_INLINE struct sw_sample *sw_sample_place(struct sw_latches *l) {
    return &l->samples[l->samples_in % SW_SAMPLES];
}

/* From the converter's interrupt, once every reading is in sw_sample_place.
 * One place always stays free, so that the readings have one to go to. */
SW_INLINE void sw_sample_done(struct sw_latches *l) {
    if (!l->held)
        return;
    l->held = false;
    uint8_t in = l->samples_in;
    if ((uint8_t)(in - l->samples_out) >= SW_SAMPLES - 1)
        return; /* full: the number is missing from now on */
    l->samples[in % SW_SAMPLES].number = l->held_number;
    l->samples[in % SW_SAMPLES].count = l->held_count;
    sw_in_order();
    l->samples_in = (uint8_t)(in + 1);
}

/* From the interrupt of the index or a mark input, for its rising edge. */
SW_INLINE void sw_edge_rose(struct sw_latches *l, uint8_t input, uint16_t tick, uint16_t count) {
    uint8_t in = l->edges_in;
    if ((uint8_t)(in - l->edges_out) >= SW_EDGES) {
        l->edges_lost++;
        return;
    }
    struct sw_edge *edge = &l->edges[in % SW_EDGES];
    edge->number = l->number;
    edge->tick = tick;
    edge->count = count;
    edge->input = input;
    sw_in_order();
    l->edges_in = (uint8_t)(in + 1);
}

#endif
