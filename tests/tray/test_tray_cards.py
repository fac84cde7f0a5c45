"""Tray cards: one page, in order of use, nothing left out, nothing that needs colour."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from functools import cache
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipped_library import shipped
from sidecue.board import arch_map
from sidecue.board.pdf_pen import LettersError, printable
from sidecue.board.tray_card import Card, alike, card_of
from sidecue.board.tray_grid import NAME_MM, SIDE_MM, STRIP_MM, grid_for
from sidecue.board.tray_html import tray_html
from sidecue.board.tray_pdf import filled, layout_of, tray_pdf
from sidecue.clinical.teeth import Tooth
from sidecue.procedure.loading import placed_case
from sidecue.procedure.plan import Notice, Plan, Question
from sidecue.procedure.planning import choose_procedure, plan

TODAY = date(2026, 3, 31)


@cache
def planned(name: str, practice: str = "example") -> Plan:
    office = shipped().practices[practice]
    case = placed_case(shipped().cases[name], office.notation)
    return plan(shipped(), choose_procedure(shipped(), case, office), case, office, TODAY)


@cache
def card(name: str, practice: str = "example") -> Card:
    titles = {key: source.model.title for key, source in shipped().procedures.items()}
    return card_of(planned(name, practice), titles, Tooth(46))


CASES = sorted(shipped().cases)


@pytest.mark.parametrize("name", CASES)
def test_everything_on_the_tray_stands_on_the_card_in_order_of_use(name: str) -> None:
    made, printed = planned(name), card(name)
    assert [cell.instrument for cell in printed.cells] == [each.instrument for each in made.tray]
    assert [cell.number for cell in printed.cells] == list(range(1, len(made.tray) + 1))
    index = made.step_index
    firsts = [index[item.steps[0]] for item in made.tray]
    assert firsts == sorted(firsts)


@pytest.mark.parametrize("name", CASES)
def test_every_card_is_one_page_however_long_its_tray(name: str) -> None:
    assert pages(tray_pdf([card(name)])) == 1
    assert layout_of(card(name)).fits
    assert layout_of(card(name, "unfinished")).fits


def test_a_card_with_much_to_say_still_fits_its_page_and_counts_the_rest() -> None:
    made = planned("composite-26-mod-deep", "unfinished")
    much = replace(
        made,
        blocks=(Notice("Tidewall Sealant, lot TS2903: expired on 2025-01-31; set it aside", "x"),)
        * 4,
        questions=(Question("q", "What is the dentine time of Palewash Etch?", "m"),) * 6,
        warnings=(Notice("Eugenol hinders a later resin filling; ask for the final one.", "x"),)
        * 9,
    )
    crowded = card_of(much, {}, Tooth(26))
    assert layout_of(crowded).fits
    assert crowded.warnings[-1] == "and 5 more, see `sidecue plan`"
    assert len(crowded.stops) + len(crowded.questions) <= 5
    assert crowded.questions == ("and 6 more, see `sidecue plan`",)


def pages(document: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b(?!s)", document))


def test_the_hands_to_pass_are_on_the_card() -> None:
    """FH4 to FH6: mirror and explorer together; forceps with two hands; the syringe hidden."""
    passes = dict(card("composite-46-mo").passes)
    assert "mirror + explorer" in passes["In pairs"]
    assert "dam clamp forceps" in passes["With two hands"]
    assert passes["Out of the patient's sight"] == "aspirating anaesthetic syringe"
    assert "below the chin" in passes["All the rest"]
    marks = {cell.instrument: cell.mark for cell in card("composite-46-mo").cells}
    assert marks["anaesthetic-syringe"] == "HIDDEN"
    assert marks["clamp-forceps"] == "2 HANDS"
    assert marks["mouth-mirror"] == "PAIR"
    assert marks["spoon-excavator"] == ""


def test_what_the_tooth_takes_is_on_the_card() -> None:
    """MX1, AM1, RD3: one wedge, a two-spill capsule of 600 mg, a premolar clamp behind 14."""
    amalgam = dict(card("amalgam-14-do").chosen)
    assert amalgam["clamp"] == "premolar clamp on 15"
    assert amalgam["hole sizes"] == "5 3 3 2 2 2 2"
    assert amalgam["capsules"] == "2 spills (600 mg)"
    assert amalgam["wedge"] == "1 wedge, from the palatal side"
    deep = card("composite-26-mod-deep")
    assert {cell.name for cell in deep.cells} >= {"2 x sectional matrix", "2 x separating ring"}
    for each in ("600 mg", "For this tooth"):
        assert each in tray_html([card("amalgam-14-do")])


def test_materials_stand_with_lot_times_and_storage() -> None:
    """EB2: dentine at most 15 s; EB1: rinse at least 15 s."""
    etch = next(each for each in card("composite-46-mo").products if each.role == "etchant")
    assert etch.name == "Palewash Etch"
    assert etch.lot == "lot PE0318, to 2035-02-28"
    assert "dentine etch at most 15 s" in etch.times
    assert "rinse at least 15 s" in etch.times
    assert "25 degrees" in etch.storage
    adhesive = next(each for each in card("composite-46-mo").products if each.role == "adhesive")
    assert "fridge" in adhesive.storage


def test_a_time_nobody_entered_is_missing_on_the_card_and_asked_for_first() -> None:
    unready = card("composite-46-mo", "unfinished")
    etch = next(each for each in unready.products if each.role == "etchant")
    assert "dentine etch TIME MISSING" in etch.times
    assert any("dentine time" in question for question in unready.questions)
    page = tray_html([unready])
    assert "Answer first" in page


def test_a_refused_case_says_so_at_the_head_of_its_card() -> None:
    unready = card("sealant-36-o", "unfinished")
    assert any("expired on 2025-01-31" in stop for stop in unready.stops)
    assert "<b>Refused</b>" in tray_html([unready])


def test_what_matters_most_is_among_the_cautions() -> None:
    """Eyes covered before light (LC10), clamp tied first (RD1), counts before dismissal (15J)."""
    watch = card("composite-46-mo").watch
    for say in (
        "Cover all eyes, the patient's too.",
        "Floss first, before it nears the mouth.",
        "Rinse before the dentine time ends.",
        "Let nobody leave before counts agree.",
    ):
        assert say in watch
    assert card("composite-46-mo").more_cautions == len(planned("composite-46-mo").cautions) - len(
        watch
    )


@pytest.mark.parametrize("name", CASES)
def test_a_sheet_holds_as_many_cautions_as_it_has_room_for(name: str) -> None:
    bare, full = card(name), filled(card(name))
    assert full.watch[: len(bare.watch)] == bare.watch, "those that matter most stand first"
    assert len(full.watch) + full.more_cautions == len(planned(name).cautions)
    before, after = layout_of(bare), layout_of(full)
    assert after.fits
    assert (after.grid, after.text_scale) == (before.grid, before.text_scale)
    if full.more_cautions:
        one_more = layout_of(full.watching(1))
        assert (one_more.grid, one_more.text_scale) != (before.grid, before.text_scale) or (
            not one_more.fits
        )


def test_where_there_is_room_no_caution_is_left_to_the_plan() -> None:
    assert card("sealant-36-o").more_cautions > 0
    assert filled(card("sealant-36-o")).more_cautions == 0


@settings(max_examples=60)
@given(st.integers(1, 95), st.floats(80, 230))
def test_every_cell_keeps_inside_the_room_there_is(count: int, height: float) -> None:
    grid = grid_for(count, 194.0, height)
    assert grid.columns * grid.rows >= count
    assert grid.rows * grid.cell_height <= height + 1e-6
    assert grid.columns * grid.cell_width <= 194.0 + 1e-6
    assert grid.drawing_width + SIDE_MM <= grid.cell_width
    assert grid.drawing_width / 2 + STRIP_MM + NAME_MM <= grid.cell_height + 1e-6


def test_drawings_stay_large_enough_for_the_longest_tray() -> None:
    longest = max(len(card(name).cells) for name in CASES)
    assert grid_for(longest, 194.0, 150.0).drawing_width >= 14.0


def test_a_heading_runs_over_its_own_cells_only() -> None:
    cells = card("composite-46-mo").cells
    for number in range(len(cells)):
        wide = alike(cells, number, 7)
        assert 1 <= wide <= 7 - number % 7
        assert {cell.group for cell in cells[number : number + wide]} == {cells[number].group}


def test_the_page_is_black_on_white_and_asks_nothing_of_the_network() -> None:
    page = tray_html([card(name) for name in CASES])
    inks = set(re.findall(r"#[0-9a-fA-F]{3,8}\b", page))
    assert inks <= {"#000", "#fff", "#999", "#888"}
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "<script" not in page


def test_what_people_type_cannot_become_markup() -> None:
    evil = replace(card("sealant-36-o"), practice="<b>Elm & Co</b>", when="<script>")
    page = tray_html([evil])
    assert "<script>" not in page
    assert "&lt;b&gt;Elm &amp; Co" in page


def test_every_drawing_is_whole_inside_the_page() -> None:
    page = tray_html([card("composite-46-mo")])
    drawings = re.findall(r"<svg xmlns=.*?</svg>", page, re.DOTALL)
    assert len(drawings) == len(card("composite-46-mo").cells)
    for each in drawings:
        ElementTree.fromstring(each)


@pytest.mark.parametrize("number", [11, 18, 21, 28, 31, 38, 41, 48, 51, 55, 65, 75, 85])
def test_one_box_of_the_arch_map_is_the_tooth(number: int) -> None:
    """The patient's right is on the left of the page (chart habit; ISO 3950, from memory)."""
    tooth = Tooth(number)
    here = [(left, top) for left, top, filled in arch_map.boxes(tooth) if filled]
    assert len(here) == 1
    (left, top) = here[0]
    assert (left < arch_map.width(tooth) / 2) is (tooth.side == "right")
    assert (top == 0.0) is (tooth.arch == "upper")
    assert len(list(arch_map.boxes(tooth))) == (20 if tooth.primary else 32)


def test_letters_the_typeface_lacks_lose_their_mark_or_are_refused() -> None:
    assert printable("Zębowy Gabinet – łąka") == "Zebowy Gabinet - laka"
    assert printable("Fernbrook · 2 mm") == "Fernbrook · 2 mm"
    with pytest.raises(LettersError):
        printable("стоматолог")
