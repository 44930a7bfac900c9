"""Reading how the flask is heated, closed and cooled, and whether the settings agree with each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from kinetics.data.faults import quoted
from kinetics.data.namespace import FLOATS
from kinetics.data.units import ROOM_TEMPERATURE_K, gas_flow_mol_per_s, liquid_flow_mol_per_s
from kinetics.flask.boil import saturation_temperature
from kinetics.run.reading_tables import Findings, Section
from kinetics.run.scenario import Addition, Charge, Condenser, Heating, Vessel

if TYPE_CHECKING:
    from kinetics.data.shelf import Shelf

M3_PER_ML = 1e-6
EARTH_RADIUS_M = 6356766.0  # nominal, of the standard atmosphere (ISO 2533:1975)
SAME_TEMPERATURE_K = 0.01
DRY_FRACTION = 0.05  # of the water charged; below it the flask counts as boiled dry
BOIL_READINGS = ("boil_up", "drops", "power", "losses")


def pressure_at_altitude(height_m: float, shelf: Shelf) -> float:
    """Pressure of the standard atmosphere [Pa]: p = p0 (1 - L h/T0)^(g/(R L)), h = r z/(r + z).

    height_m: height above the sea z [m], -2000 to 11000; h is geopotential. Exact by convention, while weather
    moves the true pressure by some 1 kPa. Source: ISO 2533:1975, troposphere. 1000 m: 89.876 kPa.
    """
    p0, T0 = (shelf[f"atmosphere.sea_level_{name}"].value for name in ("pressure", "temperature"))
    L, g, R = (
        shelf[f"atmosphere.{name}"].value for name in ("lapse_rate", "gravity", "specific_gas_constant")
    )
    geopotential_m = EARTH_RADIUS_M * height_m / (EARTH_RADIUS_M + height_m)
    return p0 * (1 - L * geopotential_m / T0) ** (g / (R * L))


class ConditionReader:
    """Reads the tables heating, vessel and condenser of one document together.

    Where a key is at fault something sound stands in for it, so that the others can be read and judged; what
    would be judged by a stand-in is left alone.
    """

    def __init__(self, document: Mapping[str, Any], shelf: Shelf, findings: Findings) -> None:
        self.shelf, self.findings = shelf, findings
        self.hot = Section("heating", document, findings)
        self.flask = Section("vessel", document, findings)
        self.cold = Section("condenser", document, findings)
        self.closed: bool = self.flask.value("closed")
        self.pressure_Pa: float = (
            self.hot.value("pressure")
            if self.hot.has("pressure")
            else pressure_at_altitude(self.hot.value("altitude"), shelf)
        )
        self.boil_K = saturation_temperature(self.pressure_Pa, shelf)
        asked = self.hot.value("temperature")
        self.hold_K: float | None = None if asked == "boil" else asked
        if self.hold_K is not None and self.hold_K >= self.boil_K and not self.closed:
            self.hold_K = None
            self._assume(
                f"heating.temperature is not below the boil point, {_degC(self.boil_K)}: it is a boil."
            )
        elif asked == "boil" and self.closed:
            self._assume("The closed vessel is held at the temperature at which an open one would boil.")
        self.boils = self.hold_K is None and not self.closed
        self.boil_is_known = self.hot.sound("altitude", "pressure") and self.flask.sound("closed")

    def _assume(self, sentence: str) -> None:
        self.findings.assume(sentence)

    def heating(self) -> Heating:
        """The temperature programme."""
        start_K = self.hot.value("start")
        at_hold = self.boil_K if self.hold_K is None else self.hold_K
        if (
            self.boils
            and start_K > self.boil_K
            and self.boil_is_known
            and self.hot.sound("start", "temperature")
        ):
            expected = f"a temperature up to the boil point, {_degC(self.boil_K)}, the vessel being open"
            self.findings.fault("heating.start", expected, quoted(self.hot.written["start"]))
        default, why = None, ""
        if abs(at_hold - start_K) < SAME_TEMPERATURE_K:
            default, why = "0 min", ", the hold being at the temperature of the start"
        return Heating(
            start_K=start_K,
            ramp_s=self.hot.value("ramp", default, why),
            hold_s=self.hot.value("hold"),
            hold_K=self.hold_K,
            pressure_Pa=self.pressure_Pa,
            boil_up_mol_per_s=self._boil_up(),
            cooling_s=self.hot.value("cooling", default, why),
        )

    def _boil_up(self) -> float:
        """Vapour raised during the boil [mol/s] by whichever reading is given; 0 without a boil."""
        given = [key for key in BOIL_READINGS if self.hot.has(key)]
        if given == ["losses"]:
            self.findings.fault(
                "heating.losses", 'a power beside it, such as power = "120 W"', "losses alone"
            )
        if not self.boils:
            if given:
                cause = "a closed vessel keeps its vapour" if self.closed else "the hold is below the boil"
                self._assume(f"heating.{given[0]} is without effect: {cause}.")
            return 0.0
        if "power" in given:
            power, losses = self.hot.value("power"), self.hot.value("losses", "0 W")
            if losses > power and self.hot.sound("power", "losses"):
                expected = f"losses up to the power of {power:g} W, for the flask to boil at all"
                self.findings.fault("heating.losses", expected, quoted(self.hot.written["losses"]))
                self.hot.spoil("losses")
            return (power - losses) / self.shelf["water.vaporisation_enthalpy"](self.boil_K, FLOATS)
        if "drops" in given:
            drop_m3 = self.shelf["apparatus.drop_volume"].value * M3_PER_ML
            return self._liquid(self.hot.value("drops") * drop_m3)
        return self._liquid(self.hot.value("boil_up"))

    def _liquid(self, flow_m3_per_s: float) -> float:
        """The flow of a volume of water at 20 degC [mol/s]."""
        density = self.shelf["water.density"](ROOM_TEMPERATURE_K, FLOATS)
        return liquid_flow_mol_per_s(flow_m3_per_s, density, self.shelf.substance("water").molar_mass)

    def vessel(self) -> Vessel:
        """Closed or open, and how well stirred."""
        if self.flask.has("k_La"):
            return Vessel(self.closed, self.flask.value("k_La"))
        return Vessel(self.closed, self.shelf[f"apparatus.k_La.{self.flask.value('stirring')}"].value)

    def condenser(self, boil_up_mol_per_s: float) -> Condenser:
        """What the vapour meets on its way out; boil_up_mol_per_s: vapour raised [mol/s]."""
        coolant, approach, air, sweep, sweep_gas, take_off, make_up = (
            self.cold.value(key, silent=self.closed)
            for key in ("coolant", "approach", "air_exchange", "sweep", "sweep_gas", "take_off", "make_up")
        )
        drawn = self._liquid(take_off)
        if self.closed:
            for key, flow in (("sweep", sweep), ("take_off", take_off)):
                if flow and self.cold.sound(key):
                    expected = "nothing led through or drawn off, the vessel being closed"
                    hint = "A closed vessel is a calculation, and no way to run a batch."
                    self.findings.fault(f"condenser.{key}", expected, quoted(self.cold.written[key]), hint)
            if self.cold.has("air_exchange"):
                self._assume("condenser.air_exchange is without effect: the vessel is closed.")
            air = 0.0
        elif self.boil_is_known:
            if coolant + approach >= self.boil_K and self.cold.sound("coolant", "approach"):
                expected = f"coolant and approach together below the boil point, {_degC(self.boil_K)}"
                came = f"{_degC(coolant + approach)} together"
                self.findings.fault("condenser.coolant", expected, came, "Nothing would condense.")
            rates_known = self.hot.sound("temperature", *BOIL_READINGS) and self.cold.sound("take_off")
            if drawn > boil_up_mol_per_s and rates_known:
                how = "more than boils" if self.boils else "where nothing boils"
                came = f"{quoted(self.cold.written['take_off'])}, {how}"
                self.findings.fault("condenser.take_off", "no more than the boil-up gives", came)
        return Condenser(
            coolant_K=coolant,
            approach_K=approach,
            air_exchange_mol_per_s=gas_flow_mol_per_s(air),
            sweep_mol_per_s=gas_flow_mol_per_s(sweep),
            sweep_gas=sweep_gas,
            take_off_mol_per_s=drawn,
            make_up=make_up,
        )

    def check_dryness(
        self, charges: Iterable[Charge], additions: Iterable[Addition], condenser: Condenser
    ) -> None:
        """Note a take-off that draws the flask dry within the hold, and when."""
        if condenser.make_up or not self.boils or self.findings.faults:
            return
        supplies = [(addition.at_s, addition.over_s, water_of(addition.charges)) for addition in additions]
        dry = dry_time(water_of(charges), supplies, condenser.take_off_mol_per_s, self.hot.value("hold"))
        if dry is not None:
            self.findings.fault(
                "condenser.take_off",
                "a take-off that leaves water in the flask to the end of the hold",
                f"{quoted(self.cold.written['take_off'])}, which draws it down to a twentieth "
                f"of its water {dry / 3600:.2g} h into the hold",
                "Set make_up = true, draw less, or hold for a shorter time.",
            )


def water_of(charges: Iterable[Charge]) -> float:
    """The water in some charges [mol], that of crystals and solutions included."""
    return sum(charge.components_mol.get("water", 0.0) for charge in charges)


def dry_time(
    start_mol: float, supplies: Iterable[tuple[float, float, float]], drawn_mol_per_s: float, hold_s: float
) -> float | None:
    """When within the hold [s] no more than DRY_FRACTION of the water is left, or None.

    start_mol: water at the start of the hold [mol]; supplies: (start [s], duration [s], water [mol]) of each
    addition; drawn_mol_per_s: take-off [mol/s]; hold_s: [s]. Between the kinks the water is a straight line.
    """
    supplies, floor = list(supplies), DRY_FRACTION * start_mol

    def left(t: float) -> float:
        begun = [
            (min((t - at) / over, 1.0) if over else 1.0, water) for at, over, water in supplies if t >= at
        ]
        return start_mol + sum(share * water for share, water in begun) - drawn_mol_per_s * t

    def before(t: float) -> float:
        return left(t) - sum(water for at, over, water in supplies if at == t and not over)

    kinks = sorted({0.0, hold_s, *(t for at, over, _ in supplies for t in (at, at + over) if t < hold_s)})
    for begin, end in pairwise(kinks):
        high, low = left(begin), before(end)
        if low <= floor:
            return begin + (end - begin) * (high - floor) / (high - low)
    return None


def _degC(temperature_K: float) -> str:
    return f"{temperature_K - 273.15:.2f} degC"
