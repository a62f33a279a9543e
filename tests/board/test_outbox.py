"""The newest message of each topic, in an order in which no lamp lights at an unknown level."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from photoperiod.board.outbox import Message, Outbox


def level(text: str, lamp: str = "blue") -> Message:
    return Message(f"{lamp}/level", text)


def relay(text: str, lamp: str = "blue") -> Message:
    return Message(f"{lamp}/relay", text, closes=text.endswith("on"))


def sent(box: Outbox) -> list[tuple[str, str]]:
    """Return all that goes out if the broker takes each message at once."""
    found = []
    while (message := box.next()) is not None:
        found.append((message.topic, message.text))
        box.answered(is_taken=True)
    return found


def put(box: Outbox, *messages: Message) -> None:
    for message in messages:
        box.put(message)


def test_order_is_kept_while_nothing_is_put_twice() -> None:
    box = Outbox()
    put(box, level("10"), relay("on"))
    assert sent(box) == [("blue/level", "10"), ("blue/relay", "on")]
    put(box, relay("off", "violet"), level("0", "violet"))
    assert sent(box) == [("violet/relay", "off"), ("violet/level", "0")]


def test_one_message_is_under_way_and_of_a_topic_the_newest_alone_waits() -> None:
    box = Outbox()
    put(box, *(level(str(percent)) for percent in range(100)))
    assert box.next() == level("99")
    put(box, level("100"), level("101"))
    assert box.next() is None  # the broker has not answered yet
    assert not box.is_taken("blue/level")
    box.answered(is_taken=True)
    assert not box.is_taken("blue/level")  # that was an older one
    assert sent(box) == [("blue/level", "101")]
    assert box.is_taken("blue/level") and box.is_empty
    box.put(level("101"))  # said once more, as a player does in the dark
    assert box.is_taken("blue/level") and not box.is_empty


def test_a_relay_closes_behind_the_newest_level_and_opens_before_it() -> None:
    box = Outbox()
    put(box, level("90"), relay("on"), relay("off"), level("0"))
    assert sent(box) == [("blue/relay", "off"), ("blue/level", "0")]
    put(box, level("10"), relay("on"), level("11"))
    assert sent(box) == [("blue/level", "11"), ("blue/relay", "on")]
    put(box, relay("off"), level("0"), level("50"), relay("on"))
    assert sent(box) == [("blue/level", "50"), ("blue/relay", "on")]


def test_what_was_under_way_when_the_line_broke_is_not_sent_again() -> None:
    box = Outbox()
    put(box, level("90"), relay("on"))
    assert box.next() == level("90")
    box.forget()
    assert box.next() is None and box.is_empty
    box.answered(is_taken=True)  # late, from the old line
    assert not box.is_taken("blue/level")
    put(box, relay("off"), level("0"))
    assert sent(box) == [("blue/relay", "off"), ("blue/level", "0")]


def test_a_message_that_is_refused_is_not_taken() -> None:
    box = Outbox()
    box.put(level("10"))
    assert box.next() is not None
    assert box.answered(is_taken=False) == level("10")
    assert not box.is_taken("blue/level") and box.is_empty


def test_a_renewal_sends_the_newest_of_what_expires_levels_first() -> None:
    box = Outbox()
    put(box, level("10"), relay("on"), Message("player", "stopped", expires=False), level("11"))
    sent(box)
    box.renew()
    assert box.is_taken("blue/level")  # it is no other message
    assert sent(box) == [("blue/level", "11"), ("blue/relay", "on")]


LAMPS = ("blue", "violet")
STEPS = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(LAMPS), st.booleans()),  # a lamp is set: lit or dark
        st.sampled_from(("send", "answer", "break", "renew")),
    ),
    max_size=60,
)


@given(STEPS)
def test_whatever_happens_a_listener_never_hears_an_older_value_after_a_newer_one(
    steps: list[tuple[str, bool] | str],
) -> None:
    box, heard, newest = Outbox(), dict[str, int](), dict[str, int]()

    def hear(message: Message | None) -> None:
        if message is None:
            return
        number = int(message.text.split()[0])
        assert number >= heard.get(message.topic, -1)
        heard[message.topic] = number
        lamp, _, part = message.topic.partition("/")
        if part == "relay" and message.text.endswith("on"):
            # The level that was put with it, or a newer one, was sent before.
            assert heard[f"{lamp}/level"] >= number - 1

    for count, step in enumerate(steps):
        if isinstance(step, tuple):
            lamp, lit = step
            first, second = (level, relay) if lit else (relay, level)
            words = {level: "level", relay: "on" if lit else "off"}
            for k, make in enumerate((first, second)):
                number = 2 * count + k
                message = make(f"{number} {words[make]}", lamp)
                newest[message.topic] = number
                box.put(message)
        elif step == "send":
            hear(box.next())
        elif step == "answer":
            box.answered(is_taken=True)
        elif step == "break":
            box.forget()
            newest.clear()
        else:
            box.renew()
    box.answered(is_taken=True)
    while (message := box.next()) is not None:
        hear(message)
        box.answered(is_taken=True)
    assert all(heard[topic] == number for topic, number in newest.items())
    assert all(box.is_taken(topic) for topic in newest)
