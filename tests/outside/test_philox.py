"""The random numbers against published known answers and against numpy's own generator."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.compiling import kernel
from simcore.base.draws import four, philox
from simcore.base.records import Floats, Ints

WORD = 2**64
FULL = WORD - 1

# Salmon, Moraes, Dror and Shaw, SC 2011: known answers kept beside their generators,
# Philox4x64 with ten rounds: counter, key, answer.  The digits of pi continue from
# counter to key; those two rows of input are from memory, the answers were read.
KNOWN = [
    (
        (0, 0, 0, 0),
        (0, 0),
        (0x16554D9ECA36314C, 0xDB20FE9D672D0FDC, 0xD7E772CEE186176B, 0x7E68B68AEC7BA23B),
    ),
    (
        (FULL, FULL, FULL, FULL),
        (FULL, FULL),
        (0x87B092C3013FE90B, 0x438C3C67BE8D0224, 0x9CC7D7C69CD777B6, 0xA09CAEBF594F0BA0),
    ),
    (
        (0x243F6A8885A308D3, 0x13198A2E03707344, 0xA4093822299F31D0, 0x082EFA98EC4E6C89),
        (0x452821E638D01377, 0xBE5466CF34E90C6C),
        (0xA528F45403E61D95, 0x38C72DBD566E9788, 0xA5A1610E72FD18B5, 0x57BD43B5E52B7FE6),
    ),
]

words = st.integers(0, FULL)


@pytest.mark.parametrize(("counter", "key", "answer"), KNOWN)
def test_published_answers(
    counter: tuple[int, int, int, int], key: tuple[int, int], answer: tuple[int, int, int, int]
) -> None:
    assert philox(counter, key) == answer


@settings(max_examples=500, deadline=None)
@given(st.tuples(words, words, words, words), st.tuples(words, words))
def test_equals_numpy(counter: tuple[int, int, int, int], key: tuple[int, int]) -> None:
    """Its generator counts up before it generates, so it starts from the counter before ours."""
    number = sum(word << (64 * place) for place, word in enumerate(counter))
    before = (number - 1) % 2**256
    theirs = np.random.Philox(counter=before, key=key[0] + (key[1] << 64)).random_raw(4)
    assert philox(counter, key) == tuple(int(word) for word in theirs)


@kernel
def compiled_four(seeds: Ints, runs: Ints, purposes: Ints, indices: Ints, out: Floats) -> None:
    """Row after row of four uniforms, by compiled code."""
    for i in range(seeds.size):
        u = four(seeds[i], runs[i], purposes[i], indices[i])
        out[i, 0] = u[0]
        out[i, 1] = u[1]
        out[i, 2] = u[2]
        out[i, 3] = u[3]


addresses = st.integers(0, 2**63 - 1)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(addresses, addresses, addresses, addresses), min_size=1, max_size=40))
def test_compiled_equals_plain(rows: list[tuple[int, int, int, int]]) -> None:
    columns = [np.array(column, np.int64) for column in zip(*rows, strict=True)]
    out = np.zeros((len(rows), 4))
    compiled_four(columns[0], columns[1], columns[2], columns[3], out)
    plain = np.array([four(*row) for row in rows])
    assert out.tobytes() == plain.tobytes()


@settings(max_examples=200, deadline=None)
@given(addresses, addresses, addresses, addresses)
def test_upper_53_bits_make_the_uniform(seed: int, run: int, purpose: int, index: int) -> None:
    """The usual conversion: the upper 53 bits over 2**53, as numpy's ``random`` does."""
    before = (index + (purpose << 64) - 1) % 2**256
    generator = np.random.Generator(np.random.Philox(counter=before, key=seed + (run << 64)))
    assert four(seed, run, purpose, index) == tuple(generator.random(4).tolist())
