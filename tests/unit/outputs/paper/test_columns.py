"""Lists in columns: nothing is lost, nothing leaves its column, every page makes headway."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.columns import Block, flow_blocks, set_blocks

COLUMNS = (Box(10, 20, 80, 90), Box(85, 20, 155, 90))


def words(blocks: list[Block]) -> list[str]:
    return [word for block in blocks for line in block.lines for word in line.split()]


def all_pages(blocks: list[Block], size: float) -> list[Canvas]:
    pages: list[Canvas] = []
    while blocks:
        canvas = Canvas(160, 100, "")
        blocks = set_blocks(canvas, blocks, COLUMNS, size)
        pages.append(canvas)
        assert len(pages) < 200
    return pages


texts = st.text(alphabet="abcdefgh ", min_size=1, max_size=400).filter(str.strip)
some_blocks = st.lists(
    st.lists(texts, max_size=12).map(lambda lines: Block(title="Title", lines=lines)), min_size=1, max_size=6
)


@settings(max_examples=60, deadline=None)
@given(blocks=some_blocks, size=st.sampled_from([2.8, 3.2, 3.6]))
def test_every_word_is_set_once_in_order_inside_a_column(blocks: list[Block], size: float) -> None:
    pages = all_pages(blocks, size)
    labels = [text.label for page in pages for text in page.texts]
    set_words = [word for label in labels if not label.is_bold for word in label.text.split()]
    # A word that is wider than a column is cut with an ellipsis.
    wanted = words(blocks)
    assert len(set_words) == len(wanted)
    assert all(w.startswith(s.removesuffix("…")) for s, w in zip(set_words, wanted, strict=True))
    for label in labels:
        assert any(column.grow(1e-6).holds(label.box) for column in COLUMNS)


def test_a_heading_stays_with_its_first_entry() -> None:
    lines = [f"line {k}" for k in range(16)]
    full = Block(title="First", lines=lines)
    canvas = Canvas(160, 100, "")
    left = set_blocks(canvas, [full, Block(title="Second", lines=["a", "b"])], COLUMNS[:1], 3.2)
    # 70 mm hold 17 lines of 3.2 x 1.28 mm (derived): the second heading alone would fit, its entry not.
    assert [block.title for block in left] == ["Second"]
    assert [text.label.text for text in canvas.texts] == ["First", *lines]


def test_a_long_list_goes_on_with_its_heading_said_again_and_a_short_one_is_not_torn_for_nothing() -> None:
    long = Block(title="Long", lines=[f"line {k}" for k in range(100)])
    (left,) = set_blocks(None, [long], COLUMNS, 3.2)
    assert left.title == "Long (continued)"
    assert left.lines[-1] == "line 99"
    (again,) = set_blocks(None, [left], COLUMNS, 3.2)
    assert again.title == "Long (continued)"
    filler = Block(title="Filler", lines=["x"] * 13)
    short = Block(title="Short", lines=["a", "b", "c", "d", "e"])
    assert set_blocks(None, [filler, short], COLUMNS[:1], 3.2) == [short]


def test_what_finds_no_place_is_counted_in_lines() -> None:
    block = Block(title="T", lines=["one", "two"])
    assert flow_blocks(None, [block], COLUMNS, 3.2) == 0
    assert flow_blocks(None, [block], (), 3.2) >= 3
