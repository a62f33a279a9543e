# Runs in MicroPython beside an exported module: plays moments and a day, and looks through images.
# The file `orders` says what to do, one order a line; answers are written to `answers`.
import struct

import photoperiod_table as table


def write(out, found):
    status, outputs = found
    out.write(bytes([status]))
    for count, code, relay in outputs:
        out.write(struct.pack("<HHB", count, code, relay))


def main():
    play = table.load()
    with open("orders") as orders, open("answers", "wb") as out:
        for line in orders:
            what, *numbers = line.split()
            numbers = [int(number) for number in numbers]
            if what == "play":
                day, second, clock_valid, stopped, since = numbers
                since = None if since < 0 else since
                write(out, play(day, second, bool(clock_valid), bool(stopped), since))
            elif what == "day":
                day, step = numbers
                for second in range(0, 86400, step):
                    write(out, play(day, second))
            else:  # images: a file of lengths and bytes; 1 if one can be played
                looks = getattr(table, "is_playable", lambda image: True)
                with open("images", "rb") as images:
                    while True:
                        length = images.read(4)
                        if not length:
                            break
                        image = images.read(struct.unpack("<I", length)[0])
                        out.write(bytes([table.is_whole(image) and looks(image)]))


main()
