"""Packing of cells against big-integer arithmetic: the packed bytes are one little-endian number."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundtone.wire.packing import pack_cells, packed_bytes, unpack_cells


def as_one_number(values, bits):
    """The same by Python's own integers."""
    total = sum(value << bits * i for i, value in enumerate(values))
    return total.to_bytes(-(-len(values) * bits // 8), "little")


@pytest.mark.parametrize(("cells", "bits", "size"), [(128, 14, 224), (128, 12, 192), (60, 14, 105), (1, 12, 2)])
def test_sizes_by_hand(cells, bits, size):
    assert packed_bytes(cells, bits) == size
    assert len(pack_cells(np.zeros(cells, int), bits)) == size


@given(bits=st.sampled_from([12, 14]), data=st.data())
def test_against_big_integers(bits, data):
    values = data.draw(st.lists(st.integers(0, 2**bits - 1), min_size=1, max_size=140))
    packed = pack_cells(values, bits)
    assert packed == as_one_number(values, bits)
    got = unpack_cells(np.frombuffer(packed, np.uint8), len(values), bits)
    assert got.dtype == np.uint16
    assert got.tolist() == values
    many = np.frombuffer(packed * 3, np.uint8).reshape(3, -1)
    assert unpack_cells(many, len(values), bits).tolist() == [values] * 3


@pytest.mark.parametrize("bits", [12, 14])
def test_values_that_do_not_fit_are_refused(bits):
    assert unpack_cells(np.frombuffer(pack_cells([2**bits - 1], bits), np.uint8), 1, bits).tolist() == [2**bits - 1]
    for wrong in (2**bits, -1, 2**20):
        with pytest.raises(ValueError, match=f"{bits} bits"):
            pack_cells([0, wrong], bits)
