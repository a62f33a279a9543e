"""The language reference as Markdown, made from the schema of the schedule."""

from __future__ import annotations

from typing import Any

_INTRO = """\
# The schedule language, version 1

`photoperiod schema --markdown` makes this page from `schemas/schedule.schema.json`; a test keeps it up
to date. Do not edit it by hand.

A schedule is one YAML 1.2 file. A key that is not listed here is an error; it is never ignored. Units
stand at the end of keys. `7:30` and `on` are text, `010` is ten, and a mapping may hold a key only once.
Times may stand with or without quotes. A key that you must write has no default, because a default
would have to guess your hardware.

Words: *light* is what a channel gives, in percent of its full light; *level* is the control voltage, in
percent of 10 V. PPFD is what reef keepers call PAR; DLI is its sum over a day.

If a mapping has variants, its key `kind` says which one it is.
"""


#: Definitions of text values, in the order of the page.
_FORMS = (
    "id", "label", "clock_time", "end_time", "day_time", "end_day_time", "date", "moment", "clock",
    "ramp_shape",
)  # fmt: skip


def render_language(schema: Any, parts: Any) -> str:
    """Return the reference as Markdown.

    Parameters
    ----------
    schema, parts : Any
        The JSON Schemas of a schedule and of a file of parts, as data.
    """
    definitions = schema["$defs"]
    lines = [_INTRO, "## The file", "", schema["description"], ""]
    lines += _table(schema, definitions)
    seen: set[str] = set()
    _append(schema, definitions, seen, lines)
    lines += ["", "## A file of parts", "", parts["description"], ""]
    lines += _table(parts, parts["$defs"])
    _append(parts, parts["$defs"], seen, lines)
    lines += ["", "## Forms of text", ""]
    for name in _FORMS:
        lines.append(
            f"- {_anchor(name)}**{_title(name, definitions)}**: {_about(definitions[name])}"
        )
    lines += ["", "A time of day written as a mapping:", ""]
    lines += _table(definitions["day_time"], definitions)
    return "\n".join(lines) + "\n"


def _append(node: Any, definitions: Any, seen: set[str], lines: list[str]) -> None:
    """Append a section for each mapping that a node refers to, in the order of the file."""
    for name in _references(node):
        target = definitions[name]
        if name in seen or target.get("type") != "object":
            continue
        seen.add(name)
        level = "###" if "const" in str(target.get("properties", {}).get("kind", "")) else "##"
        lines += ["", f"{level} {_anchor(name)}{_title(name, definitions)}", ""]
        lines += [target["description"], ""]
        if "allOf" in target:
            lines += _variants(target, definitions)
        else:
            lines += _table(target, definitions)
        _append(target, definitions, seen, lines)


def _references(node: Any) -> list[str]:
    found = []
    if isinstance(node, dict):
        if "$ref" in node:
            found.append(node["$ref"].rsplit("/", 1)[-1])
        for key, value in node.items():
            if key not in ("$defs", "propertyNames"):
                found += _references(value)
    elif isinstance(node, list):
        for value in node:
            found += _references(value)
    return found


def _variants(node: Any, definitions: Any) -> list[str]:
    lines = []
    for branch in node["allOf"]:
        kind = branch["if"]["properties"]["kind"]["const"]
        name = branch["then"]["$ref"].rsplit("/", 1)[-1]
        lines.append(
            f"- `kind: {kind}`: {_link(name, definitions)}. {definitions[name]['description']}"
        )
    reserved = node["properties"]["kind"].get("x-reserved", {}).get("values", {})
    lines += [f"- `kind: {kind}`: reserved; {message}." for kind, message in reserved.items()]
    return lines


def _table(node: Any, definitions: Any) -> list[str]:
    required = node.get("required", [])
    inner: list[str] = []
    lines = ["| key | value | needed | meaning |", "| --- | --- | --- | --- |"]
    for key, about in node["properties"].items():
        if key == "kind":
            continue
        if key in node.get("then", {}).get("required", ()):
            needed = f"without `{node['if']['not']['required'][0]}`"
        else:
            needed = "yes" if key in required else _default(about, definitions)
        lines.append(
            f"| `{key}` | {_value(about, definitions)} | {needed} | {_cell(about, definitions)} |"
        )
        item = about.get("items", about)
        if item.get("type") == "object" and "properties" in item:
            inner += ["", f"Each of `{key}`:" if "items" in about else f"`{key}`:", ""]
            inner += _table(item, definitions)
    return (lines if len(lines) > 2 else ["It has no keys but `kind`."]) + inner


def _default(about: Any, definitions: Any) -> str:
    target = definitions.get(about.get("$ref", "").rsplit("/", 1)[-1], {})
    value = about.get("default", target.get("default"))
    if value is None:
        return "no"
    return f"no; `{str(value).lower() if isinstance(value, bool) else value}`"


def _value(about: Any, definitions: Any) -> str:
    if "$ref" in about:
        return _link(about["$ref"].rsplit("/", 1)[-1], definitions)
    if "x-reserved" in about and "message" in about["x-reserved"]:
        return "reserved"
    if "enum" in about:
        return ", ".join(f"`{value}`" for value in about["enum"])
    if "const" in about:
        return f"`{about['const']}`"
    kind = about.get("type", "")
    if isinstance(kind, list):  # each may be written
        return " or ".join(_value(about | {"type": each}, definitions) for each in kind)
    if kind in ("number", "integer"):
        return ("whole number" if kind == "integer" else "number") + _range(about)
    if kind == "array":
        items = about["items"]
        what = _value(items, definitions) if "$ref" in items or "enum" in items else items["type"]
        what = {"object": "mapping"}.get(what, what)
        return f"list of {what}"
    if kind == "object" and "additionalProperties" in about:
        inner = about["additionalProperties"]
        if isinstance(inner, dict):
            return f"mapping of id to {_value(inner, definitions)}"
    words = {"boolean": "true or false", "string": "text", "object": "mapping"}
    return words.get(str(kind), str(kind))


def _range(about: Any) -> str:
    parts = []
    if "minimum" in about:
        parts.append(f"at least {about['minimum']}")
    if "exclusiveMinimum" in about:
        parts.append(f"above {about['exclusiveMinimum']}")
    if "maximum" in about:
        parts.append(f"at most {about['maximum']:,}")
    return f", {', '.join(parts)}" if parts else ""


def _cell(about: Any, definitions: Any) -> str:
    text = _about(about)
    if not text and "$ref" in about:
        text = definitions[about["$ref"].rsplit("/", 1)[-1]]["description"]
    return text.replace("|", "\\|")


def _about(about: Any) -> str:
    text = str(about.get("description", ""))
    examples = about.get("examples")
    if examples and not isinstance(examples[0], dict):
        text += f" Example: `{examples[0]}`."
    return text


def _title(name: str, definitions: Any) -> str:
    return str(definitions[name].get("title", name.replace("_", " ")))


def _anchor(name: str) -> str:
    return f'<a id="{name}"></a>'


def _link(name: str, definitions: Any) -> str:
    return f"[{_title(name, definitions)}](#{name})"
