"""The harbour from the mole in twenty small frames: enough to rehearse in a blink."""

SMALL_SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 288
image_height_px = 216
[lens]
focal_length_mm = 30.5
[grid]
left_deg = -25.0
right_deg = 25.0
top_deg = 16.0
bottom_deg = -16.0
overlap = 0.30
rows = 4
columns = 5
[sweep]
interval_s = 3.0
"""
