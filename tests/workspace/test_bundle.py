"""Evidence bundles: whole and unchanged or refused, hostile files included, origin always visible."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from clampwright.bench.pretend import demo_readings
from clampwright.errors import InputError
from clampwright.workspace import bundle
from clampwright.workspace.bundle import import_bundle, read_bundle, write_bundle
from clampwright.workspace.database import Store, open_store
from clampwright.workspace.exchange import import_csv
from clampwright.workspace.store import (
    Correction,
    Session,
    correct,
    corrections,
    mark,
    marks,
    readings_of,
    session_named,
    sessions,
    snapshots,
)

SHEET = 'id = "{}"\nscale = "1 mV/nA"\ntolerance = "1 %"\nresolution = "1 µV" # as bought\n'
SHEETS = {name: SHEET.format(name) for name in ("A1", "A2", "A9")}
OWNER = "Laboratory of Nobody"


def filled(store: Store) -> Session:
    """A session with a correction and a mark."""
    session = import_csv(
        store,
        demo_readings("orchard").encode(),
        "orchard.csv",
        session="orchard",
        who="a person",
        conditions="dark box",
        sheets=SHEETS,
    )
    correct(store, session, Correction(1, 9, "note", "invented; seen twice", "for the test", "me"))
    mark(store, session, "touch", "the lid was opened")
    return session


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of a bundle."""
    with open_store(tmp_path_factory.mktemp("ours")) as store:
        return write_bundle(store, filled(store), origin=OWNER, sheets={})


@pytest.fixture
def theirs(tmp_path: Path) -> Iterator[Store]:
    """The database of somebody else."""
    with open_store(tmp_path) as store:
        yield store


