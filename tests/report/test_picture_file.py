"""Pictures are read back by a library that shares no code with what wrote them: checksums, sizes, colours, remarks."""

import numpy as np
import pytest
from PIL import Image

from diaphragm_fem.report.sheets.picture_file import write_png


@pytest.mark.parametrize(("height", "width"), [(1, 1), (3, 5), (40, 17)])
def test_another_reader_finds_every_pixel(tmp_path, height, width):
    """Exact: nothing is rounded."""
    pixels = np.random.default_rng(3).integers(0, 256, (height, width, 4), np.uint8)
    write_png(tmp_path / "a.png", pixels, 150, "made by hand 1.0")
    with Image.open(tmp_path / "a.png") as found:
        assert found.mode == "RGBA"
        np.testing.assert_array_equal(np.asarray(found), pixels)
        assert found.info["Software"] == "made by hand 1.0"
        assert found.info["dpi"] == pytest.approx((150, 150), rel=1e-4)  # the format counts dots to the metre
    with Image.open(tmp_path / "a.png") as found:
        found.verify()
