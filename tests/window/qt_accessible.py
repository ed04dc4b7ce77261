"""Qt's own accessibility interface, which PyQt5 does not wrap: what a screen reader is told of a widget.

The interface is a C++ class; its methods are called by their place in its table, as Qt 5 lays it out on 64-bit systems
whose compilers keep to the Itanium C++ ABI (Linux on x86-64 and arm64; qaccessible.h of Qt 5.15).
"""

import ctypes
import platform
import sys
from dataclasses import dataclass
from pathlib import Path

from PyQt5 import QtCore, sip

KNOWN = sys.platform == "linux" and platform.machine() == "x86_64"
"""Here it can be asked."""
_NAME, _DESCRIPTION, _VALUE = 0, 1, 2
_CHILD, _CHILDREN, _TEXT, _ROLE, _STATE = 9, 10, 12, 15, 16
# Bits of the state, and roles that say what kind of part it is.
_DISABLED, _FOCUSABLE, _CHECKED, _INVISIBLE = 1 << 0, 1 << 2, 1 << 6, 1 << 17
NO_ROLE = 0


@dataclass(frozen=True)
class Told:
    """What is told of one part."""

    name: str
    description: str
    value: str
    role: int
    disabled: bool
    focusable: bool
    checked: bool
    invisible: bool
    children: int


def _library():
    folder = Path(QtCore.__file__).parent / "Qt5" / "lib"
    return ctypes.CDLL(str(folder / "libQt5Gui.so.5"))


def interface(widget):
    """Address of the interface of a widget; 0 where Qt has none for it."""
    ask = _library()._ZN11QAccessible24queryAccessibleInterfaceEP7QObject
    ask.restype, ask.argtypes = ctypes.c_void_p, [ctypes.c_void_p]
    return ask(sip.unwrapinstance(widget)) or 0


def _method(address, place, result, *kinds):
    table = ctypes.cast(address, ctypes.POINTER(ctypes.c_void_p))[0]
    entry = ctypes.cast(table, ctypes.POINTER(ctypes.c_void_p))[place]
    return ctypes.CFUNCTYPE(result, *kinds)(entry)


def _text(address, which):
    """A QString that the method makes in our place; its header holds the length and where the letters begin."""
    made = ctypes.c_void_p()
    tell = _method(address, _TEXT, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int)
    tell(ctypes.addressof(made), address, which)
    length = ctypes.c_int.from_address(made.value + 4).value
    offset = ctypes.c_ssize_t.from_address(made.value + 16).value
    return ctypes.string_at(made.value + offset, 2 * length).decode("utf-16-le")


def told(address):
    """All that is told of one part."""
    own = ctypes.c_void_p
    state = _method(address, _STATE, ctypes.c_uint64, own)(address)
    return Told(
        *(_text(address, which) for which in (_NAME, _DESCRIPTION, _VALUE)),
        _method(address, _ROLE, ctypes.c_int, own)(address),
        bool(state & _DISABLED), bool(state & _FOCUSABLE), bool(state & _CHECKED), bool(state & _INVISIBLE),
        _method(address, _CHILDREN, ctypes.c_int, own)(address),
    )  # fmt: skip


def everything(address, most=20_000):
    """A part and all parts in it, as a screen reader walks through them."""
    waiting = [address]
    while waiting and most:
        at, most = waiting.pop(), most - 1
        here = told(at)
        yield here
        child = _method(at, _CHILD, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int)
        waiting += [inner for i in range(here.children) if (inner := child(at, i))]
