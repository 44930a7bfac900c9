"""The integration: it rests where nothing changes, and says so where it cannot go on."""

import pytest

import kinetics
from kinetics.run import integrate as module
from kinetics.run.reading import parse_scenario
from kinetics.run.scenario import Scenario

AT_REST = kinetics.Mechanisms(cannizzaro=False, oxidation=False)


def closed(charge: str, hold: str, substrate: str = "cinnamaldehyde", heating: str = "") -> Scenario:
    return parse_scenario(
        f'substrate = "{substrate}"\n[charge]\nwater = "400 mL"\n{charge}\n'
        f'[heating]\nhold = "{hold}"\n{heating}\n[vessel]\nclosed = true\n'
    )


@pytest.mark.parametrize(
    ("substrate", "hold"), [("citral", "300 h"), ("diacetone alcohol", "1000 h"), ("cinnamaldehyde", "1000 h")]
)
def test_a_batch_that_has_come_to_rest_is_held_as_long_as_one_likes(substrate: str, hold: str) -> None:
    scenario = closed(f'"{substrate}" = "1.5 g"\n"sodium carbonate" = "4 g"', hold, substrate)
    run = kinetics.simulate(scenario)
    assert run.failure is None
    assert run.trajectory is not None and run.trajectory.evaluations < 5000


def test_a_start_at_equilibrium_stays_there() -> None:
    warm = 'temperature = "25 degC"\nstart = "25 degC"'
    base = '"sodium hydroxide" = "4 g"'
    end = kinetics.simulate(
        closed(f'cinnamaldehyde = "0.1 g"\n{base}', "1000 h", heating=warm), mechanisms=AT_REST, rtol=1e-8
    ).series.flask_mol
    organics = [name for name in end if name not in ("water", "inorganic carbon", "sodium")]
    charge = "\n".join(f'"{name}" = "{float(end[name][-1])!r} mol"' for name in organics)
    again = kinetics.simulate(closed(f"{charge}\n{base}", "300 h", heating=warm), mechanisms=AT_REST)
    assert again.failure is None
    for name in organics:
        assert again.series.flask_mol[name][-1] == pytest.approx(end[name][-1], rel=1e-4, abs=1e-10)


def test_an_integration_without_end_is_a_failure_and_what_was_computed_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_EVALUATIONS", 300)
    run = kinetics.simulate(kinetics.read_scenario("scenarios/common_practice.toml"), rtol=1e-9)
    assert run.failure is not None
    assert "no end in sight after 300 evaluations" in str(run.failure)
    assert 0.0 <= run.failure.reached_s < 10.9 * 3600.0
    assert run.series.time_s[0] == 0.0 and run.summary.conversion is not None


def test_a_flask_that_is_swept_dry_says_so_and_keeps_its_course() -> None:
    """A condenser nearly at the boil under 5 L/min keeps no water: all that boils leaves, and 98 % of it is gone after
    0.98 n_water / boil-up, the one rate there is."""
    scenario = parse_scenario(
        'substrate = "cinnamaldehyde"\n[charge]\nwater = "4 mol"\n"cinnamaldehyde" = "0.1 g"\n"sodium hydroxide" = "1 mg"\n'
        '[heating]\nramp = "0 min"\nhold = "2 h"\nboil_up = "5.4 mL/min"\n'
        '[condenser]\ncoolant = "90 degC"\napproach = "5 K"\nsweep = "5 L/min"\n'
    )
    run = kinetics.simulate(scenario)
    assert run.failure is not None and "the flask is dry" in str(run.failure)
    dry_s = 0.98 * 4.0 / scenario.heating.boil_up_mol_per_s
    assert run.failure.reached_s == run.series.time_s[-1] == pytest.approx(dry_s, rel=1e-3)
    assert run.series.flask_mol["water"][-1] == pytest.approx(0.08, rel=1e-4)
    assert max(run.closure.carbon, run.closure.hydrogen, run.closure.oxygen) < 1e-9


def test_a_guess_that_cannot_be_computed_shortens_the_step(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same end, whether or not some of the integrator's guesses fail."""
    scenario = closed('cinnamaldehyde = "0.1 g"\n"sodium carbonate" = "4 g"', "1 h")
    smooth = kinetics.simulate(scenario, rtol=1e-8)
    calls, rates = 0, module.Balance.rhs

    def failing(balance: module.Balance, t: float, y: list[float]) -> list[float]:
        nonlocal calls
        calls += 1
        if calls % 50 == 0:
            raise ValueError("math domain error")
        return rates(balance, t, y)

    monkeypatch.setattr(module.Balance, "rhs", failing)
    stumbling = kinetics.simulate(scenario, rtol=1e-8)
    assert calls > 200 and stumbling.failure is None
    assert stumbling.summary.conversion == pytest.approx(smooth.summary.conversion, abs=1e-6)
