"""Hypothesis strategies shared by the tests."""

from __future__ import annotations

from builders import Case
from hypothesis import strategies as st
from random_cases import Pick, random_case


def picker(draw: st.DrawFn) -> Pick:
    """Let a builder pick its numbers from what hypothesis draws, so that failures shrink."""
    return lambda first, last: draw(st.integers(first, last))


@st.composite
def sound_cases(draw: st.DrawFn) -> Case:
    """A request and a sound plan for it, made by cutting sources up and asking for the pieces back."""
    return random_case(picker(draw))
