/* A board for the program of docs/targets.md: it insists on the order of relay and converter. */
#include <stdio.h>
#include <stdlib.h>

#define main program
#include "program.c"
#undef main

static uint8_t is_closed[PHOTOPERIOD_OUTPUTS];
static uint8_t was_closed[PHOTOPERIOD_OUTPUTS];      /* a second ago */
static uint8_t was_closed_at_set[PHOTOPERIOD_OUTPUTS]; /* when the converter was set */
static uint16_t codes[PHOTOPERIOD_OUTPUTS];
static uint32_t now_s;

void open_relay(uint8_t output)
{
    is_closed[output] = 0;
}

void close_relay(uint8_t output)
{
    is_closed[output] = 1;
}

void set_converter(uint8_t output, uint16_t code)
{
    codes[output] = code;
    was_closed_at_set[output] = is_closed[output];
}

uint8_t read_clock(photoperiod_moment *moment)
{
    moment->day = photoperiod_day(2027, 3, 28);
    moment->second = now_s;
    return now_s >= 3600u; /* it was set after an hour */
}

uint8_t is_stopped(void)
{
    return now_s / 3600u == 14u;
}

void show(uint8_t status)
{
    putchar(status);
    for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
        if (was_closed_at_set[n] && !(was_closed[n] && is_closed[n])) {
            exit(9); /* it opened after its converter changed, or closed before */
        }
        was_closed[n] = is_closed[n];
        fwrite(&codes[n], 1, 2, stdout);
        putchar(is_closed[n]);
    }
}

void reset_watchdog(void)
{
}

void wait_for_next_second(void)
{
    if (++now_s == 86400u) {
        exit(0);
    }
}

int main(void)
{
    return program();
}
