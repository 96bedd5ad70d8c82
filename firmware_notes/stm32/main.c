/* The port to a 32-bit STM32F103 at 72 MHz, with a crystal of 8 MHz.
 *
 *   PB6   encoder A        timer 4 counts       PA9  serial out, 3.3 V
 *   PB7   encoder B        timer 4 counts       PA0  sensor, through its divider
 *   PB8   encoder index    timer 4 latches the count at the edge
 *   PB9   mark input 1     timer 4 latches the count at the edge
 *   PB10  mark input 2     interrupt, rising    PA1  second sensor (SW_CHANNELS=2)
 *
 * The five inputs take 5 V. Timer 4 counts the quadrature by itself, so no speed that an engine
 * reaches can make it lose a count; nor does it see a skipped state, so none is told. Timer 2 is the
 * clock at 1 MHz, timer 3 starts the converter.
 */
#include "board.h"
#include "registers.h"

#ifndef COUNTS_PER_REV
#define COUNTS_PER_REV 2400
#endif
#ifndef BAUD
#define BAUD 115200UL
#endif
#ifndef RATE
#define RATE 1000UL /* samples a second */
#endif

#define CORE_HZ 72000000UL
#define TIMER_MHZ 72
#define PERIOD_US (1000000UL / RATE)
#define HELLO_S 2
#define FILTER 3u /* eight equal looks at 72 MHz: shorter spikes than 0.1 us are no edge */

_Static_assert(1000000UL % RATE == 0, "the wire format has whole microseconds between samples");
_Static_assert(RATE >= 100 && RATE <= 10000, "100 to 10,000 samples a second");

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
    "{\"format\":1,\"device\":\"reference board, STM32F103\",\"counts_per_rev\":" TEXT(COUNTS_PER_REV)
    ",\"adc_bits\":12,\"adc\":[" ADC_NAMES "],\"marks\":[\"mark 1\",\"mark 2\"]";

static struct sw_board board;

static uint16_t clock_now(void) { return (uint16_t)TIM_CNT(TIM2); }
static uint16_t count_now(void) { return (uint16_t)TIM_CNT(TIM4); }

void adc1(void);
void exti15_10(void);
void tim3(void);
void tim4(void);
void usart1(void);

/* Index and mark 1: the count is that of the edge itself, whatever ran then. Where two edges of one
 * input come before this runs, the count of the first is gone, and an edge is lost and told. */
void tim4(void) {
    uint16_t tick = clock_now();
    uint32_t status = TIM_SR(TIM4);
    if (status & TIM_CC3)
        sw_edge_rose(&board.latches, 0, tick, (uint16_t)TIM_CCR3(TIM4));
    if (status & TIM_CC4)
        sw_edge_rose(&board.latches, 1, tick, (uint16_t)TIM_CCR4(TIM4));
    if (status & (TIM_CC3_OVER | TIM_CC4_OVER)) {
        TIM_SR(TIM4) = ~(TIM_CC3_OVER | TIM_CC4_OVER);
        board.latches.edges_lost++;
    }
}

/* Mark 2. */
void exti15_10(void) {
    EXTI_PR = 1u << 10;
    sw_edge_rose(&board.latches, 2, clock_now(), count_now());
}

/* The converter has started already: timer 3 triggers it. */
void tim3(void) {
    TIM_SR(TIM3) = 0;
    sw_sample_due(&board.latches, count_now());
}

void adc1(void) {
    struct sw_sample *place = sw_sample_place(&board.latches);
#if SW_CHANNELS == 2
    static bool second;
    place->adc[second] = (uint16_t)ADC1_DR;
    second = !second;
    ADC1_SQR3 = second; /* the channel of the next conversion */
    if (second) {
        ADC1_CR2 = (ADC1_CR2 & ~(7u << 17)) | (7u << 17); /* by software */
        ADC1_CR2 |= 1u << 22;
        return;
    }
    ADC1_CR2 = (ADC1_CR2 & ~(7u << 17)) | ADC_CR2_EXTSEL_TIM3;
#else
    place->adc[0] = (uint16_t)ADC1_DR;
#endif
    sw_sample_done(&board.latches);
}

/* Two buffers: one goes out byte by byte while the main loop fills the other. */
static uint8_t frames[2][SW_FRAME_MAX];
static const uint8_t *volatile next_byte;
static volatile uint16_t bytes_left;

void usart1(void) {
    if (!bytes_left)
        return;
    USART1_DR = *next_byte;
    next_byte = next_byte + 1;
    bytes_left = (uint16_t)(bytes_left - 1);
    if (!bytes_left)
        USART1_CR1 &= ~USART_CR1_TXEIE;
}

static void send(const uint8_t *bytes, uint16_t length) {
    next_byte = bytes;
    bytes_left = length;
    sw_in_order();
    USART1_CR1 |= USART_CR1_TXEIE;
}

static void clock_at_72_mhz(void) {
    RCC_CR |= RCC_CR_HSEON;
    while (!(RCC_CR & RCC_CR_HSERDY)) {
    }
    FLASH_ACR = FLASH_ACR_2_WAITS_AND_PREFETCH;
    RCC_CFGR = RCC_CFGR_PLL_HSE_9 | RCC_CFGR_ADC_SIXTH | RCC_CFGR_PPRE1_HALF;
    RCC_CR |= RCC_CR_PLLON;
    while (!(RCC_CR & RCC_CR_PLLRDY)) {
    }
    RCC_CFGR |= RCC_CFGR_SW_PLL;
    while ((RCC_CFGR & (3u << 2)) != RCC_CFGR_SWS_PLL) {
    }
}

static void flash_wait(void) {
    while (FLASH_SR & FLASH_SR_BSY) {
    }
}

