"""Fair shares of a joint result: the Shapley value, each player's gain averaged over every order of joining."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import combinations
from math import comb
from typing import TypeVar

Player = TypeVar("Player", bound=Hashable)


def coalitions(players: Sequence[Player]) -> Iterator[frozenset[Player]]:
    """Every set of some of the players, from none to all: 2^n of them."""
    for size in range(len(players) + 1):
        yield from map(frozenset, combinations(players, size))


def shapley_values(players: Sequence[Player], worth: Mapping[frozenset[Player], float]) -> dict[Player, float]:
    """What each player adds, averaged over all orders in which they can join; the values sum to v(all) - v(none).

    phi_i = sum over S without i of |S|! (n - |S| - 1)!/n! (v(S + i) - v(S))

    players: distinct; worth: v of every set of them, in any unit, which is that of the values. Exact. A player who
    changes nothing has 0; two who can replace each other have the same. Source: L. S. Shapley, A value for n-person
    games, Ann. Math. Stud. 28 (1953) 307. Two players with v = 0, 1, 2, 5 (none, a, b, both): a has 2, b has 3.
    """
    n = len(players)
    values = dict.fromkeys(players, 0.0)
    for group in coalitions(players):
        for player in players:
            if player not in group:
                weight = 1.0 / (n * comb(n - 1, len(group)))
                values[player] += weight * (worth[group | {player}] - worth[group])
    return values
