"""Random numbers of compiled code: the same ones everywhere for the same seed."""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from stockplan.cutting.compiled import compiled
from stockplan.cutting.flat import Numbers
from stockplan.cutting.memory import CHANCE, SAMPLE_AT


@compiled
def draw(state: Numbers) -> float:
    """A random number from 0 up to 1: Knuth's linear congruential generator, its high bits mixed once more."""
    state[CHANCE] = state[CHANCE] * 6364136223846793005 + 1442695040888963407
    high = (state[CHANCE] >> 11) & (2**53 - 1)
    return (high ^ (high >> 27)) * 2.0**-53


@compiled
def pick(state: Numbers, most: int) -> int:
    """A random whole number from 0 up to `most` less one."""
    return int(draw(state) * most)


@compiled
def shuffle(state: Numbers, first: int, count: int) -> None:
    """Bring so many numbers from a place on into a random order."""
    for n in range(count - 1, 0, -1):
        other = first + pick(state, n + 1)
        state[first + n], state[other] = state[other], state[first + n]


@compiled
def draw_sample(state: Numbers, most: int, count: int) -> int:
    """Note so many different numbers below `most`; how many they are."""
    first = state[SAMPLE_AT]
    for n in range(most):
        state[first + n] = n
    for n in range(min(most, count)):
        other = first + n + pick(state, most - n)
        state[first + n], state[other] = state[other], state[first + n]
    return min(most, count)
