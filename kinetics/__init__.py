"""Retro-aldol cleavage of an unsaturated aldehyde in boiling carbonate water, from first principles.

    import kinetics
    run = kinetics.simulate(kinetics.read_scenario("scenarios/perfume_school.toml"))
    run.summary.conversion, run.series.time_s
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["Mechanisms", "Run", "Scenario", "load_shelf", "read_scenario", "simulate"]

if TYPE_CHECKING:
    from kinetics.data.shelf import load_shelf
    from kinetics.flask.mechanisms import Mechanisms
    from kinetics.run.reading import read_scenario
    from kinetics.run.result import Run
    from kinetics.run.scenario import Scenario
    from kinetics.run.simulation import simulate

_HOMES = {
    "Mechanisms": "kinetics.flask.mechanisms",
    "Run": "kinetics.run.result",
    "Scenario": "kinetics.run.scenario",
    "load_shelf": "kinetics.data.shelf",
    "read_scenario": "kinetics.run.reading",
    "simulate": "kinetics.run.simulation",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for, so that `import kinetics` costs nothing."""
    if name not in _HOMES:
        raise AttributeError(f"module 'kinetics' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
