"""What the command line calls an option, the window calls by its own word."""

from __future__ import annotations

import re

import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.formats.reading import read_outlines
from layoutdesk.session.places import resource
from layoutdesk.session.wording import wants_crs, wants_unit, window_words

PACKAGE = resource("icons").parent.parent / "layoutdesk"


def sentences() -> list[str]:
    """Every string in what reads, writes and opens that names an option."""
    found = []
    for folder in ("formats", "session"):
        for path in (PACKAGE / folder).rglob("*.py"):
            if path.name == "wording.py" or path.name.startswith(
                ("asked_", "parcel", "planting_counted", "hand_off_sheet")
            ):
                # the command line's own, and a sheet of paper that names a command for whoever receives it
                continue
            text = re.sub(r'"""[\s\S]*?"""', "", path.read_text(encoding="utf-8"))
            found += re.findall(r'"([^"\n]*--[a-z][^"\n]*)"', text)
    return found


def test_no_option_is_left_in_the_windows_words():
    texts = sentences()
    assert len(texts) >= 10
    left = [t for t in texts if re.search(r"--[a-z]", window_words(t))]
    assert left == []


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        (
            "a.csv names no coordinate system; add the one it was surveyed in with --crs EPSG:nnnn.",
            "a.csv names no coordinate system; add the one it was surveyed in by its code, such as "
            "EPSG:32754.",
        ),
        (
            "if they are WGS 84, use --crs EPSG:4326.",
            "if they are WGS 84, give EPSG:4326 as the coordinate system.",
        ),
        (
            "it is off; choose another with --survey-crs.",
            "it is off; choose another under Edit, Survey grid.",
        ),
    ],
)
def test_sentences_stay_whole(text, shown):
    assert window_words(text) == shown


def test_what_could_be_answered_is_told_from_what_could_not(tmp_path):
    path = tmp_path / "corners.csv"
    path.write_text("easting,northing\n0,0\n100000,0\n100000,90000\n", encoding="utf-8")
    with pytest.raises(InputProblem) as problem:
        read_outlines(path)
    assert wants_crs(str(problem.value))
    assert not wants_unit(str(problem.value))
