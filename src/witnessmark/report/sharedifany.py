"""The part of an answer on what findings share, loaded only where an answer has one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from witnessmark.case.assessment import Assessment

if TYPE_CHECKING:
    from witnessmark.report.sharedpart import SharedPart

__all__ = ["shared_if_any"]


def shared_if_any(assessment: Assessment) -> SharedPart | None:
    """What several findings share, ready to be shown.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    SharedPart or None
        None where nothing is shared.
    """
    if assessment.shared is None:
        return None
    from witnessmark.report.sharedpart import shared_part

    return shared_part(assessment)
