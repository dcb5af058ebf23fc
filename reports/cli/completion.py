"""``steptally completion``: the script that teaches a shell to complete our words."""

from __future__ import annotations

import rich_click as click

from reports.output import write

SHELLS = ("bash", "zsh", "fish")


@click.command(short_help="Print the script that makes a shell complete words.")
@click.argument("shell", type=click.Choice(SHELLS))
def completion(shell: str) -> None:
    """Print the completion script for SHELL: bash, zsh or fish.

    - bash: put `eval "$(steptally completion bash)"` into ~/.bashrc.
    - zsh: put `eval "$(steptally completion zsh)"` into ~/.zshrc.
    - fish: `steptally completion fish > ~/.config/fish/completions/steptally.fish`.
    """
    from click.shell_completion import get_completion_class

    from reports.cli.group import PROGRAM, steptally

    found = get_completion_class(shell)
    assert found is not None  # noqa: S101 - click knows the three shells
    write(found(steptally, {}, PROGRAM, f"_{PROGRAM.upper()}_COMPLETE").source() + "\n")
