"""Generator of docs/cli.md: the help of every command, as the program prints it."""

from __future__ import annotations

import click

from pressfuncs.cli import main

WIDTH = 88

HEADER = """\
# Command line

Generated from the program itself: `pressfuncs COMMAND --help` prints the same.

Results go to standard output, everything else to standard error. With `--json` the output is one JSON document.
A failure is one sentence. A fault of pressfuncs itself exits with 70; `pressfuncs --debug COMMAND ...` then shows
where it happened. Ctrl-C exits with 130, a closed pipe with 141, both quietly.
"""

EXAMPLE_FUNCTION = "mechanical_capacity"
"""The function whose help stands for the help of all."""


def render() -> str:
    """Return the text of docs/cli.md."""
    top = click.Context(main, info_name="pressfuncs", terminal_width=WIDTH)
    blocks = [HEADER, _block(main, top)]
    for name in main.list_commands(top):
        command = main.get_command(top, name)
        assert command is not None
        ctx = click.Context(command, info_name=name, parent=top)
        blocks.append(_block(command, ctx))
        if isinstance(command, click.Group):
            members = command.list_commands(ctx)
            for member in [EXAMPLE_FUNCTION] if EXAMPLE_FUNCTION in members else members:
                below = command.get_command(ctx, member)
                assert below is not None
                blocks.append(_block(below, click.Context(below, info_name=member, parent=ctx)))
    return "\n".join(blocks)


def _block(command: click.Command, ctx: click.Context) -> str:
    return f"## {ctx.command_path}\n\n```\n{command.get_help(ctx)}\n```\n"
