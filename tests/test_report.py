"""Charts: the same figures as text and as SVG, readable in black and white and by a screen reader."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree

from offbook.progress import DayAccuracy, StretchHistory
from offbook.report import accuracy_svg, lines_svg, text_chart, text_stretches
from offbook.score import accuracy_share

DAYS = (
    DayAccuracy(date(2026, 3, 2), 2, 0.871, 0.842, 1, 64.0, False),
    DayAccuracy(date(2026, 3, 5), 1, 0.985, 0.985, 0, 61.0, True),
)
LINES = (
    StretchHistory(1, 0, 8, "The lamp was lit before the tide came in", 3, 0.926, 1.0, (), "1", "line"),
    StretchHistory(2, 9, 15, "Nobody asked <who> & why", 0, 0.0, 0.0, (), "2", "line"),
)
SVG = "{http://www.w3.org/2000/svg}"


def test_the_chart_by_day_is_drawn_as_text() -> None:
    assert text_chart(DAYS) == (
        "  Mon 2 Mar  ████████████████████▒▒······|··    84.2–87.1 %  2 run-throughs, 1 prompt\n"
        "  Thu 5 Mar  ████████████████████████████|█·         98.5 %  1 run-through, clean"
    )


def test_the_chart_by_day_fits_a_narrow_window() -> None:
    assert text_chart(DAYS, 60) == (
        " Mon 2 Mar ██████▒··|· 84.2–87.1 % 2 run-throughs, 1 prompt\n"
        " Thu 5 Mar █████████|·      98.5 % 1 run-through, clean"
    )


def test_lines_that_were_never_run_have_no_accuracy() -> None:
    assert text_stretches(LINES).splitlines()[1].endswith("not run yet")


def test_an_accuracy_below_98_per_cent_is_never_rounded_up_to_98() -> None:
    assert accuracy_share(0.9796, 0.97999) == "97.9 %"
    assert accuracy_share(0.98, 0.98) == "98.0 %"
    assert accuracy_share(0.29, 0.29) == "29.0 %"


def test_the_svg_charts_are_well_formed_and_give_their_figures_in_words_too() -> None:
    for svg in (accuracy_svg("The <lamp>", DAYS), lines_svg("The <lamp>", LINES)):
        root = ElementTree.fromstring(svg)
        assert root.get("role") == "img"
        title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None and title.text is not None and "The <lamp>" in title.text
        assert desc is not None and desc.text
        named = root.get("aria-labelledby", "").split()
        assert named == [title.get("id"), desc.get("id")]
    desc = ElementTree.fromstring(accuracy_svg("x", DAYS)).find(f"{SVG}desc")
    assert desc is not None
    assert desc.text == "Mon 2 Mar: 84.2–87.1 %; Thu 5 Mar: 98.5 % clean"


def test_the_bars_of_the_svg_chart_are_as_long_as_their_figures() -> None:
    """A bar begins at no words at all and is as long as its share, so that none looks smaller than it is."""
    root = ElementTree.fromstring(accuracy_svg("x", DAYS))
    bars = [r for r in root.iter(f"{SVG}rect") if r.get("stroke") == "#000"]
    solid, unsure = bars[0], bars[1]
    width = 420  # px between 0 % and 100 %
    assert abs(float(solid.get("width", 0)) - 0.842 * width) < 0.2
    assert abs(float(unsure.get("width", 0)) - (0.871 - 0.842) * width) < 0.2
    scale = [t.text for t in root.iter(f"{SVG}text") if t.get("text-anchor") == "middle"]
    assert scale == ["0 %", "25 %", "50 %", "75 %", "100 %"]
    assert solid.get("fill") != unsure.get("fill") and "url(#unsure)" in str(unsure.get("fill"))


def test_an_empty_chart_says_that_there_is_no_run_through_yet() -> None:
    assert "no run-through yet" in accuracy_svg("x", ())
