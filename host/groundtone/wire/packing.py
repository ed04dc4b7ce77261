"""Cells of 12 or 14 bits packed into bytes, first value in the lowest bits (firmware/WIRE.md, Frame)."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundtone.wire.messages import CRC_BYTES, FRAME_HEADER


def packed_bytes(cells: int, bits: int) -> int:
    """Bytes that `cells` values of `bits` bits occupy."""
    return (cells * bits + 7) // 8


def frame_bytes(cells: int, bits: int) -> int:
    """Length of a frame's message: header, packed cells, checksum."""
    return FRAME_HEADER + packed_bytes(cells, bits) + CRC_BYTES


@cache
def _places(cells: int, bits: int) -> tuple[NDArray[np.intp], NDArray[np.uint32]]:
    """Byte at which each value starts, and its first bit within that byte."""
    first_bit = np.arange(cells) * bits
    return first_bit // 8, (first_bit % 8).astype(np.uint32)


def unpack_cells(packed: NDArray[np.uint8], cells: int, bits: int) -> NDArray[np.uint16]:
    """Values of one frame or many from their packed bytes.

    Parameters
    ----------
    packed : ndarray of uint8, shape (..., packed_bytes(cells, bits))

    Returns
    -------
    ndarray of uint16, shape (..., cells)
    """
    at, shift = _places(cells, bits)
    # A value of up to 14 bits starting anywhere in a byte ends within the third: three bytes make one word.
    raw = np.zeros((*packed.shape[:-1], packed.shape[-1] + 2), np.uint32)
    raw[..., :-2] = packed
    word = raw.take(at, -1) | raw.take(at + 1, -1) << 8 | raw.take(at + 2, -1) << 16
    out: NDArray[np.uint16] = (word >> shift & (1 << bits) - 1).astype(np.uint16)
    return out


def pack_cells(values: ArrayLike, bits: int) -> bytes:
    """Packed bytes of values.

    Parameters
    ----------
    values : array_like of int, shape (cells,), each below 2**bits

    Returns
    -------
    bytes

    Raises
    ------
    ValueError
        If a value does not fit `bits` bits.
    """
    array = np.asarray(values, dtype=np.int64)
    if array.size and (array.min() < 0 or array.max() >= 1 << bits):
        raise ValueError(f"a cell value lies outside 0..{(1 << bits) - 1}: it does not fit {bits} bits")
    each_bit = (array[:, None] >> np.arange(bits)) & 1
    return np.packbits(each_bit.astype(np.uint8).ravel(), bitorder="little").tobytes()
