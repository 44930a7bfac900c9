"""Why an open reflux as commonly run stops where it does: draws plots/explain.png and .svg."""

from pathlib import Path

import kinetics
from kinetics.analysis.explain import explain
from kinetics.figures.saving import save_figure
from kinetics.figures.waterfall import figure_waterfall

HERE = Path(__file__).resolve().parent
DRAWN = 5e-4  # of the charge: smaller shares are rounding


def main() -> None:
    """Explain, leave out what cannot be seen, draw."""
    found = explain(kinetics.read_scenario(HERE.parent / "scenarios" / "common_practice.toml"), workers=None)
    shares = {name: share for name, share in found.shares.items() if abs(share) >= DRAWN}
    remark = "Points of conversion, shared out by Shapley's value; leftwards costs, rightwards helps."
    page = figure_waterfall(found.conversion, shares, title=found.title, remarks=[remark])
    for ending in ("png", "svg"):
        save_figure(page, HERE / f"explain.{ending}")


if __name__ == "__main__":
    main()
