"""Every limit by which the check decides, in one place: unit first, then the reason.

The same table stands in docs/check.md. Values were derived on rehearsed shoots with known truth and
held against real pictures; where a limit is a habit of the trade, it says "common practice".
"""

from typing import Final

# Placing

#: probability: of a cell placed with less, one in ten would be another's frame.
SURE_PLACED: Final = 0.9

# Sharpness, measured in an overlap

#: share of full evidence: below, what a patch shows in a direction is mostly noise.
LEAST_EVIDENCE: Final = 0.15
#: patches: the median of fewer can be one leaf in the wind.
LEAST_PATCHES: Final = 4
#: px²: what a single patch leaves uncertain, however well its like agree.
PATCH_DOUBT_PX2: Final = 0.15
#: share of the overlap: less texture that is gone in one frame may be a bird that flew off.
DROWNED_SHARE: Final = 0.2

# Sharpness of a frame

#: px²: blur variance along the worst direction; sharp frames of a shoot differ by 0.1 to 0.2.
SUSPECT_PX2: Final = 0.4
#: px²: blur variance in every direction, 0.75 px; less is lost when a picture is shown at 100 %.
SOFT_PX2: Final = 0.55
#: share of the greatest blur: rounder is out of focus, longer is shaken.
ROUND_SHARE: Final = 0.45
#: standard errors: of 5,000 sharp frames none may be accused by chance.
SURE_BLUR: Final = 5.0
#: px: standard deviation at the sharpest edges; sharp frames have 0 to 1.
SOFT_EDGE_PX: Final = 2.0
#: quantile: the frames that count as sharp; with three in four soft, one is still the measure.
SHARP_QUANTILE: Final = 0.25
#: directions of four: one alone cannot tell soft from shaken.
LEAST_SECTORS: Final = 2
#: px²: two frames this surely apart are compared directly …
NEAR_PX2: Final = 0.15
#: share of the step between them: … or this surely, for great steps.
NEAR_SHARE: Final = 0.2
#: frames: fewer to compare with are no measure of sharpness, unless the group has no more.
LEAST_PEERS: Final = 5
#: px²: the blur in a direction counts when its error is below …
KNOWN_PX2: Final = 0.15
#: share of the blur: … or below this.
KNOWN_SHARE: Final = 0.25
#: overlaps in one direction: before their common difference is taken for the lens's.
LEAST_LENS_PAIRS: Final = 8

# Exposure and colour

#: samples: the median of fewer patches of an overlap says nothing.
LEAST_SAMPLES: Final = 6
#: EV: what stays uncertain in one overlap's exposure, however many samples.
FLOOR_EV: Final = 0.012
#: natural logarithm: the same of its tint.
FLOOR_TINT: Final = 0.006
#: EV at the corner: how far the terms of vignetting are expected to go.
USUAL_VIGNETTING_EV: Final = 1.5
#: changes: so many quiet ones near a jump tell the drift beneath it.
LEAST_QUIET: Final = 4
#: EV: from one frame to the next, a jump; half a third of a stop, the finest step of a dial.
JUMP_EV: Final = 0.17
#: CIEDE2000: from one frame to the next, a jump.
JUMP_COLOUR: Final = 2.6
#: standard errors: a jump stands out by so many.
SURE_JUMP: Final = 4.0
#: EV: a frame that departs by so much is at fault; a seam in plain sky shows it.
FAULT_EV: Final = 0.2
#: CIEDE2000: the same for its colour, seen side by side.
FAULT_COLOUR: Final = 3.0
#: EV: drift over the shoot that is worth a word, a third of a stop.
DRIFT_EV: Final = 0.33
#: CIEDE2000: the same for colour.
DRIFT_COLOUR: Final = 5.0
#: share of the frame: almost black beyond this, the lens cap is on.
BLACK_SHARE: Final = 0.97
#: share of the frame: blown out beyond this, nothing is left to use.
WHITE_SHARE: Final = 0.9
#: share of the frame: blown out beyond this is worth a word.
CLIPPED_SHARE: Final = 0.25
#: share of the frames: with more exposures than this the camera set each anew: nobody's jump.
SET_ANEW_SHARE: Final = 0.6
#: share of the frames: with more jumps in colour than this the white balance was automatic.
RESTLESS_SHARE: Final = 0.34

# Settings

#: EV: stated exposures this close are the same; cameras round what they write.
SAME_EV: Final = 0.05

# Geometry of the shoot

#: share of the frame's width: patches further off a smooth mapping are parallax …
PARALLAX_SHARE: Final = 0.0007
#: px: … and so far at least; less is the error of registration.
PARALLAX_PX: Final = 2.0
#: patches: an overlap with fewer says nothing of parallax.
PARALLAX_PATCHES: Final = 24
#: share of the frame: smaller overlaps may not join.
LEAST_OVERLAP: Final = 0.1
#: share of the frame: so far a neighbour reaches along the other side; corners are no overlaps.
SIDE_SHARE: Final = 0.6
