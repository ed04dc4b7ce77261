"""Recordings at a place of their own: a folder, an S3 bucket; found by what they hold, and never half there."""

import hashlib

import pytest
from library_cases import analyse, session
from moto.server import ThreadedMotoServer
from recorded import record

from groundtone.errors import AwayError, LibraryError
from groundtone.record.academy.keeping import remove_strays, send, wrong_at_place
from groundtone.record.academy.places import Place
from groundtone.record.academy.where import Where
from groundtone.record.channels import Channel
from groundtone.record.contents import check, rebuild, take_down
from groundtone.record.library import Library
from groundtone.record.recorder import append
from groundtone.review import golfers


@pytest.fixture(scope="module")
def s3():
    server = ThreadedMotoServer("127.0.0.1", 0)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture(params=["folder", "bucket"])
def place(request, tmp_path, monkeypatch):
    """The address of an empty place, and how it is made to vanish."""
    if request.param == "folder":
        (tmp_path / "share").mkdir()
        yield str(tmp_path / "share"), lambda: (tmp_path / "share").rename(tmp_path / "away")
        return
    import boto3
    import s3fs

    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.setenv(name, "x")
    monkeypatch.setenv("AWS_DEFAULT_REGION", "us-east-1")
    monkeypatch.setenv("AWS_ENDPOINT_URL", request.getfixturevalue("s3"))
    s3fs.S3FileSystem.clear_instance_cache()
    bucket = boto3.resource("s3").Bucket(f"films-{hashlib.sha256(str(tmp_path).encode()).hexdigest()[:12]}")
    bucket.create()

    def vanish():
        bucket.objects.delete()
        bucket.delete()

    yield f"s3://{bucket.name}/swings", vanish


def test_a_recording_goes_there_and_comes_back_whole(place, tmp_path):
    url, _ = place
    record(tmp_path / "a.mcap", 30)
    digest = hashlib.sha256((tmp_path / "a.mcap").read_bytes()).hexdigest()
    there = Place(url)
    assert (there.all(), there.has(digest)) == (set(), False)
    there.put(tmp_path / "a.mcap", digest)
    there.put(tmp_path / "a.mcap", digest)
    assert there.all() == {digest}
    assert there.whole(digest)
    there.fetch(digest, tmp_path / "b" / "a.mcap")
    assert (tmp_path / "b" / "a.mcap").read_bytes() == (tmp_path / "a.mcap").read_bytes()
    there.remove([digest, "0" * 64])
    assert there.all() == set()
    with pytest.raises(LibraryError, match=r"c\.mcap is neither here nor at .*: see 'groundtone library check'"):
        there.fetch(digest, tmp_path / "c.mcap")


def test_what_is_missing_on_either_side_is_found_and_mended(place, tmp_path):
    url, _ = place
    with Library(tmp_path / "home", at=Where("", "", url)) as library:
        one, two = session(library, "a.mcap", "Ann"), session(library, "b.mcap", "Bob")
        assert wrong_at_place(library) == [
            f"recordings/{name}.mcap is not at {url}: 'groundtone library send' brings it." for name in "ab"
        ]
        assert [(path.name, what) for path, what in send(library)] == [("a.mcap", "sent"), ("b.mcap", "sent")]
        assert wrong_at_place(library) == check(library) == []
        assert [what for _, what in send(library, free=True)] == ["freed", "freed"]
        assert not one.exists()
        # What lies there alone is whole, and comes when it is wanted.
        assert wrong_at_place(library) == check(library) == []
        (row,) = library.recordings_of("Bob")
        assert library.here(row).exists()
        assert list(rebuild(library, analyse)) == [(two, "")]
        assert len(library.golfers()) == 2
        damaged = library.place._path(row.sha256)
        with library.place._files.open(damaged, "wb") as file:
            file.write(b"rubbish")
        two.unlink()
        assert wrong_at_place(library) == [f"recordings/b.mcap at {url} is damaged: send it anew from ."]
        with pytest.raises(LibraryError, match=r"b\.mcap at .* is damaged"):
            library.here(row)
        stray = tmp_path / "stray"
        stray.write_bytes(b"stray")
        library.place.put(stray, digest := hashlib.sha256(b"stray").hexdigest())
        assert wrong_at_place(library)[-1].startswith(f"{digest[:12]}… at {url} is in no library")
        assert remove_strays(library) == 1
        assert golfers.erase(library, "Ann") == 0
        assert library.place.all() == {row.sha256}


def test_a_changed_recording_takes_its_own_place(place, tmp_path):
    url, _ = place
    with Library(tmp_path / "home", at=Where("", "", url)) as library:
        path = session(library, "a.mcap", "Ann")
        list(send(library))
        append(path, [(Channel.NOTE, {"text": "x"})])
        take_down(library, path)
        assert library.place.all() == {hashlib.sha256(path.read_bytes()).hexdigest()}
        assert wrong_at_place(library) == check(library) == []


def test_a_place_that_vanishes_costs_nothing_here(place, tmp_path):
    url, vanish = place
    with Library(tmp_path / "home", at=Where("", "", url)) as library:
        path = session(library, "a.mcap", "Ann")
        vanish()
        # A share that is not mounted is not made anew as an empty folder, nor a bucket.
        with pytest.raises(AwayError, match=r"the recordings at .* cannot be reached"):
            list(send(library, free=True))
        assert path.exists()
        assert check(library) == []


def test_a_place_that_is_none_is_said():
    with pytest.raises(LibraryError, match="is no place for recordings"):
        Place("nothing://x")
