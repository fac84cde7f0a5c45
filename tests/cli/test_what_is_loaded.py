"""A visit takes no memory for what it does not use: it runs beside other programs of a practice."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

_ASK = "import json, sys, sidecue.cli.{0}; print(json.dumps([*sys.modules]))"


@pytest.mark.parametrize("command", ["run_command", "shadow_command"])
@pytest.mark.parametrize("unused", ["uvicorn", "starlette", "asyncio", "ssl"])
def test_a_visit_without_a_board_loads_no_web_server(command: str, unused: str) -> None:
    asked = [sys.executable, "-c", _ASK.format(command)]
    loaded = json.loads(subprocess.run(asked, capture_output=True, check=True, text=True).stdout)
    assert f"sidecue.cli.{command}" in loaded
    assert unused not in loaded
