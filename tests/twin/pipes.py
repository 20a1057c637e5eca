"""What a pipe takes, by `fluids`, in the water of the demo rig."""

import math

from fluids.friction import friction_factor

from keeper.physics import gravity, water

GRAVITY = gravity.normal_m_s2(38.0, 300.0)
NU = water.kinematic_viscosity_m2_s(12.0)

def pipe_K(length_m, bore_m, minor, flow):
    """Returns the loss coefficient of a pipe by `fluids`."""
    velocity = flow / (math.pi / 4 * bore_m**2)
    factor = friction_factor(velocity * bore_m / NU, 1.5e-6 / bore_m)
    return factor * length_m / bore_m + minor
