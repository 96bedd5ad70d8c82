"""What do the window's figures show?"""
