"""The C yardstick as a library: compiled at use, given a design, compared with the batch engine.

It lies in yardstick.c and its headers.  The library is built into a temporary folder that is
removed when Python ends; nothing is written beside the sources.
"""

from __future__ import annotations

import ctypes
import functools
import os
import pathlib
import shlex
import shutil
import subprocess
import tempfile
from typing import Any, get_type_hints

import numpy as np

from simcore.base.draws import Part
from simcore.base.records import Ints
from simcore.contacts.bursts import Wiping
from simcore.contacts.crossing import Sliding
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, Layer
from simcore.engines.blocks import Judge
from simcore.hand.base import Gesture
from simcore.hand.geometry import Geometry
from simcore.judging.causes import Rules
from simcore.judging.sums import Sums, empty_sums
from simcore.judging.tally import Tally, tally_of
from simcore.networks.analogue import Analogue, Resistance
from simcore.networks.inputs import TIGHT, SchmittInput
from simcore.networks.single_pole import SeriesCapacitor

COMPILERS = ("cc", "gcc", "clang")
FLAGS = ("-std=gnu11", "-O3", "-ffp-contract=off", "-fPIC", "-shared")
"""Tuning for the very processor, -O2 and freedom from errno were tried and gained nothing."""


class NotCoveredError(ValueError):
    """The yardstick does one kind of design only; says what does not fit."""


class NoCompilerError(RuntimeError):
    """There is no C compiler here, or none that can build the yardstick."""


def compiler() -> list[str] | None:
    """The command of the C compiler: the one named by CC, else the first that is there, else None."""
    named = shlex.split(os.environ.get("CC", ""))
    for command in [named] if named else [[name] for name in COMPILERS]:
        if shutil.which(command[0]):
            return command
    return None


@functools.cache
def structure(record: Any) -> type[ctypes.Structure]:
    """The C structure of a NamedTuple of int (64 bits), float and other such records."""
    plain: dict[type, Any] = {int: ctypes.c_int64, float: ctypes.c_double}
    fields = [(name, plain.get(kind) or structure(kind)) for name, kind in get_type_hints(record).items()]
    return type(f"C{record.__name__}", (ctypes.Structure,), {"_fields_": fields})


def filled(record: Any) -> ctypes.Structure:
    """A record's values in its C structure."""
    kind: Any = type(record)
    values = [filled(value) if isinstance(value, tuple) else value for value in record]
    return structure(kind)(*values)


class CAnalogue(ctypes.Structure):
    """A line whose network and input are of the one kind that the yardstick knows."""

    _fields_ = [
        ("address", ctypes.c_int64),
        ("supply", structure(Part)),
        ("resistance", structure(Resistance)),
        ("network", structure(SeriesCapacitor)),
        ("logic", structure(SchmittInput)),
        ("network_address", ctypes.c_int64),
    ]


class CDesign(ctypes.Structure):
    """A whole design but for the hand."""

    _fields_ = [
        ("geometry", structure(Geometry)),
        ("contact", structure(Wiping)),
        ("sliding", structure(Sliding)),
        ("line", CAnalogue),
        ("counter", structure(StepDirection)),
        ("rules", structure(Rules)),
        ("flips", ctypes.c_int64 * 2),
        ("entries", ctypes.c_int64),
    ]


class CHandEntry(ctypes.Structure):
    """A gesture and how often it is made."""

    _fields_ = [("gesture", structure(Gesture)), ("moves", ctypes.c_int64)]


class CSums(ctypes.Structure):
    """Addresses of the arrays of simcore.judging.sums.Sums."""

    _fields_ = [(name, ctypes.c_void_p) for name in Sums._fields]


