from __future__ import annotations

import base64
import io
import re

import pytest
from PIL import Image

from rearkit.pictures.picture import Picture


def picture(**words: str) -> Picture:
    made = Picture(**{"alt": "A line that rises.", **words}, width=3.0, height=2.0)  # type: ignore[arg-type]
    made.subplots().plot([0, 1, 3])
    return made


@pytest.mark.parametrize("alt", ["", "   ", None])
def test_a_picture_without_a_description_is_refused(alt: str) -> None:
    with pytest.raises(ValueError, match="a picture needs a description"):
        Picture(alt=alt)
    made = picture()
    with pytest.raises(ValueError, match="a picture needs a description"):
        made.alt = alt


def test_the_html_is_one_figure_with_description_size_and_caption() -> None:
    html = picture(alt='Fry "A" & <b>', caption="Fry < 5").html()
    start = (
        '<figure><img alt="Fry &quot;A&quot; &amp; &lt;b&gt;" width="288" height="192" src="data'
    )
    assert html.startswith(start)
    assert html.endswith("<figcaption>Fry &lt; 5</figcaption></figure>")
    assert "<figcaption>" not in picture().html()


def test_the_png_has_160_dots_an_inch_and_at_most_128_colours() -> None:
    data = re.search(r"base64,([^\"]+)", picture().html())
    assert data is not None
    with Image.open(io.BytesIO(base64.b64decode(data.group(1)))) as image:
        assert image.size == (480, 320)
        assert image.mode == "P"
        assert len(image.getcolors()) <= 128
        assert image.convert("RGB").getpixel((0, 0)) == (255, 255, 255)


def test_the_same_drawing_gives_the_same_bytes() -> None:
    assert picture().png() == picture().png()


def test_a_palette_makes_the_file_smaller() -> None:
    made = picture()
    plain = io.BytesIO()
    made.savefig(plain, format="png", dpi=160)
    assert len(made.png()) < 0.6 * len(plain.getvalue())


def test_a_notebook_is_given_html_and_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[dict] = []
    monkeypatch.setattr("IPython.display.publish_display_data", shown.append)
    made = picture()
    made._ipython_display_()
    assert shown == [{"text/html": made.html()}]


def test_drawing_leaves_no_figure_open_in_pyplot() -> None:
    import matplotlib.pyplot as plt

    before = plt.get_fignums()
    picture().png()
    assert plt.get_fignums() == before
