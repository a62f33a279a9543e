/*
 * The photoperiod player for controllers, after docs/player.md. C99, also C++11.
 *
 * No heap, no floating point, no recursion, and nothing that is written but what the caller hands
 * in. Each number has a fixed width, because an 8-bit controller's int has 16 bits.
 */
#ifndef PHOTOPERIOD_PLAYER_H
#define PHOTOPERIOD_PLAYER_H

#include <stdint.h>

/*
 * Where images lie. A plain pointer is read as it is; on AVR it is one to flash. To play what was
 * loaded into EEPROM, RAM or a chip of its own, define PHOTOPERIOD_READ(at) before this file is
 * included: it gives the byte at an address, and may look at the address to tell memories apart.
 * PHOTOPERIOD_ADDRESS is the address's type, a pointer to bytes or an unsigned integer.
 */
#ifndef PHOTOPERIOD_ADDRESS
#define PHOTOPERIOD_ADDRESS const uint8_t *
#endif
#if defined(__AVR__)
#include <avr/pgmspace.h>
#define PHOTOPERIOD_KEPT PROGMEM
/* Where in an image; no object is longer. Reading is called for, not repeated, to spare flash. */
typedef uint16_t photoperiod_offset;
#define PHOTOPERIOD_MOST_LENGTH 65535ul
#define PHOTOPERIOD_READER static __attribute__((noinline, unused))
#ifndef PHOTOPERIOD_READ
#define PHOTOPERIOD_READ(at) pgm_read_byte(at)
#endif
#else
#define PHOTOPERIOD_KEPT
typedef uint32_t photoperiod_offset;
#define PHOTOPERIOD_MOST_LENGTH 4294967295ul
#define PHOTOPERIOD_READER static inline
#ifndef PHOTOPERIOD_READ
#define PHOTOPERIOD_READ(at) (*(at))
#endif
#endif

/* What is reckoned with between rows and for codes. Images that say they are wide need 64 bits. */
#ifdef PHOTOPERIOD_WIDE
typedef int64_t photoperiod_number;
typedef uint64_t photoperiod_unsigned;
#else
typedef int32_t photoperiod_number;
typedef uint32_t photoperiod_unsigned;
#endif

/* Status bits of photoperiod_play. Early and expired are alarms: the tables go on. */
#define PHOTOPERIOD_SAFE 1u
#define PHOTOPERIOD_EARLY 2u
#define PHOTOPERIOD_EXPIRED 4u
#define PHOTOPERIOD_SOFT 8u

/* What photoperiod_check finds. */
#define PHOTOPERIOD_FINE 0u
#define PHOTOPERIOD_NO_IMAGE 1u      /* it does not begin as an image does */
#define PHOTOPERIOD_CUT_OFF 2u       /* its length is not what it says */
#define PHOTOPERIOD_OTHER_VERSION 3u /* of a later format */
#define PHOTOPERIOD_DAMAGED 4u       /* its checksum does not fit */
#define PHOTOPERIOD_UNPLAYABLE 5u    /* it holds what no player could play */
#define PHOTOPERIOD_TOO_WIDE 6u      /* compile with PHOTOPERIOD_WIDE to play it */
#define PHOTOPERIOD_TOO_LONG 7u      /* longer than this controller can address */

/* For since_start_s: the lamps have burned for longer than a soft start takes. */
#define PHOTOPERIOD_SOFT_START_OVER ((uint32_t)0xFFFFFFFFul)

#define PHOTOPERIOD_DAY_S ((uint32_t)86400ul)
#define PHOTOPERIOD_MOST_INT32 ((uint32_t)0x7FFFFFFFul)

/* Where things stand in an image, and how long they are. */
#define PHOTOPERIOD_HEADER_SIZE 72u
#define PHOTOPERIOD_OUTPUT_SIZE 12u
#define PHOTOPERIOD_SET_SIZE 6u
#define PHOTOPERIOD_ROW_SIZE 5u
#define PHOTOPERIOD_CODES_LISTED 255u
#define PHOTOPERIOD_HOLDS 1u
#define PHOTOPERIOD_STAYS 2u
#define PHOTOPERIOD_DATED 4u
#define PHOTOPERIOD_IS_WIDE 8u

