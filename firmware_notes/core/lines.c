/* Which plain line comes next? For the simplest host: one message a line, *HH its checksum. */
#include "board.h"

struct line {
    uint8_t *out;
    uint16_t at;
    uint8_t sum;
};

static void put(struct line *l, char letter) {
    l->sum ^= (uint8_t)letter;
    l->out[l->at++] = (uint8_t)letter;
}

static void put_text(struct line *l, SW_TEXT char *text) {
    for (char letter; (letter = *text); text++)
        put(l, letter);
}

static void put_decimal(struct line *l, uint32_t value) {
    char digits[10];
    uint8_t n = 0;
    do {
        digits[n++] = (char)('0' + value % 10);
        value /= 10;
    } while (value);
    while (n)
        put(l, digits[--n]);
}

static void put_count(struct line *l, uint32_t count) {
    if (count >> 31)
        put(l, '-');
    put_decimal(l, count >> 31 ? 0u - count : count);
}

static char hex(uint8_t nibble) { return (char)(nibble < 10 ? '0' + nibble : 'A' + nibble - 10); }

static uint16_t close(struct line *l) {
    uint8_t sum = l->sum;
    put(l, '*');
    put(l, hex(sum >> 4));
    put(l, hex(sum & 15));
    put(l, '\n');
    return l->at;
}

static void begin(struct line *l, char type) {
    put(l, type);
    put(l, ',');
}

static SW_TEXT char boot_key[] = ",\"boot\":";
static SW_TEXT char skipped_key[] = ",\"skipped\":";

static void put_hello(struct line *l, struct sw_board *board) {
    begin(l, 'H');
    put_text(l, board->setup.hello);
    put_text(l, boot_key);
    put_decimal(l, board->boot);
    if (board->setup.tells_skipped) {
        put_text(l, skipped_key);
        put_decimal(l, board->skipped);
    }
    put(l, '}');
}

static void put_sample(struct line *l, struct sw_board *board) {
    const struct sw_sample *sample = sw_waiting(board, 0);
    begin(l, 'S');
    put_decimal(l, sw_near(board->number, sample->number) * board->setup.period_us);
    put(l, ',');
    put_count(l, sw_near(board->count, sample->count));
    for (uint8_t channel = 0; channel < SW_CHANNELS; channel++) {
        put(l, ',');
        put_decimal(l, sample->adc[channel]);
    }
    sw_samples_taken(board, 1);
}

uint16_t sw_next_line(struct sw_board *board, uint8_t *out) {
    struct line l = {.out = out};
    struct sw_event event;
    if (sw_hello_due(board)) {
        if (!board->spoke)
            l.out[l.at++] = '\n'; /* ends the half line that the last start left */
        board->spoke = true;
        put_hello(&l, board);
    } else if (sw_take_edge(board, &event)) {
        begin(&l, 'E');
        put_decimal(&l, event.t_us);
        put(&l, ',');
        put_count(&l, event.count);
        put(&l, ',');
        put_decimal(&l, event.input);
    } else if (sw_samples_waiting(board)) {
        put_sample(&l, board);
    } else {
        return 0;
    }
    return close(&l);
}
