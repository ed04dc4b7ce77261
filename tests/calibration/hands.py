"""Hands on a simulated mat: plays a helper's plan on the twin into a guide, and takes down what it said."""

from groundtone.calibration.guided.guide import BenchGuide
from groundtone.calibration.guided.worklist import Step
from groundtone.link.twin_link import TwinLink
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import layout_of
from groundtone.twin.scenario import Bench, MatSpec, Put, Scenario

STARTER = {
    "layout": "starter-10x3",
    "rows": 10,
    "columns_per_panel": 3,
    "row_pitch_mm": 32.0,
    "column_pitch_mm": 46.0,
}
PUCK = (32.0, 46.0)


def mat(**more):
    return MatSpec.reference(**STARTER, **more)


def steps(cells, force_n=50.0, words="5 kg"):
    return [Step(cell, force_n, words) for cell in cells]


def ladder(cell, loads, falling=()):
    out = [Step(cell, load, f"{load:g} N") for load in loads]
    return out + [Step(cell, load, f"{load:g} N", True) for load in falling]


def puts(plan):
    """What careful hands do for a plan: lift between cells, add and take off where the puck lies."""
    out = []
    for before, step in zip([None, *plan], plan, strict=False):
        out.append(Put(step.cell, step.force_n, before is not None and before.cell == step.cell))
    return out


class Story:
    """What a guide said over a film: (time, now) of every frame in which something was said, and the guide."""

    def __init__(self, guide, said):
        self.guide, self.said = guide, said

    @property
    def remarks(self):
        return [(r.what.value, *r.cells) for _, now in self.said for r in now.remarks]

    @property
    def signals(self):
        return [name for _, now in self.said for name in now.signals]

    @property
    def taken(self):
        return [((p.row, p.column), round(p.force_n), p.falling) for p in self.guide.taken]


def play(spec, plan, hands, taken=(), guide=None, rate=20, lead_in_s=2.5, **bench):
    """Plays hands (Put) on a mat into a guide that asks for a plan."""
    layout = layout_of(spec.layout)
    meter = ConductanceMeter(layout)
    how = {"on_s": 3.2, "off_s": 0.8, "hand_s": 0.3, "repeatability": 0.02, "puck_mm": PUCK, **bench}
    act = Bench(plan=tuple(hands), lead_in_s=lead_in_s, **how)
    guide = guide or BenchGuide(layout.rows, layout.columns, layout.columns_per_panel, plan, taken)
    said = []
    with TwinLink(Scenario(spec, act), fast=True) as link:
        link.start(rate)
        for item in link.frames():
            if item is None:
                break
            raw = item.frame.cells.reshape(layout.rows, layout.columns) / 2.0**14
            now = guide.step(item.device_us * 1e-6, meter.measure(item.frame), raw)
            if now.signals or now.remarks:
                said.append((item.device_us * 1e-6, now))
    return Story(guide, said)
