/* The port to an 8-bit ATmega328P at 16 MHz.
 *
 *   PD2  encoder A         INT0, any edge         PD1  serial out
 *   PD3  encoder B         INT1, any edge         PC0  sensor, ADC0
 *   PB0  encoder index     ICP1, latched by hardware, rising
 *   PB1  mark input 1      PCINT1, rising         PC1  second sensor, ADC1 (SW_CHANNELS=2)
 *   PB2  mark input 2      PCINT2, rising
 *
 * Timer 1 runs at 2 MHz and is the only clock: its compare B starts the converter by itself, so
 * that samples are even to the tick, however busy the processor is.
 */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "board.h"
#include "quadrature.h"

#ifndef COUNTS_PER_REV
#define COUNTS_PER_REV 2400
#endif
#ifndef BAUD
#define BAUD 115200UL
#endif
#ifndef RATE
#define RATE 1000UL /* samples a second */
#endif

#define TICKS_PER_US 2
#define PERIOD_TICKS (F_CPU / 8 / RATE)
#define DIVIDER ((F_CPU + 4 * BAUD) / (8 * BAUD) - 1)
#define HELLO_S 2

_Static_assert(F_CPU / 8 == TICKS_PER_US * 1000000UL, "timer 1 must run at 2 MHz");
_Static_assert(1000000UL % RATE == 0, "the wire format has whole microseconds between samples");
_Static_assert(RATE >= 100 && RATE <= 4000, "100 to 4,000 samples a second");
/* 13.5 cycles of the converter's clock of 125 kHz, and the interrupt that starts the next. */
_Static_assert(SW_CHANNELS * 125UL <= 1000000UL / RATE, "the converter cannot keep up");

#define TEXT_OF(number) #number
#define TEXT(number) TEXT_OF(number)
#if SW_CHANNELS == 1
#define ADC_NAMES "\"pressure\""
#elif SW_CHANNELS == 2
#define ADC_NAMES "\"pressure\",\"second\""
#else
#error "this port has one or two channels"
#endif

static SW_TEXT char hello[] =
    "{\"format\":1,\"device\":\"reference board, ATmega328P\",\"counts_per_rev\":" TEXT(COUNTS_PER_REV)
    ",\"adc_bits\":10,\"adc\":[" ADC_NAMES "],\"marks\":[\"mark 1\",\"mark 2\"]";

static struct sw_board board;
static volatile uint16_t count;

/* A and B on one port, so that both are read at one moment. What they were is kept in a register
 * that takes one cycle to reach. */
#define LEVELS() ((uint8_t)(PIND >> PD2 & 3))
#define BEFORE GPIOR0 /* the last levels, shifted left by two */

ISR(INT0_vect) {
    uint8_t now = LEVELS();
    int8_t step = sw_steps[BEFORE | now];
    BEFORE = (uint8_t)(now << 2);
    if (step == SW_SKIPPED)
        board.latches.skips++;
    else
        count = (uint16_t)(count + (uint16_t)step);
}
ISR(INT1_vect, ISR_ALIASOF(INT0_vect));

/* The index: its time is that at which the hardware saw it, whatever ran then. */
ISR(TIMER1_CAPT_vect) { sw_edge_rose(&board.latches, 0, ICR1, count); }

#define MARK_PINS (_BV(PB1) | _BV(PB2))

static uint8_t marks_before;

ISR(PCINT0_vect) {
    uint16_t tick = TCNT1;
    uint8_t now = PINB & MARK_PINS;
    uint8_t rose = (uint8_t)(now & ~marks_before);
    marks_before = now;
    if (rose & _BV(PB1))
        sw_edge_rose(&board.latches, 1, tick, count);
    if (rose & _BV(PB2))
        sw_edge_rose(&board.latches, 2, tick, count);
}

/* The converter has started already: compare B triggers it. */
ISR(TIMER1_COMPB_vect) {
    OCR1B = (uint16_t)(OCR1B + PERIOD_TICKS);
    sw_sample_due(&board.latches, count);
}