/* A number that differs from one start to the next: how many half words of the last page of the
 * flash are used up. When it is full it is erased, once in 512 starts. */
static uint32_t boot_number(void) {
    extern uint16_t boot_page[];
    volatile uint16_t *page = boot_page;
    uint32_t used = 0;
    while (used < 512 && page[used] != 0xFFFF)
        used++;
    FLASH_KEYR = FLASH_KEY_1;
    FLASH_KEYR = FLASH_KEY_2;
    if (used == 512) {
        FLASH_CR = FLASH_CR_PER;
        FLASH_AR = (uint32_t)page;
        FLASH_CR = FLASH_CR_PER | FLASH_CR_STRT;
        flash_wait();
        used = 0;
    }
    FLASH_CR = FLASH_CR_PG;
    page[used] = 0;
    flash_wait();
    FLASH_CR = FLASH_CR_LOCK;
    return used + 1;
}

static void pins(void) {
    RCC_APB2ENR |= RCC_APB2_AFIO | RCC_APB2_GPIOA | RCC_APB2_GPIOB | RCC_APB2_ADC1 | RCC_APB2_USART1;
    RCC_APB1ENR |= RCC_APB1_TIM2 | RCC_APB1_TIM3 | RCC_APB1_TIM4;
    GPIOA_CRL = 0x44444400;                          /* PA0, PA1 analogue */
    GPIOA_CRH = (GPIOA_CRH & ~0xF0u) | 0xB0u;        /* PA9 driven by the serial port, 50 MHz */
    GPIOB_CRL = (GPIOB_CRL & ~0xFF000000u) | 0x88000000u; /* PB6, PB7 inputs, pulled up */
    GPIOB_CRH = (GPIOB_CRH & ~0xFFFu) | 0x888u;      /* PB8, PB9, PB10 the same */
    GPIOB_ODR |= 0x7C0u;
    AFIO_EXTICR3 = (AFIO_EXTICR3 & ~0xF00u) | 0x100u; /* line 10 from port B */
    EXTI_RTSR |= 1u << 10;
    EXTI_IMR |= 1u << 10;
}

static void timers(void) {
    TIM_SMCR(TIM4) = TIM_SMCR_ENCODER_BOTH;
    TIM_CCMR1(TIM4) = 0x0101u | FILTER << 4 | FILTER << 12; /* A, B on inputs 1, 2 */
    TIM_CCMR2(TIM4) = 0x0101u | FILTER << 4 | FILTER << 12; /* index, mark 1 on inputs 3, 4 */
    TIM_CCER(TIM4) = TIM_CCER_CC3E | TIM_CCER_CC4E;
    TIM_ARR(TIM4) = 0xFFFF;
    TIM_DIER(TIM4) = TIM_CC3 | TIM_CC4;
    TIM_CR1(TIM4) = TIM_CR1_CEN;

    TIM_PSC(TIM2) = TIMER_MHZ - 1;
    TIM_ARR(TIM2) = 0xFFFF;
    TIM_EGR(TIM2) = 1; /* takes the divider over */

    TIM_PSC(TIM3) = TIMER_MHZ - 1;
    TIM_ARR(TIM3) = PERIOD_US - 1;
    TIM_CR2(TIM3) = TIM_CR2_TRGO_UPDATE;
    TIM_EGR(TIM3) = 1;
    TIM_SR(TIM3) = 0;
    TIM_DIER(TIM3) = TIM_DIER_UIE;
}

static void converter(void) {
    ADC1_CR2 = ADC_CR2_ADON;
    for (volatile uint32_t k = 0; k < 1000; k++) { /* it takes a microsecond to come up */
    }
    ADC1_CR2 |= ADC_CR2_RSTCAL;
    while (ADC1_CR2 & ADC_CR2_RSTCAL) {
    }
    ADC1_CR2 |= ADC_CR2_CAL;
    while (ADC1_CR2 & ADC_CR2_CAL) {
    }
    ADC1_SMPR2 = 5u | 5u << 3; /* 55.5 cycles at 12 MHz: 4.6 us, enough behind 10 kOhm */
    ADC1_SQR1 = 0;
    ADC1_SQR3 = 0;
    ADC1_CR1 = ADC_CR1_EOCIE;
    ADC1_CR2 = ADC_CR2_ADON | ADC_CR2_EXTTRIG | ADC_CR2_EXTSEL_TIM3;
}

static void begin(void) {
    static const struct sw_setup setup = {
        .hello = hello,
        .period_us = PERIOD_US,
        .ticks_per_us = 1,
        .hello_every = HELLO_S * RATE,
        .tells_skipped = false,
    };
    clock_at_72_mhz();
    sw_begin(&board, &setup, boot_number());
    pins();
    USART1_BRR = (CORE_HZ + BAUD / 2) / BAUD;
    USART1_CR1 = USART_CR1_UE | USART_CR1_TE;
    converter();
    timers();
    NVIC_ISER0 = 1u << IRQ_ADC1 | 1u << IRQ_TIM3 | 1u << IRQ_TIM4;
    NVIC_ISER1 = 1u << (IRQ_USART1 - 32) | 1u << (IRQ_EXTI15_10 - 32);
    TIM_CR1(TIM2) = TIM_CR1_CEN; /* clock and samples from one moment on */
    TIM_CR1(TIM3) = TIM_CR1_CEN;
}

int main(void) {
    uint8_t filling = 0;
    uint16_t length = 0;
    begin();
    for (;;) {
        if (!length)
#ifdef SW_LINES
            length = sw_next_line(&board, frames[filling]);
#else
            length = sw_next_frame(&board, frames[filling]);
#endif
        if (length && !bytes_left) {
            send(frames[filling], length);
            filling ^= 1;
            length = 0;
        }
    }
}
