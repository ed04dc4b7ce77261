"""The library's tables as queries know them. How a database gets them is `schema.py`."""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, Double, ForeignKey, MetaData, Table, Text

METADATA = MetaData()


def _table(name: str, *columns: Column[object]) -> Table:
    return Table(name, METADATA, *columns)


def _number(name: str, *more: ForeignKey, key: bool = False) -> Column[object]:
    return Column(name, BigInteger, *more, primary_key=key)


def _text(name: str, key: bool = False) -> Column[object]:
    return Column(name, Text, primary_key=key)


def _real(name: str) -> Column[object]:
    return Column(name, Double)


def _of(table: str, name: str, key: bool = False) -> Column[object]:
    return _number(name, ForeignKey(f"{table}.id"), key=key)


golfers = _table(
    "golfers",
    _number("id", key=True),
    _text("name"),
    _text("hand"),
    _real("mass_kg"),
    _real("shoe_mm"),
    _text("notes"),
    _text("due"),
)
lessons = _table("lessons", _number("id", key=True), _of("golfers", "golfer_id"), _text("name"))
recordings = _table(
    "recordings", _number("id", key=True), _text("session"), _of("lessons", "lesson_id"), _text("path"),
    _text("sha256"), _number("size"), _text("started"), _text("mat"), _number("frames"), _real("duration_s"),
    _number("simulated"), _text("doubts"), _text("bay"), _text("coach"), _text("version"),
)  # fmt: skip
blocks = _table(
    "blocks", _number("id", key=True), _of("recordings", "recording_id"), _number("number"), _text("kind"),
    _text("club"), _text("lie"), _real("usual_m"), _number("cues"), _number("device_us"),
)  # fmt: skip
swings = _table(
    "swings", _number("id", key=True), _of("blocks", "block_id"), _number("number"), _text("kind"), _real("impact_s"),
    _text("events"),
)  # fmt: skip
measures = _table(
    "measures", _of("swings", "swing_id", key=True), _text("name", key=True), _real("value"), _real("uncertainty"),
    _text("reason"),
)  # fmt: skip
findings = _table(
    "findings", _of("swings", "swing_id", key=True), _text("name", key=True), _real("probability"), _real("size"),
    _text("detail"),
)  # fmt: skip
strikes = _table(
    "strikes", _of("recordings", "recording_id", key=True), _text("entry", key=True), _of("swings", "swing_id"),
    _text("detail"),
)  # fmt: skip
feel = _table(
    "feel", _of("recordings", "recording_id", key=True), _text("entry", key=True), _number("number"), _text("detail")
)

former = _table(
    "former", _of("recordings", "recording_id", key=True), _number("swing", key=True), _real("impact_s"),
    _text("name", key=True), _real("value"), _text("version"),
)  # fmt: skip
mats = _table("mats", _text("uid", key=True), _text("bay"), _text("calibrated"), _text("checked"), _text("verdict"))
own_files = _table(
    "own_files", _of("golfers", "golfer_id", key=True), _text("kind", key=True), _text("text"), _text("bay")
)
erased = _table("erased", _number("id", key=True), _text("who"), _of("golfers", "golfer_id"))

OF_GOLFER = golfers.join(lessons).join(recordings)
"""Recordings with their lesson and whose they are."""

OF_SWING = swings.join(blocks)
"""Swings with their block."""
