"""Scenarios small enough to simulate in a second or two, as text."""

LAKE = """
title = "A lake nine metres deep"
seed = 3

[water]
temperature = "14 degC"
salinity = 0

[boat]
speed = "2 kn"
start = "-8 m"
pings = 40
ping_interval = "0.2 s"

[window]
depth = ["0 m", "11 m"]

[[element]]
name = "narrow high"
use = "high-pencil"
pulse = { length = "0.5 ms" }

[[element]]
name = "low"
use = "low-pencil"
pulse = { length = "0.5 ms" }

[seabed]
depth = "9 m"

[[seabed.layer]]
sediment = "mud"

[[fish]]
name = "perch"
swimbladder = "closed"
length = "25 cm"
count = 6
where = { x = ["-8 m", "0 m"], y = ["-1 m", "1 m"], above_bottom = ["0.3 m", "3 m"] }
"""
