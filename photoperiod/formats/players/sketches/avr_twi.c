/*
 * The bus of clock and converter (I2C, 100 kHz): SDA is pin C4, SCL is pin C5, each pulled up to the
 * chips' supply. Each wait has an end, so that a bus that hangs does not stop this program.
 */

static uint8_t bus_answers(uint8_t wanted)
{
    for (uint16_t waits = 0; waits < 4000u; waits++) {
        if ((TWCR & _BV(TWINT)) != 0u) {
            return (TWSR & 0xF8u) == wanted;
        }
    }
    return 0;
}

static void end_on_bus(void)
{
    TWCR = _BV(TWINT) | _BV(TWSTO) | _BV(TWEN);
    for (uint16_t waits = 0; waits < 4000u && (TWCR & _BV(TWSTO)) != 0u; waits++) {
    }
}

static uint8_t begin_on_bus(uint8_t address, uint8_t reads)
{
    TWSR = 0;
    TWBR = (uint8_t)((F_CPU / 100000ul - 16ul) / 2ul);
    TWCR = _BV(TWINT) | _BV(TWSTA) | _BV(TWEN);
    if (!bus_answers(0x08) && (TWSR & 0xF8u) != 0x10u) {
        return 0;
    }
    TWDR = (uint8_t)(address << 1 | reads);
    TWCR = _BV(TWINT) | _BV(TWEN);
    return bus_answers(reads ? 0x40 : 0x18);
}

static uint8_t send_on_bus(uint8_t value)
{
    TWDR = value;
    TWCR = _BV(TWINT) | _BV(TWEN);
    return bus_answers(0x28);
}

static uint8_t write_on_bus(uint8_t address, const uint8_t *bytes, uint8_t length)
{
    uint8_t is_fine = begin_on_bus(address, 0);
    for (uint8_t at = 0; is_fine && at < length; at++) {
        is_fine = send_on_bus(bytes[at]);
    }
    end_on_bus();
    return is_fine;
}

/* Reads bytes that begin at a register of a chip. */
static uint8_t read_on_bus(uint8_t address, uint8_t from, uint8_t *bytes, uint8_t length)
{
    uint8_t is_fine =
        begin_on_bus(address, 0) && send_on_bus(from) && begin_on_bus(address, 1);
    for (uint8_t at = 0; is_fine && at < length; at++) {
        const uint8_t goes_on = at + 1u < length;
        TWCR = (uint8_t)(_BV(TWINT) | _BV(TWEN) | (goes_on ? _BV(TWEA) : 0));
        is_fine = bus_answers(goes_on ? 0x50 : 0x58);
        bytes[at] = TWDR;
    }
    end_on_bus();
    return is_fine;
}

/* A chip that was interrupted while it answered may hold SDA low: clock it on until it lets go. */
static void recover_bus(void)
{
    TWCR = 0;
    PORTC &= (uint8_t)~(_BV(4) | _BV(5));
    for (uint8_t pulses = 0; pulses < 9u && (PINC & _BV(4)) == 0u; pulses++) {
        DDRC |= _BV(5);
        _delay_us(10);
        DDRC &= (uint8_t)~_BV(5);
        _delay_us(10);
    }
}
