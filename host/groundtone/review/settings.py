"""What was in force in a recording: its plain tables made of a stance, bands and rules, and read as those again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from groundtone.cue.bands import Bands
from groundtone.cue.rulebook import Rulebook
from groundtone.cue.rulefile import rules_from, rules_table
from groundtone.errors import RulesError
from groundtone.mat.layout import LEFT, RIGHT
from groundtone.pressure.feet import Stance
from groundtone.record.session import Settings


def settings_of(
    stance: Stance | None = None,
    rate_hz: float = 100.0,
    shoe_mm: float | None = None,
    bands: Bands | None = None,
    panel: int | None = None,
    rules: Rulebook | None = None,
) -> Settings:
    """Settings as a recording holds them; what is not given is as usual.

    Parameters
    ----------
    shoe_mm : float, optional
        Outer length of the shoes, mm.
    panel : int, optional
        The one panel that is there, LEFT or RIGHT.
    rules : Rulebook, optional
        All rules of the cues.
    """
    stance = stance or Stance()
    table = {
        **asdict(stance), "lead": "left" if stance.lead == LEFT else "right", "flare_deg": list(stance.flare_deg),
    }  # fmt: skip
    return Settings(
        table, rate_hz, shoe_mm, asdict(bands or Bands()), panel, None if rules is None else rules_table(rules)
    )


def with_rules(settings: Settings, rules: Rulebook) -> Settings:
    """The same with other rules, and the bands that go with them."""
    return replace(settings, bands=asdict(rules.as_bands()), rules=rules_table(rules))


def stance_in(settings: Settings) -> Stance:
    """The stance that was in force."""
    table = settings.stance
    if not table:
        return Stance()
    left, right = (float(flare) for flare in table["flare_deg"])
    lead = LEFT if table.get("lead") == "left" else RIGHT
    return Stance(lead, float(table["width_mm"]), float(table["offset_mm"]), (left, right))


def bands_in(settings: Settings) -> Bands:
    """The bands that were in force; what a newer program told beside them is passed over."""
    return bands_from(settings.bands)


def bands_from(table: Mapping[str, Any]) -> Bands:
    """Bands from a plain table; before the setup had a limit of its own, the backswing's held there as well."""
    known = {name: value for name, value in table.items() if name in Bands.__annotations__}
    if "toes_before" in known:
        known.setdefault("toes_setup", known["toes_before"])
    return Bands(**known)


def rules_in(settings: Settings) -> Rulebook | None:
    """The rules that were in force; None where they are not understood, and the bands beside them count alone."""
    try:
        return None if settings.rules is None else rules_from(settings.rules)
    except RulesError:
        return None
