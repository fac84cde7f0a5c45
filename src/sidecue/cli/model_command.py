"""`sidecue model`: the models of the Vosk engine."""

from __future__ import annotations

from typing import Annotated

import typer

from sidecue.hearing.models import fetch, list_models, model_places


def register(app: typer.Typer) -> None:
    """Add the commands."""
    models = typer.Typer(
        help="List or fetch models for --engine vosk. The default engine needs none.",
        rich_markup_mode=None,
    )
    app.add_typer(models, name="model")

    @models.command("list")
    def list_command() -> None:
        """List the model folders found, and what is wrong with those that cannot be used.

        \b
        sidecue model list
        """
        found = list_models()
        for model in found:
            typer.echo(f"{model.name}  {model.fault or 'usable'}  {model.path}")
        if not found:
            typer.echo("no model; they are looked for in:")
            for place in model_places():
                typer.echo(f"  {place}")

    @models.command("get")
    def get_command(
        name: Annotated[str, typer.Argument(help="The model's name, vosk-model-...")],
    ) -> None:
        """Fetch a model by its name with Vosk's own downloader: the one command that uses the
        network. The files are some 40 MB to 2 GB.

        \b
        sidecue model get vosk-model-small-en-us-0.15
        sidecue run --engine vosk --model vosk-model-small-en-us-0.15
        """
        typer.echo(f"{name} is in {fetch(name)}")
