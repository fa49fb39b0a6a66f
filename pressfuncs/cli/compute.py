"""`pressfuncs compute`: one sub-command a function, made from the register."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pressfuncs.cli.style import ExampleGroup

if TYPE_CHECKING:
    from pressfuncs.registry import FunctionSpec

EXAMPLE = """\
pressfuncs compute shearing_force --cut-length 471.239 --thickness "1/8 in" --shear-strength "45 ksi"
pressfuncs compute load_centre --forces "10 kN, 20 kN" --positions "-50, 100"
pressfuncs compute shearing_force --help"""


class ComputeGroup(ExampleGroup):
    """The functions as sub-commands."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the functions."""
        return [spec.name for specs in _by_chapter().values() for spec in specs]

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the function and go on under its own name, however it was spelt."""
        _, found, rest = super().resolve_command(ctx, args)
        return (found.name if found else None), found, rest

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Make the command of a function, however its name is spelt; unknown names are wrong usage."""
        if cmd_name.startswith("--"):
            return None

        from pressfuncs.cli.compute_function import FunctionCommand
        from pressfuncs.cli.handbook import find_function

        return FunctionCommand(find_function(cmd_name, ctx))

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the names by chapter; 'pressfuncs functions' says more."""
        with formatter.section("Functions"):
            formatter.write_dl(
                [(chapter, ", ".join(spec.name for spec in specs)) for chapter, specs in _by_chapter().items()]
            )


def _by_chapter() -> dict[str, list[FunctionSpec]]:
    from pressfuncs.cli.handbook import by_chapter

    return by_chapter()


@click.command(cls=ComputeGroup, name="compute", example=EXAMPLE, subcommand_metavar="NAME --ARGUMENT VALUE ...")
def command() -> None:
    """Compute one function and show the worked line.

    The line holds formula, values with units and result; the next one names the source.

    Values are bare numbers in the units that 'compute NAME --help' names (metric, or inch with --units inch), or
    have their unit with them, as in "0.125 in". An argument of several values takes one list with a comma and a
    space between the values, or is given several times; a table is the name of a CSV file. NAME is taken with or
    without PF_.
    """
