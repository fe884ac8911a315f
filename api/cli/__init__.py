"""The ``witnessmark`` command. A sub-command's module is imported when it is called, so that
``--help`` and a mistyped command answer at once.

Exit codes: 0 all well; 1 the command ran and found something wrong; 2 it was called wrongly or
could not run. ``learn`` alone also knows 3: something fits, but it is not sure.
"""

from __future__ import annotations

import sys
from importlib import import_module
from typing import NamedTuple

import click


class Entry(NamedTuple):
    """Where a command lives and its line in ``--help``."""

    module: str
    line: str
    parent: str = ""


COMMANDS = {
    "demo": Entry("demo", "Build an invented engine on a simulated workbench while you watch."),
    "serve": Entry("serve", "Capture readings, check them, keep the ledger, show the bench page."),
    "instruments": Entry("instruments", "List what is within reach, with lines for bench.toml."),
    "learn": Entry("learn", "Learn an unknown gauge from a few presses at known sizes."),
    "decode": Entry("decode", "Read bytes of an instrument with a profile."),
    "capture": Entry("capture", "Print what one port sends: its bytes, or its readings."),
    "spec": Entry("spec", "Work with engine specs."),
    "calculate": Entry("calculate", "Carry out a calculation on numbers of your own."),
    "verify": Entry("verify", "Prove that a store's ledger is whole and its verdicts follow."),
    "sheet": Entry("sheet", "Write a build's sheet, as PDF or HTML, for its owner to keep."),
    "export": Entry("export", "Write a store's entries, byte for byte."),
}


class Lazy(click.Group):
    """A group that knows its commands' names without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        entry = COMMANDS.get(cmd_name)
        if entry is None:
            return None
        command = import_module(f"api.cli.{entry.module}").command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.line) for name, entry in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            ctx.fail(f"there is no command '{name}'.{_nearest(name)}")
        return super().resolve_command(ctx, args)


def _nearest(name: str) -> str:
    from difflib import get_close_matches

    close = get_close_matches(name.lower(), COMMANDS, n=1, cutoff=0.4)
    return f" Did you mean '{close[0]}'?" if close else ""


@click.command(
    cls=Lazy,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Exit codes: 0 all well, 1 something wrong was found, 2 called wrongly; learn: 3 not "
    "sure.",
)
@click.version_option(None, "--version", package_name="witnessmark", message="%(version)s")
def root() -> None:
    """Captures measurements of an engine build at the press of SEND, checks them against a spec,
    and keeps a history that can be proved."""


def main() -> None:
    """Entry point of the ``witnessmark`` command."""
    # Whatever a person's locale: a unit or a verdict must print, and files hold UTF-8.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="backslashreplace")
    try:
        root(prog_name="witnessmark")
    except OSError as error:  # where no command caught it: the help itself could not be written
        from api.cli.output import MISUSE, of_system

        click.echo(f"error: {of_system(error)}", err=True)
        raise SystemExit(MISUSE) from None