ISR(ADC_vect) {
    struct sw_sample *place = sw_sample_place(&board.latches);
#if SW_CHANNELS == 2
    if (!(ADMUX & _BV(MUX0))) {
        place->adc[0] = ADC;
        ADMUX |= _BV(MUX0);
        ADCSRA |= _BV(ADSC);
        return;
    }
    place->adc[1] = ADC;
    ADMUX &= (uint8_t)~_BV(MUX0);
#else
    place->adc[0] = ADC;
#endif
    sw_sample_done(&board.latches);
}

/* Two buffers: one goes out byte by byte while the main loop fills the other. */
static uint8_t frames[2][SW_FRAME_MAX];
static const uint8_t *next_byte;
static uint16_t bytes_left;

ISR(USART_UDRE_vect) {
    UDR0 = *next_byte++;
    if (!--bytes_left)
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
}

static bool line_is_free(void) { return !(UCSR0B & _BV(UDRIE0)); }

static void send(const uint8_t *bytes, uint16_t length) {
    next_byte = bytes;
    bytes_left = length;
    sw_in_order();
    UCSR0B |= _BV(UDRIE0);
}

/* A number that differs from one start to the next: a count of starts in the EEPROM. */
static uint32_t boot_number(void) {
    uint32_t *kept = (uint32_t *)(E2END + 1 - sizeof(uint32_t));
    uint32_t boot = eeprom_read_dword(kept) + 1;
    eeprom_update_dword(kept, boot);
    return boot;
}

static void start(void) {
    static const struct sw_setup setup = {
        .hello = hello,
        .period_us = 1000000UL / RATE,
        .ticks_per_us = TICKS_PER_US,
        .hello_every = HELLO_S * RATE,
        .tells_skipped = true,
    };
    sw_begin(&board, &setup, boot_number());

    PORTD |= _BV(PD2) | _BV(PD3); /* weak pull-ups: they hold an open pin still, no more */
    PORTB |= _BV(PB0) | MARK_PINS;
    DIDR0 = _BV(ADC0D) | _BV(ADC1D);

    UBRR0 = DIVIDER;
    UCSR0A = _BV(U2X0);
    UBRR0 = DIVIDER; /* again: a simulator takes it with U2X in place */
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(TXEN0);

    BEFORE = (uint8_t)(LEVELS() << 2);
    EICRA = _BV(ISC10) | _BV(ISC00);
    EIMSK = _BV(INT1) | _BV(INT0);

    marks_before = PINB & MARK_PINS;
    PCMSK0 = MARK_PINS;
    PCICR = _BV(PCIE0);

    ADMUX = _BV(REFS0); /* the supply is the reference: a ratiometric sensor then needs no other */
    ADCSRB = _BV(ADTS2) | _BV(ADTS0); /* started by compare B */
    ADCSRA = _BV(ADEN) | _BV(ADATE) | _BV(ADIE) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);

    OCR1B = PERIOD_TICKS;
    TCCR1B = _BV(ICNC1) | _BV(ICES1); /* rising index, four equal looks against spikes */
    TCNT1 = 0;
    TIFR1 = _BV(ICF1) | _BV(OCF1B);
    TIMSK1 = _BV(ICIE1) | _BV(OCIE1B);
    TCCR1B |= _BV(CS11);
    set_sleep_mode(SLEEP_MODE_IDLE);
    sei();
}

int main(void) {
    uint8_t filling = 0;
    uint16_t length = 0;
    start();
    for (;;) {
        if (!length)
#ifdef SW_LINES
            length = sw_next_line(&board, frames[filling]);
#else
            length = sw_next_frame(&board, frames[filling]);
#endif
        if (length && line_is_free()) {
            send(frames[filling], length);
            filling ^= 1;
            length = 0;
        } else {
            sleep_mode(); /* the next interrupt, a sample's at the latest, wakes it */
        }
    }
}
