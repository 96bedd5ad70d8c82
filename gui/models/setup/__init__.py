"""What is known of engine and rig, and does the rig work?"""
