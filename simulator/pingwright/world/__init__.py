"""What is under and around the boat, fixed in the world and seen by every element and ping.

scatterers  the types handed to the engine: scatterers, strength laws, world; contents: what truth marks
resolve     every default that depends on the scene, written out
water       sound speed, slowness and absorption along the path; track: where the boat is at each ping
terrain     the seabed's shape; seabed, volume: its patches by tiles, its layers and inside; looks: how densely;
            slopes: natural small slopes averaged into a law
structure   wrecks that echo and hide; solids, mesh: their shapes; materials: catalogue entries as formulas want them
fish        fish and schools, strength: their models; target: points and spheres; scattering layer: layers and veils
build       scenario -> World, also for many runs; gather, cautions: on the way; truth: what a record keeps of it
"""
