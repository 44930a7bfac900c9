"""The named switches: every loss and every limit is a mechanism that can be turned off, to ask what it costs."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal


@dataclass(frozen=True)
class Mechanisms:
    """Which mechanisms act. All on is the model; each one off is a question (`explain` asks them).

    reverse_cleavage: the by-product adds back to the product (off: the step that sets it free has no reverse).
    hydroxide_shortage: the reversible steps go as fast as the hydroxide there is (off: as fast as at 1 mol/L of it,
        while the acid-base state stays what it is).
    self_aldol, crossed_aldol, cannizzaro, oxidation: the side steps of that name in the substrate's file.
    oil_phase: aldehyde beyond saturation forms a second liquid (off: everything dissolves).
    transfer_resistance: oil and water exchange at a finite rate (off: so fast that they are in equilibrium).
    salting_out: carbonate lowers solubility and raises volatility of the dissolved organics.
    boiling_point_elevation: dissolved salt raises the boil point.
    venting: organic vapour leaves with the vent gas at the top of the condenser.
    product_venting: substrate and product leave with it too (off: the by-product and other small aldehydes only).
    carbon_dioxide_loss: dissolved CO2 boils out of the liquor.
    condensate_oil: vapour that condenses beyond saturation forms oil drops in the condenser, which hold it back.
    take_off: distillate is drawn off as the scenario says.
    activity: model of the ions: "pitzer", "davies" (cross-check below 0.1 mol/kg) or "ideal".
    """

    reverse_cleavage: bool = True
    hydroxide_shortage: bool = True
    self_aldol: bool = True
    crossed_aldol: bool = True
    cannizzaro: bool = True
    oxidation: bool = True
    oil_phase: bool = True
    transfer_resistance: bool = True
    salting_out: bool = True
    boiling_point_elevation: bool = True
    venting: bool = True
    product_venting: bool = True
    carbon_dioxide_loss: bool = True
    condensate_oil: bool = True
    take_off: bool = True
    activity: Literal["pitzer", "davies", "ideal"] = "pitzer"

    def __post_init__(self) -> None:
        if self.activity not in ("pitzer", "davies", "ideal"):
            raise ValueError(f"activity: expected pitzer, davies or ideal; came {self.activity!r}")

    def acts(self, mechanism: str) -> bool:
        """Whether the steps of this mechanism run; a mechanism without a switch of its own always does."""
        return bool(getattr(self, mechanism.replace(" ", "_"), True))


SWITCHES = tuple(f.name for f in fields(Mechanisms) if f.name != "activity")
