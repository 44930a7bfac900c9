"""Two liquids: equilibrium of oil and water in closed form, transfer between them, appearing and
vanishing."""

from __future__ import annotations

from itertools import pairwise
from math import exp, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

import kinetics
from kinetics.flask.oil import equilibrium_oil

E, P = "cinnamaldehyde", "benzaldehyde"
M_WATER = 0.018015268
RHO_25, RHO_100 = 0.997003, 0.958349  # kg/L, IAPWS-95
S_25 = {
    P: 6.95 / 106.124,
    E: 1.42 / 132.161,
}  # mol/L; 6.95 g/L (compilation), 1.42 g/L (NTP/HSDB), formula masses
COLD = {"start": "25 degC", "temperature": "25 degC"}
CLOSED = {"closed": True}


def test_one_substance() -> None:
    assert equilibrium_oil([2.0], [0.5]) == pytest.approx([1.5], rel=1e-13)
    assert equilibrium_oil([0.4], [0.5]) == [0.0]
    assert equilibrium_oil([0.5], [0.5]) == pytest.approx([0.0], abs=1e-13)
    assert equilibrium_oil([0.0, 0.0], [0.5, 0.1]) == [0.0, 0.0]


@pytest.mark.parametrize(
    ("n", "s"), [((2.0, 3.0), (0.5, 0.1)), ((0.3, 0.05), (0.5, 0.1)), ((1e-3, 5.0), (2.0, 1e-4))]
)
def test_two_substances_by_the_quadratic_formula(n: tuple[float, float], s: tuple[float, float]) -> None:
    """n1/(s1 + O) + n2/(s2 + O) = 1, that is O^2 + (s1 + s2 - n1 - n2) O + s1 s2 - n1 s2 - n2 s1 = 0."""
    b, c = sum(s) - sum(n), s[0] * s[1] - n[0] * s[1] - n[1] * s[0]
    O = max((-b + sqrt(b * b - 4 * c)) / 2 if b <= 0 else -2 * c / (b + sqrt(b * b - 4 * c)), 0.0)
    expected = [O * n_i / (s_i + O) for n_i, s_i in zip(n, s)]
    assert equilibrium_oil(n, s) == pytest.approx(expected, rel=1e-12)
    assert sum(expected) == pytest.approx(O, rel=1e-9)


def test_two_that_fit_alone_but_not_together() -> None:
    """Each is 0.6 of its solubility: together they are beyond what an ideal oil leaves in the water."""
    oil = equilibrium_oil([0.6, 0.6], [1.0, 1.0])
    assert oil == pytest.approx([0.1, 0.1], rel=1e-12)


def test_many_substances_by_bisection() -> None:
    rng = np.random.default_rng(3)
    for _ in range(50):
        n, s = 10.0 ** rng.uniform(-6, 1, 4), 10.0 ** rng.uniform(-6, 0, 4)
        oil = equilibrium_oil(n.tolist(), s.tolist())
        if (n / s).sum() <= 1.0:
            assert oil == [0.0] * 4
        else:
            O = brentq(lambda x, n=n, s=s: (n / (s + x)).sum() - 1.0, 0.0, n.sum(), xtol=1e-16, rtol=1e-14)
            assert oil == pytest.approx((O * n / (s + O)).tolist(), rel=1e-9, abs=1e-12 * n.sum())


def test_charged_oil_starts_in_equilibrium_with_the_water(batch, only) -> None:
    """At 25 C, the two solubilities as they were measured: c_i = z_i S_i."""
    charge = {"water": "55.5 mol", P: "0.2 mol", E: "0.1 mol"}
    run = kinetics.simulate(batch(charge, heating=COLD, vessel=CLOSED), mechanisms=only("oil_phase"))
    V = 55.5 * M_WATER / RHO_25
    oil = {name: float(run.series.oil_by_species_mol[name][0]) for name in (P, E)}
    for name, amount in ((P, 0.2), (E, 0.1)):
        z = oil[name] / sum(oil.values())
        assert (amount - oil[name]) / V == pytest.approx(z * S_25[name], rel=3e-5)


