"""Catalogue entries in the form that the formulas need: sediments, materials of structures, metals of spheres."""

from dataclasses import dataclass

from pingwright.acoustics.seabed import Sediment
from pingwright.acoustics.smallslope import GROUNDS
from pingwright.inputs import catalogue


@dataclass(frozen=True)
class Material:
    """A structure's surface: reflection |R| [1] at vertical incidence, rms slope [deg] of its roughness."""

    name: str
    reflection: float
    slope_rms_deg: float


def sediment(name: str) -> Sediment:
    """Return a sediment of the catalogue."""
    entry = catalogue.sediments()[name]
    return Sediment(
        density_ratio=entry.density_ratio,
        speed_ratio=entry.speed_ratio,
        loss=entry.loss,
        attenuation=entry.attenuation,
        roughness_w2=entry.roughness_w2,
        roughness_exponent=entry.roughness_exponent,
        volume_parameter=entry.volume_parameter,
        lambert_floor_db=entry.lambert_floor_db,
        slope_rms_deg=entry.slope_rms_deg,
        elastic=GROUNDS.get(name),
    )


def material(name: str) -> Material:
    """Return a material of the catalogue."""
    entry = catalogue.materials()[name]
    return Material(name, float(entry.reflection), float(entry.slope_rms_deg))


def sphere_material(name: str) -> catalogue.SphereEntry:
    """Return density [kg/m3], compressional_speed and shear_speed [m/s] of a metal of the catalogue."""
    return catalogue.spheres()[name]
