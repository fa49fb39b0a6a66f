"""What every command has in common: help that ends with an example, and the way to refuse an input."""

from __future__ import annotations

from typing import Any

import click

REFUSED = 1
"""Exit status when an input is refused."""


class Refused(click.ClickException):
    """An input that is refused: one sentence on standard error, exit status 1."""

    exit_code = REFUSED


class _WithExample(click.Command):
    def __init__(self, *args: Any, example: str = "", **attributes: Any) -> None:
        """Make the command; `example` is one or more command lines for the end of its help."""
        super().__init__(*args, **attributes)
        self.example = example

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the example as it would be typed."""
        super().format_epilog(ctx, formatter)
        write_example(formatter, self.example)


class Command(_WithExample):
    """A command whose help ends with an example."""


class ExampleGroup(_WithExample, click.Group):
    """A group of commands whose help ends with an example."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; an unknown one is refused with the nearest."""
        name = args[0]
        if self.get_command(ctx, name) is None and not name.startswith("-"):
            ctx.fail(f'there is no command "{name}"{nearest(name, self.list_commands(ctx))}')
        return super().resolve_command(ctx, args)


def nearest(name: str, known: list[str]) -> str:
    """Return ", nearest: ..." for a misspelt name; "" if nothing known is like it."""
    from difflib import get_close_matches

    found = get_close_matches(name, known, n=3)
    return f", nearest: {', '.join(found)}" if found else ""


def write_example(formatter: click.HelpFormatter, example: str) -> None:
    """Write an example; its lines are not wrapped, so that they can be copied."""
    with formatter.section("Example"):
        for line in example.splitlines():
            formatter.write(f"{'':>{formatter.current_indent}}{line}\n")
