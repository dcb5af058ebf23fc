"""The renderers: every document in a terminal, as a page and in a notebook; how each kind of block looks."""

from __future__ import annotations

import ast
import io
import pathlib
import re
from typing import get_args

import pytest
from rich.console import Console

import reports
from reports.documents.document import (
    Block,
    Code,
    Column,
    Document,
    Drawing,
    Figure,
    Fold,
    Group,
    Items,
    Medium,
    Section,
    Sentence,
    SignalPath,
    Table,
)
from reports.documents.shared import boxes
from reports.figures.causes import CAUSE_LOOKS
from reports.render import terminal
from reports.render.html import fragment, page, tied
from reports.results import RESULTS
from reports.results.common import SignalBox, SignalValue
from tests.reports.page_reading import HOSTILE, Node, read_page, words
from tests.reports.samples import drawn, text_of
from tests.reports.samples import ran as ran_knob
from tests.reports.verbs import MAKERS, NAMES, made

MEDIA = get_args(Medium)
BLOCKS = get_args(Block)
ESCAPES = re.compile(r"\x1b\[[0-9;]*m")
AROUND = "<!doctype html><html><head><title>x</title></head><body>{}</body></html>"


def document(*blocks: Block, title: str = "Title", folded: bool = False) -> Document:
    return Document(title, "a test", (), (Section("result", "", blocks, "Result", folded),), brief=blocks[:1])


def notebook(made: Document) -> Node:
    return read_page(AROUND.format(fragment(made)))


def media(made: Document) -> dict[str, str]:
    """All text of a document in each medium."""
    return {
        "terminal": " ".join(drawn(made).split()),
        "page": words(read_page(page(made)).one("body")),
        "notebook": words(notebook(made).one("body")),
    }


def ranked(cell: str = "x" * 20) -> Table:
    """Four columns of 20 characters, two of which give way together, after the last."""
    heads = {"first": 0, "second": 1, "third": 1, "last": 2}
    return Table("A caption", tuple(Column(head, [cell], rank) for head, rank in heads.items()))


@pytest.mark.parametrize("name", NAMES)
def test_every_document_is_shown_in_every_medium(name: str) -> None:
    """With its title, and in a terminal with no line wider than there is room."""
    shown = made(name).document()
    for medium, text in media(shown).items():
        assert " ".join(shown.title.split()) in text, medium
    for width in (40, 80, 120):
        for text in (
            drawn(shown, width),
            drawn(shown, width, encoding="ascii"),
            drawn(shown, width, brief=True),
        ):
            long = [line for line in text.splitlines() if len(line) > width]
            assert long == [] or name == "show", "only the text of a scenario is shown as it is"


def test_every_verb_with_a_result_is_shown() -> None:
    assert set(RESULTS) <= set(MAKERS)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_well_formed_and_each_id_stands_once(name: str) -> None:
    tree = read_page(page(made(name).document()))
    ids = [node.attributes["id"] for node in tree.all() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    assert len(tree.all("h1")) == 1


def test_every_table_caption_and_sentence_is_built_in_a_document() -> None:
    """Outside of documents only the renderers know blocks, and no one else draws a table of rich."""
    top = pathlib.Path(reports.__file__).parent
    for file in top.rglob("*.py"):
        room = file.relative_to(top).parts[0]
        imports = [node for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.ImportFrom)]
        names = {
            each.name
            for node in imports
            if node.module == "reports.documents.document"
            for each in node.names
        }
        assert room in ("documents", "render") or names <= {"Document"}, file
        assert room == "render" or "rich.table" not in [node.module for node in imports], file


def test_nothing_is_imported_from_a_verb_by_a_renderer() -> None:
    folder = pathlib.Path(terminal.__file__).parent
    for file in folder.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("reports.documents."):
                assert node.module == "reports.documents.document", file


@pytest.mark.parametrize(
    ("width", "shown"),
    [(20, 1), (61, 1), (62, 1), (64, 3), (85, 3), (86, 4), (200, 4)],
)
def test_columns_give_way_by_rank_in_a_terminal(width: int, shown: int) -> None:
    """Those of one rank together, the highest rank first; 20 characters each, 2 between them."""
    lines = drawn(document(ranked()), width).splitlines()
    assert lines[2].split() == ["first", "second", "third", "last"][:shown]
    assert lines[4].split() == ["x" * 20] * shown


