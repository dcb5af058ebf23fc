"""What a result was made with: versions and the processor's vector features."""

from __future__ import annotations

from typing import Any


def versions() -> dict[str, Any]:
    """Versions of the program, the model and the libraries that compute, and processor features.

    The features matter because an exponential may differ in its last bit between processors.
    """
    import platform
    from importlib.metadata import version

    import simcore

    return {
        "steptally": version("steptally"),
        "model": simcore.MODEL_VERSION,
        "python": platform.python_version(),
        "numpy": version("numpy"),
        "numba": version("numba"),
        "scipy": version("scipy"),
        "machine": platform.machine(),
        "processor_features": _processor_features(),
    }


def _processor_features() -> list[str]:
    """The vector extensions that numpy found, [] when it does not say."""
    import numpy as np

    try:
        shown: Any = np.show_config(mode="dicts")
        extensions = shown["SIMD Extensions"]
        return sorted({*extensions.get("baseline", []), *extensions.get("found", [])})
    except (KeyError, TypeError):
        return []
