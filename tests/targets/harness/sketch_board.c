/*
 * A board for an exported sketch: an ATmega328P in the simulator, with a clock chip (DS3231 or PCF8523), a
 * converter (MCP4728 or MCP4725) and a keeper who types. It prints what changes, a line each, with
 * the cycle in which it did:
 *
 *     CYCLE ports B DB D DD TCCR1A OCR1A OCR1B      registers in hexadecimal; the alarm light left out
 *     CYCLE code ADDRESS OUTPUT CODE                what a converter was given
 *     CYCLE text ...                                a line on the serial port
 *     CYCLE wrong ADDRESS                           bytes that no converter understands
 *     CYCLE chip R0 R2                              control registers of a PCF8523 whose time is set
 *
 * Arguments: ELF, chip (ds3231 or pcf8523), the time at power-on as seconds since 2000-01-01, how many seconds
 * to run, then events SECOND:WHAT. The chip's second changes three quarters of a second after the board's, so that a
 * reading is never at its edge.
 */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <simavr/avr_ioport.h>
#include <simavr/avr_twi.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_io.h>

#define HZ 16000000ull

static avr_t *avr;
static avr_irq_t *bus;

static int is_pcf, chip_is_silent, converter_is_silent, glitch;
static int has_stopped; /* the flag for it */
static int is_in_12_hours;
static int64_t time_at_0;

static uint8_t selected, registers[32];
static int writes, at_register;
static uint8_t written[8];
static int written_length;
static int was_addressed; /* the last message was an address to write to */

static uint8_t bcd(int value)
{
    return (uint8_t)(value / 10 << 4 | value % 10);
}

static int of_bcd(uint8_t value)
{
    return 10 * (value >> 4) + (value & 15);
}

static int64_t chip_time(void)
{
    return time_at_0 + (int64_t)((avr->cycle + HZ / 4) / HZ);
}

static void show_time(void)
{
    /* A bit that was disturbed: two hours and a quarter. */
    time_t unix_s = (time_t)(946684800 + (chip_time() ^ (glitch ? 1 << 13 : 0)));
    struct tm parts;
    gmtime_r(&unix_s, &parts);
    if (is_pcf) {
        registers[3] = (uint8_t)(bcd(parts.tm_sec) | (has_stopped ? 0x80 : 0));
        registers[4] = bcd(parts.tm_min);
        registers[5] = bcd(parts.tm_hour);
        registers[6] = bcd(parts.tm_mday);
        registers[7] = (uint8_t)parts.tm_wday;
        registers[8] = bcd(parts.tm_mon + 1);
        registers[9] = bcd(parts.tm_year - 100);
        registers[0] = (uint8_t)((registers[0] & ~8) | (is_in_12_hours ? 8 : 0));
    } else {
        registers[0] = bcd(parts.tm_sec);
        registers[1] = bcd(parts.tm_min);
        registers[2] = (uint8_t)(bcd(parts.tm_hour) | (is_in_12_hours ? 0x40 : 0));
        registers[3] = (uint8_t)(parts.tm_wday + 1);
        registers[4] = bcd(parts.tm_mday);
        registers[5] = (uint8_t)(0x80 | bcd(parts.tm_mon + 1)); /* the century bit, of no matter */
        registers[6] = bcd(parts.tm_year - 100);
        registers[15] = has_stopped ? 0x88 : 0x08;
    }
}

/* What was written to the chip: its registers, and its time if that was among them. */
static void take_writing(void)
{
    const int first = is_pcf ? 3 : 0;
    struct tm parts;
    int at;
    if (written_length < 2) {
        return;
    }
    for (at = 1; at < written_length; at++) {
        registers[written[0] + at - 1] = written[at];
    }
    if (is_pcf && written[0] == 3) {
        printf("%llu chip %02x %02x\n", (unsigned long long)avr->cycle, registers[0], registers[2]);
    }
    is_in_12_hours = 0;
    if (!is_pcf && written[0] == 15) {
        has_stopped = (written[1] & 0x80) != 0;
    }
    if (written[0] == first && written_length == 8) {
        memset(&parts, 0, sizeof parts);
        parts.tm_sec = of_bcd(registers[first] & 0x7F);
        parts.tm_min = of_bcd(registers[first + 1]);
        parts.tm_hour = of_bcd(registers[first + 2]);
        parts.tm_mday = of_bcd(registers[is_pcf ? 6 : 4]);
        parts.tm_mon = of_bcd(registers[is_pcf ? 8 : 5]) - 1;
        parts.tm_year = of_bcd(registers[is_pcf ? 9 : 6]) + 100;
        time_at_0 += (int64_t)timegm(&parts) - 946684800 - chip_time();
        if (is_pcf) {
            has_stopped = (registers[3] & 0x80) != 0;
        }
    }
}

