"""Shapley's value against textbook games and its axioms."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations
from math import isclose

from hypothesis import given
from hypothesis import strategies as st

from kinetics.analysis.shapley import coalitions, shapley_values


def test_two_players_share_by_the_closed_form():
    worth = {frozenset(): 0.1, frozenset("a"): 0.4, frozenset("b"): 0.7, frozenset("ab"): 1.0}
    values = shapley_values("ab", worth)
    assert isclose(values["a"], 0.5 * ((0.4 - 0.1) + (1.0 - 0.7)))
    assert isclose(values["b"], 0.5 * ((0.7 - 0.1) + (1.0 - 0.4)))


def test_glove_game():
    # one left glove, two right ones, a pair is worth 1: 2/3 and 1/6 each (textbook example of Shapley's value)
    worth = {group: float("l" in group and len(group) > 1) for group in coalitions("lrs")}
    values = shapley_values("lrs", worth)
    assert isclose(values["l"], 2 / 3) and isclose(values["r"], 1 / 6) and isclose(values["s"], 1 / 6)


def test_airport_game():
    # runways of length 1, 2 and 5: each stretch is shared by those who need it (Littlechild and Owen 1973)
    length = {"a": 1.0, "b": 2.0, "c": 5.0}
    worth = {group: max((length[p] for p in group), default=0.0) for group in coalitions("abc")}
    values = shapley_values("abc", worth)
    assert (
        isclose(values["a"], 1 / 3) and isclose(values["b"], 1 / 3 + 1 / 2) and isclose(values["c"], 1 / 3 + 1 / 2 + 3)
    )


@given(st.lists(st.integers(-1000, 1000), min_size=16, max_size=16))
def test_is_the_average_over_all_orders_of_joining(numbers):
    players = "abcd"
    worth = dict(zip(coalitions(players), map(float, numbers)))
    values = shapley_values(players, worth)
    for player in players:
        gains = []
        for order in permutations(players):
            before = frozenset(order[: order.index(player)])
            gains.append(Fraction(worth[before | {player}]) - Fraction(worth[before]))
        assert isclose(values[player], sum(gains) / len(gains), abs_tol=1e-9)
    assert isclose(sum(values.values()), worth[frozenset(players)] - worth[frozenset()], abs_tol=1e-9)


def test_no_players_share_nothing():
    assert shapley_values("", {frozenset(): 0.3}) == {}
