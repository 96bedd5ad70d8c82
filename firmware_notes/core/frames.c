/* Which bytes is the next frame? COBS between zeros, closed by CRC-16/IBM-3740: wire-format.md. */
#include "board.h"

/* A hole of 255 would look like a frame sent twice, one of 256 like none. */
#define HOLE_MAX 254u

struct writer {
    uint8_t *out;
    uint16_t at, code_at, crc;
    uint8_t code;
};

static void stuff(struct writer *w, uint8_t byte) {
    if (w->code == 0xFF) { /* 254 bytes without a zero: close the group */
        w->out[w->code_at] = 0xFF;
        w->code_at = w->at++;
        w->code = 1;
    }
    if (byte) {
        w->out[w->at++] = byte;
        w->code++;
    } else {
        w->out[w->code_at] = w->code;
        w->code_at = w->at++;
        w->code = 1;
    }
}

/* Polynomial 0x1021 without a table: eight shifts folded into four exclusive ors. */
static uint16_t crc_after(uint16_t crc, uint8_t byte) {
    crc = (uint16_t)((crc >> 8) | (crc << 8));
    crc ^= byte;
    crc ^= (uint8_t)(crc & 0xFF) >> 4;
    crc ^= (uint16_t)(crc << 12);
    crc ^= (uint16_t)((crc & 0xFF) << 5);
    return crc;
}

static void put(struct writer *w, uint8_t byte) {
    w->crc = crc_after(w->crc, byte);
    stuff(w, byte);
}

static void put16(struct writer *w, uint16_t value) {
    put(w, (uint8_t)value);
    put(w, (uint8_t)(value >> 8));
}

static void put32(struct writer *w, uint32_t value) {
    put16(w, (uint16_t)value);
    put16(w, (uint16_t)(value >> 16));
}

static void open(struct writer *w, struct sw_board *board, uint8_t type) {
    board->sequence = (uint8_t)(board->sequence + board->hole);
    board->hole = 0;
    w->code_at = w->at++;
    w->code = 1;
    w->crc = 0xFFFF;
    put(w, type);
    put(w, board->sequence++);
}

static uint16_t close(struct writer *w) {
    uint16_t crc = w->crc;
    stuff(w, (uint8_t)crc);
    stuff(w, (uint8_t)(crc >> 8));
    w->out[w->code_at] = w->code;
    w->out[w->at++] = 0;
    return w->at;
}

static void put_text(struct writer *w, SW_TEXT char *text) {
    for (char letter; (letter = *text); text++)
        put(w, (uint8_t)letter);
}

static void put_decimal(struct writer *w, uint32_t value) {
    uint8_t digits[10], n = 0;
    do {
        digits[n++] = (uint8_t)('0' + value % 10);
        value /= 10;
    } while (value);
    while (n)
        put(w, digits[--n]);
}

static SW_TEXT char boot_key[] = ",\"boot\":";
static SW_TEXT char skipped_key[] = ",\"skipped\":";

static void put_hello(struct writer *w, struct sw_board *board) {
    if (!board->spoke)
        w->out[w->at++] = 0; /* ends the half frame that the last start left on the line */
    board->spoke = true;
    open(w, board, 'H');
    put_text(w, board->setup.hello);
    put_text(w, boot_key);
    put_decimal(w, board->boot);
    if (board->setup.tells_skipped) {
        put_text(w, skipped_key);
        put_decimal(w, board->skipped);
    }
    put(w, '}');
}

static void put_event(struct writer *w, struct sw_board *board, const struct sw_event *event) {
    open(w, board, 'E');
    put32(w, event->t_us);
    put32(w, event->count);
    put(w, event->input);
}

/* Let the numbers of what was left out pass before the next frame, so that the reader counts it. */
static void leave_out(struct sw_board *board, uint32_t frames) {
    board->hole = frames < HOLE_MAX - board->hole ? (uint8_t)(board->hole + frames) : HOLE_MAX;
}

/* How many of the waiting samples follow each other without a hole, from the first on. */
static uint8_t run_length(const struct sw_board *board, uint8_t waiting) {
    uint8_t run = 1;
    uint16_t number = sw_waiting(board, 0)->number;
    while (run < waiting && run < SW_BLOCK && sw_waiting(board, run)->number == ++number)
        run++;
    return run;
}

static void put_block(struct writer *w, struct sw_board *board, uint8_t run) {
    const struct sw_sample *sample = sw_waiting(board, 0);
    uint32_t number = sw_near(board->number, sample->number);
    uint16_t count = sample->count;
    leave_out(board, (number - board->number - 1 + SW_BLOCK - 1) / SW_BLOCK);
    open(w, board, 'S');
    put32(w, number * board->setup.period_us);
    put32(w, sw_near(board->count, count));
    put16(w, board->setup.period_us);
    put(w, run);
    put(w, SW_CHANNELS);
    for (uint8_t k = 0; k < run; k++) {
        sample = sw_waiting(board, k);
        put16(w, (uint16_t)(sample->count - count));
        count = sample->count;
        for (uint8_t channel = 0; channel < SW_CHANNELS; channel++)
            put16(w, sample->adc[channel]);
    }
    sw_samples_taken(board, run);
}

uint16_t sw_next_frame(struct sw_board *board, uint8_t *out) {
    struct writer w = {.out = out};
    struct sw_event event;
    if (sw_hello_due(board)) {
        put_hello(&w, board);
        return close(&w);
    }
    uint8_t lost = board->latches.edges_lost;
    leave_out(board, (uint8_t)(lost - board->edges_lost_told));
    board->edges_lost_told = lost;
    if (sw_take_edge(board, &event)) {
        put_event(&w, board, &event);
        return close(&w);
    }
    uint8_t waiting = sw_samples_waiting(board);
    uint8_t run = waiting ? run_length(board, waiting) : 0;
    if (run == SW_BLOCK || run < waiting) {
        put_block(&w, board, run);
        return close(&w);
    }
    return 0;
}