def test_without_an_oil_phase_everything_dissolves(batch, only) -> None:
    charge = {"water": "100 mL", P: "20 g"}
    run = kinetics.simulate(batch(charge, heating=COLD, vessel=CLOSED), mechanisms=only())
    assert run.series.oil_by_species_mol == {} and (run.series.oil_mol == 0.0).all()


def salted_oil(batch, mechanisms) -> float:
    """Benzaldehyde in the water over that in the water at full solubility without salt, 1 mol of NaCl in the
    flask."""
    charge = {"water": "56 mol", P: "0.5 mol", "sodium chloride": "1 mol"}
    run = kinetics.simulate(batch(charge, heating=COLD, vessel=CLOSED), mechanisms=mechanisms)
    V = (56.0 - 0.5) * M_WATER / RHO_25
    return (0.5 - float(run.series.oil_by_species_mol[P][0])) / V / S_25[P]


def test_salting_out(batch, only) -> None:
    """Setschenow: 0.20 L/mol (estimate) at 1 mol in 55.5 mol of water lowers the solubility to
    10^-(0.20/V)."""
    V = 55.5 * M_WATER / RHO_25
    assert salted_oil(batch, only("oil_phase", "salting_out")) == pytest.approx(10 ** (-0.20 / V), rel=3e-5)
    assert salted_oil(batch, only("oil_phase")) == pytest.approx(1.0, rel=3e-5)


def test_carbonate_salts_out_by_its_own_constant(flask, batch, only) -> None:
    """0.45 L/mol of carbonate and 0.20 of what is univalent, in the composition that the liquor has."""
    charge = {"water": "55.5 mol", P: "0.5 mol", "sodium carbonate": "0.5 mol"}
    one = flask(batch(charge, heating=COLD, vessel=CLOSED), only("oil_phase", "salting_out"))
    state = one.balance.state(0.0, one.state())
    s, per_litre = state.speciation, state.water_kg / state.volume
    assert s.carbonate == pytest.approx(0.5, rel=0.05)
    expected = 10 ** ((0.45 * s.carbonate + 0.20 * (s.bicarbonate + s.hydroxide)) * per_litre)
    assert one.balance.salting_factors(state)[one.network.position(P)] == pytest.approx(expected, rel=1e-12)
    assert set(
        flask(batch(charge, heating=COLD, vessel=CLOSED), only("oil_phase"))
        .balance.salting_factors(state)
        .values()
    ) == {1.0}


@pytest.mark.parametrize("k_La", [2e-4, 6e-3])
def test_dissolving_after_water_is_added(batch, only, k_La: float) -> None:
    """Water with oil over it, diluted at once to half: c = S - (S - c0) exp(-k_La t), oil beside it all the
    while.

    1e-5 of the rise: the nucleus that lets oil vanish smoothly is 1e-6 of the oil formers.
    """
    charge = {"water": "30 mol", P: "0.5 mol"}
    scenario = batch(
        charge,
        heating=COLD | {"hold": "2 h"},
        vessel={"closed": True, "k_La": f"{k_La} 1/s"},
        addition=[{"at": "1 h", "water": "30 mol"}],
    )
    after = np.array([10.0, 100.0, 600.0, 3000.0])
    mechanisms = only("oil_phase", "transfer_resistance")
    run = kinetics.simulate(scenario, mechanisms=mechanisms, rtol=1e-8, times=3600.0 + after)
    series, V = run.series, 60.0 * M_WATER / RHO_25
    found = dict(
        zip(series.time_s.tolist(), ((series.flask_mol[P] - series.oil_by_species_mol[P]) / V).tolist())
    )
    for t in after.tolist():
        expected = S_25[P] * (1.0 - 0.5 * exp(-k_La * t))
        assert found[3600.0 + t] == pytest.approx(expected, rel=3e-5)


