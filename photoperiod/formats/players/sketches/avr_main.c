#ifndef F_CPU
#define F_CPU 16000000UL
#endif

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/delay.h>

#include "photoperiod.h"

/* A pin as pins.h writes it: PIN(D, 4) is bit 4 of port D. */
struct pin {
    volatile uint8_t *port;
    volatile uint8_t *direction;
    volatile uint8_t *input;
    uint8_t mask;
};
#define PIN(letter, bit) {&PORT##letter, &DDR##letter, &PIN##letter, _BV(bit)}

#include "pins.h"

/* @CHANNELS@ */

/* Our choices. A reading of the clock that fails is bridged for so long, then lamps go to the safe state. */
#define BRIDGED_S 10u
/* If the clock was set by more than this, lamps rise softly. */
#define LEAP_S 300ul
/* A converter that does not answer for so long has its relay opened: nobody knows its volts. */
#define LOST_S 10u

#if F_CPU == 16000000UL
#define TICK_PRESCALER (_BV(CS02) | _BV(CS00)) /* 1024 */
#define TICK_COUNTS 125u
#elif F_CPU == 8000000UL
#define TICK_PRESCALER _BV(CS02) /* 256 */
#define TICK_COUNTS 250u
#else
#error "F_CPU must be 16000000UL or 8000000UL: the beat of this board's clock"
#endif
#define TICKS_PER_S 125u

static volatile uint8_t ticks;

ISR(TIMER0_COMPA_vect)
{
    ticks++;
}

/* After a reset by the watchdog it goes on running, and must be slowed down before anything else. */
void after_reset(void) __attribute__((naked, used, section(".init3")));
void after_reset(void)
{
    MCUSR = 0;
    wdt_disable();
}

/* Text for people, at 9600 baud. */

static void tell_character(char character)
{
    while ((UCSR0A & _BV(UDRE0)) == 0u) {
    }
    UDR0 = (uint8_t)character;
}

static void tell(const char *text)
{
    for (char c = (char)pgm_read_byte(text); c != '\0'; c = (char)pgm_read_byte(++text)) {
        tell_character(c);
    }
}

static void tell_number(uint16_t number, uint8_t digits)
{
    char shown[5];
    uint8_t at = 0;
    do {
        shown[at++] = (char)('0' + number % 10u);
        number /= 10u;
    } while (number > 0u);
    for (; digits > at; digits--) {
        tell_character('0');
    }
    while (at > 0u) {
        tell_character(shown[--at]);
    }
}

/* What a person types: a line, ended by Enter. */

#define LINE_LENGTH 24u
static volatile char line[LINE_LENGTH];
static volatile uint8_t line_length;
static volatile uint8_t line_is_whole;

ISR(USART_RX_vect)
{
    const char typed = (char)UDR0;
    if (line_is_whole) {
        return;
    }
    if (typed == '\r' || typed == '\n') {
        line_is_whole = line_length > 0u;
    } else if (line_length < LINE_LENGTH) {
        line[line_length++] = typed;
    }
}

/* Relays. */

static void open_relay(uint8_t output)
{
#if HAS_RELAYS
    const struct pin relay = relays[output];
#if RELAY_CLOSED
    *relay.port &= (uint8_t)~relay.mask;
#else
    *relay.port |= relay.mask;
#endif
    *relay.direction |= relay.mask;
#else
    (void)output;
#endif
}

static void close_relay(uint8_t output)
{
#if HAS_RELAYS
#if RELAY_CLOSED
    *relays[output].port |= relays[output].mask;
#else
    *relays[output].port &= (uint8_t)~relays[output].mask;
#endif
#else
    (void)output;
#endif
}

/* Two channels on one pin would open and close it each second. */
static uint8_t pins_differ(void)
{
    uint8_t differ = 1;
    for (uint8_t a = 1; a < PHOTOPERIOD_OUTPUTS; a++) {
        for (uint8_t b = 0; b < a; b++) {
#if HAS_RELAYS
            if (relays[a].port == relays[b].port && relays[a].mask == relays[b].mask) {
                differ = 0;
            }
#endif
            if (levels[a] == levels[b]) {
                differ = 0;
            }
        }
    }
    return differ;
}

