"""The commented scenario that a beginner starts from."""

from importlib.resources import files


def starting_scenario() -> str:
    """The text of a scenario file that is valid as it stands and explains each of its lines."""
    return files("kinetics.run").joinpath("starting_scenario.toml").read_text(encoding="utf-8")
