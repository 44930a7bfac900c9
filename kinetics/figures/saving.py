"""Saving a figure: PNG, SVG or PDF by the ending of the name, whole or not at all, always the same bytes."""

from __future__ import annotations

import os
from io import BytesIO
from pathlib import Path
from tempfile import NamedTemporaryFile
from xml.sax.saxutils import escape

from matplotlib.figure import Figure

from kinetics.data.faults import RefusedInput
from kinetics.figures.style import retroaldol_style

DATELESS: dict[str, dict[str, None]] = {
    ".png": {"Software": None},
    ".svg": {"Date": None, "Creator": None, "Format": None, "Type": None},
    ".pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}


class FigureNameError(RefusedInput):
    """A figure cannot be saved under this name."""


def save_figure(figure: Figure, path: str | Path) -> Path:
    """Write the figure to `path`, which ends in .png, .svg or .pdf; gives the path.

    An SVG keeps its text as text and carries the figure's title and description, for who does not see it.
    The file appears only when it is complete. Raises FigureNameError for another ending or a missing folder.
    """
    path = Path(path)
    if path.suffix.lower() not in DATELESS:
        raise FigureNameError(
            f'{path}: expected a name that ends in .png, .svg or .pdf; came "{path.suffix}".'
        )
    if not path.parent.is_dir():
        raise FigureNameError(f"{path}: there is no folder {path.parent}.")
    write_whole(path, image(figure, path.suffix.lower()))
    return path


def image(figure: Figure, ending: str) -> bytes:
    """The figure as the bytes of a file with this ending, without date or program in it."""
    buffer = BytesIO()
    with retroaldol_style():
        figure.savefig(buffer, format=ending[1:], metadata={**DATELESS[ending]})
    if ending == ".svg":
        return accessible(
            buffer.getvalue().decode(), " ".join(figure.get_suptitle().split()), figure.get_label()
        ).encode()
    return buffer.getvalue()


def accessible(svg: str, title: object, description: object) -> str:
    """The SVG with a title and a description that assistive readers speak."""
    start = svg.index("<svg ")
    inside = svg.index(">", start) + 1
    head = svg[start : inside - 1] + ' role="img" aria-labelledby="figure-title figure-description">'
    words = (
        f'\n <title id="figure-title">{escape(str(title))}</title>'
        f'\n <desc id="figure-description">{escape(str(description))}</desc>'
    )
    return svg[:start] + head + words + svg[inside:]


def write_whole(path: Path, content: bytes) -> None:
    """Write to a temporary file beside `path`, then put it in its place."""
    with NamedTemporaryFile(
        dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix, delete=False
    ) as file:
        temporary = Path(file.name)
        try:
            file.write(content)
            file.close()
            os.chmod(temporary, 0o644)
            os.replace(temporary, path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
