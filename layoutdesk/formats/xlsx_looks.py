"""How workbooks look: colours and formats of cells, the same in all of them."""

from __future__ import annotations

INK, SOFT, HAIR, BETTER, PAPER = "#22302B", "#68726B", "#DAD2C0", "#2F6B52", "#FAF6EC"


class Looks:
    """Formats of cells, made once each."""

    def __init__(self, book):
        self._book, self._known = book, {}

    def __call__(self, **how):
        key = tuple(sorted(how.items()))
        if key not in self._known:
            self._known[key] = self._book.add_format({"font_color": INK, **how})
        return self._known[key]

    @property
    def head(self):
        return self(bold=True, bottom=1, bottom_color=SOFT, text_wrap=True, valign="bottom")

    @property
    def head_of_number(self):
        return self(
            bold=True, bottom=1, bottom_color=SOFT, text_wrap=True, valign="bottom", align="right"
        )

    @property
    def group(self):
        return self(bold=True, bg_color=PAPER, bottom=1, bottom_color=HAIR)

    @property
    def title(self):
        return self(bold=True, font_size=15)

    @property
    def soft(self):
        return self(font_color=SOFT)

    @staticmethod
    def digits(decimals: int) -> str:
        return "#,##0" + (f".{'0' * decimals}" if decimals else "")

    def number(self, decimals: int, signed: bool = False, best: bool = False):
        digits = self.digits(decimals)
        how = {"num_format": f"+{digits};-{digits};0" if signed else digits, "align": "right"}
        if best:
            how |= {"bold": True, "font_color": BETTER}
        return self(**how)
