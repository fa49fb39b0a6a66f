"""The command line: one module a command, loaded when it is called for."""

from pressfuncs.cli.app import main as main
