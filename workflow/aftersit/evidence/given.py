"""What several checks share: settings, the template head, a scratch folder, open recordings."""

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from aftersit.evidence.open_results import OpenResults
    from aftersit.head.model import Head
    from aftersit.settings import Settings

T = TypeVar("T")


class Given:
    """What checks are given; each part is made when first asked for.

    Parameters
    ----------
    folder : Path
        Scratch.
    open_data : Path, optional
        Folder of open recordings.
    """

    def __init__(self, folder: Path, open_data: Path | None = None):
        self._folder, self._made = folder, 0
        self._kept: dict[str, Any] = {}
        self.open_data = open_data

    def once(self, name: str, make: Callable[[], T]) -> T:
        """What several checks share: made by the first, kept for the others."""
        if name not in self._kept:
            self._kept[name] = make()
        return self._kept[name]

    def new_folder(self) -> Path:
        """An empty folder."""
        self._made += 1
        folder = self._folder / f"check-{self._made}"
        folder.mkdir(parents=True)
        return folder

    @cached_property
    def settings(self) -> "Settings":
        """The settings in force."""
        from aftersit.settings import load_settings

        return load_settings("s1")

    @cached_property
    def head(self) -> "Head":
        """The template head, kept under `bench/` once it is solved."""
        from aftersit.bench.heads import template_head

        return template_head()

    @cached_property
    def coarse(self) -> np.ndarray:
        """Every twenty-first source of the template head."""
        return np.arange(0, self.head.gain.shape[1], 21)

    @cached_property
    def mne_forward(self):
        """The template head as mne's forward solution."""
        from aftersit.bench.library import forward_solution

        return forward_solution(self.head)

    @cached_property
    def open_results(self) -> "OpenResults":
        """What one night over all open recordings gave."""
        from aftersit.evidence.open_results import run_open_recordings

        return run_open_recordings(self.open_data, self.new_folder())
