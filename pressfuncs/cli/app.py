"""The command `pressfuncs`: finds the sub-command, and turns every failure into one sentence and a status.

Help must come at once, so the modules of commands import nothing heavy (numpy, openpyxl, pint, the engine) at
their top, only inside the functions that need it.
"""

from __future__ import annotations

import errno
import importlib
import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

import click

from pressfuncs._version import __version__
from pressfuncs.cli.style import REFUSED, ExampleGroup
from pressfuncs.errors import PressError

COMMANDS = ("demo", "new", "recalc", "assign", "draw", "compute", "functions", "connect", "doctor", "build")
"""Names of the commands in the order of the help; each is `command` in the module of its name."""

PROGRAM = "pressfuncs"
INTERRUPTED = 130
PIPE_CLOSED = 141
FAULT = 70


class App(ExampleGroup):
    """The group of all commands; imports a command's module when the command is wanted."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a command; None if there is none of this name."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"pressfuncs.cli.{cmd_name}").command
        return command

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> NoReturn:
        """Run one command line and exit with its status."""
        words = list(sys.argv[1:] if args is None else args)
        status = self._run(words, **extra)
        try:
            if sys.stdout is not None:  # it is None where the caller has closed it
                sys.stdout.flush()
        except OSError as error:
            status = status or _cannot(error)
            # point it at nothing, so that Python's own flush at exit has nothing to complain of
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(status)

    def _run(self, words: list[str], **extra: Any) -> int:
        try:
            with self.make_context(PROGRAM, list(words), **extra) as ctx:
                self.invoke(ctx)
            return 0
        except click.exceptions.Exit as leaving:
            return leaving.exit_code
        except (KeyboardInterrupt, click.Abort):
            return INTERRUPTED
        except click.UsageError as error:
            _say(f"{error.format_message().rstrip('.')}. See '{_path(error.ctx)} --help'.")
            return error.exit_code
        except click.ClickException as error:
            _say(error.format_message())
            return error.exit_code
        except PressError as error:
            _say(error.sentence("metric"))
            return REFUSED
        except OSError as error:
            return _cannot(error)
        except Exception as error:
            return _fault(error, debug="--debug" in words)


def _say(sentence: str) -> None:
    click.echo(f"{PROGRAM}: {' '.join(sentence.split())}", err=True)


def _path(ctx: click.Context | None) -> str:
    return ctx.command_path if ctx is not None else PROGRAM


def _fault(error: Exception, debug: bool) -> int:
    """Report what should not happen: our fault, not the user's."""
    if debug:
        import traceback

        click.echo("".join(traceback.format_exception(error)), err=True, nl=False)
    cause = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    cure = "please report it" if debug else "please report it with what 'pressfuncs --debug ...' shows"
    _say(f"a fault of pressfuncs itself ({cause}): {cure}.")
    return FAULT


def _cannot(error: OSError) -> int:
    """Say what the system refused; a reader that has closed its pipe wants to hear nothing."""
    if error.errno == errno.EPIPE:
        return PIPE_CLOSED
    what = error.strerror or str(error)
    _say(f"{error.filename}: {what}" if error.filename is not None else f"cannot go on: {what}")
    return REFUSED


@click.command(
    cls=App,
    example="pressfuncs compute shearing_force --cut-length 471.239 --thickness 3.2 --shear-strength 310",
    invoke_without_command=True,
)
@click.version_option(version=__version__, message="pressfuncs %(version)s")
@click.option("--debug", is_flag=True, help="Show where a fault of pressfuncs itself happened.")
@click.pass_context
def main(ctx: click.Context, debug: bool) -> None:
    """Press work functions for spreadsheets: force, press capacity, closed height, throughput.

    Planning figures only: verify on the machine's plate and the maker's capacity curve. Guarding, stopping
    distance and lifting follow the local code and a competent, licensed person. Never try a die to find out.

    Exit status: 0 done, 1 an input was refused, 2 wrong usage; a command's help names any other.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help(), err=True)
        ctx.exit(click.UsageError.exit_code)
