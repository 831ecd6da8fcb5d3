"""Every limit by which the check decides, in one place: unit first, then the reason.

The same table stands in docs/check.md. Values were derived on rehearsed shoots with known truth and
held against real pictures; where a limit is a habit of the trade, it says "common practice".
"""

from typing import Final

# Placing

#: probability: of a cell placed with less, one in ten would be another's frame.
SURE_PLACED: Final = 0.9
#: grey levels²: variance of detail across its main direction from which a place shows something.
SHOWN_DETAIL: Final = 1.0
#: grey levels²: from this it is hard; clouds, haze and calm water stay below.
HARD_DETAIL: Final = 16.0
#: share of that detail: two frames that differ by less at a place show the same there.
SAME_DETAIL: Final = 0.2
#: places: a frame with fewer hard ones shows only what may have sailed on by the next line.
FIRM_PLACES: Final = 6

# Sharpness, measured in an overlap

#: share of full evidence: below, what a patch shows in a direction is mostly noise.
LEAST_EVIDENCE: Final = 0.15
#: patches: the median of fewer can be one leaf in the wind.
LEAST_PATCHES: Final = 4
#: px²: what a single patch leaves uncertain, however well its like agree.
PATCH_DOUBT_PX2: Final = 0.15
#: sides: a frame with so many that show detail needs no corners to be judged by.
SIDES_ENOUGH: Final = 2
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
#: px²: an overlap known this well in some direction, and alike there, clears a frame of much blur.
KNOWN_ALIKE_PX2: Final = 1.0
#: px²: a greater difference between two frames is believed on firm ground alone, 3 px.
LOOSE_BLUR_PX2: Final = 9.0
#: ratio: blur in one direction to the mean of those beside it; a streak has 2, and errs a little.
STREAK_BESIDE: Final = 3.0
#: quantile: the frames that count as sharp; with three in four soft, one is still the measure.
SHARP_QUANTILE: Final = 0.25
#: frames: so few that are surely sharper than the quarter show how sharp the shoot could be …
SHARP_FEW: Final = 3
#: share of the frames: … if they are as many as this.
SHARP_FEW_SHARE: Final = 0.05
#: directions of four: one alone cannot tell soft from shaken.
LEAST_SECTORS: Final = 2
#: px²: two frames this surely apart are compared directly …
NEAR_PX2: Final = 0.15
#: share of the step between them: … or this surely, for great steps.
NEAR_SHARE: Final = 0.2
#: share of the largest group of frames that can be compared: a smaller one may all be soft.
APART_SHARE: Final = 0.3
#: frames: fewer to compare with are no measure of sharpness, unless the group has no more.
LEAST_PEERS: Final = 5
#: px²: the blur in a direction counts when its error is below …
KNOWN_PX2: Final = 0.15
#: share of the blur: … or below this.
KNOWN_SHARE: Final = 0.25
#: overlaps in one direction: before their common difference is taken for the lens's.
LEAST_LENS_PAIRS: Final = 8
#: px²: between the quartiles of overlaps in one direction; wider apart, it is not the lens.
LENS_QUARTILES_PX2: Final = 0.3

# Exposure and colour

#: samples: the median of fewer patches of an overlap says nothing.
LEAST_SAMPLES: Final = 6
#: EV: what stays uncertain in one overlap's exposure, however many samples.
FLOOR_EV: Final = 0.012
#: natural logarithm: the same of its tint.
FLOOR_TINT: Final = 0.006
#: natural logarithm: thumbnails that differ by more in tint send for the frames' own colours; half
#: of what a jump makes. On eight rehearsed cards they err by 0.003 to 0.016, at most by 0.06.
TINT_DOUBT: Final = 0.045
#: EV or natural logarithm, from frame to frame: what a lens brighter on one side may do.
LOPSIDED_TONE: Final = 0.03
#: EV, from frame to frame: what sun and cloud usually change at most.
DRIFTING_EV: Final = 0.03
#: natural logarithm, from frame to frame: the same of a tint.
DRIFTING_TINT: Final = 0.015
#: EV: how far a change may be from the one that the settings state; files round what they say.
STATED_EV: Final = 0.09
#: frames: within so many, clouds and waves have no time to move.
SAME_MOMENT: Final = 2
#: EV at the corner: how far the terms of vignetting are expected to go.
USUAL_VIGNETTING_EV: Final = 1.5
#: changes: so many quiet ones near a jump tell the drift beneath it.
LEAST_QUIET: Final = 4
#: EV: from one frame to the next, a jump; half a third of a stop, the finest step of a dial.
JUMP_EV: Final = 0.17
#: CIEDE2000: from one frame to the next, a jump.
JUMP_COLOUR: Final = 2.6
#: standard errors: a jump stands out by so many, against the drift and in the overlaps.
SURE_JUMP: Final = 3.0
#: EV: a frame that departs by so much is at fault; a seam in plain sky shows it.
FAULT_EV: Final = 0.2
#: CIEDE2000: the same for its colour, seen side by side.
FAULT_COLOUR: Final = 3.0
#: EV: less than this nobody sees after blending; a fault is surely more.
GOOD_EV: Final = 0.15
#: natural logarithm: the same of a tint, about 2 in CIEDE2000.
GOOD_TINT: Final = 0.055
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
#: share of the frames: with more values of a setting than this the camera set it anew for each.
SET_ANEW_SHARE: Final = 0.6
#: share of the frames: with more changes than this from frame to frame it was not locked.
RESTLESS_SHARE: Final = 0.34

