"""soak: the other half of a repair."""

import os

__version__ = "0.1.0"

MOST_PIXELS = 64_000_000
"""A larger picture is not decoded: telephones make 12 to 50 megapixels, capture cards 33 at most
(8K; both common practice). Our own choice; one in colour takes some 200 MB."""

# OpenCV reads it once, as it is loaded: a few bytes can claim any number of pixels.
os.environ["OPENCV_IO_MAX_IMAGE_PIXELS"] = str(MOST_PIXELS)
