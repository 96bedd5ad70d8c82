"""Which valves can be set where the crank stands, and are their gaps right?"""