/*
 * An image that was checked; photoperiod_check fills it in. One that is all zeros, or whose image
 * was refused, has 0 outputs and plays as the safe state.
 */
typedef struct {
    PHOTOPERIOD_ADDRESS image;
    photoperiod_offset tables_at;
    photoperiod_offset sets_at;
    photoperiod_offset rows_at;
    photoperiod_offset codes_at;
    uint8_t outputs;
} photoperiod_table;

/* A moment of the controller's clock, and what else decides. */
typedef struct {
    int32_t day;            /* days from 2000-01-01, see photoperiod_day */
    uint32_t second;        /* of the day, 0 to 86399; any other is an invalid clock */
    uint32_t since_start_s; /* since the lamps came from the dark by a start, safe state or stop */
    uint8_t clock_valid;    /* not 0 if day and second can be trusted */
    uint8_t stopped;        /* not 0 if a person has stopped the lamps */
} photoperiod_moment;

/* What an output is given: a level, the converter's code for it, 1 for a closed relay. */
typedef struct {
    uint16_t count;
    uint16_t code;
    uint8_t relay;
} photoperiod_output;

/* Reading, little-endian. */

PHOTOPERIOD_READER uint8_t photoperiod_u8(PHOTOPERIOD_ADDRESS image, photoperiod_offset at)
{
    return (uint8_t)PHOTOPERIOD_READ(image + at);
}

PHOTOPERIOD_READER uint16_t photoperiod_u16(PHOTOPERIOD_ADDRESS image, photoperiod_offset at)
{
    const unsigned low = photoperiod_u8(image, at);
    const unsigned high = photoperiod_u8(image, at + 1u);
    return (uint16_t)(high << 8 | low);
}

PHOTOPERIOD_READER uint32_t photoperiod_u32(PHOTOPERIOD_ADDRESS image, photoperiod_offset at)
{
    const uint32_t low = photoperiod_u16(image, at);
    const uint32_t high = photoperiod_u16(image, at + 2u);
    return high << 16 | low;
}

/* Of rows: the second of the day, and whether the relay is closed. */
PHOTOPERIOD_READER uint32_t photoperiod_second_of(PHOTOPERIOD_ADDRESS image,
                                                  photoperiod_offset row_at)
{
    const uint32_t low = photoperiod_u16(image, row_at);
    const uint32_t high = photoperiod_u8(image, row_at + 2u) & 1u;
    return high << 16 | low;
}

PHOTOPERIOD_READER uint16_t photoperiod_count_of(PHOTOPERIOD_ADDRESS image,
                                                 photoperiod_offset row_at)
{
    return photoperiod_u16(image, row_at + 3u);
}

/* Return a date's number in days from 2000-01-01, which is 0. */
static inline int32_t photoperiod_day(uint16_t year, uint8_t month, uint8_t day)
{
    /* Years are taken from March, so that a leap day is the last of its year. */
    const int32_t from_march = (int32_t)((month + 9u) % 12u);
    const int32_t years = (int32_t)year - (month < 3u ? 1 : 0);
    return 365 * years + years / 4 - years / 100 + years / 400 + (153 * from_march + 2) / 5 +
           (int32_t)day - 730426;
}

/* Checking */

static inline uint32_t photoperiod_crc32(PHOTOPERIOD_ADDRESS image, photoperiod_offset length)
{
    uint32_t crc = 0xFFFFFFFFul;
    for (photoperiod_offset at = 0; at < length; at++) {
        crc ^= photoperiod_u8(image, at);
        for (uint8_t bit = 0; bit < 8u; bit++) {
            crc = (crc & 1u) != 0u ? (crc >> 1) ^ 0xEDB88320ul : crc >> 1;
        }
    }
    return crc ^ 0xFFFFFFFFul;
}

