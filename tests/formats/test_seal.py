"""The seal of a handed-off file: found again, whatever stands around it, and broken by any change before it."""

from __future__ import annotations

import hashlib
import xml.etree.ElementTree as ET
import zipfile

import pytest

from layoutdesk.formats.seal import (
    SEAL_MEMBER,
    Seal,
    SealedFile,
    read_seal,
    seal_archive,
    seal_in_text,
)

SEAL = Seal(
    'Öst--Hang; "3" | <B&C> 100 %',
    "0123456789",
    "p0123456789",
    "2026-11-28",
    'PROJCRS["own, made -- by hand",BASEGEOGCRS["x"]]',
    "ground",
    "US survey foot",
    1200 / 3937,
    (1.0000412345678901, -1e-17, 12345.678901234567, 0.1, 1 / 3, -6180001.25),
    (0.125, 1e-6, 0.0, 5.0, 6.0),
    "abcd1234",
)


def sealed(path, before: bytes, lead: bytes = b"# ", behind: bytes = b"\n"):
    with SealedFile(path) as file:
        file.write(before)
        file.write(lead)
        file.write(file.seal_text(SEAL).encode())
        file.write(behind)
    return path


def test_everything_said_comes_back_to_the_last_bit(tmp_path):
    found = read_seal(sealed(tmp_path / "a.csv", b"1,2,3\n"))
    assert found.seal == SEAL
    assert found.is_whole


def test_the_checksum_is_the_sha256_of_all_bytes_before_the_seal(tmp_path):
    path = sealed(tmp_path / "a.csv", b"x" * 300_000 + b"\n")
    data = path.read_bytes()
    at = data.index(b"Layout-Desk-seal|")
    assert read_seal(path).checksum == hashlib.sha256(data[:at]).hexdigest()


@pytest.mark.parametrize("at", [0, 150_000, 299_999])
def test_one_changed_byte_breaks_it(tmp_path, at):
    path = sealed(tmp_path / "a.csv", b"x" * 300_000)
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)
    assert read_seal(path).is_whole is False
    path.write_bytes(b"inserted" + bytes(data))
    assert read_seal(path).is_whole is False


def test_it_stands_in_a_comment_of_xml_and_in_a_text_of_json(tmp_path):
    import json

    path = sealed(tmp_path / "a.xml", b"<root/>\n", b"<!-- ", b" -->\n")
    assert ET.parse(path).getroot().tag == "root"
    assert read_seal(path).seal == SEAL
    path = sealed(tmp_path / "a.json", b'{"a": [1],\n', b'"seal": "', b'"}\n')
    assert seal_in_text(json.loads(path.read_text())["seal"]).seal == SEAL
    assert read_seal(path).is_whole


def test_pieces_of_any_size_make_one_checksum(tmp_path):
    whole = bytes(range(256)) * 4000
    with SealedFile(tmp_path / "a") as file:
        at = 0
        for size in (1, 5000, 3, 70_000, 4096, 1, 900_000, 100_000_000):
            file.write(memoryview(whole[at : at + size]))
            at += size
        text = file.seal_text(SEAL)
        file.write(text.encode())
    assert text.endswith(hashlib.sha256(whole).hexdigest())
    assert read_seal(tmp_path / "a").is_whole


def test_an_archive_is_sealed_over_its_members(tmp_path):
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("b.txt", "second")
        archive.writestr("a.txt", "first" * 100_000)
    seal_archive(path, SEAL, "For people.")
    assert read_seal(path).seal == SEAL
    assert read_seal(path).is_whole
    with zipfile.ZipFile(path) as archive:
        said = archive.read(SEAL_MEMBER).decode()
    assert said.startswith("For people.\n")
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("c.txt", "slipped in")
    assert read_seal(path).is_whole is False


def test_a_file_without_a_seal_or_with_a_torn_one_has_none(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(b"point,northing\n1,2\n")
    assert read_seal(path) is None
    path.write_bytes(b"# Layout-Desk-seal|project=x|revision=y")
    assert read_seal(path) is None
    path.write_bytes(b"# Layout-Desk-seal|project=x|sha256=" + b"0" * 64)
    assert read_seal(path) is None
    path.write_bytes(b"PK\x03\x04 no archive")
    assert read_seal(path) is None
    assert read_seal(tmp_path / "gone") is None
