"""Models of the Vosk engine, by name."""

import pytest


def test_without_a_model_the_places_are_told(sidecue, home):
    ran = sidecue("model", "list")
    assert ran.code == 0
    assert str(home / "data" / "sidecue" / "models") in ran.out


def test_a_model_that_cannot_be_used_is_listed_with_its_fault(sidecue, home):
    (home / "data" / "sidecue" / "models" / "vosk-model-torn" / "am").mkdir(parents=True)
    assert "vosk-model-torn  no acoustic model (am/final.mdl)" in sidecue("model", "list").out


def test_a_name_that_is_none_is_told(sidecue):
    assert "is no model name" in sidecue("model", "get", "../../etc").trouble


@pytest.fixture
def no_network(monkeypatch):
    for name in ("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY"):
        monkeypatch.setenv(name, "http://127.0.0.1:9")  # the discard port: nobody answers
    for name in ("no_proxy", "NO_PROXY"):
        monkeypatch.delenv(name, raising=False)


def test_a_fetch_without_network_is_told_and_leaves_nothing(sidecue, home, no_network):
    line = sidecue("model", "get", "vosk-model-tiny-xx-0.1").trouble
    assert "cannot fetch vosk-model-tiny-xx-0.1" in line
    assert "check the network" in line
    assert not list((home / "data" / "sidecue" / "models").iterdir())