/* @PARTS@ */

/* The clock. */

static uint8_t of_bcd(uint8_t value)
{
    return (uint8_t)(10u * (value >> 4) + (value & 15u));
}

/* True if the digits of a date and time are those of a calendar. */
static uint8_t is_time(const uint8_t digits[6])
{
    static const uint8_t least[6] PROGMEM = {0, 0, 0, 1, 1, 0};
    static const uint8_t most[6] PROGMEM = {59, 59, 23, 31, 12, 99};
    for (uint8_t at = 0; at < 6u; at++) {
        const uint8_t value = of_bcd(digits[at]);
        if ((digits[at] & 15u) > 9u || digits[at] >> 4 > 9u || value < pgm_read_byte(&least[at]) ||
            value > pgm_read_byte(&most[at])) {
            return 0;
        }
    }
    return 1;
}

static uint8_t bcd[6]; /* what the chip shows: second, minute, hour, day, month, year */

/* Seconds since 2000-01-01 as the chip has them; 0 if it does not answer, or does not know. */
static uint32_t chip_time(void)
{
    for (uint8_t attempt = 0; attempt < 3u; attempt++) {
        const uint8_t found = read_chip(bcd);
        if (found == CHIP_STOPPED) {
            return 0;
        }
        if (found == CHIP_FINE && is_time(bcd)) {
            const int32_t day =
                photoperiod_day((uint16_t)(2000u + of_bcd(bcd[5])), of_bcd(bcd[4]), of_bcd(bcd[3]));
            return (uint32_t)day * PHOTOPERIOD_DAY_S + 3600ul * of_bcd(bcd[2]) +
                   60ul * of_bcd(bcd[1]) + of_bcd(bcd[0]);
        }
        recover_bus();
    }
    return 0;
}

static uint32_t believed_s;   /* the time of this second */
static uint32_t doubted_s;    /* a reading that the next one must confirm; 0 for none */
static uint8_t unconfirmed_s; /* since when no reading has confirmed it */
static uint8_t is_known;

/*
 * One reading alone is never believed: it must be a second after the one before. So a bit that was
 * disturbed on the bus moves no lamp. Returns 1 if the clock was set by a leap.
 */
static uint8_t look_at_clock(void)
{
    const uint32_t now_s = chip_time();
    const uint32_t expected_s = believed_s + 1u;
    uint8_t is_leap = 0;
    if (now_s != 0u && is_known && now_s - believed_s <= 2u) {
        believed_s = now_s;
        unconfirmed_s = 0;
        doubted_s = 0;
        return 0;
    }
    if (now_s != 0u && doubted_s != 0u && now_s - doubted_s <= 2u) {
        is_leap = is_known && (now_s > expected_s ? now_s - expected_s : expected_s - now_s) > LEAP_S;
        believed_s = now_s;
        unconfirmed_s = 0;
        doubted_s = 0;
        is_known = 1;
        return is_leap;
    }
    doubted_s = now_s;
    believed_s = expected_s;
    if (unconfirmed_s < BRIDGED_S) {
        unconfirmed_s++;
    } else {
        is_known = 0;
    }
    return 0;
}

