"""Where do the timing marks stand, and why are they off?"""
