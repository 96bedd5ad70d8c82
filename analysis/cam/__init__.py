"""How late is the cam, and by how many teeth?"""
