"""How are the steps after TDC laid out?"""
