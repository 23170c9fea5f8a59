"""The parts of the script that makes the sample site."""
