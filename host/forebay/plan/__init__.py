"""What a rig can do, worked out from its description, without a simulated day."""
