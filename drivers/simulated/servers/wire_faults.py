"""What can go wrong on the wire of one instrument, at will."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random


@dataclass(slots=True)
class WireFaults:
    """Faults of one wire; set the attributes while the instrument is served.

    A message is one answer, or one line of an instrument that talks by itself. Shares are chances
    for each message, 0 to 1; times are seconds on the rig. With everything at its default the wire
    is sound. The noise is drawn from `seed`, so that the same messages meet the same faults.
    """

    seed: str = "wire"
    late_s: float = 0.0
    """Messages come so late."""
    late_messages: int | None = None
    """How many more messages are late; `None` = all of them."""
    garbage_share: float = 0.0
    """Messages that are replaced by random bytes and a piece of themselves."""
    cut_share: float = 0.0
    """Messages of which only the beginning comes."""
    halves_s: float = 0.0
    """Messages come in two halves so far apart; nothing is lost."""
    bad_checksum_share: float = 0.0
    """Messages with one bit changed in the last character before the end of the line."""
    silent: bool = False
    """Nothing comes, and the line stays open."""
    repeated: bool = False
    """The first message after this was set comes again and again."""
    out: bool = False
    """The cable is out; set it back to plug it in again."""
    _random: Random = field(init=False, repr=False)
    _waiting: list[tuple[float, bytes]] = field(init=False, repr=False, default_factory=list)
    _again: bytes | None = field(init=False, repr=False, default=None)

    def __post_init__(self) -> None:
        self._random = Random(self.seed)

    def put(self, message: bytes, now_s: float) -> None:
        """Give a message to the wire."""
        if self.silent or self.out or not message:
            return
        message = self._spoilt(self._repeated(message))
        due_s = now_s + self._lateness_s()
        if self.halves_s > 0.0 and len(message) > 1:
            half = len(message) // 2
            self._waiting += [(due_s, message[:half]), (due_s + self.halves_s, message[half:])]
        else:
            self._waiting.append((due_s, message))

    def due(self, now_s: float) -> bytes:
        """What arrives now, in the order in which it falls due."""
        if not self._waiting:
            return b""
        arrived = sorted((one for one in self._waiting if one[0] <= now_s), key=lambda one: one[0])
        self._waiting = [one for one in self._waiting if one[0] > now_s]
        return b"".join(piece for _, piece in arrived)

    def forget(self) -> None:
        """Drop what is still under way: the cable was pulled or another program opened it."""
        self._waiting.clear()

    def _lateness_s(self) -> float:
        if self.late_s <= 0.0 or self.late_messages == 0:
            return 0.0
        if self.late_messages is not None:
            self.late_messages -= 1
        return self.late_s

    def _repeated(self, message: bytes) -> bytes:
        if not self.repeated:
            self._again = None
            return message
        self._again = self._again or message
        return self._again

    def _spoilt(self, message: bytes) -> bytes:
        if self._happens(self.bad_checksum_share):
            end = len(message.rstrip(b"\r\n")) - 1
            message = message[:end] + bytes([message[end] ^ 1]) + message[end + 1 :]
        if self._happens(self.cut_share):
            message = message[: self._random.randrange(1, max(len(message), 2))]
        if self._happens(self.garbage_share):
            noise = bytes(self._random.randrange(256) for _ in range(self._random.randrange(1, 20)))
            message = noise + message[: self._random.randrange(len(message))]
        return message

    def _happens(self, share: float) -> bool:
        return share > 0.0 and self._random.random() < share