def sealed(files: Mapping[str, bytes] | list[tuple[str, bytes]], method: int = 8) -> bytes:
    """A bundle that somebody clever made, with a hash that fits."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in files.items() if isinstance(files, Mapping) else files:
            archive.writestr(zipfile.ZipInfo(name), data, method)
        archive.comment = b"sha256:" + b"0" * 64
    body = out.getvalue()[:-71]
    return body + b"sha256:" + hashlib.sha256(body).hexdigest().encode()


def files_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_what_goes_in_comes_out(store: Store, made: bytes) -> None:
    content = read_bundle(made, "evidence.zip")
    session = import_bundle(store, content)
    assert (session.name, session.who, session.conditions) == ("orchard", "a person", "dark box")
    assert session.origin == OWNER and session.source_hash == content.manifest.content_hash
    raw = readings_of(store, session, corrected=False)
    assert set(raw.state.names) >= {"reading", "zero open", "zero fixture"}
    assert {raw.note[k] for k in range(9)} == {"invented"}
    assert readings_of(store, session).note[0] == "invented; seen twice"
    assert [c.why for c in corrections(store, session)] == ["for the test"]
    assert [m.words for m in marks(store, session)] == ["the lid was opened"]
    assert {s.instrument: s.sheet for s in snapshots(store, session)} == {
        name: SHEETS[name] for name in raw.instrument.names
    }, "as written, comments too, and only the instruments that were used"


def test_anybody_can_open_it_with_common_tools(made: bytes) -> None:
    files = files_of(made)
    manifest = json.loads(files["manifest.json"])
    for name, told in manifest["files"].items():
        assert hashlib.sha256(files[name]).hexdigest() == told
    assert set(manifest["files"]) | {"manifest.json"} == set(files)
    keys = ("conditions", "origin", "session", "started", "who")
    told = json.dumps({key: manifest[key] for key in keys})
    hashes = {**manifest["files"], "session": hashlib.sha256(told.encode()).hexdigest()}
    lines = "".join(f"{name} {hashes[name]}\n" for name in sorted(hashes))
    assert hashlib.sha256(lines.encode()).hexdigest() == manifest["content_hash"]
    assert made[-71:] == b"sha256:" + hashlib.sha256(made[:-71]).hexdigest().encode()


@given(some.data())
@settings(max_examples=150, deadline=None)
def test_one_changed_bit_anywhere_is_refused(made: bytes, data: some.DataObject) -> None:
    at = data.draw(some.integers(0, len(made) - 1), label="byte")
    bit = data.draw(some.integers(0, 7), label="bit")
    changed = bytearray(made)
    changed[at] ^= 1 << bit
    with pytest.raises(InputError, match=r"evidence\.zip: .*(changed|not an evidence bundle)"):
        read_bundle(bytes(changed), "evidence.zip")


@given(some.data())
@settings(max_examples=60, deadline=None)
def test_cut_short_and_lengthened_is_refused(made: bytes, data: some.DataObject) -> None:
    cut = data.draw(some.integers(0, len(made) - 1))
    more = data.draw(some.binary(min_size=1, max_size=100))
    for wrong in (made[:cut], made[cut + 1 :], made + more, more + made):
        with pytest.raises(InputError, match=r"evidence\.zip"):
            read_bundle(wrong, "evidence.zip")


@given(some.binary(max_size=300))
@settings(max_examples=100, deadline=None)
def test_nonsense_with_a_fitting_hash_is_refused_in_one_sentence(body: bytes) -> None:
    body = b"PK\x03\x04" + body
    whole = body + b"sha256:" + hashlib.sha256(body).hexdigest().encode()
    with pytest.raises(InputError, match=r"^evidence\.zip: [^\n]*\.$"):
        read_bundle(whole, "evidence.zip")


@pytest.mark.parametrize(
    "name",
    [
        "../../etc/cron.d/x",
        "/etc/passwd",
        "instruments/../../x.toml",
        "instruments/0.toml",
        "instruments/100.toml",
        "C:\\x",
        "readings.csv/",
        "extra.txt",
    ],
)
def test_files_that_have_no_place_are_refused(made: bytes, name: str) -> None:
    with pytest.raises(InputError, match="has no place in it"):
        read_bundle(sealed({**files_of(made), name: b"x"}), "evidence.zip")


def test_a_name_given_twice_is_refused(made: bytes) -> None:
    files = list(files_of(made).items())
    with pytest.warns(UserWarning, match="Duplicate name"):
        twice = sealed([*files, ("readings.csv", b"part,wiring\n")])
    with pytest.raises(InputError, match="different files"):
        read_bundle(twice, "evidence.zip")


def test_a_file_that_unpacks_to_gigabytes_is_not_unpacked(
    made: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """200 MB of zeros pack into 200 kB."""
    inflated = sealed({**files_of(made), "readings.csv": b"\0" * (bundle.LARGEST_CONTENT + 1)})
    assert len(inflated) < 1_000_000

    def never(*_: object) -> bytes:
        raise AssertionError("it was unpacked")

    monkeypatch.setattr(zipfile.ZipFile, "read", never)
    with pytest.raises(InputError, match="bytes in all"):
        read_bundle(inflated, "evidence.zip")


def test_a_size_that_lies_is_refused(made: bytes) -> None:
    """The directory says 10 bytes, the packed data hold more: the archive reader stops and complains."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files_of(made).items():
            archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
        archive.getinfo("readings.csv").file_size = 10
        archive.comment = b"sha256:" + b"0" * 64
    body = out.getvalue()[:-71]
    with pytest.raises(InputError, match=r"evidence\.zip"):
        read_bundle(body + b"sha256:" + hashlib.sha256(body).hexdigest().encode(), "evidence.zip")


