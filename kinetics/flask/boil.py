"""When the liquor boils: saturation temperature of water at a pressure, raised by the dissolved salt."""

from __future__ import annotations

from typing import Any

from kinetics.chemistry.speciation import Totals, speciate
from kinetics.data.namespace import FLOATS, Namespace
from kinetics.data.shelf import Shelf
from kinetics.flask.balance import activity_model
from kinetics.flask.conditions import conditions_at
from kinetics.flask.network import Network


def saturation_temperature(pressure: Any, shelf: Shelf, m: Namespace = FLOATS) -> Any:
    """Temperature [K] at which the vapour pressure of pure water is `pressure` [Pa]; 101325 Pa: 373.124 K.

    Newton's method on ln p, which is nearly straight in 1/T.
    """
    saturation = shelf["water.saturation_pressure"]
    T: Any = 373.0
    for _ in range(50):
        ln_ratio = m.log(saturation(T, m) / pressure)
        slope = m.log(saturation(T + 0.01, m) / saturation(T - 0.01, m)) / 0.02
        step = ln_ratio / slope
        T = T - step
        if m.largest(abs(step)) < 1e-9:
            break
    return T


def boil_point(
    pressure: Any, totals: Totals, potassium_fraction: Any, network: Network, shelf: Shelf, m: Namespace = FLOATS
) -> Any:
    """Temperature [K] at which a_w p_water(T) = `pressure` [Pa]; totals [mol/kg]. 1 mol/kg Na2CO3 at 101325 Pa: 374.2 K.

    The activity of water is that of the speciated liquor at the boil point itself (two or three rounds).
    """
    T = saturation_temperature(pressure, shelf, m)
    if not network.mechanisms.boiling_point_elevation:
        return T
    for _ in range(20):
        conditions = conditions_at(network, shelf, T, potassium_fraction, m)
        state = speciate(totals, conditions.acid_base, activity_model(network, conditions, m), m)
        previous, T = T, saturation_temperature(pressure / m.exp(state.activities.ln_water), shelf, m)
        if m.largest(abs(T - previous)) < 1e-7:
            break
    return T
