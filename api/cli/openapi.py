"""`fineweight openapi`: the description of the API."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path

import click

from api.cli.output import note


@click.command()
@click.option(
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write it there; else it is printed.",
)
@click.option("--json", "as_json", is_flag=True, help="JSON in place of YAML.")
def openapi(output: Path | None, *, as_json: bool) -> None:
    """Write the description of the API (OpenAPI 3.1)."""
    app = import_module("api.app")
    text: str = (
        json.dumps(app.openapi_document(), indent=2, ensure_ascii=False) + "\n"
        if as_json
        else app.openapi_yaml()
    )
    if output is None:
        click.echo(text, nl=False)
        return
    output.write_text(text, "utf-8")
    note(f"{output} written")
