"""The list of outside checks names tests that are there, and counts only what passed, once."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from benchmarks.outside.counting import DOSES, ORACLES, Named, named, report

ROOT = Path(__file__).parents[2]
LIST = (ROOT / "benchmarks/outside/values.yaml").read_text(encoding="utf-8")


def test_every_named_test_is_there_and_every_entry_has_one() -> None:
    entries = named(LIST)
    assert sum(each.kind == "oracles" for each in entries) == ORACLES
    assert sum(each.kind == "doses" for each in entries) == DOSES
    for entry in entries:
        assert entry.tests, entry.what
        for test in entry.tests:
            file, _, name = test.partition("::")
            tree = ast.parse((ROOT / "tests" / file).read_text(encoding="utf-8"))
            functions = {each.name for each in tree.body if isinstance(each, ast.FunctionDef)}
            assert name.partition("[")[0] in functions, test


TABLE = Named("tables", "a table", "a page", ("read",), ("a.py::test_rows",))
ORACLE = Named("oracles", "oracle 1", "a page", ("memory",), ("a.py::test_rows[one]", "b.py::test"))


def test_a_row_counts_once_and_an_oracle_of_many_rows_is_one_check() -> None:
    many = Named("oracles", "oracle 2", "a page", ("read",), ("c.py::test_many",))
    ran = dict.fromkeys(
        ["a.py::test_rows[one]", "a.py::test_rows[two]", "b.py::test", "c.py::test_many[1]",
         "c.py::test_many[2]"], True)  # fmt: skip
    lines, good = report((ORACLE, many, TABLE), ran)
    assert good
    assert "**4 checks passed**, 2 of them rows" in lines[2]


@pytest.mark.parametrize(
    "ran",
    [
        {"a.py::test_rows[one]": False, "a.py::test_rows[two]": True, "b.py::test": True},
        {"a.py::test_rows[two]": True, "b.py::test": True},  # the row is gone
    ],
)
def test_what_failed_or_did_not_run_is_not_counted_and_is_told(ran: dict[str, bool]) -> None:
    lines, good = report((ORACLE, TABLE), ran)
    assert not good
    assert "**2 checks passed**, 1 of them rows" in lines[2]
    assert "0 of 40 oracles" in lines[2]
    assert "a.py::test_rows[one]" in "\n".join(lines)


def test_a_gap_in_the_list_or_an_unknown_kind_of_source_is_refused() -> None:
    with pytest.raises(ValueError, match="oracles do not run"):
        named(LIST.replace("{n: 7,", "{n: 8,", 1))
    with pytest.raises(ValueError, match="does not say"):
        named(LIST.replace("known: [read]", "known: [surely]", 1))
