"""The sole's blobs: exact centre of pressure, positive and smooth shares, inside the shoe."""

import numpy as np
import pytest

from groundtone.twin.footprint import blob_weights, make_sole
from groundtone.twin.scenario import WIDE_SOLES, GolferSpec


def density(sole, shares, step_mm=1.0):
    """Pressure on a fine grid (sole's own axes, from its middle), by summing the blobs' Gaussians."""
    along = np.arange(-280.0, 280.0, step_mm)
    across = np.arange(-160.0, 160.0, step_mm)
    a, c = np.meshgrid(along, across, indexing="ij")
    total = np.zeros_like(a)
    for b in range(sole.parent.size):
        s = sole.sigma_mm[b]
        r2 = (a - sole.along_mm[b]) ** 2 + (c - sole.across_mm[b]) ** 2
        total += shares[sole.parent[b]] * sole.part[b] * np.exp(-r2 / (2 * s * s)) / (2 * np.pi * s * s)
    return a, c, total * step_mm**2


@pytest.mark.parametrize("kind", WIDE_SOLES)
@pytest.mark.parametrize("shoe", [180.0, 290.0, 330.0])
def test_centre_of_pressure_by_numerical_integration(kind, shoe):
    sole = make_sole(GolferSpec(sole=kind, shoe_mm=shoe))
    for wanted, lean in ((0.15, 0.0), (0.5, -0.6), (0.9, 0.8)):
        shares = blob_weights(sole, np.array([wanted]), np.array([lean]))[0]
        a, c, load = density(sole, shares)
        assert abs(load.sum() - 1.0) < 1e-9
        assert abs((load * a).sum() / shoe + 0.5 - wanted) < 1e-9
        assert abs((load * c).sum() / sole.width_mm - shares @ sole.place[:, 1]) < 1e-9


@pytest.mark.parametrize("kind", WIDE_SOLES)
def test_shares_are_positive_exact_and_smooth(kind):
    sole = make_sole(GolferSpec(sole=kind))
    wanted = np.linspace(0.15, 0.90, 3001)
    for lean in (-1.0, 0.0, 1.0):
        shares = blob_weights(sole, wanted, np.full(wanted.shape, lean))
        assert shares.min() > 0.0
        np.testing.assert_allclose(shares.sum(axis=1), 1.0, rtol=1e-14)
        np.testing.assert_allclose(shares @ sole.place[:, 0], wanted, atol=1e-12)
        # A step of 0.00025 in place changes no share by more than 0.5 %, and the change itself changes slowly.
        assert np.abs(np.diff(shares, axis=0)).max() < 0.005
        assert np.abs(np.diff(shares, n=2, axis=0)).max() < 1e-4


def test_lean_moves_the_pressure_inwards():
    sole = make_sole(GolferSpec())
    shares = blob_weights(sole, np.full(3, 0.5), np.array([-1.0, 0.0, 1.0]))
    across = shares @ sole.place[:, 1]
    assert across[0] < -0.03
    assert across[2] > across[1] + 0.03


def test_the_print_stays_inside_the_sole():
    sole = make_sole(GolferSpec())
    for wanted in (0.2, 0.5, 0.85):
        shares = blob_weights(sole, np.array([wanted]), np.zeros(1))[0]
        a, c, load = density(sole, shares)
        inside = (np.abs(a) <= sole.length_mm / 2) & (np.abs(c) <= sole.width_mm / 2)
        assert load[inside].sum() > 0.97


def test_studs_are_higher_and_smaller():
    plain, studded = make_sole(GolferSpec()), make_sole(GolferSpec(sole="studded"))
    half = np.array([0.5]), np.zeros(1)
    peak = [density(s, blob_weights(s, *half)[0])[2].max() for s in (plain, studded)]
    assert peak[1] > 1.4 * peak[0]
    heel = studded.parent == 0
    corners = np.stack([studded.along_mm[heel], studded.across_mm[heel]], axis=1)
    apart = np.linalg.norm(corners[:, None] - corners[None], axis=2)[np.triu_indices(4, 1)]
    assert apart.min() > 10.0


def test_places_no_foot_can_hold_are_refused():
    with pytest.raises(ValueError, match="heel-toe"):
        blob_weights(make_sole(GolferSpec()), np.array([0.93]), np.zeros(1))
