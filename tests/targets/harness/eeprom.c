/*
 * An ATmega328P that plays its built-in image from flash and one that it received from EEPROM, in
 * the same program: the highest bit of an address tells them apart. Here the second is the same
 * image, so that both must play alike; a byte of it is spoiled afterwards.
 */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#include <stdint.h>

#define IN_EEPROM 0x8000u
#define PHOTOPERIOD_ADDRESS uint16_t
#define PHOTOPERIOD_READ(at) read_byte(at)

static uint8_t read_byte(uint16_t at)
{
    return (at & IN_EEPROM) != 0u ? eeprom_read_byte((const uint8_t *)(at & ~IN_EEPROM))
                                  : pgm_read_byte(at);
}

#include "photoperiod.h"

#include "moments.h"

static void tell(uint8_t digit)
{
    while ((UCSR0A & _BV(UDRE0)) == 0) {
    }
    UDR0 = digit == 255u ? '\n' : (uint8_t)('0' + digit);
}

int main(void)
{
    photoperiod_table kept, received;
    photoperiod_moment moment = {DAY, 0, PHOTOPERIOD_SOFT_START_OVER, 1, 0};
    photoperiod_output one[PHOTOPERIOD_OUTPUTS], other[PHOTOPERIOD_OUTPUTS];
    uint8_t alike = 1, is_lit = 0;
    uint16_t at;
    UCSR0B = _BV(TXEN0);
    for (at = 0; at < PHOTOPERIOD_IMAGE_LENGTH; at++) {
        eeprom_write_byte((uint8_t *)at, pgm_read_byte(&photoperiod_image[at]));
    }
    tell(photoperiod_check(&kept, (uint16_t)photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH));
    tell(photoperiod_check(&received, IN_EEPROM, PHOTOPERIOD_IMAGE_LENGTH));
    for (; moment.second < 86400ul; moment.second += DAY_STEP_S) {
        uint8_t output;
        if (photoperiod_play(&kept, &moment, one, PHOTOPERIOD_OUTPUTS) !=
            photoperiod_play(&received, &moment, other, PHOTOPERIOD_OUTPUTS)) {
            alike = 0;
        }
        for (output = 0; output < PHOTOPERIOD_OUTPUTS; output++) {
            if (one[output].count != other[output].count || one[output].code != other[output].code ||
                one[output].relay != other[output].relay) {
                alike = 0;
            }
            if (other[output].count > 0u) {
                is_lit = 1;
            }
        }
    }
    tell(alike);
    tell(is_lit);
    eeprom_write_byte((uint8_t *)80, 0x5A);
    tell(photoperiod_check(&received, IN_EEPROM, PHOTOPERIOD_IMAGE_LENGTH));
    eeprom_update_dword((uint32_t *)36, 70000ul); /* it says so of itself, and 16 bits end before */
    tell(photoperiod_check(&received, IN_EEPROM, 70000ul));
    tell(photoperiod_play(&received, &moment, other, PHOTOPERIOD_OUTPUTS));
    tell(255);
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
