"""Blur and clipping of a sherd on a photograph, against blurs that were put in."""

import cv2
import numpy as np
import pytest

from motifs.imaging.quality import shot_quality
from motifs.records import PhotoImage

ANGLES = np.linspace(0, 2 * np.pi, 60, endpoint=False)
OUTLINE = (np.column_stack([np.cos(ANGLES), np.sin(ANGLES)]) * 110 + 160).astype(np.float32)


def photo(level=200, backdrop=90, blur=0.0, noise=1.0, seed=0):
    """A disc drawn four times finer, averaged down (a pixel's own box), then blurred."""
    fine = np.full((1280, 1280), float(backdrop), np.float32)
    cv2.circle(fine, (642, 642), 440, float(level), -1)
    image = cv2.resize(fine, (320, 320), interpolation=cv2.INTER_AREA)
    if blur:
        image = cv2.GaussianBlur(image, (0, 0), blur)
    image = image + np.random.default_rng(seed).normal(0, noise, image.shape)
    rgb = np.repeat(np.clip(np.rint(image), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return PhotoImage(rgb, "0" * 64, "disc.png")


@pytest.mark.parametrize("blur", [0.7, 1.0, 1.5, 2.5, 4.0])
def test_blur_is_what_was_put_in(blur):
    found = shot_quality(photo(blur=blur), OUTLINE)
    assert found.blur_px == pytest.approx(blur, rel=0.12, abs=0.15)
    assert 0.15 <= found.blur_px_sd < 0.15 * blur + 0.15


def test_a_sharp_edge_is_sharp():
    assert shot_quality(photo(), OUTLINE).blur_px < 0.5


def test_no_contrast_says_nothing():
    found = shot_quality(photo(level=95, backdrop=90), OUTLINE)
    assert found.blur_px is None
    assert found.blur_px_sd is None


def test_clipped_shares():
    assert shot_quality(photo(level=255, noise=0), OUTLINE).burnt_share > 0.95
    assert shot_quality(photo(level=0, noise=0), OUTLINE).blocked_share > 0.95
    fine = shot_quality(photo(), OUTLINE)
    assert (fine.burnt_share, fine.blocked_share) == (0.0, 0.0)


def test_an_outline_at_the_frame_or_beyond():
    assert shot_quality(photo(), OUTLINE - 150).burnt_share == 0.0
    with pytest.raises(ValueError, match="outside"):
        shot_quality(photo(), OUTLINE + 1000)
