"""`sidecue materials`: what is missing for which procedure, and what a scanned package says."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date
from types import MappingProxyType

import pytest

from shipped_library import shipped
from sidecue.cli.main import run
from sidecue.clinical.stock import Lot
from sidecue.procedure.library import Library
from sidecue.procedure.loading import case_from
from sidecue.procedure.materials import drawer_notes, gaps, meanings, uses
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.practice import Practice

DAY = date(2026, 3, 31)


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped()


def without_time(office: Practice, product: str, time: str) -> Practice:
    return replace(
        office,
        materials=tuple(
            replace(each, times=MappingProxyType({**each.times, time: None}))
            if each.product == product
            else each
            for each in office.materials
        ),
    )


def test_nothing_is_missing_in_the_finished_office(library: Library) -> None:
    assert gaps(library, library.practices["example"], DAY) == ()


def test_cartridges_are_checked_listed_and_scanned_like_any_product(
    library: Library, monkeypatch, capsys
) -> None:
    office = library.practices["example"]
    late = date(2034, 6, 1)  # a day after the last day of the lidocaine, and of nothing else
    (gap,) = [each for each in gaps(library, office, late) if "Stillmere" in each.what]
    assert "lot S26118: expired on 2034-05-31" in gap.what
    assert "composite-class-2" in gap.visits
    assert "polishing" not in gap.visits
    assert any("cannot be counted" in note
               for note in drawer_notes(library.practices["unfinished"], DAY))  # fmt: skip
    code = "(01)09521250001209(17)340531(10)S26118\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(code))
    assert run(["materials", "scan", "--day", "2034-05-31"]) == 0
    assert "Stillmere Two, lot S26118" in capsys.readouterr().out
    monkeypatch.setattr("sys.stdin", io.StringIO(code))
    assert run(["materials", "scan", "--day", "2034-06-01"]) == 1
    assert "DO NOT USE" in capsys.readouterr().out
    assert run(["materials", "list"]) == 0
    assert "anaesthetic, lidocaine epinephrine 100k" in capsys.readouterr().out


def test_an_optional_step_that_is_left_out_needs_no_product(library: Library) -> None:
    sealing = replace(library.practices["unfinished"], leave_out=())
    assert "no product for surface sealer" in {gap.what for gap in gaps(library, sealing, DAY)}


def test_the_unfinished_office_lacks_three_things(library: Library) -> None:
    found = gaps(library, library.practices["unfinished"], DAY)
    assert {gap.what.partition(",")[0].partition(":")[0] for gap in found} == {
        "Palewash Etch", "Lumipin 3 curing light", "Tidewall Sealant",
    }  # fmt: skip
    etch = next(gap for gap in found if "dentine" in gap.what)
    assert "composite-class-2" in etch.visits
    assert "fissure-sealant" not in etch.visits, "a sealant puts no acid on dentine"
    assert all(gap.mend and gap.visits for gap in found)
    notes = drawer_notes(library.practices["unfinished"], DAY)
    assert any("RF1990: recalled" in note for note in notes)
    assert any("RF2216: no expiry day" in note for note in notes)


def test_every_time_a_plan_would_ask_for_is_told_beforehand(library: Library) -> None:
    """For each product and time: if a plan of some shipped case asks for it, the check tells it."""
    office = library.practices["example"]
    gaps_of = {
        (each.product, time): gaps(library, without_time(office, each.product, time), DAY)
        for each in office.materials
        for time in each.times
    }
    asked = 0
    for source in library.cases.values():
        entry = source.model.model_dump(by_alias=True, exclude_none=True)
        case = case_from(entry, "iso")
        visit = choose_procedure(library, case, office)
        used = {each.product: each.times for each in plan(library, visit, case, office).materials}
        for product, times in used.items():
            for time, _ in times:
                lacking = without_time(office, product, time)
                made = plan(library, visit, case, lacking)
                if any(each.id.startswith("material-time:") for each in made.questions):
                    asked += 1
                    told = gaps_of[product, time]
                    assert any(product in gap.what and visit in gap.visits for gap in told)
    assert asked > 20


def test_what_the_times_mean_is_read_from_the_procedures(library: Library) -> None:
    """EB2: dentine at most 15 s from the first contact; EB1: rinse at least as long as etched."""
    told = meanings(library)
    assert told["etchant.dentine"] == ('hard maximum: not after, counted from "gel on dentine"',)
    assert any("hard minimum" in each for each in told["etchant.rinse"])
    assert any("hard maximum" in each for each in told["amalgam.work"])
    assert all(use.meaning for use in uses(library) if use.time)


def test_a_product_with_only_bad_lots_is_missing(library: Library) -> None:
    office = library.practices["example"]
    bad = (Lot("A", date(2026, 3, 30)), Lot("B", None, "leaks"))
    spoiled = replace(
        office,
        materials=tuple(
            replace(each, lots=bad) if each.role == "amalgam" else each for each in office.materials
        ),
    )
    (gap,) = gaps(library, spoiled, DAY)
    assert "lot A: expired" in gap.what
    assert "lot B: recalled" in gap.what
    assert {"amalgam-class-1", "amalgam-class-2", "amalgam-class-5"} <= set(gap.visits)
    assert not any(visit.startswith("composite") for visit in gap.visits)


def test_the_check_ends_with_one_when_something_is_missing(capsys) -> None:
    assert run(["materials", "check", "--day", "2026-03-31"]) == 0
    assert run(["materials", "check", "--practice", "unfinished", "--day", "2026-03-31"]) == 1
    out = capsys.readouterr().out
    assert "for composite-class-1, composite-class-2" in out
    amalgam = ["materials", "check", "--practice", "unfinished", "--procedure", "amalgam-class-2"]
    assert run(amalgam) == 0


def scan(lines: str, monkeypatch, capsys) -> tuple[int, list[str]]:
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    code = run(["materials", "scan", "--day", "2026-03-31"])
    return code, capsys.readouterr().out.splitlines()


def test_scanned_packages_are_told_line_by_line(monkeypatch, capsys) -> None:
    code, told = scan(
        "01095212500010561735033110BU1187\n"
        "\n"
        "(01)09521250001056(17)350930(10)NEW9(21)4\n"
        "0109521250001056173503311 0\n"
        "]d20109521250001018172601311 0X\n".replace("1 0X", "10OLD")
        + "(01)09521250009991(17)300131(10)Q\n",
        monkeypatch,
        capsys,
    )
    assert code == 1
    assert told[0] == "1: Brackenfil Universal, lot BU1187, to 2035-03-31"
    assert re.match(
        r"2: Brackenfil Universal, lot NEW9, to 2035-09-30, serial 4; new, add", told[1]
    )
    assert told[2].startswith("3: not read: ")
    assert "DO NOT USE, expired on 2026-01-31" in told[3]
    assert told[4].startswith("5: unknown product 09521250009991, lot Q")


def test_good_scans_alone_end_with_nought(monkeypatch, capsys) -> None:
    code, told = scan("(10)BU1243\n9521250001056\n", monkeypatch, capsys)
    assert code == 0
    assert told[0] == "1: Brackenfil Universal, lot BU1243, to 2035-09-30"
    assert told[1].startswith("2: Brackenfil Universal, no lot in this code")


def test_a_recalled_lot_is_recognised_by_its_lot_alone(monkeypatch, capsys) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("(10)RF1990\n"))
    assert run(["materials", "scan", "--practice", "unfinished"]) == 1
    assert "DO NOT USE, recalled (too thin" in capsys.readouterr().out


def test_an_expiry_that_differs_from_the_one_written_down_is_told(monkeypatch, capsys) -> None:
    code, told = scan("(01)09521250001056(17)350901(10)BU1187\n", monkeypatch, capsys)
    assert code == 1
    assert "the office has 2035-03-31 written down" in told[0]
