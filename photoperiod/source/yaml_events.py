"""From YAML text to nodes with their places, by the events of the parser.

A text without surprises is parsed by libyaml, in a fiftieth of the time. Any other text, and each with a
fault, is parsed in Python: its words are those that people get, and they are the same with and without
libyaml.

Nothing is ever constructed from a tag, nesting costs no recursion, and every fault becomes a
diagnostic. No other module imports yaml at run time.
"""

from __future__ import annotations

import bisect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NoReturn

import yaml

from photoperiod.diagnostics.model import Diagnostic, Related, SourceRange
from photoperiod.source.yaml_scalars import core_value
from photoperiod.text import short

MAX_NODES = 20_000
MAX_DEPTH = 60

_KINDS = ("str", "int", "float", "bool", "null")
_CORE = "tag:yaml.org,2002:"
_SURROGATE = re.compile("[\ud800-\udfff]")

#: What ends a line, in YAML 1.2 and in what editors count.
LINE_END = re.compile(r"\r\n|\n|\r|\x85|\u2028|\u2029")


#: What only the parser in Python may judge, since the two differ there: rare characters and line ends
#: anywhere, and outside of whole lines of comment what begins keys, tags, directives and block scalars, and
#: tabs. Written as what is rare, not as what is common: that takes re a fifteenth of the time to compile.
_RARE = re.compile(
    r"\r(?!\n)|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff-\U0010ffff]"
)
_RISKY = re.compile(r"[\t?!|>]|^%", re.MULTILINE)
_COMMENT = re.compile(r"^ *#[^\n]*", re.MULTILINE)


def split_lines(text: str) -> list[str]:
    """Return the lines of a text without their ends."""
    return LINE_END.split(text)


@dataclass(slots=True)
class Node:
    """A value with its place; a mapping holds key: (range of the key, node), a list holds nodes."""

    value: Any
    source_range: SourceRange
    is_bad: bool = False


class Unreadable(Exception):
    """Reading can't go on; holds the diagnostic that says why."""

    def __init__(self, diagnostic: Diagnostic) -> None:
        super().__init__(diagnostic.message)
        self.diagnostic = diagnostic
        self.before: list[Diagnostic] = []  # faults in spite of which reading went on at first


class _Surprise(Exception):
    """The parser in Python must judge this text."""


@dataclass(slots=True)
class _Open:
    """A mapping or list that is still being read."""

    node: Node
    anchor: str | None
    key: str | None = None
    key_range: SourceRange | None = None
    key_is_bad: bool = False

    def wants_key(self) -> bool:
        return isinstance(self.node.value, dict) and self.key_range is None


def build_nodes(text: str) -> tuple[Node | None, list[Diagnostic]]:
    """Return the root of a text, and the faults in spite of which reading went on.

    Returns
    -------
    Node or None
        None if the text holds nothing.

    Raises
    ------
    Unreadable
        If reading can't go on.
    """
    if yaml.__with_libyaml__ and not _is_surprising(text):
        builder = Builder(text, yaml.CSafeLoader)
        try:
            root = builder.build()
        except (yaml.YAMLError, Unreadable, _Surprise, RecursionError, ValueError):
            pass
        else:
            if root is not None and not builder.diagnostics:
                return root, []
    builder = Builder(text)
    try:
        return builder.build(), builder.diagnostics
    except Unreadable as fault:
        fault.before = builder.diagnostics
        raise


def _is_surprising(text: str) -> bool:
    return bool(_RARE.search(text) or _RISKY.search(_COMMENT.sub("", text)))


