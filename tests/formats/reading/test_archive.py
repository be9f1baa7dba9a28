"""Shapefiles as they arrive: folders, zips, missing parts, hostile archives."""

import zipfile

import pytest

from layoutdesk.core.model.findings import InputProblem
from layoutdesk.formats.reading import read_outlines
from tests.formats.reading.files import UTM, box, codes, kml, kml_polygon, layer, square, text


@pytest.fixture
def shapefile(tmp_path):
    folder = tmp_path / "My Site"
    folder.mkdir()
    return layer(folder / "Block A.shp", [box()])


def zipped(path, files, rename=lambda name: name):
    with zipfile.ZipFile(path, "w") as archive:
        for file in files:
            archive.write(file, rename(file.name))
    return path


def test_a_shapefile_its_folder_and_its_zip_are_the_same_and_silent(tmp_path, shapefile):
    archive = zipped(tmp_path / "a.zip", shapefile.parent.iterdir(), lambda n: f"In Here/{n}")
    for path in (shapefile, shapefile.parent, archive):
        found = read_outlines(path)
        assert found.shapes[0].geometry.equals(box())
        assert found.shapes[0].geometry.exterior.is_ccw  # the format's own way is clockwise
        assert found.shapes[0].name == "Lower"
        assert found.crs.to_epsg() == 32734
        assert found.findings == ()


def test_upper_case_nested_and_without_index(tmp_path, shapefile, capfd):
    parts = [p for p in shapefile.parent.iterdir() if p.suffix != ".shx"]
    archive = zipped(tmp_path / "A.ZIP", parts, lambda n: f"Deep/er in/{n.upper()}")
    with zipfile.ZipFile(archive, "a") as more:
        more.writestr("__MACOSX/Deep/._BLOCK A.SHP", b"litter")
    assert read_outlines(archive).shapes[0].geometry.equals(box())
    assert capfd.readouterr().err == ""


def test_a_missing_index_is_not_written_beside_the_users_file(shapefile):
    shapefile.with_suffix(".shx").unlink()
    before = sorted(p.name for p in shapefile.parent.iterdir())
    assert read_outlines(shapefile).shapes[0].geometry.equals(box())
    assert sorted(p.name for p in shapefile.parent.iterdir()) == before


def test_without_a_prj_the_system_is_asked_for_with_the_size(shapefile):
    shapefile.with_suffix(".prj").unlink()
    with pytest.raises(InputProblem, match=r"metres it would be 9\.00 ha, as feet 0\.84 ha"):
        read_outlines(shapefile)
    found = read_outlines(shapefile, crs=UTM)
    assert codes(found) == ["crs-given"]
    assert found.crs.to_epsg() == 32734


def test_two_shapefiles_in_a_zip_are_both_read_and_said(tmp_path, shapefile):
    layer(shapefile.parent / "B.shp", [box(301_000)])
    found = read_outlines(zipped(tmp_path / "a.zip", sorted(shapefile.parent.iterdir())))
    assert len(found.shapes) == 2
    assert codes(found) == ["layers-read"]


def test_member_paths_cannot_leave_the_temporary_directory(tmp_path, shapefile):
    place = tmp_path / "deep" / "down"
    place.mkdir(parents=True)
    archive = zipped(
        place / "a.zip", shapefile.parent.iterdir(), lambda n: "../../../../../slipped" + n[-4:]
    )
    before = sorted(tmp_path.rglob("*"))
    assert read_outlines(archive).shapes[0].geometry.equals(box())
    assert sorted(tmp_path.rglob("*")) == before
    assert not list(tmp_path.parent.glob("slipped*"))


def test_a_kmz_gives_its_main_document(tmp_path):
    body = f"<Placemark><name>Block A</name>{kml_polygon(square())}</Placemark>"
    with zipfile.ZipFile(tmp_path / "a.kmz", "w") as archive:
        archive.writestr("files/other.kml", kml(""))
        archive.writestr("doc.kml", kml(body))
        archive.writestr("files/icon.png", b"\x89PNG")
    found = read_outlines(tmp_path / "a.kmz")
    assert [s.name for s in found.shapes] == ["Block A"]
    assert found.source == "a.kmz"


def test_archives_that_hold_nothing_usable(tmp_path, shapefile):
    good = zipped(tmp_path / "good.zip", shapefile.parent.iterdir())
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("readme.txt", "x")
    empty = tmp_path / "empty"
    empty.mkdir()
    refused = {
        tmp_path / "other.zip": "holds no Shapefile",
        text(tmp_path / "cut.zip", good.read_bytes()[:300]): "damaged",
        text(tmp_path / "words.zip", "hello"): "not a zip archive",
        empty: "folder without a Shapefile",
    }
    for path, expected in refused.items():
        with pytest.raises(InputProblem, match=expected):
            read_outlines(path)