@functools.cache
def library() -> ctypes.CDLL:
    """The compiled yardstick; NoCompilerError when it cannot be made."""
    found = compiler()
    if found is None:
        raise NoCompilerError(
            f"no C compiler found (looked for {os.environ.get('CC') or ', '.join(COMPILERS)})"
        )
    source = pathlib.Path(__file__).parent / "yardstick.c"
    with tempfile.TemporaryDirectory(prefix="steptally-yardstick-") as folder:
        target = str(pathlib.Path(folder) / "yardstick.so")
        command = [*found, *FLAGS, str(source), "-o", target, "-lm"]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise NoCompilerError(f"{found[0]} cannot build the yardstick: {done.stderr.strip()}")
        # Once loaded, the file itself is no longer needed.
        loaded = ctypes.CDLL(target)
    _check_layout(loaded)
    return loaded


def _check_layout(loaded: ctypes.CDLL) -> None:
    found = (ctypes.c_int64 * 4)()
    loaded.layout(found)
    one = empty_sums(1)
    wanted = [ctypes.sizeof(CDesign), ctypes.sizeof(CSums), one.steps.size, one.total.shape[1]]
    if list(found) != wanted:
        raise NotCoveredError(
            f"the yardstick's headers do not fit simcore's records: {list(found)}, {wanted}"
        )


def _check(design: Design, layers: tuple[Layer, ...]) -> None:
    wanted = (
        ("contact", design.contact, Wiping),
        ("counter", design.counter, StepDirection),
        *((f"gesture of {entry.name}", entry.gesture, Gesture) for entry in design.hand),
    )
    for what, item, kind in wanted:
        if type(item) is not kind:
            raise NotCoveredError(
                f"the {what} is a {type(item).__name__}; the yardstick does {kind.__name__}"
            )
    if len(layers) != 1 or layers[0].pair is not None or layers[0].line[0] != layers[0].line[1]:
        raise NotCoveredError("the yardstick does one network into one input, the same on both lines")
    if type(layers[0].line[0]) is not Analogue or layers[0].line[0].logic.leakage != TIGHT:
        raise NotCoveredError(
            "leakage, noise, dips, power-up and resistances per closure; the yardstick has none"
        )
    network, logic = layers[0].line[0].network, layers[0].line[0].logic
    if type(network) is not SeriesCapacitor or type(logic) is not SchmittInput:
        raise NotCoveredError(
            f"{type(network).__name__} into {type(logic).__name__}; "
            "the yardstick does SeriesCapacitor into SchmittInput"
        )


class Fused:
    """One design in C.  Raises NotCoveredError for other designs, NoCompilerError without a compiler."""

    def __init__(self, design: Design) -> None:
        chain = design.chain
        _check(design, chain.layers)
        self._simulate = library().simulate
        self.names = tuple(entry.name for entry in design.hand)
        layer = chain.layers[0]
        *parts, network_address = layer.line[0]
        line = CAnalogue(layer.address, *(filled(part) for part in parts), network_address)
        rules = filled(Judge(design, chain).rules)
        self._design = CDesign(
            filled(design.geometry), filled(design.contact), filled(design.sliding), line,
            filled(design.counter), rules, chain.flips, len(design.hand),
        )  # fmt: skip
        hand = [CHandEntry(filled(entry.gesture), entry.moves) for entry in design.hand]
        self._hand = (CHandEntry * len(hand))(*hand)

    def run(self, seed: int, first_run: int, runs: int) -> tuple[Sums, Ints]:
        """Sums and final errors (runs,) of runs ``first_run`` on; MemoryError without room."""
        sums = empty_sums(len(self.names))
        errors = np.zeros(runs, np.int64)
        addresses = CSums(*(array.ctypes.data for array in sums))
        failed = self._simulate(
            ctypes.byref(self._design), self._hand, ctypes.c_uint64(seed), ctypes.c_int64(first_run),
            ctypes.c_int64(runs), ctypes.byref(addresses), ctypes.c_void_p(errors.ctypes.data),
        )  # fmt: skip
        if failed:
            raise MemoryError("the yardstick found no room")
        return sums, errors

    def tally(self, seed: int, runs: int) -> Tally:
        """The tally of runs 0 to ``runs``, as a campaign gives it."""
        return tally_of(self.names, *self.run(seed, 0, runs))