class Builder:
    """Turns the parser's events into nodes.

    Mappings and lists that are still open stand on a stack of its own: deep nesting must not use up
    Python's. A bad part is recorded in `diagnostics`, marked as bad, and reading goes on.

    Parameters
    ----------
    text : str
        The YAML.
    loader : type
        The parser; what another one than that in Python is not sure of, it leaves by an exception.
    """

    def __init__(self, text: str, loader: Any = yaml.SafeLoader) -> None:
        self.text, self.loader = text, loader
        self.diagnostics: list[Diagnostic] = []
        ends = LINE_END.finditer(text)
        self.starts = [0, *(end.end() for end in ends)]
        self.stack: list[_Open] = []
        self.anchors: dict[str, Node] = {}
        self.open_anchors: set[str] = set()
        self.root: Node | None = None
        self.nodes = 0
        self.skip_depth = 0  # above 0 inside a key that is itself a list or mapping

    def build(self) -> Node | None:
        """Return the root, None if the text holds nothing; raise `Unreadable` if it can't go on."""
        documents = 0
        for event in self._events():
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._stop(
                        "PHO111",
                        "another document begins here",
                        event,
                        help="one file is one schedule: remove the rest or save it apart",
                    )
            elif self.skip_depth:
                self._skip(event)
            elif isinstance(event, yaml.ScalarEvent):
                self._scalar(event)
            elif isinstance(event, yaml.AliasEvent):
                self._alias(event)
            elif isinstance(event, yaml.CollectionStartEvent):
                self._start(event)
            elif isinstance(event, yaml.CollectionEndEvent):
                self._end(event)
        root = self.root
        return None if root is None or root.value is None else root

    def _events(self) -> Iterator[Any]:
        """Yield the parser's events; raise `Unreadable` where it gives up."""
        if self.loader is not yaml.SafeLoader:
            yield from self._sure_events()
            return
        try:
            yield from yaml.parse(self.text, Loader=self.loader)
        except yaml.reader.ReaderError as error:
            raise Unreadable(self._forbidden(error.position)) from None
        except yaml.MarkedYAMLError as error:
            from photoperiod.source.yaml_syntax import explained  # few texts are no YAML

            raise Unreadable(explained(error, split_lines(self.text), self._point)) from None
        except (RecursionError, ValueError) as error:
            # Not seen with the tested versions of the parser; kept so that no text at all can raise.
            message = f"the text is not YAML: {type(error).__name__}"
            start = SourceRange(1, 1, 1, 1)
            raise Unreadable(
                Diagnostic(code="PHO101", message=message, source_range=start)
            ) from None

    def _sure_events(self) -> Iterator[Any]:
        """Yield events that are the same from both parsers."""
        for event in yaml.parse(self.text, Loader=self.loader):
            if isinstance(event, yaml.ScalarEvent) and not event.style:
                if not event.value:
                    raise _Surprise  # the two put what is not there at different places
                event.style = None
            yield event

    def _forbidden(self, index: int) -> Diagnostic:
        """Return the diagnostic for a character that YAML forbids."""
        line, column = line_and_column(self.text, index)
        return Diagnostic(
            code="PHO106",
            message=f"the text holds the forbidden character U+{ord(self.text[index]):04X}",
            source_range=SourceRange(line, column, line, column + 1),
            help="is this a text file?",
        )

    def _range(self, event: Any) -> SourceRange:
        line, column = self.place(event.start_mark)
        end_line, end_column = self.place(event.end_mark)
        if (end_line, end_column) <= (line, column):
            return SourceRange(line, column, line, column + 1)
        return SourceRange(line, column, end_line, end_column)

    def _point(self, mark: Any) -> SourceRange:
        line, column = self.place(mark)
        return SourceRange(line, column, line, column + 1)

    def place(self, mark: Any) -> tuple[int, int]:
        """Return line and column of a mark, from 1.

        They follow from its index: the parser's own columns leave out byte order marks.
        """
        line = bisect.bisect_right(self.starts, mark.index)
        return line, mark.index - self.starts[line - 1] + 1

    def _fault(
        self, code: str, message: str, event: Any, help: str, related: tuple[Related, ...] = ()
    ) -> Diagnostic:
        """Return the diagnostic for a fault at an event."""
        return Diagnostic(
            code=code,
            message=message,
            source_range=self._range(event),
            help=help,
            related=related,
        )

    def _complain(
        self,
        code: str,
        message: str,
        event: Any,
        help: str = "",
        related: tuple[Related, ...] = (),
    ) -> None:
        """Record a fault at an event and go on."""
        self.diagnostics.append(self._fault(code, message, event, help, related))

    def _stop(self, code: str, message: str, event: Any, help: str = "") -> NoReturn:
        """Give up at an event."""
        raise Unreadable(self._fault(code, message, event, help))

    def _count_node(self, event: Any) -> None:
        """Count one more value; give up if there are too many."""
        self.nodes += 1
        if self.nodes > MAX_NODES:
            self._stop("PHO104", f"more than {MAX_NODES:,} values", event)

    def _add(self, node: Node, event: Any) -> None:
        """Put a node, finished or just opened, into the mapping or list that is being read."""
        self._count_node(event)
        if not self.stack:
            self.root = node
            return
        parent = self.stack[-1]
        if isinstance(parent.node.value, list):
            parent.node.value.append(node)
        else:
            if not parent.key_is_bad:
                parent.node.value[parent.key] = (parent.key_range, node)
            parent.key, parent.key_range, parent.key_is_bad = None, None, False

    def _scalar(self, event: Any) -> None:
        if self.stack and self.stack[-1].wants_key():
            self._key(event)
            return
        known = len(self.diagnostics)
        if _SURROGATE.search(event.value):
            self._complain("PHO106", "the text holds half of a surrogate pair", event)
        node = Node(self._resolve(event), self._range(event))
        node.is_bad = len(self.diagnostics) > known
        self._anchor(event.anchor, node)
        self._add(node, event)

    def _key(self, event: Any) -> None:
        parent = self.stack[-1]
        key, source_range = event.value, self._range(event)
        parent.key, parent.key_range = key, source_range
        if event.tag not in (None, "!", _CORE + "str"):
            self._wrong_tag(event, f"the key '{short(key)}'")
        if _SURROGATE.search(key):
            self._complain("PHO106", "the key holds half of a surrogate pair", event)
            parent.key_is_bad = True
        elif key == "<<" and event.style is None:
            self._complain(
                "PHO108",
                "the merge key '<<' is not part of YAML 1.2",
                event,
                help="write the keys out, or repeat a whole mapping by `*name`",
            )
            parent.key_is_bad = parent.node.is_bad = True
        elif key in parent.node.value:
            first = parent.node.value[key][0]
            self._complain(
                "PHO102",
                f"the key '{short(key)}' stands twice here",
                event,
                help="write decimals with a point: a comma begins the next entry"
                if key.isdecimal()
                else "remove or rename one of them",
                related=(Related(message="first written here", source_range=first),),
            )
            parent.key_is_bad = True
        self._anchor(event.anchor, Node(key, source_range))

    def _anchor(self, name: str | None, node: Node) -> None:
        """Remember a node by its anchor; a later anchor of the same name replaces it."""
        if name:
            self.open_anchors.discard(name)
            self.anchors[name] = node

    def _alias(self, event: Any) -> None:
        name = event.anchor
        if name in self.open_anchors:
            self._stop("PHO113", f"the alias '*{short(name)}' stands inside what it names", event)
        if self.stack and self.stack[-1].wants_key():
            self._complain("PHO103", "an alias can't be a key", event, help="write the word out")
            parent = self.stack[-1]
            parent.key, parent.key_range, parent.key_is_bad = "", self._range(event), True
            return
        if name not in self.anchors:
            self._complain(
                "PHO115",
                f"the alias '*{short(name)}' names nothing above it",
                event,
                help=f"mark the value to repeat with `&{short(name)}` further up",
            )
            self._add(Node(None, self._range(event), is_bad=True), event)
            return
        self._add(self.anchors[name], event)

    def _start(self, event: Any) -> None:
        if len(self.stack) >= MAX_DEPTH:
            self._stop("PHO110", f"values are nested more than {MAX_DEPTH} levels deep", event)
        if self.stack and self.stack[-1].wants_key():
            self._complain(
                "PHO103", "a key is a list or a mapping", event, help="write `key: value`"
            )
            parent = self.stack[-1]
            parent.key, parent.key_range, parent.key_is_bad = "", self._range(event), True
            self._anchor(event.anchor, Node(None, self._range(event), is_bad=True))
            self.skip_depth = 1
            return
        is_map = isinstance(event, yaml.MappingStartEvent)
        allowed = (None, "!", _CORE + ("map" if is_map else "seq"))
        node = Node({} if is_map else [], self._range(event))
        if event.tag not in allowed:
            self._wrong_tag(event, "a mapping" if is_map else "a list")
            node.is_bad = True
        self._add(node, event)
        self.stack.append(_Open(node, event.anchor))
        if event.anchor:
            self.open_anchors.add(event.anchor)

    def _end(self, event: Any) -> None:
        opened = self.stack.pop()
        if event.end_mark.index > event.start_mark.index:  # a closing bracket: flow style
            start = opened.node.source_range
            opened.node.source_range = SourceRange(
                start.line, start.column, *self.place(event.end_mark)
            )
        if opened.anchor in self.open_anchors:  # else the name was given again inside
            self._anchor(opened.anchor, opened.node)

    def _skip(self, event: Any) -> None:
        """Pass over the inside of a bad key; its depth and anchors still count."""
        self._count_node(event)
        if isinstance(event, yaml.NodeEvent) and not isinstance(event, yaml.AliasEvent):
            self._anchor(event.anchor, Node(None, self._range(event), is_bad=True))
        if isinstance(event, yaml.CollectionStartEvent):
            self.skip_depth += 1
            if len(self.stack) + self.skip_depth > MAX_DEPTH:
                self._stop("PHO110", f"values are nested more than {MAX_DEPTH} levels deep", event)
        elif isinstance(event, yaml.CollectionEndEvent):
            self.skip_depth -= 1

    def _resolve(self, event: Any) -> Any:
        """Return the plain value of a scalar, by the YAML 1.2 core schema."""
        text, tag = event.value, event.tag
        if tag in (None, "!"):
            if event.style is not None or tag == "!":
                return text
            value, kind = self._core(text, event)
            return value
        if not tag.startswith(_CORE) or tag[len(_CORE) :] not in _KINDS:
            self._wrong_tag(event, f"'{short(text)}'")
            return text
        wanted = tag[len(_CORE) :]
        if wanted == "str":
            return text
        value, kind = self._core(text, event)
        if wanted == "float" and kind == "int":
            return float(value)
        if kind != wanted and kind != "bad":
            self._complain(
                "PHO105", f"'{short(text)}' is no !!{wanted}", event, help="leave the tag out"
            )
        return value

    def _wrong_tag(self, event: Any, what: str) -> None:
        tag = _tag_text(event.tag)
        if event.tag.startswith(_CORE) and event.tag[len(_CORE) :] in (*_KINDS, "map", "seq"):
            self._complain("PHO105", f"{what} is no {tag}", event, help="leave the tag out")
        else:
            self._complain("PHO107", f"unknown tag '{tag}'", event, help="leave the tag out")

    def _core(self, text: str, event: Any) -> tuple[Any, str]:
        value, kind = core_value(text)
        if kind in _KINDS:
            return value, kind
        self._complain("PHO112", kind, event, help="write the number that is meant")
        return value, "bad"


def line_and_column(text: str, index: int) -> tuple[int, int]:
    """Return the place of a character, counted from 1."""
    before = split_lines(text[:index])
    return len(before), len(before[-1]) + 1


def _tag_text(tag: str) -> str:
    return short(tag.replace(_CORE, "!!"))