/* True if what is reckoned between two rows needs more than 31 bits and a sign. */
static inline uint8_t photoperiod_is_long(uint16_t count, uint16_t next, uint32_t length_s)
{
    const uint32_t change = count < next ? (uint32_t)next - count : (uint32_t)count - next;
    return 2u * change + 1u > PHOTOPERIOD_MOST_INT32 / length_s;
}

/*
 * Return whether the rows of all sets can be played, and where they end by *end. *wide becomes 1 if
 * two rows are far apart. Sets begin at `at`; before the call, *end is where they may end at most.
 */
static inline uint8_t photoperiod_check_sets(PHOTOPERIOD_ADDRESS image, photoperiod_offset at,
                                             photoperiod_offset *end, uint8_t *wide)
{
    const uint16_t top_count = photoperiod_u16(image, 12);
    const uint16_t sets = photoperiod_u16(image, 24);
    photoperiod_offset row_at = at + sets * (photoperiod_offset)PHOTOPERIOD_SET_SIZE;
    uint32_t total = 0;
    for (uint16_t set = 0; set < sets; set++, at += PHOTOPERIOD_SET_SIZE) {
        const uint16_t rows = photoperiod_u16(image, at + 4u);
        const photoperiod_offset first = row_at;
        if (photoperiod_u32(image, at) != total || rows == 0u) {
            return 0;
        }
        if ((*end - row_at) / PHOTOPERIOD_ROW_SIZE < rows) {
            return 0;
        }
        for (uint16_t row = 0; row < rows; row++, row_at += PHOTOPERIOD_ROW_SIZE) {
            const uint32_t second = photoperiod_second_of(image, row_at);
            const uint16_t count = photoperiod_count_of(image, row_at);
            if (photoperiod_u8(image, row_at + 2u) > 3u || second >= PHOTOPERIOD_DAY_S ||
                count > top_count) {
                return 0;
            }
            if (row > 0u) {
                const photoperiod_offset before = row_at - PHOTOPERIOD_ROW_SIZE;
                const uint32_t second_before = photoperiod_second_of(image, before);
                if (second <= second_before) {
                    return 0;
                }
                if (photoperiod_is_long(photoperiod_count_of(image, before), count,
                                        second - second_before)) {
                    *wide = 1;
                }
            }
        }
        if ((photoperiod_u8(image, 5) & PHOTOPERIOD_STAYS) == 0u) {
            const photoperiod_offset last = row_at - PHOTOPERIOD_ROW_SIZE;
            const uint32_t night_s = photoperiod_second_of(image, first) + PHOTOPERIOD_DAY_S -
                                     photoperiod_second_of(image, last);
            if (photoperiod_is_long(photoperiod_count_of(image, last),
                                    photoperiod_count_of(image, first), night_s)) {
                *wide = 1;
            }
        }
        total += rows;
    }
    *end = row_at;
    return 1;
}

/*
 * Return whether the codes of the converter can be reckoned, or are listed, from `at` to *end. *wide
 * becomes 1 if a code needs more than 31 bits on its way.
 */
static inline uint8_t photoperiod_check_codes(PHOTOPERIOD_ADDRESS image, photoperiod_offset at,
                                              photoperiod_offset *end, uint8_t *wide)
{
    const uint16_t top_count = photoperiod_u16(image, 12);
    const uint32_t factor = photoperiod_u32(image, 28);
    const uint32_t addend = photoperiod_u32(image, 32);
    const uint8_t shift = photoperiod_u8(image, 26);
    if (shift == PHOTOPERIOD_CODES_LISTED) {
        if (factor != 0u || addend != 0u || (*end - at) / 2u <= top_count) {
            return 0;
        }
        for (uint32_t count = 0; count <= top_count; count++, at += 2u) {
            if (photoperiod_u16(image, at) > photoperiod_u16(image, 14)) {
                return 0;
            }
        }
    } else {
        const uint32_t more = addend > PHOTOPERIOD_MOST_INT32 ? 0u : addend;
        if (shift > 24u || factor > PHOTOPERIOD_MOST_INT32) {
            return 0;
        }
        if (top_count > 0u && factor > (PHOTOPERIOD_MOST_INT32 - more) / top_count) {
            *wide = 1;
        }
    }
    *end = at;
    return 1;
}

