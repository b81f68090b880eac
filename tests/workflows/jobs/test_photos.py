"""Photographs kept by the hash of their bytes: names that never become paths, and bytes that are pictures."""

from __future__ import annotations

import hashlib
import io

import pytest
from PIL import Image

from triage.domain.job.records import Photo
from triage.errors import InputError, LedgerError
from triage.workflows.jobs.photos import keep_photo, photo_bytes


def picture(kind):
    held = io.BytesIO()
    Image.new("RGB", (4, 3), "red").save(held, kind)
    return held.getvalue()


@pytest.mark.parametrize(("kind", "ending"), [("PNG", "png"), ("JPEG", "jpg")])
def test_a_picture_is_kept_once_under_its_hash_and_comes_back_the_same(tmp_path, kind, ending):
    content = picture(kind)
    first, again = keep_photo(tmp_path, content, "back"), keep_photo(tmp_path, content, "back")
    assert first == again and first.path == f"{hashlib.sha256(content).hexdigest()}.{ending}"
    assert photo_bytes(tmp_path, first) == content and len(list(tmp_path.iterdir())) == 1
    (tmp_path / first.path).write_bytes(content[:-1])
    with pytest.raises(LedgerError, match="changed after it was saved"):
        photo_bytes(tmp_path, first)


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7", b"<svg/>", picture("GIF"), picture("PNG")[:20]])
def test_what_is_no_picture_is_refused_and_nothing_is_kept(tmp_path, content):
    with pytest.raises(InputError, match="PNG or JPEG"):
        keep_photo(tmp_path, content)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("path", ["../../etc/passwd", "/etc/passwd", "a.png", ""])
def test_a_path_of_the_record_is_followed_only_where_it_is_a_hash(tmp_path, path):
    with pytest.raises(LedgerError, match="outside the photo folder"):
        photo_bytes(tmp_path, Photo(path, "0" * 64))
