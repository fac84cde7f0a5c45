"""Fetching a model: said in one line when it cannot be had, nothing half-fetched left."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any
from urllib.error import HTTPError, URLError

import pytest

from sidecue.hearing import models
from sidecue.hearing.models import ModelError, fetch, list_models

NAME = "vosk-model-small-xx-0.1"


@pytest.mark.parametrize("name", ["", "../evil", "model", "vosk-model-", "vosk-model-a/b"])
def test_a_name_that_is_none_is_refused_before_the_network(name: str, tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="no model name"):
        fetch(name, tmp_path)


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (URLError("Name or service not known"), "Name or service not known"),
        (TimeoutError("timed out"), "timed out"),
        (HTTPError("u", 404, "Not Found", None, None), "Not Found"),  # type: ignore[arg-type]
        (OSError(28, "No space left on device"), "No space left"),
    ],
)
def test_a_failed_fetch_is_one_clear_line(
    fault: Exception, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_args: Any, **_more: Any) -> None:
        (tmp_path / f"{NAME}.zip").write_bytes(b"half")
        raise fault

    monkeypatch.setattr("vosk.urlretrieve", fails)
    with pytest.raises(ModelError, match=says) as caught:
        fetch(NAME, tmp_path)
    assert "\n" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_what_is_no_archive_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def page(_url: str, path: str, **_more: Any) -> None:
        Path(path).write_bytes(b"<html>log in first</html>")

    monkeypatch.setattr("vosk.urlretrieve", page)
    with pytest.raises(ModelError, match="no zip archive"):
        fetch(NAME, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_fetched_model_is_unpacked_checked_and_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as packed:
        for file in ("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst"):
            packed.writestr(f"{NAME}/{file}", b"x")

    def sends(_url: str, path: str, **_more: Any) -> None:
        Path(path).write_bytes(archive.getvalue())

    monkeypatch.setattr("vosk.urlretrieve", sends)
    assert fetch(NAME, tmp_path) == (tmp_path / NAME).resolve()
    assert [model.name for model in list_models((tmp_path,))] == [NAME]
    monkeypatch.setattr(models, "_download", lambda _target: pytest.fail("fetched again"))
    fetch(NAME, tmp_path)
