# The settings: checked text in, one JSON file that is either the old one or the new one.
import json
import os

from mat import board as boards

FILE = "settings.json"
_NEW = "settings.new"


class UnknownKeyError(Exception):
    """There is no such setting."""


class ValueRefusedError(Exception):
    """The value is not allowed; the text says what is."""


class NotStoredError(Exception):
    """The file could not be written; the old settings stay."""


def _check_name(text: str) -> str:
    if not 1 <= len(text) <= 20 or min(text) < " ":
        raise ValueRefusedError("a name has 1 to 20 characters")
    return text


def _check_layout(text: str) -> str:
    if not 1 <= len(text) <= 32 or min(text) <= " " or max(text) > "~":
        raise ValueRefusedError("a layout id has 1 to 32 plain characters without spaces")
    try:
        boards.shape(text)
    except ValueError as error:
        raise ValueRefusedError(str(error))
    return text


def _whole(low: int, high: int, only=None):
    def check(text: str) -> int:
        # Not int(text) alone: that takes blanks and signs too.
        if not text.isdigit() or len(text) > 4 or not low <= int(text) <= high or (only and int(text) not in only):
            allowed = "one of %s" % str(only)[1:-1] if only else "a whole number from %d to %d" % (low, high)
            raise ValueRefusedError(allowed)
        return int(text)

    return check


def _on_or_off(text: str) -> str:
    if text not in ("on", "off"):
        raise ValueRefusedError("on or off")
    return text


_CHECKS = {
    "name": _check_name,
    "layout": _check_layout,
    "oversample": _whole(1, 8, (1, 2, 4, 8)),
    "settle_us": _whole(1, 200),
    "row_settle_us": _whole(0, 200),
    "window": _whole(2, 32),
    "radio": _on_or_off,
}
_DEFAULTS = {
    "name": "groundtone", "layout": "starter-10x3", "oversample": 2, "settle_us": 5, "row_settle_us": 0, "window": 16,
    "radio": "on",
}  # fmt: skip


class Settings:
    """The values in force. `notice` is a sentence when the file could not be used as it was, else empty."""

    def __init__(self) -> None:
        self._values = dict(_DEFAULTS)
        self.notice = ""
        self._load()

    def _load(self) -> None:
        try:
            with open(FILE) as file:
                stored = json.load(file)
            if not isinstance(stored, dict):
                raise ValueError
        except OSError as error:
            if error.args[0] != 2:  # no file yet is no fault
                self.notice = "The settings file cannot be read: defaults are in force."
            return
        except ValueError:
            self.notice = "The settings file is damaged: defaults are in force."
            return
        refused = []
        for key, check in _CHECKS.items():
            if key in stored:
                try:
                    self._values[key] = check(str(stored[key]))
                except ValueRefusedError:
                    refused.append(key)
        if refused:
            self.notice = "Not usable in the settings file: %s. Their defaults are in force." % ", ".join(refused)

    def __getitem__(self, key: str):
        return self._values[key]

    def get(self, key: str) -> str:
        """A value as text."""
        if key not in _CHECKS:
            raise UnknownKeyError(key)
        return str(self._values[key])

    def put(self, key: str, text: str) -> str:
        """Check, store and put in force; the text as stored. On any failure everything stays as it was."""
        if key not in _CHECKS:
            raise UnknownKeyError(key)
        values = dict(self._values)
        values[key] = _CHECKS[key](text)
        try:
            _store(values)
        except OSError as error:
            raise NotStoredError("the settings could not be written (%s)" % error)
        self._values = values
        return str(values[key])


def _store(values: dict) -> None:
    # The old file stays whole until the new one is: read back, then renamed over it in one step.
    with open(_NEW, "w") as file:
        json.dump(values, file)
    with open(_NEW) as file:
        if file.read() != json.dumps(values):
            raise OSError("written text reads back differently")
    os.rename(_NEW, FILE)
