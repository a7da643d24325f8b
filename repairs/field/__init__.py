"""What happens at the trackside: events, what follows from them, and the clock. No framework."""
