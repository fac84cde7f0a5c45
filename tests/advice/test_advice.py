"""The patient's advice: by what was done, for child or adult, in plain words.

Reading grade by Flesch-Kincaid (textstat), at most six. Values: LA16 (numbness by drug), PO1 to PO3
(chewing on amalgam, the longest is taken), PO4 to PO6 (children); glass ionomer and interim from
memory.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Any

import pytest
import textstat

from shipped_library import shipped
from sidecue.board.advice_page import advice_page
from sidecue.cli.main import run
from sidecue.clinical.advice_times import CHEW_HOURS, CHILD_NUMB_HOURS, NUMBNESS
from sidecue.clinical.materials import Material
from sidecue.procedure.expansion import applies
from sidecue.procedure.loading import case_from
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.session.advising import CALL

HIGHEST_GRADE = 6.0


@cache
def sets_of_sentences() -> frozenset[tuple[str, ...]]:
    """Every set of sentences that the plan of some kind of case can give."""
    lib = shipped()
    office = lib.practices["example"]
    cavities = [
        {"tooth": "46", "surfaces": "MO", "material": "composite", "depth-mm": 3},
        {"tooth": "14", "surfaces": "DO", "material": "amalgam", "date": "2017-12-31"},
        {"tooth": "43", "surfaces": "B", "cervical": True, "material": "glass-ionomer"},
        {"tooth": "43", "surfaces": "B", "cervical": True, "material": "resin-glass-ionomer"},
        {"tooth": "37", "surfaces": "O", "material": "interim"},
        {"tooth": "36", "surfaces": "O", "material": "sealant"},
        {"tooth": "55", "surfaces": "O", "material": "sealant"},
        {"tooth": "21", "surfaces": "MIF", "material": "composite", "depth-mm": 2},
    ]
    drugs = ("none", "lidocaine", "articaine", "mepivacaine-plain", "prilocaine-plain",
             "prilocaine-epinephrine-200k", "bupivacaine-epinephrine-200k")  # fmt: skip
    found = set()
    for cavity, drug, age, isolation in product(cavities, drugs, (7, 40), ("dam", "rolls")):
        entry: dict[str, Any] = {**cavity, "anaesthetic": drug, "age-years": age}
        case = case_from({**entry, "isolation": isolation}, "iso")
        made = plan(lib, choose_procedure(lib, case, office), case, office)
        found.add(tuple(advice.text for advice in made.advice))
    return frozenset(found)


def grade(text: str) -> float:
    return float(textstat.flesch_kincaid_grade(text))


def test_the_measure_tells_hard_words_from_plain_ones() -> None:
    """Guard of the measure itself: a sentence for colleagues is far above grade six."""
    hard = "Postoperative hypersensitivity following restorative procedures usually diminishes."
    assert grade(hard) > 12
    assert grade("Do not bite your lip.") < 2


def test_every_set_of_sentences_reads_at_grade_six_or_lower() -> None:
    assert len(sets_of_sentences()) > 30
    for sentences in sets_of_sentences():
        assert grade(" ".join((*sentences, CALL))) <= HIGHEST_GRADE, sentences


def test_every_sentence_alone_reads_at_grade_six_or_lower() -> None:
    for entry in shipped().advice:
        assert grade(entry.say) <= HIGHEST_GRADE, entry.say
    assert grade(CALL) <= HIGHEST_GRADE


def advice(done: set[str], **facts: str) -> list[str]:
    """The sentences of a case after these facts came true."""
    case = {key.replace("_", "-"): (value,) for key, value in facts.items()}
    return [
        entry.say
        for entry in shipped().advice
        if applies(entry.when, entry.unless, case) and done.issuperset(entry.after)
    ]


NUMBED = {"injected"}
DRUGS = [
    ("lidocaine", "yes", "three to five hours", "lidocaine-epinephrine", "any"),
    ("articaine", "yes", "three to five hours", "articaine-epinephrine", "any"),
    ("mepivacaine", "no", "about two hours", "mepivacaine-plain", "infiltration"),
    ("bupivacaine", "yes", "four to twelve hours", "bupivacaine-epinephrine", "any"),
    ("prilocaine", "yes", "three to eight hours", "prilocaine-epinephrine", "any"),
]


@pytest.mark.parametrize(("drug", "narrowed", "words", "family", "technique"), DRUGS)
def test_numbness_is_told_by_the_drug_within_the_published_times(
    drug: str, narrowed: str, words: str, family: str, technique: str
) -> None:
    told = advice(
        NUMBED,
        anaesthetic=drug,
        vasoconstrictor=narrowed,
        anaesthesia="yes",
        age_group="adult",
        arch="upper",
    )
    assert sum("numb for" in each for each in told) == 1
    assert any(words in each for each in told)
    span = NUMBNESS[family, technique]
    hours = {"two": 2, "three": 3, "four": 4, "five": 5, "eight": 8, "twelve": 12}
    said = [hours[word] for word in words.split() if word in hours]
    assert max(said) * 60 == span.most, span.source


@pytest.mark.parametrize("vasoconstrictor", ["yes", "no"])
def test_plain_and_mixed_prilocaine_differ(vasoconstrictor: str) -> None:
    told = advice(
        NUMBED,
        anaesthetic="prilocaine",
        vasoconstrictor=vasoconstrictor,
        anaesthesia="yes",
        age_group="adult",
    )
    numb = [each for each in told if "numb for" in each]
    plain = vasoconstrictor == "no"
    assert [("one to four hours" in each) for each in numb] == [plain]


@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_a_child_has_words_for_who_watches_and_the_child_s_own_times(arch: str) -> None:
    told = advice(NUMBED, anaesthetic="lidocaine", anaesthesia="yes", age_group="child", arch=arch)
    most = CHILD_NUMB_HOURS[arch].most
    assert sum("numb for" in each for each in told) == 1
    assert any({2: "two hours", 4: "four hours"}[most] in each for each in told)
    assert any("Watch your child" in each for each in told)
    assert any("seven to ten days" in each for each in told)


def test_a_block_with_plain_mepivacaine_is_given_no_hours() -> None:
    """The published time is for infiltration; a lower molar usually gets a block."""
    told = advice(
        NUMBED,
        anaesthetic="mepivacaine",
        vasoconstrictor="no",
        anaesthesia="yes",
        age_group="adult",
        arch="lower",
    )
    assert [each for each in told if "numb for" in each] == [
        "Your lip, cheek or tongue may be numb for some hours."
    ]


@pytest.mark.parametrize(
    ("drug", "narrowed", "words"),
    [
        ("bupivacaine", "yes", "four to twelve hours"),
        ("prilocaine", "yes", "three to eight hours"),
        ("prilocaine", "no", "one to four hours"),
    ],
)
@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_a_drug_that_lasts_long_lasts_long_in_a_child(
    drug: str, narrowed: str, words: str, arch: str
) -> None:
    told = advice(NUMBED, anaesthetic=drug, vasoconstrictor=narrowed, age_group="child", arch=arch)
    numb = [each for each in told if "numb for" in each]
    assert len(numb) == 1
    assert words in numb[0]


def test_nothing_about_numbness_without_an_injection() -> None:
    told = advice(set(), anaesthetic="lidocaine", anaesthesia="yes", age_group="adult")
    assert not any("may be numb for" in each for each in told)


def test_chewing_follows_the_material_that_was_really_placed() -> None:
    assert CHEW_HOURS[Material.AMALGAM].most == 24
    carved = advice({"carved"}, material="amalgam", anaesthesia="no")
    assert any("24 hours" in each for each in carved)
    assert not any("24 hours" in each for each in advice(set(), material="amalgam"))
    cured = {"resin-cured", "bite-accepted"}
    assert any(
        "chew on it at once" in e for e in advice(cured, material="composite", anaesthesia="no")
    )
    gum = {"resin-cured", "margin-accepted"}  # no bite is checked at the gum
    assert any(
        "chew on it at once" in each
        for each in advice(gum, material="composite", anaesthesia="no", **{"class": "V"})
    )
    numbed = advice(cured, material="composite", anaesthesia="yes")
    assert any("once the numb feeling is gone" in each for each in numbed)
    assert not any("may chew on it at once" in each for each in numbed)
    assert any(
        "weak and only for a short time" in e for e in advice({"return-agreed"}, material="interim")
    )


def test_isolation_is_spoken_of_by_what_was_in_the_mouth() -> None:
    assert any("clamp" in each for each in advice({"clamp-seated"}))
    assert any("cotton rolls" in each for each in advice({"rolls-in"}))
    assert any("thread" in each for each in advice({"cord-in"}))
    assert not any("sore" in each or "dry" in each for each in advice(set()))


def test_danger_signs_are_on_every_sheet() -> None:
    """PO3, PO7: high bite, lasting pain, swelling, still numb; breathing is an emergency."""
    for sentences in sets_of_sentences():
        whole = " ".join(sentences)
        for words in ("bite feels high", "face swells", "still numb", "call for an ambulance"):
            assert words in whole


def test_the_page_is_large_print_and_says_when_it_is_a_draft() -> None:
    page = advice_page(("Eat <soft> food.",), "2026-03-31", CALL, draft=True)
    assert "font: 20pt" in page
    assert "Eat &lt;soft&gt; food." in page
    assert "Draft of what is planned" in page
    assert "Draft" not in advice_page(("Eat.",), "2026-03-31", CALL)


def test_a_draft_from_the_command_line(tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["advice", "--case", "sealant-36-o", "--html", "a.html"]) == 0
    out = capsys.readouterr().out
    assert "Draft of what is planned" in out
    assert "The sealant is hard now" in (tmp_path / "a.html").read_text()


def test_a_store_without_a_visit_is_told_in_one_line(tmp_path, capsys) -> None:
    assert run(["advice", "--store", str(tmp_path / "none.sqlite3")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert run(["advice", "abc", "--case", "sealant-36-o"]) == 2
