"""The pages of the planting stage: their words, lists and ways to colour the plan."""

from __future__ import annotations

from .lines_table import Column
from .paged_cards import Page, TablePart

PAGES: tuple[Page, ...] = (
    Page(
        "lots",
        "Lots",
        "Deliveries, and what their tags say",
        "Lots: what was ordered and what came",
        "Lots and what is needed",
        "lot",
        (("lot", ""),),
        (
            ("lot", "New lot…"),
            ("lots-read", "Read lots…"),
            ("tag", "Record a tag…"),
            ("tags-read", "Read tags…"),
            ("tags-done", "All tags recorded"),
            ("lot-remove", "Remove the lot"),
        ),
        (
            TablePart(
                "lots",
                "Lots",
                (
                    Column("name", "Lot", "Its name"),
                    Column("plant", "Plant", "Variety, clone and rootstock", 1),
                    Column("usable", "There", "Delivered and not rejected", 0, True),
                    Column("vines", "For vines", "Vines it is assigned to", 0, True),
                    Column("left", "Left", "Plants that are left, or missing", 0, True),
                    Column("tags", "Tags", "What the tag ledger has of it", 2),
                ),
                widest_px=150,
            ),
            TablePart(
                "needs",
                "What is needed",
                (
                    Column("plant", "Plant", "Variety, clone and rootstock"),
                    Column("wanted", "Wanted", "Vines and spares", 0, True),
                    Column("usable", "There", "Came and can be planted", 1, True),
                    Column("on_order", "Ordered", "On order, not come", 2, True),
                    Column("short", "Short", "Neither there nor ordered", 0, True),
                    Column("surplus", "Over", "More than is wanted", 3, True),
                    Column("order_by", "Order by", "Last day to order, by the planting day", 4),
                ),
                widest_px=150,
            ),
            TablePart(
                "tags",
                "Tags of the lot in hand",
                (
                    Column("text", "As read", "What stands on the tag"),
                    Column("plants", "Plants", "How many carried it", 0, True),
                    Column("recorded", "Recorded", "When, and by whom", 1),
                ),
                widest_px=190,
            ),
        ),
    ),
    Page(
        "plants",
        "Plants",
        "Which plant and lot stands where",
        "Which plant stands where",
        "Assignments",
        "plant",
        (("setting", "How vines are set"),),
        (
            ("assign", "Assign a plant…"),
            ("fill", "Fill from a vine…"),
            ("swap", "Swap a lot…"),
            ("unassign", "Take it back"),
        ),
        (
            TablePart(
                "assignments",
                "In the order they were made; later ones go before earlier ones",
                (
                    Column("parts", "Where", "Blocks, rows and vines"),
                    Column("what", "What", "Lot or plant"),
                    Column("use", "For", "Crop, buffer, pollinator or trial", 2),
                    Column("vines", "Vines", "Vines it holds at", 0, True),
                ),
                rows_at_most=12,
                widest_px=170,
            ),
        ),
    ),
    Page(
        "days",
        "Days",
        "Which rows are planted on which day",
        "The crew and its days",
        "Days of planting",
        "day",
        (("crew", ""),),
        (("missed", "The day was missed"), ("day-cards", "Day cards…"), ("calendar", "Calendar…")),
        (
            TablePart(
                "days",
                "Day by day",
                (
                    Column("day", "Day", ""),
                    Column("rows", "Rows", "Rows that are planted"),
                    Column("lots", "Lots", "Lots that are wanted that morning", 3),
                    Column("vines", "Vines", "", 0, True),
                    Column("hours", "Hours", "How long the crew works", 1, True),
                    Column("sets", "Wet", "Sets that are run the day before", 2),
                ),
                rows_at_most=14,
                widest_px=120,
            ),
        ),
    ),
    Page(
        "checks",
        "Checks",
        "How many vines are inspected, which, and what was found",
        "Inspection while planting",
        "Inspection",
        "sample",
        (("inspecting", ""),),
        (
            ("sheets", "Inspection sheets…"),
            ("form", "Form to fill in…"),
            ("forms-read", "Read filled forms…"),
            ("checked", "Record a check…"),
            ("reworked", "Put right…"),
        ),
        (
            TablePart(
                "checked_lots",
                "By lot",
                (
                    Column("name", "Lot", ""),
                    Column("size", "Looked at", "", 0, True),
                    Column("faulty", "Faulty", "", 0, True),
                    Column("share", "Share", "Faulty, of those looked at", 0, True),
                    Column("bounds", "Bounds", "Clopper–Pearson, 95 %", 1, True),
                    Column("verdict", "", "Whether it is accepted", 2),
                ),
            ),
            TablePart(
                "checked_rows",
                "By row",
                (
                    Column("name", "Row", ""),
                    Column("size", "Looked at", "", 0, True),
                    Column("faulty", "Faulty", "", 0, True),
                    Column("share", "Share", "Faulty, of those looked at", 0, True),
                    Column("bounds", "Bounds", "Clopper–Pearson, 95 %", 1, True),
                ),
            ),
            TablePart(
                "rework",
                "Rows to go over again",
                (Column("row", "Row", ""), Column("why", "Why", "")),
                widest_px=260,
            ),
        ),
    ),
    Page(
        "record",
        "Record",
        "What stands at every vine position, for good",
        "On record",
        "What stands",
        "state",
        (),
        (
            ("planted", "Planted…"),
            ("dead", "Dead…"),
            ("missing", "Missing…"),
            ("replanted", "Planted again…"),
            ("alive", "Seen alive…"),
            ("mistake", "A mistake…"),
            ("forms-read", "Read filled forms…"),
        ),
        (
            TablePart(
                "stand_lots",
                "By lot",
                (
                    Column("name", "Lot", ""),
                    Column("size", "Planted", "", 0, True),
                    Column("faulty", "Lost", "Missing or dead", 0, True),
                    Column("share", "Share", "", 0, True),
                    Column("bounds", "Bounds", "Clopper–Pearson, 95 %", 1, True),
                ),
            ),
            TablePart(
                "stand_rows",
                "Rows with losses",
                (
                    Column("name", "Row", ""),
                    Column("size", "Planted", "", 0, True),
                    Column("faulty", "Lost", "", 0, True),
                    Column("share", "Share", "", 0, True),
                    Column("bounds", "Bounds", "", 1, True),
                ),
            ),
            TablePart(
                "causes",
                "Causes",
                (
                    Column("name", "Cause", ""),
                    Column("count", "Lost", "", 0, True),
                    Column("share", "Share", "Of all plants that were set", 0, True),
                    Column("bounds", "Bounds", "Clopper–Pearson, 95 %", 1, True),
                ),
                widest_px=220,
            ),
            TablePart(
                "replant",
                "To plant again",
                (
                    Column("lot", "Lot", ""),
                    Column("plant", "Plant", "", 1),
                    Column("vines", "Vines", "", 0, True),
                    Column("order", "Order", "With spares", 0, True),
                ),
                widest_px=160,
            ),
        ),
    ),
    Page(
        "years",
        "Years",
        "The first years: what is to be done when, and the crop to expect",
        "The first years",
        "What is to be done when",
        "state",
        (("years", ""),),
        (("years-xlsx", "Workbook…"), ("calendar", "Calendar…"), ("title", "Title block…")),
        (
            TablePart(
                "duties",
                "Calendar",
                (
                    Column("when", "When", ""),
                    Column("what", "What", ""),
                    Column("hours", "Hours", "Person-hours for all vines", 1, True),
                ),
                rows_at_most=14,
                widest_px=210,
            ),
            TablePart(
                "labour",
                "Labour",
                (
                    Column("year", "Year", "Growing year from planting", 0, True),
                    Column("what", "What", ""),
                    Column("hours", "Hours", "Person-hours for all vines", 0, True),
                ),
                widest_px=210,
            ),
            TablePart(
                "crops",
                "Crop to expect",
                (
                    Column("when", "Harvest", ""),
                    Column("leaf", "Leaf", "Season of leaves", 1),
                    Column("share", "Share", "Of a mature crop", 0, True),
                    Column("crop", "Crop", "", 0, True),
                    Column("counted", "", "How people count to it", 2),
                ),
            ),
        ),
    ),
)
PAGE = {page.name: page for page in PAGES}
