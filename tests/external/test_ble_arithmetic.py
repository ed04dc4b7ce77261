"""What a frame costs on the air, against figures of the Bluetooth Core Specification.

The judge are the specification's own limits for link-layer packets on the 1M PHY: payloads of 27 to 251 bytes take 328
to 2120 µs (the ranges as a radio maker's interface quotes them: Nordic, SoftDevice S332,
ble_evt_data_length_changed_t).
Those times hold a message integrity check of 4 bytes, which an unencrypted link leaves out. From memory: a basic L2CAP
header has 4 bytes (Volume 3, Part A, 3.1), a notification 3 beside its value (Volume 3, Part F, 3.4.7.1), T_IFS is
150 µs (Volume 6, Part B, 4.1.1).
"""

import pytest

from groundtone.link.radio import FROM_MAT, SERVICE, TO_MAT
from groundtone.twin.radio import INTER_FRAME_S, air_time_s, packets_of
from groundtone.wire.messages import CRC_BYTES, FRAME_HEADER, MAX_MESSAGE
from groundtone.wire.packing import packed_bytes

MIC, L2CAP, NOTIFICATION = 4, 4, 3
ADVERTISING_BYTES = 31  # Volume 6, Part B, 2.3.1.1: legacy advertising data


@pytest.mark.parametrize(("payload", "most_us"), [(27, 328), (251, 2120)])
def test_air_time_is_that_of_the_specification(payload, most_us):
    assert air_time_s(payload + MIC) * 1e6 == pytest.approx(most_us)
    assert air_time_s(payload) * 1e6 == pytest.approx(most_us - 8 * MIC)


def test_an_empty_packet_and_the_gap_between_packets():
    assert air_time_s(0) * 1e6 == pytest.approx(80)
    assert round(INTER_FRAME_S * 1e6) == 150


def test_the_longest_message_fills_one_packet_exactly():
    assert MAX_MESSAGE == 251 - L2CAP - NOTIFICATION
    assert MAX_MESSAGE == 247 - NOTIFICATION  # at ATT MTU 247
    assert packets_of(MAX_MESSAGE, 251) == [251]
    # 128 cells of 14 bits make exactly that message.
    assert FRAME_HEADER + packed_bytes(128, 14) + CRC_BYTES == MAX_MESSAGE
    # One byte more would be a second packet with its own head.
    assert packets_of(MAX_MESSAGE + 1, 251) == [251, 1]


def test_a_hundred_frames_a_second_take_a_quarter_of_the_air_and_eight_times_the_packets_at_27_bytes():
    turn_s = air_time_s(0) + INTER_FRAME_S + air_time_s(251) + INTER_FRAME_S
    assert turn_s * 1e6 == pytest.approx(2468)
    assert 100 * turn_s == pytest.approx(0.247, abs=0.001)
    small = packets_of(MAX_MESSAGE, 27)
    assert len(small) == 10
    small_s = sum(air_time_s(0) + 2 * INTER_FRAME_S + air_time_s(part) for part in small)
    assert 100 * small_s == pytest.approx(0.660, abs=0.005)


def test_the_advertisement_fits_and_the_uuids_are_no_assigned_ones():
    flags, service = 3, 2 + 16
    assert flags + service <= ADVERTISING_BYTES
    name, blank, end_of_id = 20, 1, 6
    assert 2 + name + blank + end_of_id <= ADVERTISING_BYTES
    for uuid in (SERVICE, FROM_MAT, TO_MAT):
        assert not uuid.endswith("-0000-1000-8000-00805f9b34fb")
    # RFC 4122: version 4 in the service's, random; the characteristics count on from it.
    assert SERVICE[14] == "4"
    assert SERVICE[19] in "89ab"
    assert [int(uuid[:8], 16) - int(SERVICE[:8], 16) for uuid in (FROM_MAT, TO_MAT)] == [1, 2]