/* Return whether outputs and tables can be played, and where they end by *end. */
static inline uint8_t photoperiod_check_tables(PHOTOPERIOD_ADDRESS image, photoperiod_offset *end)
{
    const uint8_t outputs = photoperiod_u8(image, 9);
    const uint16_t top_count = photoperiod_u16(image, 12);
    const uint16_t tables = photoperiod_u16(image, 22);
    const photoperiod_offset table_size = 2u + 2u * (photoperiod_offset)outputs;
    photoperiod_offset at = PHOTOPERIOD_HEADER_SIZE;
    uint16_t before = 0;
    if ((*end - at) / PHOTOPERIOD_OUTPUT_SIZE < outputs) {
        return 0;
    }
    for (uint8_t output = 0; output < outputs; output++, at += PHOTOPERIOD_OUTPUT_SIZE) {
        const uint16_t snap_to = photoperiod_u16(image, at + 2u);
        if (photoperiod_u16(image, at) > snap_to || snap_to > top_count ||
            photoperiod_u16(image, at + 6u) > top_count ||
            photoperiod_u16(image, at + 8u) > top_count || photoperiod_u8(image, at + 10u) > 1u ||
            photoperiod_u8(image, at + 11u) != 0u) {
            return 0;
        }
    }
    if ((*end - at) / table_size < tables) {
        return 0;
    }
    for (uint16_t table = 0; table < tables; table++) {
        const uint16_t day = photoperiod_u16(image, at);
        if (table == 0u ? day != photoperiod_u16(image, 18) : day <= before) {
            return 0;
        }
        before = day;
        at += 2u;
        for (uint8_t output = 0; output < outputs; output++, at += 2u) {
            if (photoperiod_u16(image, at) >= photoperiod_u16(image, 24)) {
                return 0;
            }
        }
    }
    *end = at;
    return before <= photoperiod_u16(image, 20);
}

/* Return whether the header holds words and numbers that there are. */
static inline uint8_t photoperiod_check_header(PHOTOPERIOD_ADDRESS image)
{
    const uint8_t flags = photoperiod_u8(image, 5);
    const uint16_t every_s = photoperiod_u16(image, 10);
    const uint16_t first_day = photoperiod_u16(image, 18);
    const uint16_t last_day = photoperiod_u16(image, 20);
    const uint16_t tables = photoperiod_u16(image, 22);
    if (flags > 15u || photoperiod_u8(image, 27) != 0u || photoperiod_u8(image, 6) > 2u ||
        photoperiod_u8(image, 7) > 2u || photoperiod_u8(image, 8) > 2u) {
        return 0;
    }
    if (photoperiod_u8(image, 9) == 0u || tables == 0u || photoperiod_u16(image, 24) == 0u) {
        return 0;
    }
    if (every_s == 0u || PHOTOPERIOD_DAY_S % every_s != 0u) {
        return 0;
    }
    if ((flags & PHOTOPERIOD_DATED) == 0u && (first_day != 0u || last_day != 0u || tables != 1u)) {
        return 0;
    }
    return first_day <= last_day;
}

/*
 * Look through an image of `length` bytes, once, and fill in the table to play it by. Nothing
 * beyond the length is read, whatever the bytes are. Returns PHOTOPERIOD_FINE, or why not.
 */
