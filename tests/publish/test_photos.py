"""Photos become small copies that carry their pixels and nothing else."""

import io
import struct
import sys
from pathlib import Path

import pytest
from PIL import Image, ImageDraw, ImageFilter
from PIL.PngImagePlugin import PngInfo

from generator.commands.check import unfit
from generator.publish.assets import Album, small_copies

CANARY = "canary-38.7223N-9.1393W"


def tagged(path: Path, size: tuple[int, int] = (1600, 1200), orientation: int = 1) -> None:
    """A photo with a position, a name and a comment in every place a camera or a program writes one."""
    picture = Image.new("RGB", size, "navy")
    ImageDraw.Draw(picture).rectangle((0, 0, size[0] // 4, size[1] // 4), fill="red")
    exif = picture.getexif()
    exif[0x0112] = orientation
    exif[0x010E] = CANARY
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[29] = CANARY
    if path.suffix == ".png":
        words = PngInfo()
        words.add_text("Comment", CANARY)
        picture.save(path, exif=exif, pnginfo=words)
    elif path.suffix == ".webp":
        picture.save(path, exif=exif, xmp=f"<x:xmpmeta>{CANARY}</x:xmpmeta>".encode())
    else:
        picture.save(path, exif=exif, comment=CANARY.encode(), xmp=f"<x>{CANARY}</x>".encode())
    assert CANARY.encode() in path.read_bytes()


def album(tmp_path: Path, *names: str) -> Album:
    return small_copies(tmp_path, names, tmp_path / "cache")


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp"])
def test_nothing_of_a_photos_position_name_or_comment_goes_along(tmp_path: Path, name: str) -> None:
    tagged(tmp_path / name)
    made = album(tmp_path, name)
    assert len(made.files) == 2
    for content in made.files.values():
        assert CANARY.encode() not in content
        assert not [word for word in (b"EXIF", b"Exif", b"XMP ", b"ICCP", b"xap") if word in content]
        assert not Image.open(io.BytesIO(content)).getexif()


def test_copies_are_at_most_480_and_960_pixels_wide_and_keep_the_photos_shape(tmp_path: Path) -> None:
    tagged(tmp_path / "a.jpg")
    copies = album(tmp_path, "a.jpg").pictures["a.jpg"].copies
    assert [(copy.width, copy.height) for copy in copies] == [(480, 360), (960, 720)]


def test_a_photo_taken_upright_stands_upright(tmp_path: Path) -> None:
    # Orientation 6: the camera was turned, and a viewer must turn the picture by 90 degrees clockwise,
    # so that the corner stored top left is seen top right (Exif 2.32, tag 0x0112).
    tagged(tmp_path / "a.jpg", orientation=6)
    made = album(tmp_path, "a.jpg")
    copy = made.pictures["a.jpg"].copies[0]
    assert (copy.width, copy.height) == (480, 640)
    seen = Image.open(io.BytesIO(made.files[copy.address])).convert("RGB")
    red = seen.getpixel((470, 10))
    assert isinstance(red, tuple)
    assert red[0] > 200 > 60 > red[2]


def test_a_photo_whose_file_says_nonsense_of_itself_stands_upright(
    tmp_path: Path, recwarn: pytest.WarningsRecorder
) -> None:
    entries = [(0x0112, 3, 1, 6), (0x0100, 2, 3, 30), (0x8825, 4, 1, 2**31)]  # its width as a text, its place nowhere
    within = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    exif = b"Exif\0\0II*\0" + struct.pack("<IH", 8, len(entries)) + within + b"\xff" * 20
    Image.new("RGB", (60, 40)).save(tmp_path / "a.jpg", exif=exif)
    made = album(tmp_path, "a.jpg")
    assert [(copy.width, copy.height) for copy in made.pictures["a.jpg"].copies] == [(40, 60)]
    assert not recwarn.list


def test_a_kept_copy_that_is_cut_off_is_made_again(tmp_path: Path) -> None:
    tagged(tmp_path / "a.jpg")
    first = album(tmp_path, "a.jpg")
    for kept in (tmp_path / "cache").rglob("*.webp"):
        kept.write_bytes(kept.read_bytes()[:-100])
    assert album(tmp_path, "a.jpg") == first


def test_a_small_photo_is_not_blown_up_and_has_one_copy(tmp_path: Path) -> None:
    tagged(tmp_path / "a.png", (300, 200))
    made = album(tmp_path, "a.png")
    assert [(copy.width, copy.height) for copy in made.pictures["a.png"].copies] == [(300, 200)]
    assert set(made.files) == {copy.address for copy in made.pictures["a.png"].copies}


def test_the_cache_gives_the_same_bytes_and_opens_no_picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tagged(tmp_path / "a.jpg")
    first = album(tmp_path, "a.jpg")
    monkeypatch.setattr("generator.publish.assets._shrunk", lambda *_: pytest.fail("made again"))
    assert album(tmp_path, "a.jpg") == first


def test_a_cache_that_cannot_be_written_only_costs_time(tmp_path: Path) -> None:
    tagged(tmp_path / "a.jpg")
    (tmp_path / "file").write_text("in the way")
    assert small_copies(tmp_path, ["a.jpg"], tmp_path / "file").pictures


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("a.jpg", b"not a picture", "is not a JPEG, PNG or WebP picture"),
        ("a.svg", b"<svg onload='alert(1)'/>", "is not a JPEG, PNG or WebP picture"),
        ("a.gif", b"GIF89a\x01\x00\x01\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff", "is not a JPEG, PNG or WebP picture"),
        ("missing.jpg", None, "cannot be read"),
    ],
)
def test_what_is_no_photo_is_refused_with_the_reason(
    tmp_path: Path, name: str, content: bytes | None, reason: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    assert reason in album(tmp_path, name).refused[name]


def test_a_heic_photo_of_a_telephone_is_read_like_any_other(tmp_path: Path) -> None:
    heif = pytest.importorskip("pillow_heif")
    heif.register_heif_opener()
    tagged(tmp_path / "a.jpg")
    with Image.open(tmp_path / "a.jpg") as photo:
        photo.save(tmp_path / "a.heic", exif=photo.getexif())
    assert CANARY.encode() in (tmp_path / "a.heic").read_bytes()
    made = album(tmp_path, "a.heic")
    assert [(copy.width, copy.height) for copy in made.pictures["a.heic"].copies] == [(480, 360), (960, 720)]
    assert not any(CANARY.encode() in content for content in made.files.values())


def test_without_its_reader_a_heic_photo_is_named_as_such(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    (tmp_path / "a.jpg").write_bytes(b"\x00\x00\x00\x1cftypheic\x00\x00\x00\x00mif1heicmiaf")
    refused = album(tmp_path, "a.jpg").refused
    assert refused == {"a.jpg": "is a HEIC picture, and the reader of these is not installed"}
    (problem,) = unfit(refused)
    assert problem.remedy == "pip install pillow-heif, or use a JPEG"


def test_a_picture_cut_off_half_way_is_refused(tmp_path: Path) -> None:
    tagged(tmp_path / "a.jpg")
    whole = (tmp_path / "a.jpg").read_bytes()
    (tmp_path / "a.jpg").write_bytes(whole[: len(whole) // 2])
    assert "damaged" in album(tmp_path, "a.jpg").refused["a.jpg"]


def test_a_small_file_that_unpacks_to_a_giant_is_refused_unopened(tmp_path: Path) -> None:
    Image.new("1", (20_000, 20_000)).save(tmp_path / "bomb.png")
    assert (tmp_path / "bomb.png").stat().st_size < 200_000
    assert "million pixels" in album(tmp_path, "bomb.png").refused["bomb.png"]


def test_a_link_to_another_file_is_refused(tmp_path: Path) -> None:
    tagged(tmp_path / "a.jpg")
    (tmp_path / "b.jpg").symlink_to(tmp_path / "a.jpg")
    assert "link" in album(tmp_path, "b.jpg").refused["b.jpg"]


def test_of_two_photos_of_the_same_the_sharper_has_more_detail(tmp_path: Path) -> None:
    sharp = Image.effect_mandelbrot((960, 640), (-2.0, -1.0, 1.0, 1.0), 60).convert("RGB")
    for name, soft in (("sharp", 0), ("soft", 1), ("blurred", 4)):
        sharp.filter(ImageFilter.GaussianBlur(soft)).save(tmp_path / f"{name}.png")
    found = album(tmp_path, "sharp.png", "soft.png", "blurred.png").pictures
    assert found["sharp.png"].detail > found["soft.png"].detail > found["blurred.png"].detail > 0.0
