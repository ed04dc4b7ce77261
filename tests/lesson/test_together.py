"""What goes with what: links that are there are found, links that are not there are not claimed."""

import numpy as np
import pytest
from invented_lessons import session

from groundtone.lesson.strike_links import strike_links
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import BlockRows, SwingRow


def test_without_a_link_sessions_claim_none():
    rng = np.random.default_rng(11)
    claims = [any(answer.claimed for answer in strike_links(session(rng))) for _ in range(100)]
    # 5 % are allowed; 100 sessions scatter by 2.2.
    assert np.mean(claims) <= 0.10


def test_a_link_of_07_is_found_and_points_to_the_heel():
    rng = np.random.default_rng(12)
    answers = [strike_links(session(rng, swings=40, place=0.7, contact=0.7)) for _ in range(40)]
    found = [place for place, _ in answers if place.claimed]
    assert len(found) >= 27  # 8 in 10, less two standard deviations
    assert all("heel" in answer.sentence for answer in found)
    assert all(answer.low < answer.size < answer.high for answer in found)


def test_hanging_back_that_goes_with_bad_contact_is_told_in_points_of_the_share():
    _, contact = strike_links(session(np.random.default_rng(1), swings=60, contact=0.9))
    assert contact.claimed
    assert contact.shift[0] == pytest.approx(-0.08, abs=0.03)
    assert contact.sentence.startswith("Where contact was not clean there was less on the lead side")


def test_one_wild_swing_changes_little():
    rows = session(np.random.default_rng(4), swings=32, place=0.8)
    wild = SwingRow(99, {"overall_down": 5.0, "share_impact": 0.7}, strike=Strike(field=6))
    before, _ = strike_links(rows)
    after, _ = strike_links([*rows, wild])
    assert abs(after.size - before.size) < 0.25
    assert before.claimed


def test_too_few_swings_say_how_many_it_takes():
    place, contact = strike_links(session(np.random.default_rng(5), swings=11, place=1.0, contact=1.0))
    assert not place.claimed
    assert not contact.claimed
    assert "too few swings to say (11; it takes 12" in place.sentence


def test_a_shank_is_a_place_towards_the_heel_and_no_contact_of_the_low_point():
    shank = Strike(contact=Contact.SHANK)
    assert shank.at_mm == (-35.0, 0.0)
    rows = session(np.random.default_rng(1), swings=60, contact=0.9)
    shanks = [SwingRow(100 + i, {"overall_down": 0.8, "share_impact": 0.9}, strike=shank) for i in range(9)]
    before, after = strike_links(rows), strike_links([*rows, *shanks])
    assert (after[1].size, after[1].n) == (before[1].size, before[1].n)
    assert after[0].n == before[0].n + 9


def test_all_clean_says_nothing_of_contact():
    rows = [SwingRow(i, {"share_impact": 0.5 + i / 100}, strike=Strike(contact=Contact.CLEAN)) for i in range(20)]
    _, contact = strike_links(rows)
    assert "at least 4 of them clean and 4 not" in contact.sentence


def test_practice_swings_do_not_count():
    rows = [SwingRow(r.number, r.values, strike=r.strike, kind="practice") for r in session(np.random.default_rng(6))]
    assert strike_links(rows)[0].n == 0


def test_the_same_session_gives_the_same_answer():
    rows = session(np.random.default_rng(7), place=0.5)
    assert [answer.sentence for answer in strike_links(rows)] == [answer.sentence for answer in strike_links(rows)]


def in_blocks(rng, shift, trend, blocks=4, each=8):
    """Blocks whose swings have nothing to do with each other, but their places and a trend over the session do."""
    own, n = rng.standard_normal(blocks), blocks * each
    out = []
    for b in range(blocks):
        rows = []
        for k in range(each):
            i = b * each + k
            moved = shift * own[b] + trend * (i / n - 0.5)
            values = {"overall_down": 0.6 + 0.04 * (moved + rng.standard_normal()), "share_impact": 0.7}
            strike = Strike(place_mm=(-12 * (moved + rng.standard_normal()), 0.0), contact=Contact.CLEAN)
            rows.append(SwingRow(i + 1, values, strike=strike))
        out.append(BlockRows(str(b), tuple(rows), number=b + 1))
    return [row for block in out for row in block.swings]


@pytest.mark.parametrize(("shift", "trend"), [(2.0, 0.0), (0.0, 2.0), (1.0, 2.0)])
def test_blocks_and_trends_that_move_both_are_no_link(shift, trend):
    rng = np.random.default_rng(13)
    claims = sum(strike_links(in_blocks(rng, shift, trend))[0].claimed for _ in range(60))
    assert claims <= 4  # pooled it was one in four and more


def test_the_interval_that_is_shown_decides():
    rng = np.random.default_rng(14)
    for _ in range(10):
        place, _ = strike_links(session(rng, swings=40, place=0.7))
        if place.claimed:
            assert place.low * place.high > 0
        else:
            assert "no clear link" in place.sentence


def test_a_few_long_blocks_are_taken_in_pieces_so_that_a_link_can_be_told():
    strong = session(np.random.default_rng(15), swings=30, place=0.95)
    assert strike_links(strong)[0].claimed


def test_a_steep_trend_within_two_long_blocks_is_no_link():
    rng = np.random.default_rng(16)
    claims = sum(strike_links(in_blocks(rng, 0.0, 6.0, blocks=2, each=20))[0].claimed for _ in range(40))
    assert claims <= 3
