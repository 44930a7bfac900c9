"""The programme of a batch: stretches of time between kinks (ramp end, additions), with temperature and feeds known ahead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from kinetics.flask.network import STRONG_IONS

MOST_VAPOUR = 5e-3  # mol/s, five millilitres a minute: what a flask that is not to boil is heated for, at the most


@dataclass(frozen=True)
class Segment:
    """A stretch without a kink. Amounts in mol, rates in mol/s, times in s from the start of the ramp.

    The temperature runs straight from `start_K` to `end_K`, in time during heat-up and cool-down, in the molality of
    the salt during a boil (the boil point follows it). Metals and chloride never leave, so their amounts are known.
    """

    stage: str  # "heating", "hold" or "cooling"
    start_s: float
    end_s: float
    start_K: Any
    end_K: Any
    boiling: bool
    strong: Mapping[str, Any]  # at the start
    strong_rate: Mapping[str, Any] = field(default_factory=dict)
    feed: Mapping[str, Any] = field(default_factory=dict)  # other species, evenly
    sudden: Mapping[str, Any] = field(default_factory=dict)  # other species, at the start
    water_kg: Any = 1.0  # at the start and per second: what the boil point's molality is struck over
    water_rate_kg: Any = 0.0
    most_vapour: Any = MOST_VAPOUR  # mol/s of water a sweep can carry below the boil: the boil-up, where there will be one

    @property
    def isothermal(self) -> bool:
        first, last = self.start_K, self.end_K
        return first is last or (isinstance(first, float) and isinstance(last, float) and first == last)

    @property
    def autonomous(self) -> bool:
        """Whether nothing in it depends on the time itself."""
        return self.isothermal and not self.strong_rate

    @property
    def potassium_fraction(self) -> Any:
        """Of the alkali metal, at the middle of the segment."""
        middle = 0.5 * (self.end_s - self.start_s)
        sodium = self.strong.get("sodium", 0.0) + middle * self.strong_rate.get("sodium", 0.0)
        potassium = self.strong.get("potassium", 0.0) + middle * self.strong_rate.get("potassium", 0.0)
        return potassium / (sodium + potassium + 1e-300)

    def strong_ions(self, t: Any) -> tuple[Any, Any, Any, Any]:
        """Sodium, potassium, calcium and chloride [mol] at time t [s]."""
        since = t - self.start_s
        sodium, potassium, calcium, chloride = (
            self.strong.get(ion, 0.0) + (self.strong_rate[ion] * since if ion in self.strong_rate else 0.0)
            for ion in STRONG_IONS
        )
        return sodium, potassium, calcium, chloride

    def salt_molality(self, t: Any) -> Any:
        """Of metal [mol/kg], over the water of the programme."""
        since = t - self.start_s
        return sum(self.strong_ions(t)[:3]) / (self.water_kg + self.water_rate_kg * since)

    def temperature(self, t: Any) -> Any:
        """Temperature [K] at time t [s]."""
        if self.isothermal:
            return self.start_K
        part = (t - self.start_s) / (self.end_s - self.start_s)
        if self.boiling:
            first, last = self.salt_molality(self.start_s), self.salt_molality(self.end_s)
            part = (self.salt_molality(t) - first + 1e-300) / (last - first + 1e-300)
        return self.start_K + part * (self.end_K - self.start_K)
