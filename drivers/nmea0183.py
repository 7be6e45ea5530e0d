"""NMEA 0183 talkers: serial, TCP or UDP; only sentences with a right checksum count."""

from __future__ import annotations

from collections.abc import Callable

from drivers.channel_value import channel_value
from drivers.lines import StreamDriver
from drivers.nmea_sentence import field_value, read_sentence
from profiles.instrument import NmeaChannel

SILENT_S = 2.0
"""Talkers send once a second or slower; before that, silence means nothing [s]."""


def nmea_driver(channels: dict[str, NmeaChannel], settle_s: float) -> StreamDriver:
    """The driver for all NMEA 0183 channels of one port."""
    driver = StreamDriver(settle_s, "\r\n", others_allowed=True)
    for name, channel in channels.items():
        silent_s = max(channel.timeout_s, SILENT_S)
        driver.listen(name, sentence_reader(name, channel), silent_s=silent_s)
    return driver


def sentence_reader(
    name: str, channel: NmeaChannel
) -> Callable[[bytes], tuple[float, str | None] | None]:
    """What makes a value of a line; None for a sound sentence that is not the channel's."""
    where = {int(number): text for number, text in channel.where.items()}

    def read(line: bytes) -> tuple[float, str | None] | None:
        raw_value = field_value(
            read_sentence(line),
            kind=channel.sentence,
            field=channel.field,
            talker=channel.talker,
            where=where,
            status=channel.status,
        )
        if raw_value is None:
            return None
        return channel_value(name, channel, raw_value, line), None

    return read
