"""What a set-up can do: from a vehicle file to its envelope."""
