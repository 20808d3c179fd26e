"""A figure that carries its own description, and shows itself as one small piece of HTML."""

from __future__ import annotations

import base64
import io
from html import escape

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

CSS_DOTS_PER_INCH = 96


class Picture(Figure):
    """A matplotlib figure that cannot be shown without saying what it shows.

    Parameters
    ----------
    alt : str
        What a reader who does not see it should know: its kind, axes and main finding.
    caption : str
        What stands below it; empty for none.
    width, height : float
        In inches of 96 CSS pixels.

    Raises
    ------
    ValueError
        If there is no description.

    Examples
    --------
    >>> picture = Picture(alt="A line that rises from 0 to 1.", caption="A line", width=3, height=2)
    >>> line = picture.subplots().plot([0, 1])
    >>> picture.html()[:60]
    '<figure><img alt="A line that rises from 0 to 1." width="288'
    """

    dots_per_inch = 160
    colours = 128

    def __init__(
        self, *, alt: str, caption: str = "", width: float = 6.4, height: float = 4.0
    ) -> None:
        super().__init__(
            figsize=(width, height), dpi=self.dots_per_inch, layout="constrained", facecolor="white"
        )
        self.alt = alt
        self.caption = caption

    @property
    def alt(self) -> str:
        """What the picture shows, in words."""
        return self._alt

    @alt.setter
    def alt(self, text: str) -> None:
        if not (isinstance(text, str) and text.strip()):
            raise ValueError("a picture needs a description: set alt to what it shows, in words")
        self._alt = " ".join(text.split())

    def png(self) -> bytes:
        """Draw the figure as a PNG with a small palette.

        Returns
        -------
        bytes
            The same for the same drawing: no date and no program name inside.
        """
        from PIL import Image

        canvas = FigureCanvasAgg(self)
        canvas.draw()
        size = canvas.get_width_height()
        image = Image.frombuffer("RGBA", size, bytes(canvas.buffer_rgba()), "raw", "RGBA", 0, 1)
        small = image.convert("RGB").quantize(
            self.colours, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
        )
        colours = small.getpalette() or []
        small.putpalette([255 if part > 252 else part for part in colours])  # white stays white
        packed = io.BytesIO()
        small.save(packed, format="PNG", dpi=(self.dots_per_inch, self.dots_per_inch))
        return packed.getvalue()

    def html(self) -> str:
        """Give the figure as one HTML element, with the picture inside it."""
        width, height = (round(inches * CSS_DOTS_PER_INCH) for inches in self.get_size_inches())
        data = base64.b64encode(self.png()).decode("ascii")
        caption = f"<figcaption>{escape(self.caption)}</figcaption>" if self.caption else ""
        return (
            f'<figure><img alt="{escape(self.alt)}" width="{width}" height="{height}" '
            f'src="data:image/png;base64,{data}">{caption}</figure>'
        )

    def _repr_html_(self) -> str:
        return self.html()

    def _ipython_display_(self) -> None:
        """Show the figure in a notebook, as HTML and nothing else."""
        from IPython.display import publish_display_data

        publish_display_data({"text/html": self.html()})
