"""A tally as bytes: exact, small, and the same bytes for the same tally on every machine.

A line of JSON (hand, runs, final errors), then the whole numbers of the sums and margins that are not 0:
how far each lies from the one before, and its value, least significant bytes first and the bytes of like
weight together, for that is what compresses well.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from typing import Any

import numpy as np
import numpy.typing as npt

from simcore.base.records import Ints
from simcore.campaigns.ledger import Span
from simcore.judging.margins import Margins, no_margins
from simcore.judging.sums import Sums
from simcore.judging.tally import Tally, nothing

LEVEL = 1
"""zlib's quickest: the next ones take three times as long and save a twentieth."""
NARROW, WIDE = "<i4", "<i8"
"""Kinds of values: the narrow one if it holds them all, for less is then to be compressed."""
DIGEST = 16
"""Bytes of a digest."""


def packed(tally: Tally) -> bytes:
    """A tally as bytes, not yet compressed."""
    parts: list[Ints] = [*tally.sums, *(tally.margins or ())]
    numbers = np.concatenate([part.ravel() for part in parts])
    places = np.flatnonzero(numbers)
    values = numbers[places]
    kind = NARROW if values.size == 0 or np.abs(values).max() <= np.iinfo(NARROW).max else WIDE
    head = {
        "gestures": tally.gestures,
        "runs": tally.runs,
        "errors": sorted(tally.errors.items()),
        "margins": tally.margins is not None,
        "numbers": numbers.size,
        "kept": places.size,
        "kind": kind,
    }
    line = json.dumps(head, separators=(",", ":")).encode() + b"\n"
    return line + _planes(np.diff(places, prepend=0), "<u4") + _planes(values, kind)


def unpacked(content: bytes) -> Tally:
    """The tally that was packed.  ValueError for what no tally of this layout gives."""
    line, _, rest = content.partition(b"\n")
    head: dict[str, Any] = json.loads(line)
    gestures = tuple(head["gestures"])
    sums = nothing(gestures).sums
    margins = no_margins() if head["margins"] else None
    parts: list[Ints] = [*sums, *(margins or ())]
    numbers = np.zeros(head["numbers"], np.int64)
    if numbers.size != sum(part.size for part in parts):
        raise ValueError(f"{numbers.size} numbers in a tally of {sum(part.size for part in parts)}")
    kept, border = head["kept"], 4 * head["kept"]
    numbers[np.cumsum(_flat(rest[:border], "<u4", kept))] = _flat(rest[border:], head["kind"], kept)
    filled = np.split(numbers, np.cumsum([part.size for part in parts])[:-1])
    shaped = [each.reshape(part.shape) for each, part in zip(filled, parts, strict=True)]
    errors = {int(error): int(runs) for error, runs in head["errors"]}
    found = Sums(*shaped[: len(sums)])
    return Tally(gestures, head["runs"], found, errors, Margins(*shaped[len(sums) :]) if margins else None)


def _planes(numbers: Ints, kind: str) -> bytes:
    flat = numbers.astype(kind)
    return flat.view(np.uint8).reshape(flat.size, flat.itemsize).T.tobytes()


def _flat(content: bytes, kind: str, count: int) -> Ints:
    size = np.dtype(kind).itemsize
    planes: npt.NDArray[np.uint8] = np.frombuffer(content, np.uint8).reshape(size, count)
    return np.ascontiguousarray(planes.T).view(kind).ravel().astype(np.int64)


def compressed(content: bytes) -> bytes:
    """As it lies in a ledger."""
    return zlib.compress(content, LEVEL)


def decompressed(stored: bytes) -> bytes:
    """As it was before.  ValueError if the bytes were changed."""
    try:
        return zlib.decompress(stored)
    except zlib.error as error:
        raise ValueError(str(error)) from None


def digest(identity: str, span: Span, content: bytes) -> bytes:
    """Tells a block from every other: what was simulated, which runs, and what they came to."""
    place = f"{identity}\n{span.first} {span.runs}\n".encode()
    return hashlib.blake2b(place + content, digest_size=DIGEST).digest()