def test_columns_give_way_by_rank_in_a_notebook() -> None:
    heads = [head.text for head in notebook(document(ranked("x" * 34))).one("thead").all("th")]
    assert heads == ["first", "second", "third"]
    heads = [head.text for head in notebook(document(ranked())).one("thead").all("th")]
    assert heads == ["first", "second", "third", "last"]


def test_columns_give_way_by_rank_on_a_page() -> None:
    """All of them are there; the page's style hides a rank where its sheet is narrower than a width."""
    tree = read_page(page(document(ranked())))
    assert [head.attributes["class"] for head in tree.one("thead").all("th")] == [
        "number rank-0", "number rank-1", "number rank-1", "number rank-2",
    ]  # fmt: skip
    rule = r"max-width: ([\d.]+)rem\) \{ #table-result-1 \.rank-(\d) \{ display: none; \} \}"
    found = {
        rank: float(width) for style in tree.all("style") for width, rank in re.findall(rule, style.text)
    }
    assert list(found) == ["1", "2"]
    assert found["1"] < found["2"]


def test_a_narrow_terminal_breaks_long_text_and_no_number() -> None:
    long = "a text of many words that does not fit"
    table = Table("", (Column("what", [long], sort="text"), Column("count", ["1,234,567"])))
    lines = drawn(document(table), 30).splitlines()
    assert max(map(len, lines)) <= 30
    assert "1,234,567" in "\n".join(lines)
    assert all(word in "\n".join(lines) for word in long.split())


def test_a_table_of_uneven_columns_is_refused() -> None:
    with pytest.raises(ValueError, match="Uneven"):
        Table("Uneven", (Column("a", ["1"]), Column("b", [])))


def test_each_root_cause_has_one_look_in_tables_and_charts() -> None:
    causes = list(CAUSE_LOOKS)
    looks = [CAUSE_LOOKS[cause] for cause in causes]
    column = Column("share", ["1 %"] * len(causes), sort="bar", bars=[1.0] * len(causes), looks=looks)
    text = page(document(Table("Causes", (Column("root cause", causes, sort="name"), column))))
    found = re.findall(r'class="length" style="width: 100.0%; background: ([^"]+)"', text)
    assert len(set(found)) == len(causes)
    for (colour, hatch), each in zip(looks, found, strict=True):
        assert each.endswith(f"var(--{colour})")
        assert ("gradient" in each) == bool(hatch)


def test_bars_have_the_length_of_their_share() -> None:
    table = Table("", (Column("n", ["1", "2"]), Column("", ["", ""], sort="bar", bars=[1.0, 0.5])))
    assert re.findall("█+", drawn(document(table))) == ["█" * 24, "█" * 12]
    assert re.findall("#+", drawn(document(table), encoding="ascii")) == ["#" * 24, "#" * 12]
    assert re.findall(r'class="length" style="width: ([\d.]+)%"', page(document(table))) == ["100.0", "50.0"]


def test_folds_stand_open_in_a_terminal_and_open_elsewhere() -> None:
    made = document(Fold("A fold", (Sentence("What is inside."),)), Fold("Empty", ()))
    assert "\nA fold\nWhat is inside.\n" in drawn(made)
    assert "Empty" not in "".join(media(made).values())
    for tree in (read_page(page(made)), notebook(made)):
        fold = tree.one("details")
        assert (fold.one("summary").text, fold.one("p").text) == ("A fold", "What is inside.")
        assert "open" not in fold.attributes


def test_a_folded_section_opens_on_demand_in_a_notebook_only() -> None:
    sections = (Section("more", "More", (Sentence("What is inside."),), folded=True),)
    made = Document("Title", "a test", (), sections)
    assert notebook(made).one("details").one("summary").text == "More"
    assert read_page(page(made)).all("details") == []
    assert "\nMore\nWhat is inside.\n" in drawn(made)


@pytest.mark.parametrize("medium", MEDIA)
def test_what_is_for_one_medium_is_in_no_other(medium: Medium) -> None:
    """Nor is the fold, the group or the section in which nothing else stands."""
    alone = Sentence("Alone.", only=(medium,))
    sections = (
        Section("a", "", (alone,)),
        Section("b", "A section", (Fold("A fold", (Group("A group", (alone,)),)),)),
        Section("c", "Another", (Sentence("Always."),), only=(medium,)),
    )
    for each, text in media(Document("Title", "a test", (), sections)).items():
        for word in ("Alone.", "A section", "A fold", "A group", "Another", "Always."):
            assert (word in text) == (each == medium), (each, word)


