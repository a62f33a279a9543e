/*
 * Plays images on this machine, as tests/targets/players.py asks on standard input. With EXPORTED
 * the image is that of an exported header, which is included twice to see that this does no harm.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifdef EXPORTED
#include "photoperiod.h"
#include "photoperiod.h"
#else
#include "player.h"
#endif

static void want(void *into, size_t size)
{
    if (fread(into, 1, size, stdin) != size) {
        exit(3);
    }
}

static uint32_t number(void)
{
    uint32_t value;
    want(&value, sizeof value);
    return value;
}

static void play(const photoperiod_table *table, const photoperiod_moment *moment, uint8_t outputs)
{
    photoperiod_output found[256];
    uint8_t output;
    memset(found, 0xA5, sizeof found);
    putchar(photoperiod_play(table, moment, found, outputs));
    for (output = 0; output < outputs; output++) {
        fwrite(&found[output].count, 1, 2, stdout);
        fwrite(&found[output].code, 1, 2, stdout);
        putchar(found[output].relay);
    }
}

int main(void)
{
    photoperiod_table table;
    uint8_t *image = NULL;
    int order;
    memset(&table, 0, sizeof table);
    while ((order = getchar()) != EOF) {
        photoperiod_moment moment;
        uint8_t outputs;
        uint32_t length;
        if (order == 'L') { /* load an image: exactly its bytes, so that one too many is seen */
            length = number();
            free(image);
            image = (uint8_t *)malloc(length > 0u ? length : 1u);
            want(image, length);
            putchar(photoperiod_check(&table, image, length));
            putchar(table.outputs);
            continue;
        }
#ifdef EXPORTED
        if (order == 'B') { /* take the built-in image */
            putchar(photoperiod_check(&table, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH));
            putchar(table.outputs);
            continue;
        }
#endif
        if (order == 'N') { /* number of a date */
            uint32_t date = number();
            int32_t day = photoperiod_day((uint16_t)(date >> 16), (uint8_t)(date >> 8), (uint8_t)date);
            fwrite(&day, 1, 4, stdout);
            continue;
        }
        outputs = (uint8_t)number();
        moment.day = (int32_t)number();
        moment.second = number();
        moment.since_start_s = number();
        moment.clock_valid = (uint8_t)number();
        moment.stopped = (uint8_t)number();
        if (order == 'P') { /* play a moment */
            play(&table, &moment, outputs);
        } else { /* play a day */
            for (moment.second = 0; moment.second < 86400u; moment.second++) {
                play(&table, &moment, outputs);
            }
        }
    }
    free(image);
    return 0;
}
