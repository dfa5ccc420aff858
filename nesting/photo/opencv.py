"""The one door to OpenCV, which is an extra of the package."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from nesting.errors import OutputError

HINT = "photographs and mark sheets need OpenCV: pip install 'salvage-nest[photo]'"


def opencv() -> Any:
    """Return the library, loaded when it is first asked for.

    Raises
    ------
    OutputError
        If it is not installed; says how to install it.
    """
    try:
        cv2 = import_module("cv2")
    except ImportError as error:
        raise OutputError(HINT) from error
    if not hasattr(cv2, "aruco") or not hasattr(cv2.aruco, "ArucoDetector"):
        raise OutputError(f"{HINT}; the OpenCV that is installed is older than 4.10")
    return cv2
