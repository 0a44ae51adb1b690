"""A group of commands that knows their names before it imports them."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import click
from click.shell_completion import CompletionItem

from api.cli.exit_codes import ExitCode


class LazyGroup(click.Group):
    """Holds, for each name, where its command is and what it does in a line."""

    def __init__(
        self, name: str, *, lazy: Mapping[str, tuple[str, str]], **settings: Any
    ) -> None:
        settings.setdefault("context_settings", {"help_option_names": ["-h", "--help"]})
        super().__init__(name, **settings)
        self.lazy = lazy
        self.params.append(_version_option())

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """The names, in the order a newcomer meets them."""
        return list(self.lazy)

    def get_command(
        self,
        ctx: click.Context,  # noqa: ARG002  (Click gives it)
        cmd_name: str,
    ) -> click.Command | None:
        """Import the one command that is asked for."""
        if cmd_name not in self.lazy:
            return None
        module, _, attribute = self.lazy[cmd_name][0].partition(":")
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def format_commands(
        self,
        ctx: click.Context,  # noqa: ARG002  (Click gives it)
        formatter: click.HelpFormatter,
    ) -> None:
        """List the commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in self.lazy.items()])

    def shell_complete(
        self, ctx: click.Context, incomplete: str
    ) -> list[CompletionItem]:
        """Complete a command's name without importing any."""
        return [
            CompletionItem(name, help=line)
            for name, (_, line) in self.lazy.items()
            if name.startswith(incomplete)
        ] + click.Command.shell_complete(self, ctx, incomplete)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what goes wrong on purpose ends in words and a code."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            click.echo("\nStopped.", err=True)
            raise click.exceptions.Exit(ExitCode.INTERRUPTED) from None
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            told = import_module("api.cli.failures").told(error)
            if told is None:
                raise
            raise told from error


def program_version() -> str:
    """The version that is installed."""
    try:
        return version("fineweight")
    except PackageNotFoundError:
        return "(not installed)"


def _version_option() -> click.Option:
    def show(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:  # noqa: FBT001
        if wanted and not ctx.resilient_parsing:
            click.echo(f"fineweight {program_version()}")
            ctx.exit()

    return click.Option(
        ["--version"],
        is_flag=True,
        is_eager=True,
        expose_value=False,
        callback=show,
        help="Show the version and exit.",
    )
