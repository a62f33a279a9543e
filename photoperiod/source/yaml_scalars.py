"""What a plain word of YAML means by the YAML 1.2 core schema.

``7:30`` and ``on`` are text, ``010`` is ten. Infinity, not-a-number and endless digits are refused.
"""

from __future__ import annotations

import math
import re
from typing import Any

MAX_NUMBER_LENGTH = 40

_NULL = re.compile(r"(?:null|Null|NULL|~|)\Z")
_BOOL = re.compile(r"(?:true|True|TRUE|false|False|FALSE)\Z")
_INT = re.compile(r"[-+]?[0-9]+\Z")
_OCTAL = re.compile(r"0o[0-7]+\Z")
_HEX = re.compile(r"0x[0-9a-fA-F]+\Z")
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?\Z")
_NOT_FINITE = re.compile(r"(?:[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))\Z")


def core_value(text: str) -> tuple[Any, str]:
    """Return the value of a plain scalar and its kind.

    Returns
    -------
    value : None, bool, int, float or str
        0 for a number that is refused.
    kind : str
        ``null``, ``bool``, ``int``, ``float`` or ``str``; for a number that is refused a sentence
        that says why.
    """
    if _NULL.match(text):
        return None, "null"
    if _BOOL.match(text):
        return text[0] in "tT", "bool"
    if _NOT_FINITE.match(text):
        return 0, f"'{text}' is not a finite number"
    patterns = ((_INT, 10), (_OCTAL, 8), (_HEX, 16), (_FLOAT, 0))
    base = next((base for pattern, base in patterns if pattern.match(text)), None)
    if base is None:
        return text, "str"
    if len(text) > MAX_NUMBER_LENGTH:
        return 0, f"a number of {len(text):,} characters; at most {MAX_NUMBER_LENGTH} make sense"
    if base:
        return int(text if base == 10 else text[2:], base), "int"
    value = float(text)
    if math.isinf(value):
        return 0, f"'{text}' is too large for a number"
    return value, "float"