static inline uint8_t photoperiod_check(photoperiod_table *table, PHOTOPERIOD_ADDRESS image,
                                        uint32_t length)
{
    photoperiod_offset sum_at, end;
    uint8_t wide = 0;
    table->image = image;
    table->tables_at = table->sets_at = table->rows_at = table->codes_at = 0;
    table->outputs = 0;
    if (length < 4u || photoperiod_u32(image, 0) != 0x50544850ul) {
        return PHOTOPERIOD_NO_IMAGE;
    }
    if (length < PHOTOPERIOD_HEADER_SIZE + 4u) {
        return PHOTOPERIOD_CUT_OFF;
    }
    if (photoperiod_u8(image, 4) != 1u) {
        return PHOTOPERIOD_OTHER_VERSION;
    }
    if (photoperiod_u32(image, 36) != length) {
        return PHOTOPERIOD_CUT_OFF;
    }
#if PHOTOPERIOD_MOST_LENGTH < 4294967295ul
    if (length > PHOTOPERIOD_MOST_LENGTH) {
        return PHOTOPERIOD_TOO_LONG;
    }
#endif
    sum_at = (photoperiod_offset)(length - 4u);
    if (photoperiod_crc32(image, sum_at) != photoperiod_u32(image, sum_at)) {
        return PHOTOPERIOD_DAMAGED;
    }
    if (!photoperiod_check_header(image)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
    table->tables_at = PHOTOPERIOD_HEADER_SIZE + photoperiod_u8(image, 9) * PHOTOPERIOD_OUTPUT_SIZE;
    end = sum_at;
    if (!photoperiod_check_tables(image, &end)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
    table->sets_at = end;
    if ((sum_at - end) / PHOTOPERIOD_SET_SIZE < photoperiod_u16(image, 24)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
    table->rows_at = end + photoperiod_u16(image, 24) * (photoperiod_offset)PHOTOPERIOD_SET_SIZE;
    end = sum_at;
    if (!photoperiod_check_sets(image, table->sets_at, &end, &wide)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
    table->codes_at = end;
    end = sum_at;
    if (!photoperiod_check_codes(image, table->codes_at, &end, &wide)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
    if (sum_at - end < 4u || photoperiod_u32(image, end) != (uint32_t)(sum_at - end - 4u)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
    if (wide != ((photoperiod_u8(image, 5) & PHOTOPERIOD_IS_WIDE) != 0u)) {
        return PHOTOPERIOD_UNPLAYABLE;
    }
#ifndef PHOTOPERIOD_WIDE
    if (wide) {
        return PHOTOPERIOD_TOO_WIDE;
    }
#endif
    table->outputs = photoperiod_u8(image, 9);
    return PHOTOPERIOD_FINE;
}

/* Playing */

/* Rule 2: where the number of each output's set stands on a day. */
static inline photoperiod_offset photoperiod_table_on(const photoperiod_table *table, int32_t day)
{
    const photoperiod_offset size = 2u + 2u * (photoperiod_offset)table->outputs;
    uint16_t low = 0; /* tables before it have begun, those from high on have not */
    uint16_t high = photoperiod_u16(table->image, 22);
    while (low < high) {
        const uint16_t middle = (uint16_t)(low + (high - low) / 2u);
        if ((int32_t)photoperiod_u16(table->image, table->tables_at + middle * size) <= day) {
            low = (uint16_t)(middle + 1u);
        } else {
            high = middle;
        }
    }
    return table->tables_at + (low > 0u ? low - 1u : 0u) * size + 2u;
}

/* Rule 5: what a level has moved since its row, t_s of length_s seconds ago. */
static inline photoperiod_number photoperiod_moved(photoperiod_number change, uint32_t t_s,
                                                   uint32_t length_s, uint8_t rounding)
{
    const photoperiod_number length = (photoperiod_number)length_s;
    const photoperiod_number product = change * (photoperiod_number)t_s;
    if (rounding == 0u) {
        return product >= 0 ? (2 * product + length) / (2 * length)
                            : -((-2 * product + length - 1) / (2 * length));
    }
    if (rounding == 1u && product < 0) {
        return -((-product + length - 1) / length);
    }
    return product >= 0 ? product / length : -(-product / length);
}

/* Rules 4 and 5: the count at a moment, and where its row stands by *row_at. */
static inline uint16_t photoperiod_level(const photoperiod_table *table, uint16_t set,
                                         uint32_t now_s, photoperiod_offset *row_at)
{
    PHOTOPERIOD_ADDRESS image = table->image;
    const uint8_t flags = photoperiod_u8(image, 5);
    const photoperiod_offset set_at =
        table->sets_at + set * (photoperiod_offset)PHOTOPERIOD_SET_SIZE;
    const photoperiod_offset first =
        table->rows_at + (photoperiod_offset)photoperiod_u32(image, set_at) * PHOTOPERIOD_ROW_SIZE;
    const uint16_t rows = photoperiod_u16(image, set_at + 4u);
    uint16_t low = 0; /* rows before it have begun, those from high on have not */
    uint16_t high = rows;
    photoperiod_offset next_at;
    uint32_t begin_s, t_s, length_s;
    uint16_t count, next;
    while (low < high) {
        const uint16_t middle = (uint16_t)(low + (high - low) / 2u);
        const photoperiod_offset middle_at =
            first + middle * (photoperiod_offset)PHOTOPERIOD_ROW_SIZE;
        if (photoperiod_second_of(image, middle_at) <= now_s) {
            low = (uint16_t)(middle + 1u);
        } else {
            high = middle;
        }
    }
    if (low > 0u) {
        *row_at = first + (low - 1u) * (photoperiod_offset)PHOTOPERIOD_ROW_SIZE;
    } else if ((flags & PHOTOPERIOD_STAYS) != 0u) {
        *row_at = first;
    } else {
        *row_at = first + (rows - 1u) * (photoperiod_offset)PHOTOPERIOD_ROW_SIZE;
    }
    count = photoperiod_count_of(image, *row_at);
    if ((flags & PHOTOPERIOD_HOLDS) != 0u ||
        ((flags & PHOTOPERIOD_STAYS) != 0u && (low == 0u || low == rows))) {
        return count;
    }
    next_at = low == 0u || low == rows ? first : *row_at + PHOTOPERIOD_ROW_SIZE;
    next = photoperiod_count_of(image, next_at);
    if (next == count) {
        return count;
    }
    begin_s = photoperiod_second_of(image, *row_at);
    t_s = (now_s < begin_s ? PHOTOPERIOD_DAY_S : 0u) + now_s - begin_s;
    length_s = photoperiod_second_of(image, next_at);
    length_s = (length_s <= begin_s ? PHOTOPERIOD_DAY_S : 0u) + length_s - begin_s;
    return (uint16_t)((photoperiod_number)count +
                      photoperiod_moved((photoperiod_number)next - (photoperiod_number)count, t_s,
                                        length_s, photoperiod_u8(image, 7)));
}

/* Rule 6: the largest count that a soft start allows. */
static inline uint16_t photoperiod_ceiling(const photoperiod_table *table,
                                           photoperiod_offset output_at,
                                           uint32_t since_start_s)
{
    const uint32_t whole_s = 60u * (uint32_t)photoperiod_u16(table->image, 16);
    const uint16_t top = photoperiod_u16(table->image, 12);
    const uint16_t soft = photoperiod_u16(table->image, output_at + 8u);
    const uint16_t rise = (uint16_t)(top - soft);
    uint32_t part = 0, rest = 0;
    if (since_start_s >= whole_s) {
        return top;
    }
    /* rise * since / whole, bit by bit: the product can have 38 bits */
    for (uint16_t bit = 0x8000u; bit > 0u; bit = (uint16_t)(bit >> 1)) {
        part *= 2u;
        rest = 2u * rest + ((rise & bit) != 0u ? since_start_s : 0u);
        while (rest >= whole_s) {
            rest -= whole_s;
            part++;
        }
    }
    return (uint16_t)(soft + part);
}

/* Rule 9: the converter's code of a count. */
static inline uint16_t photoperiod_code(const photoperiod_table *table, uint16_t count)
{
    PHOTOPERIOD_ADDRESS image = table->image;
    const uint8_t shift = photoperiod_u8(image, 26);
    const uint16_t full_code = photoperiod_u16(image, 14);
    const uint32_t addend = photoperiod_u32(image, 32);
    photoperiod_unsigned scaled;
    if (shift == PHOTOPERIOD_CODES_LISTED) {
        return photoperiod_u16(image, table->codes_at + 2u * (photoperiod_offset)count);
    }
    scaled = (photoperiod_unsigned)count * photoperiod_u32(image, 28);
    if (addend > PHOTOPERIOD_MOST_INT32) { /* it is below zero */
        const uint32_t less = 0u - addend;
        scaled = scaled > less ? scaled - less : 0u;
    } else {
        scaled += addend;
    }
    scaled >>= shift;
    return scaled < full_code ? (uint16_t)scaled : full_code;
}

/*
 * Fill in what `how_many` outputs are given at a moment, and return the status. Outputs that the
 * table does not have, and all of them if it was refused, get count 0, code 0 and an open relay.
 */
static inline uint8_t photoperiod_play(const photoperiod_table *table,
                                       const photoperiod_moment *moment,
                                       photoperiod_output *outputs, uint8_t how_many)
{
    PHOTOPERIOD_ADDRESS image = table->image;
    const uint8_t is_safe = table->outputs == 0u || !moment->clock_valid || moment->stopped ||
                            moment->second >= PHOTOPERIOD_DAY_S;
    uint8_t status = is_safe ? PHOTOPERIOD_SAFE : 0u;
    uint32_t now_s = 0;
    photoperiod_offset set_number_at = 0;
    photoperiod_offset at = PHOTOPERIOD_HEADER_SIZE;
    if (!is_safe) {
        if ((photoperiod_u8(image, 5) & PHOTOPERIOD_DATED) != 0u) {
            if (moment->day < (int32_t)photoperiod_u16(image, 18)) {
                status |= PHOTOPERIOD_EARLY;
            } else if (moment->day > (int32_t)photoperiod_u16(image, 20)) {
                status |= PHOTOPERIOD_EXPIRED;
            }
        }
        set_number_at = photoperiod_table_on(table, moment->day);
        now_s = moment->second - moment->second % photoperiod_u16(image, 10);
    }
    for (uint8_t output = 0; output < how_many; output++) {
        uint16_t count = 0;
        uint8_t relay = 0;
        if (output >= table->outputs) {
            outputs[output].count = 0;
            outputs[output].code = 0;
            outputs[output].relay = 0;
            continue;
        }
        if (is_safe) {
            count = photoperiod_u16(image, at + 6u);
            relay = photoperiod_u8(image, at + 10u);
        } else {
            const uint8_t relay_kind = photoperiod_u8(image, 6);
            const uint16_t ceiling = photoperiod_ceiling(table, at, moment->since_start_s);
            photoperiod_offset row_at;
            count = photoperiod_level(table, photoperiod_u16(image, set_number_at), now_s, &row_at);
            if (count > ceiling) {
                count = ceiling;
                status |= PHOTOPERIOD_SOFT;
            }
            if (relay_kind == 1u) {
                relay = (photoperiod_u8(image, row_at + 2u) & 2u) != 0u;
            } else {
                relay = relay_kind == 0u || count >= photoperiod_u16(image, at + 4u);
            }
            if (photoperiod_u16(image, at) <= count && count < photoperiod_u16(image, at + 2u)) {
                count = photoperiod_u16(image, at + 2u);
            }
            set_number_at += 2u;
        }
        if (!relay) {
            count = 0; /* a contact that is welded then gives the floor */
        }
        outputs[output].count = count;
        outputs[output].code = photoperiod_code(table, count);
        outputs[output].relay = relay;
        at += PHOTOPERIOD_OUTPUT_SIZE;
    }
    return status;
}

#endif /* PHOTOPERIOD_PLAYER_H */