PATH = SignalPath(
    HOSTILE,
    boxes(
        [
            SignalBox(
                role="stage", name=HOSTILE, kind=HOSTILE, lines=("A",), joint=False,
                values=(SignalValue(name=HOSTILE, value=HOSTILE, tolerance=HOSTILE),),
            )
        ]
    ),
)  # fmt: skip
EVERY: tuple[Block, ...] = (
    Sentence(HOSTILE, "caution", HOSTILE),
    Items((Sentence(HOSTILE, "bad", HOSTILE),), ordered=True),
    Table(HOSTILE, (Column(HOSTILE, [HOSTILE], sort="name"), Column(HOSTILE, [HOSTILE], sort="text"))),
    Drawing(lambda width, encoding: HOSTILE, HOSTILE),
    Figure("chart-x", lambda: {"data": [{"x": [HOSTILE]}], "layout": {}}, HOSTILE),
    PATH,
    Code(HOSTILE, HOSTILE),
    Fold(HOSTILE, (Sentence(HOSTILE),)),
    Group(HOSTILE, (Sentence(HOSTILE),), beside=True),
    Group(HOSTILE, (Sentence(HOSTILE),)),
)


def test_hostile_text_stays_text_in_every_kind_of_block() -> None:
    assert {type(block) for block in EVERY} == set(BLOCKS)
    made = document(*EVERY, title=HOSTILE)
    for tree, scripts in ((read_page(page(made)), 4), (notebook(made), 0)):
        assert len(tree.all("script")) == scripts
        assert words(tree).count("<script>alert(1)</script>") > 8
        values = {value for node in tree.all() for value in node.attributes.values()}
        assert HOSTILE in values


def test_markup_of_the_terminal_stays_text() -> None:
    loud = "[bold]loud[/bold] :warning: [link=x]y[/link]"
    table = Table("", (Column(loud, [loud], sort="text"),))
    assert drawn(document(Sentence(loud, lead=loud), table, title=loud)).count(loud) == 5


def test_colour_changes_nothing_but_colour() -> None:
    console = Console(
        file=io.StringIO(), width=80, force_terminal=True, color_system="truecolor", highlight=False,
        markup=False, emoji=False,
    )  # fmt: skip
    shown = ran_knob()
    coloured = terminal.text(shown.document(), console)
    assert ESCAPES.search(coloured)
    bare = "\n".join(line.rstrip() for line in ESCAPES.sub("", coloured).splitlines())
    assert bare == text_of(shown, 80).rstrip("\n")


def test_prose_is_set_no_wider_than_reads_well() -> None:
    assert max(map(len, drawn(document(Sentence("word " * 100)), 200).splitlines())) <= terminal.WIDEST


def test_lists_hang_behind_their_leads() -> None:
    leads = Items((Sentence("one " * 12, lead="a"), Sentence("two", lead="longer")))
    lines = drawn(document(leads), 30).splitlines()
    assert [line[:8] for line in lines[2:]] == ["a       ", "        ", "        ", "longer  "]
    numbered = Items((Sentence("one"), Sentence("two")), ordered=True)
    assert drawn(document(numbered)).splitlines()[2:] == ["1. one", "2. two"]
    assert drawn(document(Items((Sentence("one"),)))).splitlines()[2:] == ["- one"]


def test_brief_is_the_result_alone() -> None:
    made = document(Sentence("The result."), Sentence("The rest."))
    assert drawn(made, brief=True) == "The result.\n"


def test_a_number_keeps_its_unit_in_the_same_line() -> None:
    """Pieces between plain blanks: 5 %, of, 4.7 kohm, in, 12 us, 3, steps."""
    assert len(tied("5 % of 4.7 kohm in 12 us, 3 steps").split(" ")) == 7
    assert tied("1.5 ") == "1.5\N{FIGURE SPACE}"
    assert tied("10   ") == "10\N{PUNCTUATION SPACE}\N{FIGURE SPACE}\N{FIGURE SPACE}"
