"""What can hurt someone on a shoot: always worth a line, whatever the plan.

Usual cautions (common practice, no source); local rules and licensed practice go first.
"""

from __future__ import annotations

#: Subject and sentence, apart at the first colon.
CAUTIONS = (
    "Sun: never look at the sun through a lens or an optical finder: it blinds, and it burns the "
    "sensor. Keep it out of the grid, and cap the lens when it comes near.",
    "Wind and heights: weigh the tripod down, tether what can fall, stay back from edges, and let "
    "nobody stand below. Stop when gusts move the tripod.",
    "Batteries: keep them dry and warm, never short or crush them, and charge them watched.",
    "Traffic: no tripod on roads, rails or escape routes, and cables where nobody trips.",
    "In the air: balloons and drones are for licensed pilots, by the local rules.",
    "People: at this resolution faces, windows and plates can be read. Ask, keep to the law of "
    "the place, and blur before you publish.",
)
