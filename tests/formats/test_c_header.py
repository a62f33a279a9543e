"""The C header: what stands in it. Compilers read it in tests/targets."""

from __future__ import annotations

import re
import zlib

import pytest

from photoperiod.formats import c_header
from photoperiod.formats.image import encode
from tests.formats.evil import EVIL, evil_about
from tests.targets.images import HARD, about, image


def test_header_tells_rows_channels_and_where_they_are() -> None:
    made = HARD["dated-and-shared"]
    text = c_header.render(made, about(made)).decode()
    assert "#define PHOTOPERIOD_OUTPUTS 2\n" in text
    assert "#define PHOTOPERIOD_CHANNEL_LAMP_1 1 /* Lamp 1 */\n" in text
    assert "    /* from 2027-03-28: lamp-0 set 1, lamp-1 set 0 */\n" in text
    told, row = "set 0, 10:00  count 850, 85 %, relay closed", "0xA0, 0x8C, 0x02, 0x52, 0x03,"
    assert f"    /* {told} */\n    {row}\n" in text
    assert "    /* set 1, 07:00  count 0, 0 %, relay open */\n" in text


@pytest.mark.parametrize("name", HARD)
def test_the_bytes_in_the_header_are_the_image(name: str) -> None:
    made = HARD[name]
    text = c_header.render(made, about(made)).decode()
    array = text.partition("photoperiod_image[]")[2].partition("};")[0]
    listed = bytes(int(byte, 16) for byte in re.findall(r"0x([0-9A-F]{2}),", array))
    assert listed == encode(made)
    assert f"#define PHOTOPERIOD_IMAGE_LENGTH {len(listed)}ul\n" in text
    assert f"#define PHOTOPERIOD_IMAGE_CRC32 0x{zlib.crc32(listed[:-4]):08X}ul\n" in text
    assert ("#define PHOTOPERIOD_WIDE\n" in text) is made.is_wide


@pytest.mark.parametrize("text", EVIL)
def test_the_comment_at_the_top_ends_where_it_should(text: str) -> None:
    made = image([(0, 1)])
    header = c_header.render(made, evil_about(made, text)).decode()
    top, _, rest = header.partition(" */\n")
    assert top.startswith("/*\n") and "*/" not in top
    assert rest.startswith("#ifdef PHOTOPERIOD_IMAGE_CRC32\n")
    assert all(line.startswith(" *") for line in top.splitlines()[1:])
