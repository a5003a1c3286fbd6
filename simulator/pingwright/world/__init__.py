"""The world under and around the boat, the same for every element and ping.

scatterers  the types handed to the engine: scatterers, strength laws, world; contents: what truth marks
resolve     every default that depends on the scene, written out; impossible: scenes that cannot be
water       sound speed, slowness and absorption along the path; track: where the boat is at each ping
terrain     the seabed's shape as typed; ground: which sediment lies where; roughness: the few cm besides;
            shadows: steep faces that hide; seabed, stacks, volume, mixing: patches by tiles, layers and inside;
            looks: how densely
structure   wrecks that echo and hide; solids, reef, mesh: their shapes; materials: catalogue entries for formulas
fish        fish and schools; strength: their models; highlights: one fluctuation; posture: from ping to ping;
            shoal: how a school lies; target: points and spheres
scattering_layers  layers, the open water's own echo, schools that absorb; texture: patches and ragged edges
build       scenario -> World, also for many runs; gather, cautions: on the way; truth: what a record keeps of it
"""
