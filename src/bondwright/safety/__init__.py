"""What a fault does to people and to conductors: touch voltage, body current, withstand."""