def test_a_bundle_too_large_is_refused_before_anything(
    made: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bundle, "LARGEST_BUNDLE", len(made) - 1)
    with pytest.raises(InputError, match="too large"):
        read_bundle(made, "evidence.zip")


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("readings.csv", b"zero open", b"zero opem", "not what it says"),
        ("manifest.json", b"Nobody", b"Somebody", "not what it says"),
        ("manifest.json", b'"version": 1', b'"version": 2', "not as it should be"),
        ("manifest.json", b'"who"', b'"whom"', "not as it should be"),
        ("manifest.json", b"{", b"[", "not as it should be"),
    ],
)
def test_content_that_contradicts_the_manifest(
    made: bytes, file: str, old: bytes, new: bytes, told: str
) -> None:
    files = files_of(made)
    assert old in files[file]
    files[file] = files[file].replace(old, new, 1)
    with pytest.raises(InputError, match=told):
        read_bundle(sealed(files), "evidence.zip")


@pytest.mark.parametrize(
    ("file", "content", "told"),
    [
        ("readings.csv", b"part,wiring\nx,y\n", "readings.csv, header: column"),
        ("corrections.json", b'[{"first": 1}]', "not as it should be"),
        (
            "corrections.json",
            b'[{"first":1,"last":1,"field":"reading","value":"1 V","why":"w","who":"x"}]',
            "cannot be corrected",
        ),
        (
            "corrections.json",
            b'[{"first":1,"last":99999,"field":"part","value":"p","why":"w","who":"x"}]',
            "readings that are not there",
        ),
        ("marks.json", b'[{"after":1,"time":"","kind":"lunch","words":""}]', "no kind of mark"),
        ("marks.json", b"[" * 100_000, "evidence.zip"),
        ("instruments/1.toml", b"id = ", "not as it should be"),
        ("instruments/1.toml", b'id = "Z"', "evidence.zip, instruments/1.toml"),
        ("instruments/1.toml", SHEET.format("Z").encode(), 'does not describe "A'),
    ],
)
def test_wrong_content_with_fitting_hashes(
    made: bytes, file: str, content: bytes, told: str
) -> None:
    files = {**files_of(made), file: content}
    manifest = bundle.Manifest.model_validate_json(files.pop("manifest.json"))
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    manifest = manifest.model_copy(update={"files": hashes})
    manifest = manifest.model_copy(update={"content_hash": manifest.computed_hash()})
    with pytest.raises(InputError, match=told):
        read_bundle(
            sealed({"manifest.json": manifest.model_dump_json().encode(), **files}), "evidence.zip"
        )


def test_the_same_evidence_is_kept_once(theirs: Store, made: bytes) -> None:
    content = read_bundle(made, "evidence.zip")
    import_bundle(theirs, content)
    with pytest.raises(InputError, match='there is a session "orchard" already'):
        import_bundle(theirs, content)
    with pytest.raises(InputError, match='there already as session "orchard"'):
        import_bundle(theirs, content, "again")
    assert [s.name for s in sessions(theirs)] == ["orchard"]


def test_passed_on_evidence_keeps_its_origin_and_instruments(theirs: Store, made: bytes) -> None:
    session = import_bundle(theirs, read_bundle(made, "evidence.zip"), "from outside")
    other = {name: text.replace("1 mV/nA", "7 mV/nA") for name, text in SHEETS.items()}
    again = read_bundle(
        write_bundle(theirs, session, origin="Somebody Else", sheets=other), "again.zip"
    )
    assert again.manifest.origin == OWNER
    assert all("1 mV/nA" in sheet for sheet in again.sheets.values())
    first = readings_of(theirs, session_named(theirs, "from outside"), corrected=False)
    np.testing.assert_array_equal(first.reading, again.readings.reading)


def test_a_bundle_must_say_whose_it_is_and_describe_its_instruments(theirs: Store) -> None:
    session = filled(theirs)
    with pytest.raises(InputError, match="must say whose evidence it is"):
        write_bundle(theirs, session, origin=" ", sheets={})
    data = demo_readings("press").encode()
    bare = import_csv(theirs, data, "press.csv", session="press")
    with pytest.raises(InputError, match='instrument "A1" that is described nowhere'):
        write_bundle(theirs, bare, origin=OWNER, sheets={})
