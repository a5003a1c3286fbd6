"""Sound speed, pressure and density of water."""

from pingwright.acoustics import water
from pingwright.validation.row import OWN, PINS, TEOS, Row


# fmt: off
def kelvin_free(t68: float) -> float:
    """Return the ITS-90 temperature [degC] of one on IPTS-68 [degC]."""
    return t68 / 1.00024


UNESCO = "published: UNESCO technical paper 44 (Fofonoff & Millard 1983)"

ROWS = [
    Row(
        water.sound_speed_chen_millero, (kelvin_free(40.0), 40.0, 1e8), 1731.995,
        UNESCO + ", check value of the 1983 coefficients; those of Wong & Zhu give 0.009 m/s more there", abs=0.01,
    ),
    Row(water.sound_speed_chen_millero, (kelvin_free(10.0), 35.0, 2e7), 1522.96, UNESCO, abs=0.01),
    Row(water.sound_speed_chen_millero, (0.0, 25.0, 0.0), 1435.8, UNESCO + " table, from memory", abs=0.05),
    Row(water.sound_speed_chen_millero, (0.0, 25.0, 1e8), 1610.4, UNESCO + " table, from memory", abs=0.05),
    Row(water.sound_speed_chen_millero, (0.0, 40.0, 0.0), 1455.8, UNESCO + " table, from memory", abs=0.06),
    Row(water.sound_speed_chen_millero, ([0.0, 10.0, 20.0], 35.0, 0.0), (1449.139, 1489.832, 1521.478), OWN, abs=2e-3),
    Row(water.sound_speed_chen_millero, (10.0, 35.0, 2.01735e6), 1493.155, OWN, abs=2e-3),
    Row(water.sound_speed, (10.0, 35.0, 200.0), 1493.155, OWN, abs=2e-3),
    Row(water.sound_speed, (10.0, 7.0, 20.0), 1456.226, OWN + ", brackish", abs=2e-3),
    Row(water.sound_speed, ([0.0, 10.0, 20.0], 35.0, 0.0), (1449.025, 1489.789, 1521.479), TEOS, abs=0.2),
    Row(water.sound_speed, (10.0, 7.0, 20.0), 1456.269, TEOS, abs=0.1),
    Row(water.sound_speed, ([10.0, 20.0], 0.0, 0.0), (1447.284, 1482.353), TEOS + ", fresh", abs=0.05),
    Row(
        water.sound_speed_mackenzie, (40.0, 40.0, 10_000.0), 1718.774, "published: public table of the formula",
        abs=1e-3,
    ),
    Row(
        water.sound_speed_mackenzie, (25.0, 35.0, 1000.0), 1550.744,
        "Mackenzie 1981, check value (formula gives 1550.7440; that it is his is from memory)", abs=1e-3,
    ),
    Row(water.sound_speed_mackenzie, ([0.0, 10.0, 20.0], 35.0, 0.0), (1448.960, 1489.803, 1521.463), OWN, abs=2e-3),
    Row(water.sound_speed_mackenzie, (10.0, 35.0, 200.0), 1493.070, OWN, abs=2e-3),
    Row(water.sound_speed_mackenzie, (10.0, 7.0, 20.0), 1455.479, OWN + "; 0.8 m/s low, out of its range", abs=2e-3),
    Row(
        water.sound_speed_leroy, ([0.0, 10.0, 20.0, 30.0], 30.0, 10.0, 0.0), (1442.56, 1483.90, 1516.14, 1540.55),
        "published: SonarDocs table (salinity 30 and latitude 0 inferred, they reproduce all of it)", abs=0.01,
    ),
    Row(
        water.sound_speed_leroy, ([0.0, 10.0, 20.0, 30.0], 30.0, 1000.0, 0.0), (1458.62, 1499.98, 1532.31, 1556.85),
        "published: SonarDocs table", abs=0.01,
    ),
    Row(
        water.sound_speed_leroy, ([0.0, 10.0], 30.0, 5000.0, 0.0), (1527.74, 1568.04), "published: SonarDocs table",
        abs=0.01,
    ),
    Row(water.sound_speed_leroy, (10.0, 35.0, 200.0), 1493.056, OWN + ", latitude 45 if left out", abs=2e-3),
    Row(water.sound_speed_leroy, ([0.0, 10.0, 20.0], 35.0, 0.0), (1449.050, 1489.819, 1521.578), OWN, abs=2e-3),
    Row(water.sound_speed_leroy, (10.0, 7.0, 20.0), 1456.095, OWN, abs=2e-3),
    Row(water.sound_speed_leroy, (30.0, 42.0, 12_000.0, 90.0), 1726.0134, PINS + "; all terms are large", abs=1e-4),
    Row(
        water.sound_speed_fresh_bilaniuk_wong, ([0.0, 4.0, 10.0, 15.0, 20.0, 25.0, 30.0],),
        (1402.387, 1421.632, 1447.279, 1465.943, 1482.358, 1496.704, 1509.144), OWN, abs=1e-3,
    ),
    Row(
        water.sound_speed_fresh_bilaniuk_wong, (74.0,), 1555.1, "published: maximum near 74 degC, from memory", abs=0.1,
    ),
    Row(water.sound_speed_fresh_marczak, ([10.0, 20.0],), (1447.289, 1482.380), OWN, abs=1e-3),
    Row(water.sound_speed_fresh_marczak, (90.0,), 1550.4, "computed: Bilaniuk & Wong at 90 degC, 1550.45", abs=0.1),
    Row(
        water.pressure_leroy_parthiot, ([10.0, 50.0, 200.0, 1000.0],), (10.082e4, 50.415e4, 201.735e4, 1010.637e4),
        TEOS + " p_from_z, latitude 45", abs=100.0,
    ),
    Row(
        water.pressure_leroy_parthiot, (9712.653, 30.0), 1e8,
        "published: UNESCO technical paper 44, depth of 10000 dbar at latitude 30 (from memory); Leroy & Parthiot "
        "state 0.02 % agreement",
        rel=2e-4,
    ),
    Row(
        water.density_millero_poisson, ([kelvin_free(5.0), kelvin_free(25.0)], 0.0, 0.0), (999.96675, 997.04796),
        UNESCO + " check values, from memory", abs=1e-5,
    ),
    Row(
        water.density_millero_poisson, ([kelvin_free(5.0), kelvin_free(25.0)], 35.0, 0.0), (1027.67547, 1023.34306),
        UNESCO + " check values, from memory", abs=1e-5,
    ),
    Row(
        water.density_millero_poisson, ([kelvin_free(5.0), kelvin_free(25.0)], 0.0, 1e8), (1044.12802, 1037.90204),
        UNESCO + " check values, from memory", abs=1e-5,
    ),
    Row(
        water.density_millero_poisson, ([kelvin_free(5.0), kelvin_free(25.0)], 35.0, 1e8), (1069.48914, 1062.53817),
        UNESCO + " check values, from memory", abs=1e-5,
    ),
    Row(water.density, (kelvin_free(5.0), 0.0), 999.96675, UNESCO + "; at the surface if left out", abs=1e-5),
    Row(water.density_millero_poisson, (kelvin_free(5.0), 0.0), 999.96675, UNESCO + "; likewise", abs=1e-5),
    Row(water.pressure_leroy_parthiot, ([12_000.0], 90.0), 124.65964411e6, OWN + ", scalar; gsw has 124.636", rel=1e-9),
    Row(water.density, ([10.0, 10.0, 20.0], [35.0, 0.0, 0.0]), (1026.954, 999.702, 998.207), TEOS, abs=0.01),
]
