"""How far is the crank to be turned, and which way?"""
