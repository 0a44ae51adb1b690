"""What was planned against what came: the bridge, the evidence, and what to learn."""
