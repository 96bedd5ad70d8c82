/* What would the firmware say, if this were done to its pins? The AVR port in a cycle simulator.
 *
 * usage: harness FIRMWARE.elf DRIVE [--seconds S] [--out FILE | --pty] [--log FILE] [--reset S]
 *                [--paced]
 *
 * DRIVE holds the edges of every input by processor cycle and the sensors' voltages (daq/bench/pins.py
 * writes it). What the simulated serial port
 * sends goes to FILE, or to a pseudo terminal whose name is printed and which any program opens like
 * a port; then the simulation waits for that program, and --paced holds it to real time. LOG gets
 * the cycle at which each conversion took its voltage. The last line printed is a JSON object: the
 * longest interrupts, the deepest stack, and so on.
 *
 * What this simulator (simavr 1.6) leaves out, and what is done about it: it enters an interrupt in
 * no time instead of 4 cycles (the figures have to be read with that added); it takes 11 bits for a
 * byte on the line instead of 10 (the line is slower than a real one); it knows no conversion
 * started by compare B (done here, at the very cycle); its converter divides by 1023 and takes whole
 * millivolts (the voltage given is the one that makes it show what a real one shows).
 */
#define _GNU_SOURCE
#include <avr_adc.h>
#include <avr_extint.h>
#include <avr_ioport.h>
#include <avr_uart.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <sim_avr.h>
#include <sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#define HERTZ 16000000ULL
#define SUPPLY_MV 5000
#define HOLD_CYCLES 256 /* the voltage is taken two cycles of the converter's clock after its start */
#define PACE_CYCLES (HERTZ / 1000)
#define CHANNELS 2
#define PINS 5
#define STACK_FILL 0xA5
#define RAM_START 0x100
enum { INT0_VECTOR = 1, INT1_VECTOR = 2, COMPARE_B_VECTOR = 12, VECTORS = 26 };

static const struct {
    char port;
    int bit;
} pins[PINS] = {{'D', 2}, {'D', 3}, {'B', 0}, {'B', 1}, {'B', 2}}; /* A, B, index, mark 1, mark 2 */

#pragma pack(push, 1)
struct head {
    char magic[4]; /* SWD1 */
    uint32_t edges, volts;
    double volt_step_s;
};
struct edge {
    uint64_t cycle;
    uint8_t pin, level;
};
#pragma pack(pop)

static struct head head;
static struct edge *edges;
static float *shares; /* of the supply, volts times CHANNELS */
static uint32_t edge_at;
static uint8_t levels[PINS];

static avr_t *avr;
static FILE *out_file, *log_file;
static int terminal = -1;
static uint64_t sent, not_taken, conversions;
static uint64_t began[VECTORS + 1], longest[VECTORS + 1], edge_raised, edge_delay;

static void stop(const char *what, const char *which) {
    fprintf(stderr, "harness: %s %s\n", what, which);
    exit(2);
}

static void *read_all(FILE *file, size_t size, const char *name) {
    void *data = malloc(size ? size : 1);
    if (!data || fread(data, 1, size, file) != size)
        stop("cannot read", name);
    return data;
}

static void read_drive(const char *name) {
    FILE *file = fopen(name, "rb");
    if (!file || fread(&head, sizeof head, 1, file) != 1 || memcmp(head.magic, "SWD1", 4))
        stop("no drive in", name);
    edges = read_all(file, head.edges * sizeof *edges, name);
    shares = read_all(file, (size_t)head.volts * CHANNELS * sizeof *shares, name);
    fclose(file);
}

/* The voltage of a channel at a cycle, as a share of the supply, on a straight line between steps. */
static double share_at(uint64_t cycle, int channel) {
    double at = (double)cycle / HERTZ / head.volt_step_s;
    if (!head.volts)
        return 0;
    if (at >= head.volts - 1)
        return shares[(size_t)(head.volts - 1) * CHANNELS + channel];
    size_t k = (size_t)at;
    double part = at - (double)k;
    return shares[k * CHANNELS + channel] * (1 - part) + shares[(k + 1) * CHANNELS + channel] * part;
}

/* Millivolts for which the simulator shows the reading of a real converter, 1024 steps over VCC. */
static uint32_t millivolts(double share) {
    int reading = (int)(share * 1024);
    reading = reading < 0 ? 0 : reading > 1023 ? 1023 : reading;
    return (uint32_t)(reading * SUPPLY_MV + 1022) / 1023;
}

static void conversion_begins(avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    union {
        uint32_t value;
        avr_adc_mux_t mux;
    } asked = {.value = value}; /* as the simulator passes it: the first 32 bits */
    avr_adc_mux_t mux = asked.mux;
    uint64_t taken = avr->cycle + HOLD_CYCLES;
    if (mux.src < CHANNELS)
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + mux.src),
                      millivolts(share_at(taken, mux.src)));
    conversions++;
    if (log_file)
        fwrite(&avr->cycle, sizeof avr->cycle, 1, log_file);
}

