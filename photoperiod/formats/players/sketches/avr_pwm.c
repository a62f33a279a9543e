/*
 * Levels are pulses of timer 1 into a filter and an amplifier: output 1 on pin B1, output 2 on pin B2.
 * A pin is high for code of 2^LEVEL_BITS parts; code 0 takes the pin from the timer and holds it low,
 * for the timer itself would still give the shortest pulse.
 */

static void start_levels(void)
{
    PORTB &= (uint8_t)~(_BV(1) | _BV(2));
    DDRB |= _BV(1) | _BV(2);
    ICR1 = (uint16_t)((1ul << TIMER_BITS) - 1ul);
    TCCR1A = _BV(WGM11);
    TCCR1B = _BV(WGM13) | _BV(WGM12) | _BV(CS10);
}

static uint8_t set_level(uint8_t level, uint16_t code)
{
    const uint8_t pin = level == 1u ? _BV(COM1A1) : _BV(COM1B1);
    if (code == 0u) {
        TCCR1A &= (uint8_t)~pin;
        return 1;
    }
    if (level == 1u) {
        OCR1A = (uint16_t)((uint32_t)code << (TIMER_BITS - LEVEL_BITS)) - 1u;
    } else {
        OCR1B = (uint16_t)((uint32_t)code << (TIMER_BITS - LEVEL_BITS)) - 1u;
    }
    TCCR1A |= pin;
    return 1;
}
