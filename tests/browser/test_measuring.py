"""Measuring on a picture in the browser: a figure of known angle, before Chromium's camera or from a file."""

from __future__ import annotations

import io
import json
import math
import re
import shutil
import struct

import pytest
from PIL import Image, ImageDraw

# The headless shell, which the other tests take, has no camera.
WITH_CAMERA = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
ANGLE = 8.0
WITHIN = 1.0
WIDTH, HEIGHT = 640, 480
LEG = ((300.0, 40.0), (300.0, 240.0))
HEEL_LENGTH = 180.0
SAVED = re.compile(r"^\s*Saved ")
NO_SIGNAL = re.compile(r"Failed to load resource")


def figure(size, points):
    """A leg line and a heel line on white."""
    picture = Image.new("L", size, 235)
    pen = ImageDraw.Draw(picture)
    for start, end in (points[:2], points[2:]):
        pen.line([start, end], fill=20, width=7)
    return picture


def rear_points(degrees, *, outward=1, scale=1.0):
    """Marks of a heel that leans by so many degrees against an upright leg; outward is 1 for a right foot."""
    top = (LEG[1][0], LEG[1][1] + 20)
    radians = math.radians(degrees)
    end = (top[0] + outward * HEEL_LENGTH * math.sin(radians), top[1] + HEEL_LENGTH * math.cos(radians))
    return [(scale * x, scale * y) for x, y in (*LEG, top, end)]


@pytest.fixture(scope="module")
def camera_file(tmp_path_factory):
    """The figure as an uncompressed video, which Chromium plays as its camera."""
    path = tmp_path_factory.mktemp("camera") / "figure.y4m"
    grey = b"\x80" * (WIDTH * HEIGHT // 4)
    frame = b"FRAME\n" + figure((WIDTH, HEIGHT), rear_points(ANGLE)).tobytes() + 2 * grey
    path.write_bytes(f"YUV4MPEG2 W{WIDTH} H{HEIGHT} F10:1 Ip A1:1 C420jpeg\n".encode() + 5 * frame)
    return path


@pytest.fixture(scope="module")
def with_camera(camera_file):
    from playwright.sync_api import sync_playwright

    if WITH_CAMERA is None:
        pytest.skip("a Chromium with a camera is not installed (Debian: apt-get install chromium)")
    arguments = [
        "--no-sandbox",
        "--disable-gpu",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={camera_file}",
    ]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=WITH_CAMERA, args=arguments)
        yield browser
        browser.close()


@pytest.fixture
def tablet(with_camera, practice, sign_in_as):
    """Return a function that opens the page of a new fitting on a tablet; the camera is allowed where asked for."""
    contexts, problems = [], []

    def open_for(name, *, camera=(), width=820, height=1180):
        context = with_camera.new_context(base_url=practice.url, viewport={"width": width, "height": height})
        if camera:
            context.grant_permissions(["camera"])
        context.set_default_timeout(30_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda problem: problems.append(str(problem)))
        page.on("console", lambda said: problems.append(said.text) if said.type == "error" else None)
        sign_in_as(page, "fitter")
        page.goto("/fittings/new/")
        page.locator("#id_person-name").fill(name)
        page.locator("label", has=page.locator("[name='person-consent'][value='yes']")).click()
        page.locator("#state-person [data-kind]", has_text=SAVED).wait_for()
        return page

    yield open_for
    for context in contexts:
        context.close()
    assert [problem for problem in problems if not NO_SIGNAL.search(problem)] == []


def part(page, name, panel="angles"):
    return page.locator(f"#{panel} [data-angle='{name}']")


def open_panel(page, foot):
    page.locator(f"#section-observation [data-angle-open='{foot}']").click()


def darkness(page, x, y):
    """Brightness of the picture at a place given in parts of its width and height."""
    return page.evaluate(
        """([x, y]) => {
          const canvas = document.querySelector("[data-angle='canvas']");
          return canvas.getContext("2d").getImageData(x * canvas.width, y * canvas.height, 1, 1).data[0];
        }""",
        [x, y],
    )


def place(page, points, size, *, off=0.0, panel="angles"):
    """Put the marks of one reading where the figure has its ends, each by so many pixels of the figure off."""
    canvas = part(page, "canvas", panel)
    for x, y in points:
        box = canvas.bounding_box()
        canvas.click(position={"x": (x + off) / size[0] * box["width"], "y": y / size[1] * box["height"]})
    page.locator(f"#{panel} [data-angle-do='confirm']").click()


def measured(page):
    words = part(page, "result").inner_text()
    return float(re.search(r": (−?[\d.]+)°;", words)[1].replace("−", "-"))


def is_gone(page):
    return page.evaluate(
        """() => {
          const find = (name) => document.querySelector(`[data-angle='${name}']`);
          const [canvas, video] = [find("canvas"), find("video")];
          return canvas.width === 0 && !video.srcObject && !video.src && document.getElementById("angles").hidden;
        }"""
    )


