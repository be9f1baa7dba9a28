from tests.desk.conftest import *
from tests.desk.test_sketch import *
def test_a(desk):
    tool = started(desk)
    click(desk, *east_of(desk))
    for leg in ("100 090", "50 180"):
        QTest.keyClick(desk.canvas, leg[0])
        f = desk.sketch_bar.field
        print("A", f.text(), f.hasFocus(), QApplication.focusWidget(), tool.places)
        QTest.keyClicks(f, leg[1:]); QTest.keyClick(f, Key.Key_Return)
        print("B", f.text(), f.hasFocus(), QApplication.focusWidget(), desk.sketch_bar.refusal.text(), tool.places, desk.canvas.tool)
    desk.actions_by_id["draw-block"].trigger(); tool=desk.canvas.tool
    f.setFocus(); QTest.keyClicks(f, "over there"); QTest.keyClick(f, Key.Key_Return)
    print(desk.sketch_bar.refusal.text())
    f.selectAll(); QTest.keyClicks(f, "E 500200 N 6100050"); print(f.text()); QTest.keyClick(f, Key.Key_Return)
    print(desk.sketch_bar.refusal.text(), tool.places)
