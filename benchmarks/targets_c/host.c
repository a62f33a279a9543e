/* Plays days of the built-in image, as often as the first argument says. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "photoperiod.h"

int main(int count, char **words)
{
    const long days = count > 1 ? atol(words[1]) : 1;
    uint32_t sum = 0;
    photoperiod_table table;
    photoperiod_moment moment;
    photoperiod_output outputs[PHOTOPERIOD_OUTPUTS];
    memset(&moment, 0, sizeof moment);
    photoperiod_check(&table, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH);
    moment.day = DAY;
    moment.clock_valid = 1;
    moment.since_start_s = PHOTOPERIOD_SOFT_START_OVER;
    for (long day = 0; day < days; day++) {
        for (moment.second = 0; moment.second < 86400u; moment.second += 61u) {
            photoperiod_play(&table, &moment, outputs, PHOTOPERIOD_OUTPUTS);
            sum += outputs[0].count;
        }
    }
    printf("%u\n", (unsigned)sum);
    return 0;
}
