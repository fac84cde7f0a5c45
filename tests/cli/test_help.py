"""Help teaches: every command and option says what it is for, and commands show examples."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from sidecue import __version__
from sidecue.cli.main import build

README = Path(__file__).parents[2] / "README.md"


def leaves(command, name="sidecue", above=""):
    children = getattr(command, "commands", {})
    if not children:
        yield name, command, f"{above}\n{command.help}"
    group = command.help if name != "sidecue" else ""
    for child, inner in children.items():
        yield from leaves(inner, f"{name} {child}", group)


LEAVES = list(leaves(typer.main.get_command(build())))
COMMANDS = {name: command for name, command, _ in LEAVES}
PAGES = {name: page for name, _, page in LEAVES}  # a command's help, and that of its group


def test_the_commands_of_a_visit_are_there():
    wanted = {"demo", "plan", "run", "resume", "doctor", "model list", "model get", "shadow"}
    assert {f"sidecue {name}" for name in wanted} <= set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_every_choice_says_what_it_is_for(name):
    command = COMMANDS[name]
    assert command.help, f"{name} has no help"
    for parameter in command.params:
        assert parameter.name == "help" or parameter.help, f"{name} {parameter.name} has no help"


@pytest.mark.parametrize("name", sorted(set(COMMANDS)))
def test_every_command_shows_an_example_of_itself(name):
    lines = [line.strip() for line in PAGES[name].splitlines()]
    assert any(line.startswith(name) for line in lines), f"{name} shows no example"


def lines_of_commands():
    """Command lines in the help of all commands and in the README."""
    for name, page in PAGES.items():
        for line in page.splitlines():
            if line.strip().startswith("sidecue "):
                yield name, line.strip()
    for line in re.findall(r"sidecue [a-z][^`\n|&]*", README.read_text("utf-8")):
        yield "README", line


@pytest.mark.parametrize(("where", "line"), list(lines_of_commands()))
def test_what_help_and_readme_show_can_be_typed(where, line):
    words = line.split("   ")[0].split()  # a remark stands three spaces apart
    name = next(
        (known for n in (3, 2) if (known := " ".join(words[:n])) in COMMANDS),
        None,
    )
    if name is None and where == "README" and not set(words) & {"--help", "--version"}:
        # prose may follow the word sidecue; a command may not be misspelt in code
        assert words[1] not in {"plans", "records"}, line
    if name is None:
        assert where == "README", f"{where} shows {line!r}"
        return
    known = {flag for parameter in COMMANDS[name].params for flag in parameter.opts} | {"--help"}
    used = {word.split("=")[0] for word in words if word.startswith("--")}
    assert used <= known, f"{where}: {line!r}"


def test_the_start_page_names_examples_and_exit_codes(sidecue):
    page = sidecue("--help")
    assert page.code == 0
    for part in ("sidecue demo", "sidecue plan composite-46-mo", "Exit codes:", "resumed"):
        assert part in page.out
    assert sidecue("plan", "--help").code == 0
    assert re.fullmatch(r"sidecue \d+\.\d+\.\d+\n", sidecue("--version").out)


@pytest.mark.parametrize(
    "line",
    [["plam"], ["plan", "--nope"], ["plan", "a", "b"], ["model"], ["shadow", "--pace", "slow"]],
)
def test_a_line_that_cannot_be_read_gets_one_line_and_the_way_to_the_help(sidecue, line):
    assert re.search(r"; see `sidecue.* --help`$", sidecue(*line).trouble)


def test_it_can_be_run_as_a_module_where_no_script_is_on_the_path():
    asked = [sys.executable, "-m", "sidecue", "--version"]
    told = subprocess.run(asked, capture_output=True, check=True, text=True).stdout
    assert told == f"sidecue {__version__}\n"