static void compare_b_met(avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    if (value)
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_IN_TRIGGER), 1);
}

static void byte_sent(avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    uint8_t byte = (uint8_t)value;
    sent++;
    if (out_file)
        fputc(byte, out_file);
    if (terminal >= 0 && write(terminal, &byte, 1) != 1)
        not_taken++; /* nobody took it: lost, as with a real port */
}

static void interrupt_runs(avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq;
    int vector = (int)(intptr_t)param;
    if (value) {
        began[vector] = avr->cycle;
        if ((vector == INT0_VECTOR || vector == INT1_VECTOR) && edge_raised) {
            if (avr->cycle - edge_raised > edge_delay)
                edge_delay = avr->cycle - edge_raised;
            edge_raised = 0;
        }
    } else if (avr->cycle - began[vector] > longest[vector]) {
        longest[vector] = avr->cycle - began[vector];
    }
}

static void set_pin(int pin, uint8_t level) {
    levels[pin] = level;
    avr_ioport_external_t driven = {.name = (unsigned char)pins[pin].port};
    for (int k = 0; k < PINS; k++) /* a driven pin is stronger than the weak pull-up inside */
        if (pins[k].port == pins[pin].port) {
            driven.mask |= 1u << pins[k].bit;
            driven.value |= (unsigned)levels[k] << pins[k].bit;
        }
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(pins[pin].port), &driven);
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(pins[pin].port), pins[pin].bit), level);
}

static avr_cycle_count_t edges_due(struct avr_t *now, avr_cycle_count_t when, void *param) {
    (void)param, (void)when;
    while (edge_at < head.edges && edges[edge_at].cycle <= now->cycle) {
        const struct edge *edge = &edges[edge_at++];
        if (edge->pin < 2 && !edge_raised && conversions)
            edge_raised = now->cycle;
        set_pin(edge->pin, edge->level);
    }
    return edge_at < head.edges ? edges[edge_at].cycle : 0;
}

static void follow_edges(void) {
    if (edge_at < head.edges) {
        uint64_t due = edges[edge_at].cycle;
        avr_cycle_timer_register(avr, due > avr->cycle ? due - avr->cycle : 1, edges_due, NULL);
    }
}

/* While the firmware has not set the encoder's inputs to edges they are taken for level inputs, and
 * the simulator would raise them for ever after. */
static void no_level_interrupts(void) {
    avr_extint_set_strict_lvl_trig(avr, 0, 0);
    avr_extint_set_strict_lvl_trig(avr, 1, 0);
}

/* Pull the reset line: RAM is kept, as it is on the chip; the EEPROM too. */
static void reset(void) {
    avr_reset(avr);
    no_level_interrupts();
    for (int pin = 0; pin < PINS; pin++) {
        uint8_t level = levels[pin];
        set_pin(pin, !level); /* the simulator forgets the levels and filters what looks the same */
        set_pin(pin, level);
    }
    edge_raised = 0;
    follow_edges();
}

static void no_sleep(avr_t *now, avr_cycle_count_t cycles) { (void)now, (void)cycles; }

static void prepare(const char *firmware) {
    elf_firmware_t code = {0};
    int kept = dup(1), nowhere = open("/dev/null", O_WRONLY);
    dup2(nowhere, 1); /* the simulator says what it loads where only our own lines may stand */
    int failed = elf_read_firmware(firmware, &code);
    fflush(stdout);
    dup2(kept, 1);
    close(kept);
    close(nowhere);
    if (failed)
        stop("no firmware in", firmware);
    avr = avr_make_mcu_by_name("atmega328p");
    if (!avr)
        stop("the simulator does not know", "atmega328p");
    avr_init(avr);
    avr->log = LOG_ERROR;
    avr_load_firmware(avr, &code);
    avr->frequency = HERTZ;
    avr->vcc = avr->avcc = avr->aref = SUPPLY_MV;
    avr->sleep = no_sleep;
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    memset(avr->data + RAM_START, STACK_FILL, (size_t)(avr->ramend + 1 - RAM_START));
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            byte_sent, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER),
                            conversion_begins, NULL);
    avr_irq_register_notify(avr_get_interrupt_irq(avr, COMPARE_B_VECTOR) + AVR_INT_IRQ_PENDING,
                            compare_b_met, NULL);
    for (intptr_t vector = 1; vector <= VECTORS; vector++) {
        avr_irq_t *irq = avr_get_interrupt_irq(avr, (uint8_t)vector);
        if (irq)
            avr_irq_register_notify(irq + AVR_INT_IRQ_RUNNING, interrupt_runs, (void *)vector);
    }
    no_level_interrupts();
    for (int pin = 0; pin < PINS; pin++)
        set_pin(pin, 0);
    edges_due(avr, 0, NULL);
    follow_edges();
}