static int codes[8][4]; /* one more than the last, so that the first 0 is told */

static void take_code(void)
{
    const int address = selected >> 1;
    int output = 0, code;
    if (written_length == 3 && (written[0] & 0xF9) == 0x40) {
        output = written[0] >> 1 & 3;
        code = (written[1] & 15) << 8 | written[2];
    } else if (written_length == 2 && (written[0] & 0xF0) == 0) {
        code = (written[0] & 15) << 8 | written[1];
    } else {
        printf("%llu wrong %02x\n", (unsigned long long)avr->cycle, address);
        return;
    }
    if (codes[address & 7][output] != code + 1) {
        codes[address & 7][output] = code + 1;
        printf("%llu code %02x %d %d\n", (unsigned long long)avr->cycle, address, output, code);
    }
}

static void end_writing(void)
{
    if (writes) {
        if (selected >> 1 == 0x68) {
            take_writing();
        } else {
            take_code();
        }
    }
    writes = 0;
    written_length = 0;
}

static void on_bus(avr_irq_t *irq, uint32_t value, void *param)
{
    avr_twi_msg_irq_t message;
    (void)irq;
    (void)param;
    message.u.v = value;
    was_addressed = (message.u.twi.msg & TWI_COND_START) && !(message.u.twi.addr & 1);
    if (message.u.twi.msg & TWI_COND_STOP) {
        end_writing();
        selected = 0;
    }
    if (message.u.twi.msg & TWI_COND_START) {
        const uint8_t address = message.u.twi.addr >> 1;
        const int is_chip = address == 0x68 && !chip_is_silent;
        const int is_converter = address >= 0x60 && address < 0x68 && !converter_is_silent;
        end_writing();
        selected = 0;
        if (is_chip || is_converter) {
            selected = message.u.twi.addr;
            if (is_chip && (selected & 1)) {
                show_time();
            }
            avr_raise_irq(bus + TWI_IRQ_INPUT, avr_twi_irq_msg(TWI_COND_ACK, selected, 1));
        }
    }
    if (!selected) {
        return;
    }
    if (message.u.twi.msg & TWI_COND_WRITE) {
        avr_raise_irq(bus + TWI_IRQ_INPUT, avr_twi_irq_msg(TWI_COND_ACK, selected, 1));
        if (written_length < (int)sizeof written) {
            written[written_length++] = message.u.twi.data;
        }
        at_register = written[0];
        writes = 1;
    }
    if (message.u.twi.msg & TWI_COND_READ) {
        avr_raise_irq(bus + TWI_IRQ_INPUT,
                      avr_twi_irq_msg(TWI_COND_READ, selected, registers[at_register++ & 31]));
    }
}

#define TWCR_AT 0xBC

/* Version 1.6 of the simulator leaves TWINT set where a program clears it by writing a one. */
static void clear_twint(avr_t *of, avr_io_addr_t at, uint8_t value, void *param)
{
    (void)param;
    if (value & 0x80) {
        of->data[at] &= 0x7F;
    }
}

#define TWSR_AT 0xB9

/*
 * And it gives the status of a byte (0x28, 0x30) after the address of a writing, where the data sheet of
 * the ATmega328P gives 0x18 or 0x20.
 */
static void correct_status(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    if (was_addressed && (value == 0x28 || value == 0x30)) {
        avr->data[TWSR_AT] = (uint8_t)((avr->data[TWSR_AT] & 7) | (value - 0x10));
        was_addressed = 0;
    }
}

static char text[256];
static size_t text_length;

static void on_text(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    if (value == '\n') {
        text[text_length] = '\0';
        printf("%llu text %s\n", (unsigned long long)avr->cycle, text);
        text_length = 0;
    } else if (value != '\r' && text_length + 1 < sizeof text) {
        text[text_length++] = (char)value;
    }
}

static void no_pause(avr_t *of, avr_cycle_count_t cycles)
{
    (void)of;
    (void)cycles;
}

static const char *typed = "";

/* The keeper's switch on pin C3: a pin that changes beside it must not change it. */
static void hold_switch(uint8_t value)
{
    avr_ioport_external_t outside;
    outside.name = 'C';
    outside.mask = 1 << 3;
    outside.value = (uint8_t)(value << 3);
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &outside);
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('C'), 3), value);
}

