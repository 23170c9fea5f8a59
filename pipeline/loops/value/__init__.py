"""What a loop is worth: aims, fitting practice, diminishing returns."""
