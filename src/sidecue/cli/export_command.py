"""`sidecue export`: the plan of a case in published formats, for other people's tools."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path
from typing import Annotated

import typer

from sidecue.cli.keeping import Force, write_files
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseArgument,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
    startable,
)
from sidecue.cli.trouble import Trouble
from sidecue.exchange.formats import FORMATS, Format
from sidecue.procedure.plan import Plan

FormatArgument = Annotated[
    str, typer.Argument(help=f"One of: {', '.join(FORMATS)}.", metavar="FORMAT")
]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("export")
    def export_command(
        format: FormatArgument,
        case: CaseArgument = DEFAULT_CASE,
        out: Annotated[
            Path | None,
            typer.Option("--out", help="The file to write, or the folder for several files."),
        ] = None,
        force: Force = False,
        moment: Annotated[
            str | None,
            typer.Option(
                "--moment", help="One moment of jsgf, srgs or ssml: a step's id, a pause ..."
            ),
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
    ) -> None:
        """Give out a planned case in a published format.

        One file: scxml (the whole procedure as a state chart that runs in any SCXML interpreter),
        graphviz and mermaid (drawings). Several files, one for each moment of the visit: jsgf and
        srgs (what may be said then), ssml (what is said).

        \b
        sidecue export scxml                            the shipped class II composite, printed
        sidecue export graphviz amalgam-14-do --out amalgam.dot
        sidecue export jsgf --moment etch-enamel        what may be said while etching
        sidecue export ssml sealant-36-o --out prompts  a folder, a file for each moment
        """
        chosen = _format(format)
        plan = startable(setting(case, practice, procedure, flows).plan)
        files = _files(chosen, plan, moment)
        if out is None and len(files) > 1:
            raise Trouble(
                f"{chosen.name} makes {len(files)} files: name a folder with --out, or one"
                f" with --moment, such as {next(iter(files))}"
            )
        if out is None:
            typer.echo(next(iter(files.values())), nl=False)
        else:
            _write(chosen, files, out, force=force)


def _format(name: str) -> Format:
    if name not in FORMATS:
        near = get_close_matches(name, list(FORMATS), n=1)
        hint = f"did you mean {near[0]}?" if near else f"known: {', '.join(FORMATS)}"
        raise Trouble(f"no format called {name!r}: {hint}")
    return FORMATS[name]


def _files(chosen: Format, plan: Plan, moment: str | None) -> dict[str, str]:
    if moment is not None and chosen.whole:
        raise Trouble(f"{chosen.name} has no moments: it is one file; leave --moment out")
    try:
        files = dict(chosen.files(plan))
    except ValueError as error:
        raise Trouble(str(error)) from None
    if moment is None:
        return files
    if moment not in files:
        near = get_close_matches(moment, list(files), n=3)
        hint = f"did you mean {' or '.join(near)}?" if near else f"known: {', '.join(files)}"
        raise Trouble(f"no moment called {moment!r} in {plan.title}: {hint}")
    return {moment: files[moment]}


def _write(chosen: Format, files: dict[str, str], out: Path, *, force: bool) -> None:
    if len(files) == 1:
        name, text = next(iter(files.items()))
        path = out / f"{name}{chosen.suffix}" if out.is_dir() else out
        write_files({path: text.encode("utf-8")}, force=force)
        typer.echo(f"wrote {path}")
        return
    out.mkdir(parents=True, exist_ok=True)
    made = {out / f"{name}{chosen.suffix}": text.encode() for name, text in files.items()}
    write_files(made, force=force)
    typer.echo(f"wrote {len(files)} files to {out}")
