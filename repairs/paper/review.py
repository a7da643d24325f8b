"""The review of a territory as PDF for a meeting. The layout is ``review.typ``."""

import json
from typing import Any

from repairs.paper.press import pressed


def review_paper(said: dict[str, Any]) -> bytes:
    """The PDF of what a review says; its pictures are drawn as lines, so they stay sharp."""
    return pressed("review.typ", json.dumps(said, sort_keys=True))