def test_transfer_without_resistance_is_equilibrium(batch, only) -> None:
    """Half a minute after the dilution the water is saturated; with gentle stirring it is not."""
    charge = {"water": "30 mol", P: "0.5 mol"}
    scenario = batch(
        charge, heating=COLD | {"hold": "2 h"}, vessel=CLOSED, addition=[{"at": "1 h", "water": "30 mol"}]
    )
    dissolved = []
    for mechanisms in (only("oil_phase"), only("oil_phase", "transfer_resistance")):
        series = kinetics.simulate(scenario, mechanisms=mechanisms, rtol=1e-8, times=[3630.0]).series
        k = series.time_s.tolist().index(3630.0)
        dissolved.append(
            (series.flask_mol[P][k] - series.oil_by_species_mol[P][k]) / (60.0 * M_WATER / RHO_25)
        )
    assert dissolved[0] == pytest.approx(S_25[P], rel=3e-5)
    assert dissolved[1] == pytest.approx(S_25[P] * (1 - 0.5 * exp(-6e-3 * 30)), rel=3e-5)


def test_transfer_equation_at_one_instant(flask, batch, only) -> None:
    """d o/dt = k_La V (c - z S) for two substances, by hand; the nucleus takes 1e-6 of z."""
    charge = {"water": "55.5 mol", P: "0.2 mol", E: "0.1 mol"}
    one = flask(
        batch(charge, heating=COLD, vessel=CLOSED | {"k_La": "0.01 1/s"}),
        only("oil_phase", "transfer_resistance"),
    )
    oil = {P: 0.19, E: 0.06}
    rates = one.rates(one.state(oil))
    V = 55.5 * M_WATER / RHO_25
    for name, amount in ((P, 0.2), (E, 0.1)):
        c, z = (amount - oil[name]) / V, oil[name] / 0.25
        assert rates["oil"][name] == pytest.approx(0.01 * V * (c - z * S_25[name]), rel=1e-4)
        assert abs(rates["flask"][name]) < 1e-6 * abs(
            rates["oil"][name]
        )  # neutral water: next to no reaction


def test_reaction_sees_the_water_phase_alone(flask, batch, only) -> None:
    """E in the oil does not react: the rate is that of the amount in the water."""
    charge = {"water": "55.5 mol", E: "0.1 mol", "sodium hydroxide": "10 mmol"}
    one = flask(batch(charge, heating=COLD, vessel=CLOSED), only("oil_phase", "transfer_resistance"))
    rates = [one.rates(one.state({E: oil}))["flask"][E] for oil in (0.0, 0.09, 0.099)]
    assert rates[0] < 0.0
    assert rates[1] == pytest.approx(0.1 * rates[0], rel=1e-9)
    assert rates[2] == pytest.approx(0.01 * rates[0], rel=1e-6)


