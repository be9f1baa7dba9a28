"""Records of text made by arithmetic on arrays, against Python's own formatting."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk.formats import digits
from layoutdesk.formats.digits import Chosen, Decimal, Hex, Records, Whole


def texts(column, values):
    """Each value as its column writes it."""
    encoded = b"".join(
        bytes(p) for p in Records(["v", b"\n"], {"v": column}).encoded({"v": values})
    )
    return encoded.decode().split("\n")[:-1]


@pytest.mark.parametrize(
    "values",
    [
        [99_999.99994, 99_999.99996, 100_000.0],
        [9.9999, 9.99996, 0.5, 0.00004, 0.00006],
        [-1.5, -99.99996, -100.0, -0.2],
        [-6_123_456.7891, 6_123_456.7891, 0.0, 1e9],
    ],
    ids=["digit count", "below ten", "negative", "mixed signs"],
)
@pytest.mark.parametrize("decimals", [1, 4, 6])
def test_a_number_is_written_as_python_writes_it(values, decimals):
    assert texts(Decimal(decimals), values) == [f"{v:.{decimals}f}" for v in values]


def test_what_rounds_to_zero_has_no_minus_sign():
    assert texts(Decimal(4), [-0.0, -0.00004, -0.00005001, 0.0]) == [
        "0.0000",
        "0.0000",
        "-0.0001",
        "0.0000",
    ]


@given(
    st.lists(st.floats(-2e8, 2e8) | st.floats(-2, 2), min_size=1, max_size=40),
    st.integers(0, 6),
)
def test_any_number_keeps_its_value_to_one_unit_of_the_last_decimal(values, decimals):
    written = texts(Decimal(decimals), values)
    for value, text in zip(values, written, strict=True):
        by_python = f"{value:.{decimals}f}"
        assert abs(int(text.replace(".", "")) - int(by_python.replace(".", ""))) <= 1
        assert len(text.partition(".")[2]) == decimals
        bare = text.lstrip("-").partition(".")[0]
        assert bare == "0" or not bare.startswith("0")


@given(st.lists(st.integers(0, 10**12), min_size=1, max_size=40), st.integers(1, 5))
def test_whole_numbers_have_leading_zeros_up_to_their_least_width_and_no_further(values, least):
    assert texts(Whole(least), values) == [f"{v:0{least}d}" for v in values]
    assert texts(Hex(), values) == [f"{v:X}" for v in values]


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e12])
def test_a_number_that_has_no_exact_text_is_refused(value):
    with pytest.raises(ValueError, match="cannot be written"):
        texts(Decimal(4), [1.0, value])


@pytest.mark.parametrize("column", [Whole(), Hex()])
def test_a_column_of_whole_numbers_refuses_a_negative_one(column):
    with pytest.raises(ValueError, match="-3 is below 0"):
        texts(column, [5, -3])


def test_texts_of_any_length_are_picked_by_number():
    names = ["é", "long name", "", "B"]
    column = Chosen([n.encode() for n in names])
    pick = [0, 1, 1, 3, 2, 0]
    assert texts(column, pick) == [names[i] for i in pick]
    assert texts(column, [2, 2]) == ["", ""]


@pytest.mark.parametrize("run", [1, 7, 5000])
def test_widths_may_change_anywhere_from_record_to_record_and_from_matrix_to_matrix(run):
    # 1 takes the way byte by byte, 5000 the way piece by piece; both over several matrices.
    count = 60_000
    index = np.arange(count) // run % 12_000
    number = np.where(index % 3 == 0, -1, 1) * index * 0.37
    names = ["A", "BB", "CCC"]
    records = Records(
        [b"<", "i", b"|", "x", b"|", "i", b"|", "name", b">\n"],
        {"i": Whole(2), "x": Decimal(2), "name": Chosen([n.encode() for n in names])},
    )
    values = {"i": index, "x": number, "name": index % 3}
    pieces = [bytes(p) for p in records.encoded(values)]
    assert len(pieces) > 1
    expected = "".join(
        f"<{i:02d}|{x + 0.0:.2f}|{i:02d}|{names[i % 3]}>\n"
        for i, x in zip(index.tolist(), np.round(number, 2).tolist(), strict=True)
    )
    assert b"".join(pieces).decode() == expected


def test_a_matrix_stays_small_however_many_records_there_are():
    records = Records([b"x" * 500, "i"], {"i": Whole(7)})
    sizes = [len(p) for p in records.encoded({"i": np.arange(20_000)})]
    assert sum(sizes) == 20_000 * 507
    assert max(sizes) <= 1.1 * digits._TABLE_BYTES


def test_no_records_are_no_bytes():
    assert list(Records([b"x", "i"], {"i": Whole()}).encoded({"i": []})) == []


def test_a_zero_byte_in_a_text_is_refused_as_it_would_be_dropped():
    with pytest.raises(ValueError, match="zero byte"):
        Chosen([b"a\0b"])
    with pytest.raises(ValueError, match="zero byte"):
        Records([b"\0"], {})