def test_figure_before_the_camera_is_measured_within_a_degree_and_nothing_of_it_is_sent(tablet):
    page = tablet("Cam Era", camera=True)
    bodies = []
    page.on("request", lambda request: bodies.append(request.post_data_buffer or b""))
    open_panel(page, "right")
    page.locator("#angles [data-angle-do='camera']").click()
    page.locator("#angles [data-angle-do='frame']").click()
    points = rear_points(ANGLE)
    middle = [(LEG[0][0] + LEG[1][0]) / 2 / WIDTH, (LEG[0][1] + LEG[1][1]) / 2 / HEIGHT]
    assert darkness(page, *middle) < 100 < darkness(page, 0.1, 0.1)
    place(page, points, (WIDTH, HEIGHT))
    assert "Reading 2 of 2" in part(page, "guide").inner_text()
    place(page, points, (WIDTH, HEIGHT), off=1.0)
    page.locator("#angles [data-angle-use]").wait_for()
    assert abs(measured(page) - ANGLE) <= WITHIN
    assert "2 moderate" in part(page, "result").inner_text()
    page.locator("#angles [data-angle-use]").click()
    value = page.locator("#id_right-rearfoot_eversion_deg").input_value()
    assert abs(float(value) - ANGLE) <= WITHIN
    assert is_gone(page)
    page.locator("#id_intake-body_mass_kg").click()
    page.locator("#state-observation [data-kind]", has_text=SAVED).wait_for()
    sent = json.loads(page.locator("#id_right-marks").input_value())
    assert set(sent["rearfoot_eversion"]) == {"readings", "mirrored", "known_mm"}
    assert bodies
    assert max(map(len, bodies)) < 20_000


def png(picture):
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def huge_png():
    """The head of a picture of 200 million pixels."""
    head = struct.pack(">IIBBBBB", 20_000, 10_000, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + head + b"\0" * 64


def pick(page, name, kind, data):
    part(page, "file").set_input_files({"name": name, "mimeType": kind, "buffer": data})


def test_refused_camera_and_bad_files_are_said_at_the_field_and_nothing_is_lost(tablet):
    page = tablet("Fil Efail")
    page.locator("#id_left-fpi6").fill("4")
    open_panel(page, "left")
    problem = part(page, "problem")
    page.locator("#angles [data-angle-do='camera']").click()
    page.locator("#angles [data-angle='problem']", has_text="Choose a picture instead, or type the value").wait_for()
    for name, kind, data, words in [
        ("huge.png", "image/png", huge_png(), "200 million pixels"),
        ("broken.jpg", "image/jpeg", b"\xff\xd8\xff\xe0 not a picture", "can’t be opened"),
        ("cut.png", "image/png", png(figure((600, 900), rear_points(5.0)))[:300], "can’t be opened"),
        ("none.mp4", "video/mp4", b"\0" * 500, "no frame that can be shown"),
    ]:
        pick(page, name, kind, data)
        page.locator("#angles [data-angle='problem']", has_text=words).wait_for()
        assert problem.is_visible()
    assert page.locator("#id_left-fpi6").input_value() == "4"
    assert page.locator("#id_person-name").input_value() == "Fil Efail"
    # The same panel takes a picture afterwards: portrait, and mirrored, so that a left foot looks like a right one.
    size = (600, 900)
    points = rear_points(5.0, scale=1.5)
    pick(page, "portrait.png", "image/png", png(figure(size, points)))
    part(page, "canvas").wait_for()
    part(page, "mirrored").check()
    for off in (0.0, 2.0):
        place(page, points, size, off=off)
    page.locator("#angles [data-angle-use]").wait_for()
    assert abs(measured(page) - 5.0) <= WITHIN
    # Leaving the section takes the picture away without a value.
    page.locator("#id_intake-body_mass_kg").click()
    assert is_gone(page)
    assert page.locator("#id_left-rearfoot_eversion_deg").input_value() == ""


def test_marks_are_placed_and_moved_by_keyboard(tablet):
    page = tablet("Key Board", width=1180, height=820)
    open_panel(page, "left")
    pick(page, "figure.png", "image/png", png(figure((WIDTH, HEIGHT), rear_points(0.0))))
    canvas = part(page, "canvas")
    canvas.wait_for()
    canvas.focus()
    for reading in range(2):
        for down in (-18, -4, 4, 18):  # in steps of ten pixels from the middle, one below the other
            page.keyboard.press("Enter")
            for _ in range(abs(down)):
                page.keyboard.press("Shift+ArrowDown" if down > 0 else "Shift+ArrowUp")
        assert f"Reading {reading + 1} of 2" in part(page, "guide").inner_text()
        page.locator("#angles [data-angle-do='confirm']").click()
        if reading == 0:
            canvas.focus()
    page.locator("#angles [data-angle-use]").wait_for()
    assert measured(page) == 0.0


def test_rearfoot_is_measured_in_a_look_too(tablet):
    page = tablet("Look Twice")
    section, size, points = page.locator("#section-looks"), (WIDTH, HEIGHT), rear_points(6.0)
    section.locator("summary", has_text="Look 2").click()
    section.locator("[data-angle-open='right'][data-angle-prefix='look-1-right_']").click()
    part(page, "file", "look-angles").set_input_files(
        {"name": "a.png", "mimeType": "image/png", "buffer": png(figure(size, points))}
    )
    part(page, "canvas", "look-angles").wait_for()
    for off in (0.0, 2.0):
        place(page, points, size, off=off, panel="look-angles")
    page.locator("#look-angles [data-angle-use]").click()
    value = float(page.locator("#id_look-1-right_rearfoot_eversion_deg").input_value())
    assert abs(value - 6.0) <= WITHIN
    assert "readings" in page.locator("#id_look-1-right_marks").input_value()
    assert page.locator("#id_right-rearfoot_eversion_deg").input_value() == ""
    assert page.locator("#look-angles").is_hidden()