/* `set 2027-03-02 12:00:00` sets the chip, on the clock that photoperiod.h names. */
static void obey_line(void)
{
    static const char form[] PROGMEM = "set 20##-##-## ##:##:##";
    static const uint8_t places[6] PROGMEM = {21, 18, 15, 12, 9, 6};
    uint8_t typed[6];
    uint8_t fits;
    if (!line_is_whole) {
        return;
    }
    fits = line_length == sizeof form - 1u;
    for (uint8_t at = 0; fits && at < sizeof form - 1u; at++) {
        const char wanted = (char)pgm_read_byte(&form[at]);
        fits = wanted == '#' ? line[at] >= '0' && line[at] <= '9' : line[at] == wanted;
    }
    for (uint8_t at = 0; fits && at < 6u; at++) {
        const uint8_t place = pgm_read_byte(&places[at]);
        typed[at] = (uint8_t)((line[place] - '0') << 4 | (line[place + 1u] - '0'));
    }
    if (fits && is_time(typed) && write_chip(typed)) {
        tell(PSTR("the clock is set\r\n"));
    } else {
        tell(PSTR("not set; write: set 2027-03-02 12:00:00\r\n"));
    }
    line_length = 0;
    line_is_whole = 0;
}

static void wait_for_next_second(void)
{
    while (ticks < TICKS_PER_S) {
        obey_line();
        sleep_mode();
    }
    cli();
    ticks = ticks < 2u * TICKS_PER_S ? (uint8_t)(ticks - TICKS_PER_S) : 0u; /* no round is made up for */
    sei();
}

/* Outputs. */

static uint8_t is_closed[PHOTOPERIOD_OUTPUTS];
static uint8_t lost_s[PHOTOPERIOD_OUTPUTS]; /* since when its converter does not answer */

#define IS_LOST 1u
#define IS_BACK 2u

/*
 * Relays open before their converter changes, and close after it. Returns IS_LOST if a converter does not
 * answer, IS_BACK if one answers again whose relay was opened: that closes a second later, softly.
 */
static uint8_t give(const photoperiod_output *outputs)
{
    uint8_t has_opened = 0, will_close = 0, found = 0;
    for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
        if (!outputs[n].relay) {
            open_relay(n);
            has_opened |= is_closed[n];
            is_closed[n] = 0;
        }
    }
    if (has_opened) {
        _delay_ms(RELAY_MS);
    }
    for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
        if (!set_level(levels[n], outputs[n].code)) {
            found |= IS_LOST;
            if (lost_s[n] <= LOST_S) {
                lost_s[n]++;
            }
            if (lost_s[n] > LOST_S) {
                open_relay(n);
                is_closed[n] = 0;
            }
        } else {
            if (lost_s[n] > LOST_S) {
                found |= IS_BACK;
            } else if (outputs[n].relay && !is_closed[n]) {
                will_close = 1;
            }
            lost_s[n] = 0;
        }
    }
    if (will_close && (found & IS_BACK) == 0u) {
        _delay_ms(LEVEL_MS);
        for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
            if (outputs[n].relay && lost_s[n] == 0u) {
                close_relay(n);
                is_closed[n] = 1;
            }
        }
    }
    return found;
}

/* The alarm light: lit while tables are played, blinking in the safe state, short gaps for an alarm. */
static void show(uint8_t status, uint8_t found)
{
#ifdef ALARM_LED
    static const struct pin led = ALARM_LED;
    static uint8_t beat;
    uint8_t is_lit = 1;
    beat = (uint8_t)((beat + 1u) & 3u);
    if (status & PHOTOPERIOD_SAFE) {
        is_lit = beat & 1u;
    } else if ((found & IS_LOST) || (status & (PHOTOPERIOD_EARLY | PHOTOPERIOD_EXPIRED))) {
        is_lit = beat != 0u;
    }
    *led.direction |= led.mask;
    if (is_lit) {
        *led.port |= led.mask;
    } else {
        *led.port &= (uint8_t)~led.mask;
    }
#endif
    (void)status;
    (void)found;
}

