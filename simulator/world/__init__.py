"""What is under and around the boat, fixed in the world and seen by every element and ping.

scatterers  the types handed to the engine: scatterers, strength laws, world
resolve     every default that depends on the scene, written out
water       sound speed, slowness and absorption along the path
track       where the boat and its transducers are at each ping
seabed      terrain, patches and sub-bottom scatterers by tiles
structure   wrecks and meshes: surfaces that echo and hide
fish        fish, schools and targets
haze        scattering layers in the water column
build       scenario -> World
"""