static void happen(const char *what)
{
    if (strcmp(what, "silent") == 0) {
        chip_is_silent = 1;
    } else if (strcmp(what, "answers") == 0) {
        chip_is_silent = 0;
    } else if (strcmp(what, "stopped") == 0) {
        has_stopped = 1;
    } else if (strcmp(what, "12-hours") == 0) {
        is_in_12_hours = 1;
    } else if (strcmp(what, "glitch") == 0) {
        glitch = 1;
    } else if (strcmp(what, "calm") == 0) {
        glitch = 0;
    } else if (strcmp(what, "converter-silent") == 0) {
        converter_is_silent = 1;
    } else if (strcmp(what, "converter-answers") == 0) {
        converter_is_silent = 0;
    } else if (strcmp(what, "switch-closed") == 0) {
        hold_switch(0);
    } else if (strcmp(what, "switch-open") == 0) {
        hold_switch(1);
    } else if (strncmp(what, "jump=", 5) == 0) {
        time_at_0 += atoll(what + 5);
    } else if (strncmp(what, "type=", 5) == 0) {
        typed = what + 5;
    } else {
        fprintf(stderr, "no event %s\n", what);
        exit(2);
    }
}

int main(int count, char **arguments)
{
    static const uint16_t watched[] = {0x25, 0x24, 0x2B, 0x2A, 0x80, 0x89, 0x88, 0x8B, 0x8A};
    uint8_t seen[sizeof watched / sizeof *watched];
    elf_firmware_t firmware;
    uint64_t last_cycle, next_event = 0, next_key = 0;
    int event = 5;
    static const char *names[2] = {"8>twi.in", "32<twi.out"};

    memset(&firmware, 0, sizeof firmware);
    if (count < 5 || elf_read_firmware(arguments[1], &firmware) != 0) {
        return 2;
    }
    is_pcf = strcmp(arguments[2], "pcf8523") == 0;
    registers[0] = is_pcf ? 0x80 : 0; /* the load of its crystal */
    registers[2] = is_pcf ? 0xE0 : 0; /* its battery is not used */
    time_at_0 = atoll(arguments[3]);
    last_cycle = strtoull(arguments[4], NULL, 10) * HZ;
    avr = avr_make_mcu_by_name("atmega328p");
    avr_init(avr);
    avr->log = 1;
    avr->frequency = (uint32_t)HZ;
    avr_load_firmware(avr, &firmware);
    avr->frequency = (uint32_t)HZ;
    avr->sleep = no_pause;

    bus = avr_alloc_irq(&avr->irq_pool, 0, 2, names);
    avr_irq_register_notify(bus + TWI_IRQ_OUTPUT, on_bus, NULL);
    avr_connect_irq(bus + TWI_IRQ_INPUT,
                    avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_INPUT));
    avr_connect_irq(avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_OUTPUT),
                    bus + TWI_IRQ_OUTPUT);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_STATUS),
                            correct_status, NULL);
    avr_register_io_write(avr, TWCR_AT, clear_twint, NULL);
    {
        uint32_t flags = 0;
        avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    }
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_text,
                            NULL);

    memset(seen, 0xEE, sizeof seen);
    while (avr->cycle < last_cycle) {
        const int state = avr_run(avr);
        size_t at, differs = 0;
        if (state == cpu_Done || state == cpu_Crashed) {
            printf("%llu crashed\n", (unsigned long long)avr->cycle);
            return 3;
        }
        for (at = 0; at < sizeof seen; at++) {
            const uint8_t now = (uint8_t)(avr->data[watched[at]] & (at < 2 ? 0xDF : 0xFF));
            differs |= now ^ seen[at];
            seen[at] = now;
        }
        if (differs) {
            printf("%llu ports %02x %02x %02x %02x %02x %02x%02x %02x%02x\n",
                   (unsigned long long)avr->cycle, seen[0], seen[1], seen[2], seen[3], seen[4],
                   seen[5], seen[6], seen[7], seen[8]);
        }
        if (event < count && avr->cycle >= next_event) {
            const char *colon = strchr(arguments[event], ':');
            next_event = strtoull(arguments[event], NULL, 10) * HZ + HZ / 3;
            if (avr->cycle >= next_event) {
                happen(colon + 1);
                event++;
                next_event = 0;
            }
        }
        if (*typed != '\0' && avr->cycle >= next_key) {
            avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT),
                          *typed == '/' ? '\n' : (uint8_t)*typed);
            typed++;
            next_key = avr->cycle + HZ / 500;
        }
    }
    return 0;
}
