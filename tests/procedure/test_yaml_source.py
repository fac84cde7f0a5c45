"""YAML files as data with line numbers: every fault names file, line and mend."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.procedure.source import Fault, LoadError, parse_document, read_document


def faults_of(text: str) -> tuple[Fault, ...]:
    with pytest.raises(LoadError) as caught:
        parse_document(text, "x.yaml")
    return caught.value.faults


def test_every_value_knows_its_line() -> None:
    document = parse_document("a:\n  - one\n  - b: [2,\n      3]\n", "x.yaml")
    assert document.data == {"a": ["one", {"b": [2, 3]}]}
    assert document.line(("a", 1, "b", 1)) == 4
    assert document.line(("a", 1, "missing")) == 3


def test_words_stay_words_and_only_plain_numbers_are_numbers() -> None:
    text = "a: [no, on, yes, 046, 1e5, 0x10, 46, 2.5, '7', true, ~, 2026-03-31]"
    assert parse_document(text, "x").data == {
        "a": ["no", "on", "yes", "046", "1e5", "0x10", 46, 2.5, "7", True, None, "2026-03-31"]
    }


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("", 1, "the file is empty"),
        ("# only a comment\n", 1, "the file is empty"),
        ("a: 1\nb: [1, 2\n", 2, "broken YAML"),
        ("a: 1\n\tb: 2\n", 2, "broken YAML"),
        ("a: 'never closed\n", 1, "broken YAML"),
        ("a: 1\nb: 2\na: 3\n", 3, "'a' is given twice"),
        ("a: &x 1\nb: *x\n", 1, "an alias is not used here"),
        ("a: *nowhere\n", 1, "broken YAML, found undefined alias"),
        ("a: !!python/object:os.system x\n", 1, "the tag"),
        ("a: 1\n---\nb: 2\n", 2, "broken YAML"),
        ("a: 1\nb: \x07\n", 2, "character U+0007 is not allowed"),
        ("? [a, b]\n: c\n", 1, "a key must be one word"),
        ("[" * 5000, 1, "broken YAML"),
    ],
)
def test_unreadable_yaml_is_one_clear_fault(text: str, line: int, what: str) -> None:
    (fault,) = faults_of(text)
    assert (fault.file, fault.line) == ("x.yaml", line)
    assert fault.what.startswith(what)
    assert fault.mend
    assert "\n" not in str(fault)


def test_two_faults_of_one_file_are_both_told_in_order() -> None:
    faults = faults_of("a: 1\na: 2\nb: &y 1\nc: *y\nb: 3\n")
    assert [fault.line for fault in faults] == [2, 3, 5]
    assert str(LoadError(faults)).splitlines() == [str(fault) for fault in faults]


def test_what_is_no_text_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "latin.yaml").write_bytes(b"a: 1\nb: caf\xe9\n")
    for path, line, what in (
        (tmp_path / "gone.yaml", 1, "there is no such file"),
        (tmp_path, 1, "this is a folder, not a file"),
        (tmp_path / "latin.yaml", 2, "not UTF-8 text"),
    ):
        with pytest.raises(LoadError) as caught:
            read_document(path, "shown.yaml")
        (fault,) = caught.value.faults
        assert (fault.file, fault.line, fault.what) == ("shown.yaml", line, what)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_bytes(b"\xef\xbb\xbfa: 1\n")
    assert read_document(tmp_path / "a.yaml").data == {"a": 1}


@given(
    st.text(alphabet=st.characters(codec="utf-8"), max_size=60)
    | st.text("{}[]:-&*!|>'\"#, \n\tab1")
)
def test_no_text_at_all_gives_anything_but_a_fault(text: str) -> None:
    document, faults = None, ()
    try:
        document = parse_document(text, "x.yaml")
    except LoadError as error:
        faults = error.faults
    assert (document is None) == bool(faults)
    assert all(1 <= fault.line <= text.count("\n") + 2 for fault in faults)
