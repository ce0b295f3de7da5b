"""The command line: one command a module, each loaded only when it is called."""

from __future__ import annotations

import difflib
from importlib import import_module

import click

from zoning.lazy import collect_seldom

COMMANDS = {
    "survey": "Say where to probe and dig, first or next.",
    "plan": "Turn a field folder into working depths, zones and passes.",
    "check": "Judge the work by the pits dug behind the machine.",
    "review": "Go through the pits on a local page; add pits and photos.",
    "records": "The season record as open CSV and back.",
    "verify": "Read a plan folder back and say what differs.",
    "batch": "Plan many fields, on this machine or on a cluster.",
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and imports only the one that is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the command names in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import and return the command, or ``None``."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"zoning.cli.{cmd_name}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest command when the one given is unknown."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            ctx.fail(f"No such command '{args[0]}'.{hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Print the commands with their lines, without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def _version(ctx: click.Context, _param: click.Parameter, value: bool) -> None:  # noqa: FBT001
    if value and not ctx.resilient_parsing:
        from importlib.metadata import version

        click.echo(f"zoning {version('compaction-zoning')}")
        ctx.exit()


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Example: zoning plan sample_data/teasel_piece",
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_version,
    help="Print the version and stop.",
)
def main() -> None:
    """From cone and pit readings to working depths just below the compacted layer, the pan.

    FOLDER is a field folder: field.toml and the files that it names. COMMAND --help tells more.

    Exit status: 0 done, 1 the input or the plan is refused, 2 wrong usage, 3 some fields of a batch
    failed.
    """
    collect_seldom()
