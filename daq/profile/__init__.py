"""What is known of the engine and the rig? The profile's TOML, checked, in layers."""