# Settings

#: EV: stated exposures this close are the same; cameras round what they write.
SAME_EV: Final = 0.05
#: share: stated focus distances this close are the same; encoders of lenses are coarse.
SAME_FOCUS: Final = 0.05
#: steps of quality: some cameras adapt their compression a little to each picture.
SAME_QUALITY: Final = 4

# Where the frames lie

#: share of a frame: less in common is not worth comparing.
LEAST_SHARE: Final = 0.03
#: natural logarithm: support of a match near its place, beyond which it is taken for true.
NEAR_SUPPORT: Final = 9.0
#: natural logarithm: support of a match anywhere; there are a thousand times as many places.
FAR_SUPPORT: Final = 14.0
#: weight: what an overlap without hard detail, such as clouds, counts in solving positions.
FAINT_WEIGHT: Final = 0.05
#: correlation: of hard detail in both frames, where they show the same of it.
HARD_AGREEMENT: Final = 0.4
#: levels of 255: local contrast of houses, rocks and masts; clouds, haze and waves stay below 4.
HARD_LEVELS: Final = 6.0
#: share of the overlap: with so much hard detail in both frames, a true overlap is recognised.
HARD_SHARE: Final = 0.05
#: share of the frame's width: a match this far off the rotations may be that of clouds.
LOOSE_SHARE: Final = 0.01
#: overlaps: a frame that so many of its neighbours do not know is looked for elsewhere.
LONELY_PAIRS: Final = 2
#: spreads: a match that the rotations leave further off is wrong.
WRONG_SPREADS: Final = 5.0
#: degrees: no single move of a head errs by so much; a turn that large was sudden …
SUDDEN_TURN_DEG: Final = 0.2
#: share of the frame's width: … and so large at least.
SUDDEN_TURN_SHARE: Final = 0.03
#: scatters: … and so much more than the frames' aim usually scatters.
SUDDEN_SCATTERS: Final = 6.0
#: overlaps: so many that show nothing across one moment are more than water and boats do.
PARTED_PAIRS: Final = 6
#: share of the overlaps with hard detail: with fewer in their place, the plan's moves are tried.
FIRM_ENOUGH: Final = 0.6
#: share of the overlap: with so much hard detail it is no edge of a cloud.
FIRM_SHARE: Final = 0.15
#: natural logarithm: support that no clouds reach; then less hard detail will do.
FIRM_SUPPORT: Final = 45.0
#: weight: two frames in a row, between which clouds and waves have no time to move.
NEXT_WEIGHT: Final = 3.0
#: correlation: of hard detail that surely stands still; waves a few seconds apart stay below.
FIRM_AGREEMENT: Final = 0.75
#: share of the frames: where fewer are known by a neighbour, all is fog, and the clock no witness.
JOINED_SHARE: Final = 0.2
#: share of a frame: neighbours that overlap by less than twice this cannot be joined.
HOLE_MARGIN_SHARE: Final = 0.01
#: share of a frame: so much of the whole picture's outer border may be lost and cropped away.
RIM_SHARE: Final = 0.1
#: scatters: … or so much, where frames are aimed by hand or from a drone.
RIM_SCATTERS: Final = 4.0

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

# Retakes

#: steps of the grid: good frames this near were taken for the same part of the view.
GOOD_NEIGHBOUR_STEPS: Final = 1.5
#: stops: more are shot in the order of the sweep; sorting them would take longer than it saves.
MOST_TOUR_STOPS: Final = 1500
#: s: from the last frame until the card is checked and back in the camera; common practice.
READY_AGAIN_S: Final = 300.0
#: EV: a change of daylight that nobody sees after the frames are evened out.
LIGHT_SAME_EV: Final = 0.3
#: EV: beyond, shadows and sky look like another hour; common practice.
LIGHT_LOST_EV: Final = 1.0
#: h: a camera's clock further off the planned start was never set.
CLOCK_TRUSTED_H: Final = 12.0

# Watching a running shoot

