/* What happens between the reset and main, and which interrupt goes where? */
#include <stdint.h>

#include "registers.h"

extern uint32_t data_begin, data_end, data_kept, bss_begin, bss_end, top_of_stack;

int main(void);
void start(void);
void adc1(void);
void exti15_10(void);
void tim3(void);
void tim4(void);
void usart1(void);

void start(void) {
    const uint32_t *from = &data_kept;
    for (volatile uint32_t *to = &data_begin; to < &data_end;)
        *to++ = *from++;
    for (volatile uint32_t *to = &bss_begin; to < &bss_end;)
        *to++ = 0;
    main();
}

static void stand_still(void) {
    for (;;) {
    }
}

typedef void (*handler)(void);

__attribute__((section(".vectors"), used)) static const handler vectors[16 + 43] = {
    (handler)&top_of_stack, start,
    [2 ... 15] = stand_still,
    [16 + IRQ_ADC1] = adc1,
    [16 + IRQ_TIM3] = tim3,
    [16 + IRQ_TIM4] = tim4,
    [16 + IRQ_USART1] = usart1,
    [16 + IRQ_EXTI15_10] = exti15_10,
};

/* What gcc may call on its own, even without a library. */
void *memset(void *to, int value, unsigned length);
void *memcpy(void *to, const void *from, unsigned length);

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
