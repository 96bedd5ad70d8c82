"""How are strokes and turning drawn?"""
