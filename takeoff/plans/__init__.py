"""What the plans and the model declare, held against what was found."""
