/* When did it happen, and where did the count stand? Sixteen latched bits to 32, and what is due. */
#include "board.h"

#define TICKS 65536u

void sw_begin(struct sw_board *board, const struct sw_setup *setup, uint32_t boot) {
    board->setup = *setup;
    board->boot = boot;
}

/* The 32-bit number nearest to a known one that ends in these sixteen bits. */
uint32_t sw_near(uint32_t known, uint16_t low) {
    uint16_t ahead = (uint16_t)(low - (uint16_t)known);
    return ahead < 0x8000u ? known + ahead : known - (uint16_t)(0u - ahead);
}

/* A hello is due at the start, at its pace, and soon after a state was skipped. */
bool sw_hello_due(struct sw_board *board) {
    if (board->setup.tells_skipped) {
        uint8_t skips = board->latches.skips;
        uint8_t more = (uint8_t)(skips - board->skips_told);
        board->skips_told = skips;
        board->skipped += more;
        board->news = board->news || more;
    }
    uint32_t since = board->number - board->hello_at;
    uint16_t every = board->news ? board->setup.hello_every / 8 : board->setup.hello_every;
    if (board->greeted && since < every)
        return false;
    board->greeted = true;
    board->news = false;
    board->hello_at = board->number;
    return true;
}

bool sw_take_edge(struct sw_board *board, struct sw_event *event) {
    struct sw_latches *l = &board->latches;
    uint8_t out = l->edges_out;
    if (out == l->edges_in)
        return false;
    sw_in_order();
    const struct sw_edge *edge = &l->edges[out % SW_EDGES];
    uint32_t number = sw_near(board->number, edge->number);
    uint8_t per_us = board->setup.ticks_per_us;
    uint16_t sampled = (uint16_t)(number * ((uint32_t)board->setup.period_us * per_us));
    /* The edge may have been latched a little before the sample that was counted first. */
    uint32_t since = sw_near(TICKS, (uint16_t)(edge->tick - sampled));
    event->t_us = number * board->setup.period_us + since / per_us - TICKS / per_us;
    event->count = sw_near(board->count, edge->count);
    event->input = edge->input;
    sw_in_order();
    l->edges_out = (uint8_t)(out + 1);
    return true;
}

uint8_t sw_samples_waiting(const struct sw_board *board) {
    uint8_t waiting = (uint8_t)(board->latches.samples_in - board->latches.samples_out);
    sw_in_order();
    return waiting;
}

const struct sw_sample *sw_waiting(const struct sw_board *board, uint8_t place) {
    return &board->latches.samples[(uint8_t)(board->latches.samples_out + place) % SW_SAMPLES];
}

/* Remember where the last of them stood, then give their places back. */
void sw_samples_taken(struct sw_board *board, uint8_t taken) {
    for (uint8_t k = 0; k < taken; k++) { /* each from the one before: sixteen bits tell no more */
        const struct sw_sample *sample = sw_waiting(board, k);
        board->number = sw_near(board->number, sample->number);
        board->count = sw_near(board->count, sample->count);
    }
    sw_in_order();
    board->latches.samples_out = (uint8_t)(board->latches.samples_out + taken);
}
