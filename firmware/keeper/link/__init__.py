"""What a line can ask and order: Modbus framing, registers, the order desk, signatures."""
