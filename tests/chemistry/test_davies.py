"""Davies' equation with every ion present, worked by hand."""

from __future__ import annotations

from math import log, sqrt

import pytest

from kinetics.chemistry.davies import davies_activities
from kinetics.data.namespace import FLOATS


def test_every_ion_counts_by_the_square_of_its_charge() -> None:
    """20 Na, 5 Ca, 4 OH, 3 HCO3, 6 CO3, 7 Cl, 4 organic (mmol/kg): I = (20 + 4x5 + 4 + 3 + 4x6 + 7 + 4)/2 = 41 mmol/kg,
    49 mmol/kg of particles; log10 gamma = -0.509 z^2 (I^1/2/(1 + I^1/2) - 0.3 I), and phi = 1."""
    A = 0.509 * log(10.0) / 3.0
    found = davies_activities(20e-3, 5e-3, 4e-3, 3e-3, 6e-3, 7e-3, 4e-3, A, FLOATS)
    univalent = -0.509 * log(10.0) * (sqrt(0.041) / (1.0 + sqrt(0.041)) - 0.3 * 0.041)
    for ion, charge in (("hydroxide", 1), ("bicarbonate", 1), ("carbonate", 2), ("univalent", 1), ("divalent", 2)):
        assert getattr(found, f"ln_{ion}") == pytest.approx(charge**2 * univalent, rel=1e-12)
    assert found.ln_water == pytest.approx(-0.0180153 * 0.049, rel=1e-5)
