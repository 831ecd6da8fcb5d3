"""What can stop the work, one branch per person who can act.

::

    BelvedereError
    ├── PlanError      the plan cannot be shot: change shoot.toml
    ├── CardError      the card or a folder of frames cannot be used: look at the folder
    ├── OrientError    the frames do not hold together: more overlap, or a shoot file
    ├── StoreError     a result cannot be read or written: look at the disk
    └── PublishError   the mosaic cannot become a site: look at the mosaic or the folder

A bad frame is a finding, never one of these. Every message is one sentence or two: what is
wrong, where, and what to do next.
"""

from __future__ import annotations


class BelvedereError(Exception):
    """The work cannot go on; `str()` of it is fit to show to the person.

    Parameters
    ----------
    says
        What is wrong and where, with the measured value, the limit and the unit.
    remedy
        What to do next, a sentence of its own.
    """

    def __init__(self, says: str, remedy: str = "") -> None:
        self.says = says
        self.remedy = remedy
        super().__init__(f"{says} {remedy}".strip())


class PlanError(BelvedereError):
    """The plan cannot be shot as written."""


class CardError(BelvedereError):
    """The card, or a folder of frames, cannot be used."""


class OrientError(BelvedereError):
    """The frames cannot be put into one picture."""


class StoreError(BelvedereError):
    """A result cannot be read or written."""


class PublishError(BelvedereError):
    """The mosaic cannot be made into a site."""


#: One table for every door: the command line's exit code for each branch.
EXIT_CODES: dict[type[BelvedereError], int] = {
    BelvedereError: 2,
    PlanError: 2,
    CardError: 2,
    OrientError: 2,
    StoreError: 2,
    PublishError: 2,
}
