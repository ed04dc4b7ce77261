"""The rate that the radio carries: halved when credit is short, raised again when it is not. Counted by hand."""

CODE = """
from mat import pace
p = pace.Pace()
p.start({rate})
def run(seconds, skips_a_second):
    # Scans of so many seconds at the rate in force; the first ones of each second are skipped.
    out = []
    done = 0
    while done < seconds:
        rate = p.rate_hz
        for i in range(rate):
            change = p.note(i < skips_a_second)
            if change:
                out.append((done + 1, change, p.rate_hz, p.halvings))
                break
        done += 1
    return out
for plan in {plan}:
    print(run(*plan))
"""


def told(mpy, rate, *plan):
    return [eval(line) for line in mpy(CODE.format(rate=rate, plan=list(plan))).splitlines()]


def test_one_skip_in_eight_is_borne_and_more_is_not(mpy):
    # 200 scans in two seconds: 24 skips are 12 %, 26 are 13 %.
    assert told(mpy, 100, (20, 12)) == [[]]
    assert told(mpy, 100, (2, 13)) == [[(2, 1, 50, 1)]]


def test_down_to_25_and_no_further_and_up_again_after_ten_calm_seconds(mpy):
    down, rest, up = told(mpy, 100, (4, 50), (6, 50), (24, 0))
    assert down == [(2, 1, 50, 1), (4, 1, 25, 2)]
    assert rest == []
    assert up == [(10, -1, 50, 1), (20, -1, 100, 0)]


def test_each_try_that_does_not_hold_doubles_the_wait(mpy):
    _, first, _, second, _, third = told(mpy, 100, (2, 50), (10, 0), (2, 50), (40, 0), (2, 50), (40, 0))
    assert first == [(10, -1, 100, 0)]
    assert second[0] == (20, -1, 100, 0)
    assert third == [(10, -1, 100, 0)]  # the second try held for twenty seconds: a new fall begins with ten
    waited = told(mpy, 100, (2, 50), (10, 0), (2, 50), (20, 0), (2, 50), (40, 0))
    assert waited[-1] == [(40, -1, 100, 0)]


def test_a_rate_that_cannot_be_halved_above_25_stays_and_zero_watches_nothing(mpy):
    assert told(mpy, 49, (10, 40)) == [[]]
    assert told(mpy, 0, (3, 0)) == [[]]
    code = "from mat import pace\np = pace.Pace()\np.start(0)\nprint(max(p.note(True) for _ in range(5000)))"
    assert mpy(code) == "0\n"
