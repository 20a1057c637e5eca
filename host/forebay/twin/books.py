"""Books of water and energy: what the parts of a plant have booked, added up.

Every flow and loss is booked where it happens, by its own law; here nothing is
computed but sums, so that what is left over is an error of the books.
"""


def held_m3(plant):
    """Return the water in both tanks and in the penstock [m3]."""
    return plant.upper.volume_m3 + plant.lower.volume_m3 + plant.penstock.volume_m3


def potential_J(plant):
    """Return the energy of that water above the nozzle [J]."""
    return plant.upper.energy_J() + plant.lower.energy_J() + plant.penstock.energy_J()


def mass_error(plant):
    """Return the water that the books cannot place, as a share of all water [-]."""
    upper, lower = plant.upper, plant.lower
    now = (held_m3(plant) + upper.spilled_m3 + lower.spilled_m3
           + upper.removed_m3 + lower.removed_m3 - plant.inflow_m3)
    return (now - plant.start_m3) / (plant.start_m3 + plant.inflow_m3)


def unplaced_J(plant):
    """Return the energy that the books cannot place [J]."""
    up, down, battery = plant.up, plant.down, plant.battery
    upper, lower = plant.upper, plant.lower
    spent_J = (up.losses_J() + plant.charger_loss_J
               + battery.stored_J + battery.loss_J + battery.board_J
               + plant.drop_J + plant.penstock.drop_J
               + down.losses_J() + down.lamp_J + down.clamp_J + down.dump_J + down.kinetic_J()
               + upper.spilled_J + lower.spilled_J + upper.removed_J + lower.removed_J)
    return up.panel_J + plant.inflow_J - spent_J - (potential_J(plant) - plant.start_J)


def energy_error(plant):
    """Return that energy as a share of the panel's and the store's energy together [-]."""
    up, down = plant.up, plant.down
    # Water that comes in below the nozzle brings less than nothing: its size counts.
    moved_J = up.panel_J + abs(plant.inflow_J) + up.lift_J + down.released_J
    return unplaced_J(plant) / moved_J if moved_J else 0.0
