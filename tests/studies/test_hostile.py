"""The study of changed bytes and files, in small; and that it would see a reader fall."""

import random

import pytest

from groundtone.errors import GroundtoneError
from studies.hostile import Reader, Tally, mutated, readers, tried_on

# 200,000 in all: so many of the slowest, more of the quick ones by their weight.
INPUTS = 200_000


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    return readers(tmp_path_factory.mktemp("hostile"))


def test_no_reader_falls(known):
    whole = sum(reader.weight for reader in known.values())
    for name, reader in known.items():
        for sample in reader.samples:
            reader.read(sample)  # what is changed had been valid
        tally = tried_on(name, reader, INPUTS * reader.weight // whole, seed=2)
        assert tally.fell is None, (name, tally.fell[:3])
        assert tally.read + tally.refused == tally.tried
        assert tally.read > 0, name


def test_a_reader_that_falls_is_seen():
    def read(data):
        if data[:1] != b"v":
            raise GroundtoneError("no sample")
        if len(data) != 5:
            raise IndexError("nobody foresaw this")

    tally = tried_on("x", Reader(read, [b"valid"]), 500)
    assert tally.refused > 0
    assert tally.read > 0
    assert tally.fell is not None
    assert tally.fell[0].startswith("IndexError: nobody foresaw this")


def test_changes_are_the_same_every_time_and_of_all_kinds():
    samples = [bytes(range(200)), b"x" * 50]
    first, second = ([mutated(random.Random(n), samples) for n in range(300)] for _ in range(2))
    assert first == second
    assert {len(data) > 200 for data in first} == {True, False}
    assert len(set(first)) > 250
    assert Tally().tried == 0
