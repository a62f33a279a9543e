# Days since 2000-01-01 of a date. Years are taken from March: a leap day is the last of its year.
def day_of(year, month, day):
    years, from_march = year - (month < 3), (month + 9) % 12
    return (
        365 * years + years // 4 - years // 100 + years // 400
        + (153 * from_march + 2) // 5 + day - 730426
    )  # fmt: skip


# The number that two digits stand for, None if they are none.
def of_bcd(value):
    return None if value & 15 > 9 or value >> 4 > 9 else 10 * (value >> 4) + (value & 15)


# Seconds since 2000-01-01 of second, minute, hour, day, month, year, None if there is no such time.
def time_of(bcd):
    values = [of_bcd(value) for value in bcd]
    if None in values:
        return None
    second, minute, hour, day, month, year = values
    if second > 59 or minute > 59 or hour > 23 or not 1 <= day <= 31 or not 1 <= month <= 12:
        return None
    return day_of(2000 + year, month, day) * 86400 + 3600 * hour + 60 * minute + second
