"""What the page allows and how long it waits: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class PageSettings:
    """Limits of uploads, and the pauses of the watch on the folder."""

    upload_mb: int = setting(100, "about what reading takes of one file", unit="MB", low=1, high=1000)
    uploads: int = setting(2000, "files in one go; a study is rarely larger", low=1, high=100000)
    total_mb: int = setting(2000, "all files of one go together", unit="MB", low=1, high=100000)
    still_s: float = setting(
        0.4, "a file that has not grown for so long is read", unit="s", low=0.0, high=60.0
    )
    look_again_s: float = setting(
        1.0, "the folder is listed anew even if nothing was told of it", unit="s", low=0.1, high=60.0
    )
    beside: int = setting(
        12, "files read before that a new one of their kind is weighed with", low=0, high=1000
    )
    lines: int = setting(24, "spectra of one group drawn as lines of their own", low=1, high=1000)
    form_kb: int = setting(1024, "size of a form without files", unit="kB", low=1, high=100000)

    def __post_init__(self) -> None:
        require_in_range(self)
