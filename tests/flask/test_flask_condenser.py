"""The condenser as one flash: what escapes in closed form, the balance with oil, the limit of saturation."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.optimize import brentq

import kinetics
from kinetics.data.namespace import ARRAYS, FLOATS
from kinetics.flask.condenser import Flash, flash, flash_slopes

B = 1e-3  # mol/s of water vapour
D = 7e-6  # mol/s of dry gas
YW = 0.0231  # water over pressure at 20 C: 2.34 kPa


def test_fraction_that_escapes_without_oil() -> None:
    """phi = K G/(L + K G) with G = D/(1 - y_w) and L = B - G y_w, a trace of each volatile."""
    G = D / (1 - YW)
    L = B - G * YW
    K = [0.01, 1.0, 3.0, 300.0]
    split = flash(B, [1e-15] * 4, K, [0.0] * 4, D, YW, FLOATS)
    assert split.converged
    assert split.escaping == pytest.approx([1e-15 * k * G / (L + k * G) for k in K], rel=1e-8)
    assert (split.gas, split.condensate, split.oil) == pytest.approx((G, L, 0.0), rel=1e-8, abs=1e-15)
    assert split.water_escaping == pytest.approx(G * YW, rel=1e-8)


@pytest.mark.parametrize(("flow", "k"), [(1e-6, 3.0), (1e-4, 3.0), (5e-4, 20.0), (1e-3, 300.0)])
def test_what_escapes_carries_more_with_it(flow: float, k: float) -> None:
    """One volatile: G (1 - y_w) = D + V k G/(B - G y_w + k G), a quadratic in G; its positive root."""
    a = (1 - YW) * (k - YW)
    b = (1 - YW) * B - D * (k - YW) - flow * k
    G = (-b + np.sqrt(b * b + 4 * a * D * B)) / (2 * a)
    split = flash(B, [flow], [k], [0.0], D, YW, FLOATS)
    assert split.gas == pytest.approx(G, rel=1e-9)
    assert split.escaping[0] == pytest.approx(flow * k * G / (B - G * YW + k * G), rel=1e-9)


def test_no_gas_no_loss() -> None:
    """Without gas and below the boil of the mixture nothing escapes, and no water either."""
    split = flash(B, [1e-5, 1e-6], [3.0, 0.01], [0.0, 200.0], 0.0, YW, FLOATS)
    assert sum(split.escaping) < 1e-20 and split.water_escaping < 1e-20
    assert split.condensate == pytest.approx(B, rel=1e-12)


def test_oil_in_the_condenser() -> None:
    """The three laws that define it: V_i = G y_i + L x_i + O z_i, y = K x, x = z x_sat, and the z sum to
    one."""
    V, K, x_sat = [4e-5, 2e-5, 1e-5], [1.3, 0.4, 3.0], [1e-3, 2e-4, 1e9]
    split = flash(B, V, K, [1 / x for x in x_sat], D, YW, FLOATS)
    G, L, O = split.gas, split.condensate, split.oil
    assert O > 0.0
    x = [e / G / k for e, k in zip(split.escaping, K)]
    z = [xi / s for xi, s in zip(x, x_sat)]
    assert sum(z) == pytest.approx(1.0, rel=1e-9)
    for flow, e, xi, zi in zip(V, split.escaping, x, z):
        assert e + L * xi + O * zi == pytest.approx(flow, rel=1e-9)
    assert G == pytest.approx(D + G * YW + sum(split.escaping), rel=1e-9)
    assert L == pytest.approx(B - G * YW, rel=1e-12)


def test_oil_forms_at_saturation_and_not_before() -> None:
    """One substance: oil appears when V exceeds L x_sat + G y_sat; the loss then stays at G y_sat."""
    k, x_sat, losses = 0.05, 1e-3, []
    for flow in (0.5e-6, 0.9e-6, 1.2e-6, 5e-6, 5e-5):
        split = flash(B, [flow], [k], [1 / x_sat], D, YW, FLOATS)
        limit = split.condensate * x_sat + split.gas * k * x_sat
        assert split.oil == pytest.approx(max(flow - limit, 0.0), rel=1e-6, abs=1e-15)
        assert split.escaping[0] <= split.gas * k * x_sat * (1 + 1e-9)
        losses.append(split.escaping[0])
    assert losses[3] == pytest.approx(losses[4], rel=1e-6)
    assert losses[0] < 0.6 * losses[4]


@pytest.mark.parametrize("start", [False, True])
def test_by_bisection_with_several_volatiles(start: bool) -> None:
    """Nested bisection on O and G of the same laws, over a wide range of flows; an old solution to start
    from or none."""
    rng = np.random.default_rng(4)
    old = flash(B, [1e-4] * 3, [1.0] * 3, [10.0] * 3, D, YW, FLOATS) if start else None
    for _ in range(60):
        V = 10.0 ** rng.uniform(-9, -4, 3)
        K = 10.0 ** rng.uniform(-2, 2, 3)
        inverse = np.where(rng.random(3) < 0.3, 0.0, 10.0 ** rng.uniform(0, 5, 3))
        dry = 10.0 ** rng.uniform(-7, -3)
        split = flash(B, V.tolist(), K.tolist(), inverse.tolist(), dry, YW, FLOATS, old)

        def held(G, O, inverse=inverse):
            return max(B - G * YW, 0.0) + O * inverse

        def oil_for(G, V=V, K=K, inverse=inverse, held=held):
            def excess(O):
                return (V * inverse / (held(G, O) + K * G)).sum() - 1.0

            return brentq(excess, 0.0, 1.0, xtol=1e-20, rtol=1e-13) if excess(0.0) > 0 else 0.0

        def imbalance(G, V=V, K=K, dry=dry, held=held, oil_for=oil_for):
            return G * (1 - YW) - dry - (V * K * G / (held(G, oil_for(G)) + K * G)).sum()

        G = brentq(imbalance, dry, (dry + V.sum()) / (1 - YW) * 1.001, xtol=1e-20, rtol=1e-13)
        assert split.converged
        assert split.gas == pytest.approx(G, rel=1e-8)
        expected = V * K * G / (held(G, oil_for(G)) + K * G)
        assert split.escaping == pytest.approx(expected.tolist(), rel=1e-7)


def test_arrays_give_what_floats_give() -> None:
    rng = np.random.default_rng(5)
    V, dry = 10.0 ** rng.uniform(-8, -4, (2, 40)), 10.0 ** rng.uniform(-6, -4, 40)
    together = flash(np.full(40, B), list(V), [3.0, 0.1], [0.0, 3e3], dry, YW, ARRAYS)
    for k in range(0, 40, 3):
        alone = flash(B, V[:, k].tolist(), [3.0, 0.1], [0.0, 3e3], float(dry[k]), YW, FLOATS)
        assert together.gas[k] == pytest.approx(alone.gas, rel=1e-9)
        assert [e[k] for e in together.escaping] == pytest.approx(alone.escaping, rel=1e-8)


P_20_C = {
    "benzaldehyde": 121.0
}  # Pa, between 110 and 130 (below the range of the correlation, which starts at 39 C)


def test_vented_product_does_not_exceed_saturation(batch, only) -> None:
    """8 g of benzaldehyde boiled under 20 mL/min: the gas at 20 C carries at most its vapour pressure there.

    gas: 20 mL/min at 20 C and 101325 Pa are 20e-6/60 x 101325/(8.314 x 293.15) = 1.386e-5 mol/s.
    """
    scenario = batch(
        {"water": "300 mL", "benzaldehyde": "8 g"},
        heating={"hold": "10 h"}, condenser={"air_exchange": "20 mL/min"},
    )  # fmt: skip
    dry = 20e-6 / 60 * 101325 / (8.314463 * 293.15)
    limit = dry * P_20_C["benzaldehyde"] / (101325 - 2339 - 121) * 36000
    on = kinetics.simulate(
        scenario, mechanisms=only("oil_phase", "venting", "product_venting", "condensate_oil")
    )
    off = kinetics.simulate(scenario, mechanisms=only("oil_phase", "venting", "product_venting"))
    assert on.series.left_mol["benzaldehyde"][-1] == pytest.approx(limit, rel=0.1)  # of the vapour pressure
    assert off.series.left_mol["benzaldehyde"][-1] > 5 * limit


@pytest.mark.parametrize(("venting", "product_venting"), list(product((True, False), repeat=2)))
def test_who_may_leave(batch, only, venting: bool, product_venting: bool) -> None:
    """Switched off, not a trace of it leaves; acetaldehyde leaves with venting alone, the product needs
    both."""
    names = [n for n, on in (("venting", venting), ("product_venting", product_venting)) if on]
    scenario = batch(
        {"water": "300 mL", "benzaldehyde": "1 g", "cinnamaldehyde": "1 g", "acetaldehyde": "1 g"}
    )
    left = kinetics.simulate(scenario, mechanisms=only(*names)).series.left_mol
    for name, leaves in (
        ("acetaldehyde", venting),
        ("benzaldehyde", venting and product_venting),
        ("cinnamaldehyde", venting and product_venting),
    ):
        assert (name in left) == leaves
        if leaves:
            assert left[name][-1] > 0.0
    assert left["water"][-1] > 0.0


@pytest.mark.parametrize(
    ("water", "flows", "dry", "oily"),
    [
        (B, [1e-6, 1e-7, 2e-7], D, False),
        (B, [1e-4, 1e-7, 2e-7], 100 * D, False),
        (B, [1e-6, 5e-5, 3e-4], D, True),  # oil of two
        (1e-5, [1e-6, 5e-6, 3e-8], 100 * B, False),  # too little water to wet the gas: all of it leaves
    ],
)
def test_slopes_are_the_differences_of_two_flashes(water: float, flows: list[float], dry: float, oily: bool) -> None:
    assert (assert_slopes(water, flows, [20.0, 3.0, 0.1], [0.0, 3e3, 2e3], dry, YW).oil > 0.0) == oily


def test_slopes_where_much_gas_meets_much_oil() -> None:
    """Gas and oil each as much as the condensate, so that each tells on the other."""
    split = assert_slopes(B, [4e-4, 3e-4, 2e-4], [1.3, 0.4, 0.9], [20.0, 60.0, 1.0], 2e-3, 0.2)
    assert split.oil > 1e-5 and split.gas > B and split.condensate > 1e-4


def assert_slopes(water: float, flows: list[float], K: list[float], inverse: list[float], dry: float, yw: float) -> Flash:
    """Slopes against central differences of 1e-4 in each flow and in the water; the flash itself."""

    def solved(water: float, flows: list[float]) -> Flash:
        return flash(water, flows, K, inverse, dry, yw, FLOATS, tolerance=1e-15)

    def outcome(water: float, flows: list[float]) -> np.ndarray:
        split = solved(water, flows)
        return np.array([*split.escaping, split.water_escaping, split.condensate])

    split = solved(water, flows)
    answer = flash_slopes(split, water, flows, K, inverse, yw, FLOATS)
    for k in range(4):
        h = 1e-4 * (water if k == 3 else flows[k])
        up, down = (
            outcome(water + sign * h * (k == 3), [v + sign * h * (i == k) for i, v in enumerate(flows)]) for sign in (1, -1)
        )
        gone, condensate = answer([float(i == k) for i in range(3)], float(k == 3))
        assert [*gone, condensate] == pytest.approx(((up - down) / (2 * h)).tolist(), rel=1e-6, abs=1e-7)
    return split


def test_a_flash_that_had_too_few_rounds_says_so(monkeypatch) -> None:
    monkeypatch.setattr("kinetics.flask.condenser.MAX_ITERATIONS", 1)
    assert not flash(B, [1e-4], [3.0], [1e3], D, YW, FLOATS).converged