static void open_terminal(void) {
    int far;
    char name[128];
    struct termios raw;
    if (openpty(&terminal, &far, name, NULL, NULL))
        stop("no pseudo terminal:", strerror(errno));
    tcgetattr(far, &raw);
    cfmakeraw(&raw);
    tcsetattr(far, TCSANOW, &raw);
    close(far); /* from here on the line tells whether a host has it open */
    fcntl(terminal, F_SETFL, O_NONBLOCK);
    printf("%s\n", name);
    fflush(stdout);
    struct pollfd line = {.fd = terminal, .events = POLLIN};
    while (poll(&line, 1, 0) > 0 && line.revents & POLLHUP)
        usleep(20000);
    usleep(100000); /* a host that has just opened a port still sets it up and flushes it */
}

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Wait until the host has read all, or has gone. */
static void drain(void) {
    int waiting = 0;
    struct pollfd line = {.fd = terminal, .events = POLLOUT};
    for (int tries = 0; tries < 100; tries++) {
        if (poll(&line, 1, 0) > 0 && line.revents & POLLHUP)
            return;
        if (ioctl(terminal, TIOCOUTQ, &waiting) || !waiting)
            break;
        usleep(20000);
    }
    usleep(300000); /* what left the queue is still on its way to the host */
}

static int stack_free(void) {
    int at = avr->ramend;
    int untouched = 0, most = 0;
    for (int byte = RAM_START; byte <= at; byte++) { /* the longest stretch never written */
        untouched = avr->data[byte] == STACK_FILL ? untouched + 1 : 0;
        most = untouched > most ? untouched : most;
    }
    return most;
}

static void report(double began_s) {
    double seconds = (double)avr->cycle / HERTZ;
    printf("{\"seconds\": %.4f, \"real_time_factor\": %.2f, \"sent\": %llu, \"not_taken\": %llu, "
           "\"conversions\": %llu, \"edge_delay_cycles\": %llu, \"ram_untouched\": %d, "
           "\"interrupt_cycles\": {",
           seconds, seconds / (now_s() - began_s), (unsigned long long)sent,
           (unsigned long long)not_taken, (unsigned long long)conversions,
           (unsigned long long)edge_delay, stack_free());
    const char *comma = "";
    for (int vector = 1; vector <= VECTORS; vector++)
        if (longest[vector]) {
            printf("%s\"%d\": %llu", comma, vector, (unsigned long long)longest[vector]);
            comma = ", ";
        }
    printf("}}\n");
}

int main(int argc, char **argv) {
    double seconds = 1, reset_s = -1;
    int paced = 0, pty = 0;
    if (argc < 3)
        stop("usage:", "harness FIRMWARE.elf DRIVE [options]");
    for (int k = 3; k < argc; k++) {
        const char *value = k + 1 < argc ? argv[k + 1] : "";
        if (!strcmp(argv[k], "--paced"))
            paced = 1;
        else if (!strcmp(argv[k], "--pty"))
            pty = 1;
        else if (!strcmp(argv[k], "--seconds"))
            seconds = atof(value), k++;
        else if (!strcmp(argv[k], "--reset"))
            reset_s = atof(value), k++;
        else if (!strcmp(argv[k], "--out"))
            out_file = fopen(value, "wb"), k++;
        else if (!strcmp(argv[k], "--log"))
            log_file = fopen(value, "wb"), k++;
        else
            stop("not understood:", argv[k]);
    }
    read_drive(argv[2]);
    prepare(argv[1]);
    if (pty)
        open_terminal();
    double began_s = now_s();
    uint64_t end = (uint64_t)(seconds * HERTZ), pace_at = 0;
    uint64_t reset_at = reset_s < 0 ? UINT64_MAX : (uint64_t)(reset_s * HERTZ);
    while (avr->cycle < end) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed)
            stop("the firmware stopped:", argv[1]);
        if (avr->cycle >= reset_at) {
            reset();
            reset_at = UINT64_MAX;
        }
        if (paced && avr->cycle >= pace_at) {
            double ahead_s = began_s + (double)avr->cycle / HERTZ - now_s();
            if (ahead_s > 0)
                usleep((useconds_t)(ahead_s * 1e6));
            pace_at = avr->cycle + PACE_CYCLES;
        }
    }
    if (pty)
        drain();
    if (out_file)
        fclose(out_file);
    if (log_file)
        fclose(log_file);
    report(began_s);
    return 0;
}
