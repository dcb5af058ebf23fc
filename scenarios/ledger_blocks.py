"""A tally, or paired sums, as bytes: exact, small, and the same bytes for the same sums on every machine.

A line of JSON (of a tally: hand, runs, final errors; of a pair: gestures, runs, and where single steps part),
then the whole numbers of the sums and margins that are not 0: how far each lies from the one before, and its
value, least significant bytes first and the bytes of like weight together, for that is what compresses well.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from typing import Any

import numpy as np
import numpy.typing as npt

from simcore.edges import Ints
from simcore.ledger import Span
from simcore.margins import Margins, no_margins
from simcore.pairing import PairedSums, Parting, nothing_paired
from simcore.sums import Sums
from simcore.tally import Tally, nothing

LEVEL = 1
"""zlib's quickest: the next ones take three times as long and save a twentieth."""
NARROW, WIDE = "<i4", "<i8"
"""Kinds of values: the narrow one if it holds them all, for less is then to be compressed."""
DIGEST = 16
"""Bytes of a digest."""


def packed(sums: Tally | PairedSums) -> bytes:
    """A tally, or paired sums, as bytes, not yet compressed."""
    if isinstance(sums, PairedSums):
        partings = [
            [*first, *other, parting.steps, parting.run, parting.step]
            for (first, other), parting in sorted(sums.partings.items())
        ]
        head = {"paired": len(sums.sizes) - 1, "runs": sums.runs, "partings": partings}
        return _packed(head, [sums.sizes, sums.sums, sums.tables, sums.spurious])
    head = {
        "gestures": sums.gestures,
        "runs": sums.runs,
        "errors": sorted(sums.errors.items()),
        "margins": sums.margins is not None,
    }
    return _packed(head, [*sums.sums, *(sums.margins or ())])


def _packed(head: dict[str, Any], parts: list[Ints]) -> bytes:
    numbers = np.concatenate([part.ravel() for part in parts])
    places = np.flatnonzero(numbers)
    values = numbers[places]
    kind = NARROW if values.size == 0 or np.abs(values).max() <= np.iinfo(NARROW).max else WIDE
    told = {**head, "numbers": numbers.size, "kept": places.size, "kind": kind}
    line = json.dumps(told, separators=(",", ":")).encode() + b"\n"
    return line + _planes(np.diff(places, prepend=0), "<u4") + _planes(values, kind)


def unpacked(content: bytes) -> Tally:
    """The tally that was packed.  ValueError for what no tally of this layout gives."""
    head, rest = _parted(content)
    gestures = tuple(head["gestures"])
    sums = nothing(gestures).sums
    margins = no_margins() if head["margins"] else None
    shaped = _unpacked(head, rest, [*sums, *(margins or ())])
    errors = {int(error): int(runs) for error, runs in head["errors"]}
    found = Sums(*shaped[: len(sums)])
    return Tally(gestures, head["runs"], found, errors, Margins(*shaped[len(sums) :]) if margins else None)


def unpacked_pair(content: bytes) -> PairedSums:
    """The paired sums that were packed.  ValueError for what none of this layout give."""
    head, rest = _parted(content)
    empty = nothing_paired(head["paired"])
    parts = [empty.sizes, empty.sums, empty.tables, empty.spurious]
    sizes, sums, tables, spurious = _unpacked(head, rest, parts)
    partings = {
        ((verdict, cause), (other_verdict, other_cause)): Parting(steps, run, step)
        for verdict, cause, other_verdict, other_cause, steps, run, step in head["partings"]
    }
    return PairedSums(head["runs"], sizes, sums, tables, spurious, partings)


def _parted(content: bytes) -> tuple[dict[str, Any], bytes]:
    line, _, rest = content.partition(b"\n")
    return json.loads(line), rest


def _unpacked(head: dict[str, Any], rest: bytes, parts: list[Ints]) -> list[Ints]:
    """The numbers in arrays shaped as ``parts``."""
    numbers = np.zeros(head["numbers"], np.int64)
    if numbers.size != sum(part.size for part in parts):
        raise ValueError(f"{numbers.size} numbers in a tally of {sum(part.size for part in parts)}")
    kept, border = head["kept"], 4 * head["kept"]
    numbers[np.cumsum(_flat(rest[:border], "<u4", kept))] = _flat(rest[border:], head["kind"], kept)
    filled = np.split(numbers, np.cumsum([part.size for part in parts])[:-1])
    return [each.reshape(part.shape) for each, part in zip(filled, parts, strict=True)]


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
