"""How does the simulated engine breathe, leak, burn and turn?"""
