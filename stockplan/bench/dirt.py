"""How much dirt a label takes before its codes can no longer be read.

Dirt is opaque spots, dark or the brown of dry mud, thrown on the label until they have covered a share of its face
(what overlaps is counted once for each). A label counts as read when a decoder finds the tag in any of a few looks at
it: as printed and from further away, sharp and a little out of focus, as a person moves a phone.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from random import Random
from typing import Any

import pypdfium2
import zxingcpp
from PIL import Image, ImageDraw, ImageFilter
from reportlab.pdfgen.canvas import Canvas

from stockplan.report.paper import MM
from stockplan.report.qr_code import QrCode, qr_code

DARK, MUD = 50, 110  # grey levels, of 255
LOOKS = tuple((size, blur) for size in (1.0, 0.7, 0.5, 0.35) for blur in (0.0, 0.8))
FACE_MM = 46.0


@dataclass(frozen=True, slots=True)
class Dirt:
    """A sort of dirt.

    Parameters
    ----------
    name
        As it is called.
    least_mm, most_mm
        Radius of its spots; small ones are as frequent as large ones at every scale.
    grey
        0 is black, 255 white.
    """

    name: str
    least_mm: float
    most_mm: float
    grey: int


SORTS = (
    Dirt("dark specks", 0.15, 0.5, DARK),
    Dirt("dark spots", 0.3, 1.5, DARK),
    Dirt("dark splashes", 1, 4, DARK),
    Dirt("mud specks", 0.15, 0.5, MUD),
    Dirt("mud spots", 0.3, 1.5, MUD),
    Dirt("mud splashes", 1, 4, MUD),
)


def page_image(pdf: bytes, dots_per_inch: int, page: int = 0) -> Image.Image:
    """Rasterise a page of a PDF in greys."""
    image: Image.Image = pypdfium2.PdfDocument(pdf)[page].render(scale=dots_per_inch / 72).to_pil()
    return image.convert("L")


def dirty(image: Image.Image, dirt: Dirt, share: float, dots_per_inch: int, seed: int) -> Image.Image:
    """Throw dirt on a copy of an image.

    Parameters
    ----------
    image
        In greys.
    dirt
        Which sort.
    share
        Area of all spots together over that of the image, 0 to 1.
    dots_per_inch
        Of the image.
    seed
        The same seed throws the same spots.
    """
    random, dots = Random(seed), dots_per_inch / 25.4
    soiled, left = image.copy(), share * image.width * image.height
    draw = ImageDraw.Draw(soiled)
    while left > 0:
        radius = math.exp(random.uniform(math.log(dirt.least_mm), math.log(dirt.most_mm))) * dots
        tall = radius * random.uniform(0.5, 1)
        x, y = random.uniform(0, image.width), random.uniform(0, image.height)
        draw.ellipse((x - radius, y - tall, x + radius, y + tall), fill=dirt.grey)
        left -= math.pi * radius * tall
    return soiled


def is_read(image: Image.Image, text: str) -> bool:
    """Whether a decoder finds a text in any of a few looks at an image."""
    return any(found.text == text for look in _looks(image) for found in zxingcpp.read_barcodes(look))


def _looks(image: Image.Image) -> Iterator[Image.Image]:
    for size, blur in LOOKS:
        look = image.resize((round(image.width * size), round(image.height * size)), Image.Resampling.LANCZOS)
        yield look.filter(ImageFilter.GaussianBlur(blur)) if blur else look


def _face(codes: list[tuple[QrCode, float, float]], dots_per_inch: int) -> Image.Image:
    out = BytesIO()
    canvas: Any = Canvas(out, pagesize=(FACE_MM * MM, FACE_MM * MM), invariant=1)
    for code, left, bottom in codes:
        code.draw(canvas, left, bottom)
    canvas.save()
    return page_image(out.getvalue(), dots_per_inch)


def main() -> None:
    """Print the share of labels read, for one large code and for the three that stand on a label."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.dirt", description=__doc__)
    parser.add_argument("--tag", default="C-402K")
    parser.add_argument("--seeds", type=int, default=50, help="labels of each sort")
    parser.add_argument("--dpi", type=int, default=203)
    given = parser.parse_args()
    one, large = qr_code(given.tag, 37.5), qr_code(given.tag, 29.2)
    small = large.half() or large
    faces = {
        f"one of {one.side_mm:.0f} mm": [(one, 4.0, 4.0)],
        f"{large.side_mm:.0f} mm and two of {small.side_mm:.0f} mm": [
            (large, 8.0, 16.0),
            (small, 8, 1),
            (small, 23, 1),
        ],
    }
    for name, codes in faces.items():
        face = _face(codes, given.dpi)
        for dirt in SORTS:
            rates = []
            for share in (0.03, 0.06):
                soiled = (dirty(face, dirt, share, given.dpi, seed) for seed in range(given.seeds))
                read = sum(is_read(image, given.tag) for image in soiled)
                rates.append(f"{share:.0%} covered: {100 * read / given.seeds:.0f} %")
            print(f"{name:26} {dirt.name:14} {'   '.join(rates)}", flush=True)


if __name__ == "__main__":
    main()
