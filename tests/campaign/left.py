"""Which hazards a rig's own summary leaves to hardware or to a person, by name."""


def left_to_hardware(values):
    """Returns hazard -> what remains; values: of a rig by "section.key_unit"."""
    def lacks(*names):
        return all(values[f"sensors.{name}"] == "absent" for name in names)

    rows = (
        ("dry", lacks("pump_meter"), "thermostat of the motor"),
        ("dead-head", lacks("pump_meter") or lacks("flow_up"), "thermostat of the motor"),
        ("hot", lacks("motor_temperature") or lacks("pump_meter"), "thermostat of the motor"),
        ("again", lacks("pump_meter") or lacks("flow_up"), "thermostat; a person looks"),
        ("open", lacks("valve_position", "flow_down") or lacks("empty_float")
         or lacks("level") or lacks("local_stop"), "hand valve"),
        ("together", lacks("valve_position", "flow_down"), "hand valve, local stop"),
        ("flood", lacks("lower_full_float"), "hand valve, an overflow of the lower tank"),
        ("held", lacks("local_stop"), "local stop in the pump's supply"),
        ("frozen", lacks("water_temperature"), "a person drains before the frost"),
        ("flat", lacks("supply_meter"), "the battery's own cut-out"),
        ("unpowered", lacks("supply_meter"), "clamp and hand valve"),
        ("idle", lacks("pump_meter") or lacks("flow_up"), "a person looks each week"),
    )
    return {name: text for name, is_left, text in rows if is_left}
