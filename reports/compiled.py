"""What is told of compiling: that a first use takes its time, and rules that could not be compiled."""

from __future__ import annotations

from reports.exits import complain

FIRST_USE = "First use on this machine: compiling for some 30 s, once."


def tell_of_first_use(*, quiet: bool = False) -> None:
    """A line if nothing is compiled yet."""
    from simcore.base.compiling import is_cold

    if not quiet and is_cold():
        complain(FIRST_USE)


def interpreted_lines() -> list[str]:
    """A line for each module whose rules could not be compiled."""
    from reports.sentences import INTERPRETED
    from simcore.base.compiling import interpreted

    return [INTERPRETED.format(module=module, why=why) for module, why in interpreted().items()]
