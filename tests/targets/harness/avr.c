/*
 * Plays the built-in image on an ATmega328P and tells by UART: `fault outputs`, then a line for each
 * moment, then the hash of a day. Moments and day come from the test as moments.h.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "photoperiod.h"
#include "photoperiod.h"

#include "moments.h"

static void tell(uint32_t value, uint8_t digits)
{
    while (digits > 0) {
        const uint8_t digit = (uint8_t)(value >> (4 * --digits)) & 15u;
        while ((UCSR0A & _BV(UDRE0)) == 0) {
        }
        UDR0 = (uint8_t)(digit < 10u ? '0' + digit : 'a' + digit - 10);
    }
}

static void end_line(void)
{
    while ((UCSR0A & _BV(UDRE0)) == 0) {
    }
    UDR0 = '\n';
}

static uint32_t with(uint32_t hash, uint32_t value)
{
    return (hash ^ value) * 16777619ul;
}

int main(void)
{
    photoperiod_table table;
    photoperiod_output outputs[PHOTOPERIOD_OUTPUTS];
    photoperiod_moment moment;
    uint32_t hash = 2166136261ul;
    uint8_t output, status;
    uint16_t at;
    UCSR0B = _BV(TXEN0);
    tell(photoperiod_check(&table, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH), 2);
    tell(table.outputs, 2);
    end_line();
    for (at = 0; at < sizeof moments / sizeof *moments; at++) {
        moment.day = (int32_t)pgm_read_dword(&moments[at][0]);
        moment.second = pgm_read_dword(&moments[at][1]);
        moment.since_start_s = pgm_read_dword(&moments[at][2]);
        moment.clock_valid = (uint8_t)pgm_read_dword(&moments[at][3]);
        moment.stopped = (uint8_t)pgm_read_dword(&moments[at][4]);
        tell(photoperiod_play(&table, &moment, outputs, PHOTOPERIOD_OUTPUTS), 2);
        for (output = 0; output < PHOTOPERIOD_OUTPUTS; output++) {
            tell(outputs[output].count, 4);
            tell(outputs[output].code, 4);
            tell(outputs[output].relay, 2);
        }
        end_line();
    }
    moment.day = DAY;
    moment.clock_valid = 1;
    moment.stopped = 0;
    moment.since_start_s = PHOTOPERIOD_SOFT_START_OVER;
    for (moment.second = 0; moment.second < 86400ul; moment.second += DAY_STEP_S) {
        status = photoperiod_play(&table, &moment, outputs, PHOTOPERIOD_OUTPUTS);
        hash = with(hash, status);
        for (output = 0; output < PHOTOPERIOD_OUTPUTS; output++) {
            hash = with(hash, outputs[output].count | (uint32_t)outputs[output].code << 16);
            hash = with(hash, outputs[output].relay);
        }
    }
    tell(hash, 8);
    end_line();
    while ((UCSR0A & _BV(UDRE0)) == 0) {
    }
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
