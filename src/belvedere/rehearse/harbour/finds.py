"""Things to find in Saltmere: where to look, whatever the seed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Find:
    """One small thing: its direction in degrees and how wide a view shows it well."""

    says: str
    bearing_deg: float
    elevation_deg: float
    width_deg: float


FINDS = (
    Find("The weather vane is a gilded fish that smells the wind.", -0.38, 9.2, 0.8),
    Find("The church clock says ten to five.", -0.44, 5.7, 1.0),
    Find("The keeper waves from the gallery of the light.", -39.7, 3.6, 0.9),
    Find("A whale shows its flukes below the headland.", -43.6, -0.8, 1.4),
    Find("Goats graze below the light.", -37.7, 0.45, 2.4),
    Find("Somebody waves from the bow of the ferry Gannet.", -32.9, -0.2, 0.8),
    Find("The flag of Saltmere: a white fish between two waves.", -26.0, 4.85, 1.8),
    Find("The harbour master watches the light through a long lens.", -27.3, 2.75, 1.0),
    Find("A kite over the roofs; its line runs down to the hill.", -17.2, 7.5, 2.6),
    Find("Half a moon by day.", 31.5, 8.6, 1.0),
    Find("A grand piano hangs between the pavement and the second floor.", 9.8, 0.3, 2.8),
    Find("Newlyweds on the market square, and rice in the air.", -0.6, -0.1, 1.0),
    Find("A child with a red balloon between the stalls.", -1.1, -0.8, 0.8),
    Find("LOST: CAT, says a poster on the pillar.", 2.34, -0.96, 0.45),
    Find("The lost cat sits on the mole and is not for sale.", -39.0, -9.0, 1.4),
    Find("The notice board: a chart, the rules, one oar found.", 9.0, -7.3, 4.2),
    Find("The smallest print on the chart.", 8.34, -8.1, 1.0),
    Find("A painter has the whole town on one small sheet.", 14.7, -8.1, 3.4),
    Find("A colleague with a long lens on a tripod.", -19.3, -8.1, 3.0),
    Find("A heron on one leg.", 19.0, -8.3, 1.8),
    Find("A crab crosses the walk.", 17.2, -9.7, 0.8),
    Find("A bottle with a letter in it.", -22.0, -8.95, 0.9),
    Find("A seal looks on.", 3.4, -5.9, 1.6),
    Find("A swimmer in a red cap on the way to a buoy.", 12.3, -2.62, 0.9),
    Find("A periscope. Nobody knows whose.", 33.0, -2.9, 1.0),
    Find("Planks in mid-air under the crane.", 38.9, 0.9, 2.2),
    Find("A wooden hull in frame on the slip, and its two shipwrights.", 42.4, -0.5, 4.8),
    Find("The telescope takes a coin.", 35.2, -7.9, 2.8),
)