#: s: between two looks at the folder, at most; a sixth of the interval where that is less.
LOOK_EVERY_S: Final = 0.5
#: intervals: a file that stays cut for so long, and for 3 s, will hardly grow any more.
STUCK_INTERVALS: Final = 3.0
#: s: … and so long at least; also for files that do not tell whether they are whole.
STUCK_S: Final = 3.0
#: intervals: a file later than this is spoken of; half a beat is more than clocks and looks err.
LATE_AFTER_INTERVALS: Final = 0.5
#: cells in a row: after so many silent ones there is nothing new to say; common practice.
SILENT_CELLS: Final = 3
#: intervals: after the last cell's time, the watch waits no longer.
OVER_AFTER_INTERVALS: Final = 5.0
#: s: … while the last cell owes its frame at least so long; somebody may have paused the head.
PAUSE_S: Final = 300.0
#: share of the interval: arrivals that differ by less keep the rhythm.
SAME_RHYTHM_SHARE: Final = 0.5
#: frames: the latest, from which the lateness of the way is learnt.
LATENESS_GAPS: Final = 24
#: turns: the slowest of the latest is how long a turn takes.
LATEST_TURNS: Final = 3
#: intervals: a turn to the next line may take so much longer before the first one was seen …
UNKNOWN_TURN_INTERVALS: Final = 2.0
#: times the plan's own figure: … or this, with a head much slower than usual ones.
UNKNOWN_TURN_TIMES: Final = 3.0
#: frames: before so many are there, silence alone tells of a gap; the moves must be known first.
SETTLED_FRAMES: Final = 6
#: probability: a frame less surely of the next cell is placed anew with its neighbours.
SURE_NEXT: Final = 0.98
#: frames: so many of the latest are placed together; enough to learn the moves from.
WATCHED_FRAMES: Final = 36
#: frames: so many of the latest are judged together, with those beside the new one.
JUDGED_FRAMES: Final = 90
#: frames: so many of the latest tell whether the camera was moved.
MOVED_FRAMES: Final = 48
#: judgements in a row: a fault is taken back when so many later ones do not find it.
CLEARED_BY: Final = 2

# Dust and drops: the same place in many frames

#: frames: of fewer the scene itself may show something at one place in most.
SPOT_FRAMES: Final = 12
#: frames: looked at, evenly spread over the shoot; more say nothing new.
SPOT_MOST_FRAMES: Final = 96
#: EV: how dark a speck stands out after smoothing; 1 % is the least that shows in plain sky.
DUST_EV: Final = 0.015
#: standard errors: in fifty shoots without dust no place reached more than 4.8.
SURE_DUST: Final = 5.0
#: ratio of its curvatures: a speck is round, a horizon or a mast in every frame is long.
DUST_ROUND: Final = 0.3
#: share of the parts of the shoot that could show a speck: so many must.
DUST_STAYS: Final = 0.7
#: natural logarithm: fine against coarse detail under a drop that is as clear as it can be.
DROP_LOSS: Final = 0.45
#: standard errors: a place's mean over the frames stands out by so many.
SURE_DROP: Final = 5.0
#: frames: with detail at the place of a drop.
DROP_FRAMES: Final = 5
#: share of the frames from its first on: so many must show a drop.
DROP_STAYS: Final = 0.75
#: share of the frame's width: the least diameter of a drop; less is a matter of a few patches.
DROP_WIDTH: Final = 0.06
#: share of the frame: with so much under drops a frame with detail is soft, wherever they lie.
DROPS_SPOIL: Final = 0.2

# Moving subjects

#: encoded levels of 255: a pixel changed; less is noise and the finest misregistration.
CHANGED_LEVELS: Final = 14.0
#: encoded levels: a subject's mean change; waves and clouds change less.
MOVED_LEVELS: Final = 38.0
#: times: so much more than all but 5 % of its surroundings; waves are like their neighbours.
MOVED_TIMES: Final = 4.5
#: encoded levels for each px of the small picture: the edge of a subject; clouds are soft.
MOVED_EDGE: Final = 24.0
#: share of the frame's area: a subject smaller than this may well lie on a seam unseen.
MOVED_AREA: Final = 0.0003
#: px of the small picture: with patches further off than this near things shift, and tell nothing.
MOVED_MISFIT_PX: Final = 0.2
#: correlation: surroundings that agree so well a little further on are out of place, not changed.
MOVED_ELSEWHERE: Final = 0.85

# Flicker

#: EV: bands between two frames; less cannot be seen in plain sky or on a wall.
BANDS_EV: Final = 0.05
#: share of what differs along the frame: one wave explains so much; of a horizon a fifth.
BANDS_SHARE: Final = 0.85
#: share of its frequency that overlaps agree to: all frames are read out at the same pace.
BANDS_ALIKE: Final = 0.1
#: overlaps: with bands of one frequency.
BANDS_PAIRS: Final = 2
#: EV: usual change from frame to frame at settings that stay; cameras repeat to 0.02.
RESTLESS_EV: Final = 0.1
#: correlation of a change with the next: -0.5 for chance, above 0 for clouds that pass.
RESTLESS_TURNS: Final = -0.2
#: frames: of fewer nobody can tell chance from a few faults.
RESTLESS_FRAMES: Final = 10

# Vignetting

#: EV at the corner: beyond this, what the balance adds to the corners is mostly noise.
DEEP_VIGNETTING_EV: Final = 2.0
#: EV at the corner: falloff that changes so much within a shoot is another aperture.
VIGNETTING_STEP_EV: Final = 0.3
#: frames: on each side of a change.
VIGNETTING_FRAMES: Final = 3
#: share of the frames: so many lie on their side of the change.
VIGNETTING_STAYS: Final = 0.85
#: encoded levels of 255: a corner as dark in most frames holds nothing to brighten.
BLACK_CORNER: Final = 10.0