static void tell_state(const photoperiod_moment *moment, uint8_t status, uint8_t found,
                       const photoperiod_output *outputs)
{
    static uint8_t told = 0xFF;
    const uint8_t state = (uint8_t)(status | ((found & IS_LOST) ? 128u : 0u) | (is_known ? 64u : 0u));
    if (state == told && moment->second % 600u != 0u) {
        return;
    }
    told = state;
    if (!is_known) {
        tell(PSTR("no clock; "));
    } else {
        static const char marks[6] PROGMEM = {' ', ':', ':', ' ', '-', '-'};
        if (unconfirmed_s > 0u) {
            tell(PSTR("clock not confirmed since "));
        }
        tell(PSTR("20"));
        for (uint8_t at = 6; at > 0u; at--) {
            tell_number(of_bcd(bcd[at - 1u]), 2);
            tell_character((char)pgm_read_byte(&marks[at - 1u]));
        }
    }
    if (status & PHOTOPERIOD_SAFE) {
        tell(PSTR("safe "));
    }
    if (status & PHOTOPERIOD_EARLY) {
        tell(PSTR("early "));
    }
    if (status & PHOTOPERIOD_EXPIRED) {
        tell(PSTR("expired "));
    }
    if (status & PHOTOPERIOD_SOFT) {
        tell(PSTR("soft "));
    }
    for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
        tell(names[n]);
        tell_character(' ');
        tell_number(outputs[n].code, 1);
        tell(is_closed[n] ? PSTR(" on ") : PSTR(" off "));
        if (lost_s[n] != 0u) {
            tell(PSTR("(its converter does not answer) "));
        }
    }
    tell(PSTR("\r\n"));
}

static uint8_t is_stopped(void)
{
#ifdef STOP_SWITCH
    static const struct pin stop = STOP_SWITCH;
    return (*stop.input & stop.mask) != 0u; /* open, or its wire broken */
#else
    return 0;
#endif
}

int main(void)
{
    photoperiod_table table;
    photoperiod_moment moment = {0, 0, 0, 0, 0};
    photoperiod_output outputs[PHOTOPERIOD_OUTPUTS];
    uint8_t fault;

    for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
        open_relay(n);
    }
    wdt_enable(WDTO_8S); /* longer than the check of the largest table takes */
    start_levels();
    for (uint8_t n = 0; n < PHOTOPERIOD_OUTPUTS; n++) {
        (void)set_level(levels[n], 0);
    }
#ifdef STOP_SWITCH
    {
        static const struct pin stop = STOP_SWITCH;
        *stop.port |= stop.mask; /* pulled up: closed to ground lets the lamps go on */
    }
#endif
    UBRR0 = (uint16_t)((F_CPU + 8ul * 9600ul) / (16ul * 9600ul) - 1ul);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
    TCCR0A = _BV(WGM01);
    OCR0A = (uint8_t)(TICK_COUNTS - 1u);
    TIMSK0 = _BV(OCIE0A);
    TCCR0B = TICK_PRESCALER;
    SMCR = 0; /* sleep is idle: timers and bus go on */
    sei();

    fault = photoperiod_check(&table, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH);
    if (fault != PHOTOPERIOD_FINE) {
        tell(PSTR("the table is damaged: it is not played\r\n"));
    }
    if (!pins_differ()) {
        table.outputs = 0; /* plays dark and safe */
        tell(PSTR("pins.h: two channels have one pin; nothing is played\r\n"));
    }
    for (;;) {
        uint8_t status, found;
        if (look_at_clock()) {
            moment.since_start_s = 0;
        }
        moment.clock_valid = is_known;
        moment.day = (int32_t)(believed_s / PHOTOPERIOD_DAY_S);
        moment.second = believed_s % PHOTOPERIOD_DAY_S;
        moment.stopped = is_stopped();
        status = photoperiod_play(&table, &moment, outputs, PHOTOPERIOD_OUTPUTS);
        found = give(outputs);
        show(status, found);
        tell_state(&moment, status, found, outputs);
        if ((status & PHOTOPERIOD_SAFE) || (found & IS_BACK)) {
            moment.since_start_s = 0; /* after a safe state or a lost converter, softly */
        } else if (moment.since_start_s < PHOTOPERIOD_SOFT_START_OVER) {
            moment.since_start_s++;
        }
        wdt_reset();
        wait_for_next_second();
    }
}
