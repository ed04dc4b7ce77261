"""A world in which somebody stands on the mat from the first moment: the twin's own, entered later in its film."""

from groundtone.twin.scenario import Scenario
from groundtone.twin.world import World

LATER_US = 8_000_000


class StandingWorld:
    def __init__(self, text):
        scenario = Scenario.from_json(text)
        self._world = World(scenario)
        self.rows, self.duration_s = self._world.rows, self._world.duration_s - LATER_US * 1e-6
        self.uid, self.layout = scenario.mat.uid, scenario.mat.layout

    def table(self, film_time_us):
        return self._world.table(film_time_us + LATER_US)

    def probe(self, film_time_us, row_states, ref_state):
        return self._world.probe(film_time_us + LATER_US, row_states, ref_state)

    def strike(self, t0_us, t1_us):
        return None

    def strike_code(self, film_time_us):
        return 0
