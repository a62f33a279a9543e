"""``photoperiod publish``: send tables to players through a broker."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from photoperiod.cli.loading import read_file
from photoperiod.cli.replay import CHECK_NAME
from photoperiod.text import safe

#: Wildcards of MQTT, and the character that no topic may hold (OASIS, MQTT Version 5.0, 2019, clause 4.7).
_NOT_IN_TOPICS = frozenset("+#\0")

#: The longest topic that is taken; MQTT allows 65,535 (our choice: longer ones are slips). [bytes]
_MOST_BYTES = 1000


@click.command("publish")
@click.argument("tables", nargs=-1, required=True, metavar="TABLE...")
@click.option("--broker", required=True, metavar="HOST[:PORT]", help="The MQTT broker.")
@click.option(
    "--topic",
    required=True,
    help="Each TABLE goes to TOPIC/NAME; NAME is the name of its file without the suffix.",
)
@click.option("--username", help="User name at the broker.")
@click.option("--password-file", metavar="FILE", help="File with the password in its first line.")
@click.option(
    "--ca-file", metavar="FILE", help="Certificates (PEM) to trust; the connection then uses TLS."
)
def publish_command(
    tables: tuple[str, ...],
    broker: str,
    topic: str,
    username: str | None,
    password_file: str | None,
    ca_file: str | None,
) -> int:
    """Send TABLEs to players, as retained messages of an MQTT broker.

    A player whose board file names the topic takes its table at once, or when it connects. A TABLE is
    a `table.json`, or a file that `export` wrote as json, csv or binary; it may have 1 MiB at most. No
    TABLE is sent unless all are whole. Everyone who may publish there decides about the light of the
    tank: give that right to few people.
    """
    from photoperiod.board.config import BrokerConfig
    from photoperiod.board.mqtt_login import MAX_TABLE_BYTES
    from photoperiod.board.publish import check_size
    from photoperiod.board.publish import publish as publish_tables
    from photoperiod.formats.table import read_table

    host, port = _address(broker)
    topic = topic.rstrip("/")
    contents = {}
    for where, name in zip(_topics(topic, tables), tables, strict=True):
        called, raw = read_file(name, MAX_TABLE_BYTES + 1, CHECK_NAME)
        check_size(called, raw)
        read_table(called, raw)
        contents[where] = raw
    config = BrokerConfig(
        host=host,
        topic=topic,
        port=port,
        username=username,
        password_file=Path(password_file) if password_file else None,
        ca_file=Path(ca_file) if ca_file else None,
    )
    publish_tables(config, contents)
    for where, raw in contents.items():
        click.echo(safe(f"published {len(raw):,} bytes to {where}"), err=True)
    return 0


def _address(broker: str) -> tuple[str, int]:
    """Return host and port of a broker that is given as HOST or HOST:PORT."""
    host, _, port = broker.rpartition(":") if ":" in broker else (broker, "", "1883")
    host = host.removeprefix("[").removesuffix("]")
    if not host or not (port.isascii() and port.isdigit()) or not 0 < int(port) < 65_536:
        raise click.UsageError(f"'{broker}' is not HOST or HOST:PORT")
    return host, int(port)


def _topics(topic: str, tables: Sequence[str]) -> list[str]:
    """Return the topic of each table, under a topic that they share."""
    if not topic or _NOT_IN_TOPICS & set(topic) or topic.startswith("$"):
        raise click.UsageError("a topic is text without + and #, and does not begin with $")
    if "-" in tables:
        raise click.UsageError("a TABLE is a file, because its name becomes part of the topic")
    topics = [f"{topic}/{Path(name).stem}" for name in tables]
    for each in topics:
        if _NOT_IN_TOPICS & set(each) or len(each.encode(errors="surrogateescape")) > _MOST_BYTES:
            raise click.UsageError(f"{each!r} is no topic: rename the file, without + and #")
        if not each.isprintable():
            raise click.UsageError(f"{each!r} is no topic: rename the file in UTF-8")
    if len(set(topics)) < len(topics):
        raise click.UsageError("two of the TABLEs would be published under one name")
    return topics
