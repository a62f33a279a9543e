/*
 * What checking and playing the built-in image cost on an ATmega328P, told by UART in decimal:
 * least, mean and most cycles of photoperiod_play, cycles of photoperiod_check, bytes of stack.
 * With NOTHING neither is called, so that the difference of two programs is their flash.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#ifndef NOTHING
#include "photoperiod.h"
#else
#include <stdint.h>
#endif

extern uint8_t __heap_start;

static void tell(uint32_t value)
{
    uint8_t digits[10];
    uint8_t count = 0;
    do {
        digits[count++] = (uint8_t)('0' + value % 10u);
        value /= 10u;
    } while (value > 0u);
    while (count > 0) {
        while ((UCSR0A & _BV(UDRE0)) == 0) {
        }
        UDR0 = digits[--count];
    }
    while ((UCSR0A & _BV(UDRE0)) == 0) {
    }
    UDR0 = '\n';
}

#ifndef NOTHING
#define PAINT 0xC5u

static photoperiod_table table;
static photoperiod_moment moment;
static photoperiod_output outputs[PHOTOPERIOD_OUTPUTS];

static void __attribute__((noinline)) paint(void)
{
    uint8_t *at = &__heap_start;
    while (at < (uint8_t *)SP - 16) {
        *at++ = PAINT;
    }
}

static uint16_t __attribute__((noinline)) used(uint16_t top)
{
    const uint8_t *at = &__heap_start;
    while (*at == PAINT) {
        at++;
    }
    return (uint16_t)(top - (uint16_t)at);
}

static void __attribute__((noinline)) play(void)
{
    photoperiod_play(&table, &moment, outputs, PHOTOPERIOD_OUTPUTS);
}

static void __attribute__((noinline)) check(void)
{
    photoperiod_check(&table, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH);
}
#endif

int main(void)
{
    UCSR0B = _BV(TXEN0);
#ifndef NOTHING
    {
        uint32_t least = 0xFFFFFFFFul, most = 0, sum = 0, number = 0;
        const uint16_t top = SP;
        uint16_t cycles;
        paint();
        TCCR1B = _BV(CS12) | _BV(CS10); /* counts 1024 cycles */
        TCNT1 = 0;
        check();
        cycles = TCNT1;
        TCCR1B = _BV(CS10);
        moment.day = DAY;
        moment.clock_valid = 1;
        moment.since_start_s = SINCE_START_S;
        for (moment.second = 0; moment.second < 86400ul; moment.second += 61u) {
            uint16_t one;
            TCNT1 = 0;
            play();
            one = TCNT1;
            least = one < least ? one : least;
            most = one > most ? one : most;
            sum += one;
            number++;
        }
        tell(least);
        tell(sum / number);
        tell(most);
        tell((uint32_t)cycles * 1024u);
        tell(used(top));
    }
#else
    tell(0);
#endif
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
