"""The bench engine: what would a real engine and rig have sent? Truth for every figure we state."""
