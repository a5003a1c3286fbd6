"""What the bottom hides."""

from pingwright.acoustics import deadzone
from pingwright.validation.row import Row

# fmt: off
UNPACKED = "published: acousticsunpacked.org, dead zone page"
ROWS = [
    Row(deadzone.dead_height, (100.0, 3.5, 0.3), 0.487, UNPACKED + " (0.5 m)", abs=1e-3),
    Row(deadzone.dead_height, (100.0, 5.5, 0.3), 0.760, UNPACKED + " (0.76 m)", abs=1e-3),
    Row(deadzone.dead_height, ([50.0, 300.0], 3.5, [0.375, 0.750]), (0.4683, 1.3096), "exact", abs=1e-4),
    Row(
        deadzone.dead_height, ([5.0, 27.0], 8.0, 0.072), (0.12, 0.34),
        "published: reservoir survey on 8 degree slopes, 12 to 34 cm", abs=0.01,
    ),
    Row(deadzone.height_at_angle, (20.0, [10.0, 35.0]), (0.3038, 3.617), "exact: fan edges", abs=6e-4),
    Row(deadzone.height_at_angle, (100.0, 3.5), 0.187, UNPACKED, abs=6e-4),
    Row(deadzone.cone_volume, (100.0, 3.5), 10.957, "exact", rel=1e-3),
    Row(deadzone.mean_height, (100.0, 3.5), 0.0932, "exact; about d t^2 / 4", rel=1e-3),
    Row(
        deadzone.slope_height, (100.0, [5.0, 10.0, 3.0], 3.5), (0.3464, 0.8821, 0.1370), "exact: plane geometry",
        abs=1e-4,
    ),
    Row(deadzone.slope_height, (50.0, [5.0, 10.0], 5.0), (0.1903, 0.5715), "exact: plane geometry", abs=1e-4),
    Row(
        deadzone.nearest_bottom_range, (100.0, [-3.0, 0.0], 3.5), (99.8630, 100.0), "exact: d cos(slope), either way",
        abs=1e-4,
    ),
    Row(deadzone.footprint, (100.0, [7.0, 90.0]), (12.2325, 200.0), "exact: 2 d tan", abs=1e-4),
    Row(
        deadzone.swath, (58.0, [0.0, 0.3, 58.0]), (0.0, 11.78304, 116.0), "exact: 2 sqrt(2 d h - h^2)",
        abs=1e-4,
    ),
]
