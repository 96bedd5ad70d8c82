"""What do the steps after TDC say at this moment?"""
