"""The library's tables as queries know them. How a database gets them is `schema.py`."""

from __future__ import annotations

import functools
from typing import Any

from sqlalchemy import BigInteger, Column, Dialect, Double, ForeignKey, MetaData, Table, Text, insert

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


def insert_lists(table: Table, rows: list[tuple[Any, ...]]) -> tuple[str, tuple[list[Any], ...]]:
    """A statement of PostgreSQL's that puts rows in whole, and what goes with it: a list for each column."""
    lists = []
    for column, values in zip(table.c, zip(*rows, strict=True), strict=True):
        # The driver takes lists of one kind of number.
        real = isinstance(column.type, Double)
        lists.append([float(value) if real and value is not None else value for value in values])
    return _lists_text(table), tuple(lists)


@functools.lru_cache(maxsize=32)
def _lists_text(table: Table) -> str:
    kinds = {BigInteger: "bigint", Double: "float8"}
    lists = ", ".join(f"%s::{kinds.get(type(column.type), 'text')}[]" for column in table.c)
    return f"INSERT INTO {table.name} ({', '.join(column.name for column in table.c)}) SELECT * FROM unnest({lists})"


@functools.lru_cache(maxsize=32)
def insert_text(table: Table, dialect: Dialect) -> str:
    """A statement that puts one row in whole, in the driver's words."""
    return str(insert(table).compile(dialect=dialect, column_keys=[column.name for column in table.c]))
