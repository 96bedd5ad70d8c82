/* Which registers of the STM32F103 does the port use? Addresses and bits as in its reference manual
 * (RM0008), written here so that nothing but a compiler is needed. */
#ifndef SW_REGISTERS_H
#define SW_REGISTERS_H

#include <stdint.h>

#define REGISTER(address) (*(volatile uint32_t *)(address))

/* reset and clock control */
#define RCC_CR REGISTER(0x40021000)
#define RCC_CFGR REGISTER(0x40021004)
#define RCC_APB2ENR REGISTER(0x40021018)
#define RCC_APB1ENR REGISTER(0x4002101C)
#define RCC_CR_HSEON (1u << 16)
#define RCC_CR_HSERDY (1u << 17)
#define RCC_CR_PLLON (1u << 24)
#define RCC_CR_PLLRDY (1u << 25)
#define RCC_CFGR_SW_PLL (2u << 0)
#define RCC_CFGR_SWS_PLL (2u << 2)
#define RCC_CFGR_PPRE1_HALF (4u << 8)
#define RCC_CFGR_ADC_SIXTH (2u << 14)
#define RCC_CFGR_PLL_HSE_9 ((1u << 16) | (7u << 18))
#define RCC_APB2_AFIO (1u << 0)
#define RCC_APB2_GPIOA (1u << 2)
#define RCC_APB2_GPIOB (1u << 3)
#define RCC_APB2_ADC1 (1u << 9)
#define RCC_APB2_USART1 (1u << 14)
#define RCC_APB1_TIM2 (1u << 0)
#define RCC_APB1_TIM3 (1u << 1)
#define RCC_APB1_TIM4 (1u << 2)

/* flash: wait states, and writing to it */
#define FLASH_ACR REGISTER(0x40022000)
#define FLASH_KEYR REGISTER(0x40022004)
#define FLASH_SR REGISTER(0x4002200C)
#define FLASH_CR REGISTER(0x40022010)
#define FLASH_AR REGISTER(0x40022014)
#define FLASH_ACR_2_WAITS_AND_PREFETCH 0x12u
#define FLASH_KEY_1 0x45670123u
#define FLASH_KEY_2 0xCDEF89ABu
#define FLASH_SR_BSY (1u << 0)
#define FLASH_CR_PG (1u << 0)
#define FLASH_CR_PER (1u << 1)
#define FLASH_CR_STRT (1u << 6)
#define FLASH_CR_LOCK (1u << 7)

/* pins */
#define GPIOA_CRL REGISTER(0x40010800)
#define GPIOA_CRH REGISTER(0x40010804)
#define GPIOB_CRL REGISTER(0x40010C00)
#define GPIOB_CRH REGISTER(0x40010C04)
#define GPIOB_ODR REGISTER(0x40010C0C)
#define AFIO_EXTICR3 REGISTER(0x40010010)
#define EXTI_IMR REGISTER(0x40010400)
#define EXTI_RTSR REGISTER(0x40010408)
#define EXTI_PR REGISTER(0x40010414)

/* timers 2 to 4 have one layout */
#define TIMER(base, offset) REGISTER((base) + (offset))
#define TIM2 0x40000000u
#define TIM3 0x40000400u
#define TIM4 0x40000800u
#define TIM_CR1(t) TIMER(t, 0x00)
#define TIM_CR2(t) TIMER(t, 0x04)
#define TIM_SMCR(t) TIMER(t, 0x08)
#define TIM_DIER(t) TIMER(t, 0x0C)
#define TIM_SR(t) TIMER(t, 0x10)
#define TIM_EGR(t) TIMER(t, 0x14)
#define TIM_CCMR1(t) TIMER(t, 0x18)
#define TIM_CCMR2(t) TIMER(t, 0x1C)
#define TIM_CCER(t) TIMER(t, 0x20)
#define TIM_CNT(t) TIMER(t, 0x24)
#define TIM_PSC(t) TIMER(t, 0x28)
#define TIM_ARR(t) TIMER(t, 0x2C)
#define TIM_CCR3(t) TIMER(t, 0x3C)
#define TIM_CCR4(t) TIMER(t, 0x40)
#define TIM_CR1_CEN (1u << 0)
#define TIM_CR2_TRGO_UPDATE (2u << 4)
#define TIM_SMCR_ENCODER_BOTH 3u
#define TIM_DIER_UIE (1u << 0)
#define TIM_CC3 (1u << 3)
#define TIM_CC4 (1u << 4)
#define TIM_CC3_OVER (1u << 11)
#define TIM_CC4_OVER (1u << 12)
#define TIM_CCER_CC3E (1u << 8)
#define TIM_CCER_CC4E (1u << 12)

/* converter 1 */
#define ADC1_SR REGISTER(0x40012400)
#define ADC1_CR2 REGISTER(0x40012408)
#define ADC1_CR1 REGISTER(0x40012404)
#define ADC1_SMPR2 REGISTER(0x40012410)
#define ADC1_SQR1 REGISTER(0x4001242C)
#define ADC1_SQR3 REGISTER(0x40012434)
#define ADC1_DR REGISTER(0x4001244C)
#define ADC_CR1_EOCIE (1u << 5)
#define ADC_SR_EOC (1u << 1)
#define ADC_CR2_ADON (1u << 0)
#define ADC_CR2_CAL (1u << 2)
#define ADC_CR2_RSTCAL (1u << 3)
#define ADC_CR2_EXTSEL_TIM3 (4u << 17)
#define ADC_CR2_EXTTRIG (1u << 20)

/* serial port 1 */
#define USART1_DR REGISTER(0x40013804)
#define USART1_BRR REGISTER(0x40013808)
#define USART1_CR1 REGISTER(0x4001380C)
#define USART_CR1_TE (1u << 3)
#define USART_CR1_TXEIE (1u << 7)
#define USART_CR1_UE (1u << 13)

/* interrupts: all of one priority, so that none interrupts another */
#define NVIC_ISER0 REGISTER(0xE000E100)
#define NVIC_ISER1 REGISTER(0xE000E104)
enum { IRQ_ADC1 = 18, IRQ_TIM3 = 29, IRQ_TIM4 = 30, IRQ_USART1 = 37, IRQ_EXTI15_10 = 40 };

#endif
