"""Measures against what the twin knows to be true, within their own uncertainty; NaN always has a reason."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from groundtone.swing.doubts import Doubts
from groundtone.swing.events import Kind
from groundtone.swing.measures import EVENTS, measures
from groundtone.swing.phases import find_swings
from groundtone.twin.scenario import Session, SwingSpec
from groundtone.twin.true_swing import true_measures

DOCS = Path(__file__).parents[2] / "docs" / "measures.md"


@pytest.fixture(scope="module")
def measured(of_styles):
    styles, series, known, session = of_styles
    swings = find_swings(series)
    return {
        style: (measures(swing, series), true_measures(known, session, k))
        for k, (style, swing) in enumerate(zip(styles, swings, strict=True))
    }


def test_measures_agree_with_the_truth(measured):
    over = []
    for style, (seen, true) in measured.items():
        for name, value in true.items():
            if math.isnan(value) or (style == "lost_balance" and "finish" in name) or name == "held_s":
                continue
            assert seen[name].known, (style, name, seen[name].reason)
            over.append((seen[name].value - value) / seen[name].u)
            assert abs(over[-1]) < 4.5, (style, name, seen[name], value)
    assert np.sqrt(np.mean(np.square(over))) < 1.3


def test_heel_work_and_side_work_tell_a_turn_from_a_slide(measured):
    good, slide = measured["good"][0], measured["slide"][0]
    assert good["lead_heel_work"].value > 0.05 > 0.03 > slide["lead_heel_work"].value
    assert slide["side_work_mm"].value > good["side_work_mm"].value
    assert good["heel_side_ratio"].value > 1.7 * slide["heel_side_ratio"].value
    work = good["heel_work_mm"].value
    assert good["heel_side_ratio"].value == pytest.approx(work / good["side_work_mm"].value)


def test_the_finish(measured):
    good, lost = measured["good"][0], measured["lost_balance"][0]
    assert good["held_s"].value > 1.5
    assert good["stepped_s"].reason == "no foot was lifted within three seconds of impact"
    assert lost["held_s"].value < 1.0
    # The trail foot lifts 0.60 s after the finish, which is 0.45 s after impact.
    assert lost["stepped_s"].value == pytest.approx(1.05, abs=0.15)
    assert 1 < good["finish_ellipse_mm2"].value < 60
    assert math.isnan(lost["finish_ellipse_mm2"].value)


def test_the_table_in_the_docs_names_every_measure_and_no_other(measured):
    table = DOCS.read_text("utf-8").split("## Measures")[1].split("## Findings")[0]
    cells = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    named = {name for cell in cells for name in cell.replace("`", "").replace(" ", "").split(",")}
    spread = {n[:-1] + e for n in named if n.endswith("_E") for e in EVENTS}
    spread |= {n[:-1] + p for n in named if n.endswith("_P") for p in ("back", "down", "late", "after")}
    spread |= {n for n in named if not n.endswith(("_E", "_P"))}
    assert spread == set(measured["good"][0])


def test_nan_has_a_reason_and_a_value_an_uncertainty(measured):
    for seen, _ in measured.values():
        for measure in seen.values():
            assert measure.known == (not measure.reason)
            assert measure.known == math.isfinite(measure.u)
            assert not measure.known or measure.u >= 0


def test_without_footprints_positions_say_why(of_styles):
    _, series, _, _ = of_styles
    blind = replace(
        series,
        position=np.full_like(series.position, np.nan),
        position_u=np.full_like(series.position, np.nan),
        overall=np.full_like(series.overall, np.nan),
        stands=tuple(
            replace(s, footprints=(None, None), settled=tuple(replace(f, footprint=None) for f in s.settled))
            for s in series.stands
        ),
    )
    seen = measures(find_swings(series)[0], blind)
    assert "rock once" in seen["lead_impact"].reason
    assert "rock once" in seen["heel_work_mm"].reason
    assert seen["share_impact"].known


def test_a_rehearsal_has_no_force(play):
    series, _ = play(Session(swings=(SwingSpec(slow=4.0, strike=False),), seed=3))
    (swing,) = find_swings(series)
    assert swing.kind is Kind.REHEARSAL
    seen = measures(swing, series)
    assert seen["force_most"].reason == "a slow rehearsal takes no force"
    assert seen["downswing_s"].value == pytest.approx(1.0, abs=0.35)


def test_a_junior_whose_trail_foot_carries_too_little(play):
    from groundtone.twin.scenario import GolferSpec

    series, _ = play(Session(GolferSpec(mass_kg=25.0, shoe_mm=200.0), (SwingSpec(hold_s=3.0),), seed=2))
    seen = measures(find_swings(series)[0], series)
    assert "too little" in seen["trail_finish"].reason
    assert seen["lead_finish"].known


def test_doubts_widen_the_uncertainties(of_styles):
    _, series, _, _ = of_styles
    swing = find_swings(series)[0]
    none, known = Doubts(0.0, 0.005, 0.015, 0.007, 3.0), Doubts(0.05, 0.005, 0.015, 0.007, 3.0)
    plain, wide = (measures(swing, series, doubts)["share_impact"] for doubts in (none, known))
    assert wide.value == plain.value
    s = wide.value
    assert wide.common == pytest.approx(4 * s * (1 - s) * 0.05, rel=0.02)
    assert wide.u == pytest.approx(math.hypot(wide.common, plain.u), rel=1e-6)
