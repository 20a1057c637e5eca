"""What the rig does when nothing forbids it: sequence, light, night, governor, orders."""
