"""The model of a Bluetooth connection: what can be worked out by hand, and what must hold whatever is drawn."""

import numpy as np
import pytest

from groundtone.twin.radio import air_time_s, notification_delays, packets_of

# A turn: the central's empty packet, 150 us, the mat's packet.
EMPTY_S, GAP_S = 80e-6, 150e-6
WHOLE_S = EMPTY_S + GAP_S + 2088e-6


def test_a_frame_is_one_packet_of_251_bytes_or_ten_of_27():
    assert packets_of(244, 251) == [251]
    assert packets_of(244, 27) == [27] * 9 + [8]
    assert packets_of(125, 251) == [132]
    assert air_time_s(251) == pytest.approx(2088e-6)
    assert air_time_s(0) == pytest.approx(EMPTY_S)


def test_a_lonely_frame_waits_for_its_turn_and_no_longer():
    sent = np.arange(400) * 0.1 + np.random.default_rng(5).uniform(0.0, 0.05, 400)
    arrived = notification_delays(sent, 244, 0.030, seed=2)
    # Every arrival is the same time after the beginning of an event, and the wait is drawn from one interval.
    phase = (arrived - arrived[0] + 0.015) % 0.030 - 0.015
    assert np.abs(phase).max() < 1e-9
    waits = arrived - sent
    assert WHOLE_S <= waits.min() < WHOLE_S + 1e-3
    assert WHOLE_S + 29e-3 < waits.max() < WHOLE_S + 30e-3 + 1e-9
    assert waits.mean() == pytest.approx(WHOLE_S + 0.015, abs=1e-3)


def test_packets_that_find_no_place_in_an_event_come_with_the_next():
    one = notification_delays([0.0], 244, 0.030, 27, packets_per_event=10, seed=3)[0]
    # Ten packets: nine of 27 bytes and one of 8 with their turns, all in one event.
    turn_s = EMPTY_S + 2 * GAP_S + 37 * 8e-6
    begin_s = one - (9 * turn_s + EMPTY_S + GAP_S + 18 * 8e-6)
    assert 0.0 <= begin_s <= 0.030
    later = notification_delays([0.0], 244, 0.030, 27, packets_per_event=4, seed=3)[0]
    assert later == pytest.approx(begin_s + 0.060 + turn_s + EMPTY_S + GAP_S + 18 * 8e-6)


def test_a_burst_beyond_the_window_is_skipped_and_the_rest_comes_in_order():
    arrived = notification_delays(np.zeros(10), 244, 0.030, packets_per_event=3, window=6)
    assert np.isnan(arrived).tolist() == [False] * 6 + [True] * 4
    assert (np.diff(arrived[:6]) > 0).all()
    assert arrived[3] - arrived[2] > 0.020  # three to an event


def test_the_credit_comes_back_two_intervals_after_a_frame():
    # One message of credit: a new one is taken only when the ack of the one before has come back.
    sent = np.arange(1000) * 0.001
    arrived = notification_delays(sent, 244, 0.030, window=1)
    times = arrived[~np.isnan(arrived)]
    assert np.diff(times) == pytest.approx(0.060, abs=1e-3)


@pytest.mark.parametrize(
    ("window", "interval_s", "rate_hz", "least", "most"),
    [(4, 0.04875, 50, 0.15, 0.21), (6, 0.04875, 50, 0.0, 0.0), (6, 0.030, 100, 0.0, 0.0), (4, 0.030, 100, 0.30, 0.36)],
)
def test_why_the_window_is_six(window, interval_s, rate_hz, least, most):
    arrived = notification_delays(np.arange(2000) / rate_hz, 244, interval_s, window=window)
    assert least <= np.isnan(arrived).mean() <= most


@pytest.mark.parametrize("loss", [0.0, 0.05, 0.3])
def test_nothing_that_was_taken_is_lost_or_overtaken(loss):
    sent = np.arange(2000) / 50
    arrived = notification_delays(sent, 244, 0.030, loss=loss, window=8, seed=7)
    there = ~np.isnan(arrived)
    assert there.mean() > 0.6
    assert (np.diff(arrived[there]) > 0).all()
    assert (arrived[there] - sent[there] >= WHOLE_S - 1e-9).all()
    again = notification_delays(sent, 244, 0.030, loss=loss, window=8, seed=7)
    assert np.array_equal(arrived, again, equal_nan=True)


def test_a_damaged_packet_costs_a_frame_another_try():
    sent = np.arange(4000) * 0.2
    clean, worse = (notification_delays(sent, 244, 0.030, loss=loss, seed=1) - sent for loss in (0.0, 0.2))
    # One of the central's packets in five ends the event (30 ms), one of the mat's takes another turn or, twice over,
    # another event. By hand: the event succeeds with 0.8 (0.8 + 0.2 · 0.8 · 0.8) = 0.7424 at least.
    assert worse.mean() - clean.mean() == pytest.approx(0.030 * (1 / 0.7424 - 1), abs=2.5e-3)


@pytest.mark.parametrize(
    "bad",
    [
        {"sent_s": [1.0, 0.5]}, {"sent_s": [float("nan")]}, {"interval_s": 0.005}, {"loss": 1.0}, {"packet_bytes": 20},
        {"packets_per_event": 0}, {"window": 0}, {"message_bytes": 0},
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_refused(bad):
    with pytest.raises(ValueError, match=r"times|interval|packets"):
        notification_delays(**{"sent_s": [0.0], "message_bytes": 244, "interval_s": 0.03, **bad})


def test_no_messages_is_no_fault():
    assert notification_delays([], 244, 0.03).shape == (0,)