@pytest.mark.parametrize("stirring", ["none", "vigorous"])
def test_oil_vanishes_and_reappears(batch, only, stirring: str) -> None:
    """Heated it dissolves, diluted it dissolves, cooled it comes back, fed it comes back: no jump, nothing
    negative.

    Between the limits at 25 and 100 C (6.95 g/L; 12 g/kg, an estimate). Negative by no more than the
    absolute tolerance of the integrator, 1e-9 of all that is charged, and 1e-12 where that is asked for.
    """
    scenario = batch(
        {"water": "1 L", P: "9 g"},
        heating={
            "start": "25 degC",
            "temperature": "95 degC",
            "ramp": "1 h",
            "hold": "4 h",
            "cooling": "1 h",
        },
        vessel={"closed": True, "stirring": stirring},
        addition=[
            {"at": "1 h", "over": "30 min", P: "8 g"},
            {"at": "2 h", "water": "0.7 L"},
            {"at": "3.5 h", P: "6 g"},
        ],
    )
    times = np.linspace(0.0, 6 * 3600.0, 1501)
    run = kinetics.simulate(scenario, mechanisms=only("oil_phase", "transfer_resistance"), times=times)
    assert run.failure is None
    amount = 9.0 / 106.124
    states = np.array(run.trajectory.states)
    assert states.min() >= -1e-9 * 23.0 / 106.124
    close = kinetics.simulate(
        scenario, mechanisms=only("oil_phase", "transfer_resistance"), rtol=1e-9, times=times
    )
    assert np.array(close.trajectory.states).min() >= -1e-12 * 23.0 / 106.124
    oil, t = run.series.oil_mol, run.series.time_s
    assert (oil <= run.series.flask_mol[P]).all()

    def at(hours: float) -> float:
        return float(oil[np.abs(t - 3600.0 * hours).argmin()])

    trace = 1e-4 * amount
    assert at(0.0) > 0.2 * amount and at(2.0) < trace  # heated: gone
    assert at(2.6) > 30 * trace  # fed: back
    assert at(4.2) < trace  # diluted: gone
    assert at(4.9) > 30 * trace  # fed at once: back
    assert oil[-1] > at(4.9)  # cooled: more
    k_La = {"none": 1e-3, "vigorous": 5e-2}[stirring]
    fastest = k_La * 1.8 * 23.0 / 106.124  # mol/s: all there is, beyond saturation, in 1.8 L
    feed = 8.0 / 106.124 / 1800.0
    poured = 3600.0 * 4.5  # six grams at once, which are oil at first
    for (t0, o0), (t1, o1) in pairwise(zip(t.tolist(), oil.tolist())):
        added = 6.0 / 106.124 if t0 <= poured < t1 else 0.0
        assert abs(o1 - o0 - added) <= (fastest + feed) * (t1 - t0) + 1e-5 * added + 1e-9 * amount


def test_what_is_poured_in_is_oil_at_first_and_dissolves_at_the_pace_of_the_stirring(batch, only) -> None:
    """1 mmol of one oil in water that could hold far more: all but a nucleus is oil, so d o/dt = -k_La V (S - c), c = (n - o)/V:
    S - c falls as exp(-k_La t) until the oil is gone."""
    scenario = batch(
        {"water": "1 L"},
        heating={"start": "25 degC", "temperature": "25 degC", "ramp": "0 min", "hold": "1 h", "cooling": "0 min"},
        vessel={"closed": True, "k_La": "0.0001 1/s"},
        addition=[{"at": "10 min", P: "1 mmol"}],
    )
    times = [600.0, 601.0, 630.0, 660.0]
    run = kinetics.simulate(
        scenario, mechanisms=only("oil_phase", "transfer_resistance"), rtol=1e-9, times=times
    )
    oil = dict(zip(run.series.time_s.tolist(), run.series.oil_mol.tolist()))
    S = 6.95 / 106.124
    volume = run.series.water_L[0]
    assert oil[600.0] == pytest.approx(0.0, abs=1e-12)
    for t in times[1:]:
        dissolved = S * volume * (1.0 - np.exp(-1e-4 * (t - 600.0)))
        assert oil[t] == pytest.approx(1e-3 - dissolved, rel=2e-3)


def test_after_a_long_wait_the_oil_is_that_of_equilibrium(batch, only) -> None:
    """The state of the oil forgets how it came about: heated and cooled, it is what charging would have
    made."""
    charge = {"water": "1 L", P: "7.5 g", E: "0.4 g"}
    long = {"start": "25 degC", "temperature": "90 degC", "ramp": "1 h", "hold": "1 h", "cooling": "40 h"}
    scenario = batch(charge, heating=long, vessel={"closed": True, "stirring": "vigorous"})
    series = kinetics.simulate(
        scenario, mechanisms=only("oil_phase", "transfer_resistance"), rtol=1e-8
    ).series
    # the water lags by 20 s, 0.01 K, and that of 1.2 % per K; what it holds too much of one the oil lacks of both
    dissolved = series.flask_mol[P][-1] + series.flask_mol[E][-1] - series.oil_mol[-1]
    for name in (P, E):
        oil = series.oil_by_species_mol[name]
        assert oil.min() < 1e-3 * oil[0]
        assert oil[-1] == pytest.approx(oil[0], abs=2e-4 * dissolved)
