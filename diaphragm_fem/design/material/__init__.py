"""What a substance is: density, stiffness and loss over frequency, each with how far it is known."""
